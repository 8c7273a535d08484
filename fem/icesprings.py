"""The ice's forces on the nodes of the tube, with memory, from the laws in `icelaws`.

Each node stands for the tube within half an element (the node at the mouth and the tip for their halves) and keeps the
laws' integrals over that length. Its motion is followed along the *current* normal n and axis a, mid-step,

    w = int n . dx   (penetration; sliding makes none),     u = int a . dx   (outwards)

    bearing   front: k (w - g) where w > g, at most L(g) = max(limit - fall g, residual); at the limit g grows. Crushed
              ice does not come back. Back: the same with -w. The force acts along n.
    threads   tau = k_t (u - c - e), |tau| <= max(limit - fall worn, 0), d worn = |d e|; along a.
    cone      one body with the threads that moves out by c: T(c) = sum tau <= N max(1 - c / softening, 0), c only
              grows. The threads share its motion, so that none goes on loading after it has come loose; c couples
              all nodes, a term of rank one in the tangent, -b g^T.
    toe       k_toe (-u - e) at the tip where that is positive, at most its limit.
    surface   a node that has come out of the ice bears nothing: all its forces carry chi = 1 - smoothstep(z / h) for
              its height 0 < z < h above the surface, h one element's.

Ice that all sides have let go of leaves the tube free to float: springs of a thousandth of the mean bearing limit per
metre of motion hold it (a ten-millionth of k where that is less). What the springs store, and spend, is kept apart
from the forces, each from its own law: the energy book is a check of the whole, not an identity.

Limits: no drag of ice moved aside, no ice under a tube that is bent flat onto the surface, no friction, no rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .beam import Beam, directions, node_places
from .icelaws import IceLaws
from .solver import SolveError

Array = NDArray[np.float64]
HOLD = 1e-3  # 1/m, of the mean bearing limit
HOLD_MOST = 1e-7  # of the bearing stiffness
ROUND_OFF = 4e-16


@dataclass(frozen=True, slots=True)
class Springs:
    """Laws gathered at the m nodes in the ice, the last m of the beam (N, m).

    k, hold : (m,).  limit, residual, fall : (2, m), front and back.  thread_k, thread_limit, thread_fall : (m,).
    cone, cone_fall : N and N / softening.  fade : h.  depth : (m,) z before loading.
    place : (6 m,) where the nodes' derivatives go in the beam's flat banded matrix.
    """

    k: Array
    hold: Array
    limit: Array
    residual: Array
    fall: Array
    thread_k: Array
    thread_limit: Array
    thread_fall: Array
    cone: float
    cone_fall: float
    toe_k: float
    toe_limit: float
    fade: float
    depth: Array
    angle: float
    place: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class SpringState:
    """Memory at the m nodes: w, u, e, worn (m,), crushed g (2, m), the cone's c, the toe's e [m]."""

    w: Array
    crushed: Array
    u: Array
    slip: Array
    worn: Array
    cone: float
    toe: float


@dataclass(frozen=True, slots=True)
class SpringForces:
    """What `push` gives for m nodes.

    force : (m, 2), as the nodes resist [N].  block : (m, 2, 3), by u_x, u_z, rotation of the same node.
    couple : b (m, 2) and g (m, 3), the tangent's part -b g^T of the cone; None where it does not move.
    share : (m,) chi.  bearing, threads : (m,) before chi, positive against motion along n and a [N].  toe : [N].
    pull : what the threads would carry if the cone stayed where it was [N].
    """

    force: Array
    block: Array
    couple: tuple[Array, Array] | None
    share: Array
    bearing: Array
    threads: Array
    toe: float
    pull: float
    state: SpringState


def integral(s: Array, law: Array, edges: Array) -> Array:
    """Integral of the line through (s, law), its end values beyond, from one edge to the next, (len(edges) - 1,)."""
    at = np.union1d(s, edges)
    values = np.interp(at, s, law)
    running = np.r_[0.0, np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(at))]
    return np.diff(running[np.searchsorted(at, edges)])


def gather(beam: Beam, laws: IceLaws, thread_length: float) -> Springs:
    """Integrate the laws over the nodes' lengths; threads over `thread_length` [m] from the tip, as far as in the ice.

    Raises ValueError where the cone falls faster than the threads' springs unload.
    """
    s = beam.s[beam.s >= 0]
    edges = np.r_[s[0], 0.5 * (s[1:] + s[:-1]), s[-1]]
    k, *sides = (
        integral(laws.s, law, edges)
        for law in (laws.stiffness, laws.front_limit, laws.back_limit, laws.front_residual, laws.back_residual)
    )
    limit, residual = np.array(sides[:2]), np.array(sides[2:])
    threaded = np.diff(np.maximum(edges, s[-1] - thread_length))
    cone_fall = laws.cone_load / laws.cone_softening if np.isfinite(laws.cone_load) else 0.0
    if cone_fall and cone_fall >= laws.thread_stiffness * threaded.sum():
        raise ValueError(f"cone_softening = {laws.cone_softening:g}: cone falls faster than the threads unload")
    return Springs(
        k,
        min(HOLD * float(limit.mean() / k.mean()), HOLD_MOST) * k.mean() * np.diff(edges) / np.diff(edges).mean(),
        limit,
        residual,
        (limit - residual) / laws.softening,
        laws.thread_stiffness * threaded,
        laws.thread_limit * threaded,
        laws.thread_limit * threaded / laws.thread_softening,
        laws.cone_load,
        cone_fall,
        laws.toe_stiffness,
        laws.toe_limit,
        float(beam.length[-1]) * np.cos(beam.angle),
        -s * np.cos(beam.angle),
        beam.angle,
        node_places(len(beam.s))[-len(s) :].ravel(),
    )


def at_rest(springs: Springs) -> SpringState:
    """Memory before loading."""
    m = len(springs.k)
    return SpringState(np.zeros(m), np.zeros((2, m)), np.zeros(m), np.zeros(m), np.zeros(m), 0.0, 0.0)


def _bear(springs: Springs, w: Array, crushed: Array) -> tuple[Array, Array, Array]:
    """Force (m,) along n, its slope by w, and the crushing (2, m) of both sides."""
    k, fall = springs.k, springs.fall
    pushed = np.array([w, -w])
    trial = k * (pushed - crushed)
    gives = trial > bearing_limit(springs, crushed)
    touches = trial > 0
    untouched = ~touches.any(axis=0) & (trial == 0).all(axis=0)  # first touch from either side is as stiff as contact
    if not gives.any():
        force = np.where(touches, trial, 0.0)
        return force[0] - force[1], np.where(touches.any(axis=0) | untouched, k, 0.0), crushed
    falling = (k * pushed - springs.limit) / (k - fall)
    soft = falling * fall < springs.limit - springs.residual
    crushed = np.where(gives, np.where(soft, falling, pushed - springs.residual / k), crushed)
    force = np.maximum(k * (pushed - crushed), 0.0)
    slope = np.where(gives, np.where(soft, -k * fall / (k - fall), 0.0), np.where(touches, k, 0.0))
    return force[0] - force[1], np.where(untouched, k, slope[0] + slope[1]), crushed


def bearing_limit(springs: Springs, crushed: Array) -> Array:
    """Largest bearing (2, m) [N] after crushing (2, m) [m]."""
    return np.maximum(springs.limit - springs.fall * crushed, springs.residual)


def _grip(springs: Springs, v: Array, slip: Array, worn: Array) -> tuple[Array, Array, Array, Array]:
    """Threads' force (m,), its slope by v, new slip and wear, for motions v (m,) against the ice."""
    k, fall = springs.thread_k, springs.thread_fall
    trial = k * (v - slip)
    over = np.abs(trial) - np.maximum(springs.thread_limit - fall * worn, 0.0)
    gives = over > 0
    if not gives.any():
        return trial, k, slip, worn
    free = np.where(k > fall, k - fall, 1.0)
    step = np.where(gives, over / free, 0.0)
    soft = springs.thread_limit - fall * (worn + step) > 0
    step = np.where(soft | ~gives, step, np.abs(trial) / np.where(k > 0, k, 1.0))
    step = np.copysign(step, trial)
    slope = np.where(gives, np.where(soft, -k * fall / free, 0.0), k)
    return k * (v - slip - step), slope, slip + step, worn + np.abs(step)


def _cone_motion(springs: Springs, u: Array, share: Array, old: SpringState, pull: float) -> float:
    """The least motion c of the cone with T(c) = N max(1 - c / softening, 0), where T(c_old) = pull is above that."""
    stretch = (u - old.slip)[springs.thread_k > 0]  # beyond the largest no thread pulls any more
    low, high, c = old.cone, max(float(stretch.max()), old.cone) + 1e-12, old.cone
    over, slope = pull - cone_bears(springs, c), 0.0
    for attempt in range(120):
        c = c + over / slope if slope > 0 and attempt < 40 else 0.5 * (low + high)
        if not low < c <= high:
            c = 0.5 * (low + high)
        force, by_v, _, _ = _grip(springs, u - c, old.slip, old.worn)
        left = cone_bears(springs, c)
        over, slope = float(share @ force) - left, float(share @ by_v) - (springs.cone_fall if left > 0 else 0.0)
        if abs(over) < 1e-12 * springs.cone or high - low <= ROUND_OFF * high:
            return c
        low, high = (c, high) if over > 0 else (low, c)
    raise SolveError("cone: its motion did not come out")


def cone_bears(springs: Springs, c: float) -> float:
    """What the cone bears after a motion c [m], [N]; inf where there is none."""
    return max(springs.cone - springs.cone_fall * c, 0.0)


def push(springs: Springs, q0: Array, q: Array, old: SpringState) -> SpringForces:
    """Forces, derivatives and new memory as the m nodes move from q0 to q, each (m, 3)."""
    a, n = directions(springs.angle + q[:, 2])
    a_mid, n_mid = directions(springs.angle + 0.5 * (q0[:, 2] + q[:, 2]))
    moved = q[:, :2] - q0[:, :2]
    along, across = np.vecdot(moved, a_mid), np.vecdot(moved, n_mid)
    w, u = old.w + across, old.u + along
    t = np.clip((springs.depth + q[:, 1]) / springs.fade, 0.0, 1.0)
    chi, chi_z = 1 - t * t * (3 - 2 * t), -6 * t * (1 - t) / springs.fade
    bearing, k_w, crushed = _bear(springs, w, old.crushed)
    cone = old.cone
    threads, k_u, slip, worn = _grip(springs, u - cone, old.slip, old.worn)
    pull = float(chi @ threads)
    if pull > cone_bears(springs, cone):
        cone = _cone_motion(springs, u, chi, old, pull)
        threads, k_u, slip, worn = _grip(springs, u - cone, old.slip, old.worn)
    toe, k_toe, toe_slip = _stand(springs, float(u[-1]), old.toe)
    axial, k_a = threads.copy(), k_u.copy()
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
        threads,
        toe,
        pull,
        SpringState(w, crushed, u, slip, worn, cone, toe_slip),
    )


def _stand(springs: Springs, u: float, slip: float) -> tuple[float, float, float]:
    """Toe's force [N], its slope, and how far it has crushed its way in, at the tip's motion u."""
    trial = springs.toe_k * (-u - slip)
    if trial <= springs.toe_limit:
        return max(trial, 0.0), springs.toe_k if trial > 0 else 0.0, slip
    return springs.toe_limit, 0.0, -u - springs.toe_limit / springs.toe_k


def _cone_stiffness(springs: Springs, threads: float, cone: float) -> float:
    """d(T - allowed)/d(-c) [N/m]; never less than a billionth of the threads' own."""
    falls = springs.cone_fall if cone_bears(springs, cone) > 0 else 0.0
    return max(threads - falls, 1e-9 * float(springs.thread_k.sum()))


def _energies(springs: Springs, at: SpringForces) -> Array:
    """Energy of bearing and threads at each node as if wholly in the ice, (2, m) [J]."""
    k = springs.thread_k
    grip = np.divide(at.threads**2, k, out=np.zeros_like(k), where=k > 0)
    return 0.5 * np.stack([at.bearing**2 / springs.k, grip])


def stored(springs: Springs, at: SpringForces) -> float:
    """Elastic energy of the ice's springs [J], with what holds a floating tube."""
    held = springs.hold @ (at.state.w**2 + at.state.u**2)
    toe = at.share[-1] * at.toe**2 / springs.toe_k
    return float((_energies(springs, at) @ at.share).sum() + 0.5 * (held + toe))


def spent(springs: Springs, before: SpringForces, after: SpringForces) -> Array:
    """Work lost in one step by crushing (with the toe's), threads and cone (3,) [J], each from its own law.

    A node that leaves the ice leaves behind what its springs had stored.
    """
    old, new = before.state, after.state
    share, left = 0.5 * (before.share + after.share), before.share - after.share
    limits = 0.5 * (bearing_limit(springs, old.crushed) + bearing_limit(springs, new.crushed))
    grips = 0.5 * sum(np.maximum(springs.thread_limit - springs.thread_fall * each.worn, 0.0) for each in (old, new))
    lost = np.zeros(3)
    lost[0] = share @ (limits * (new.crushed - old.crushed)).sum(axis=0)
    lost[0] += springs.toe_limit * (new.toe - old.toe) * share[-1]
    lost[1] = share @ (grips * (new.worn - old.worn))
    lost[2] = 0.5 * (before.share @ before.threads + after.share @ after.threads) * (new.cone - old.cone)
    lost[:2] += 0.5 * (_energies(springs, before) + _energies(springs, after)) @ left
    return lost
