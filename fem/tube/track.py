"""What a pull gathers on its way: states, energies, events, the largest load up to a stop; and where events lie.

An event is found by false position and bisection on the step that passes it, to within CLOSE of its measure
(`tube.events`), or to within NEAR of a step if the measure jumps there. If Newton's method comes to no state between,
the last state before it is taken and the event sought again from there; it is never passed over. How far past an event
its state lies is kept with it (`Event.overshoot`). Measures jump as a sling hops from node to node, as threads begin to
pull on a cone that the walls drive already, and a little as a part of a front begins to open.

Energies [J] are each from their own law: work of the rope's end, elastic energy of tube and ice, work on plastic
strain, on crushing (with the toe's), on threads, on the cone, against viscosity, and rubbed off by a sling that slides.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from ..solid.solver import SolveError
from .beam import BeamForces
from .cross_section import spent_in_fibres, stored_in_fibres
from .equilibrium import Equilibrium, Parts, TubeModel, Way
from .events import CONE, DEEP, EVENTS, HEAD_TURNED, STOPS, STRAIN_LIMIT, Event, Found, measures, snapshot
from .ice_forces import SpringForces, spent_in_ice, stored_in_ice
from .ice_springs import loosened
from .modes import SLING_SLIDES
from .readings import refusal
from .shank import ShankForces, shank_spent, shank_stored
from .sling import rubbed

Array = NDArray[np.float64]
LEAP = 0.03  # largest imbalance of one step, over the energies that it moves
LEAST_ENERGY = 1e-7  # J, below which it is not looked at
SLIDES, LOST, BREAKS = "slides out", "it snaps, and is not followed", "strain limit of the metal"
OUT, FALLEN = "out of the ice", "load below {:g} of the largest"
LOCATING, FALSE_POSITIONS = 60, 18
NEAR = 1e-9  # of a step, within which an event is found whose measure jumps there
DECIDES, PASSED = (CONE, STRAIN_LIMIT, HEAD_TURNED), 0.05  # of them, what may be passed in a hop of the sling
CLOSE = np.where(np.array(EVENTS) == CONE, 1e-6, 1e-3)  # of an event, within which it is found: a cone is a peak
ENERGIES = ("work", "elastic", "plastic", "crushing", "threads", "cone", "friction", "viscous", "sling")


@dataclass
class Track:
    """What a pull gathers on its way."""

    model: TubeModel
    last: Equilibrium
    states: list[Equilibrium]
    energies: list[Array]
    events: list[Event] = field(default_factory=list)
    peak: Equilibrium | None = None
    stop: str = ""
    counted: int = 1
    largest: float = 0.0
    settled: int = 0
    left: str = ""
    found: Found = "located"

    @property
    def ended(self) -> str:
        """Why the pull ends here; empty if it goes on."""
        if STRAIN_LIMIT in self.seen:
            return BREAKS
        if ended := {OUT, DEEP} & self.seen:
            return ended.pop()
        if self.left:
            return self.left
        share = self.model.assumed.fallen_share
        return FALLEN.format(share) if self.states[-1].load < share * self.largest else ""

    @property
    def seen(self) -> set[str]:
        """Names of the events so far."""
        return {event.name for event in self.events}

    def keep(self, new: Equilibrium) -> None:
        """Add a state with its energies and events, and hold the peak up to a stop.

        Raises SolveError for a load beyond what tube or ice can bear (`tube.readings`), and if an event that decides
        was passed by more than PASSED as a sling hopped.
        """
        if new.load > self.largest and (
            why := refusal(new.load, self.model.springs, self.model.shank, self.model.section)
        ):
            raise SolveError(why)
        self.energies.append(self.energies[-1] + book(self.model, self.states[-1], new))
        self.states.append(new)
        self.largest = max(self.largest, new.load)
        seen = self.seen
        past = zip(EVENTS, measures(self.model, new).tolist(), strict=True)
        came = {name: g for name, g in past if g >= 0 and name not in seen}
        self.events += [snapshot(self.model, new, name, g, self.found) for name, g in came.items()]
        for name in DECIDES:
            if self.found == "hop" and came.get(name, 0.0) > PASSED:
                raise SolveError(f"{name}: passed by {came[name]:.1e} in a hop of the sling, allowed {PASSED:g}")
        self.found = "located"
        if CONE in came:
            self.model = replace(self.model, springs=loosened(self.model.springs, new.ice.pull))
        if not self.stop:
            self.counted = len(self.states)
            if self.peak is None or new.load > self.peak.load:
                self.peak = new
        self.stop = self.stop or next((name for name in STOPS if name in came), "")


def sound(model: TubeModel, old: Equilibrium, new: Equilibrium) -> bool:
    """Whether one state can follow the other: no energy comes from or goes to nowhere, as it does in a leap."""
    moved = book(model, old, new)
    return bool(abs(moved[0] - moved[1:].sum()) <= LEAP * np.abs(moved).sum() + LEAST_ENERGY)


def to_event(track: Track, new: Equilibrium, way: Way) -> Equilibrium | None:
    """The state just past the first event on the way to `new`, or `new` if there is none.

    If no state is found near enough to it, the last one before it, from which the next step seeks it again; None if
    there is none before it either.
    """
    unseen = np.array([name not in track.seen or name == SLING_SLIDES for name in EVENTS])
    low, high, before = 0.0, 1.0, None
    g_low, g_high = (np.where(unseen, measures(track.model, each), -1.0) for each in (track.states[-1], new))
    for attempt in range(LOCATING):
        crossing = (g_high >= 0) & (g_low < 0)
        if np.all(g_high[crossing] < CLOSE[crossing]):
            return new
        if high - low < NEAR:
            track.found = "jump"
            return new
        share = 0.5
        if attempt < FALSE_POSITIONS and attempt % 3 < 2:
            share = float((g_low[crossing] / (g_low - g_high)[crossing]).min()) + 1e-3
        middle = low + (high - low) * min(max(share, 0.02), 0.98)
        tried = way(middle)
        if tried is None:
            return before
        g = np.where(unseen, measures(track.model, tried), -1.0)
        if (g >= 0).any():
            high, g_high, new = middle, g, tried
        else:
            low, g_low, before = middle, g, tried
    return before


@lru_cache(maxsize=2)
def book(model: TubeModel, old: Equilibrium, new: Equilibrium) -> Array:
    """What one step adds to the energies, in the order of ENERGIES [J]."""
    before, after = (Booked(at.q, at.viscous, at.beam, at.ice, at.shank) for at in (old, new))
    found = _booked(model.parts, before, after)
    found[0] = 0.5 * (old.load + new.load) * (new.displacement - old.displacement)
    found[-1] = rubbed(model, old, new)
    return found


class Booked(NamedTuple):
    """Of an `Equilibrium`, what its energies need."""

    q: Array
    viscous: Array
    beam: BeamForces
    ice: SpringForces
    shank: ShankForces


@compiled
def _booked(parts: Parts, old: Booked, new: Booked) -> Array:
    """`book` but for the work of the rope's end and that of a sling."""
    beam, section, springs, shank, _, _, _ = parts
    found = np.zeros(len(ENERGIES))
    found[1] = _stored(parts, new) - _stored(parts, old)
    found[2] = (beam.length * spent_in_fibres(section, old.beam.section.plastic, new.beam.section.plastic)).sum()
    spent = spent_in_ice(springs, old.ice, new.ice)
    for i in range(len(spent)):
        found[3 + i] = spent[i]
    found[3] += shank_spent(shank, old.shank, new.shank)
    found[7] = 0.5 * ((old.viscous + new.viscous) * (new.q - old.q)[:, :2]).sum()
    return found


@within
def _stored(parts: Parts, at: Booked) -> float:
    """Elastic energy of tube and ice [J]."""
    strain, stiff = at.beam.strain, parts.section.shear_stiffness
    fibres = stored_in_fibres(parts.section, strain[0], strain[2], at.beam.section.plastic)
    stored = stored_in_ice(parts.springs, at.ice) + shank_stored(parts.shank, at.shank)
    return stored + (parts.beam.length * (fibres + 0.5 * stiff * strain[1] ** 2)).sum()
