"""A slit round the tube whose generators turn from ring to ring: one layer of the half model, moved and slit open.

Along the axis, at the distance rho from the wall of the hole and the angle phi from the front, the surface has risen
from the circle where it starts, the depth d below the mouth, by

    g(rho, phi) = sum over rings of tan(e + (a + t) cos phi) len(ring within rho),    e, t = (front +- back) / 2     [m]

a: placement angle. front, back: rise against the ice's surface in the plane of the pull, in front of the tube and
behind it; front is given ring by ring, back is one for all. With one front for all rings that is the straight surface
of `geometry.slit_half_model` of elevation e and tilt t; there fronts are at the same share of the way to the surface
all round, here at the same distance from the wall. Angles are in rad, lengths in m.

Limits: between front and back the rise follows cos phi alone. Against the plane square to the axis a generator falls by
DOWN and rises by UP at most. Where it would come closer to the surface than NEAREST d it runs on below the surface;
where deeper than DEEPEST of the block, level.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi, tan

import numpy as np
from numpy.typing import NDArray

from ...geometry.half_model import Cut, build_half_model
from ...geometry.layers import Layers, Resolution, to_block
from ...geometry.o_grid import graded
from ...geometry.placement import Placement, Tube
from ...geometry.slit_half_model import ConeModel, ConeShape

Array = NDArray[np.float64]
DOWN, UP = 1.187, 1.2  # rad, steepest generators
NEAREST, DEEPEST = 0.2, 0.6  # of d under the surface; of the block
SPARE = (0.03, 1.0)  # the hole goes on below the start by this [m] or this share of d, whichever is more
BLOCK = (0.5, 4.0)  # radius of the block [m], or over the embedment, whichever is more
GROWTH = 0.3  # of a ring's width per unit of distance
NUDGE = 1e-6  # m, of the differences that give normals


@dataclass(frozen=True, eq=False)
class TurningSurface:
    """tube, placement : of the hole.  depth : d [m].  marks : (n + 1,) edges of the rings, distance from the wall [m].

    front : (n,) rise of each ring in front.  back : rise behind.
    """

    tube: Tube
    placement: Placement
    depth: float
    marks: Array
    front: Array
    back: float

    @property
    def far(self) -> float:
        """Radius of the block [m]."""
        return max(BLOCK[0], BLOCK[1] * self.placement.embedment)

    def rise(self, rho: Array, cosine: Array) -> Array:
        """g (m,) at distances from the wall [m] and cosines of phi, each (m,) [m]."""
        inside = np.clip(rho - self.marks[:-1, None], 0.0, np.diff(self.marks)[:, None])
        elevation, tilt = 0.5 * (self.front + self.back), 0.5 * (self.front - self.back)
        slope = elevation[:, None] + (self.placement.angle + tilt)[:, None] * cosine
        return np.asarray((np.tan(np.clip(slope, -DOWN, UP)) * inside).sum(axis=0))

    def place(self, straight: Array, layers: Layers) -> Array:
        """Straight coordinates (3, m) to the block's x, y, z (3, m) [m]."""
        xi, eta, s = straight
        r, R = np.hypot(xi, eta), self.tube.radius
        c, sn = np.where(r > 1e-12, np.array([xi, eta]) / np.maximum(r, 1e-12), np.array([[1.0], [0.0]]))
        lean, at = tan(self.placement.angle), float(layers.s[layers.cut])
        hole = self._layer(R * c, R * sn, at, layers)
        rho = np.clip(r - R, 0.0, self.marks[-1])
        start = lean * R * c - hole
        depth = lean * (R + rho) * c - hole - self.rise(rho, c)
        depth = np.minimum(np.maximum(depth, np.minimum(NEAREST * self.depth, start)), DEEPEST * self.far)
        along, bottom = self._layer(xi, eta, s, layers), self._layer(xi, eta, float(layers.s[0]), layers)
        old, top = self._layer(xi, eta, at, layers), lean * xi
        slit = top - depth
        below = bottom + (along - bottom) * (slit - bottom) / (old - bottom)
        moved = np.where(s <= at, below, top - (top - along) * (top - slit) / (top - old))
        along = np.where(r > R + 1e-12, moved, along)
        y = np.array([0.0, 1.0, 0.0])
        return np.outer(self.placement.axis, along) + np.outer(self.placement.front, xi) + np.outer(y, eta)

    def _layer(self, xi: Array, eta: Array, s: float | Array, layers: Layers) -> Array:
        """Place along the axis of points of the sheared layer s [m]."""
        straight = np.stack([xi, eta, np.broadcast_to(s, xi.shape)])
        return np.asarray(self.placement.axis @ to_block(straight, self.tube, self.placement, layers))


def ring_marks(longest: float, first: float, step: float) -> Array:
    """Edges of the rings from the wall to `longest`, the first ring narrow, then of even steps [m]."""
    return graded(longest, first, step, GROWTH, step)


def turning_surface(
    tube: Tube, angle: float, depth: float, marks: Array, front: Sequence[float], back: float
) -> TurningSurface:
    """A surface from `depth` [m] down the wall of a hole as `fem.chip.body` has it; the last front holds on outwards.

    Raises ValueError for fewer or more fronts than rings.
    """
    rings = marks.size - 1
    if not 0 < len(front) <= rings:
        raise ValueError(f"front: must hold one to {rings} directions, has {len(front)}")
    embedment = depth + max(SPARE[0], SPARE[1] * depth)
    plain = replace(tube, length=embedment, thread_length=0.0, eye=0.0)
    given = np.concatenate([front, np.full(rings - len(front), front[-1])])
    return TurningSurface(plain, Placement(angle, embedment), depth, marks, given, back)


def turning_slit(surface: TurningSurface, size: Resolution, rings: int) -> ConeModel:
    """The half model slit along the first `rings` of the surface.

    Lengths, areas and depths of its rings are left empty.  Raises MeshError if the mesh is tangled.
    """
    R, marks = surface.tube.radius, surface.marks
    step = float(marks[-1] - marks[-2])
    outside = graded(surface.far - R - float(marks[-1]), step, surface.far, size.growth, surface.far)
    radii = R + np.concatenate([marks[:-1], marks[-1] + outside])
    kept: list[Layers] = []

    def place(straight: Array, layers: Layers) -> Array:
        kept.append(layers)
        return surface.place(straight, layers)

    cut = Cut(-surface.depth, radii, R + float(marks[rings]), place)
    half = build_half_model(surface.tube, surface.placement, 0.0, size, surface.far, cut)
    straight = half.straight[:, half.faces[0]]
    azimuth, rho = np.arctan2(straight[1], straight[0]), np.hypot(*straight[:2]) - R
    frames = _frames(surface, kept[0], azimuth, rho)
    share = rho / marks[-1]
    edges, under = np.linspace(0.0, pi, half.beside.shape[2] + 1), half.beside[half.under, :rings]
    shape, empty = ConeShape(surface.depth, 0.0), np.zeros(0)
    return ConeModel(
        half,
        shape,
        share,
        azimuth,
        share < 1e-9,
        marks[1 : rings + 1] / marks[-1],
        empty,
        edges,
        under,
        empty,
        empty,
        frames,
    )


def _frames(surface: TurningSurface, layers: Layers, azimuth: Array, rho: Array) -> Array:
    """Columns (3, 3, k): normal upwards, round, normal x round; at an edge of rings the mean of both sides."""
    R, s = surface.tube.radius, float(layers.s[layers.cut])
    rho = np.maximum(rho, 2 * NUDGE)  # off the wall, which stays where it is

    def at(phi: Array, out: Array) -> Array:
        r = R + out
        return surface.place(np.stack([r * np.cos(phi), r * np.sin(phi), np.full(phi.shape, s)]), layers)

    outward = at(azimuth, rho + NUDGE) - at(azimuth, rho - NUDGE)
    turn = NUDGE / R
    round_ = at(azimuth + turn, rho) - at(azimuth - turn, rho)
    n = np.cross(outward, round_, axis=0)
    on_plane = np.abs(np.sin(azimuth)) < 1e-9
    n[1, on_plane] = 0.0
    n /= np.linalg.norm(n, axis=0)
    t = np.where(on_plane, np.array([[0.0], [1.0], [0.0]]) * np.cos(azimuth), round_)
    t = t - (t * n).sum(axis=0) * n
    t /= np.linalg.norm(t, axis=0)
    return np.stack([n, t, np.cross(n, t, axis=0)], axis=1)
