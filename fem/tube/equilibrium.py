"""One step of a tube pulled in ice: the equilibrium of beam and ice at a given movement of the load point.

    R(q, F) = f_beam(q) + f_ice(q; memory) + viscosity (q - q_0) - F p = 0  [N],     row . (q - q_0) = step  [m]

p: direction of the rope, fixed in space; U = p . u of the node at which it holds the tube (a `tube.sling` may slide to
the next). A step is driven by U and, with it, THREADS_COUNT times the mean motion of the threads along the axis: both
grow as a tube fails. If the tube snaps, U alone would have to fall back; the sum still grows and the path goes on.

Newton's method has the exact tangent. Solving with three right sides eliminates the border (F, step) and the cone's
term of rank one: limit points are passed and the matrix stays banded. An iteration that throws the balance far off is
cut short. The limits of the wall of the hole depend on the tube's angle: a step is solved with the limits at its guess,
and again with those at its answer until both agree to LAG of the load, CORRECTIONS times at most.

If no step leads on, the tube settles against a viscous force (`tube.settling`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from .beam import BeamForces, add_block, eliminate, resist
from .ice_forces import SpringForces, spring_forces
from .ice_springs import SpringState, at_rest, bearing_limit, deepened
from .shank import ShankForces, shank_forces
from .state import Equilibrium, Parts, TubeModel, pack, unpack

Array = NDArray[np.float64]
ITERATIONS, PATIENCE = 14, 6
GROWTH, LEAST_SHARE = 20.0, 0.1  # of what is out of balance, before an iteration is cut; the least share of it taken
TOLERANCE, LEAST_FORCE, ARM = 1e-9, 100.0, 0.01  # of the load, N, m (weighs moments against forces)
ROUND_OFF = 2e-15
CORRECTIONS, LAG = 3, 1e-6  # of the wall's limits to the angle found; of the load, what they may be off
LARGEST_TURN = 1.0  # rad in one iteration
THREADS_COUNT = 3.0  # motion of the threads against that of the load point


class Memory(NamedTuple):
    """Where a step starts from: q (m, 3), and what fibres, ice and ice under the shank remember."""

    q: Array
    plastic: Array
    state: SpringState
    crushed: Array


class Forces(NamedTuple):
    """The forces at a trial q and load, and what is left over, `rest` (m, 3)."""

    beam: BeamForces
    ice: SpringForces
    shank: ShankForces
    viscous: Array
    rest: Array


def unloaded(model: TubeModel) -> Equilibrium:
    """The tube as placed."""
    m, fibres, parts = len(model.beam.s), len(model.section.area), model.parts
    start = Memory(np.zeros((m, 3)), np.zeros((m - 1, fibres)), at_rest(model.springs), np.zeros(model.first))
    limits = bearing_limit(model.springs, start.q[model.first :, 2].copy(), start.state)
    at = _forces(parts, start, start.q, 0.0, 0.0, limits)
    return unpack(parts, pack(start.q, 0.0, 0.0, at.beam, at.ice.kept, at.shank, at.viscous, 0.0, 0, model.held))


def find(
    model: TubeModel, old: Equilibrium, step: float, q: Array, load: float, viscosity: float | None = None
) -> Equilibrium | None:
    """Equilibrium a step [m] on, from a guess q (m, 3), load [N]; None if Newton's method does not come to it.

    viscosity : force per displacement in this step at each node [N/m], and the load point alone drives; None: none.
    """
    parts, count = model.parts, THREADS_COUNT if viscosity is None else 0.0
    found, new = found_at(parts, old.flat, float(step), q, float(load), float(viscosity or 0.0), count, TOLERANCE)
    return unpack(parts, new) if found else None


@compiled
def found_at(
    parts: Parts,
    old: Array,
    step: float,
    q: Array,
    load: float,
    viscosity: float,
    threads_count: float,
    tolerance: float,
) -> tuple[bool, Array]:
    """Whether there is what `find` looks for, and its array (`state.pack`); `old` if not."""
    before, springs = unpack(parts, old), parts.springs
    start = Memory(before.q, before.beam.section.plastic, before.ice.state, before.shank.crushed)
    given = step, q, load, viscosity, threads_count, tolerance
    found, iterations, q, load, limits = _found(parts, start, *given)
    if not found:
        return False, old
    at = _forces(parts, start, q, load, viscosity, limits)
    trench = deepened(springs, q[len(q) - len(parts.gripped) :, 2].copy(), start.state, at.ice.kept.state)
    forces = at.beam, at.ice.kept, at.shank, at.viscous
    return True, pack(q, load, drawn(parts, q), *forces, trench, iterations, parts.held)


@within
def drawn(parts: Parts, q: Array) -> float:
    """Movement of the load point [m], slides along the tube included, for q (m, 3)."""
    beam, pull, held = parts.beam, parts.pull, parts.held
    along = pull[0] * np.sin(beam.angle) + pull[1] * np.cos(beam.angle)
    slid = along * (beam.s[parts.tied] - beam.s[held])
    return np.dot(pull, q[held, :2]) + slid


@within
def control(parts: Parts, q: Array, threads_count: float) -> Array:
    """(m, 3) [-]: how the motion of each node counts in what drives a step, with the axis as it lies in q (m, 3)."""
    gripped, lean, pull, held = parts.gripped, parts.beam.angle, parts.pull, parts.held
    row, first = np.zeros_like(q), len(q) - len(gripped)
    for i in range(first, len(q)):
        share, angle = threads_count * gripped[i - first], lean + q[i, 2]
        row[i, 0], row[i, 1] = share * np.sin(angle), share * np.cos(angle)
    row[held, 0] += pull[0]
    row[held, 1] += pull[1]
    return row


@within
def _found(
    parts: Parts,
    old: Memory,
    step: float,
    q: Array,
    load: float,
    viscosity: float,
    threads_count: float,
    tolerance: float,
) -> tuple[bool, int, Array, float, Array]:
    """Whether there is what `find` looks for; iterations, q, load, and the limits of the wall that hold there [N]."""
    springs, state, section = parts.springs, old.state, parts.section
    first, iterations = len(q) - len(parts.gripped), 0
    row = control(parts, old.q, threads_count)
    round_off = ROUND_OFF * section.E * section.area.sum() / parts.beam.length.min()
    after = bearing_limit(springs, q[first:, 2].copy(), state)
    limits = after
    for _ in range(CORRECTIONS):
        limits = after
        found, taken, q, load = _newton(parts, old, step, q, load, viscosity, limits, row, tolerance, round_off)
        iterations = max(iterations, taken)
        if not found:
            return False, iterations, q, load, limits
        after = bearing_limit(springs, q[first:, 2].copy(), state)
        if np.abs(after - limits).sum() < LAG * max(abs(load), LEAST_FORCE):
            break
    return True, iterations, q, load, limits


@within
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
    round_off: float,
) -> tuple[bool, int, Array, float]:
    """`_found` with these limits of the wall.

    tolerance, round_off : out of balance, of the load, or over the largest motion [N/m]: of the tube's stretch.
    """
    offs, start = np.full(ITERATIONS + 2, np.inf), old.q
    offs[1], band, right, of_cone = _balance(parts, old, q, load, viscosity, limits)
    for iteration in range(ITERATIONS):
        off, short = offs[iteration + 1], step - (row * (q - start)).sum()
        may_be = max(tolerance * max(abs(load), LEAST_FORCE), round_off * np.abs(q[:, :2]).max())
        if off < may_be and abs(short) < 1e-12:
            return True, iteration, q, load
        if iteration > PATIENCE and off > 0.5 * offs[iteration - 1]:
            break
        solved, change, more = _bordered(band, right, of_cone, row, short)
        if not solved or not np.isfinite(more) or not np.abs(change[:, 2]).max() < LARGEST_TURN:
            break
        share = 1.0
        reached, band, right, of_cone = _balance(parts, old, q + change, load + more, viscosity, limits)
        while abs(short) < 1e-12 and reached > GROWTH * off and share > LEAST_SHARE:
            share *= 0.4
            at, pull = q + share * change, load + share * more
            reached, band, right, of_cone = _balance(parts, old, at, pull, viscosity, limits)
        q, load, offs[iteration + 2] = q + share * change, load + share * more, reached
    return False, ITERATIONS, q, load


@within
def _balance(
    parts: Parts, old: Memory, q: Array, load: float, viscosity: float, limits: Array
) -> tuple[float, Array, Array, Array]:
    """The largest part that is out of balance at q and load [N], the banded tangent, right sides (3 m, 3), g (m, 3).

    Right sides: what is out of balance, the pull, and b of a cone that moves.
    """
    at, pull, held = _forces(parts, old, q, load, viscosity, limits), parts.pull, parts.held
    rest, band, slope, block, by_cone = at.rest, at.beam.band, at.shank.slope, at.ice.block, at.ice.by_cone
    m, first, off, rubs = len(q), len(slope), 0.0, np.zeros((2, 2))
    rubs[0, 0], rubs[1, 1] = viscosity, viscosity
    right = np.zeros((3 * m, 3))
    for i in range(m):
        if i < first:
            add_block(band, 3 * i + 1, 3 * i, slope[i : i + 1])
        else:
            add_block(band, 3 * i, 3 * i, block[i - first])
            right[3 * i, 2], right[3 * i + 1, 2] = by_cone[i - first, 0], by_cone[i - first, 1]
        if viscosity > 0:
            add_block(band, 3 * i, 3 * i, rubs)
        for c in range(3):
            right[3 * i + c, 0] = -rest[i, c]
            size = abs(rest[i, c]) / (ARM if c == 2 else 1.0)
            if size > off or np.isnan(size):
                off = size
    right[3 * held, 1], right[3 * held + 1, 1] = pull[0], pull[1]
    return off, band, right, at.ice.of_cone


@compiled
def _forces(parts: Parts, old: Memory, q: Array, load: float, viscosity: float, limits: Array) -> Forces:
    """The forces at q and load, and what is left over."""
    tube, section, springs, floor, pull, gripped, held, _ = parts
    start, plastic, state, crushed = old
    m, first = len(q), len(q) - len(gripped)
    beam = resist(tube, section, q, plastic)
    ice = spring_forces(springs, start[first:], q[first:], state, limits)
    shank = shank_forces(floor, q[:first], state.trench, crushed)
    in_ice, upward, rest, viscous = ice.force, shank.force, beam.force.copy(), np.empty((m, 2))
    for i in range(m):
        for c in range(2):
            viscous[i, c] = viscosity * (q[i, c] - start[i, c])
            rest[i, c] += viscous[i, c]
            if i >= first:
                rest[i, c] += in_ice[i - first, c]
            elif c == 1:
                rest[i, c] -= upward[i]
            if i == held:
                rest[i, c] -= load * pull[c]
    return Forces(beam, ice, shank, viscous, rest)


@within
def _bordered(band: Array, right: Array, of_cone: Array, row: Array, short: float) -> tuple[bool, Array, float]:
    """Whether there is, and Newton's change of q (m, 3) and of the load that meet R = 0 and the step."""
    m, first = len(row), len(row) - len(of_cone)
    change, more, led, along = np.empty((m, 3)), short, 0.0, np.zeros(3)
    if not eliminate(band, right):
        return False, change, 0.0
    for i in range(first, m):
        for c in range(3):
            for k in range(3):
                along[k] += of_cone[i - first, c] * right[3 * i + c, k]
    for i in range(3 * m):
        for k in range(2):
            right[i, k] += right[i, 2] * (along[k] / (1 - along[2]))
        more -= row[i // 3, i % 3] * right[i, 0]
        led += row[i // 3, i % 3] * right[i, 1]
    more /= led
    for i in range(3 * m):
        change[i // 3, i % 3] = right[i, 0] + more * right[i, 1]
    return True, change, more
