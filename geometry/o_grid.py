"""The mapped mesh's cross-section: an O-grid of quadrilaterals over half a disc round the tube's axis.

Rings of quadrilaterals surround the axis from the bore outwards. Inside the bore a square core closes the disc; it is
used only below the hole, where there is solid ice on the axis. Each quadrilateral runs (inner, outer, outer next,
inner next), counter-clockwise: its first local coordinate is the radius, its second the angle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CORE_SHARE = 0.55  # half side of the square core over the bore's radius


@dataclass(frozen=True, slots=True)
class HalfDisc:
    """points : (2, n) Cartesian (xi toward the front, eta out of the symmetry plane) [m].

    quads : (4, m) point indices.  inner_radius : (m,) radius of the ring's inner side [m], 0 in the core.
    ring : (m,) bool, True where the quadrilateral is a sector of an annulus (its true sides are arcs).
    """

    points: NDArray[np.float64]
    quads: NDArray[np.int64]
    inner_radius: NDArray[np.float64]
    ring: NDArray[np.bool_]


def graded(length: float, first: float, last: float, growth: float, largest: float) -> NDArray[np.float64]:
    """Points (n,) [m] from 0 to `length` with element sizes near `first` and `last` at the ends, growing inwards.

    The size wanted at x is h(x) = min(first + growth x, last + growth (length - x), largest) [m]; the number of
    elements is the integral of dx/h rounded up, and the points divide that integral evenly (smooth grading).
    """
    x = np.linspace(0.0, length, 2001)
    size = np.minimum(np.minimum(first + growth * x, last + growth * (length - x)), largest)
    count = np.concatenate([[0.0], np.cumsum(0.5 * (1 / size[1:] + 1 / size[:-1]) * np.diff(x))])
    n = max(1, int(np.ceil(count[-1] - 1e-9)))
    points = np.interp(np.linspace(0.0, count[-1], n + 1), count, x)
    points[0], points[-1] = 0.0, length
    return points


def half_disc(radii: NDArray[np.float64], sectors: int) -> HalfDisc:
    """Section with rings at `radii` [m] (increasing, the first is the bore) and `sectors` elements over 180 degrees.

    Raises ValueError if `sectors` is not a multiple of four or the radii do not increase.
    """
    if sectors % 4 or sectors < 4:
        raise ValueError(f"sectors = {sectors}: must be a multiple of 4")
    if np.any(np.diff(radii) <= 0) or radii[0] <= 0:
        raise ValueError(f"radii = {radii}: must be positive and increase")
    phi = np.linspace(0.0, np.pi, sectors + 1)
    rings = np.stack([np.outer(radii, np.cos(phi)), np.outer(radii, np.sin(phi))])
    rings[1][:, -1] = 0.0
    ring_id = np.arange(rings[0].size).reshape(rings[0].shape)

    quarter, half = CORE_SHARE * radii[0], sectors // 2
    xi, eta = np.meshgrid(np.linspace(-quarter, quarter, half + 1), np.linspace(0, quarter, sectors // 4 + 1))
    core_id = ring_id.size + np.arange(xi.size).reshape(xi.shape)
    points = np.hstack([rings.reshape(2, -1), np.stack([xi.ravel(), eta.ravel()])])
    border = np.concatenate([core_id[:, -1], core_id[-1, -2::-1], core_id[-2::-1, 0]])

    def between(inner: NDArray[np.int64], outer: NDArray[np.int64]) -> NDArray[np.int64]:
        return np.stack([inner[:-1], outer[:-1], outer[1:], inner[1:]])

    annuli = [between(ring_id[i], ring_id[i + 1]) for i in range(len(radii) - 1)]
    core = np.stack([core_id[:-1, :-1], core_id[:-1, 1:], core_id[1:, 1:], core_id[1:, :-1]]).reshape(4, -1)
    closing = between(border, ring_id[0])
    return HalfDisc(
        points=points,
        quads=np.hstack([core, closing, *annuli]),
        inner_radius=np.concatenate(
            [np.zeros(core.shape[1] + closing.shape[1]), np.repeat(radii[:-1], sectors)],
        ),
        ring=np.concatenate(
            [np.zeros(core.shape[1] + closing.shape[1], bool), np.ones(sectors * (len(radii) - 1), bool)],
        ),
    )
