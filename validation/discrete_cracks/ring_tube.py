"""A tube on rings of a wall that is a body of its own: step by step, with bounded loads on the rings.

The tube is the beam of `fem.tube.beam` and `fem.tube.cross_section`. The ice gives a flexibility F (k, k) [m/N], the
motions of its rings under unit loads (`fem.cracks.wall_loads`) as it is at the moment. With f_j the load of ring j [N],
g what it has been crushed or slipped by [m],

    front, back   0 <= f <= q w     bounded crushing, q of `fem.laws.crushing`, w the ring's width; g stays
    threads       |f| <= t w        t of `fem.laws.threads.thread_limit`, slipping (g)
    toe           0 <= f <= limit   a spring of its own (`fem.laws.wall.toe`)
    inside these limits   motion of the tube - g - (F f) = 0

Motions are followed as in `fem.tube.ice_springs`, along the current normal and axis. A step moves the load point along
the pull.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import cos

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import lsq_linear

from ...fem.case import Case
from ...fem.cracks.wall_loads import FRONT, THREADS, Rings
from ...fem.laws.crushing import Crushing, crushing_inputs, crushing_limit, crushing_of, stamp_pressure
from ...fem.laws.recipes import RECIPES
from ...fem.laws.threads import thread_limit, toe
from ...fem.tube.beam import dense, directions, make_beam, resist
from ...fem.tube.cross_section import hollow_section
from ...geometry.placement import lever_arm

Array = NDArray[np.float64]
TOE = 3
ITERATIONS, TOLERANCE, ARM = 100, 1e-6, 0.01
EXCHANGES, LEAST_EIGENVALUE = 10, 1e-12
RIGID = 1e-18  # m/N, of a ring whose ice is gone
EDGE = 1e-3  # N, nearer than which to a limit a load is taken to be there
SPRINGS = (1e4, 1e5, 1e6, 1e7)  # N/m, at every node while an answer is sought: they bear nothing once that is found
TURN = 0.05  # rad, more than which no node turns in one of Newton's steps
HINGE = 0.97  # of the plastic moment


@dataclass(frozen=True, slots=True)
class RingState:
    """q (m, 3) of the beam; f, motion, crushed g (k,) of the rings; plastic strains; the load [N]; the
    largest share of a strain limit that is used."""

    q: Array
    f: Array
    motion: Array
    crushed: Array
    plastic: Array
    load: float
    hinged: bool = False
    strain_used: float = 0.0


@lru_cache
def _crushing(inputs: tuple[tuple[str, float], ...]) -> Crushing:
    return crushing_of(lambda name, asked: RECIPES[name](asked), dict(inputs))[0]


class RingTube:
    """A case's beam with the limits and directions of the loads that its rings bear; the last is the toe's."""

    def __init__(self, case: Case, rings: Rings) -> None:
        tube, placement, metal = case.tube, case.placement, case.metal
        above = lever_arm(tube, placement)
        count = max(round(above / 0.005), 1) if above > 1e-9 else 0
        head = -above + above * np.arange(count) / max(count, 1)
        self.beam = make_beam(np.concatenate([head, rings.s]), placement.angle)
        self.assumed = case.assumed
        self.section = hollow_section(tube.radius, tube.bore, metal, assumed=case.assumed)
        self.mouth = count
        self.kind = np.r_[rings.kind, TOE]
        self.node = count + np.r_[rings.node, len(rings.s) - 1]
        self.depth = self.beam.s[self.node]
        self.sign = np.where((self.kind == FRONT) | (self.kind == THREADS), 1.0, -1.0)
        self.across = (self.kind != THREADS) & (self.kind != TOE)
        crushing = _crushing(tuple(crushing_inputs(case.ice).items()))
        stamp, depth = stamp_pressure(case.ice, case.assumed, crushing), rings.s[rings.node] * cos(placement.angle)
        toe_k, toe_limit = toe(tube, case.ice, stamp)
        per_length = np.where(
            rings.kind == THREADS,
            thread_limit(tube, case.ice, case.assumed, stamp),
            crushing_limit(tube, case.ice, case.assumed, crushing, depth, placement.angle),
        )
        self.high = np.r_[per_length * rings.width, toe_limit]
        self.toe_flexibility = 1 / toe_k
        self.pull = case.pull.unit[[0, 2]]
        self.turn, self.farthest = case.pull.turn, case.pull.movement

    def unloaded(self) -> RingState:
        """The state before the pull."""
        m, zero = len(self.beam.s), np.zeros(len(self.node))
        return RingState(np.zeros((m, 3)), zero, zero, zero, np.zeros((m - 1, len(self.section.area))), 0.0)

    def flexibility(self, of_rings: Array) -> Array:
        """Flexibility of the rings with the toe's own (k, k) [m/N]."""
        k = len(of_rings)
        F = np.zeros((k + 1, k + 1))
        F[:k, :k], F[k, k] = of_rings, self.toe_flexibility
        return F

    def travel(self, state: RingState) -> float:
        """Movement of the load point [m]."""
        return float(self.pull @ state.q[0, :2])

    def lean(self, state: RingState) -> float:
        """Angle of the axis at the mouth, as the placement's [rad]."""
        return float(self.beam.angle + state.q[self.mouth, 2])

    def settle(self, F: Array, old: RingState, new: RingState, high: Array) -> RingState:
        """A balanced state, with what has been crushed since the last step under limits `high` (k,)."""
        low = np.where(self.kind == THREADS, -high, 0.0)
        at_limit = (new.f >= high * (1 - 1e-9)) | ((self.kind == THREADS) & (new.f <= low * (1 - 1e-9)))
        crushed = np.where(at_limit, new.motion - F @ new.f, old.crushed)
        return replace(new, crushed=crushed)


def balance_rings(
    tube: RingTube, F: Array, old: RingState, step: float, high: Array, guess: RingState
) -> RingState | None:
    """The balanced state a step [m] on from `old` with limits `high` (k,), None if none is found.

    Newton's method on the beam; in each step the rings' loads are those of a quadratic programme with bounds.
    """
    node, sign, across, m = tube.node, tube.sign, tube.across, len(tube.beam.s)
    scale, low = 1 / np.maximum(np.diag(F), RIGID), np.where(tube.kind == THREADS, -high, 0.0)
    q, f, load = guess.q, np.clip(guess.f, low, high), guess.load
    for _ in range(ITERATIONS):
        found = resist(tube.beam, tube.section, q, old.plastic)
        a, n = directions(tube.beam.angle + q[:, 2])
        a_mid, n_mid = directions(tube.beam.angle + 0.5 * (q[:, 2] + old.q[:, 2]))
        moved = (q - old.q)[:, :2]
        mid = np.where(across[:, None], n_mid[node], a_mid[node])
        turn_mid = np.where(across[:, None], -a_mid[node], n_mid[node])
        end = np.where(across[:, None], n[node], a[node])
        turn_end = np.where(across[:, None], -a[node], n[node])
        motion = old.motion + sign * np.vecdot(moved[node], mid)
        R = found.force.copy()
        np.add.at(R[:, :2], node, (sign * f)[:, None] * end)
        R[0, :2] -= load * tube.pull
        short = step - float(tube.pull @ moved[0])
        held = f - np.clip(f + scale * (motion - old.crushed - F @ f), low, high)
        off = max(float(np.abs(R[:, :2]).max()), float(np.abs(R[:, 2]).max()) / ARM, float(np.abs(held).max()))
        if off < TOLERANCE * max(abs(load), 100.0) and abs(short) < 1e-11:
            hinged = bool(np.abs(found.section.moment).max() > HINGE * tube.section.plastic_moment)
            used = float(tube.section.limit.used(found.strain[0], found.strain[2])[0].max())
            return RingState(q, f, motion, old.crushed, found.section.plastic, load, hinged, used)
        K = dense(found.band, 3 * m)
        for c in range(2):
            np.add.at(K, (3 * node + c, 3 * node + 2), sign * f * turn_end[:, c])
        push = _spread(node, sign[:, None] * end, np.zeros(len(node)), m)
        felt = _spread(node, sign[:, None] * mid, 0.5 * sign * np.vecdot(moved[node], turn_mid), m)
        border = np.zeros((3 * m + 1, 3 * m + 1))
        border[: 3 * m, : 3 * m] = K
        border[:2, -1], border[-1, :2] = -tube.pull, tube.pull
        right = np.column_stack([np.r_[push @ f - R.ravel(), short], np.vstack([push, np.zeros(len(f))])])
        for spring in SPRINGS:
            held_fast = border + np.diag(np.r_[np.tile([spring, spring, spring * ARM**2], m), 0.0])
            x = np.linalg.solve(held_fast, right)
            tried = bounded_loads(F + felt.T @ x[:-1, 1:], motion - old.crushed + felt.T @ x[:-1, 0], f, low, high)
            change = x[:, 0] - x[:, 1:] @ tried
            if np.abs(change[2:-1:3]).max() < TURN:
                break
        else:
            return None
        q, f, load = q + change[:-1].reshape(m, 3), tried, load + float(change[-1])
    return None


def _spread(node: NDArray[np.int64], forces: Array, moments: Array, m: int) -> Array:
    """(3 m, k): what unit loads of the rings do at the beam's nodes, forces (k, 2) and moments (k,)."""
    out, k = np.zeros((3 * m, len(node))), np.arange(len(node))
    for c in range(2):
        out[3 * node + c, k] = forces[:, c]
    out[3 * node + 2, k] = moments
    return out


def bounded_loads(H: Array, h: Array, f: Array, low: Array, high: Array) -> Array:
    """f (k,) within low and high: h - H f is 0 inside, not below 0 at high, not above 0 at low.

    First by a quadratic programme with the even part of H, the odd at f; then exactly, limits exchanged where needed,
    unless H is singular there.
    """
    even = 0.5 * (H + H.T)
    size = np.sqrt(np.diag(even))
    open_ = high > low
    w, U = np.linalg.eigh((even / np.outer(size, size))[np.ix_(open_, open_)])
    root = np.sqrt(np.maximum(w, LEAST_EIGENVALUE))  # friction makes H odd, and its even part may dip below zero
    target = U.T @ ((h - (H - even) @ f) / size)[open_] / root
    bounds = ((low * size)[open_], (high * size)[open_])
    out = low.copy()
    out[open_] = lsq_linear(root[:, None] * U.T, target, bounds, method="bvls", tol=1e-14).x / size[open_]
    at_low, at_high = out <= low + EDGE, out >= high - EDGE
    for _ in range(EXCHANGES):
        exact = np.where(at_low, low, high)
        inside = ~(at_low | at_high)
        try:
            exact[inside] = np.linalg.solve(H[np.ix_(inside, inside)], (h - H[:, ~inside] @ exact[~inside])[inside])
        except np.linalg.LinAlgError:  # two rings that move alike may share a load anyhow
            return out
        pulls = exact + (h - H @ exact) / np.diag(H)  # where each would go
        before, at_low, at_high = (at_low, at_high), pulls <= low, pulls >= high
        if np.array_equal(before, (at_low, at_high)):
            return exact
    return out
