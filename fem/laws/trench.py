"""Chips in front of a tube, the trench that they leave, and the load of the next chip: one law for start and fate.

    F(d, psi) = K_IC f(d, psi)    push on the wall down to d that starts a chip out of a surface      `chip.growth`  [N]
    a(psi)                        rise of its crack against that surface, as it runs on               `chip.path`  [rad]

psi: angle of the tube's axis from the normal of the surface (positive: the head leans toward the push). A crack that
rises comes out, and its chip is free: nothing holds it but friction, and it slides out as the tube moves on. Where
a <= 0 the crack dives: the ice above it stays and bears. Ice that has left is gone down to t, the trench; its floor
rises in front. The next chip, from the depth s, comes out of a surface that rises by b against the first one, from the
trench's bottom to the place where the chip comes out:

    tan b = (t / s) tan(b + a(psi + b)),      F_next = F(s - t, psi + b),      out = clip(a(psi + b) / FLAT, 0, 1)
    trench:   dt = (s - t) out dg / spall      s: bottom of the wall that is at its limit; dg: crushing motion at t  [m]

To the next chip the tube leans farther toward the push: it needs more, and it dives sooner. So a trench deepens
ever more slowly, and is deep where the head leans away. Where a chip needs more than crushing, nothing goes.

Limits: the trench is as wide as any chip; one line for its floor; chips under the first depth of the law bear in
proportion to it; a is of plane sections, cracks followed for five depths (`assumed.chip_border_shift` moves it).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within

Array = NDArray[np.float64]
SHARES, LEANS = np.linspace(0.0, 1.0, 101), np.radians(np.arange(-90.0, 91.0, 1.0))  # at which b is kept
HALVINGS, ROUND_OFF = 30, 1e-9  # of b; rad
STEEPEST = 1.2  # rad, of a crack's rise
FLAT = np.radians(10.0)  # rise from which a chip comes out whole
FIRM = 0.1  # of crushing, by which a chip must need more for its ice to stay


class ChipTable(NamedTuple):
    """`Chips` as compiled code reads them.

    floors : (SHARES, LEANS) b at shares t / s and angles, not a number until it is asked for: the least that meets
    tan b = t / s tan(b + a) [rad].
    """

    angles: Array
    step: float
    force: Array
    turns: Array
    rise: Array
    shift: float
    floors: Array


NO_CHIPS = ChipTable(np.zeros(0), 1.0, np.zeros((0, 0)), np.zeros(0), np.zeros(0), 0.0, np.zeros((0, 0)))


@dataclass(frozen=True, eq=False)
class Chips:
    """angles : (a,) psi, rising [rad].  step : of the depths [m].  force : (a, n) f at 0, step, .. [m^1.5].

    turns : (b,) psi, rising, and rise : (b,) a [rad].  shift : of the border between chips and cracks that dive [rad].
    """

    angles: Array
    step: float
    force: Array
    turns: Array
    rise: Array
    shift: float = 0.0

    @cached_property
    def table(self) -> ChipTable:
        """The same as a named tuple."""
        angles, force, turns, rise = (
            np.array(each, float) for each in (self.angles, self.force, self.turns, self.rise)
        )
        floors = _floors(turns.tobytes(), rise.tobytes())
        return ChipTable(angles, float(self.step), force, turns, rise, float(self.shift), floors)

    def start(self, depth: Array, angle: Array) -> Array:
        """f at depths [m] and angles [rad], each (m,), on lines; the end values of the angles hold beyond [m^1.5]."""
        return np.array([started(self.table, d, at) for d, at in zip(*np.broadcast_arrays(depth, angle), strict=True)])

    def rises(self, angle: Array) -> Array:
        """a at angles [rad]."""
        return np.interp(angle, self.turns, self.rise)

    def floor(self, s: Array, trench: float, angle: Array) -> Array:
        """b for chips from depths s (m,) over a trench [m], of axes at `angle` (m,) from the surface's normal [rad]."""
        return np.array([floor_at(self.table, d, trench, at) for d, at in zip(s, angle, strict=True)])

    def next(self, edges: Array, trench: float, angle: Array) -> tuple[Array, Array]:
        """`next_chips` of these."""
        return next_chips(self.table, np.array(edges, float), float(trench), np.array(angle, float))


@lru_cache(maxsize=16)
def _floors(turns: bytes, rise: bytes) -> Array:
    """`ChipTable.floors` of these rises, shared by all that have them: what one pull found, the next need not."""
    return np.full((len(SHARES), len(LEANS)), np.nan)


@within
def _line(x: float, places: Array, values: Array) -> float:
    """On lines between (places, values), the end values beyond."""
    last = len(places) - 1
    if x <= places[0]:
        return values[0]
    if x >= places[last]:
        return values[last]
    i = np.searchsorted(places, x, side="right") - 1
    return (values[i + 1] - values[i]) / (places[i + 1] - places[i]) * (x - places[i]) + values[i]


@compiled
def started(chips: ChipTable, depth: float, angle: float) -> float:
    """f at a depth [m] and angle [rad], on lines; the end values of the angles hold beyond [m^1.5]."""
    angles, force, last = chips.angles, chips.force, len(chips.angles) - 1
    i = min(max(int(np.searchsorted(angles, angle)) - 1, 0), max(last - 1, 0))
    j = min(i + 1, last)
    p = min(max((angle - angles[i]) / max(angles[j] - angles[i], 1e-12), 0.0), 1.0)
    x = max(depth, 0.0) / chips.step
    k = min(int(x), force.shape[1] - 2)
    r = x - k
    low = (1 - r) * force[i, k] + r * force[i, k + 1]
    high = (1 - r) * force[j, k] + r * force[j, k + 1]
    return (1 - p) * low + p * high


@within
def _kept_floor(chips: ChipTable, i: int, j: int) -> float:
    """b at SHARES[i], LEANS[j] [rad], found as it is first asked for."""
    floors, turns, rise = chips.floors, chips.turns, chips.rise
    if np.isnan(floors[i, j]):
        share, angle, low, high = SHARES[i], LEANS[j], 0.0, STEEPEST
        for _ in range(HALVINGS):
            b = 0.5 * (low + high)
            own = min(max(b + max(_line(angle + b, turns, rise), 0.0), 0.0), STEEPEST)
            if b >= np.arctan(share * np.tan(own)) - ROUND_OFF:  # at the floor all b beyond the border would do
                high = b
            else:
                low = b
        floors[i, j] = 0.5 * (low + high) if share > 0 else 0.0
    return float(floors[i, j])


@compiled
def floor_at(chips: ChipTable, s: float, trench: float, angle: float) -> float:
    """b for a chip from the depth s over a trench [m], of an axis at `angle` from the surface's normal [rad]."""
    if trench <= 0:
        return 0.0
    r = min(max(trench / max(s, 1e-9), 0.0), 1.0) * (len(SHARES) - 1)
    x = (min(max(angle, LEANS[0]), LEANS[-1]) - LEANS[0]) / (LEANS[1] - LEANS[0])
    i, j = min(int(r), len(SHARES) - 2), min(int(x), len(LEANS) - 2)
    p, q = r - i, x - j
    low = (1 - q) * _kept_floor(chips, i, j) + q * _kept_floor(chips, i, j + 1)
    high = (1 - q) * _kept_floor(chips, i + 1, j) + q * _kept_floor(chips, i + 1, j + 1)
    return (1 - p) * low + p * high


@compiled
def next_chips(chips: ChipTable, edges: Array, trench: float, angle: Array) -> tuple[Array, Array]:
    """F_next / K_IC between edges (m + 1,) of m pieces of the wall [m^1.5], and which share of a chip from each
    comes out [-]."""
    m = len(angle)
    force, out = np.empty(m), np.empty(m)
    for i in range(m):
        leaning = angle[i] + floor_at(chips, 0.5 * (edges[i + 1] + edges[i]), trench, angle[i])
        force[i] = started(chips, edges[i + 1] - trench, leaning) - started(chips, edges[i] - trench, leaning)
        out[i] = min(max(_line(leaning - chips.shift, chips.turns, chips.rise) / FLAT, 0.0), 1.0)
    return force, out
