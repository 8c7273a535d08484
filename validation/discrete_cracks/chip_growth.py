"""The crack of a chip as it grows: outwards ring by ring, and sideways from fan to fan.

What the next step would release at the same loads of the wall's rings, with forces and jumps as in `fem.cracks.slit`,

    W = 1/2 sum over its pairs of (f_holding + f_faces) . v,        drive = (W_n + W_t / r^2) / (G_c dA) >= 1: it opens

whether it goes to the next ring in the same fan or to the next sector's edge at the same ring. A crack at its last ring
is through: the rest above that ring breaks, and the piece hangs by its sides alone until the crack has gone all round.
Then it lies loose (`loose_ice`).

Limits: sides are planes through the axis, and give way along the slit only, not by a crack down from the surface; W is
a mean over a ring, or over a sector.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from ...fem.cracks.slit import Crack
from ...fem.errors import SolveError

Array = NDArray[np.float64]


@dataclass(eq=False)
class Chip(Crack):
    """A chip's crack.  hanging : through, with the rest above its last ring gone from its slit."""

    hanging: bool = False

    @property
    def loose(self) -> bool:
        """Whether it is through and has gone all round."""
        return self.hanging and self.fan > pi - 1e-6

    def ways_on(self) -> Iterator[tuple[int, float]]:
        """Ring and fan of each step that an open crack may take."""
        if not self.through:
            yield self.ring + 1, self.fan
        wider = self.slit.cone.edges[self.slit.cone.edges > self.fan + 1e-6]
        if wider.size:
            yield self.ring, float(wider[0])

    def drive_to(self, f: Array, ring: int, fan: float) -> float:
        """Drive of a step of an open crack under ring loads f (n,); 0 if not found."""
        slit, load = self.slit, self.slit.c @ f
        was, now = slit.cone.opened(self.ring, self.fan), slit.cone.opened(ring, fan)
        try:
            before, _ = self._faces(f, self.ring, self.fan)
            after, _ = self._faces(f, ring, fan)
        except SolveError:
            return 0.0
        holding = (load - slit.S[:, np.repeat(was, 3)] @ before.jump.ravel()).reshape(-1, 3)
        new = now & ~was
        W = (0.5 * (holding[new] + after.force[new[now]]) * after.jump[new[now]]).sum(axis=0)
        area = slit.cone.area
        dA = area[:ring, : self._sectors(fan)].sum() - area[: self.ring, : self._sectors(self.fan)].sum()
        return float((W[0] + (W[1] + W[2]) / slit.sliding_ratio**2) / (slit.fracture_energy * dA))

    def _sectors(self, fan: float) -> int:
        return int(np.argmin(np.abs(self.slit.cone.edges - fan)))
