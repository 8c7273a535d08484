"""A tube pulled in ice that breaks progressively: load step by load step, the second route to the peak.

The tube is the beam of `beam` and `fibres`; the ice is a block that breaks as a phase field (`iceblock`, `icedamage`),
not springs with laws. The two meet at the rings of the wall, each load f_k with its own motion:

    front, back   0 <= f <= q d ds        bounded crushing, q of `bearinglaw.crushing_limit`; crushed ice stays away (g)
    threads       |f| <= t ds             t of `pulloutlaw.thread_limit`, slipping (g)
    toe           0 <= f <= limit         a spring of its own (`bearinglaw.toe`)
    inside these limits   motion of the tube - g - (F f) = 0,    F: flexibility of the block as it is

Motions are followed as in `icesprings`, along the current normal and axis. A step moves the load point (and the
threads, `tubestep.control`); beam and limits are solved by a semismooth Newton method on a dense matrix, then the
ice's strain follows from f (u = U f), then damage at that strain; F is formed anew and all is repeated, ROUNDS times at
most, until damage moves by less than SETTLED. A step whose damage has not settled goes on growing in the next.

No law of chips or cones enters: whether, where and at what load the ice comes away is found.

What it gives (140 mm tube, sound glacier ice, 26,000 unknowns, 2 to 9 minutes a case on one core), beside `peak`:

    straight, 130 mm in     12.5 kN, falls to 6.4, then LOCKS: 12.9 at 1 mm     14.3 kN, cone
    straight, 65 mm in      first break at 3.4 kN, then locks: 6.2 at 1 mm       5.0 kN, cone
    70 mm in, tied off      7.9 kN at 8 mm, rising slowly                        6.7 kN, cone
    70 mm in, at the eye    3.1 kN at 5 mm, levering                             4.3 kN, cone (lever-out 4.4)
    flush, 0 / +20 deg      9.3 / 10.1 kN at the hinge, 2.4 mm                   7.0 / 8.5 kN at the hinge, 3 mm
    flush, -20 deg          10.0 kN at 5 mm, all front ice crushed               4.3 kN, the ice in front gone

Only the first peak of the straight pull at 130 mm is supported. The first break at 65 mm does not hang on ell (3.5 kN
with elements and ell halved) and is probably no cone's peak: `phasefieldpull` breaks at 3.3 too, then goes on to 5.1.
Past a peak the loads are too high: damaged ice that has not broken goes on to bear. In shear it is no judge of the law
that lets chips go: under the no-tension split pressure along one axis breaks nothing (a reading; other splits were not
tried in shear). Half of the steps end before damage has settled: loads may hang on the step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..geometry import Resolution, standing_out
from .beam import Beam, BeamForces, dense, directions, make_beam, resist
from .bearinglaw import crushing_limit, toe
from .case import Case
from .fibres import Section, hollow_section
from .iceblock import BACK, FRONT, SIZE, THREADS, IceBlock, ice_block
from .pulloutlaw import thread_limit
from .solver import SolveError

Array = NDArray[np.float64]
TOE = 3
ROUNDS, SETTLED = 6, 0.02
ITERATIONS, TOLERANCE, ARM = 40, 1e-7, 0.01
THREADS_COUNT = 3.0  # motion of the threads against that of the load point
FIRST, LARGEST, LEAST, WIDEN = 2e-6, 2e-4, 1e-7, 1.4  # steps [m]
MOST_DAMAGE = 0.25  # largest change of damage in a step that lets the next one grow


@dataclass
class _Track:
    """The state: q (m, 3), f, motions and crushed g (k,), plastic strains, damage (n,), u (3 n,)."""

    q: Array
    f: Array
    motion: Array
    crushed: Array
    plastic: Array
    damage: Array
    u: Array
    load: float = 0.0
    curve: list[tuple[float, ...]] = field(default_factory=list)


@dataclass(frozen=True)
class Progress:
    """What a run gave. displacement [m], load [N], threads [N] (their pull), front [N], hinge (bool) : (steps,).

    damage : (n,) at the end.  block : the ice.  unsettled : steps whose damage was still moving.
    """

    displacement: Array
    load: Array
    threads: Array
    front: Array
    hinged: NDArray[np.bool_]
    damage: Array
    block: IceBlock
    unsettled: int

    @property
    def peak(self) -> float:
        """Largest load [N]."""
        return float(self.load.max())


class _Tube:
    """Beam, limits and directions of the loads."""

    def __init__(self, case: Case, block: IceBlock) -> None:
        tube, placement, metal = case.tube, case.placement, case.metal
        above = standing_out(tube, placement) if placement.attachment == "eye" else 0.0
        count = max(round(above / 0.005), 1) if above > 1e-9 else 0
        head = -above + above * np.arange(count) / max(count, 1)
        self.beam: Beam = make_beam(np.concatenate([head, block.s]), placement.angle)
        self.section: Section = hollow_section(tube.radius, tube.bore, metal)
        kind, at = np.r_[block.kind, TOE], np.r_[block.at, block.s[-1]]
        self.kind = kind
        self.node = count + np.searchsorted(block.s, at - 1e-9)
        self.sign = np.where((kind == FRONT) | (kind == THREADS), 1.0, -1.0)
        self.across = (kind == FRONT) | (kind == BACK)
        toe_k, toe_limit = toe(tube, case.ice)
        per_length = np.where(kind[:-1] == THREADS, thread_limit(tube, case.ice), crushing_limit(tube, case.ice))
        self.high = np.r_[per_length * block.width, toe_limit]
        self.low = np.where(kind == THREADS, -self.high, 0.0)
        self.toe_flexibility = 1 / toe_k
        self.pull = case.pull.unit[[0, 2]]

    def flexibility(self, of_block: Array) -> Array:
        """With the toe's own (k, k)."""
        k = len(of_block)
        F = np.zeros((k + 1, k + 1))
        F[:k, :k], F[k, k] = of_block, self.toe_flexibility
        return F


def _step(
    tube: _Tube, F: Array, old: _Track, step: float, f: Array, q: Array
) -> tuple[Array, Array, float, BeamForces, Array] | None:
    """q, f, load, forces of the beam and motions a step [m] on; None where Newton's method does not come to it."""
    beam, node, sign, across = tube.beam, tube.node, tube.sign, tube.across
    m, k = len(beam.s), len(node)
    scale = 1 / np.diag(F)
    load = old.load
    row = _control(tube, old.q)
    for _ in range(ITERATIONS):
        found = resist(beam, tube.section, q, old.plastic)
        a, n = directions(beam.angle + q[:, 2])
        a_mid, n_mid = directions(beam.angle + 0.5 * (q[:, 2] + old.q[:, 2]))
        moved = (q - old.q)[:, :2]
        mid = np.where(across[:, None], n_mid[node], a_mid[node])
        turn_mid = np.where(across[:, None], -a_mid[node], n_mid[node])
        motion = old.motion + sign * np.vecdot(moved[node], mid)
        gap = motion - old.crushed - F @ f
        trial = f + scale * gap
        low, high = trial < tube.low, trial > tube.high
        stick = ~low & ~high
        end = np.where(across[:, None], n[node], a[node])
        turn_end = np.where(across[:, None], -a[node], n[node])
        R = found.force.copy()
        np.add.at(R[:, :2], node, (sign * f)[:, None] * end)
        R[0, :2] -= load * tube.pull
        G = np.where(stick, gap, np.where(low, tube.low - f, tube.high - f) / scale)
        short = step - float((row * (q - old.q)).sum())
        size = max(abs(load), 100.0)
        off = max(float(np.abs(R[:, :2]).max()), float(np.abs(R[:, 2]).max()) / ARM, float(np.abs(scale * G).max()))
        if off < TOLERANCE * size + 1e-4 and abs(short) < 1e-11:
            return q, f, load, found, motion
        J = np.zeros((3 * m + k + 1, 3 * m + k + 1))
        J[: 3 * m, : 3 * m] = dense(found.band, 3 * m)
        at = 3 * node
        for c in range(2):
            np.add.at(J, (at + c, at + 2), sign * f * turn_end[:, c])
            J[at + c, 3 * m + np.arange(k)] = sign * end[:, c]
            J[3 * m + np.arange(k), at + c] = np.where(stick, sign * mid[:, c], 0.0)
            J[c, -1] = -tube.pull[c]
        J[3 * m + np.arange(k), at + 2] = np.where(stick, 0.5 * sign * np.vecdot(moved[node], turn_mid), 0.0)
        J[3 * m : -1, 3 * m : -1] = np.where(stick[:, None], -F, -np.diag(1 / scale))
        J[-1, : 3 * m] = row.ravel()
        right = np.concatenate([-R.ravel(), -G, [short]])
        weight = np.concatenate([np.ones(3 * m), scale, [1e9]])  # rows of one size
        try:
            change = np.linalg.solve(weight[:, None] * J, weight * right)
        except np.linalg.LinAlgError:
            return None
        if not np.isfinite(change).all() or np.abs(change[2 : 3 * m : 3]).max() > 0.5:
            return None
        q, f, load = q + change[: 3 * m].reshape(m, 3), f + change[3 * m : -1], load + float(change[-1])
    return None


def _control(tube: _Tube, q: Array) -> Array:
    """(m, 3): how the motion of each node counts in a step."""
    row = np.zeros_like(q)
    threads = tube.kind == THREADS
    a, _ = directions(tube.beam.angle + q[tube.node[threads], 2])
    np.add.at(row[:, :2], tube.node[threads], THREADS_COUNT * a / max(threads.sum(), 1))
    row[0, :2] += tube.pull
    return row


def progressive_pull(
    case: Case,
    farthest: float,
    fallen: float = 0.5,
    most: int = 150,
    size: Resolution = SIZE,
    split: str = "no_tension",
    tell: Callable[[tuple[float, ...]], None] = lambda row: None,
) -> Progress:
    """Pull a case's tube until the load has fallen to `fallen` of its largest, or the load point moved `farthest` [m].

    tell : gets displacement, load and the largest damage of each step.
    Raises ValueError for what cannot be meshed, SolveError where a step is not found.
    """
    block = ice_block(case.tube, case.placement, case.ice, size, split)
    tube = _Tube(case, block)
    m, k, n = len(tube.beam.s), len(tube.node), block.solid.n
    zero = np.zeros(k)
    track = _Track(
        np.zeros((m, 3)), zero, zero, zero, np.zeros((m - 1, len(tube.section.area))), np.zeros(n), np.zeros(3 * n)
    )
    step, largest, unsettled = FIRST, 0.0, 0
    U, F = block.respond(track.u, track.damage)
    for _ in range(most):
        while (found := _advance(tube, block, track, step, U, F)) is None:
            step *= 0.3
            if step < LEAST:
                raise SolveError(
                    f"no step on from {track.curve[-1][0] * 1e3:.4g} mm" if track.curve else "no first step"
                )
        U, F, grown, settled = found
        unsettled += not settled
        tell((*track.curve[-1], grown))
        largest = max(largest, track.load)
        if track.load < fallen * largest or track.curve[-1][0] > farthest:
            break
        step = min(step * (WIDEN if grown < MOST_DAMAGE else 1.0), LARGEST)
    curve = np.array(track.curve)
    return Progress(
        curve[:, 0], curve[:, 1], curve[:, 2], curve[:, 3], curve[:, 4] > 0.5, track.damage, block, unsettled
    )


def _advance(
    tube: _Tube, block: IceBlock, track: _Track, step: float, U: Array, F: Array
) -> tuple[Array, Array, float, bool] | None:
    """One step; changes the track. Returns U, F, the growth of damage, whether it settled; None where none is found."""
    q, f, damage, before = track.q, track.f, track.damage, track.damage
    settled = False
    for _ in range(ROUNDS):
        found = _step(tube, tube.flexibility(F), track, step, f, q)
        if found is None:
            found = _step(tube, tube.flexibility(F), track, step, track.f, track.q)
        if found is None:
            return None
        q, f, load, forces, motion = found
        u = U @ f[:-1]
        new = block.solid.break_further(u, damage)
        moved = float(np.abs(new - damage).max())
        damage = new
        U, F = block.respond(u, damage)
        if moved < SETTLED:
            settled = True
            break
    whole = tube.flexibility(F)
    limit = (f >= tube.high * (1 - 1e-9)) | ((tube.kind == THREADS) & (f <= tube.low * (1 - 1e-9)))
    track.crushed = np.where(limit, motion - whole @ f, track.crushed)
    track.q, track.f, track.load, track.motion, track.damage, track.u = q, f, load, motion, damage, u
    track.plastic = forces.section.plastic
    block.solid.keep_directions(track.u, damage)
    hinge = np.abs(forces.section.moment).max() / tube.section.plastic_moment > 0.97
    threads, front = (float(f[tube.kind == what].sum()) for what in (THREADS, FRONT))
    track.curve.append((float(tube.pull @ q[0, :2]), load, threads, front, float(hinge)))
    return U, F, float(np.abs(damage - before).max()), settled
