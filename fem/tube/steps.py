"""One step of a pull, compiled: to the state that it leads to, or to the first event on its way.

The next state is guessed from the way that the last step went. A step that Newton's method does not find, that takes
too much ice or misses energy (`tube.energies`) is none. An event is found by false position and bisection on the step
that passes it, to within CLOSE of its measure (`tube.events`), or to within NEAR of a step if the measure jumps there.
If Newton's method comes to no state between, the last state before it is taken and the event sought again from there;
it is never passed over. Measures jump as threads begin to pull on a cone that the walls drive already, and a little as
a part of a front begins to open.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from . import equilibrium
from .energies import booked, is_sound
from .equilibrium import THREADS_COUNT, control, found_at
from .events import CONE, EVENTS, SLING_SLIDES, Stops, stops
from .readings import most_borne
from .state import LOAD, TRENCH, Parts, TubeModel, motions

Array = NDArray[np.float64]
GONE_A_STEP = 5e-4  # m of trench
LOCATING, FALSE_POSITIONS = 60, 18
NEAR = 1e-9  # of a step, within which an event is found whose measure jumps there
CLOSE = np.where(np.array(EVENTS) == CONE, 1e-6, 1e-3)  # of an event, within which it is found: a cone is a peak
SLIDING, CONE_COMES = EVENTS.index(SLING_SLIDES), EVENTS.index(CONE)
LOCATED, JUMP = 0, 1
LEAST_VISCOSITY = 1e-7  # of the mean bearing stiffness of a node


class Course(NamedTuple):
    """How a pull is followed. stops : `events.stops`.  tolerance : of the balance.  bound : no load is larger [N].

    fallen : share of the largest load at which it ends; enough : load at which it does [N].  viscosity : the least
    [N/m].  gone : of ice in a step [m].
    """

    stops: Stops
    tolerance: float
    bound: float
    fallen: float
    enough: float
    viscosity: float
    gone: float
    largest_step: float
    largest_displacement: float


class Way(NamedTuple):
    """From a state on: a step [m]; from there on the guess of q goes by `ahead` (m, 3), the load by `more` [N].

    went : the step [m] that led by so much; 0: none did.  viscosity : [N/m], while settling, for the whole of it; 0: a
    step of the pull.
    """

    step: float
    ahead: Array
    more: float
    went: float
    viscosity: float


def course_of(
    model: TubeModel, largest_step: float = np.inf, largest_displacement: float = np.inf, enough: float = np.inf
) -> Course:
    """That of a tube; [m], enough [N]."""
    bound = most_borne(model.springs, model.shank, model.section)
    given = stops(model), equilibrium.TOLERANCE, bound, float(model.assumed.fallen_share), float(enough)
    viscosity = LEAST_VISCOSITY * float(model.springs.k.mean())
    return Course(*given, viscosity, GONE_A_STEP, float(largest_step), float(largest_displacement))


@within
def ahead(parts: Parts, at: Array, last: Array, step: float) -> Way:
    """A step [m] on from a state, the way that led there from the last."""
    q = motions(parts, at)
    way = q - motions(parts, last)
    went = float(np.vdot(control(parts, q, THREADS_COUNT).ravel(), way.ravel()))
    return Way(step, way, at[LOAD] - last[LOAD], max(went, 0.0), 0.0)


@compiled
def tried(parts: Parts, course: Course, at: Array, way: Way, share: float) -> tuple[bool, Array, Array]:
    """Whether a sound state lies at a share of a way from a state; it, and what the step adds to the energies [J]."""
    step, settles = share * way.step, way.viscosity > 0
    by = share if settles else (step / way.went if way.went > 0 else 0.0)
    guess, load = motions(parts, at) + by * way.ahead, at[LOAD] + by * way.more
    count = 0.0 if settles else THREADS_COUNT
    found, new = found_at(parts, at, step, guess, load, way.viscosity / share, count, course.tolerance)
    if not found:
        return False, at, np.zeros(0)
    if not settles and new[TRENCH] - at[TRENCH] > 4 * course.gone and step > 1e-6:
        return False, at, np.zeros(0)
    moved = booked(parts, at, new)
    return is_sound(moved), new, moved


class Reached(NamedTuple):
    """Where a way leads to: whether there is such a state, it, its measures, what it adds [J]; LOCATED or JUMP."""

    found: bool
    state: Array
    measures: Array
    moved: Array
    how: int


class Search(NamedTuple):
    """For the first event on a way. low, high : shares of the way between which it comes.  before, end : there.

    share : to try next.  tries : so far.  over : whether it is, with what it found as `end`.
    """

    low: float
    high: float
    before: Reached
    end: Reached
    share: float
    tries: int
    over: bool


@compiled
def search_from(at: Array, measures: Array) -> Search:
    """The search that first tries the whole way from a state, with the measures there."""
    none = Reached(False, at, measures, measures, LOCATED)
    return Search(0.0, 1.0, none, none, 1.0, 0, False)


@compiled
def looked(search: Search, seen: NDArray[np.bool_], new: Reached) -> Search:
    """The search after what was tried.  seen : (14,) events that have come.

    It ends at the state just past the first event, or at the way's end if there is none. If no state is found near
    enough to an event, at the last one before it, from which the next step seeks it again; at none if there is none.
    """
    low, high, before, end, share, tries, _ = search
    if not new.found:
        return Search(low, high, before, before, share, tries, True)
    if tries == 0 or _came(new.measures, seen):
        high, end = share, new
    else:
        low, before = share, new
    close, by = _crossing(before.measures, end.measures, seen)
    if close:
        return Search(low, high, before, end, share, tries, True)
    if high - low < NEAR:
        return Search(low, high, before, Reached(True, end.state, end.measures, end.moved, JUMP), share, tries, True)
    if tries == LOCATING:
        return Search(low, high, before, before, share, tries, True)
    if tries >= FALSE_POSITIONS or tries % 3 == 2:
        by = 0.5
    return Search(low, high, before, end, low + (high - low) * min(max(by, 0.02), 0.98), tries + 1, False)


@within
def _crossing(low: Array, high: Array, seen: NDArray[np.bool_]) -> tuple[bool, float]:
    """Whether all events that come between are close by `high`; by false position the share at which the first is."""
    close, share = True, np.inf
    for i in range(len(high)):
        if (not seen[i] or i == SLIDING) and high[i] >= 0 and low[i] < 0:
            close = close and high[i] < CLOSE[i]
            share = min(share, low[i] / (low[i] - high[i]))
    return close, share + 1e-3


@within
def _came(measures: Array, seen: NDArray[np.bool_]) -> bool:
    """Whether an event that had not come has."""
    came = False
    for i in range(len(measures)):
        came = came or (measures[i] >= 0 and (not seen[i] or i == SLIDING))
    return came
