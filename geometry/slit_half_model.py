"""A family of tilted cones in the half model: one layer of the mapped mesh becomes the cone and is slit open.

A cone starts on the wall of the hole at depth `start` below the mouth (along the axis) and rises outwards. Along the
axis, at the angle phi from the front, its line leaves the wall with the slope q against the plane square to the axis.
It would come out of the surface at the distance W, with a the placement angle and D_0 the depth of the start [m]:

    q(phi) = tan(elevation + (a + tilt) cos phi),     W(phi) = D_0(phi) / (q - tan(a) cos phi)

In the plane of the pull the line rises by elevation + tilt against the surface in front and by elevation - tilt behind,
whatever the placement angle. W is held smoothly between NARROWEST and WIDEST times the depth of the start. Three moves
of the straight coordinates (`half_model`) make the mesh; columns stay parallel to the axis:
1. radii r - R in the near zone, share lambda in [0, 1] of it, are stretched to lambda W(phi): a ring of the mesh is a
   front at the same share of the way to the surface all round;
2. the layers are sheared to the surface (`layers.to_block`);
3. the layer at the start moves along the axis onto the cone, the others in proportion. From lambda = FLAT on the cone
   bends to run below the surface at about a tenth of the depth; it is slit to lambda = LAST.

Limits: straight generators; one depth of start and one lambda of the front all round; tilt in cos phi only; fan sides
are planes phi = constant; fronts of cones too flat for WIDEST run to LAST of the widest W, below the surface.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, tan

import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2

from .half_model import Cut, HalfModel, build_half_model
from .layers import LEVELS, Layers, Level, Resolution, to_block
from .o_grid import graded
from .placement import Placement, Tube

Array = NDArray[np.float64]
NARROWEST, WIDEST = 0.2, 2.5  # W over the depth of the start
FLAT, LAST, SETTLE = 0.88, 0.9, 0.04  # shares of the way: straight up to, slit up to, and how the bend dies away
STEEPEST = 1.25  # rad, of a generator against the plane square to the axis: the mesh's columns run along the axis
SHALLOWEST = 0.010  # m, least depth of the start
FRONT_GROWTH = 0.3  # change of a ring's width per unit of distance in the near zone
# resolution and least number of fronts over the way; coarser round the mouth and the axis than a search for onset needs
CONE_LEVELS: dict[Level, tuple[Resolution, int]] = {
    "quick": (LEVELS["quick"], 8),
    "standard": (Resolution(sectors=8, ring=0.0030, mouth=0.0035, tip=0.0040, growth=0.7, deep=0.020), 12),
    "fine": (LEVELS["standard"], 14),
}


@dataclass(frozen=True, slots=True)
class ConeShape:
    """start : along the axis below the mouth [m].

     elevation, tilt : [rad]; positive tilt: steep in front, shallow behind.

    fan : half angle of the opened sector round the axis, from the front [rad]; pi is the full cone.
    """

    start: float
    elevation: float
    tilt: float = 0.0
    fan: float = pi

    def __post_init__(self) -> None:
        for name, value, low, high in (
            ("start [m]", self.start, SHALLOWEST, 0.5),
            ("elevation [rad]", self.elevation, -0.6, 1.2),
            ("tilt [rad]", self.tilt, -0.8, 0.8),
            ("fan [rad]", self.fan, 0.2, pi + 1e-12),
        ):
            if not low <= value <= high:
                raise ValueError(f"cone.{name} = {value:g}: must lie between {low:g} and {high:g}")


@dataclass(frozen=True)
class ConeModel:
    """A half model with a slit cone, and where each pair of nodes, ring and element lies on the cone.

    share : (k,) lambda of each pair of `half.faces`; azimuth : (k,) phi [rad]; on_hole : (k,) bool, on its wall.
    rings : (m,) lambda of the fronts, increasing, the last is LAST.  lengths : (m,) from the wall to each front, mean
    round the axis [m].  edges : (sectors + 1,) azimuths of fan edges [rad].
    under : (rings, sectors) elements below the slit; area : of their faces [m^2], depth : the mean below z = 0 [m].
    frames : (3, 3, k) columns n (out of the cone, upwards), t (round the axis), n x t at each pair; on the wall e_a, t,
    and the direction toward the axis instead.
    """

    half: HalfModel
    shape: ConeShape
    share: Array
    azimuth: Array
    on_hole: NDArray[np.bool_]
    rings: Array
    lengths: Array
    edges: Array
    under: NDArray[np.int64]
    area: Array
    depth: Array
    frames: Array

    def opened(self, ring: int, fan: float) -> NDArray[np.bool_]:
        """(k,) pairs of a crack whose front is the ring numbered `ring` (from 1; 0 is no crack), in a fan."""
        inside = self.share < (self.rings[ring - 1] if ring else -1.0) - 1e-9
        return inside & ((self.azimuth < fan - 1e-6) | (fan > pi - 1e-6))

    def fan_edge(self, fan: float) -> float:
        """The edge of a sector closest to `fan` [rad]."""
        return float(self.edges[1:][np.argmin(np.abs(self.edges[1:] - fan))])


def build_cone_model(
    tube: Tube, placement: Placement, shape: ConeShape, crust: float = 0.0, level: Level | Resolution = "standard"
) -> ConeModel:
    """Mesh a half model whose slit layer is the cone.

    crust : depth [m] above which elements (by their middle) are the crust's; its face is no layer here.
    Raises ValueError if the start lies below the tip or a generator is too steep, MeshError if the mesh is tangled.
    """
    if shape.start > placement.embedment + 1e-9:
        raise ValueError(
            f"cone.start [m] = {shape.start:g}: must not lie below the tip, "
            f"placement.embedment = {placement.embedment:g}"
        )
    steepest = shape.elevation + abs(placement.angle + shape.tilt)
    if steepest > STEEPEST:
        raise ValueError(
            f"cone.elevation + |placement.angle + cone.tilt| [rad] = {steepest:.4g}: must not exceed {STEEPEST:g}"
        )
    size, fronts = CONE_LEVELS[level] if isinstance(level, str) else (level, CONE_LEVELS["standard"][1])
    cone = SlitWarp(tube, placement, shape, max(0.4, 4 * placement.embedment))
    radii, rings = cone.radii(size, fronts)
    cut = Cut(-shape.start, radii, tube.radius + LAST * cone.near, cone.place)
    half = build_half_model(tube, placement, 0.0, size, cone.far, cut)
    mesh, (above, _) = half.mesh, half.faces
    if crust > 0:
        middle = mesh.doflocs[2, mesh.dofs.element_dofs].mean(axis=0)
        inside = middle[half.regions["ice"]] > -crust
        half.regions["crust"] = half.regions["ice"][inside]
        half.regions["ice"] = half.regions["ice"][~inside]
    xi, eta = half.straight[:2, above]
    share = (np.hypot(xi, eta) - tube.radius) / cone.near
    under = half.beside[half.under, : rings.size]
    normals, area, depth = _faces(half, under)
    frames = _frames(half, normals[:, above], np.abs(share) < 1e-9)
    edges = np.linspace(0.0, pi, half.beside.shape[2] + 1)
    lengths = _lengths(half, under)
    azimuth, on_hole = np.arctan2(eta, xi), share < 1e-9
    return ConeModel(half, shape, share, azimuth, on_hole, rings, lengths, edges, under, area, depth, frames)


@dataclass(frozen=True, slots=True)
class SlitWarp:
    """The three moves of the module docstring. near : width of the near zone before stretching [m]."""

    tube: Tube
    placement: Placement
    shape: ConeShape
    far: float

    @property
    def near(self) -> float:
        """Width of the near zone before stretching [m]."""
        return min(self.shape.start * cos(self.placement.angle), 0.5 * self.far)

    def radii(self, size: Resolution, fronts: int) -> tuple[Array, Array]:
        """Radii of the rings outside the tube and the shares of the fronts."""
        largest = self.near / fronts
        near = graded(LAST * self.near, size.ring, largest, FRONT_GROWTH, largest)
        beyond = self.near + graded(self.far - self.tube.radius - self.near, largest, self.far, size.growth, self.far)
        return self.tube.radius + np.concatenate([near, beyond]), near[1:] / self.near

    def _layer(self, xi: Array, eta: Array, s: float | Array, layers: Layers) -> Array:
        """Place along the axis of points of the sheared layer s."""
        straight = np.stack([xi, eta, np.broadcast_to(s, xi.shape)])
        return self.placement.axis @ to_block(straight, self.tube, self.placement, layers)

    def place(self, straight: Array, layers: Layers) -> Array:
        """Straight coordinates (3, n) to the block's x, y, z (3, n) [m]."""
        xi, eta, s = straight
        r, R = np.hypot(xi, eta), self.tube.radius
        c, sn = np.where(r > 1e-12, np.array([xi, eta]) / np.maximum(r, 1e-12), np.array([[1.0], [0.0]]))
        lean = tan(self.placement.angle)
        at = float(layers.s[layers.cut])
        hole = self._layer(R * c, R * sn, at, layers)
        D_0 = lean * R * c - hole
        slope = np.tan(self.shape.elevation + (self.placement.angle + self.shape.tilt) * c) - lean * c
        W = _between(slope / D_0, self.shape.start * cos(self.placement.angle))
        out = np.maximum(r - R, 0.0)
        wide = W + (out - self.near) * (self.far - R - W) / (self.far - R - self.near)
        stretched = np.where(out <= self.near, out * W / self.near, wide)
        xi, eta = np.where(r > R, R + stretched, r) * np.array([c, sn])
        share = np.minimum(stretched / W, 50.0)
        ramp = np.where(share <= FLAT, share, FLAT + SETTLE * -np.expm1(-np.maximum(share - FLAT, 0) / SETTLE))
        along, bottom = self._layer(xi, eta, s, layers), self._layer(xi, eta, float(layers.s[0]), layers)
        old, top = self._layer(xi, eta, at, layers), lean * xi
        cone = top - (D_0 - slope * ramp * W)
        below = bottom + (along - bottom) * (cone - bottom) / (old - bottom)
        moved = np.where(s <= at, below, top - (top - along) * (top - cone) / (top - old))
        along = np.where(r > R + 1e-12, moved, along)
        y = np.array([0.0, 1.0, 0.0])
        return np.outer(self.placement.axis, along) + np.outer(self.placement.front, xi) + np.outer(y, eta)


def _between(inverse: Array, depth: float) -> Array:
    """Width 1 / inverse, held smoothly between NARROWEST and WIDEST depths."""
    low, high = 1 / (WIDEST * depth), 1 / (NARROWEST * depth)
    soft = 0.1 * low
    x = low + 0.5 * (inverse - low + np.hypot(inverse - low, soft))
    return 1 / (high - 0.5 * (high - x + np.hypot(high - x, soft)))


def _lengths(half: HalfModel, under: NDArray[np.int64]) -> Array:
    """Distance from the wall to each front (rings,) along the cone, the mean over the sectors' middles [m]."""
    ends = np.array([[0.0, 1.0], [0.5, 0.5], [1.0, 1.0]])
    x = half.mesh.mapping().F(ends, tind=under.ravel())  # (3, elements, 2)
    step = np.linalg.norm(x[:, :, 1] - x[:, :, 0], axis=0).reshape(under.shape)
    return np.cumsum(step.mean(axis=1))


def _faces(half: HalfModel, under: NDArray[np.int64]) -> tuple[Array, Array, Array]:
    """Nodal normals (3, nodes) of the slit, upwards; areas and mean depths (rings, sectors) of its elements."""
    mapping, mesh, elements = half.mesh.mapping(), half.mesh, under.ravel()
    local = mesh.dofs.element_dofs[:, elements]
    at = ElementHex2.doflocs
    top = np.flatnonzero(at[:, 2] == 1)
    side = mapping.DF(np.ascontiguousarray(at[top].T), tind=elements)  # (3, 3, elements, 9)
    cross = np.cross(side[:, 0], side[:, 1], axis=0)
    normals = np.zeros((3, mesh.doflocs.shape[1]))
    for c in range(3):
        np.add.at(normals[c], local[top], cross[c].T)
    x, w = np.polynomial.legendre.leggauss(4)
    a, b = (v.ravel() for v in np.meshgrid(0.5 + 0.5 * x, 0.5 + 0.5 * x))
    points = np.stack([a, b, np.ones_like(a)])
    weight = 0.25 * np.outer(w, w).ravel()
    side = mapping.DF(points, tind=elements)
    density = np.linalg.norm(np.cross(side[:, 0], side[:, 1], axis=0), axis=0) * weight
    z = mapping.F(points, tind=elements)[2]
    area = density.sum(axis=1)
    depth = -(z * density).sum(axis=1) / area
    _, below = half.faces
    normals[:, half.faces[0]] = normals[:, below]
    normals /= np.maximum(np.linalg.norm(normals, axis=0), 1e-300)
    return normals, area.reshape(under.shape), depth.reshape(under.shape)


def _frames(half: HalfModel, normal: Array, on_hole: NDArray[np.bool_]) -> Array:
    """Columns of `ConeModel.frames`; on the symmetry plane the second is +-e_y exactly."""
    xi, eta = half.straight[:2, half.faces[0]] / np.hypot(*half.straight[:2, half.faces[0]])
    round_ = np.outer(half.frame[:, 0], -eta) + np.outer(half.frame[:, 1], xi)
    radial = np.outer(half.frame[:, 0], xi) + np.outer(half.frame[:, 1], eta)
    normal = np.where(np.abs(eta) < 1e-9, normal * np.array([[1.0], [0.0], [1.0]]), normal)
    n = np.where(on_hole, half.frame[:, 2:], normal / np.linalg.norm(normal, axis=0))
    t = round_ - (round_ * n).sum(axis=0) * n
    t /= np.linalg.norm(t, axis=0)
    return np.stack([n, t, np.where(on_hole, -radial, np.cross(n, t, axis=0))], axis=1)
