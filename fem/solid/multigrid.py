"""Conjugate gradients for 27-node hexahedra, on two levels: quadratic, and linear but along long edges.

    A x = b,  A (n, n) symmetric positive definite;      P (n, m): the coarse unknowns' shape on the fine ones
    z = L^-T L^-1 r,      M r = z + P (P^T A P)^-1 P^T (r - A z)                             the preconditioner

The coarse field is linear in each element (its corners), and quadratic along edges more than LONG times as long as the
element is thin: no local smoother sees those. L is A's incomplete Cholesky factor (`incomplete`), layer after layer.
P^T A P is factorised. From a start with P^T r = 0 the preconditioner needs its coarse half once a step (A-DEF2: Tang,
Nabben, Vuik and Erlangga 2009, from memory).

`hold` fixes unknowns at the end of the order (closed gaps) at zero: their rows of L are made anew. On the coarse level
the shapes that reach them are kept apart by one condensation, and each set of held ones takes a small dense factor.

Limits: the coarse matrix is factorised, an eighth to a quarter of n. Without a coarse field steps grow with the mesh.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import scipy.linalg as la
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import ElementHex2, MeshHex2

from .incomplete import IncompleteCholesky
from .symmetric import Symmetric

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Indices = NDArray[np.int64]
LONG = 6.0  # of an edge over the thinnest side of its element
STEPS = 400
FLOATING = 1e-12  # share of the mean diagonal added to what is condensed: holds a tube that touches nothing


@dataclass(frozen=True, slots=True)
class Coarse:
    """P : (n, m) coarse unknowns to fine ones.  node : (n,) of each unknown.

    order : (n,) unknowns as L takes them, those of a node in a line.  last : how many at its end may be held.
    """

    P: sp.csr_matrix
    node: Indices
    order: Indices
    last: int = 0


def interpolation(mesh: MeshHex2) -> tuple[sp.csr_matrix, Indices]:
    """N (nodes, k) and the k nodes that carry a coarse value: corners, and middles of long edges (module docstring).

    A corner's column is its trilinear shape; a middle's is the bubble along its edge, linear across.
    """
    at, nodes = ElementHex2.doflocs, mesh.dofs.element_dofs
    n, half = mesh.doflocs.shape[1], at == 0.5
    sizes = _sizes(mesh)
    is_long = sizes > LONG * sizes.min(axis=0)
    is_middle = np.zeros(n, bool)
    for place in np.flatnonzero(half.any(axis=1)).tolist():
        is_middle[nodes[place][is_long[half[place]].all(axis=0)]] = True
    rows, columns, values = [], [], []
    for place, local in enumerate(at):
        across = np.clip(1 - np.abs(at - local), 0, 1)
        weights = np.where(half[place], half, across).prod(axis=1)
        used = is_middle[nodes[place]] if half[place].any() else np.ones(nodes.shape[1], bool)
        for other in np.flatnonzero(weights):
            rows.append(nodes[other][used])
            columns.append(nodes[place][used])
            values.append(np.full(int(used.sum()), weights[other]))
    key, first = np.unique(np.concatenate(rows) * np.int64(n) + np.concatenate(columns), return_index=True)
    row, column = np.divmod(key, n)
    kept, column = np.unique(column, return_inverse=True)
    return sp.csr_matrix((np.concatenate(values)[first], (row, column)), shape=(n, kept.size)), kept


def coarse_field(mesh: MeshHex2, free: Mask, at: Array | None = None) -> Coarse:
    """Of a body in Cartesian unknowns, `free` (3 nodes,) telling which; swept by `at` (3, nodes): last, first, second.

    at : by default the coordinates, layer after layer along z.
    """
    N, nodes = interpolation(mesh)
    x, y, z = np.round(mesh.doflocs if at is None else at, 9)[:, np.flatnonzero(free) // 3]
    P = sp.kron(N, np.eye(3), "csr")[free][:, free[(3 * nodes[:, None] + np.arange(3)).ravel()]]
    return Coarse(P.tocsr(), np.flatnonzero(free) // 3, np.lexsort((np.arange(x.size), y, x, z)))


def _sizes(mesh: MeshHex2) -> Array:
    """Lengths (3, elements) along the local axes [m]: means of the edges."""
    at, corners = ElementHex2.doflocs[:8], mesh.doflocs[:, mesh.dofs.element_dofs[:8]]
    sides = [corners[:, at[:, axis] == 1] - corners[:, at[:, axis] == 0] for axis in range(3)]
    return np.stack([np.linalg.norm(side.mean(axis=1), axis=0) for side in sides])


class CoarseFactor(Protocol):
    """A matrix with all but some kept unknowns eliminated: S is what is left, `condensed` loads it."""

    S: Array

    def condensed(self, b: Array) -> CoarseSystem: ...


class CoarseSystem(Protocol):
    """S g = c for the kept unknowns g, and `expand` from g to all."""

    @property
    def S(self) -> Array: ...

    @property
    def c(self) -> Array: ...

    @property
    def expand(self) -> Callable[[Array], Array]: ...


@dataclass(frozen=True, slots=True)
class Direct:
    """Direct methods for the coarse matrix. factorise : A to b -> A^-1 b.  eliminate : A and the unknowns to keep.

    Without `eliminate` nothing can be held.
    """

    factorise: Callable[[sp.csr_matrix], Callable[[Array], Array]]
    eliminate: Callable[[sp.csr_matrix, Mask], CoarseFactor] | None = None


class Multigrid:
    """A (n, n), given by its upper triangle, and its preconditioner. steps : taken so far."""

    def __init__(self, upper: sp.csr_matrix, coarse: Coarse, direct: Direct) -> None:
        self.A = Symmetric(upper)
        self.P, self._down = coarse.P, coarse.P.T.tocsr()
        self._fine = IncompleteCholesky(upper, coarse.order, coarse.node, coarse.last)
        below = self._down @ upper
        self._image = (below + (upper @ self.P).T - self._down @ sp.diags_array(self.A.diagonal)).tocsr()  # P^T A
        A = (self._image @ self.P).tocsr()
        reach = coarse.P[coarse.order[coarse.order.size - coarse.last :]].indices
        self._kept = np.isin(np.arange(A.shape[0]), reach)
        self._condensing = direct.eliminate(A, self._kept) if direct.eliminate and self._kept.any() else None
        self._coarse = None if self._condensing or not A.shape[0] else direct.factorise(A)
        self.held: Mask = np.zeros(upper.shape[0], bool)
        self.steps = 0
        self.hold(self.held)

    def hold(self, held: Mask) -> None:
        """Fix the unknowns `held` (n,), all among the last of the order, at zero, and no others."""
        if np.any(held != self.held):
            self._fine.hold(held)
        self.held = held
        if self._condensing is None:
            return
        blocked = np.zeros(self._kept.size, bool)
        blocked[self.P[np.flatnonzero(held)].indices] = True
        self._open = np.flatnonzero(~blocked[self._kept])
        if self._open.size:
            S = self._condensing.S[np.ix_(self._open, self._open)]
            self._factor = la.cho_factor(S + FLOATING * np.trace(S) / len(S) * np.eye(len(S)))

    def reduced(self, b: Array) -> CoarseSystem | None:
        """A x = b on the coarse field, condensed onto the shapes that `hold` may take; None if there are none."""
        return self._condensing.condensed(self._down @ b) if self._condensing else None

    def _correct(self, r: Array, z: Array | None = None) -> Array:
        """P (P^T A P)^-1 P^T (r - A z)."""
        if not self._kept.size:
            return np.zeros(r.size)
        defect = self._down @ r
        if z is not None:
            defect -= self._image @ z
        if self._condensing is None:
            assert self._coarse is not None
            return self.P @ self._coarse(defect)
        condensed = self._condensing.condensed(defect)
        g = np.zeros(condensed.c.size)
        if self._open.size:
            g[self._open] = la.cho_solve(self._factor, condensed.c[self._open])
        return self.P @ condensed.expand(g)

    def residual(self, b: Array, x: Array) -> float:
        """||b - A x|| / ||b|| [-], where not held."""
        free = ~self.held
        return float(np.linalg.norm((b - self.A @ x) * free) / max(float(np.linalg.norm(b)), 1e-300))

    def solve(self, b: Array, tolerance: float, x: Array | None = None) -> Array:
        """x (n,), zero where held, from a first guess, until ||b - A x|| <= tolerance ||b|| or STEPS are done."""
        free = ~self.held
        enough = tolerance * float(np.linalg.norm(b * free))
        x = np.zeros(b.size) if x is None else x * free
        r = (b - self.A @ x) * free
        first = self._correct(r)
        x += first
        r -= (self.A @ first) * free
        p = old = r
        size = 1.0
        for step in range(STEPS):
            if not np.linalg.norm(r) > enough:
                break
            z = self._fine.solve(r)
            z += self._correct(r, z)
            turned = 0.0 if step == 0 else float(z @ (r - old)) / size
            size, p = float(z @ r), z + turned * p
            q = (self.A @ p) * free
            curvature = float(p @ q)
            if not curvature > 0:  # not positive definite: the caller sees the residual
                break
            length = size / curvature
            x += length * p
            old, r = r, r - length * q
            self.steps += 1
        return x
