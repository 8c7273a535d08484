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

import numpy as np
import scipy.linalg as la
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.optimize import nnls

from ...geometry import HalfModel
from .solver import Method, SolveError, choose_method, condense, make_solver

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
STEPS = 60
FLOATING = (
    1e-12  # share of the mean diagonal added to S: holds a tube that touches nothing (its load has no part there)
)


@dataclass(frozen=True, slots=True)
class ContactSolution:
    """u : (3 nodes,) displacement [m].  gap [m], force [N] : (k,) of the pairs, force >= 0 pressing together.

    on_tube : (k, 3) force of the ice on the tube at each pair, in the tube's frame (n, t, e_a) [N].
    iterations : of the active set.  residual : relative, over the free unknowns.  method : of the linear solver.
    """

    u: Array
    gap: Array
    force: Array
    on_tube: Array
    iterations: int
    residual: float
    method: Method


def solve_contact(
    K: sp.csr_matrix, load: Array, model: HalfModel, method: Method | None = None, bonded: bool = False
) -> ContactSolution:
    """Solve K u = load with the model's supports and contact pairs.

    K : (3 n, 3 n) stiffness [N/m], tube and ice not yet joined; load : (3 n,) nodal forces [N].
    bonded : keep every gap closed (a linear problem, for superposition and checks).
    Raises SolveError if a linear solve or the active set fails.
    """
    unknowns = contact_unknowns(model)
    T, is_gap = unknowns.T, unknowns.is_gap
    A = (T.T @ (K @ T)).tocsr()
    b = T.T @ load
    method = method or choose_method(b.size)
    v, iterations = np.zeros(b.size), 0
    closed = np.ones(int(is_gap.sum()), bool)
    if bonded:
        held = A[~is_gap][:, ~is_gap].tocsr()
        solver = make_solver(held, unknowns.modes[~is_gap], method, unknowns.slots[~is_gap])
        v[~is_gap] = solver.solve(b[~is_gap])
    elif method == "amg":
        v, closed, iterations = _iterate_whole(A, b, unknowns)
    else:
        condensed = condense(A, b, is_gap, method)
        g, closed, iterations = solve_gaps(condensed.S, condensed.c)
        v = condensed.expand(g)
    u = T @ v
    free = np.ones(b.size, bool)
    free[np.flatnonzero(is_gap)[closed]] = False
    scale = max(float(np.linalg.norm(b)), 1e-300)
    residual = float(np.linalg.norm((A @ v - b)[free])) / scale
    at_tube = (K @ u - load).reshape(-1, 3)[model.pairs[0]]
    on_tube = np.einsum("kdc,kd->kc", unknowns.frames, at_tube)
    by_ice_node = np.argsort(np.argsort(model.pairs[1]))  # the unknowns' order of the gaps
    return ContactSolution(u, v[is_gap][by_ice_node], -on_tube[:, 0], on_tube, iterations, residual, method)


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


def _iterate_whole(A: sp.csr_matrix, b: Array, unknowns: Unknowns) -> tuple[Array, Mask, int]:
    """Active set for a system too large to factorise: each step is an iterative solve with the open gaps free."""
    gaps = np.flatnonzero(unknowns.is_gap)
    last = np.zeros(b.size)

    def answer(closed: Mask) -> tuple[Array, Array]:
        free = np.ones(b.size, bool)
        free[gaps[closed]] = False
        part = A[free][:, free].tocsr()
        last[:] = 0.0
        last[free] = make_solver(part, unknowns.modes[free], "amg", unknowns.slots[free]).solve(b[free])
        return last[gaps].copy(), (A @ last - b)[gaps]

    _, closed, iterations = active_set(answer, A.diagonal()[gaps], np.ones(gaps.size, bool))
    if iterations < 0:
        raise SolveError(f"contact: the active set did not settle in {STEPS} steps")
    return last, closed, iterations


@dataclass(frozen=True, slots=True)
class Unknowns:
    """The unknowns v of the module docstring: u = T v.

    is_gap : (unknowns,).  frames : (k, 3, 3), columns n, t, e_a of each pair.  modes : (unknowns, 6) rigid-body modes.
    slots : (unknowns,) 3 node + component.
    """

    T: sp.csr_matrix
    is_gap: Mask
    frames: Array
    modes: Array
    slots: NDArray[np.int64]


def pair_frames(model: HalfModel) -> Array:
    """Columns n (radial), t (circumferential), e_a (axial) at each pair: unit vectors, shape (k, 3, 3)."""
    xi, eta, _ = model.straight[:, model.pairs[0]]
    phi = np.arctan2(eta, xi)
    one, zero = np.ones_like(phi), np.zeros_like(phi)
    local = np.stack([[np.cos(phi), -np.sin(phi), zero], [np.sin(phi), np.cos(phi), zero], [zero, zero, one]])
    return np.einsum("ij,jck->kic", model.frame, local)


def contact_unknowns(model: HalfModel) -> Unknowns:
    """Unknowns of a model with its supports and contact pairs, every gap open."""
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
    gap = np.zeros((n, 3), bool)
    gap[ice, 0] = True
    free = ~fixed.ravel()
    modes = _rigid_modes(model.mesh.doflocs)
    local = T.T @ modes  # exact where a node is no pair
    both = np.concatenate([tube, ice])
    turned = np.einsum("kdc,kdm->kcm", np.concatenate([frames, frames]), modes.reshape(n, 3, 6)[both])
    local = local.reshape(n, 3, 6)
    local[both] = turned
    local[ice, 0] = 0.0
    local = local.reshape(3 * n, 6)[free]
    return Unknowns(T[:, free].tocsr(), gap.ravel()[free], frames, local, np.flatnonzero(free))


def _rigid_modes(x: Array) -> Array:
    """Translations and rotations about the centroid, (3 n, 6)."""
    n = x.shape[1]
    centred = x - x.mean(axis=1, keepdims=True)
    centred = centred / np.abs(centred).max()
    modes = np.zeros((n, 3, 6))
    for i in range(3):
        modes[:, i, i] = 1.0
        j, k = (i + 1) % 3, (i + 2) % 3
        modes[:, j, 3 + i] = -centred[k]
        modes[:, k, 3 + i] = centred[j]
    return modes.reshape(3 * n, 6)


def condition_figures(solution: ContactSolution) -> tuple[float, float]:
    """Complementarity: (largest tension, largest penetration), each over the largest force or gap [-]."""
    force, gap = solution.force, solution.gap
    return (
        float(max(0.0, -force.min()) / max(np.abs(force).max(), 1e-300)),
        float(max(0.0, -gap.min()) / max(np.abs(gap).max(), 1e-300)),
    )
