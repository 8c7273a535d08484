"""Linear solvers behind one small interface: `make_solver(A)` gives an object whose `solve(b)` is checked.

The size and what is installed choose, for symmetric positive definite A (n, n):

    pardiso   sparse Cholesky of Intel MKL (through pypardiso), up to DIRECT_LIMIT unknowns: fastest where it fits
    cholmod   sparse Cholesky of CHOLMOD (`solid.cholmod`) without pypardiso, up to as many
    splu      scipy's sparse LU without either, up to SPLU_LIMIT unknowns: always there, slow
    amg       conjugate gradients with smoothed aggregation (pyamg) on the rigid-body modes: above

    ||b - A x|| <= TOLERANCE ||b||          demanded of every solve, or SolveError

MKL has returned wrong answers without an error on its default parameters (pypardiso, issue 87), so its parameters are
set here by hand. `condense` eliminates all but a few unknowns (the contact gaps) by one factorisation: MKL hands out
the dense Schur complement and the half-finished solves with it; CHOLMOD takes half a solve, scipy's LU a whole one, for
each kept unknown. ICECONE_NO_MKL=1: as if there were no MKL.

Limits: multigrid suffers from the long thin elements far out; it is there for what fits no factor
(`validation/benchmarks/elastic_solve.py` measures all).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Literal, Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from .cholmod import Cholmod, has_cholmod, nested_dissection

Array = NDArray[np.float64]
Method = Literal["pardiso", "cholmod", "splu", "amg"]
DIRECT_LIMIT = 400_000  # unknowns; about 8 GB of factor beyond
SPLU_LIMIT = 120_000  # about 3 GB of factor
TOLERANCE = 1e-7
BLOCK = 96  # right-hand sides at a time


class SolveError(RuntimeError):
    """A linear solve, a contact iteration or a balance that did not come out; never a number instead."""


class Solver(Protocol):
    """Solves A x = b for b of shape (n,) or (n, k), in the units of the system; `method` names how."""

    method: Method

    def solve(self, b: Array) -> Array:
        """x of the shape of b. Raises SolveError if the residual is above TOLERANCE."""
        ...


def choose_method(n: int) -> Method:
    """The method for n unknowns on this machine (module docstring)."""
    if n <= DIRECT_LIMIT and _has_pardiso():
        return "pardiso"
    if n <= DIRECT_LIMIT and has_cholmod():
        return "cholmod"
    return "splu" if n <= SPLU_LIMIT else "amg"


def make_solver(
    A: sp.csr_matrix,
    modes: Array | None = None,
    method: Method | None = None,
    slots: NDArray[np.int64] | None = None,
) -> Solver:
    """Factorise A, or set up its preconditioner. Raises SolveError unless A is finite with a positive diagonal.

    For `amg`: modes (n, k) near-null space; slots (n,) = 3 node + component of each unknown, so that the components of
    a node stay together if some are no unknowns.
    """
    method = method or choose_method(A.shape[0])
    _demand_plausible(A, method)
    if method == "pardiso":
        return _Pardiso(A)
    if method == "cholmod":
        return _Cholmod(A)
    if method == "splu":
        return _SuperLU(A)
    return _AMG(A, modes, slots)


@dataclass(frozen=True, slots=True)
class Condensed:
    """A x = b condensed onto the `kept` unknowns g: S g = c, with S = A_gg - A_gf A_ff^-1 A_fg (k, k).

    c : (k,) = b_g - A_gf A_ff^-1 b_f.  expand : g (k,) -> x (n,), checked on the rows that were eliminated.
    """

    S: Array
    c: Array
    expand: Callable[[Array], Array]


def condense(A: sp.csr_matrix, b: Array, kept: NDArray[np.bool_], method: Method) -> Condensed:
    """Condense A x = b (b of shape (n,), in the units of the system) by one factorisation; `method` is a direct one."""
    _demand_plausible(A, method)
    k, free = int(kept.sum()), ~kept
    if method == "pardiso":
        # MKL factorises S too and stops where it is only semidefinite (a tube that floats between open gaps)
        spring = float(A.diagonal()[kept].mean())
        mkl = MKL((A + sp.diags_array(spring * kept)).tocsr(), kept)
        S = mkl.schur.ravel(order="F")[: k * k].reshape(k, k) - spring * np.eye(k)
        forward = mkl.phase(331, b[:, None])

        def expand(g: Array) -> Array:
            mixed = forward.copy()
            mixed[kept, 0] = g
            return mkl.phase(333, mixed)[:, 0]

        c = forward[kept, 0]
    else:
        lu = make_solver(A[free][:, free].tocsr(), method=method)
        A_fg = A[free][:, kept].tocsc()
        S = A[kept][:, kept].toarray()
        if isinstance(lu, _Cholmod):
            S -= lu.gram(A_fg)
        else:
            for at in range(0, k, BLOCK):
                columns = slice(at, at + BLOCK)
                S[:, columns] -= A_fg.T @ lu.solve(A_fg[:, columns].toarray())
        c = b[kept] - A_fg.T @ lu.solve(b[free])

        def expand(g: Array) -> Array:
            x = np.empty(b.size)
            x[kept], x[free] = g, lu.solve(b[free] - A_fg @ g)
            return x

    def checked(g: Array) -> Array:
        x = expand(g)
        residual = float(np.linalg.norm((A @ x - b)[free])) / max(float(np.linalg.norm(b)), 1e-300)
        if not residual <= TOLERANCE:
            raise SolveError(f"{method}: relative residual {residual:.1e} after condensation, allowed {TOLERANCE:.0e}")
        return x

    return Condensed(0.5 * (S + S.T), c, checked)


def relative_residual(A: sp.csr_matrix, x: Array, b: Array) -> float:
    """max over columns of ||b - A x|| / ||b|| [-]; a zero column counts by ||A x||."""
    norm = np.linalg.norm(b, axis=0)
    error = np.linalg.norm(b - A @ x, axis=0)
    return float(np.max(error / np.where(norm > 0, norm, 1.0)))


def _check(A: sp.csr_matrix, x: Array, b: Array, method: str) -> Array:
    residual = relative_residual(A, x, b)
    if not residual <= TOLERANCE:
        raise SolveError(f"{method}: relative residual {residual:.1e} after the solve, allowed {TOLERANCE:.0e}")
    return x


def _demand_plausible(A: sp.csr_matrix, method: Method) -> None:
    """An empty row ends MKL's process, a NaN passes through it: refuse both before any solver sees them."""
    if not (np.isfinite(A.data).all() and np.all(A.diagonal() > 0)):
        raise SolveError(f"{method}: the matrix is not finite and positive definite")


@cache
def _has_pardiso() -> bool:
    """Whether MKL can be had; its library is looked for once (pypardiso searches the disk for each solver)."""
    if os.environ.get("ICECONE_NO_MKL", "0") not in ("", "0"):
        return False
    try:
        from pypardiso import PyPardisoSolver
    except ImportError:
        return False
    os.environ.setdefault("PYPARDISO_MKL_RT", PyPardisoSolver().libmkl._name)
    return True


class MKL:
    """MKL's phases on the upper triangle of A; `kept` unknowns are left as a dense Schur complement."""

    def __init__(self, A: sp.csr_matrix, kept: NDArray[np.bool_] | None = None) -> None:
        from pypardiso import PyPardisoSolver

        _has_pardiso()
        self._upper = sp.triu(A, format="csr")
        self._upper.sort_indices()
        self._solver = PyPardisoSolver(mtype=2, size_limit_storage=0)
        iparm = self._solver.iparm
        iparm[:] = 0
        iparm[0] = 1  # the values below, not MKL's defaults
        iparm[1] = 2  # nested dissection
        room = 1
        if kept is not None:
            iparm[35] = 2  # dense Schur complement with the factors kept for phases 331 and 333
            self._solver.perm = kept.astype(np.int32)
            room = -(-(int(kept.sum()) ** 2) // A.shape[0])
        self.schur = self.phase(12, np.zeros((A.shape[0], room)))

    def phase(self, number: int, b: Array) -> Array:
        """Run one phase of MKL on b (n, k). Raises SolveError with MKL's number if it fails."""
        from pypardiso.pardiso_wrapper import PyPardisoError

        self._solver.set_phase(number)
        try:
            return self._solver._call_pardiso(self._upper, np.asfortranarray(b, dtype=float))
        except PyPardisoError as error:
            raise SolveError(f"pardiso: phase {number} failed: {error}") from None

    def __del__(self) -> None:
        solver = getattr(self, "_solver", None)
        if solver is not None and not sys.is_finalizing():
            solver.free_memory(everything=True)


class _Pardiso:
    method: Method = "pardiso"

    def __init__(self, A: sp.csr_matrix) -> None:
        self._A, self._mkl = A, MKL(A)

    def solve(self, b: Array) -> Array:
        return _check(self._A, self._mkl.phase(33, b), b, self.method)


class _Cholmod:
    method: Method = "cholmod"

    def __init__(self, A: sp.csr_matrix) -> None:
        self._A = A
        with _definite():
            self._factor = Cholmod(A)

    def gram(self, B: sp.csc_matrix) -> Array:
        with _definite():
            return self._factor.gram(B)

    def solve(self, b: Array) -> Array:
        with _definite():
            x = self._factor.solve(b)
        return _check(self._A, x, b, self.method)


@contextmanager
def _definite() -> Iterator[None]:
    try:
        yield
    except ArithmeticError as error:
        raise SolveError(f"cholmod: the matrix is not positive definite: {error}") from None


class _SuperLU:
    method: Method = "splu"

    def __init__(self, A: sp.csr_matrix) -> None:
        self._A, A = A, A.tocsc()
        order = nested_dissection(A)
        self._order = np.arange(A.shape[0]) if order is None else order
        own = "MMD_AT_PLUS_A" if order is None else "NATURAL"
        A = A[self._order][:, self._order]
        try:
            self._lu = splu(A, permc_spec=own, options={"SymmetricMode": True}, diag_pivot_thresh=0.0)
        except RuntimeError as error:
            raise SolveError(f"splu: factorisation failed: {error}") from None

    def solve(self, b: Array) -> Array:
        x = np.empty(np.shape(b))
        x[self._order] = self._lu.solve(np.asarray(b, dtype=float)[self._order])
        return _check(self._A, x, b, self.method)


class _AMG:
    method: Method = "amg"

    def __init__(self, A: sp.csr_matrix, modes: Array | None, slots: NDArray[np.int64] | None) -> None:
        import pyamg

        self._A = A
        self._slots = np.arange(A.shape[0]) if slots is None else slots
        self._size = 3 * (int(self._slots.max()) // 3 + 1) if slots is not None else A.shape[0]
        smoother = ("gauss_seidel", {"sweep": "symmetric"})
        self._levels = pyamg.smoothed_aggregation_solver(
            self._padded(A, blocks=slots is not None),
            B=None if modes is None else self._spread(modes),
            symmetry="symmetric",
            max_coarse=500,
            strength=("symmetric", {"theta": 0.08}),
            smooth=("jacobi", {"omega": 4 / 3}),
            presmoother=smoother,
            postsmoother=smoother,
        )

    def _spread(self, values: Array) -> Array:
        out = np.zeros((self._size, *values.shape[1:]))
        out[self._slots] = values
        return out

    def _padded(self, A: sp.csr_matrix, blocks: bool) -> sp.csr_matrix:
        """A with a diagonal entry for every component that is no unknown, in 3 x 3 blocks a node."""
        if not blocks:
            return A
        entries = A.tocoo()
        at = (self._slots[entries.row], self._slots[entries.col])
        idle = np.full(self._size, float(A.diagonal().mean()))
        idle[self._slots] = 0.0
        shape = (self._size, self._size)
        return (sp.coo_matrix((entries.data, at), shape=shape) + sp.diags_array(idle)).tobsr((3, 3))

    def solve(self, b: Array) -> Array:
        columns = np.atleast_2d(np.asarray(b, dtype=float).T)
        x = np.stack(
            [
                self._levels.solve(self._spread(column), tol=TOLERANCE / 30, accel="cg", maxiter=400)[self._slots]
                for column in columns
            ]
        )
        return _check(self._A, x.reshape(np.shape(b.T)).T, b, self.method)
