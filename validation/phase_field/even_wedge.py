"""Quadrilaterals of one size and of no common direction in front of a tube, for cracks that find their own way.

`geometry.wedge_section` has the frame, the wedge between wall and surface, and the way of meshing. Here no crack is a
line of the mesh. Between the surface and `deep`, from the wall to x = `ahead`, elements are of `size`; beyond they grow
with the distance. Vertices are the quadtree's, each moved at random by up to JITTER of a triangle's side and then
evened, so that no rows are left; each triangle of Delaunay's is cut into three quadrilaterals through its middle:

    side of a triangle   size sqrt(12/sqrt(3)) = 2.63 size  [m]     three quadrilaterals of size^2 each from it

On rows of elements, two of them to its length, a phase field would run along a row.

Limits: as `geometry.wedge_section`; the numbers are drawn from a seed, so that a mesh is the same each time.
"""

from __future__ import annotations

from math import ceil, log2, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from skfem import MeshQuad

from ...geometry.wedge_section import CLOSE, FAR, GROWTH, clearance, fill, no_slivers, rim, smoothed

Array = NDArray[np.float64]
Index = NDArray[np.int64]
SIDE = sqrt(12 / sqrt(3))  # of a triangle over the size of its quadrilaterals
JITTER = 0.35


def even_wedge(angle: float, depth: float, size: float, reach: tuple[float, float], seed: int = 0) -> MeshQuad:
    """Mesh the wedge of a tube at `angle` [rad], the lower end of the loaded `depth` [m] a vertex.

    size : of elements [m].  reach : ahead, deep: end of the part of this size [m].  The arc is FAR to 2 FAR depths off.
    Raises ValueError for an angle beyond 90 deg, and a size or reach that is not above zero.
    """
    if not -np.pi / 2 < angle <= np.pi / 2:
        raise ValueError(f"angle = {np.degrees(angle):.0f} deg: must lie above -90 and not above 90")
    if min(size, *reach) <= 0:
        raise ValueError(f"size, reach = {size}, {reach} m: must be above 0")
    side, (ahead, deep) = SIDE * size / depth, (each / depth for each in reach)

    def wanted(x: Array) -> Array:
        return np.asarray(side + GROWTH * np.hypot(np.maximum(x[0] - ahead, 0), np.maximum(-deep - x[1], 0)))

    cell = sqrt(sqrt(0.75)) * side  # as many vertices as triangles of this side have; halved far is 2 far / 2^k
    far = 0.5 * cell * 2 ** ceil(log2(2 * FAR / cell))
    border = rim(angle, [0.0, 1.0, far], wanted, side)
    free = fill(border, wanted, far, angle)
    free = free + JITTER * wanted(free) * np.random.default_rng(seed).uniform(-1, 1, free.shape)
    kept = np.minimum(*clearance(angle, free)) > 0.5 * CLOSE * wanted(free)
    free = smoothed(border, free[:, kept & (np.hypot(*free) < far)])
    p = np.hstack([border, free])
    t = no_slivers(p, Delaunay(p.T).simplices.T.astype(np.int64))
    return _in_three(depth * p, t)


def _in_three(p: Array, t: Index) -> MeshQuad:
    """Each triangle of t (3, m) cut through its middle into quadrilaterals, one at each corner."""
    n, m = p.shape[1], t.shape[1]
    sides, of = np.unique(np.sort(np.hstack([t[[0, 1]], t[[1, 2]], t[[2, 0]]]), axis=0), axis=1, return_inverse=True)
    first, second, third = n + of.reshape(3, m)
    middle = n + sides.shape[1] + np.arange(m)
    corners = [[t[0], first, middle, third], [t[1], second, middle, first], [t[2], third, middle, second]]
    points = np.hstack([p, p[:, sides].mean(axis=1), p[:, t].mean(axis=1)])
    return MeshQuad(points, np.ascontiguousarray(np.hstack([np.stack(each) for each in corners])))
