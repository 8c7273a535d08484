"""Unilateral, frictionless contact of tube and ice on node pairs, condensed onto the gaps.

Each pair k has a normal n (radial, from the axis into the ice), the axis e_a and t = e_a x n. With u = R u' (local
components at the pairs) the unknowns are the tube's u', the gap g_k = n . (u_ice - u_tube) >= 0 [m] and the ice's axial
and circumferential components. On the threads the ice's axial component is the tube's (thread faces bear both ways).
The energy is  1/2 v^T A v - b^T v  with v = (f, g). One factorisation with every gap closed eliminates f and leaves a
bound-constrained quadratic programme in the gaps alone,

    min 1/2 g^T S g - c^T g,  g >= 0;     S = A_gg - A_gf A_ff^-1 A_fg,  c = b_g - A_gf A_ff^-1 b_f,
    lambda = S g - c >= 0 [N],  lambda^T g = 0    (lambda: the force that presses pair k together).

A primal-dual active set (Hintermueller, Ito, Kunisch, SIAM J. Optim. 13, 2002, from memory) solves it in a few dense
steps. If it cycles, Lawson and Hanson's non-negative least squares (scipy) takes over; it ends after finitely many
steps. 27-node hexahedra spread a uniform pressure over the nodes of their faces with positive weights (1/36, 4/36,
16/36); serendipity ones do not.

Limits: no initial gap, no friction, small displacements. The answer is proportional to the load.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import scipy.linalg as la
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.optimize import nnls

from ...geometry.half_model import HalfModel
from ..errors import SolveError
from .assembly import Pattern
from .coarse_contact import coarse_contact
from .condensation import Elimination, make_levels
from .elasticity import Regions, nodal_forces
from .multigrid import Multigrid
from .solver import ITERATED, TOLERANCE, Method, choose_method
from .symmetric import Symmetric

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
STEPS = 60
LOOSE = 1e-3  # of the iterations that look for the closed pairs
FLOATING = (
    1e-12  # share of the mean diagonal added to S: holds a tube that touches nothing (its load has no part there)
)


@dataclass(frozen=True, slots=True)
class ContactSolution:
    """u : (3 nodes,) displacement [m].  gap [m], force [N] : (k,) of the pairs, force >= 0 pressing together.

    on_tube : (k, 3) force of the ice on the tube at each pair, in the tube's frame (n, t, e_a) [N].
    reaction : (3 nodes,) K u - load, the force that supports and contact exert [N].
    iterations : of the active set.  residual : relative, over the free unknowns.  method : of the linear solver.
    """

    u: Array
    gap: Array
    force: Array
    on_tube: Array
    reaction: Array
    iterations: int
    residual: float
    method: Method


class ContactSystem:
    """A model condensed onto its gaps: one factorisation for all loads.

    regions : (element indices, C) of `model.mesh`.  after : a system that is no longer needed; if it is of the same
    family (its mesh connected alike, as at another angle), its map of places and analysis serve again.
    Raises SolveError if the factorisation fails.
    """

    _pattern: Pattern

    def __init__(
        self, model: HalfModel, regions: Regions, method: Method | None = None, after: ContactSystem | None = None
    ) -> None:
        self.model, self.regions = model, regions
        self.unknowns = unknowns = contact_unknowns(model)
        self.method = method or choose_method(unknowns.slots.size, has_coarse=True)
        of = (model.mesh, regions, unknowns.T, unknowns.slots)
        alike = after is not None and after.method == self.method and after._pattern.fits(*of)
        self._pattern = after._pattern if after is not None and alike else Pattern(*of)
        upper = self._pattern.fill(model.mesh, regions, unknowns.T)
        self.A = Symmetric(upper)
        self._elimination: Elimination | None = None
        if self.method == "multigrid":
            coarse = coarse_contact(model, unknowns.T, unknowns.slots, unknowns.frames, unknowns.is_gap)
            self._levels = make_levels(upper, coarse)
        else:
            if after is not None and alike and after._elimination is not None:
                self._elimination, after._elimination = after._elimination, None
                self._elimination.renew(upper)
            else:
                self._elimination = Elimination(upper, unknowns.is_gap, self.method)

    def solve(self, loads: Array, bonded: bool = False) -> list[ContactSolution]:
        """The answers to nodal forces (3 nodes, k) [N], a column each.

        bonded : keep every gap closed (a linear problem, for superposition and checks).
        Raises SolveError if a linear solve or the active set fails.
        """
        T, is_gap = self.unknowns.T, self.unknowns.is_gap
        b = T.T @ loads
        v, closed, iterations = self._answers(b, bonded)
        u = T @ v
        free = np.ones(b.shape, bool)
        free[is_gap] = ~closed
        scale = np.maximum(np.linalg.norm(b, axis=0), 1e-300)
        residual = np.linalg.norm(np.where(free, self.A @ v - b, 0.0), axis=0) / scale
        reaction = nodal_forces(self.model.mesh, self.regions, u) - loads
        at_tube = reaction.reshape(-1, 3, b.shape[1])[self.model.pairs[0]]
        on_tube = np.einsum("kdc,kdl->lkc", self.unknowns.frames, at_tube)
        gap = v[is_gap][np.argsort(np.argsort(self.model.pairs[1]))]  # in the order of the pairs
        return [
            ContactSolution(
                u=u[:, k],
                gap=gap[:, k],
                force=-on_tube[k, :, 0],
                on_tube=on_tube[k],
                reaction=reaction[:, k],
                iterations=iterations[k],
                residual=float(residual[k]),
                method=self.method,
            )
            for k in range(b.shape[1])
        ]

    def _answers(self, b: Array, bonded: bool) -> tuple[Array, Mask, list[int]]:
        """Unknowns (n, k), closed pairs (gaps, k) and iterations of each load."""
        is_gap = self.unknowns.is_gap
        v = np.zeros(b.shape)
        closed = np.ones((int(is_gap.sum()), b.shape[1]), bool)
        iterations = [0] * b.shape[1]
        if self._elimination is None:
            for k, column in enumerate(b.T):
                v[:, k], closed[:, k], iterations[k] = _iterate_whole(self._levels, column, is_gap, bonded)
            return v, closed, iterations
        condensed = self._elimination.condensed(b)
        g = np.zeros(closed.shape)
        if not bonded:
            for k, c in enumerate(condensed.c.T):
                g[:, k], closed[:, k], iterations[k] = solve_gaps(condensed.S, c)
        return condensed.expand(g), closed, iterations


def solve_contact(
    model: HalfModel, regions: Regions, load: Array, method: Method | None = None, bonded: bool = False
) -> ContactSolution:
    """The answer of a `ContactSystem` to one load (3 nodes,) [N]."""
    return ContactSystem(model, regions, method).solve(load[:, None], bonded)[0]


def solve_gaps(S: Array, c: Array, first: Mask | None = None) -> tuple[Array, Mask, int]:
    """Gaps g >= 0 (k,), closed pairs (k,) and iterations of min 1/2 g^T S g - c^T g (module docstring).

    S : (k, k) symmetric positive semidefinite [N/m]; c : (k,) [N].  first : closed pairs to begin with, by default all.
    Raises SolveError if neither method ends.
    """
    S = S + FLOATING * np.trace(S) / len(S) * np.eye(len(S))

    def answer(closed: Mask) -> tuple[Array, Array]:
        g = np.zeros(c.size)
        free = ~closed
        g[free] = la.solve(S[np.ix_(free, free)], c[free], assume_a="pos")
        return g, S @ g - c

    g, closed, iterations = active_set(answer, np.diag(S), np.ones(c.size, bool) if first is None else first)
    if iterations < 0:
        L = la.cholesky(S, lower=True)
        scale = 1 / np.sqrt(np.diag(S))
        z, _ = nnls(L.T * scale, la.solve_triangular(L, c, lower=True), maxiter=50 * c.size)
        g, closed, iterations = z * scale, z <= 0, STEPS
    return g, closed, iterations


def active_set(
    answer: Callable[[Mask], tuple[Array, Array]], stiffness: Array, closed: Mask
) -> tuple[Array, Mask, int]:
    """Primal-dual active set: `answer(closed)` gives gaps [m] and pressing forces [N] with those pairs held shut.

    stiffness : of each pair, weighs gaps against forces [N/m].
    Returns gaps, closed pairs and the number of iterations; -1 iterations if a set came back (a cycle).
    """
    seen = set()
    for iteration in range(1, STEPS + 1):
        g, force = answer(closed)
        new = force - stiffness * g > 0
        if np.array_equal(new, closed):
            return g, closed, iteration
        if new.tobytes() in seen:
            break
        seen.add(new.tobytes())
        closed = new
    return g, closed, -1


def _iterate_whole(levels: Multigrid, b: Array, is_gap: Mask, bonded: bool) -> tuple[Array, Mask, int]:
    """Active set for a system too large to factorise, from the coarse field's own contact and loose at first."""
    gaps = np.flatnonzero(is_gap)
    if bonded:
        levels.hold(is_gap)
        return _checked(levels, b, levels.solve(b, ITERATED)), np.ones(gaps.size, bool), 0
    reduced = levels.reduced(b)
    assert reduced is not None  # the coarse field of a contact reaches its gaps
    x = levels.P @ reduced.expand(solve_gaps(reduced.S, reduced.c)[0])

    def answer(tolerance: float, closed: Mask) -> tuple[Array, Array]:
        held = np.zeros(b.size, bool)
        held[gaps[closed]] = True
        levels.hold(held)
        x[:] = levels.solve(b, tolerance, x)
        return x[gaps], (levels.A @ x - b)[gaps]

    stiffness = levels.A.diagonal[gaps]
    _, closed, before = active_set(partial(answer, LOOSE), stiffness, x[gaps] <= 0)
    _, closed, iterations = active_set(partial(answer, ITERATED), stiffness, closed)
    if iterations < 0:
        raise SolveError(f"contact: the active set did not settle in {STEPS} steps")
    return _checked(levels, b, x), closed, max(before, 0) + iterations


def _checked(levels: Multigrid, b: Array, x: Array) -> Array:
    residual = levels.residual(b, x)
    if not residual <= TOLERANCE:
        raise SolveError(f"multigrid: relative residual {residual:.1e} after the solve, allowed {TOLERANCE:.0e}")
    return x


@dataclass(frozen=True, slots=True)
class Unknowns:
    """The unknowns v of the module docstring: u = T v.

    is_gap : (unknowns,).  frames : (k, 3, 3), columns n, t, e_a of each pair.  slots : (unknowns,) 3 node + component.
    """

    T: sp.csr_matrix
    is_gap: Mask
    frames: Array
    slots: NDArray[np.int64]


def pair_frames(model: HalfModel) -> Array:
    """Columns n (radial), t (circumferential), e_a (axial) at each pair: unit vectors, shape (k, 3, 3)."""
    xi, eta, _ = model.straight[:, model.pairs[0]]
    phi = np.arctan2(eta, xi)
    one, zero = np.ones_like(phi), np.zeros_like(phi)
    local = np.stack([[np.cos(phi), -np.sin(phi), zero], [np.sin(phi), np.cos(phi), zero], [zero, zero, one]])
    return np.einsum("ij,jck->kic", model.frame, local)


def contact_unknowns(model: HalfModel) -> Unknowns:
    """Unknowns of a model with its supports and contact pairs, every gap open.

    Nodes named "level", which a plane problem has, do not move along the axis (upright: along z).
    """
    n = model.mesh.doflocs.shape[1]
    frames = pair_frames(model)
    tube, ice = model.pairs
    plain = np.repeat(True, 3 * n).reshape(n, 3)
    plain[model.pairs.ravel()] = False
    plain_dofs = np.flatnonzero(plain)
    rows, columns, values = [plain_dofs], [plain_dofs], [np.ones(plain_dofs.size)]
    for side in (tube, ice):
        for i in range(3):
            for c in range(3):
                rows.append(3 * side + i)
                columns.append(3 * side + c)
                values.append(frames[:, i, c])
    # the ice's normal component is the tube's plus the gap; on the threads its axial component is the tube's
    for c, which in ((0, np.ones(tube.size, bool)), (2, model.threaded)):
        for i in range(3):
            rows.append(3 * ice[which] + i)
            columns.append(3 * tube[which] + c)
            values.append(frames[which][:, i, c])
    T = sp.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(3 * n, 3 * n))
    fixed = np.zeros((n, 3), bool)
    fixed[model.nodes["symmetry"], 1] = True  # at pairs on the plane, column 1 is t = +-e_y
    fixed[model.nodes["far"]] = True
    fixed[ice[model.threaded], 2] = True
    fixed[model.nodes.get("level", []), 2] = True
    gap = np.zeros((n, 3), bool)
    gap[ice, 0] = True
    free = ~fixed.ravel()
    return Unknowns(T[:, free].tocsr(), gap.ravel()[free], frames, np.flatnonzero(free))


def condition_figures(solution: ContactSolution) -> tuple[float, float]:
    """Complementarity: (largest tension, largest penetration), each over the largest force or gap [-]."""
    force, gap = solution.force, solution.gap
    return (
        float(max(0.0, -force.min()) / max(np.abs(force).max(), 1e-300)),
        float(max(0.0, -gap.min()) / max(np.abs(gap).max(), 1e-300)),
    )
