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

from ..compiled import compiled
from .ice_springs import Springs, SpringState, bear, bearing_limit, cone_bears, cone_motion, grip, rub, stand

Array = NDArray[np.float64]
Pair = tuple[float, float]


class SpringForces(NamedTuple):
    """What `spring_forces` gives for m nodes.

    force : (m, 2), as the nodes resist [N].  block : (m, 2, 3), by u_x, u_z, rotation of the same node.
    moves : whether the cone does.  by_cone, of_cone : b (m, 2) and g (m, 3), the tangent's part -b g^T if it does.
    share : (m,) chi.  bearing, threads : (m,) before chi, positive against motion along n and a [N].
    limit : (2, m) what bounded the bearing [N].  toe : [N].  drag : (m,) friction [N].
    pull : what the threads would carry if the cone stayed where it was [N].
    """

    force: Array
    block: Array
    moves: bool
    by_cone: Array
    of_cone: Array
    share: Array
    bearing: Array
    limit: Array
    threads: Array
    toe: float
    drag: Array
    pull: float
    state: SpringState


@compiled
def spring_forces(springs: Springs, q0: Array, q: Array, old: SpringState, limits: Array) -> SpringForces:
    """Forces [N], derivatives and new memory as the m nodes move from q0 to q, each (m, 3) [m, m, rad].

    limits : (2, m) what bounds the bearing [N], `bearing_limit`.
    """
    m = len(q)
    a_mid, along, across, chi, chi_z = np.empty((m, 2)), np.empty(m), np.empty(m), np.empty(m), np.empty(m)
    for i in range(m):
        middle = springs.angle + 0.5 * (q0[i, 2] + q[i, 2])
        a_mid[i, 0], a_mid[i, 1] = np.sin(middle), np.cos(middle)
        x, z, t = q[i, 0] - q0[i, 0], q[i, 1] - q0[i, 1], (springs.depth[i] + q[i, 1]) / springs.fade
        along[i] = x * a_mid[i, 0] + z * a_mid[i, 1]
        across[i] = x * a_mid[i, 1] - z * a_mid[i, 0]
        t = min(max(t, 0.0), 1.0)
        chi[i], chi_z[i] = 1 - t * t * (3 - 2 * t), -6 * t * (1 - t) / springs.fade
    w, u = old.w + across, old.u + along
    borne = bear(springs, limits, w, old)
    cone = old.cone
    threads, k_u, slip, worn = grip(springs, u - cone, old.slip, old.worn)
    pull = (chi * threads).sum()
    if pull > cone_bears(springs, cone):
        cone = cone_motion(springs, u, chi, old, pull)
        threads, k_u, slip, worn = grip(springs, u - cone, old.slip, old.worn)
    toe, k_toe, toe_slip = stand(springs, u[-1], old.toe)
    drag, k_drag, rubbed = rub(springs, u, old)
    axial, k_a = threads + drag, k_u + k_drag
    axial[-1] -= toe
    k_a[-1] += k_toe
    force, block = np.empty((m, 2)), np.empty((m, 2, 3))
    for i in range(m):
        by_w, by_u = chi[i] * borne.slope[i] + springs.hold[i], chi[i] * k_a[i] + springs.hold[i]
        _at_node(
            force[i],
            block[i],
            (np.sin(springs.angle + q[i, 2]), np.cos(springs.angle + q[i, 2])),
            (a_mid[i, 0], a_mid[i, 1]),
            (along[i], across[i]),
            (chi[i] * axial[i] + springs.hold[i] * u[i], chi[i] * borne.force[i] + springs.hold[i] * w[i]),
            (by_u, by_w),
            (chi_z[i] * axial[i], chi_z[i] * borne.force[i]),
        )
    moves = cone > old.cone
    by_cone, of_cone = np.zeros((m, 2)), np.zeros((m, 3))
    if moves:
        _add_cone(springs, cone, q, a_mid, chi * k_u, threads * chi_z, across, by_cone, of_cone)
    state = SpringState(w, borne.crushed, old.trench, u, slip, worn, cone, toe_slip, rubbed, borne.force)
    return SpringForces(
        force, block, moves, by_cone, of_cone, chi, borne.force, limits, threads, toe, drag, pull, state
    )


@compiled
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


@compiled
def _add_cone(
    springs: Springs,
    cone: float,
    q: Array,
    a_mid: Array,
    by_u: Array,
    by_z: Array,
    across: Array,
    by_cone: Array,
    of_cone: Array,
) -> None:
    """Write b (m, 2) and g (m, 3) of a cone that moves.  by_u, by_z : slopes of the threads' force (m,) [N/m]."""
    stiffness = _cone_stiffness(springs, by_u.sum(), cone)
    for i in range(len(by_u)):
        angle = springs.angle + q[i, 2]
        by_cone[i, 0], by_cone[i, 1] = by_u[i] * np.sin(angle), by_u[i] * np.cos(angle)
        of_cone[i, 0] = by_u[i] * a_mid[i, 0] / stiffness
        of_cone[i, 1] = (by_u[i] * a_mid[i, 1] + by_z[i]) / stiffness
        of_cone[i, 2] = by_u[i] * 0.5 * across[i] / stiffness


@compiled
def _cone_stiffness(springs: Springs, threads: float, cone: float) -> float:
    """d(T - allowed)/d(-c) [N/m]; never less than a billionth of the threads' own."""
    falls = springs.cone_fall if cone_bears(springs, cone) > 0 else 0.0
    return max(threads - falls, 1e-9 * springs.thread_k.sum())


@compiled
def _energies(springs: Springs, at: SpringForces, node: int) -> tuple[float, float, float]:
    """Energy of bearing, threads and friction at a node as if wholly in the ice [J]."""
    k, k_rub = springs.thread_k[node], springs.rub_k[node]
    grips = at.threads[node] ** 2 / k if k > 0 else 0.0
    drags = at.drag[node] ** 2 / k_rub if k_rub > 0 else 0.0
    return 0.5 * at.bearing[node] ** 2 / springs.k[node], 0.5 * grips, 0.5 * drags


@compiled
def stored_in_ice(springs: Springs, at: SpringForces) -> float:
    """Elastic energy of the ice's springs [J], with what holds a floating tube."""
    stored = 0.5 * at.share[-1] * at.toe**2 / springs.toe_k
    for i in range(len(springs.k)):
        bearing, threads, drag = _energies(springs, at, i)
        stored += (bearing + threads + drag) * at.share[i]
        stored += 0.5 * springs.hold[i] * (at.state.w[i] ** 2 + at.state.u[i] ** 2)
    return stored


@compiled
def spent_in_ice(springs: Springs, before: SpringForces, after: SpringForces) -> Array:
    """Work lost in one step by crushing (with the toe's), threads, cone and friction (4,) [J], each from its own law.

    A node that leaves the ice leaves behind what its springs had stored.
    """
    old, new, lost, pull = before.state, after.state, np.zeros(4), 0.0
    for i in range(len(springs.k)):
        share, left = 0.5 * (before.share[i] + after.share[i]), before.share[i] - after.share[i]
        was, now = _energies(springs, before, i), _energies(springs, after, i)
        limit, fall = springs.thread_limit[i], springs.thread_fall[i]
        grips = 0.5 * (max(limit - fall * old.worn[i], 0.0) + max(limit - fall * new.worn[i], 0.0))
        for side in range(2):
            lost[0] += share * after.limit[side, i] * (new.crushed[side, i] - old.crushed[side, i])
        lost[1] += share * grips * (new.worn[i] - old.worn[i])
        lost[3] += share * springs.friction * abs(old.bore[i]) * abs(new.rubbed[i] - old.rubbed[i])
        lost[0] += 0.5 * (was[0] + now[0]) * left
        lost[1] += 0.5 * (was[1] + now[1]) * left
        lost[3] += 0.5 * (was[2] + now[2]) * left
        pull += before.share[i] * before.threads[i] + after.share[i] * after.threads[i]
    lost[0] += springs.toe_limit * (new.toe - old.toe) * 0.5 * (before.share[-1] + after.share[-1])
    lost[2] = 0.5 * pull * (new.cone - old.cone)
    return lost
