"""One step of a tube pulled in ice: the equilibrium of beam and ice at a given movement of the load point.

    R(q, F) = f_beam(q) + f_ice(q; memory) + viscosity (q - q_0) - F p = 0  [N],     row . (q - q_0) = step  [m]

p: direction of the rope, fixed in space; U = p . u of the node at which it holds the tube (a `tube.sling` may slide to
the next). A step is driven by U and, with it, THREADS_COUNT times the mean motion of the threads along the axis: both
grow as a tube fails. If the tube snaps, U alone would have to fall back; the sum still grows and the path goes on.

Newton's method has the exact tangent. Solving with three right sides eliminates the border (F, step) and the cone's
term of rank one: limit points are passed and the matrix stays banded. An iteration that throws the balance far off is
cut short. The limits of the wall of the hole depend on the tube's angle: a step is solved with the limits at its guess,
and again with those at its answer until both agree to LAG of the load, CORRECTIONS times at most.

If no step leads on, `settle` lets the tube move with its load point held, against a viscous force at the nodes that
decays as it comes to rest (each stage has an answer if the viscosity is large enough); that work is kept apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...materials import Assumed, default_assumed
from ..compiled import compiled
from ..solid.solver import SolveError
from .beam import Beam, BeamForces, add_block, eliminate, resist
from .cross_section import HollowSection
from .ice_forces import SpringForces, spring_forces
from .ice_springs import Springs, SpringState, at_rest, bearing_limit, deepened
from .shank import ShankForces, ShankLaws, shank_forces

Array = NDArray[np.float64]
ITERATIONS, PATIENCE = 14, 6
GROWTH, LEAST_SHARE = 20.0, 0.1  # of what is out of balance, before an iteration is cut; the least share of it taken
TOLERANCE, LEAST_FORCE, ARM = 1e-9, 100.0, 0.01  # of the load, N, m (weighs moments against forces)
ROUND_OFF = 2e-15
CORRECTIONS, LAG = 3, 1e-6  # of the wall's limits to the angle found; of the load, what they may be off
LARGEST_TURN = 1.0  # rad in one iteration
THREADS_COUNT = 3.0  # motion of the threads against that of the load point
SETTLING_STEPS, LEAST_VISCOSITY = 400, 1e-7  # of the mean bearing stiffness of a node
REST = 1e-6  # of the load, what may be left of the viscous force at a node


class Parts(NamedTuple):
    """Of a `TubeModel`, what one step takes."""

    beam: Beam
    section: HollowSection
    springs: Springs
    shank: ShankLaws
    pull: Array
    gripped: Array
    held: int


@dataclass(frozen=True, slots=True, eq=False)
class TubeModel:
    """Beam, section and springs, and how the rope pulls.

    pull : (2,) p.  gripped : (nodes in the ice,) share of the threads at each.  shank : ice under the nodes above the
    mouth.  held : the node at which the rope holds the tube.  tied : the node at which it did at first.
    friction : of a sling on the tube; inf: it does not slide.
    assumed : where a pull ends.  movement [m], turn [rad] : its stops (`geometry.Pull`); inf: none.
    """

    beam: Beam
    section: HollowSection
    springs: Springs
    pull: Array
    gripped: Array
    shank: ShankLaws
    held: int = 0
    tied: int = 0
    friction: float = np.inf
    assumed: Assumed = field(default_factory=default_assumed)
    movement: float = np.inf
    turn: float = np.inf

    @property
    def first(self) -> int:
        """The node at the mouth."""
        return len(self.beam.s) - len(self.springs.k)

    @property
    def parts(self) -> Parts:
        """What one step takes."""
        return Parts(self.beam, self.section, self.springs, self.shank, self.pull, self.gripped, self.held)

    def drawn(self, q: Array) -> float:
        """Movement of the load point [m], slides along the tube included, for q (m, 3)."""
        along = float(self.pull @ (np.sin(self.beam.angle), np.cos(self.beam.angle)))
        slid = along * float(self.beam.s[self.tied] - self.beam.s[self.held])
        return float(self.pull @ q[self.held, :2]) + slid


@dataclass(frozen=True, slots=True, eq=False)
class Equilibrium:
    """q (m, 3) [m, m, rad], load [N], movement of the load point [m] (`TubeModel.drawn`), forces of beam and ice.

    The forces carry their memory.  iterations : taken.  viscous : (m, 2) force against motion, [N]; zero but while
    settling.  held : `TubeModel.held`.
    """

    q: Array
    load: float
    displacement: float
    beam: BeamForces
    ice: SpringForces
    shank: ShankForces
    iterations: int
    viscous: Array
    held: int = 0


Way = Callable[[float], "Equilibrium | None"]  # from a share of a step to the state there


class Memory(NamedTuple):
    """Where a step starts from: q (m, 3), and what fibres, ice and ice under the shank remember."""

    q: Array
    plastic: Array
    state: SpringState
    crushed: Array


class Trial(NamedTuple):
    """A trial q and load: the forces there, what is left over, `rest` (m, 3), and its largest part, `off` [N]."""

    q: Array
    load: float
    beam: BeamForces
    ice: SpringForces
    shank: ShankForces
    viscous: Array
    rest: Array
    off: float


def unloaded(model: TubeModel) -> Equilibrium:
    """The tube as placed."""
    m, state = len(model.beam.s), at_rest(model.springs)
    old = Memory(np.zeros((m, 3)), np.zeros((m - 1, len(model.section.area))), state, np.zeros(model.first))
    limits = bearing_limit(model.springs, old.q[model.first :, 2], state)
    at = residual(model.parts, old, old.q, 0.0, 0.0, limits)
    return Equilibrium(at.q, 0.0, 0.0, at.beam, at.ice, at.shank, 0, at.viscous, model.held)


def find(
    model: TubeModel, old: Equilibrium, step: float, q: Array, load: float, viscosity: float | None = None
) -> Equilibrium | None:
    """Equilibrium a step [m] on, from a guess q (m, 3), load [N]; None if Newton's method does not come to it.

    viscosity : force per displacement in this step at each node [N/m], and the load point alone drives; None: none.
    """
    start = Memory(old.q, old.beam.section.plastic, old.ice.state, old.shank.crushed)
    count = THREADS_COUNT if viscosity is None else 0.0
    found, at, iterations, trench = _found(
        model.parts, start, float(step), q, float(load), viscosity or 0.0, count, TOLERANCE
    )
    if not found:
        return None
    ice = at.ice._replace(state=at.ice.state._replace(trench=trench))
    return Equilibrium(at.q, at.load, model.drawn(at.q), at.beam, ice, at.shank, iterations, at.viscous, model.held)


@compiled
def control(parts: Parts, q: Array, threads_count: float) -> Array:
    """(m, 3) [-]: how the motion of each node counts in what drives a step, with the axis as it lies in q (m, 3)."""
    row, first = np.zeros_like(q), len(q) - len(parts.gripped)
    for i in range(first, len(q)):
        share, angle = threads_count * parts.gripped[i - first], parts.beam.angle + q[i, 2]
        row[i, 0], row[i, 1] = share * np.sin(angle), share * np.cos(angle)
    row[parts.held, 0] += parts.pull[0]
    row[parts.held, 1] += parts.pull[1]
    return row


@compiled
def _found(
    parts: Parts,
    old: Memory,
    step: float,
    q: Array,
    load: float,
    viscosity: float,
    threads_count: float,
    tolerance: float,
) -> tuple[bool, Trial, int, float]:
    """Whether there is what `find` looks for, it, how many iterations it took, and its trench [m]."""
    springs, first, iterations = parts.springs, len(q) - len(parts.gripped), 0
    row = control(parts, old.q, threads_count)
    limits = bearing_limit(springs, q[first:, 2], old.state)
    for _ in range(CORRECTIONS):
        found, at, taken = _newton(parts, old, step, q, load, viscosity, limits, row, tolerance)
        iterations = max(iterations, taken)
        if not found:
            return False, at, iterations, 0.0
        after = bearing_limit(springs, at.q[first:, 2], old.state)
        if np.abs(after - limits).sum() < LAG * max(abs(at.load), LEAST_FORCE):
            break
        q, load, limits = at.q, at.load, after
    return True, at, iterations, deepened(springs, at.q[first:, 2], old.state, at.ice.state)


@compiled
def _newton(
    parts: Parts,
    old: Memory,
    step: float,
    q: Array,
    load: float,
    viscosity: float,
    limits: Array,
    row: Array,
    tolerance: float,
) -> tuple[bool, Trial, int]:
    """What `find` looks for with these limits of the wall, and how many iterations it took; false if it is not found."""
    at = residual(parts, old, q, load, viscosity, limits)
    offs = np.full(ITERATIONS + 2, np.inf)
    offs[1] = at.off
    for iteration in range(ITERATIONS):
        short = step - (row * (at.q - old.q)).sum()
        if at.off < _tolerance(parts, at, tolerance) and abs(short) < 1e-12:
            return True, at, iteration
        if iteration > PATIENCE and at.off > 0.5 * offs[iteration - 1]:
            return False, at, iteration
        solved, change, more = _bordered(parts, at, row, short, viscosity)
        if not solved or not np.isfinite(more) or not np.abs(change[:, 2]).max() < LARGEST_TURN:
            return False, at, iteration
        share, base, before = 1.0, at, offs[iteration + 1]
        at = residual(parts, old, base.q + change, base.load + more, viscosity, limits)
        while abs(short) < 1e-12 and at.off > GROWTH * before and share > LEAST_SHARE:
            share *= 0.4
            at = residual(parts, old, base.q + share * change, base.load + share * more, viscosity, limits)
        offs[iteration + 2] = at.off
    return False, at, ITERATIONS


@compiled
def _tolerance(parts: Parts, at: Trial, tolerance: float) -> float:
    """What may be out of balance [N]: a share of the load, or what round-off leaves of the tube's stiffest motion."""
    stretch = parts.section.E * parts.section.area.sum() / parts.beam.length.min()
    return max(tolerance * max(abs(at.load), LEAST_FORCE), ROUND_OFF * stretch * np.abs(at.q[:, :2]).max())


@compiled
def residual(parts: Parts, old: Memory, q: Array, load: float, viscosity: float, limits: Array) -> Trial:
    """What is out of balance at q and load."""
    m, first = len(q), len(q) - len(parts.gripped)
    beam = resist(parts.beam, parts.section, q, old.plastic)
    ice = spring_forces(parts.springs, old.q[first:], q[first:], old.state, limits)
    shank = shank_forces(parts.shank, q[:first], old.state.trench, old.crushed)
    rest, viscous, off = beam.force.copy(), np.empty((m, 2)), 0.0
    for i in range(m):
        for c in range(2):
            viscous[i, c] = viscosity * (q[i, c] - old.q[i, c])
            rest[i, c] += viscous[i, c] + (ice.force[i - first, c] if i >= first else -c * shank.force[i])
            if i == parts.held:
                rest[i, c] -= load * parts.pull[c]
        for c in range(3):
            size = abs(rest[i, c]) / (ARM if c == 2 else 1.0)
            if size > off or np.isnan(size):
                off = size
    return Trial(q, load, beam, ice, shank, viscous, rest, off)


@compiled
def _bordered(parts: Parts, at: Trial, row: Array, short: float, viscosity: float) -> tuple[bool, Array, float]:
    """Whether there is, and Newton's change of q (m, 3) and of the load that meet R = 0 and the step."""
    m, first, ice = len(at.q), len(at.q) - len(parts.gripped), at.ice
    band, right = at.beam.band.copy(), np.zeros((3 * m, 3 if ice.moves else 2))
    rub = viscosity * np.eye(2)
    for i in range(m):
        if i >= first:
            add_block(band, 3 * i, 3 * i, ice.block[i - first])
        else:
            add_block(band, 3 * i + 1, 3 * i, at.shank.slope[i : i + 1])
        if viscosity > 0:
            add_block(band, 3 * i, 3 * i, rub)
        for c in range(3):
            right[3 * i + c, 0] = -at.rest[i, c]
            if c < 2 and ice.moves and i >= first:
                right[3 * i + c, 2] = ice.by_cone[i - first, c]
            if c < 2 and i == parts.held:
                right[3 * i + c, 1] = parts.pull[c]
    if not eliminate(band, right):
        return False, at.q, 0.0
    if ice.moves:
        along = np.zeros(3)
        for k in range(3):
            for i in range(first, m):
                for c in range(3):
                    along[k] += ice.of_cone[i - first, c] * right[3 * i + c, k]
        for k in range(2):
            right[:, k] += right[:, 2] * (along[k] / (1 - along[2]))
    moved = np.zeros(2)
    for i in range(3 * m):
        for k in range(2):
            moved[k] += row[i // 3, i % 3] * right[i, k]
    more = (short - moved[0]) / moved[1]
    return True, (right[:, 0] + more * right[:, 1]).reshape(m, 3), more


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
