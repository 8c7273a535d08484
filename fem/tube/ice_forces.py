"""The ice's forces on the moving nodes of the tube [N], their tangent, and their energy [J].

From one state to the next the motion of each node is split along its normal n and its axis a as they lie halfway. The
laws at the nodes (`tube.ice_springs`) act along n and a as they lie at the end. A node that has come out of the ice
bears nothing: all its forces carry chi = 1 - smoothstep(z / h) for its height 0 < z < h above the surface, h one
element's. The cone couples all nodes, a term of rank one in the tangent, -b g^T.

What the springs store and spend is kept apart from the forces, each from its own law: the energy book is a check of
the whole, not an identity.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .beam import directions
from .ice_springs import Springs, SpringState, bear, bearing_limit, cone_bears, cone_motion, grip, rub, stand

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SpringForces:
    """What `spring_forces` gives for m nodes.

    force : (m, 2), as the nodes resist [N].  block : (m, 2, 3), by u_x, u_z, rotation of the same node.
    couple : b (m, 2) and g (m, 3), the tangent's part -b g^T of the cone; None if it does not move.
    share : (m,) chi.  bearing, threads : (m,) before chi, positive against motion along n and a [N].
    limit : (2, m) what bounded the bearing [N].  toe : [N].  drag : (m,) friction [N].
    pull : what the threads would carry if the cone stayed where it was [N].
    """

    force: Array
    block: Array
    couple: tuple[Array, Array] | None
    share: Array
    bearing: Array
    limit: Array
    threads: Array
    toe: float
    drag: Array
    pull: float
    state: SpringState


def spring_forces(springs: Springs, q0: Array, q: Array, old: SpringState, limits: Array | None = None) -> SpringForces:
    """Forces [N], derivatives and new memory as the m nodes move from q0 to q, each (m, 3) [m, m, rad].

    limits : what bounds the bearing; without it `bearing_limit` of q0.
    """
    a, n = directions(springs.angle + q[:, 2])
    a_mid, n_mid = directions(springs.angle + 0.5 * (q0[:, 2] + q[:, 2]))
    moved = q[:, :2] - q0[:, :2]
    along, across = np.vecdot(moved, a_mid), np.vecdot(moved, n_mid)
    w, u = old.w + across, old.u + along
    t = np.clip((springs.depth + q[:, 1]) / springs.fade, 0.0, 1.0)
    chi, chi_z = 1 - t * t * (3 - 2 * t), -6 * t * (1 - t) / springs.fade
    borne = bear(springs, bearing_limit(springs, q0[:, 2], old) if limits is None else limits, w, old)
    bearing, k_w = borne.force, borne.slope
    cone = old.cone
    threads, k_u, slip, worn = grip(springs, u - cone, old.slip, old.worn)
    pull = float(chi @ threads)
    if pull > cone_bears(springs, cone):
        cone = cone_motion(springs, u, chi, old, pull)
        threads, k_u, slip, worn = grip(springs, u - cone, old.slip, old.worn)
    toe, k_toe, toe_slip = stand(springs, float(u[-1]), old.toe)
    drag, k_drag, rubbed = rub(springs, u, old)
    axial, k_a = threads + drag, k_u + k_drag
    axial[-1] -= toe
    k_a[-1] += k_toe
    by_share = chi_z[:, None] * (bearing[:, None] * n + axial[:, None] * a)
    hold = springs.hold
    lateral, axial = chi * bearing + hold * w, chi * axial + hold * u
    k_n, k_a = (chi * k_w + hold)[:, None], (chi * k_a + hold)[:, None]
    block = np.empty((len(w), 2, 3))
    block[:, :, :2] = (k_n * n)[:, :, None] * n_mid[:, None] + (k_a * a)[:, :, None] * a_mid[:, None]
    block[:, :, 1] += by_share
    turned_n, turned_a = axial - 0.5 * k_n[:, 0] * along, 0.5 * k_a[:, 0] * across - lateral
    block[:, :, 2] = turned_n[:, None] * n + turned_a[:, None] * a
    couple = None
    if cone > old.cone:
        by_u = chi * k_u
        g = by_u[:, None] * np.column_stack([a_mid, 0.5 * across])
        g[:, 1] += threads * chi_z
        couple = by_u[:, None] * a, g / _cone_stiffness(springs, float(by_u.sum()), cone)
    return SpringForces(
        lateral[:, None] * n + axial[:, None] * a,
        block,
        couple,
        chi,
        bearing,
        borne.limit,
        threads,
        toe,
        drag,
        pull,
        SpringState(w, borne.crushed, old.trench, u, slip, worn, cone, toe_slip, rubbed, bearing),
    )


def _cone_stiffness(springs: Springs, threads: float, cone: float) -> float:
    """d(T - allowed)/d(-c) [N/m]; never less than a billionth of the threads' own."""
    falls = springs.cone_fall if cone_bears(springs, cone) > 0 else 0.0
    return max(threads - falls, 1e-9 * float(springs.thread_k.sum()))


def _energies(springs: Springs, at: SpringForces) -> Array:
    """Energy of bearing, threads and friction at each node as if wholly in the ice, (3, m) [J]."""
    k = springs.thread_k
    grip = np.divide(at.threads**2, k, out=np.zeros_like(k), where=k > 0)
    drag = np.divide(at.drag**2, springs.rub_k, out=np.zeros_like(k), where=springs.rub_k > 0)
    return 0.5 * np.stack([at.bearing**2 / springs.k, grip, drag])


def stored_in_ice(springs: Springs, at: SpringForces) -> float:
    """Elastic energy of the ice's springs [J], with what holds a floating tube."""
    held = springs.hold @ (at.state.w**2 + at.state.u**2)
    toe = at.share[-1] * at.toe**2 / springs.toe_k
    return float((_energies(springs, at) @ at.share).sum() + 0.5 * (held + toe))


def spent_in_ice(springs: Springs, before: SpringForces, after: SpringForces) -> Array:
    """Work lost in one step by crushing (with the toe's), threads, cone and friction (4,) [J], each from its own law.

    A node that leaves the ice leaves behind what its springs had stored.
    """
    old, new = before.state, after.state
    share, left = 0.5 * (before.share + after.share), before.share - after.share
    grips = 0.5 * sum(np.maximum(springs.thread_limit - springs.thread_fall * each.worn, 0.0) for each in (old, new))
    lost = np.zeros(4)
    lost[0] = share @ (after.limit * (new.crushed - old.crushed)).sum(axis=0)
    lost[0] += springs.toe_limit * (new.toe - old.toe) * share[-1]
    lost[1] = share @ (grips * (new.worn - old.worn))
    lost[2] = 0.5 * (before.share @ before.threads + after.share @ after.threads) * (new.cone - old.cone)
    lost[3] = share @ (springs.friction * np.abs(old.bore) * np.abs(new.rubbed - old.rubbed))
    lost[[0, 1, 3]] += 0.5 * (_energies(springs, before) + _energies(springs, after)) @ left
    return lost
