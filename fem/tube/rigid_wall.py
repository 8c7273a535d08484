"""A rigid stub of tube pushed sideways through the ice: the law of the wall on its own, no tube that bends or turns.

The stub reaches d into the ice at the angle psi and moves by U square to its axis, every piece of it alike:

    P(U) = sum p_i(U),    p_i = min(k_i (U - g_i), L_i)        front alone                               [N]

with the limits L and the trench t of `laws.trench`, on the springs of the pull (`tube.ice_springs`), step by step. What
comes out of first and next chip is read from the same table: a face rises by

    b(t) + a(psi + b(t))    against the surface, b = 0 for the first chip                                [rad]

Limit: a real tube turns and bends, and presses in front on the part that this makes; it has no stub's even motion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..laws.ice_laws import IceLaws
from ..laws.trench import Chips
from .beam import make_beam
from .ice_springs import LARGEST_CHIP, Springs, at_rest, bear, bearing_limit, deepened, gather

Array = NDArray[np.float64]
ELEMENT, FIRST_STEP, WIDEN = 1e-3, 1e-6, 1.2  # m, m, -


@dataclass(frozen=True, slots=True)
class RigidPush:
    """angle [rad]; reach d [m].  motion : (n,) U [m].  force : (n,) P [N].  trench : (n,) t [m]."""

    angle: float
    reach: float
    motion: Array
    force: Array
    trench: Array

    def at(self, motion: float) -> tuple[float, float]:
        """P [N] and t [m] at a motion [m]."""
        force, trench = (float(np.interp(motion, self.motion, of)) for of in (self.force, self.trench))
        return force, trench


def push_rigid_wall(laws: IceLaws, angle: float, reach: float, furthest: float) -> RigidPush:
    """Push a stub that reaches `reach` [m] into the ice at an angle [rad] by `furthest` [m].

    Raises ValueError if a length is not positive.
    """
    if not (reach > 0 and furthest > 0):
        raise ValueError(f"reach, furthest = {reach:g}, {furthest:g}: must be positive")
    beam = make_beam(np.linspace(0.0, reach, max(round(reach / ELEMENT), 2) + 1), angle)
    springs = gather(beam, laws, 0.0)
    largest = 0.5 * LARGEST_CHIP * laws.spall / reach  # as much ice goes in a step
    found, state, step = [(0.0, 0.0, 0.0)], at_rest(springs), FIRST_STEP
    turn = np.zeros(len(springs.k))
    while (moved := found[-1][0]) < furthest:
        motion = min(moved + step, furthest)
        limit = bearing_limit(springs, turn, state)
        borne = bear(springs, limit, np.full(len(turn), motion), state)
        new = state._replace(crushed=borne.crushed, bore=borne.force)
        state = new._replace(trench=deepened(springs, turn, state, new))
        found.append((motion, float(borne.force.sum()), state.trench))
        step = min(WIDEN * step, largest)
    return RigidPush(angle, reach, *np.array(found).T)


def crushing_total(laws: IceLaws, angle: float, reach: float) -> float:
    """What the stub would need if no chip came: all of it at crushing [N]; angle [rad], reach [m]."""
    springs: Springs = gather(make_beam(np.array([0.0, reach]), angle), laws, 0.0)
    return float(springs.crushing.sum())


def faces(chips: Chips, angle: float, reach: float, trench: float) -> tuple[float, float]:
    """Rise b of the trench's floor, and of the face of the next chip, against the surface [rad]; lengths [m]."""
    floor = float(chips.floor(np.array([reach]), trench, np.array([angle]))[0])
    return floor, floor + float(chips.rises(np.array(angle + floor - chips.shift)))
