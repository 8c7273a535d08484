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
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
SHARES, LEANS = np.linspace(0.0, 1.0, 101), np.radians(np.arange(-90.0, 91.0, 1.0))  # at which b is kept
HALVINGS, ROUND_OFF = 30, 1e-9  # of b; rad
STEEPEST = 1.2  # rad, of a crack's rise
FLAT = np.radians(10.0)  # rise from which a chip comes out whole
FIRM = 0.1  # of crushing, by which a chip must need more for its ice to stay


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
    def floors(self) -> Array:
        """b (SHARES, LEANS) at shares t / s and angles: the least that meets tan b = t / s tan(b + a) [rad]."""
        share, angle = SHARES[:, None], LEANS[None, :]
        low, high = np.zeros((len(SHARES), len(LEANS))), np.full((len(SHARES), len(LEANS)), STEEPEST)
        for _ in range(HALVINGS):
            b = 0.5 * (low + high)
            own = np.clip(b + np.maximum(self.rises(angle + b), 0.0), 0.0, STEEPEST)
            over = b >= np.arctan(share * np.tan(own)) - ROUND_OFF  # at the floor all b beyond the border would do
            low, high = np.where(over, low, b), np.where(over, b, high)
        return np.where(share > 0, 0.5 * (low + high), 0.0)

    def start(self, depth: Array, angle: Array) -> Array:
        """f at depths [m] and angles [rad], each (m,), on lines; the end values of the angles hold beyond [m^1.5]."""
        last = len(self.angles) - 1
        i = np.clip(np.searchsorted(self.angles, angle) - 1, 0, max(last - 1, 0))
        j = np.minimum(i + 1, last)
        p = np.clip((angle - self.angles[i]) / np.maximum(self.angles[j] - self.angles[i], 1e-12), 0.0, 1.0)
        x = np.maximum(depth, 0.0) / self.step
        k = np.minimum(x.astype(int), self.force.shape[1] - 2)
        r = x - k
        low, high = ((1 - r) * self.force[at, k] + r * self.force[at, k + 1] for at in (i, j))
        return np.asarray((1 - p) * low + p * high)

    def rises(self, angle: Array) -> Array:
        """a at angles [rad]."""
        return np.interp(angle, self.turns, self.rise)

    def floor(self, s: Array, trench: float, angle: Array) -> Array:
        """b for chips from depths s (m,) over a trench [m], of axes at `angle` (m,) from the surface's normal [rad]."""
        if trench <= 0:
            return np.zeros_like(s)
        r = np.clip(trench / np.maximum(s, 1e-9), 0.0, 1.0) * (len(SHARES) - 1)
        x = (np.clip(angle, LEANS[0], LEANS[-1]) - LEANS[0]) / (LEANS[1] - LEANS[0])
        i, j = np.minimum(r.astype(int), len(SHARES) - 2), np.minimum(x.astype(int), len(LEANS) - 2)
        p, q = r - i, x - j
        table = self.floors
        low, high = ((1 - q) * table[at, j] + q * table[at, j + 1] for at in (i, i + 1))
        return np.asarray((1 - p) * low + p * high)

    def next(self, edges: Array, trench: float, angle: Array) -> tuple[Array, Array]:
        """F_next / K_IC between edges (m + 1,) of m pieces of the wall [m^1.5], and which share of a chip from each
        comes out [-]."""
        middle = 0.5 * (edges[1:] + edges[:-1])
        leaning = angle + self.floor(middle, trench, angle)
        force = self.start(edges[1:] - trench, leaning) - self.start(edges[:-1] - trench, leaning)
        return force, np.clip(self.rises(leaning - self.shift) / FLAT, 0.0, 1.0)
