"""A tube pulled in ice that cracks in turn: the second route to the peak, beside `fem.tube.peak`.

The tube is the beam of `validation.discrete_cracks.ring_tube`, the ice the half model's own elastic body with sharp
cracks of families (`fem.cracks.slit`). No springs, no laws of chips and cones, no prescribed pressure: what the wall of
the hole bears, and with it what drives each crack, is found at every step of the load point. Beam and body are balanced
in turn until the flexibility of the rings [m/N],

    F = 2 C + sum over cracks of 2 c^T V,      each crack in ice without the others

is steady; a step is halved until no crack is driven by more than OVERSHOOT; then the crack driven most opens by a ring
at that movement, and so on while any is driven: an unstable crack runs and the load falls.

    chip through   the wall in front and above it bears nothing any more if the tube leans away, and no more than it
                   bore as the crack started if not: the rule of `fem.laws.gather`, taken over, not checked
    cone through   the ice comes away with the tube: the end; the load that is left is the toe's and the wall's below

The peak is the largest load up to a stop (`geometry.Pull`) or the metal's strain limit, as in `fem.tube.pull`.
Limits: families of straight surfaces; cracks do not see each other; closed again is not undone; small strains of the
ice; pressure round the wall keeps the form cos phi; threads in ice that has come out in front still hold; no crust.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import degrees

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.cone.fronts import tip_cones
from ...fem.cracks.slit import Crack, Slit, make_slit
from ...fem.cracks.wall_loads import FRONT, THREADS, hole_rings
from ...fem.solid.solver import SolveError
from ...geometry import facing
from .chip_slits import chip_slits
from .ring_tube import TOE, RingState, RingTube, balance_rings

Array = NDArray[np.float64]
FIRST, LARGEST, LEAST, WIDEN = 2e-6, 2e-4, 1e-7, 1.3  # steps [m]
STEPS, RINGS = 2000, 200
ROUNDS, STEADY = 12, 1e-4
FAR = 1.5  # of the drive expected from an earlier load, below which a closed crack is not tried
OVERSHOOT = 1.06
Tell = Callable[[float, float, str], None]


@dataclass(frozen=True)
class CrackPull:
    """What a pull gave. displacement : movement of the load point [m], load [N] : (n,), to the end.  peak [N].

    mode : what ended the rise; "not reached" if the load still rose at the end of the way.
    hinge : load of the first hinge [N], None without one.  events : (displacement, load, words).
    """

    displacement: Array
    load: Array
    peak: float
    mode: str
    hinge: float | None
    events: tuple[tuple[float, float, str], ...]


@dataclass
class _Run:
    """A pull on its way."""

    tube: RingTube
    cracks: list[Crack]
    bonded: Array
    state: RingState
    high: Array
    tell: Tell
    curve: list[tuple[float, float]] = field(default_factory=list)
    events: list[tuple[float, float, str]] = field(default_factory=list)
    best: RingState | None = None
    broken: bool = False
    stopped: bool = False
    cone_out: bool = False
    chips_gone: bool = False
    hinge: float | None = None

    def say(self, words: str) -> None:
        """Note what happened at the present state."""
        self.events.append((self.tube.travel(self.state), self.state.load, words))

    def flexibility(self, f: Array) -> Array:
        """F with all cracks as they are, under loads f."""
        added = [crack.softening(f[:-1]) for crack in self.cracks if crack.ring]
        return self.tube.flexibility(self.bonded + sum(added))

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

    def most_driven(self, state: RingState) -> tuple[float, Crack | None, float]:
        """The largest drive, of which crack and in which fan."""
        best: tuple[float, Crack | None, float] = (0.0, None, 0.0)
        for crack in self.cracks:
            pushed = float(np.abs(state.f[self.tube.depth < crack.slit.start + 1e-9]).sum())
            for fan in (crack.fan,) if crack.ring else crack.slit.fans:
                if not crack.ring and fan in crack.tried:  # in ice without cracks it goes with the square of the load
                    drive, at = crack.tried[fan]
                    if FAR * drive * (pushed / max(at, 1e-9)) ** 2 < 1:
                        continue
                drive = crack.drive(state.f[:-1], fan)
                if not crack.ring:
                    crack.tried[fan] = (drive, pushed)
                if drive > best[0]:
                    best = (drive, crack, fan)
        return best

    def open_all(self) -> None:
        """Open rings while any is driven, at the displacement there is."""
        for _ in range(RINGS):
            drive, crack, fan = self.most_driven(self.state)
            if crack is None or drive < 1 or self.cone_out:
                return
            if not crack.ring:
                crack.fan, crack.bore = fan, self.state.f
                self.say(f"{crack.slit.kind} from {crack.slit.start * 1e3:.0f} mm starts")
            crack.ring = crack.next_ring
            if crack.through:
                self.come_out(crack)
            new = self.balanced(0.0)
            if new is None:
                raise SolveError(f"no balance with a crack at {self.tube.travel(self.state) * 1e3:.4g} mm")
            self.keep(new)

    def come_out(self, crack: Crack) -> None:
        """A crack is through: what the wall bears from then on."""
        slit, tube = crack.slit, self.tube
        above = tube.depth < slit.start + 1e-9
        self.say(f"{slit.kind} from {slit.start * 1e3:.0f} mm through")
        if slit.kind == "cone":
            self.cone_out, self.cracks = True, []
            self.high = np.where(above & (tube.kind != TOE), 0.0, self.high)
            return
        split = np.degrees([tube.assumed.chips_leave, tube.assumed.chips_stay])
        stays = float(np.interp(degrees(tube.lean(self.state)), split, (0.0, 1.0)))
        self.chips_gone |= stays < 0.5
        self.high = np.where(above & (tube.kind == FRONT), np.minimum(self.high, stays * crack.bore), self.high)
        self.cracks = [c for c in self.cracks if c.slit.kind == "cone" or c.slit.start > slit.start + 1e-9]

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
        return self.broken or self.stopped

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
        return "lever-out" if self.chips_gone or at_limit[kind == FRONT].mean() > 0.5 else "not reached"


def crack_pull(
    case: Case,
    slits: Sequence[Slit],
    farthest: float,
    fallen: float = 0.4,
    tell: Tell = lambda travel, load, words: None,
) -> CrackPull:
    """Pull a case with these surfaces until a cone is through, the load fell to `fallen` or moved `farthest` [m].

    slits : at least one.  tell : gets the movement of the load point [m], load [N] and what happened, at each step.
    Raises SolveError if a step is not found.
    """
    tube = RingTube(case, hole_rings(case.tube, case.placement))
    cracks = [Crack(slit) for slit in slits]
    run = _Run(tube, cracks, 2 * slits[-1].C, tube.unloaded(), tube.high.copy(), tell)
    step, largest = FIRST, 0.0
    for _ in range(STEPS):
        before, new = len(run.events), run.balanced(step)
        if new is None or (step > 4 * LEAST and run.most_driven(new)[0] > OVERSHOOT):
            step *= 0.5
            if step < LEAST:
                raise SolveError(f"no step on from {tube.travel(run.state) * 1e3:.4g} mm")
            continue
        run.keep(new)
        largest = max(largest, new.load)
        run.open_all()
        tell(*run.curve[-1], "; ".join(words for _, _, words in run.events[before:]))
        if run.cone_out or run.ended or run.state.load < fallen * largest or run.curve[-1][0] > farthest:
            break
        step = min(step * WIDEN, LARGEST) if run.state is new else max(0.3 * step, FIRST)
    travel, load = np.array(run.curve).T
    peak = run.best.load if run.best is not None else 0.0
    return CrackPull(travel, load, peak, run.mode(), run.hinge, tuple(run.events))


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
    return min((crack_pull(case, [*chips, cone], farthest, tell=tell) for cone in cones), key=lambda pull: pull.peak)
