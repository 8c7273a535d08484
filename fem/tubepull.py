"""A tube pulled out of the ice to the end: displacement by displacement, with events, an energy book and a mode.

The rope's end moves along the rope by U (`tubestep`), from a micrometre a step to `largest_step`, as fast as the tube
turns and ice goes (TURN_A_STEP, GONE_A_STEP); the step shrinks where Newton's method fails or energy goes missing, and
where even a tiny one fails the tube snaps and settles: U may go back, the load at a given U is not unique, the first is
what a machine would see. Events (`tubeevents`) are found by false position and bisection on the step.

`peak` is the largest load before the strain limit or a head turned by 60 deg; beyond, cable action without end would
add to it: `largest` counts it. The pull ends at `largest_displacement`, out of the ice, at END of the largest load, or
where the tube slides out and does not come to rest though the load point is held.

Energies, each from its own law and kept for every state: work of the rope's end, elastic energy of tube and ice, work
on plastic strain, on crushing (with the toe), on threads, on the cone, against viscosity, and rubbed off by a sling
that slides (END then counts from the load where it stopped). What is missing is the integration's error; the springs'
kinks keep it from second order: with a step of 2, 1, 0.5, 0.25 mm a shear pull of 0.15 m misses 5.1, 2.9, 0.9, 0.4
times 1e-4 of the work (measured).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from ..geometry import Placement, Pull, Tube, lever_arm, pressed_side, standing_out
from ..materials import Metal
from .beam import make_beam
from .fibres import hollow_section
from .fibres import spent as spent_in_fibres
from .fibres import stored as stored_in_fibres
from .iceforces import spent as spent_in_ice
from .iceforces import stored as stored_in_ice
from .icelaws import IceLaws
from .icesprings import gather, loosened
from .sling import SLING_SLIDES, rubbed, slide, stopped
from .solver import SolveError
from .tubeevents import CLOSING, CONE, EVENTS, Event, cone_load, measures, mode_at, snapshot
from .tubestep import Equilibrium, Model, Way, control, find, settle, unloaded

Array = NDArray[np.float64]
ELEMENT, LARGEST_STEP, LARGEST_DISPLACEMENT = 2.5e-3, 2e-3, 0.25  # m
FIRST_STEP, LEAST_STEP, WIDEN, EASY = 1e-6, 1e-7, 1.6, 6
LEAP = 0.03  # largest imbalance of one step, over the energies that it moves
TURN_A_STEP, GONE_A_STEP = 0.05, 0.02  # rad; share of a node's ice
LEAST_ENERGY = 1e-7  # J, below which it is not looked at
END = 0.3
SLID = 1e-3  # m, motion of the tip outwards with the load point held: the tube does not come to rest any more
SLIDES = "slides out"
OUT, FALLEN, FAR = "out of the ice", f"load below {END:g} of the largest", "largest displacement"
STEPS, LOCATING, FALSE_POSITIONS = 20_000, 60, 18
NEAR = 1e-9  # of a step, within which an event is found whose measure jumps there
CLOSE = np.where(np.array(EVENTS) == CONE, 1e-6, 1e-3)  # of an event, within which it is found: a cone is a peak
ENERGIES = ("work", "elastic", "plastic", "crushing", "threads", "cone", "viscous", "sling")


@dataclass(frozen=True, slots=True)
class TubePull:
    """What a pull gave (SI units).

    displacement [m], load [N], head_rotation [rad] : (n,).  energies : (n, 8) [J], in the order of ENERGIES.
    peak, largest [N]; first_hinge [N], None where there is none up to the peak.  mode : in the words of `tubeevents`.
    events : as they came, the peak among them as "peak".  ended : why the pull ended.  settled : how often it snapped.
    cone_load : pull of the threads at which the cone came, or would if all loads at the peak grew alike [N]; or inf.
    """

    displacement: Array
    load: Array
    head_rotation: Array
    energies: Array
    events: tuple[Event, ...]
    peak: float
    largest: float
    first_hinge: float | None
    mode: str
    ended: str
    settled: int
    cone_load: float

    @property
    def imbalance(self) -> float:
        """Largest difference of work and all other energies, over the largest work [-]."""
        off = self.energies[:, 0] - self.energies[:, 1:].sum(axis=1)
        return float(np.abs(off).max() / max(np.abs(self.energies[:, 0]).max(), 1e-300))


def make_model(
    tube: Tube, placement: Placement, pull: Pull, laws: IceLaws, metal: Metal, element: float = ELEMENT
) -> Model:
    """Beam, section and springs of a placement; elements about `element` long [m], a node at the mouth.

    Raises ValueError as `standing_out`, `gather` and `hollow_section` do, and for an element not positive.
    """
    if not element > 0:
        raise ValueError(f"element = {element:g}: must be positive")
    height, below = lever_arm(tube, placement), placement.embedment
    slides = placement.attachment == "tied_off" and placement.sling_friction < np.inf
    free = standing_out(tube, placement) - height if slides else 0.0
    pieces = [_nodes(-height - free, free, element), _nodes(-height, height, element)]
    held = len(pieces[0])
    pieces.append(np.linspace(0.0, below, max(round(below / element), 2) + 1))
    beam = make_beam(np.concatenate(pieces), placement.angle)
    springs = gather(beam, laws, min(tube.thread_length, below), pressed_side(placement, pull))
    gripped = springs.thread_k / max(float(springs.thread_k.sum()), 1e-300)
    section = hollow_section(tube.radius, tube.bore, metal)
    friction = placement.sling_friction if slides else np.inf
    return Model(beam, section, springs, pull.unit[[0, 2]], gripped, held, held, friction)


def _nodes(start: float, length: float, element: float) -> Array:
    """Nodes about `element` apart over a length, its end left out; none over a length of nothing."""
    n = round(length / element) or int(length > 1e-9)
    return start + length * np.arange(n) / max(n, 1)


@dataclass
class _Track:
    """What a pull gathers on its way."""

    model: Model
    last: Equilibrium
    states: list[Equilibrium]
    energies: list[Array]
    events: list[Event] = field(default_factory=list)
    peak: Equilibrium | None = None
    closed: bool = False
    largest: float = 0.0
    settled: int = 0
    slides: bool = False

    @property
    def ended(self) -> str:
        """Why the pull ends here; empty where it goes on."""
        if OUT in self.seen:
            return OUT
        if self.slides:
            return SLIDES
        return FALLEN if self.states[-1].load < END * self.largest else ""

    @property
    def seen(self) -> set[str]:
        return {event.name for event in self.events}

    def keep(self, new: Equilibrium) -> None:
        """Add a state with its energies and events, and hold the peak while its window is open."""
        self.energies.append(self.energies[-1] + book(self.model, self.states[-1], new))
        self.states.append(new)
        self.largest = max(self.largest, new.load)
        seen = self.seen
        past = zip(EVENTS, measures(self.model, new).tolist(), strict=True)
        came = {name: g for name, g in past if g >= 0 and name not in seen}
        self.events += [snapshot(self.model, new, name, g) for name, g in came.items()]
        if CONE in came:
            self.model = replace(self.model, springs=loosened(self.model.springs, new.ice.pull))
        if not self.closed and (self.peak is None or new.load > self.peak.load):
            self.peak = new
        self.closed = self.closed or bool(set(came) & set(CLOSING))


def solve_pull(
    tube: Tube,
    placement: Placement,
    pull: Pull,
    laws: IceLaws,
    metal: Metal,
    element: float = ELEMENT,
    largest_step: float = LARGEST_STEP,
    largest_displacement: float = LARGEST_DISPLACEMENT,
) -> TubePull:
    """Pull a placed tube to the end.

    element, largest_step, largest_displacement : m.
    Raises ValueError for what cannot be built, SolveError where an equilibrium is not found.
    """
    return follow(make_model(tube, placement, pull, laws, metal, element), largest_step, largest_displacement)


def follow(model: Model, largest_step: float, largest_displacement: float) -> TubePull:
    """Pull the tube of `model` to the end (arguments and errors of `solve_pull`)."""
    track = _Track(model, start := unloaded(model), [start], [np.zeros(len(ENERGIES))])
    _slide(track)
    step = FIRST_STEP
    for _ in range(STEPS):
        step = min(_advance(track, step), largest_step)
        ended = track.ended or (FAR if track.states[-1].displacement >= largest_displacement else "")
        if ended:
            return _result(track, ended)
    raise SolveError(f"no end of the pull within {STEPS} steps")


def _try(track: _Track, step: float) -> Equilibrium | None:
    """The equilibrium a step further on, guessed from the way that the last one went."""
    at, last = track.states[-1], track.last
    went = float((control(track.model, at.q) * (at.q - last.q)).sum())
    ahead = step / went if went > 0 else 0.0
    guess, load = at.q + ahead * (at.q - last.q), at.load + ahead * (at.load - last.load)
    new = find(track.model, at, step, guess, load)
    return new if new is not None and _sound(track.model, at, new) else None


def _sound(model: Model, old: Equilibrium, new: Equilibrium) -> bool:
    """Whether one state can follow the other: no energy comes from or goes to nowhere, as it does in a leap."""
    moved = book(model, old, new)
    return bool(abs(moved[0] - moved[1:].sum()) <= LEAP * np.abs(moved).sum() + LEAST_ENERGY)


def _advance(track: _Track, step: float) -> float:
    """Go on by `step` or less, to the first event on the way; returns the step to try next."""
    while (whole := _try(track, step)) is None or (new := _to_event(track, whole, _share_of(track, step))) is None:
        step *= 0.2
        if step < LEAST_STEP:
            _snap(track, track.states[-1])
            return FIRST_STEP
    at = track.states[-1]
    turn = float(np.abs(whole.q[:, 2] - at.q[:, 2]).max())
    gone = float((whole.ice.state.gone - at.ice.state.gone).max())
    widen = WIDEN if whole.iterations <= EASY else 1.0
    following = step * min(widen, TURN_A_STEP / max(turn, 1e-9), GONE_A_STEP / max(gone, 1e-9))
    track.keep(new)
    track.last = at
    return FIRST_STEP if _slide(track) else following


def _share_of(track: _Track, step: float) -> Way:
    return lambda share: _try(track, share * step)


def _slide(track: _Track) -> bool:
    """Let a sling slide from the last state as far as it does; whether it has moved. Raises SolveError as `slide`."""
    start = track.states[-1]
    while passed := slide(track.model, track.states[-1], partial(_sound, track.model)):
        if SLING_SLIDES not in track.seen:
            track.events.append(snapshot(track.model, track.states[-1], SLING_SLIDES))
        for model, new in passed:
            springs = track.model.springs
            track.model = replace(model, springs=springs)
            track.keep(new)
            if track.model.springs is not springs:  # the cone has come: the rest of the way is another
                break
    last = track.states[-1]
    if last is start:
        return False
    name = stopped(track.model, last)
    if name and name not in track.seen:
        track.events.append(snapshot(track.model, last, name))
    track.last, track.largest = last, last.load  # a load that falls as the sling slides ends no pull
    return True


def _snap(track: _Track, at: Equilibrium) -> None:
    """Let the tube settle from `at`. Raises SolveError where it neither comes to rest nor slides out."""
    step, rests = FIRST_STEP, False
    try:
        while not (rests or track.ended):
            model, rests = track.model, True
            for stage in settle(model, track.states[-1], step, partial(_sound, model), partial(_to_event, track)):
                track.keep(stage)
                rests, step = track.model is model, 0.0  # where the cone has come it settles on without it
                if track.ended or not rests:
                    break
    except SolveError:
        new = track.states[-1]
        if new.load > at.load or new.ice.state.u[-1] < at.ice.state.u[-1] + SLID:
            raise
        track.slides = True
    track.settled, track.last = track.settled + 1, at


def _to_event(track: _Track, new: Equilibrium, way: Way) -> Equilibrium | None:
    """The state just past the first event on the way to `new`, or `new` where there is none.

    Where no state is found near enough to it the last one before it, from which the next step seeks it again; None
    where there is none before it either.
    """
    unseen = np.array([name not in track.seen or name == SLING_SLIDES for name in EVENTS])
    low, high, before = 0.0, 1.0, None
    g_low, g_high = (np.where(unseen, measures(track.model, each), -1.0) for each in (track.states[-1], new))
    for attempt in range(LOCATING):
        crossing = (g_high >= 0) & (g_low < 0)
        if np.all(g_high[crossing] < CLOSE[crossing]) or high - low < NEAR:
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
def book(model: Model, old: Equilibrium, new: Equilibrium) -> Array:
    """What one step adds to the energies, in the order of ENERGIES [J]."""
    h, section = model.beam.length, model.section
    elastic = 0.0
    for at, sign in ((new, 1.0), (old, -1.0)):
        strain, plastic = at.beam.strain, at.beam.section.plastic
        fibres = stored_in_fibres(section, strain[0], strain[2], plastic)
        tube = float(h @ (fibres + 0.5 * section.shear_stiffness * strain[1] ** 2))
        elastic += sign * (tube + stored_in_ice(model.springs, at.ice))
    plastic = h @ spent_in_fibres(section, old.beam.section.plastic, new.beam.section.plastic)
    moved = new.q[:, :2] - old.q[:, :2]
    viscous = 0.5 * ((old.viscous + new.viscous) * moved).sum()
    work = 0.5 * (old.load + new.load) * (new.displacement - old.displacement)
    return np.array(
        [work, elastic, plastic, *spent_in_ice(model.springs, old.ice, new.ice), viscous, rubbed(model, old, new)]
    )


def _result(track: _Track, ended: str) -> TubePull:
    peak, states = track.peak or track.states[-1], track.states
    hinges = [event for event in track.events if event.name == "hinge"]
    hinged = bool(hinges) and hinges[0].displacement <= peak.displacement
    closed = any(event.name in CLOSING and event.displacement == peak.displacement for event in track.events)
    events = [*track.events, snapshot(track.model, peak, "peak")]
    load, springs = np.array([at.load for at in states]), track.model.springs
    return TubePull(
        np.array([at.displacement for at in states]),
        load,
        np.array([at.q[0, 2] for at in states]),
        np.array(track.energies),
        tuple(sorted(events, key=lambda event: event.displacement)),
        peak.load,
        float(load.max()),
        hinges[0].load if hinged else None,
        mode_at(replace(track.model, held=peak.held), peak, hinged, closed),
        ended,
        track.settled,
        springs.cone if springs.cone < np.inf else cone_load(springs, peak.ice),
    )
