"""Linear solvers behind one small interface: `make_solver(A)` gives an object whose `solve(b)` is checked.

The size and what is installed choose, for symmetric positive definite A (n, n):

    pardiso   sparse Cholesky of Intel MKL (`solid.mkl`), up to DIRECT_LIMIT unknowns: fastest where it fits
    cholmod   sparse Cholesky of CHOLMOD (`solid.cholmod`) without pypardiso, up to as many
    splu      scipy's sparse LU without either, up to SPLU_LIMIT unknowns without a coarse field: always there, slow
    multigrid conjugate gradients on two levels of 27-node hexahedra (`solid.multigrid`): above, and where there is a
              coarse field above COARSE_LIMIT: half of the time of a load, a third of the memory

    ||b - A x|| <= TOLERANCE ||b||          demanded of every solve, or SolveError

`validation/benchmarks/elastic_solve.py` measures all.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal, Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from ..errors import SolveError
from .cholmod import Cholmod, has_cholmod, nested_dissection
from .mkl import MKL, has_mkl
from .multigrid import Coarse, Direct, Multigrid
from .symmetric import Symmetric

Array = NDArray[np.float64]
Method = Literal["pardiso", "cholmod", "splu", "multigrid"]
DIRECT_LIMIT = 400_000  # unknowns; about 8 GB of factor beyond
COARSE_LIMIT = 200_000  # unknowns; below, a factor pays from the fourth or fifth load on
SPLU_LIMIT = 120_000  # about 3 GB of factor
TOLERANCE = 1e-7
ITERATED = TOLERANCE / 30  # where iterations stop


class Solver(Protocol):
    """Solves A x = b for b of shape (n,) or (n, k), in the units of the system; `method` names how."""

    method: Method

    def solve(self, b: Array) -> Array:
        """x of the shape of b. Raises SolveError if the residual is above TOLERANCE."""
        ...


def choose_method(n: int, has_coarse: bool = False) -> Method:
    """The method for n unknowns on this machine; has_coarse : whether multigrid has its coarse field there."""
    limit = COARSE_LIMIT if has_coarse else DIRECT_LIMIT
    if n <= limit and has_mkl():
        return "pardiso"
    if n <= limit and has_cholmod():
        return "cholmod"
    return "splu" if n <= SPLU_LIMIT and not has_coarse else "multigrid"


def direct_method(n: int) -> Method:
    """The same, but a factorisation whatever the size."""
    method = choose_method(min(n, DIRECT_LIMIT))
    return "splu" if method == "multigrid" else method


def make_solver(
    A: sp.csr_matrix | Symmetric,
    method: Method | None = None,
    coarse: Coarse | None = None,
) -> Solver:
    """Factorise A, or set up its preconditioner. Raises SolveError unless A is finite with a positive diagonal.

    coarse : for `multigrid`; without it each step sees A's own pattern only.
    """
    method = method or choose_method(A.shape[0])
    A = Symmetric.of(A)
    demand_plausible(A.upper, method)
    if method == "pardiso":
        return _Pardiso(A)
    if method == "cholmod":
        return CholmodSolver(A)
    if method == "splu":
        return SuperLU(A)
    return _Multigrid(A, coarse)


def relative_residual(A: sp.csr_matrix | Symmetric, x: Array, b: Array) -> float:
    """max over columns of ||b - A x|| / ||b|| [-]; a zero column counts by ||A x||."""
    norm = np.linalg.norm(b, axis=0)
    error = np.linalg.norm(b - A @ x, axis=0)
    return float(np.max(error / np.where(norm > 0, norm, 1.0)))


def _check(A: sp.csr_matrix | Symmetric, x: Array, b: Array, method: str) -> Array:
    residual = relative_residual(A, x, b)
    if not residual <= TOLERANCE:
        raise SolveError(f"{method}: relative residual {residual:.1e} after the solve, allowed {TOLERANCE:.0e}")
    return x


def demand_plausible(A: sp.csr_matrix, method: Method) -> None:
    """An empty row ends MKL's process, a NaN passes through it: refuse both before any solver sees them."""
    if not (np.isfinite(A.data).all() and np.all(A.diagonal() > 0)):
        raise SolveError(f"{method}: the matrix is not finite and positive definite")


class _Pardiso:
    method: Method = "pardiso"

    def __init__(self, A: Symmetric) -> None:
        self._A = A
        with failing_as(self.method):
            self._mkl = MKL(A.upper)

    def solve(self, b: Array) -> Array:
        with failing_as(self.method):
            x = self._mkl.phase(33, b)
        return _check(self._A, x, b, self.method)


class CholmodSolver:
    """A `Solver` by CHOLMOD; `renew` takes another matrix of the same pattern."""

    method: Method = "cholmod"

    def __init__(self, A: Symmetric) -> None:
        self._A = A
        with failing_as(self.method):
            self._factor = Cholmod(A.upper)

    def renew(self, A: Symmetric) -> None:
        """Factorise another matrix of the same pattern."""
        self._A = A
        with failing_as(self.method):
            self._factor.renew(A.upper)

    def gram(self, B: sp.csc_matrix) -> Array:
        """B' A^-1 B (k, k) of a sparse B (n, k)."""
        with failing_as(self.method):
            return self._factor.gram(B)

    def solve(self, b: Array) -> Array:
        with failing_as(self.method):
            x = self._factor.solve(b)
        return _check(self._A, x, b, self.method)


@contextmanager
def failing_as(method: Method) -> Iterator[None]:
    """A library's ArithmeticError, its word for a matrix that is not positive definite, becomes a SolveError."""
    try:
        yield
    except ArithmeticError as error:
        raise SolveError(f"{method}: the matrix is not positive definite: {error}") from None


class SuperLU:
    """A `Solver` by scipy's sparse LU."""

    method: Method = "splu"

    def __init__(self, matrix: Symmetric) -> None:
        self._A, A = matrix, matrix.whole().tocsc()
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


class _Multigrid:
    method: Method = "multigrid"

    def __init__(self, A: Symmetric, coarse: Coarse | None) -> None:
        n = np.arange(A.shape[0])
        coarse = coarse or Coarse(sp.csr_matrix((n.size, 0)), n, n)
        method = direct_method(coarse.P.shape[1])
        direct = Direct(lambda coarse_A: make_solver(coarse_A, method).solve)
        self._A, self._levels = A, Multigrid(A.upper, coarse, direct)

    def solve(self, b: Array) -> Array:
        columns = np.atleast_2d(np.asarray(b, dtype=float).T)
        x = np.stack([self._levels.solve(column, ITERATED) for column in columns])
        return _check(self._A, x.reshape(np.shape(b.T)).T, b, self.method)
