"""The ice's laws gathered at the nodes of the tube, with their memory (`laws.ice_laws`; forces: `tube.ice_forces`).

Each node stands for the tube within half an element and keeps the laws' integrals over that length. Its motion is
followed along the *current* normal n and axis a, mid-step,

    w = int n . dx   (penetration; sliding makes none),     u = int a . dx   (outwards)                 [m]

    bearing   front: k (w - g) if w > g, at most L [N]; at the limit g grows. Crushed ice does not come back. L is the
              least of crushing, of what lies under the trench t, and of the next chip (`laws.trench`), by the angle of
              the axis; t grows after each step (`deepened`). Back: the same with -w; chips come there only once the
              sum of what bears above reaches F. The force acts along n. Front: `geometry.placement.facing`.
    friction  along a, k_f (u - r), at most mu times the bearing of the last step; k_f is the threads'.
    threads   tau = k_t (u - c - e), |tau| <= max(limit - fall worn, 0), d worn = |d e|; along a.
    cone      whole until the loads on the wall demand it (`cone_fronts`); then, with N the threads' pull, it moves out
              by c with the threads: T(c) = sum tau <= N max(1 - c / softening, 0), c only grows.
    toe       k_toe (-u - e) at the tip if that is positive, at most its limit.
    floating  a tube that all sides let go of is held by springs of 1e-3 of the mean bearing limit per m, at most 1e-7 k

Limits: no drag of ice moved aside, no rate.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from ..errors import SolveError
from ..laws.ice_laws import IceLaws
from ..laws.trench import FIRM, NO_CHIPS, ChipTable, next_chips
from .beam import Beam
from .cone_fronts import FrontTable, front_table

Array = NDArray[np.float64]
HOLD = 1e-3  # 1/m, of the mean bearing limit
HOLD_MOST = 1e-7  # of the bearing stiffness
ROUND_OFF = 4e-16
LARGEST_CHIP = 1e-3  # m, of a step
STEEPEST = 0.9  # fall of a limit, over the stiffness of its springs


class Springs(NamedTuple):
    """Laws gathered at the m nodes in the ice, the last m of the beam (N, m).

    k, hold, crushing : (m,).  toughness : (m,) K_IC [Pa m^0.5].  edges : (m + 1,) of the nodes' lengths along s [m].
    chips : without angles if none comes.  spall [m].  friction : of steel on ice.
    rub_k, thread_k, thread_limit, thread_fall : (m,).
    alone, fronts, softening : of the cone, N_0, demand by loads over N_0, and [m].
    steepest : the most that N / softening counts [N/m].  cone, cone_fall : N and N / softening, inf and 0 while whole.
    fade : h.  depth : (m,) z before loading.
    """

    k: Array
    hold: Array
    crushing: Array
    toughness: Array
    edges: Array
    chips: ChipTable
    spall: float
    friction: float
    rub_k: Array
    thread_k: Array
    thread_limit: Array
    thread_fall: Array
    alone: float
    fronts: FrontTable
    softening: float
    toe_k: float
    toe_limit: float
    fade: float
    depth: Array
    angle: float
    steepest: float
    cone: float
    cone_fall: float


class SpringState(NamedTuple):
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
        chips=NO_CHIPS if laws.chips is None else laws.chips.table,
        spall=float(laws.spall),
        friction=float(laws.friction),
        rub_k=laws.thread_stiffness * width,
        thread_k=laws.thread_stiffness * threaded,
        thread_limit=laws.thread_limit * threaded,
        thread_fall=thread_fall * threaded,
        alone=float(laws.cone_load),
        fronts=front_table(laws.fronts, s / s[-1]),
        softening=float(laws.cone_softening),
        toe_k=float(laws.toe_stiffness),
        toe_limit=float(laws.toe_limit),
        fade=float(beam.length[-1] * np.cos(beam.angle)),
        depth=-s * np.cos(beam.angle),
        angle=beam.angle,
        steepest=STEEPEST * float((laws.thread_stiffness * threaded).sum()),
        cone=np.inf,
        cone_fall=0.0,
    )


def at_rest(springs: Springs) -> SpringState:
    """Memory before loading."""
    m = len(springs.k)
    none = np.zeros(m)
    return SpringState(none, np.zeros((2, m)), 0.0, none, none, none, 0.0, 0.0, none, none)


@compiled
def bearing_limit(springs: Springs, turn: Array, state: SpringState) -> Array:
    """L (2, m) [N], front and back, at nodes turned by `turn` (m,) [rad], over the state's trench."""
    lean = springs.angle + turn
    return bounded(springs.chips, springs.crushing, springs.toughness, springs.edges, lean, state.trench, state.bore)


@within
def bounded(
    chips: ChipTable, crushing: Array, toughness: Array, edges: Array, lean: Array, trench: float, bore: Array
) -> Array:
    """`bearing_limit` of nodes whose axis leans by `lean` (m,) [rad]."""
    m = len(lean)
    limit = np.empty((2, m))
    for i in range(m):  # only what lies under the trench bears
        limit[0, i] = crushing[i] * min(max((edges[i + 1] - trench) / (edges[i + 1] - edges[i]), 0.0), 1.0)
        limit[1, i] = crushing[i]
    if len(chips.angles) > 0:
        front, _ = next_chips(chips, edges, trench, lean)
        back, _ = next_chips(chips, edges, 0.0, -lean)
        whole, above = 0.0, 0.0
        for i in range(m):
            limit[0, i] = min(limit[0, i], toughness[i] * front[i])
            whole += toughness[i] * back[i]
            limit[1, i] = min(limit[1, i], max(whole - above, 0.0))
            above += max(-bore[i], 0.0)
    return limit


@compiled
def deepened(springs: Springs, turn: Array, old: SpringState, new: SpringState) -> float:
    """The trench [m] after a step in which nodes in front were crushed on, LARGEST_CHIP more at most."""
    trench, edges, chips, crushing, m = old.trench, springs.edges, springs.chips, springs.crushing, len(turn)
    toughness, moved = springs.toughness, new.crushed[0] - old.crushed[0]
    top = np.searchsorted(edges[1:], trench + 1e-9, side="right")
    if len(chips.angles) == 0 or top >= m or moved[top] <= 0:
        return trench
    chip, out = next_chips(chips, edges, trench, springs.angle + turn)
    end, push, crush = top, 0.0, 0.0
    while end < m and moved[end] > 0:
        push += toughness[end] * chip[end]
        crush += crushing[end]
        end += 1
    crush -= crushing[top] * (trench - edges[top]) / (edges[top + 1] - edges[top])
    leaves = out[end - 1] * min(max(1 - (push / crush - 1) / FIRM, 0.0), 1.0)
    more = (edges[end] - trench) * leaves * moved[top] / springs.spall
    return trench + min(more, edges[end] - trench, LARGEST_CHIP)


class Bearing(NamedTuple):
    """Of both sides: force (m,) [N] along n and its slope by w [N/m].

    Crushed [m] and limit [N] of the step (2, m).
    """

    force: Array
    slope: Array
    crushed: Array
    limit: Array


@compiled
def bear(springs: Springs, limit: Array, w: Array, old: SpringState) -> Bearing:
    """What the ice on both sides does at penetrations w (m,) [m]; limit : L (2, m) [N]."""
    ks, before = springs.k, old.crushed
    force, slope, crushed = np.zeros(len(w)), np.zeros(len(w)), before.copy()
    for i in range(len(w)):
        k, rests = ks[i], True
        for side in range(2):
            sign = 1.0 - 2.0 * side
            trial = k * (sign * w[i] - before[side, i])
            if trial > limit[side, i]:
                crushed[side, i] += (trial - limit[side, i]) / k
                force[i] += sign * limit[side, i]
            elif trial > 0:
                force[i] += sign * trial
                slope[i] += k
            rests = rests and trial == 0
        if rests:  # first touch from either side is as stiff as contact
            slope[i] = k
    return Bearing(force, slope, crushed, limit)


@within
def grip(
    ks: Array, falls: Array, limits: Array, v: Array, slip: Array, worn: Array
) -> tuple[Array, Array, Array, Array]:
    """Threads' force (m,) [N], its slope by v, new slip and wear, for motions v (m,) [m] against the ice."""
    force, slope, slip, worn = np.empty(len(v)), np.empty(len(v)), slip.copy(), worn.copy()
    for i in range(len(v)):
        k, fall, limit = ks[i], falls[i], limits[i]
        trial = k * (v[i] - slip[i])
        over = abs(trial) - max(limit - fall * worn[i], 0.0)
        force[i], slope[i] = trial, k
        if over > 0:
            free = k - fall if k > fall else 1.0
            step, slope[i] = over / free, -k * fall / free
            if limit - fall * (worn[i] + step) <= 0:
                step, slope[i] = abs(trial) / (k if k > 0 else 1.0), 0.0
            step = np.copysign(step, trial)
            force[i] = k * (v[i] - slip[i] - step)
            slip[i] += step
            worn[i] += abs(step)
    return force, slope, slip, worn


@within
def rub(friction: float, ks: Array, u: Array, before: Array, bore: Array) -> tuple[Array, Array, Array]:
    """Friction along the axis (m,) [N], its slope by u, and how far each node has rubbed, at motions u (m,) [m]."""
    force, slope, rubbed = np.empty(len(u)), ks.copy(), before.copy()
    for i in range(len(u)):
        most, k = friction * abs(bore[i]), ks[i]
        force[i] = k * (u[i] - before[i])
        if abs(force[i]) > most:
            force[i], slope[i] = np.copysign(most, force[i]), 0.0
            rubbed[i] = u[i] - (force[i] / k if k > 0 else 0.0)
    return force, slope, rubbed


@within
def cone_motion(springs: Springs, u: Array, share: Array, old: SpringState, pull: float) -> float:
    """The least motion c [m] of the cone with T(c) = N max(1 - c / softening, 0).

    pull : T(c_old) [N], above what the cone bears at c_old.
    """
    k, fall, limit, slip, worn = springs.thread_k, springs.thread_fall, springs.thread_limit, old.slip, old.worn
    bears, falls = springs.cone, springs.cone_fall
    low, high, c = old.cone, old.cone, old.cone  # beyond the largest stretch no thread pulls any more
    for i in range(len(u)):
        if k[i] > 0:
            high = max(high, u[i] - slip[i])
    high += 1e-12
    over, slope = pull - max(bears - falls * c, 0.0), 0.0
    for attempt in range(120):
        c = c + over / slope if slope > 0 and attempt < 40 else 0.5 * (low + high)
        if not low < c <= high:
            c = 0.5 * (low + high)
        force, by_v, _, _ = grip(k, fall, limit, u - c, slip, worn)
        left = max(bears - falls * c, 0.0)
        over, slope = -left, -falls if left > 0 else 0.0
        for i in range(len(u)):
            over += share[i] * force[i]
            slope += share[i] * by_v[i]
        if abs(over) < 1e-12 * bears or high - low <= ROUND_OFF * high:
            return c
        if over > 0:
            low = c
        else:
            high = c
    raise SolveError("cone: its motion did not come out")


@compiled
def loosened(springs: Springs, load: float) -> Springs:
    """The same with a cone that has come at this pull of the threads [N]; it falls no faster than they can unload."""
    return Springs(*springs[:-2], load, min(load / springs.softening, springs.steepest))


def cone_bears(springs: Springs, c: float) -> float:
    """What the cone bears after a motion c [m], [N]; inf if there is none."""
    return max(springs.cone - springs.cone_fall * c, 0.0)


@within
def stand(k: float, limit: float, u: float, slip: float) -> tuple[float, float, float]:
    """Toe's force [N], its slope, and how far it has crushed its way in, at the tip's motion u."""
    trial = k * (-u - slip)
    if trial <= limit:
        return max(trial, 0.0), k if trial > 0 else 0.0, slip
    return limit, 0.0, -u - limit / k
