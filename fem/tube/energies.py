"""The energy book of a pull: what one step adds to each energy, from its own law, and whether a step is sound.

    work      of the rope's end, 1/2 (F_0 + F_1) dU          elastic   of tube and ice
    plastic, crushing (with the toe's), threads, cone, friction        spent on each
    viscous   against motion, while settling                 sling     rubbed off by one that slides (`tube.sling`)

All in J. A step in which energy comes from or goes to nowhere is a leap to a state that does not follow.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from .cross_section import spent_in_fibres, stored_in_fibres
from .ice_forces import spent_in_ice, stored_in_ice
from .shank import shank_spent, shank_stored
from .state import Equilibrium, Parts, TubeModel, unpack

Array = NDArray[np.float64]
LEAP = 0.03  # largest imbalance of one step, over the energies that it moves
LEAST_ENERGY = 1e-7  # J, below which it is not looked at
ENERGIES = ("work", "elastic", "plastic", "crushing", "threads", "cone", "friction", "viscous", "sling")


def book(model: TubeModel, old: Equilibrium, new: Equilibrium) -> Array:
    """What one step adds to the energies, in the order of ENERGIES [J]."""
    return booked(model.parts, old.flat, new.flat)


def sound(model: TubeModel, old: Equilibrium, new: Equilibrium) -> bool:
    """Whether one state can follow the other: no energy comes from or goes to nowhere, as it does in a leap."""
    return bool(is_sound(book(model, old, new)))


@compiled
def is_sound(moved: Array) -> bool:
    """`sound`, by what the step adds (9,) [J]."""
    off, whole = moved[0], abs(moved[0])
    for i in range(1, len(moved)):
        off -= moved[i]
        whole += abs(moved[i])
    return abs(off) <= LEAP * whole + LEAST_ENERGY


@compiled
def booked(parts: Parts, before: Array, after: Array) -> Array:
    """`book`, of the arrays of both."""
    old, new = unpack(parts, before), unpack(parts, after)
    length, section, springs, shank = parts.beam.length, parts.section, parts.springs, parts.shank
    flow, found = (old.beam.section.plastic, new.beam.section.plastic), np.zeros(len(ENERGIES))
    found[0] = 0.5 * (old.load + new.load) * (new.displacement - old.displacement)
    found[1] = _stored(parts, new) - _stored(parts, old)
    found[2] = (length * spent_in_fibres(section, *flow)).sum()
    spent = spent_in_ice(springs, old.ice, new.ice)
    for i in range(len(spent)):
        found[3 + i] = spent[i]
    found[3] += shank_spent(shank, old.shank, new.shank)
    found[7] = 0.5 * ((old.viscous + new.viscous) * (new.q - old.q)[:, :2]).sum()
    found[8] = _rubbed(parts, old, new)
    return found


@within
def _stored(parts: Parts, at: Equilibrium) -> float:
    """Elastic energy of tube and ice [J]."""
    strain, stiff = at.beam.strain, parts.section.shear_stiffness
    fibres = stored_in_fibres(parts.section, strain[0], strain[2], at.beam.section.plastic)
    stored = stored_in_ice(parts.springs, at.ice) + shank_stored(parts.shank, at.shank)
    return stored + (parts.beam.length * (fibres + 0.5 * stiff * strain[1] ** 2)).sum()


@within
def _rubbed(parts: Parts, old: Equilibrium, new: Equilibrium) -> float:
    """Work on the slide of a sling from one state to the next [J]; 0 where it stays."""
    start, end = old.held, new.held
    if start == end:
        return 0.0
    return 0.5 * (old.load * _way(parts, new.q, start, end) + new.load * _way(parts, old.q, start, end))


@within
def _way(parts: Parts, q: Array, start: int, end: int) -> float:
    """Part along the rope of the way from one node to another as the tube lies in q [m]."""
    beam, pull, slid = parts.beam, parts.pull, parts.beam.s[start] - parts.beam.s[end]
    x = slid * np.sin(beam.angle) + q[end, 0] - q[start, 0]
    z = slid * np.cos(beam.angle) + q[end, 1] - q[start, 1]
    return pull[0] * x + pull[1] * z
