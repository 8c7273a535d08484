"""Condensation: all but a few unknowns of a linear system (the contact gaps) eliminated by one factorisation.

    A x = b,  x = (f, g):     S g = c,     S = A_gg - A_gf A_ff^-1 A_fg,     c = b_g - A_gf A_ff^-1 b_f

MKL hands out the dense S and the half-finished solves with its factor; CHOLMOD takes half a solve, scipy's LU a whole
one, for each kept unknown. Loads are condensed after the factorisation, any number of them, and another matrix of the
same pattern is factorised by the analysis of the first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from .mkl import MKL
from .multigrid import Coarse, Direct, Multigrid
from .solver import (
    TOLERANCE,
    CholmodSolver,
    Method,
    SolveError,
    SuperLU,
    demand_plausible,
    direct_method,
    failing_as,
    make_solver,
)
from .symmetric import Symmetric

Array = NDArray[np.float64]
BLOCK = 96  # right-hand sides at a time
SPRING = 1e-4  # of the kept unknowns' mean stiffness: enough for MKL, little enough to lose no digits of S


@dataclass(frozen=True, slots=True)
class Condensed:
    """A x = b condensed onto the `kept` unknowns g: S g = c, with S = A_gg - A_gf A_ff^-1 A_fg (k, k).

    c : (k,) or (k, loads) = b_g - A_gf A_ff^-1 b_f.  expand : g of c's shape -> x of b's, checked on the rows that were
    eliminated.
    """

    S: Array
    c: Array
    expand: Callable[[Array], Array]


class Elimination:
    """A symmetric A (n, n), given by its upper triangle, with all but the `kept` unknowns (n,) eliminated.

    One factorisation serves all loads. `renew` factorises another A of the same pattern: its analysis is kept.
    method : a direct one.
    """

    def __init__(self, upper: sp.csr_matrix, kept: NDArray[np.bool_], method: Method) -> None:
        self.method = method
        self._kept = kept
        self._way = _ByMKL(kept) if method == "pardiso" else _BySolver(kept, method)
        self.renew(upper)

    def renew(self, upper: sp.csr_matrix) -> None:
        """Factorise. Raises SolveError if A is not positive definite."""
        demand_plausible(upper, self.method)
        self._A = Symmetric(upper)
        S = self._way.factorise(upper)
        self.S = 0.5 * (S + S.T)

    def condensed(self, b: Array) -> Condensed:
        """The condensed system of loads b, (n,) or (n, loads)."""
        c, expand = self._way.load(b.reshape(len(b), -1))
        norm = max(float(np.linalg.norm(b)), 1e-300)

        def checked(g: Array) -> Array:
            x = expand(g.reshape(len(g), -1)).reshape(b.shape)
            residual = float(np.linalg.norm((self._A @ x - b)[~self._kept])) / norm
            if not residual <= TOLERANCE:
                raise SolveError(
                    f"{self.method}: relative residual {residual:.1e} after condensation, allowed {TOLERANCE:.0e}"
                )
            return x

        return Condensed(self.S, c.reshape(-1, *b.shape[1:]), checked)


def condense(upper: sp.csr_matrix, b: Array, kept: NDArray[np.bool_], method: Method) -> Condensed:
    """Condense A x = b by one factorisation; arguments as of `Elimination`."""
    return Elimination(upper, kept, method).condensed(b)


def make_levels(upper: sp.csr_matrix, coarse: Coarse) -> Multigrid:
    """Two levels of an A too large to factorise, given by its upper triangle; the coarse one is condensed."""
    method = direct_method(coarse.P.shape[1])
    direct = Direct(
        lambda A: make_solver(A, method).solve,
        lambda A, kept: Elimination(sp.triu(A, format="csr"), kept, method),
    )
    return Multigrid(upper, coarse, direct)


Expand = Callable[[Array], Array]


class _ByMKL:
    def __init__(self, kept: NDArray[np.bool_]) -> None:
        self._kept = kept
        self._mkl: MKL | None = None

    def factorise(self, upper: sp.csr_matrix) -> Array:
        # MKL factorises S too and stops where it is only semidefinite (a tube that floats between open gaps)
        kept, k = self._kept, int(self._kept.sum())
        upper = upper.copy()
        spring = SPRING * float(upper.diagonal()[kept].mean())
        upper.setdiag(upper.diagonal() + spring * kept)
        with failing_as("pardiso"):
            if self._mkl is None:
                self._mkl = MKL(upper, kept)
            else:
                self._mkl.renew(upper)
        return self._mkl.schur.ravel(order="F")[: k * k].reshape(k, k) - spring * np.eye(k)

    def load(self, b: Array) -> tuple[Array, Expand]:
        assert self._mkl is not None
        mkl = self._mkl
        with failing_as("pardiso"):
            forward = mkl.phase(331, b)

        def expand(g: Array) -> Array:
            mixed = forward.copy()
            mixed[self._kept] = g
            with failing_as("pardiso"):
                return mkl.phase(333, mixed)

        return forward[self._kept], expand


class _BySolver:
    def __init__(self, kept: NDArray[np.bool_], method: Method) -> None:
        self._kept, self._method = kept, method
        self._solver: CholmodSolver | SuperLU | None = None

    def factorise(self, upper: sp.csr_matrix) -> Array:
        free, kept = ~self._kept, self._kept
        held = Symmetric(upper[free][:, free].tocsr())
        if isinstance(self._solver, CholmodSolver):
            self._solver.renew(held)
        else:
            self._solver = CholmodSolver(held) if self._method == "cholmod" else SuperLU(held)
        self._A_fg = A_fg = (upper[free][:, kept] + upper[kept][:, free].T).tocsc()
        S = Symmetric(upper[kept][:, kept]).whole().toarray()
        if isinstance(self._solver, CholmodSolver):
            return S - self._solver.gram(A_fg)
        for at in range(0, len(S), BLOCK):
            columns = slice(at, at + BLOCK)
            S[:, columns] -= A_fg.T @ self._solver.solve(A_fg[:, columns].toarray())
        return S

    def load(self, b: Array) -> tuple[Array, Expand]:
        assert self._solver is not None
        solver, kept, free, A_fg = self._solver, self._kept, ~self._kept, self._A_fg

        def expand(g: Array) -> Array:
            x = np.empty(b.shape)
            x[kept], x[free] = g, solver.solve(b[free] - A_fg @ g)
            return x

        return b[kept] - A_fg.T @ solver.solve(b[free]), expand
