"""A tube that snaps: it moves with its load point held until it is at rest.

    R(q, F) + viscosity (q - q_0) = 0  [N],     U held

The viscous force at the nodes decays as the tube comes to rest. Each stage has an answer if the viscosity is large
enough; the work against it is kept apart. The first viscosity is the least with an answer: more would move the tube
round its load point alone, and crush ice there, before the whole gets under way. A leap is refused (`energies.sound`)
and tried again against more viscosity.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled
from ..errors import SolveError
from .equilibrium import LEAST_FORCE
from .state import LOAD, MOVED, Equilibrium, Parts, TubeModel, motions, unpack
from .steps import Way, course_of, tried

Array = NDArray[np.float64]
SETTLING_STEPS = 400
REST = 1e-6  # of the load, what may be left of the viscous force at a node


class Settling(NamedTuple):
    """A stage that is to be tried. step : of the load point [m].  viscosity : [N/m].  is_first : of a snap.

    speed (m, 3), force [N] : what a viscosity of 1 N/m would move and change.  tries : so far.
    """

    step: float
    viscosity: float
    is_first: bool
    speed: Array
    force: float
    tries: int


@compiled
def settling_from(parts: Parts, at: Array, step: float, viscosity: float) -> Settling:
    """The first stage from a state, its load point drawn on by a step [m]; viscosity : the least [N/m]."""
    return Settling(step, viscosity, True, np.zeros_like(motions(parts, at)), 0.0, 0)


@compiled
def way_of(stage: Settling) -> Way:
    """The way that a stage goes."""
    viscosity = stage.viscosity
    return Way(stage.step, stage.speed / viscosity, stage.force / viscosity, 1.0, viscosity)


@compiled
def stiffer(stage: Settling) -> Settling:
    """The stage to try where one did not come out."""
    by = 10 if stage.is_first else 4
    step, viscosity, is_first, speed, force, tries = stage
    return Settling(step, viscosity * by, is_first, speed, force, tries + 1)


@compiled
def eased(parts: Parts, stage: Settling, old: Array, new: Array) -> Settling:
    """The stage to try after one that led from a state to the next."""
    viscosity = stage.viscosity
    speed, force = viscosity * (motions(parts, new) - motions(parts, old)), viscosity * (new[LOAD] - old[LOAD])
    return Settling(0.0, 0.6 * viscosity, False, speed, force, stage.tries + 1)


@compiled
def is_at_rest(parts: Parts, at: Array) -> bool:
    """Whether hardly any viscous force is left."""
    return np.abs(unpack(parts, at).viscous).max() <= REST * max(abs(at[LOAD]), LEAST_FORCE)


def settle(model: TubeModel, start: Equilibrium, step: float) -> list[Equilibrium]:
    """The stages of a tube that moves until it is at rest, its load point held a small step [m] further on.

    Events are not looked for.  Raises SolveError if it does not come to rest.
    """
    parts, course, at, stages = model.parts, course_of(model), start.flat, []
    stage = settling_from(parts, at, float(step), course.viscosity)
    while stage.tries < SETTLING_STEPS:
        found, new, _ = tried(parts, course, at, way_of(stage), 1.0)
        if not found:
            stage = stiffer(stage)
            continue
        stages.append(unpack(parts, new))
        if is_at_rest(parts, new):
            return stages
        stage, at = eased(parts, stage, at, new), new
    raise SolveError(f"the tube does not come to rest at {at[MOVED] * 1e3:.4g} mm")
