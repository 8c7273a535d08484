"""What a pull gathers on its way: states, energies, events, and the largest load up to a stop.

States come from a march (`tube.march`) with the events that it located, or one by one as a sling hops from node to
node. How far past an event its state lies is kept with it (`Event.overshoot`).

Energies [J] are each from their own law (`tube.energies`): work of the rope's end, elastic energy of tube and ice, work
on plastic strain, on crushing (with the toe's), on threads, on the cone, against viscosity, and rubbed off by a sling
that slides.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import SolveError
from .energies import book
from .events import CONE, DEEP, EVENTS, HEAD_TURNED, OUT, STOPS, STRAIN_LIMIT, Event, Found, measures, snapshot
from .ice_springs import loosened
from .march import NO_REST, OUTWARDS, TOO_MUCH, Marched
from .readings import refusal
from .state import Equilibrium, TubeModel, unpack

Array = NDArray[np.float64]
SLIDES, LOST, BREAKS = "slides out", "it snaps, and is not followed", "strain limit of the metal"
FALLEN = "load below {:g} of the largest"
LEFT = {OUTWARDS: SLIDES, NO_REST: LOST}
DECIDES, PASSED = (CONE, STRAIN_LIMIT, HEAD_TURNED), 0.05  # of them, what may be passed in a hop of the sling
WAYS: tuple[Found, ...] = ("located", "jump")  # of finding an event, by `steps.LOCATED` and `steps.JUMP`


@dataclass
class Track:
    """What a pull gathers on its way."""

    model: TubeModel
    last: Equilibrium
    states: list[Equilibrium]
    energies: list[Array]
    events: list[Event] = field(default_factory=list)
    peak: int | None = None
    stop: str = ""
    counted: int = 1
    largest: float = 0.0
    settled: int = 0
    left: str = ""

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

    @property
    def has_come(self) -> NDArray[np.bool_]:
        """Which of EVENTS have, (14,)."""
        seen = self.seen
        return np.array([name in seen for name in EVENTS])

    def take(self, marched: Marched) -> None:
        """Add what a march came to. Raises SolveError for a load beyond what tube or ice can bear."""
        came: dict[int, dict[str, tuple[float, Found]]] = {}
        for state, event, measure, how in marched.marks:
            came.setdefault(state, {})[EVENTS[event]] = measure, WAYS[how]
        for number, (new, moved) in enumerate(zip(marched.states, marched.moved, strict=True)):
            if number > 0:
                self._add(unpack(self.model.parts, new), moved, came.get(number, {}))
        self.last, self.settled, self.left = (
            unpack(self.model.parts, marched.last),
            marched.snaps,
            LEFT.get(marched.why, ""),
        )
        if marched.why == TOO_MUCH:
            self._refuse(marched.load)

    def hop(self, new: Equilibrium) -> None:
        """Add a state to which a sling slid.

        Raises SolveError for a load beyond what tube or ice can bear, and if an event that decides was passed by more
        than PASSED.
        """
        if new.load > self.largest:
            self._refuse(new.load)
        past, seen = zip(EVENTS, measures(self.model, new).tolist(), strict=True), self.seen
        came: dict[str, tuple[float, Found]] = {name: (g, "hop") for name, g in past if g >= 0 and name not in seen}
        self._add(new, book(self.model, self.states[-1], new), came)
        for name in DECIDES:
            if name in came and came[name][0] > PASSED:
                raise SolveError(f"{name}: passed by {came[name][0]:.1e} in a hop of the sling, allowed {PASSED:g}")

    def _refuse(self, load: float) -> None:
        if why := refusal(load, self.model.springs, self.model.shank, self.model.section):
            raise SolveError(why)

    def _add(self, new: Equilibrium, moved: Array, came: dict[str, tuple[float, Found]]) -> None:
        """Add a state with what it adds to the energies and the events that came, and hold the peak up to a stop."""
        self.energies.append(self.energies[-1] + moved)
        self.states.append(new)
        self.largest = max(self.largest, new.load)
        self.events += [snapshot(self.model, new, name, g, found) for name, (g, found) in came.items()]
        if CONE in came:
            self.model = replace(self.model, springs=loosened(self.model.springs, new.ice.pull))
        if not self.stop:
            self.counted = len(self.states)
            if self.peak is None or new.load > self.states[self.peak].load:
                self.peak = len(self.states) - 1
        self.stop = self.stop or next((name for name in STOPS if name in came), "")
