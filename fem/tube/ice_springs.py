"""The ice's laws gathered at the nodes of the tube, with their memory (`laws.ice_laws`; forces: `tube.ice_forces`).

Each node stands for the tube within half an element and keeps the laws' integrals over that length. Its motion is
followed along the *current* normal n and axis a, mid-step,

    w = int n . dx   (penetration; sliding makes none),     u = int a . dx   (outwards)                 [m]

    bearing   front: k (w - g) if w > g, at most L (1 - D) [N]; at the limit g grows, D with it by (1 - stays) / spall,
              to at most 1 - stays. Crushed ice does not come back. L and stays are those of the angle of the axis.
              Back: the same with -w and that angle's negative, and all stays. The force acts along n. Front is the
              side that the pull presses at the mouth (`geometry.facing`).
    threads   tau = k_t (u - c - e), |tau| <= max(limit - fall worn, 0), d worn = |d e|; along a.
    cone      whole until the loads on the wall demand it (`cone_demand`); then, with N the threads' pull, it moves out
              by c with the threads: T(c) = sum tau <= N max(1 - c / softening, 0), c only grows.
    toe       k_toe (-u - e) at the tip if that is positive, at most its limit.
    floating  a tube that all sides let go of is held by springs of 1e-3 of the mean bearing limit per m, at most 1e-7 k

Limits: no drag of ice moved aside, no ice under a tube that is bent flat onto the surface, no friction, no rate.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..laws.ice_laws import IceLaws
from ..solid.solver import SolveError
from .beam import Beam, node_places

Array = NDArray[np.float64]
Limits = tuple[Array, Array]
HOLD = 1e-3  # 1/m, of the mean bearing limit
HOLD_MOST = 1e-7  # of the bearing stiffness
ROUND_OFF = 4e-16
LEAST_CONE = 1e-3  # N
STEEPEST = 0.9  # fall of a limit, over the stiffness of its springs


@dataclass(frozen=True, slots=True, kw_only=True)
class Springs:
    """Laws gathered at the m nodes in the ice, the last m of the beam (N, m).

    k, hold : (m,).  angles : (a,).  limit, stays : (a, m).  spall [m].  thread_k, thread_limit, thread_fall : (m,).
    alone, fronts, softening : of the cone, N_0, demand by loads (3, m) over N_0, and [m].
    cone, cone_fall : N and N / softening, inf and 0 while whole.
    fade : h.  depth : (m,) z before loading.
    place : (6 m,) where the nodes' derivatives go in the beam's flat banded matrix.
    """

    k: Array
    hold: Array
    angles: Array
    limit: Array
    stays: Array
    spall: float
    thread_k: Array
    thread_limit: Array
    thread_fall: Array
    alone: float
    fronts: Callable[[Array], float] | None
    softening: float
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
    """Memory at the m nodes: w, u, e, worn (m,), crushed g (2, m), the cone's c, the toe's e [m]; gone D (2, m)."""

    w: Array
    crushed: Array
    gone: Array
    u: Array
    slip: Array
    worn: Array
    cone: float
    toe: float


def integral(s: Array, law: Array, edges: Array) -> Array:
    """Integral of the line through (s, law), its end values beyond, from one edge to the next, (len(edges) - 1,)."""
    at = np.union1d(s, edges)
    values = np.interp(at, s, law)
    running = np.r_[0.0, np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(at))]
    return np.diff(running[np.searchsorted(at, edges)])


def gather(beam: Beam, laws: IceLaws, thread_length: float) -> Springs:
    """Integrate the laws over the nodes' lengths; threads over `thread_length` [m] from the tip, if in the ice."""
    s = beam.s[beam.s >= 0]
    edges = np.r_[s[0], 0.5 * (s[1:] + s[:-1]), s[-1]]
    k = integral(laws.s, laws.stiffness, edges)
    limit, loose = (
        np.array([integral(laws.s, law, edges) for law in each]) for each in (laws.limit, laws.limit * laws.stays)
    )
    threaded = np.diff(np.maximum(edges, s[-1] - thread_length))
    hold = min(HOLD * float(limit.mean() / k.mean()), HOLD_MOST) * k.mean()
    thread_fall = np.minimum(laws.thread_limit / laws.thread_softening, STEEPEST * laws.thread_stiffness)
    return Springs(
        k=k,
        hold=hold * np.diff(edges) / np.diff(edges).mean(),
        angles=laws.angles,
        limit=limit,
        stays=np.divide(loose, limit, out=np.ones_like(limit), where=limit > 0),
        spall=laws.spall,
        thread_k=laws.thread_stiffness * threaded,
        thread_limit=laws.thread_limit * threaded,
        thread_fall=thread_fall * threaded,
        alone=laws.cone_load,
        fronts=laws.fronts.demand(s / s[-1]) if laws.fronts else None,
        softening=laws.cone_softening,
        cone=np.inf,
        cone_fall=0.0,
        toe_k=laws.toe_stiffness,
        toe_limit=laws.toe_limit,
        fade=float(beam.length[-1]) * np.cos(beam.angle),
        depth=-s * np.cos(beam.angle),
        angle=beam.angle,
        place=node_places(len(beam.s))[-len(s) :].ravel(),
    )


def at_rest(springs: Springs) -> SpringState:
    """Memory before loading."""
    m = len(springs.k)
    none = np.zeros(m)
    return SpringState(none, np.zeros((2, m)), np.zeros((2, m)), none, none, none, 0.0, 0.0)


def bearing_limit(springs: Springs, turn: Array) -> Limits:
    """L [N] and stays, both (2, m), front and back, at nodes that have turned by `turn` (m,) [rad]."""
    angle = np.array([1.0, -1.0])[:, None] * (springs.angle + turn)
    angles, last, node = springs.angles, len(springs.angles) - 1, np.arange(len(turn))
    low = np.clip(np.searchsorted(angles, angle) - 1, 0, max(last - 1, 0))
    high = np.minimum(low + 1, last)
    share = np.clip((angle - angles[low]) / np.maximum(angles[high] - angles[low], 1e-12), 0.0, 1.0)
    limit = (1 - share) * springs.limit[low, node] + share * springs.limit[high, node]
    stays = (1 - share) * springs.stays[low, node] + share * springs.stays[high, node]
    stays[1] = 1.0
    return limit, stays


@dataclass(frozen=True, slots=True)
class Bearing:
    """Of both sides: force (m,) [N] along n and its slope by w [N/m].

    Crushed [m], gone and limit [N] of the step (2, m).
    """

    force: Array
    slope: Array
    crushed: Array
    gone: Array
    limit: Array


def bear(springs: Springs, limits: Limits, w: Array, old: SpringState) -> Bearing:
    """What the ice on both sides does at penetrations w (m,) [m]; limits : L [N] and stays."""
    k, crushed = springs.k, old.crushed
    whole, stays = limits
    limit, floor = whole * (1 - old.gone), whole * (1 - np.maximum(old.gone, 1 - stays))
    pushed = np.array([w, -w])
    trial = k * (pushed - crushed)
    gives, touches = trial > limit, trial > 0
    untouched = ~touches.any(axis=0) & (trial == 0).all(axis=0)  # first touch from either side is as stiff as contact
    if not gives.any():
        force = np.where(touches, trial, 0.0)
        slope = np.where(touches.any(axis=0) | untouched, k, 0.0)
        return Bearing(force[0] - force[1], slope, crushed, old.gone, limit)
    fall = np.where(limit > floor, np.minimum(whole * (1 - stays) / springs.spall, STEEPEST * k), 0.0)
    more = (trial - limit) / (k - fall)
    soft = fall * more < limit - floor
    left = np.where(gives, np.where(soft, limit - fall * more, floor), limit)
    crushed = crushed + np.where(gives, np.where(soft, more, (trial - floor) / k), 0.0)
    gone = np.where(gives & (whole > 0), 1 - left / np.where(whole > 0, whole, 1.0), old.gone)
    force = np.where(gives, left, np.maximum(trial, 0.0))
    slope = np.where(gives, np.where(soft, -k * fall / (k - fall), 0.0), np.where(touches, k, 0.0))
    slope = np.where(untouched, k, slope[0] + slope[1])
    return Bearing(force[0] - force[1], slope, crushed, gone, 0.5 * (limit + left))


def grip(springs: Springs, v: Array, slip: Array, worn: Array) -> tuple[Array, Array, Array, Array]:
    """Threads' force (m,) [N], its slope by v, new slip and wear, for motions v (m,) [m] against the ice."""
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


def cone_motion(springs: Springs, u: Array, share: Array, old: SpringState, pull: float) -> float:
    """The least motion c [m] of the cone with T(c) = N max(1 - c / softening, 0).

    pull : T(c_old) [N], above what the cone bears at c_old.
    """
    stretch = (u - old.slip)[springs.thread_k > 0]  # beyond the largest no thread pulls any more
    low, high, c = old.cone, max(float(stretch.max()), old.cone) + 1e-12, old.cone
    over, slope = pull - cone_bears(springs, c), 0.0
    for attempt in range(120):
        c = c + over / slope if slope > 0 and attempt < 40 else 0.5 * (low + high)
        if not low < c <= high:
            c = 0.5 * (low + high)
        force, by_v, _, _ = grip(springs, u - c, old.slip, old.worn)
        left = cone_bears(springs, c)
        over, slope = float(share @ force) - left, float(share @ by_v) - (springs.cone_fall if left > 0 else 0.0)
        if abs(over) < 1e-12 * springs.cone or high - low <= ROUND_OFF * high:
            return c
        low, high = (c, high) if over > 0 else (low, c)
    raise SolveError("cone: its motion did not come out")


def cone_demand(springs: Springs, bearing: Array, threads: Array) -> float:
    """How far the loads on the wall (m,) and of the threads (m,) [N] are on their way to the cone: 1, it comes.

    Nothing if the threads do not pull: no cone hangs on them.
    """
    pull = float(threads.sum())
    if pull <= 0 or not np.isfinite(springs.alone):
        return 0.0
    alone = max(springs.alone, LEAST_CONE)
    if springs.fronts is None:
        return pull / alone
    return springs.fronts(np.stack([np.maximum(bearing, 0.0), np.maximum(-bearing, 0.0), threads]) / alone)


def loosened(springs: Springs, load: float) -> Springs:
    """The same with a cone that has come at this pull of the threads [N]; it falls no faster than they can unload."""
    steepest = STEEPEST * float(springs.thread_k.sum())
    return replace(springs, cone=load, cone_fall=min(load / springs.softening, steepest))


def cone_bears(springs: Springs, c: float) -> float:
    """What the cone bears after a motion c [m], [N]; inf if there is none."""
    return max(springs.cone - springs.cone_fall * c, 0.0)


def stand(springs: Springs, u: float, slip: float) -> tuple[float, float, float]:
    """Toe's force [N], its slope, and how far it has crushed its way in, at the tip's motion u."""
    trial = springs.toe_k * (-u - slip)
    if trial <= springs.toe_limit:
        return max(trial, 0.0), springs.toe_k if trial > 0 else 0.0, slip
    return springs.toe_limit, 0.0, -u - springs.toe_limit / springs.toe_k
