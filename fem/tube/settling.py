"""A tube that snaps: it moves with its load point held until it is at rest.

    R(q, F) + viscosity (q - q_0) = 0  [N],     U held

The viscous force at the nodes decays as the tube comes to rest. Each stage has an answer if the viscosity is large
enough; the work against it is kept apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..solid.solver import SolveError
from .equilibrium import LEAST_FORCE, Equilibrium, TubeModel, Way, find

Array = NDArray[np.float64]
SETTLING_STEPS, LEAST_VISCOSITY = 400, 1e-7  # of the mean bearing stiffness of a node
REST = 1e-6  # of the load, what may be left of the viscous force at a node


def _stage(
    model: TubeModel,
    old: Equilibrium,
    step: float,
    ahead: Array,
    more: float,
    viscosity: float,
    sound: Callable[[Equilibrium, Equilibrium], bool],
    share: float,
) -> Equilibrium | None:
    """A share of a stage of `settle`: against as much more viscosity. None if there is none, or no sound one."""
    new = find(model, old, share * step, old.q + share * ahead, old.load + share * more, viscosity / share)
    return new if new is not None and sound(old, new) else None


def settle(
    model: TubeModel,
    start: Equilibrium,
    step: float,
    sound: Callable[[Equilibrium, Equilibrium], bool],
    to_event: Callable[[Equilibrium, Way], Equilibrium | None] = lambda new, way: new,
) -> Iterator[Equilibrium]:
    """Let the tube move, its load point held a small step [m] past the last state that led on, until it is at rest.

    Every stage is given.
    sound : whether a stage may follow another (a leap is refused and tried again against more viscosity).
    to_event : cuts a stage short if something happens on its way; None if it does not find it.
    The first viscosity is the least with an answer: more would move the tube round its load point alone, and crush ice
    there, before the whole gets under way. Raises SolveError if it does not come to rest.
    """
    old, viscosity = start, LEAST_VISCOSITY * float(model.springs.k.mean())
    speed, force = np.zeros_like(start.q), 0.0  # what a viscosity of 1 N/m would move and change in a stage
    for _ in range(SETTLING_STEPS):
        way = partial(_stage, model, old, step, speed / viscosity, force / viscosity, viscosity, sound)
        new = way(1.0)
        if new is not None:
            new = to_event(new, way)
        if new is None:
            viscosity *= 10 if old is start else 4
            continue
        yield new
        if np.abs(new.viscous).max() <= REST * max(abs(new.load), LEAST_FORCE):
            return
        speed, force = viscosity * (new.q - old.q), viscosity * (new.load - old.load)
        viscosity *= 0.6
        old, step = new, 0.0
    raise SolveError(f"the tube does not come to rest at {old.displacement * 1e3:.4g} mm")
