"""A tube pulled out of the ice to the end: step by step, with events, an energy book and a mode.

The load point moves along the pull by U [m] (`tube.equilibrium`), from a micrometre a step to `largest_step`, as fast
as the tube turns and ice goes (TURN_A_STEP, GONE_A_STEP). The step shrinks if Newton's method fails or energy goes
missing. If even a tiny one fails the tube snaps and settles: U may go back, the load at a given U is not unique, the
first is what a machine would see. Events (`tube.events`) are located on the step (`tube.track`). A case whose back the
pull presses is pulled as its mirror image (`geometry.placement.facing`), and seen from the other side again.

`peak` is the largest load up to a stop (`geometry.placement.Pull`); what else a pull reads knows no stop
(`tube.readings`). The pull ends at the metal's strain limit, at `largest_displacement`, out of the ice, at a share of
the largest load (counted from the load at which a sling came to a stop), or if the tube slides out and does not come to
rest though the load point is held, if it snaps again and again, or if it bears as much as was asked.

Limits: what energies miss is the integration's error, 1e-4 to 1e-5 of the work; the springs' kinks keep it from second
order in the step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import Placement, Pull, Tube, facing, lever_arm, standing_out
from ...materials import Assumed, Metal, default_assumed
from ..errors import SolveError
from ..laws.ice_laws import IceLaws
from .beam import make_beam
from .cross_section import hollow_section
from .energies import ENERGIES
from .equilibrium import unloaded
from .events import WRINKLES, Event, cone_load, mode_at, snapshot
from .ice_springs import gather
from .march import FIRST_STEP, MOST_SNAPS, SLIDE, march
from .modes import SLING_SLIDES, UNENDED
from .readings import TURNED, Reading, first_drop, largest_within
from .shank import shank_laws
from .shapes import Frames, frames
from .sliding import slide
from .sling import stopped
from .state import TubeModel
from .steps import course_of
from .track import BREAKS, DECIDES, LOST, Track

__all__ = ["ENERGIES", "TubePull", "follow_pull", "make_tube_model", "solve_pull"]

Array = NDArray[np.float64]
ELEMENT, LARGEST_STEP, LARGEST_DISPLACEMENT = 2.5e-3, 2e-3, 0.25  # m
FAR, BEARS, STEPS = "moved as far as the model follows", "it bears what was asked", 20_000


@dataclass(frozen=True, slots=True)
class TubePull:
    """What a pull gave (SI units).

    displacement : movement of the load point [m], load [N], head_rotation [rad] : (n,).  energies : (n, 9) [J], in the
    order of ENERGIES.  peak [N]; first_hinge and wrinkle [N]: loads at these events, None if not up to the peak.
    mode : in the words of `tube.events`.  first_drop, early, turned, largest : `tube.readings`.
    counted : how many of the states count for the peak: those up to a stop.  stop : the event at which the peak still
    rises, "" if it does not.
    events : as they came, the peak among them as "peak".  ended : why the pull ended.  settled : how often it snapped.
    cone_load : pull of the threads at which the cone came, or would if all loads at the peak grew alike [N]; or inf.
    frames : states from which `tube.shapes` has the tube as it moves on.
    """

    displacement: Array
    load: Array
    head_rotation: Array
    energies: Array
    events: tuple[Event, ...]
    counted: int
    peak: float
    first_drop: Reading
    early: Reading
    turned: Reading
    largest: Reading
    first_hinge: float | None
    wrinkle: float | None
    mode: str
    ended: str
    stop: str
    settled: int
    cone_load: float
    frames: Frames

    @property
    def readings(self) -> Mapping[str, Reading]:
        """By name: the peak, and what no stop moves."""
        at = next(event.displacement for event in self.events if event.name == "peak")
        found = {"peak": Reading(self.peak, at, self.mode)}
        return found | {name: getattr(self, name) for name in ("first_drop", "early", "turned", "largest")}

    @property
    def overshoot(self) -> float:
        """How far past a cone, the strain limit or a turned head the states located as these events are [-]."""
        located = [event for event in self.events if event.name in DECIDES and event.found == "located"]
        return max((event.overshoot for event in located), default=0.0)

    @property
    def imbalance(self) -> float:
        """Largest difference of work and all other energies, over the largest work [-]."""
        off = self.energies[:, 0] - self.energies[:, 1:].sum(axis=1)
        return float(np.abs(off).max() / max(np.abs(self.energies[:, 0]).max(), 1e-300))


def make_tube_model(
    tube: Tube,
    placement: Placement,
    pull: Pull,
    laws: IceLaws,
    metal: Metal,
    element: float = ELEMENT,
    assumed: Assumed | None = None,
) -> TubeModel:
    """Beam, section and springs of a placement whose front the pull presses (`geometry.placement.facing`).

    element : about their length [m]; a node lies at the mouth.  assumed : those of the file where None.

    Raises ValueError as `standing_out` and `hollow_section` do, and for an element not positive.
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
    springs = gather(beam, laws, min(tube.thread_length, below))
    gripped = springs.thread_k / max(float(springs.thread_k.sum()), 1e-300)
    assumed = assumed or default_assumed()
    section = hollow_section(tube.radius, tube.bore, metal, assumed=assumed)
    friction = placement.sling_friction if slides else np.inf
    stops = {"movement": pull.movement, "turn": pull.turn}
    along, shank = pull.unit[[0, 2]], shank_laws(beam, laws)
    return TubeModel(beam, section, springs, along, gripped, shank, held, held, friction, assumed, **stops)


def _nodes(start: float, length: float, element: float) -> Array:
    """Nodes about `element` apart over a length, its end left out; none over a length of nothing."""
    n = round(length / element) or int(length > 1e-9)
    return start + length * np.arange(n) / max(n, 1)


def solve_pull(
    tube: Tube,
    placement: Placement,
    pull: Pull,
    laws: IceLaws,
    metal: Metal,
    element: float = ELEMENT,
    largest_step: float = LARGEST_STEP,
    largest_displacement: float = LARGEST_DISPLACEMENT,
    assumed: Assumed | None = None,
    enough: float = np.inf,
) -> TubePull:
    """Pull a placed tube to the end.

    element, largest_step, largest_displacement : m.  assumed : those of the file if None.  enough : load at which the
    pull may end [N].
    Raises ValueError for what cannot be built, SolveError if an equilibrium is not found.
    """
    placement, pull, side = facing(placement, pull)
    model = make_tube_model(tube, placement, pull, laws, metal, element, assumed)
    found = follow_pull(model, largest_step, largest_displacement, enough)
    return found if side > 0 else _mirrored(found)


def _mirrored(found: TubePull) -> TubePull:
    """The pull seen from the other side."""
    events = tuple(replace(event, x=-event.x, bearing=-event.bearing, moment=-event.moment) for event in found.events)
    return replace(found, head_rotation=-found.head_rotation, events=events, frames=replace(found.frames, side=-1))


def follow_pull(model: TubeModel, largest_step: float, largest_displacement: float, enough: float = np.inf) -> TubePull:
    """Pull the tube of `model` to the end; largest_step, largest_displacement [m], enough [N], errors: `solve_pull`."""
    track = Track(model, start := unloaded(model), [start], [np.zeros(len(ENERGIES))])
    course = course_of(model, largest_step, largest_displacement, enough)
    _slide(track)
    step = FIRST_STEP
    while len(track.states) < STEPS:
        parts, at, most = track.model.parts, track.states[-1].flat, STEPS - len(track.states) + 1
        seen, largest = track.has_come, track.largest
        marched = march(parts, course, at, track.last.flat, seen, largest, step, track.settled, most)
        track.take(marched)
        step = FIRST_STEP if marched.why == SLIDE and _slide(track) else marched.step
        ended = track.ended or (FAR if track.states[-1].displacement >= largest_displacement else "")
        ended = ended or (LOST if track.settled > MOST_SNAPS else "")
        ended = ended or (BEARS if track.states[-1].load > enough else "")
        if ended:
            return _result(track, ended)
    raise SolveError(f"no end of the pull within {STEPS} states")


def _slide(track: Track) -> bool:
    """Let a sling slide from the last state as far as it does; whether it has moved. Raises SolveError as `slide`."""
    start = track.states[-1]
    while track.ended != BREAKS and (passed := slide(track.model, track.states[-1])):
        if SLING_SLIDES not in track.seen:
            track.events.append(snapshot(track.model, track.states[-1], SLING_SLIDES))
        for model, new in passed:
            springs = track.model.springs
            track.model = replace(model, springs=springs)
            track.hop(new)
            if track.model.springs is not springs or track.ended == BREAKS:  # the rest of the way is another, or none
                break
    last = track.states[-1]
    if last is start:
        return False
    name = stopped(track.model, last)
    if name and name not in track.seen:
        track.events.append(snapshot(track.model, last, name))
    track.last, track.largest = last, last.load  # a load that falls as the sling slides ends no pull
    return True


def _result(track: Track, ended: str) -> TubePull:
    """What the pull gave."""
    states = track.states
    top = len(states) - 1 if track.peak is None else track.peak
    peak = states[top]
    hinges, wrinkles = ([event for event in track.events if event.name == name] for name in ("hinge", WRINKLES))
    load, displacement, turn = np.array([(at.load, at.displacement, at.q[0, 2]) for at in states]).T
    counted, springs = track.counted, track.model.springs

    def mode_of(k: int) -> str:
        hinged = bool(hinges) and hinges[0].displacement <= states[k].displacement
        return mode_at(replace(track.model, held=states[k].held), states[k], hinged)

    rises = bool(track.stop) and top == counted - 1 and load[counted : counted + 1].max(initial=0) > peak.load
    mode = UNENDED if rises else mode_of(top)
    hinge, wrinkle = (
        came[0].load if came and came[0].displacement <= peak.displacement else None for came in (hinges, wrinkles)
    )
    events = sorted([*track.events, snapshot(track.model, peak, "peak")], key=lambda event: event.displacement)
    whole = partial(largest_within, load, displacement, mode_of=mode_of)
    return TubePull(
        displacement,
        load,
        turn,
        np.array(track.energies),
        tuple(events),
        counted,
        peak.load,
        first_drop(load, displacement, mode_of),
        whole(displacement, 2 * track.model.section.radius),
        whole(np.abs(turn), TURNED),
        whole(displacement, np.inf),
        hinge,
        wrinkle,
        mode,
        ended,
        track.stop if rises else "",
        track.settled,
        springs.cone if springs.cone < np.inf else cone_load(springs, peak.ice),
        frames(track.model, states, load, displacement, events),
    )
