"""The ice's laws gathered at the nodes of the tube, with their memory (`laws.ice_laws`; forces: `tube.ice_forces`).

Each node stands for the tube within half an element and keeps the laws' integrals over that length. Its motion is
followed along the *current* normal n and axis a, mid-step,

    w = int n . dx   (penetration; sliding makes none),     u = int a . dx   (outwards)                 [m]

    bearing   front: k (w - g) if w > g, at most L [N]; at the limit g grows. Crushed ice does not come back. L is the
              least of crushing, of what lies under the trench t, and of the next chip (`laws.trench`), by the angle of
              the axis; t grows after each step (`deepened`). Back: the same with -w; chips come there only once the
              sum of what bears above reaches F. The force acts along n. Front: `geometry.facing`.
    friction  along a, k_f (u - r), at most mu times the bearing of the last step; k_f is the threads'.
    threads   tau = k_t (u - c - e), |tau| <= max(limit - fall worn, 0), d worn = |d e|; along a.
    cone      whole until the loads on the wall demand it (`cone_demand`); then, with N the threads' pull, it moves out
              by c with the threads: T(c) = sum tau <= N max(1 - c / softening, 0), c only grows.
    toe       k_toe (-u - e) at the tip if that is positive, at most its limit.
    floating  a tube that all sides let go of is held by springs of 1e-3 of the mean bearing limit per m, at most 1e-7 k

Limits: no drag of ice moved aside, no rate.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..laws.ice_laws import IceLaws
from ..laws.trench import FIRM, Chips
from ..solid.solver import SolveError
from .beam import Beam, node_places

Array = NDArray[np.float64]
HOLD = 1e-3  # 1/m, of the mean bearing limit
HOLD_MOST = 1e-7  # of the bearing stiffness
ROUND_OFF = 4e-16
LEAST_CONE = 1e-3  # N
LARGEST_CHIP = 1e-3  # m, of a step
STEEPEST = 0.9  # fall of a limit, over the stiffness of its springs


@dataclass(frozen=True, slots=True, kw_only=True)
class Springs:
    """Laws gathered at the m nodes in the ice, the last m of the beam (N, m).

    k, hold, crushing : (m,).  toughness : (m,) K_IC [Pa m^0.5].  edges : (m + 1,) of the nodes' lengths along s [m].
    chips : None if none comes.  spall [m].  friction : of steel on ice.
    rub_k, thread_k, thread_limit, thread_fall : (m,).
    alone, fronts, softening : of the cone, N_0, demand by loads (3, m) over N_0, and [m].
    cone, cone_fall : N and N / softening, inf and 0 while whole.
    fade : h.  depth : (m,) z before loading.
    place : (6 m,) where the nodes' derivatives go in the beam's flat banded matrix.
    """

    k: Array
    hold: Array
    crushing: Array
    toughness: Array
    edges: Array
    chips: Chips | None
    spall: float
    friction: float
    rub_k: Array
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
    """Memory at the m nodes: w, u, e, worn (m,), crushed g (2, m), the cone's c, the toe's e [m].

    trench : t [m].  rubbed : (m,) r [m].  bore : (m,) bearing of the last step [N].
    """

    w: Array
    crushed: Array
    trench: float
    u: Array
    slip: Array
    worn: Array
    cone: float
    toe: float
    rubbed: Array
    bore: Array


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
    width = np.diff(edges)
    crushing = integral(laws.s, laws.crushing, edges)
    threaded = np.diff(np.maximum(edges, s[-1] - thread_length))
    hold = min(HOLD * float(crushing.mean() / k.mean()), HOLD_MOST) * k.mean()
    thread_fall = np.minimum(laws.thread_limit / laws.thread_softening, STEEPEST * laws.thread_stiffness)
    return Springs(
        k=k,
        hold=hold * np.diff(edges) / np.diff(edges).mean(),
        crushing=crushing,
        toughness=integral(laws.s, laws.toughness, edges) / width,
        edges=edges,
        chips=laws.chips,
        spall=laws.spall,
        friction=laws.friction,
        rub_k=laws.thread_stiffness * width,
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
    return SpringState(none, np.zeros((2, m)), 0.0, none, none, none, 0.0, 0.0, none, none)


def bearing_limit(springs: Springs, turn: Array, state: SpringState) -> Array:
    """L (2, m) [N], front and back, at nodes turned by `turn` (m,) [rad], over the state's trench."""
    limit = np.stack([springs.crushing * remains(springs, state.trench), springs.crushing])
    if springs.chips is not None:
        chip, _ = springs.chips.next(springs.edges, state.trench, springs.angle + turn)
        limit[0] = np.minimum(limit[0], springs.toughness * chip)
        whole = np.cumsum(springs.toughness * springs.chips.next(springs.edges, 0.0, -springs.angle - turn)[0])
        above = np.r_[0.0, np.cumsum(np.maximum(-state.bore, 0.0))[:-1]]
        limit[1] = np.minimum(limit[1], np.maximum(whole - above, 0.0))
    return limit


def remains(springs: Springs, trench: float) -> Array:
    """Share of each node's length that lies under the trench, (m,)."""
    edges = springs.edges
    return np.clip((edges[1:] - trench) / np.diff(edges), 0.0, 1.0)


def deepened(springs: Springs, turn: Array, old: SpringState, new: SpringState) -> float:
    """The trench [m] after a step in which nodes in front were crushed on, LARGEST_CHIP more at most."""
    trench, edges = old.trench, springs.edges
    moved = new.crushed[0] - old.crushed[0]
    top = int(np.searchsorted(edges[1:], trench + 1e-9, side="right"))
    if springs.chips is None or top >= len(moved) or moved[top] <= 0:
        return trench
    still = np.flatnonzero(moved[top:] <= 0)
    end = top + (int(still[0]) if still.size else len(moved) - top)
    chip, out = springs.chips.next(edges, trench, springs.angle + turn)
    push, crush = (float(each[top:end].sum()) for each in (springs.toughness * chip, springs.crushing))
    crush -= springs.crushing[top] * (trench - edges[top]) / (edges[top + 1] - edges[top])
    leaves = float(out[end - 1]) * min(max(1 - (push / crush - 1) / FIRM, 0.0), 1.0)
    more = (edges[end] - trench) * leaves * moved[top] / springs.spall
    return float(trench + min(more, edges[end] - trench, LARGEST_CHIP))


@dataclass(frozen=True, slots=True)
class Bearing:
    """Of both sides: force (m,) [N] along n and its slope by w [N/m].

    Crushed [m] and limit [N] of the step (2, m).
    """

    force: Array
    slope: Array
    crushed: Array
    limit: Array


def bear(springs: Springs, limit: Array, w: Array, old: SpringState) -> Bearing:
    """What the ice on both sides does at penetrations w (m,) [m]; limit : L (2, m) [N]."""
    k, crushed = springs.k, old.crushed
    trial = k * (np.array([w, -w]) - crushed)
    gives, touches = trial > limit, trial > 0
    untouched = ~touches.any(axis=0) & (trial == 0).all(axis=0)  # first touch from either side is as stiff as contact
    crushed = crushed + np.where(gives, (trial - limit) / k, 0.0)
    force = np.where(gives, limit, np.maximum(trial, 0.0))
    slope = np.where(gives, 0.0, np.where(touches, k, 0.0))
    slope = np.where(untouched, k, slope[0] + slope[1])
    return Bearing(force[0] - force[1], slope, crushed, limit)


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


def rub(springs: Springs, u: Array, old: SpringState) -> tuple[Array, Array, Array]:
    """Friction along the axis (m,) [N], its slope by u, and how far each node has rubbed, at motions u (m,) [m]."""
    most, k = springs.friction * np.abs(old.bore), springs.rub_k
    trial = k * (u - old.rubbed)
    slides = np.abs(trial) > most
    force = np.clip(trial, -most, most)
    rubbed = np.where(slides, u - np.divide(force, k, out=np.zeros_like(k), where=k > 0), old.rubbed)
    return force, np.where(slides, 0.0, k), rubbed


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
