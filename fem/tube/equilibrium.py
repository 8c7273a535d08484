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
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ...materials import Assumed, default_assumed
from ..solid.solver import SolveError
from .beam import HALF_BAND, Beam, BeamForces, directions, resist, solve_band
from .cross_section import HollowSection
from .ice_forces import SpringForces, spring_forces
from .ice_springs import Springs, at_rest, bearing_limit, deepened
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


@dataclass(frozen=True, slots=True)
class _Residual:
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
    m, section = len(model.beam.s), model.section
    q = np.zeros((m, 3))
    ice = spring_forces(model.springs, q[model.first :], q[model.first :], at_rest(model.springs))
    beam = resist(model.beam, section, q, np.zeros((m - 1, len(section.area))))
    shank = shank_forces(model.shank, q[: model.first], 0.0, np.zeros(model.first))
    return Equilibrium(q, 0.0, 0.0, beam, ice, shank, 0, q[:, :2], model.held)


def control(model: TubeModel, q: Array, threads_count: float = THREADS_COUNT) -> Array:
    """(m, 3) [-]: how the motion of each node counts in what drives a step, with the axis as it lies in q (m, 3)."""
    row = np.zeros_like(q)
    a, _ = directions(model.beam.angle + q[model.first :, 2])
    row[model.first :, :2] = threads_count * model.gripped[:, None] * a
    row[model.held, :2] += model.pull
    return row


def find(
    model: TubeModel, old: Equilibrium, step: float, q: Array, load: float, viscosity: float | None = None
) -> Equilibrium | None:
    """Equilibrium a step [m] on, from a guess q (m, 3), load [N]; None if Newton's method does not come to it.

    viscosity : force per displacement in this step at each node [N/m], and the load point alone drives; None: none.
    """
    iterations = 0
    for _ in range(CORRECTIONS):
        limits = bearing_limit(model.springs, q[model.first :, 2], old.ice.state)
        found = _newton(model, old, step, q, load, viscosity, limits)
        if found is None:
            return None
        at, taken = found
        iterations = max(iterations, taken)
        lag = np.abs(bearing_limit(model.springs, at.q[model.first :, 2], old.ice.state) - limits).sum()
        if lag < LAG * max(abs(at.load), LEAST_FORCE):
            break
        q, load = at.q, at.load
    state = at.ice.state
    trench = deepened(model.springs, at.q[model.first :, 2], old.ice.state, state)
    ice = replace(at.ice, state=replace(state, trench=trench))
    return Equilibrium(at.q, at.load, model.drawn(at.q), at.beam, ice, at.shank, iterations, at.viscous, model.held)


def _newton(
    model: TubeModel, old: Equilibrium, step: float, q: Array, load: float, viscosity: float | None, limits: Array
) -> tuple[_Residual, int] | None:
    """What `find` looks for with these limits of the wall, and how many iterations it took."""
    row = control(model, old.q, THREADS_COUNT if viscosity is None else 0.0)
    reached = _residual(model, old, q, load, viscosity or 0.0, limits)
    offs = [np.inf, reached.off]
    for iteration in range(ITERATIONS):
        short = step - float(np.vdot(row, reached.q - old.q))
        if reached.off < _tolerance(model, reached) and abs(short) < 1e-12:
            return reached, iteration
        if iteration > PATIENCE and reached.off > 0.5 * offs[-3]:
            return None
        try:
            change, more = _bordered(model, reached, row, short, viscosity or 0.0)
        except np.linalg.LinAlgError:
            return None
        if not np.isfinite(more) or not np.abs(change[:, 2]).max() < LARGEST_TURN:
            return None
        share, base = 1.0, reached
        reached = _residual(model, old, base.q + change, base.load + more, viscosity or 0.0, limits)
        while abs(short) < 1e-12 and reached.off > GROWTH * offs[-1] and share > LEAST_SHARE:
            share *= 0.4
            reached = _residual(model, old, base.q + share * change, base.load + share * more, viscosity or 0.0, limits)
        offs.append(reached.off)
    return None


def _tolerance(model: TubeModel, at: _Residual) -> float:
    """What may be out of balance [N]: a share of the load, or what round-off leaves of the tube's stiffest motion."""
    stretch = model.section.E * float(model.section.area.sum() / model.beam.length.min())
    return max(TOLERANCE * max(abs(at.load), LEAST_FORCE), ROUND_OFF * stretch * float(np.abs(at.q[:, :2]).max()))


def _residual(model: TubeModel, old: Equilibrium, q: Array, load: float, viscosity: float, limits: Array) -> _Residual:
    """What is out of balance at q and load."""
    first = model.first
    beam = resist(model.beam, model.section, q, old.beam.section.plastic)
    ice = spring_forces(model.springs, old.q[first:], q[first:], old.ice.state, limits)
    rest = beam.force.copy()
    rest[first:, :2] += ice.force
    shank = shank_forces(model.shank, q[:first], old.ice.state.trench, old.shank.crushed)
    rest[:first, 1] -= shank.force
    viscous = viscosity * (q[:, :2] - old.q[:, :2])
    rest[:, :2] += viscous
    rest[model.held, :2] -= load * model.pull
    off = max(float(np.abs(rest[:, :2]).max()), float(np.abs(rest[:, 2]).max()) / ARM)
    return _Residual(q, load, beam, ice, shank, viscous, rest, off)


def _bordered(model: TubeModel, at: _Residual, row: Array, short: float, viscosity: float) -> tuple[Array, float]:
    """Newton's change of q (m, 3) and of the load that meet R = 0 and the step."""
    m, first, ice = len(at.q), model.first, at.ice
    band = at.beam.band + np.bincount(model.springs.place, ice.block.ravel(), minlength=len(at.beam.band))
    if first:
        band += np.bincount(model.shank.place, at.shank.slope.ravel(), minlength=len(band))
    if viscosity:
        band.reshape(-1, 3 * m)[HALF_BAND].reshape(m, 3)[:, :2] += viscosity
    right = np.zeros((m, 3, 2 if ice.couple is None else 3))
    right[:, :, 0] = -at.rest
    right[model.held, :2, 1] = model.pull
    if ice.couple is not None:
        right[first:, :2, 2] = ice.couple[0]
    x = solve_band(band, right.reshape(3 * m, -1)).reshape(m, 3, -1)
    if ice.couple is not None:
        along = np.einsum("mi,mik->k", ice.couple[1], x[first:])
        x = x[:, :, :2] + x[:, :, 2:] * (along[:2] / (1 - along[2]))
    moved = row.ravel() @ x.reshape(3 * m, -1)
    more = (short - moved[0]) / moved[1]
    return x[:, :, 0] + more * x[:, :, 1], float(more)


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
