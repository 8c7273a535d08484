"""Axisymmetric section (r, z) of a threaded tube upright in ice, with a cone crack that is a grid line.

The thread is taken as closed rings (steel); the ice is cut to their shape. The outer upper corner of one ring (crest,
bearing face) starts the crack, a polyline single-valued in r. The grid is a tensor product inside the crest's radius.
Outside, row j runs at

    z_j(r) = z_c(r) + D(r) [(1 - w) p_j + w q_j]                                                         [m]

z_c   the crack path; past its last point it goes on in the last direction and levels off before it meets the surface
D     distance from the crack's row up to the surface, or down to the bottom
p_j   the row's share of D at the crest (grid lines keep their heights where they leave the threads), q_j graded from
      the tip's size; w rises from 0 at the crest to 1 well before the tip

Every element is a trapezium with two upright sides of positive length, whatever the path: no mesh can fold. Vertices of
the crack line are doubled up to the tip, so that its faces part. All sizes are lengths of the column or multiples of
them: a scaled column has the scaled mesh.

Limits: rings are rectangles; a path that leaves the horizontal by more than STEEPEST skews the elements too far.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import pairwise
from math import inf, pi, tan

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from skfem import MeshQuad

from .o_grid import graded
from .placement import Tube

Array = NDArray[np.float64]
RING_SHARE = 0.3  # of the pitch, ring's thickness (assumed: the mean of a tapering thread)
LEAST_COVER = 0.5  # thread heights of ice over a ring that counts (assumed: less has nothing to bear)
HOLE_BELOW_TIP = 0.35  # m per m of outer diameter (6 mm for 17 mm)
STUB = 0.6  # length of tube meshed above the ice over the outer diameter
FAR = 4.0  # distance of the held faces over the embedment
STEEPEST = 80 * pi / 180
TURN = 0.3  # of the embedment: the rows take at least this far to turn from the threads to the crack
SMALL = 1e-9  # of the embedment


@dataclass(frozen=True, slots=True)
class Column:
    """Steel column with rings, all lengths in m, heights from the surface (negative in the ice).

    radius, wall : of the plain tube (wall = radius: a solid bar).  embedment : depth of the tip.
    bottoms : (n,) lower faces of the rings, from the tip up.  height, thickness : of the rings.
    hole : depth of the hole below the tip.  stub : length above the ice.  far : distance of the held faces.
    rock : depth of a rigid base under the ice; inf: none, the bottom is held far away.  smooth : the ice slides on it.
    """

    radius: float
    wall: float
    embedment: float
    bottoms: tuple[float, ...]
    height: float
    thickness: float
    hole: float
    stub: float
    far: float
    rock: float = inf
    smooth: bool = False

    @property
    def bottom(self) -> float:
        """Height of the lower end of the ice [m]."""
        return -min(self.rock, self.embedment + self.hole + self.far)

    @property
    def crest(self) -> float:
        """Outer radius of the rings [m]."""
        return self.radius + self.height

    def bearing_face(self, ring: int) -> float:
        """Height of a ring's upper face [m]."""
        return self.bottoms[ring] + self.thickness

    def scaled(self, k: float) -> Column:
        """The column with all lengths times k [-]."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}
        bottoms = tuple(k * b for b in values.pop("bottoms"))
        smooth = values.pop("smooth")
        return Column(bottoms=bottoms, smooth=smooth, **{name: k * value for name, value in values.items()})


def tube_column(tube: Tube, embedment: float, rock: float = inf, smooth: bool = False) -> Column:
    """Column of a tube upright in the ice, `embedment` [m] deep: a ring in the middle of each threaded pitch there.

    rock, smooth : as of `Column`; the hole ends halfway between tip and rock at the latest.
    Raises ValueError if no ring is in the ice, or if the tip is not above the rock.
    """
    pitch, height = tube.thread_pitch, tube.thread_height
    thickness = RING_SHARE * pitch
    low = -embedment + 0.5 * (pitch - thickness)
    count = round(tube.thread_length / pitch)
    tops = low + thickness + pitch * np.arange(count)
    bottoms = tuple((tops[tops < -LEAST_COVER * height] - thickness).tolist())
    if not bottoms or height <= 0:
        raise ValueError(f"embedment [m] = {embedment:g}: must leave at least one thread in the ice")
    if not rock > embedment:
        raise ValueError(f"rock [m] = {rock:g}: must be deeper than the tip at {embedment:g}")
    d = tube.outer_diameter
    hole = min(HOLE_BELOW_TIP * d, 0.5 * (rock - embedment))
    lengths = (height, thickness, hole, STUB * d, FAR * embedment)
    return Column(tube.radius, tube.wall, embedment, bottoms, *lengths, rock, smooth)


def stud_column(depth: float, radius: float, head: float, thickness: float) -> Column:
    """Headed stud: a solid bar with one ring `head` wide and `thickness` high, its upper face at `depth` [m]."""
    tip = depth + thickness
    return Column(radius, radius, tip, (-tip,), head, thickness, 0.7 * radius, 1.2 * radius, FAR * depth)


@dataclass(frozen=True)
class ConeSection:
    """steel, ice : meshes in (r, z) [m].  above : (ice elements,) bool, rows above the crack's.

    path : (2, n) crack from the ring's corner to its tip (n = 1: no crack).  tip_size : element size there [m].
    """

    column: Column
    ring: int
    path: Array
    steel: MeshQuad
    ice: MeshQuad
    above: NDArray[np.bool_]
    tip_size: float


def build_section(column: Column, ring: int, path: Array, size: float, tip_size: float | None = None) -> ConeSection:
    """Mesh with elements of about `size` [m] at the threads and `tip_size` at the crack's tip.

    path : (2, n) from the corner of `ring` outwards, r rising; its first point is the corner.
    Raises ValueError for a path that does not start there, turns back, is too steep or leaves the ice.
    """
    path = np.asarray(path, dtype=float)
    tip_size = size if tip_size is None else tip_size
    _check_path(column, ring, path)
    near, outer = _columns(column, path, size, tip_size)
    heights, crack_row, surface_row = _heights(column, ring, size, min(size, tip_size))
    r = np.concatenate([near, outer[1:]])
    z = np.repeat(heights[:, None], r.size, axis=1)
    at_crest = near.size - 1
    z[: surface_row + 1, at_crest:] = _rows(column, path, outer, heights[: surface_row + 1], crack_row, tip_size)
    number = np.arange(z.size).reshape(z.shape)
    quads = np.stack([number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]]).reshape(4, -1)
    p = np.stack([np.repeat(r[None], len(heights), axis=0).ravel(), z.ravel()])
    row, col = np.divmod(np.arange(quads.shape[1]), r.size - 1)
    steel, ice = _materials(column, *(0.5 * (lines[1:] + lines[:-1]) for lines in (r, heights)))
    tip_column = at_crest + int(np.argmin(np.abs(outer - path[0, -1])))
    upper = quads.copy()
    twins = p[:, number[crack_row, at_crest:tip_column]]
    twin = np.arange(p.shape[1])
    twin[number[crack_row, at_crest:tip_column]] = p.shape[1] + np.arange(twins.shape[1])
    is_above = row >= crack_row
    upper[:, is_above] = twin[quads[:, is_above]]
    ice_ids = np.flatnonzero(ice[row, col])
    return ConeSection(
        column,
        ring,
        path,
        _part(p, quads[:, steel[row, col]]),
        _part(np.hstack([p, twins]), upper[:, ice_ids]),
        is_above[ice_ids],
        tip_size,
    )


def _part(p: Array, quads: NDArray[np.int64]) -> MeshQuad:
    used, renumbered = np.unique(quads, return_inverse=True)
    return MeshQuad(np.ascontiguousarray(p[:, used]), np.ascontiguousarray(renumbered.reshape(quads.shape)))


def _check_path(column: Column, ring: int, path: Array) -> None:
    corner = np.array([column.crest, column.bearing_face(ring)])
    if np.abs(path[:, 0] - corner).max() > SMALL * column.embedment:
        raise ValueError(f"path starts at {path[:, 0]}: must start at the ring's corner {corner} m")
    steps = np.diff(path, axis=1)
    if np.any(steps[0] <= 0) or np.any(np.abs(steps[1]) > tan(STEEPEST) * np.maximum(steps[0], 0)):
        angles = np.degrees(np.arctan2(steps[1], steps[0])).round(1)
        raise ValueError(f"path runs at {angles} deg: must stay between -80 and 80 deg from the surface plane")
    if path[1, 1:].max(initial=corner[1]) >= 0 or path[0, -1] >= 0.8 * column.far:
        raise ValueError(f"path ends at {path[:, -1]} m: must stay below the surface and within the block")


def _pieces(marks: list[float], size: float) -> Array:
    steps = ((a, b, max(1, round((b - a) / size))) for a, b in pairwise(marks))
    return np.concatenate([*(np.linspace(a, b, n + 1)[:-1] for a, b, n in steps), marks[-1:]])


def _columns(column: Column, path: Array, size: float, tip_size: float) -> tuple[Array, Array]:
    """Grid lines r up to the crest, and from there to the far face with the path's points among them."""
    bore = column.radius - column.wall
    marks = [0.0, column.radius, column.crest] if bore <= 0 else [0.0, bore, column.radius, column.crest]
    near = _pieces(marks[:-1], 2 * size)
    thread = column.radius + graded(column.height, size, min(size, tip_size), 0.35, size)
    near = np.concatenate([near, thread[1:]])
    tip, run = path[0, -1], np.diff(path[:, -2:], axis=1)
    across = tip_size * (1.0 if path.shape[1] == 1 else float(run[0, 0] / np.hypot(*run[:, 0])))
    ends = np.unique(np.concatenate([path[0], [column.far]]))
    first = min(size, across)

    def wanted(r: Array) -> Array:
        return np.asarray(np.minimum(first + 0.3 * (r - column.crest), across + 0.3 * np.abs(r - tip)))

    lines = [np.array([column.crest])]
    for a, b in pairwise(ends):
        x = np.linspace(a, b, 2001)
        count = np.concatenate([[0.0], np.cumsum(0.5 * (1 / wanted(x)[1:] + 1 / wanted(x)[:-1]) * np.diff(x))])
        lines.append(np.interp(np.linspace(0, count[-1], max(1, int(np.ceil(count[-1] - 1e-6))) + 1), count, x)[1:])
        lines[-1][-1] = b
    return near, np.concatenate(lines)


def _heights(column: Column, ring: int, size: float, first: float) -> tuple[Array, int, int]:
    """Heights of the rows at the threads, `first` beside the crack's; indices of the crack's row and the surface's."""
    tip, face = -column.embedment, column.bearing_face(ring)
    edges = sorted({edge for low in column.bottoms for edge in (low, low + column.thickness)} | {tip})
    tiny = SMALL * column.embedment
    edges = [edges[0], *(b for a, b in pairwise(edges) if b - a > tiny)]
    under = tip - column.hole - column.bottom
    rows = [tip - column.hole - graded(under, 2 * size, under, 0.35, under)[::-1]]
    marks = [tip - column.hole, *edges, 0.0]
    for low, high in pairwise(marks):
        below = first if abs(low - face) < tiny else size
        above = first if abs(high - face) < tiny else size
        largest = 4 * size if high == 0.0 else 1.5 * size
        if low == tip - column.hole:
            below, largest = 2 * size, 3 * size
        if high == 0.0:
            above = 2 * size
        rows.append(low + graded(high - low, below, above, 0.35, largest)[1:])
        rows[-1][-1] = high
    stub = _pieces([0.0, column.stub], 3 * size)[1:]
    heights = np.concatenate([*rows, stub])
    heights[0] = column.bottom
    return heights, int(np.argmin(np.abs(heights - face))), int(np.argmin(np.abs(heights)))


def _crack_line(column: Column, path: Array, r: Array) -> Array:
    """z of the crack's row: the path, and past its tip on in its last direction, levelling off below the surface."""
    tip = path[:, -1]
    slope = 0.0 if path.shape[1] == 1 else float((path[1, -1] - path[1, -2]) / (path[0, -1] - path[0, -2]))
    reach = min(0.5 * abs(tip[1]) / max(abs(slope), 1e-12), 0.5 * column.far)
    beyond = tip[1] + slope * reach * (1 - np.exp(-np.maximum(r - tip[0], 0) / reach))
    return np.where(r > tip[0], beyond, np.interp(r, path[0], path[1]))


def _rows(column: Column, path: Array, r: Array, heights: Array, crack_row: int, tip_size: float) -> Array:
    """z of all rows up to the surface at the lines r outside the crest, shape (rows, lines)."""
    line = _crack_line(column, path, r)
    turned = max(0.9 * (path[0, -1] - column.crest), TURN * column.embedment)
    s = np.clip((r - column.crest) / turned, 0, 1)
    w = s * s * (3 - 2 * s)
    z = np.empty((heights.size, r.size))
    z[crack_row] = line
    for part, end in ((np.arange(crack_row, heights.size), 0.0), (np.arange(crack_row, -1, -1), heights[0])):
        p = (heights[part] - heights[crack_row]) / (end - heights[crack_row])
        q = _shares(part.size - 1, tip_size / abs(end - path[1, -1]))
        share = (1 - w) * p[:, None] + w * q[:, None]
        z[part] = line + (end - line) * share
    return z


def _shares(n: int, first: float) -> Array:
    """n + 1 numbers from 0 to 1, (exp(k q) - 1)/(exp(k) - 1) with k >= 0 such that the first step is about `first`."""
    q = np.linspace(0.0, 1.0, n + 1)
    if n < 2 or first * n >= 1 - 1e-6:
        return q
    k = brentq(lambda k: np.expm1(k / n) / np.expm1(k) - first, 1e-9, 300.0)
    return np.asarray(np.expm1(k * q) / np.expm1(k))


def _materials(column: Column, r: Array, z: Array) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which cells (rows, columns) with centres at r and heights z are steel, and which are ice."""
    rings = np.zeros(z.size, bool)
    for low in column.bottoms:
        rings |= (z > low) & (z < low + column.thickness)
    inside, outside_bore = r < column.radius, r > column.radius - column.wall
    on_ring = rings[:, None] & (~inside & (r < column.crest))
    steel = ((z > -column.embedment)[:, None] & (inside & outside_bore)) | on_ring
    in_hole = (z > -column.embedment - column.hole)[:, None] & inside
    return steel, ~in_hole & ~on_ring & (z < 0)[:, None]
