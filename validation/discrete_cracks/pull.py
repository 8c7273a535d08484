"""A tube pulled in ice that cracks in turn: the second route to the peak, beside `fem.tube.peak`.

The tube is the beam of `validation.discrete_cracks.ring_tube`, the ice the half model's own elastic body with sharp
cracks of families (`fem.cracks.slit`). No springs, no laws of chips and cones, no prescribed pressure: what the wall of
the hole bears, and with it what drives each crack, is found at every step of the load point. Beam and body are balanced
in turn until the flexibility of the rings [m/N],

    F = 2 C + sum over cracks of 2 c^T V,      each crack in ice without the others

is steady; a step is halved until no crack is driven by more than OVERSHOOT; then the crack driven most takes a step at
that movement, outwards or sideways (`chip_growth`), and so on while any is driven: an unstable crack runs.

    chip loose     rings above bear only thrusts under which the piece jams, with the tube as it stands (`loose_ice`);
                   as soon as it bears none it slides out, and all other cracks are in ice without it
    cone through   the ice comes away with the tube: the end; the load that is left is the toe's and the wall's below

The peak is the largest load up to a stop (`geometry.placement.Pull`) or the metal's strain limit, as in
`fem.tube.pull`.
Limits: families of straight surfaces; cracks do not see each other; closed again is not undone; small strains of the
ice; pressure round the wall keeps the form cos phi; a piece that slid and jams again bears on springs of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import degrees

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.cone.fronts import tip_cones
from ...fem.cracks.slit import Crack, Slit, make_slit
from ...fem.cracks.wall_loads import FRONT, THREADS, hole_rings
from ...fem.errors import SolveError
from ...geometry.placement import facing
from .chip_growth import Chip
from .chip_slits import IN_BACK, IN_FRONT, chip_slits
from .left_ice import Known, LeftIce
from .ring_tube import TOE, RingState, RingTube, balance_rings

Array = NDArray[np.float64]
FIRST, LARGEST, LEAST, WIDEN = 2e-6, 2e-4, 1e-7, 1.3  # steps [m]
STEPS, RINGS = 2000, 200
ROUNDS, STEADY = 12, 1e-4
FAR = 3.0  # of the drive expected from an earlier load, below which a closed crack is not tried
OVERSHOOT = 1.06
Tell = Callable[[float, float, str], None]


@dataclass(frozen=True)
class CrackPull:
    """What a pull gave. displacement : movement of the load point [m], load [N] : (n,), to the end.  peak [N].

    mode : what ended the rise; "not reached" if the load still rose at the end of the way.
    hinge : load of the first hinge [N], None without one.  events : (displacement, load, words).
    gone : of each chip that slid out, displacement [m], depth of its start [m], side (1 in front, -1 behind).
    """

    displacement: Array
    load: Array
    peak: float
    mode: str
    hinge: float | None
    events: tuple[tuple[float, float, str], ...]
    gone: tuple[tuple[float, float, int], ...] = ()


@dataclass
class _Run:
    """A pull on its way."""

    tube: RingTube
    ice: LeftIce
    state: RingState
    high: Array
    curve: list[tuple[float, float]] = field(default_factory=list)
    events: list[tuple[float, float, str]] = field(default_factory=list)
    gone: list[tuple[float, float, int]] = field(default_factory=list)
    best: RingState | None = None
    broken: bool = False
    stopped: bool = False
    lost: bool = False
    cone_out: bool = False
    hinge: float | None = None

    def say(self, words: str) -> None:
        """Note what happened at the present state."""
        self.events.append((self.tube.travel(self.state), self.state.load, words))

    def flexibility(self, f: Array) -> Array:
        """F with all cracks as they are, under loads f."""
        return self.tube.flexibility(self.ice.flexibility(f[:-1]))

    def balanced(self, step: float) -> RingState | None:
        """Tube and ice in balance a step on, F steady; None if that is not found."""
        old = guess = self.state
        try:
            F = self.flexibility(guess.f)
            for _ in range(ROUNDS):
                new = balance_rings(self.tube, F, old, step, self.high, guess)
                if new is None:
                    return None
                after = self.flexibility(new.f)
                moved = np.abs((after - F) @ new.f).max() / max(np.abs(F @ new.f).max(), 1e-12)
                F, guess = after, new
                if moved < STEADY:
                    return self.tube.settle(F, old, new, self.high)
        except SolveError:
            pass
        return None

    def most_driven(self, state: RingState) -> tuple[float, Crack | None, int, float]:
        """The largest drive, of which crack, and the ring and fan to which it drives it."""
        best: tuple[float, Crack | None, int, float] = (0.0, None, 0, 0.0)
        for crack in self.ice.cracks:
            for drive, ring, fan in self.drives(crack, state):
                if drive > best[0]:
                    best = (drive, crack, ring, fan)
        return best

    def drives(self, crack: Crack, state: RingState) -> Iterator[tuple[float, int, float]]:
        """Drive, ring and fan of each step that a crack may take; those of a closed one that may be driven."""
        f = state.f[:-1]
        if crack.ring and isinstance(crack, Chip):
            yield from ((crack.drive_to(f, ring, fan), ring, fan) for ring, fan in crack.ways_on())
        elif crack.ring:
            yield crack.drive(f, crack.fan), crack.next_ring, crack.fan
        else:
            pushed = float(np.abs(state.f[self.tube.depth < crack.slit.start + 1e-9]).sum())
            for fan in crack.slit.fans:
                if fan in crack.tried:  # in ice without cracks it goes with the square of the load
                    drive, at = crack.tried[fan]
                    if FAR * drive * (pushed / max(at, 1e-9)) ** 2 < 1:
                        continue
                self.ice.renew(crack)
                drive = crack.drive(f, fan)
                crack.tried[fan] = (drive, pushed)
                yield drive, crack.next_ring, fan

    def open_all(self) -> None:
        """Take steps of cracks while any is driven, and let loose pieces slide, at the displacement there is."""
        for _ in range(RINGS):
            if not self.slide():
                drive, crack, ring, fan = self.most_driven(self.state)
                if crack is None or drive < 1 or self.cone_out:
                    return
                self.open(crack, ring, fan)
            new = self.balanced(0.0)
            if new is None:
                raise SolveError(f"no balance with a crack at {self.tube.travel(self.state) * 1e3:.4g} mm")
            self.keep(new)

    def slide(self) -> bool:
        """Take up the limits of loose pieces as the tube stands; whether they are others than before."""
        if self.cone_out or not self.ice.pieces:
            return False
        high, idle = self.ice.limits(self.tube, self.state)
        out = [piece for piece in idle if piece not in self.ice.slid]
        for piece in out:
            start = piece.cone.shape.start
            self.say(f"{IN_FRONT if piece.side > 0 else IN_BACK} from {start * 1e3:.0f} mm slides out")
            self.gone.append((self.tube.travel(self.state), start, piece.side))
        if out:
            self.ice.lose(self.tube, out)
        changed = bool(out) or not np.array_equal(high, self.high)
        self.high = high
        return changed

    def open(self, crack: Crack, ring: int, fan: float) -> None:
        """A crack takes a step."""
        name = f"{crack.slit.kind} from {crack.slit.start * 1e3:.0f} mm"
        if not crack.ring:
            self.say(f"{name} starts")
        crack.ring, crack.fan = ring, fan
        if isinstance(crack, Chip):
            if crack.through and not crack.hanging:
                self.say(f"{name} through, {degrees(fan):.0f} deg to each side")
                self.ice.come_through(crack)
            if crack.loose:
                self.say(f"{name} loose")
                self.ice.come_loose(crack)
                self.slide()
        elif crack.through:
            self.say(f"{name} through")
            self.cone_out, self.ice.cracks = True, []
            above = self.tube.depth < crack.slit.start + 1e-9
            self.high = np.where(above & (self.tube.kind != TOE), 0.0, self.high)

    def keep(self, new: RingState) -> None:
        """Take a state as the one there is."""
        self.state = new
        self.curve.append((self.tube.travel(new), new.load))
        if self.hinge is None and new.hinged:
            self.hinge = new.load
        if self.ended:
            return
        self.stopped = abs(new.q[0, 2]) > self.tube.turn or self.tube.travel(new) > self.tube.farthest
        self.broken = not self.stopped and new.strain_used > 1
        if self.ended:
            self.say("stop" if self.stopped else "strain limit")
        elif self.best is None or new.load > self.best.load:
            self.best = new

    @property
    def ended(self) -> bool:
        """Whether no load counts any more."""
        return self.broken or self.stopped or self.lost

    def lose(self, why: SolveError) -> None:
        """End the pull where no balance is found. Raises SolveError before it has moved by a diameter."""
        if self.tube.travel(self.state) < 2 * self.tube.section.radius:
            raise why
        self.lost = True
        self.say(f"not followed: {why}")

    def mode(self) -> str:
        """What ended the rise of the load, in the words of `fem.tube.events`."""
        hinged = self.hinge is not None and self.best is not None and self.hinge <= self.best.load
        if self.broken:
            return "tube bends"
        if self.cone_out:
            return "cone"
        if self.best is None or self.state.load >= self.best.load:
            return "not reached"
        kind, at_limit = self.tube.kind, self.state.f > 0.999 * self.high
        if at_limit[kind == THREADS].mean() > 0.5:
            return "threads stripped"
        if hinged:
            return "tube bends"
        return "lever-out" if self.ice.slid or at_limit[kind == FRONT].mean() > 0.5 else "not reached"


def crack_pull(
    case: Case,
    slits: Sequence[Slit],
    farthest: float,
    fallen: float = 0.1,
    tell: Tell = lambda travel, load, words: None,
    known: Known | None = None,
) -> CrackPull:
    """Pull a case with these surfaces until a cone is through, the load fell to `fallen` or moved `farthest` [m].

    slits : at least one.  tell : gets the movement of the load point [m], load [N] and what happened, at each step.
    A pull that finds no balance any more ends there; SolveError is raised if that is within a diameter of movement.
    """
    rings = hole_rings(case.tube, case.placement)
    tube = RingTube(case, rings)
    run = _Run(tube, LeftIce(case, rings, slits, known), tube.unloaded(), tube.high.copy())
    step, largest = FIRST, 0.0
    for _ in range(STEPS):
        before, new = len(run.events), run.balanced(step)
        if new is None or (step > 4 * LEAST and run.most_driven(new)[0] > OVERSHOOT):
            step *= 0.5
            if step < LEAST:
                run.lose(SolveError(f"no step on from {tube.travel(run.state) * 1e3:.4g} mm"))
                break
            continue
        run.keep(new)
        largest = max(largest, new.load)
        try:
            run.open_all()
        except SolveError as error:
            run.lose(error)
        tell(*run.curve[-1], "; ".join(words for _, _, words in run.events[before:]))
        if run.cone_out or run.ended or run.state.load < fallen * largest or run.curve[-1][0] > farthest:
            break
        step = min(step * WIDEN, LARGEST) if run.state is new else max(0.3 * step, FIRST)
    travel, load = np.array(run.curve).T
    peak = run.best.load if run.best is not None else 0.0
    return CrackPull(travel, load, peak, run.mode(), run.hinge, tuple(run.events), tuple(run.gone))


def least_pull(case: Case, farthest: float, tell: Tell = lambda travel, load, words: None) -> CrackPull:
    """The pull with the least peak over the cones of `fem.cone.fronts.tip_cones`, each with the same chips.


    The ice is isotropic; each cone is tried in a pull of its own. farthest : m.
    Arguments and errors of `crack_pull`; raises ValueError for what cannot be meshed.
    """
    placement, pull, _ = facing(case.placement, case.pull)  # chips start in front
    case = replace(case, placement=placement, pull=pull)
    rings = hole_rings(case.tube, case.placement)
    chips = chip_slits(case, rings)
    cones = [make_slit(case, rings, "cone", shape) for shape in tip_cones(case)]
    known: Known = {}
    pulls = [crack_pull(case, [*chips, cone], farthest, tell=tell, known=known) for cone in cones]
    return min(pulls, key=lambda pull: pull.peak)
