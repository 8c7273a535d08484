"""A pull, compiled: step by step until it ends, or a sling slides.

The load point goes on from a micrometre a step to the largest step, as fast as the tube turns and ice goes. The step
shrinks if none is found (`tube.steps`); if even a tiny one is not, the tube snaps and settles (`tube.settling`); where
the cone comes it settles on without it. Each way, of a step or of a stage, goes to the first event on it.

All is one loop with one solve in it: a compiled function costs compiling all that it calls once more.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from .events import DEEP, EVENTS, OUT, STRAIN_LIMIT, measured
from .ice_springs import loosened
from .settling import SETTLING_STEPS, Settling, eased, is_at_rest, settling_from, stiffer, way_of
from .state import ITERATIONS, LOAD, MOVED, PULL, TRENCH, Parts, motions, unpack
from .steps import CONE_COMES, LOCATED, SLIDING, Course, Reached, ahead, looked, search_from, tried

Array = NDArray[np.float64]
FIRST_STEP, LEAST_STEP, WIDEN, EASY = 1e-6, 1e-7, 1.6, 6  # m, m, -, iterations
TURN_A_STEP = 0.05  # rad
SLID = 1e-3  # m, motion of the tip outwards with the load point held: the tube does not come to rest any more
MOST_SNAPS = 300  # after so many it is not followed: it snaps from kink to kink of the springs
ON, SLIDE, END, OUTWARDS, NO_REST, TOO_MUCH = range(6)  # why a march ends
FINE, LOOSE, ENDS, REFUSED = range(4)  # a state: nothing, the cone comes, the pull ends, more than can be borne
ENDING = np.array([name in (STRAIN_LIMIT, OUT, DEEP) for name in EVENTS])
Marks = list[tuple[int, int, float, int]]  # state, event, how far past it, LOCATED or JUMP


class Marched(NamedTuple):
    """What a march comes to. states : its first is the one from which it began; moved : what each adds [J].

    marks : events that came.  last : the state before.  step : to try next [m].  snaps : so far.  why : ON, SLIDE, ..
    load : the last found, refused where it is TOO_MUCH [N].
    """

    states: list[Array]
    moved: list[Array]
    marks: Marks
    last: Array
    step: float
    snaps: int
    why: int
    load: float


@compiled
def march(
    parts: Parts,
    course: Course,
    start: Array,
    last: Array,
    seen: NDArray[np.bool_],
    largest: float,
    step: float,
    snaps: int,
    most: int,
) -> Marched:
    """Go on from a state until the pull ends, a sling slides, or there are so many states.

    last : the state before.  seen : (14,) events so far.  largest : load so far [N].  step : to try first [m].
    """
    states, moved, marks, at = [start], [np.zeros(0)], [(0, 0, 0.0, LOCATED)], start
    why, load = ON, 0.0
    marks.clear()
    measures, snapped, stage = measured(parts, course.stops, start), False, settling_from(parts, start, 0.0, 1.0)
    whole, before, search, way = start, start, search_from(start, measures), ahead(parts, start, last, step)
    while why == ON and len(states) < most:
        found, state, adds = tried(parts, course, at, way, search.share)
        passes = measured(parts, course.stops, state) if found else measures
        whole = state if search.tries == 0 else whole
        search = looked(search, seen, Reached(found, state, passes, adds, LOCATED))
        if not search.over:
            continue
        new, how = search.end, FINE
        if new.found:
            how, load = _keep(course, (states, moved, marks), seen, new, largest), new.state[LOAD]
            measures, largest = new.measures, max(largest, load)
            if how == LOOSE:
                parts = _without_cone(parts, new.state)
        if snapped:
            stage, snapped, why = _after_stage(parts, course, stage, before, at, new, how)
            if not snapped:
                last, step, snaps = before, min(FIRST_STEP, course.largest_step), snaps + 1
        elif new.found:
            last, step = at, min(_following(parts, course, at, whole, step), course.largest_step)
            why = TOO_MUCH if how == REFUSED else SLIDE if measures[SLIDING] > 0 else END if how == ENDS else ON
        else:
            step *= 0.2
            if step < LEAST_STEP:
                snapped, before, stage = True, at, settling_from(parts, at, FIRST_STEP, course.viscosity)
        at = states[-1]
        done = at[MOVED] >= course.largest_displacement or snaps > MOST_SNAPS or at[LOAD] > course.enough
        if why == ON and not snapped and done:
            why = END
        search, way = search_from(at, measures), way_of(stage) if snapped else ahead(parts, at, last, step)
    return Marched(states, moved, marks, last, step, snaps, why, load)


@within
def _keep(
    course: Course, log: tuple[list[Array], list[Array], Marks], seen: NDArray[np.bool_], new: Reached, largest: float
) -> int:
    """Add a state and the events that come with it; FINE, LOOSE, ENDS or REFUSED, and then it is not added."""
    states, moved, marks = log
    load, how = new.state[LOAD], FINE
    if load > largest and load > course.bound:
        return REFUSED
    for i in range(len(seen)):
        if new.measures[i] >= 0 and not seen[i]:
            marks.append((len(states), i, new.measures[i], new.how))
            seen[i] = True
            how = max(how, ENDS if ENDING[i] else LOOSE if i == CONE_COMES else FINE)
    states.append(new.state)
    moved.append(new.moved)
    return ENDS if load < course.fallen * max(largest, load) else how


@within
def _after_stage(
    parts: Parts, course: Course, stage: Settling, before: Array, at: Array, new: Reached, how: int
) -> tuple[Settling, bool, int]:
    """What comes after a stage: the next one, whether the tube still settles, and why the march ends.

    before : the state at which it snapped.  at : that from which the stage went.
    """
    if how == ENDS:
        return stage, False, END
    if how == LOOSE:
        return settling_from(parts, new.state, 0.0, course.viscosity), True, ON
    if new.found and how == FINE:
        if is_at_rest(parts, new.state):
            return stage, False, ON
        stage, at = eased(parts, stage, at, new.state), new.state
    else:
        stage = stiffer(stage)
    if stage.tries < SETTLING_STEPS and how != REFUSED:
        return stage, True, ON
    out = unpack(parts, at).ice.state.u[-1] - unpack(parts, before).ice.state.u[-1]
    return stage, False, OUTWARDS if at[LOAD] <= before[LOAD] and out >= SLID else NO_REST


@within
def _following(parts: Parts, course: Course, at: Array, whole: Array, step: float) -> float:
    """The step to try after one that would have led to `whole` [m]."""
    turn = np.abs(motions(parts, whole)[:, 2] - motions(parts, at)[:, 2]).max()
    gone, widen = whole[TRENCH] - at[TRENCH], WIDEN if whole[ITERATIONS] <= EASY else 1.0
    return step * min(widen, TURN_A_STEP / max(turn, 1e-9), course.gone / max(gone, 1e-9))


@within
def _without_cone(parts: Parts, at: Array) -> Parts:
    """The tube in ice whose cone has come at a state."""
    beam, section, springs, shank, pull, gripped, held, tied = parts
    return Parts(beam, section, loosened(springs, at[PULL]), shank, pull, gripped, held, tied)
