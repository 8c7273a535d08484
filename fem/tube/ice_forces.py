"""The ice's forces on the moving nodes of the tube [N], their tangent, and their energy [J].

From one state to the next the motion of each node is split along its normal n and its axis a as they lie halfway. The
laws at the nodes (`tube.ice_springs`) act along n and a as they lie at the end. A node that has come out of the ice
bears nothing: all its forces carry chi = 1 - smoothstep(z / h) for its height 0 < z < h above the surface, h one
element's. The cone couples all nodes, a term of rank one in the tangent, -b g^T.

What the springs store and spend is kept apart from the forces, each from its own law: the energy book is a check of
the whole, not an identity.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from .ice_springs import Springs, SpringState, bear, cone_motion, grip, rub, stand

Array = NDArray[np.float64]
Pair = tuple[float, float]


class IceState(NamedTuple):
    """What a state keeps of the ice's springs, at n nodes.

    share : (n,) chi.  bearing, threads : (n,) before chi, positive against motion along n and a [N].
    limit : (2, n) what bounded the bearing [N].  toe : [N].  drag : (n,) friction [N].
    pull : what the threads would carry if the cone stayed where it was [N].
    """

    share: Array
    bearing: Array
    limit: Array
    threads: Array
    toe: float
    drag: Array
    pull: float
    state: SpringState


class SpringForces(NamedTuple):
    """What `spring_forces` gives for m nodes.

    force : (m, 2), as the nodes resist [N].  block : (m, 2, 3), by u_x, u_z, rotation of the same node.
    moves : whether the cone does.  by_cone, of_cone : b (m, 2) and g (m, 3), the tangent's part -b g^T if it does.
    """

    force: Array
    block: Array
    moves: bool
    by_cone: Array
    of_cone: Array
    kept: IceState


@compiled
def spring_forces(springs: Springs, q0: Array, q: Array, old: SpringState, limits: Array) -> SpringForces:
    """Forces [N], derivatives and new memory as the m nodes move from q0 to q, each (m, 3) [m, m, rad].

    limits : (2, m) what bounds the bearing [N], `bearing_limit`.
    """
    m, lean, fade, depth, hold = len(q), springs.angle, springs.fade, springs.depth, springs.hold
    k, fall, limit = springs.thread_k, springs.thread_fall, springs.thread_limit
    a_mid, along, across, chi, chi_z = np.empty((m, 2)), np.empty(m), np.empty(m), np.empty(m), np.empty(m)
    for i in range(m):
        middle = lean + 0.5 * (q0[i, 2] + q[i, 2])
        a_mid[i, 0], a_mid[i, 1] = np.sin(middle), np.cos(middle)
        x, z, t = q[i, 0] - q0[i, 0], q[i, 1] - q0[i, 1], min(max((depth[i] + q[i, 1]) / fade, 0.0), 1.0)
        along[i] = x * a_mid[i, 0] + z * a_mid[i, 1]
        across[i] = x * a_mid[i, 1] - z * a_mid[i, 0]
        chi[i], chi_z[i] = 1 - t * t * (3 - 2 * t), -6 * t * (1 - t) / fade
    w, u, cone = old.w + across, old.u + along, old.cone
    borne = bear(springs, limits, w, old)
    bearing, k_w = borne.force, borne.slope
    threads, k_u, slip, worn = grip(k, fall, limit, u - cone, old.slip, old.worn)
    pull = (chi * threads).sum()
    moves = pull > max(springs.cone - springs.cone_fall * cone, 0.0)
    if moves:
        cone = cone_motion(springs, u, chi, old, pull)
        threads, k_u, slip, worn = grip(k, fall, limit, u - cone, old.slip, old.worn)
        moves = cone > old.cone
    toe, k_toe, toe_slip = stand(springs.toe_k, springs.toe_limit, u[-1], old.toe)
    drag, k_drag, rubbed = rub(springs.friction, springs.rub_k, u, old.rubbed, old.bore)
    axial, k_a = threads + drag, k_u + k_drag
    axial[-1] -= toe
    k_a[-1] += k_toe
    force, block, by_cone, of_cone = np.empty((m, 2)), np.empty((m, 2, 3)), np.zeros((m, 2)), np.zeros((m, 3))
    for i in range(m):
        a = np.sin(lean + q[i, 2]), np.cos(lean + q[i, 2])
        forces = chi[i] * axial[i] + hold[i] * u[i], chi[i] * bearing[i] + hold[i] * w[i]
        slopes = chi[i] * k_a[i] + hold[i], chi[i] * k_w[i] + hold[i]
        by_height, moved = (chi_z[i] * axial[i], chi_z[i] * bearing[i]), (along[i], across[i])
        _at_node(force[i], block[i], a, (a_mid[i, 0], a_mid[i, 1]), moved, forces, slopes, by_height)
        if moves:
            by_u = chi[i] * k_u[i]
            by_cone[i, 0], by_cone[i, 1] = by_u * a[0], by_u * a[1]
            of_cone[i, 0], of_cone[i, 2] = by_u * a_mid[i, 0], by_u * 0.5 * across[i]
            of_cone[i, 1] = by_u * a_mid[i, 1] + threads[i] * chi_z[i]
    if moves:  # d(T - allowed) / d(-c) [N/m], never less than a billionth of the threads' own
        falls = springs.cone_fall if springs.cone - springs.cone_fall * cone > 0 else 0.0
        of_cone /= max((chi * k_u).sum() - falls, 1e-9 * k.sum())
    state = SpringState(w, borne.crushed, old.trench, u, slip, worn, cone, toe_slip, rubbed, bearing)
    kept = IceState(chi, bearing, limits, threads, toe, drag, pull, state)
    return SpringForces(force, block, moves, by_cone, of_cone, kept)


@within
def _at_node(
    force: Array,
    block: Array,
    a: Pair,
    a_mid: Pair,
    moved: Pair,
    forces: Pair,
    slopes: Pair,
    by_height: Pair,
) -> None:
    """Write a node's force (2,) and its derivatives (2, 3).

    a, a_mid : axis at the end and halfway.  All other pairs: along it, and across it along the front normal.
    """
    n, n_mid = (a[1], -a[0]), (a_mid[1], -a_mid[0])
    turned_n, turned_a = forces[0] - 0.5 * slopes[1] * moved[0], 0.5 * slopes[0] * moved[1] - forces[1]
    for r in range(2):
        force[r] = forces[1] * n[r] + forces[0] * a[r]
        for c in range(2):
            block[r, c] = slopes[1] * n[r] * n_mid[c] + slopes[0] * a[r] * a_mid[c]
        block[r, 1] += by_height[1] * n[r] + by_height[0] * a[r]
        block[r, 2] = turned_n * n[r] + turned_a * a[r]


@within
def _energies(springs: Springs, at: IceState) -> Array:
    """Energy of bearing, threads and friction at each node as if wholly in the ice, (3, m) [J]."""
    k, k_thread, k_rub = springs.k, springs.thread_k, springs.rub_k
    bearing, threads, drag = at.bearing, at.threads, at.drag
    found = np.zeros((3, len(k)))
    for i in range(len(k)):
        found[0, i] = 0.5 * bearing[i] ** 2 / k[i]
        if k_thread[i] > 0:
            found[1, i] = 0.5 * threads[i] ** 2 / k_thread[i]
        if k_rub[i] > 0:
            found[2, i] = 0.5 * drag[i] ** 2 / k_rub[i]
    return found


@compiled
def stored_in_ice(springs: Springs, at: IceState) -> float:
    """Elastic energy of the ice's springs [J], with what holds a floating tube."""
    energies, share, hold, w, u = _energies(springs, at), at.share, springs.hold, at.state.w, at.state.u
    stored = 0.5 * share[-1] * at.toe**2 / springs.toe_k
    for i in range(len(share)):
        stored += energies[:, i].sum() * share[i] + 0.5 * hold[i] * (w[i] ** 2 + u[i] ** 2)
    return stored


@compiled
def spent_in_ice(springs: Springs, before: IceState, after: IceState) -> Array:
    """Work lost in one step by crushing (with the toe's), threads, cone and friction (4,) [J], each from its own law.

    A node that leaves the ice leaves behind what its springs had stored.
    """
    old, new, lost = before.state, after.state, np.zeros(4)
    energies = 0.5 * (_energies(springs, before) + _energies(springs, after))
    share, left = 0.5 * (before.share + after.share), before.share - after.share
    limit, fall, worn, limits = springs.thread_limit, springs.thread_fall, old.worn, after.limit
    more, crushed = new.worn - worn, new.crushed - old.crushed
    rubs = springs.friction * np.abs(old.bore) * np.abs(new.rubbed - old.rubbed)
    for i in range(len(share)):
        grips = 0.5 * (max(limit[i] - fall[i] * worn[i], 0.0) + max(limit[i] - fall[i] * (worn[i] + more[i]), 0.0))
        crushing = limits[0, i] * crushed[0, i] + limits[1, i] * crushed[1, i]
        lost[0] += share[i] * crushing + energies[0, i] * left[i]
        lost[1] += share[i] * grips * more[i] + energies[1, i] * left[i]
        lost[3] += share[i] * rubs[i] + energies[2, i] * left[i]
    lost[0] += springs.toe_limit * (new.toe - old.toe) * share[-1]
    pull = (before.share * before.threads).sum() + (after.share * after.threads).sum()
    lost[2] = 0.5 * pull * (new.cone - old.cone)
    return lost
