"""Plane section of the ice in front of the tube, with a crack from the wall of the hole that is a line of the mesh.

Frame: x along the surface, the way of the pull, z out of the ice; the mouth, where wall and surface meet, is (0, 0).
The tube leans by `angle` (positive: its head toward the pull). Its axis is e_a = (sin, cos); the wall runs down along
-e_a and is pushed along e_1 = (cos, -sin). The ice fills the wedge of 90 deg + angle between wall and surface, out to
an arc of radius `far`. Elements are straight triangles:

    size wanted   h(x) = min over k of (s_k + GROWTH |x - y_k|)      sources y_k: loaded strip, crack faces, tip     [m]
    lines         wall, surface, arc and crack are cut in proportion to h; each vertex of the path is one of the mesh
    tip           RINGS rings of equilateral triangles of `tip_size`, one row of them along the crack
    else          centres of quadtree cells not wider than CELL h, evened by SMOOTHING rounds of Laplace
    triangles     Delaunay; a piece of a line that is no edge of them is halved until all are

The mesh is made anew for each crack, so a path may turn where it likes. Vertices of the crack are doubled up to its
tip. A section scaled in all its lengths has the scaled mesh, ties of round-off apart.

Limits: the wedge is convex (angles up to 90 deg); the tip keeps clear of surface and wall by RINGS elements.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from math import ceil, cos, degrees, pi, sin, sqrt

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from scipy.spatial import Delaunay, cKDTree
from skfem import MeshTri

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
Sources = tuple[Array, Array]
Wanted = Callable[[Array], Array]  # size (n,) of elements at points (2, n)
GROWTH = 0.25
RINGS = 6
FAR = 300.0  # radius of the held arc over the loaded depth
ALONG_FACES = 0.3  # of the distance to surface or wall: elements on the crack, up to `size`
CELL = 1.3  # of h: what gives as many vertices as triangles of side h have
CLOSE = 0.7  # of h: no vertex closer to those of the lines
SMOOTHING = 6
ROUNDS = 20  # of halving
FLAT = 1e-6  # height over base of what round-off leaves on a straight boundary


@dataclass(frozen=True, slots=True)
class ChipSection:
    """A wedge of ice with a crack.  SI, rad.

    angle : of the tube.  depth : loaded length of the wall.  path : (2, n) of the crack, from the wall to its tip.
    mesh : the crack's vertices doubled.  above : (elements,) those on the crack's left, the surface's side, that touch
    it behind the tip.  tip_size : of the elements at the tip.  far : radius of the arc.
    """

    angle: float
    depth: float
    path: Array
    mesh: MeshTri
    above: Mask
    tip_size: float
    far: float


def hole_point(angle: float, depth: float) -> Array:
    """Point (2,) of the wall, `depth` [m] from the mouth along it; angle : of the tube [rad]."""
    return -depth * np.array([sin(angle), cos(angle)])


def clearance(angle: float, x: Array) -> tuple[Array, Array]:
    """Distances of points (2, ...) from the surface and from the wall [m], positive in the ice."""
    return -x[1], cos(angle) * x[0] - sin(angle) * x[1]


def chip_section(
    angle: float, depth: float, path: Array, tip_size: float, size: float, far: float = FAR
) -> ChipSection:
    """Mesh the wedge with a crack along `path` (2, n >= 2) [m], whose first point lies on the wall.

    tip_size, size : of the elements at the tip, and at the loaded strip [m]. Along the crack sizes lie in between;
    farther than `depth` from surface and wall they grow in proportion.  far : radius of the arc over the depth. Raises
    ValueError for an angle beyond 90 deg, a path that leaves the ice or whose last piece is too short, and if no mesh
    conforms.
    """
    _demand(angle, path, tip_size, far * depth)
    unit, tip = path / depth, tip_size / depth  # in depths, so that round-off is the same for bodies of one shape
    sources = _sources(angle, unit, tip, size / depth)
    wanted, least = partial(_wanted, sources=sources), float(sources[1].min())
    points, edges, of_crack = _lines(angle, unit, tip, wanted, least, far)
    fixed = np.hstack([points, _apart(points, _tip_lattice(unit, tip), 0.5 * tip)])
    free = smoothed(fixed, fill(fixed, wanted, far, angle))
    p, t, crack = _conforming(fixed, free, edges, of_crack)
    mesh, above = _opened(MeshTri(np.ascontiguousarray(depth * p), np.ascontiguousarray(t)), crack)
    return ChipSection(angle, depth, path, mesh, above, tip_size, far * depth)


def _demand(angle: float, path: Array, tip_size: float, far: float) -> None:
    if not -pi / 2 < angle <= pi / 2:
        raise ValueError(f"angle = {degrees(angle):.0f} deg: must lie above -90 and not above 90")
    last = float(np.hypot(*(path[:, -1] - path[:, -2])))
    if last < RINGS * tip_size * (1 - 1e-9):
        raise ValueError(f"path: its last piece, {last} m, must be at least {RINGS} tip_size = {RINGS * tip_size} m")
    room = np.minimum(*clearance(angle, path))
    if abs(room[0]) > 1e-9 * last or room[1:].min() <= 0 or room[-1] < RINGS * tip_size * (1 - 1e-9):
        raise ValueError(f"path: must begin on the wall and run on in the ice, {RINGS} tip_size clear of it at the tip")
    if np.hypot(*path).max() > 0.5 * far:
        raise ValueError(f"path: must stay within half the radius of the held arc, {far} m")


def _sources(angle: float, path: Array, tip_size: float, size: float) -> Sources:
    """Points (2, k) and sizes (k,), in depths: strip, crack (finer where it runs close to a boundary), tip."""
    strip = np.linspace(0, 1, 1 + ceil(1 / size)) * hole_point(angle, 1.0)[:, None]
    strip = np.hstack([strip, path[:, :1]])
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=1)))])
    s = np.linspace(0, run[-1], 1 + ceil(2 * run[-1] / size))[1:]
    faces = np.stack([np.interp(s, run, each) for each in path])
    room = np.minimum(*clearance(angle, faces))
    along = np.maximum(np.maximum(np.minimum(ALONG_FACES * room, size), size * room), tip_size)
    count = np.cumsum(np.diff(s, prepend=0.0) / along)
    few = np.diff(np.floor(count), prepend=-1.0) > 0  # one an element, or all where they are coarser than elements
    y = np.hstack([strip, faces[:, few], path[:, -1:]])
    return y, np.concatenate([np.full(strip.shape[1], size), along[few], [tip_size]])


def _wanted(x: Array, sources: Sources) -> Array:
    """h (n,) at x (2, n)."""
    y, s = sources
    return np.asarray((s + GROWTH * np.hypot(x[0][:, None] - y[0], x[1][:, None] - y[1])).min(axis=1))


def _cut(a: Array, b: Array, wanted: Wanted, least: float) -> Array:
    """Points (2, n + 1) from a to b, pieces in proportion to h."""
    length = float(np.hypot(*(b - a)))
    near = np.geomspace(0.1 * least, length, 300)
    s = np.unique(np.concatenate([[0.0], near, length - near, np.linspace(0, length, 200)]))
    h = wanted(a[:, None] + np.outer(b - a, s / length))
    count = np.concatenate([[0.0], np.cumsum(0.5 * (1 / h[1:] + 1 / h[:-1]) * np.diff(s))])
    share = np.interp(np.linspace(0, count[-1], 1 + max(1, round(count[-1]))), count, s) / length
    return np.asarray(a[:, None] * (1 - share) + b[:, None] * share)


def rim(angle: float, stops: list[float], wanted: Wanted, least: float) -> Array:
    """Vertices (2, n) of the wedge's boundary in depths, round from the arc's end on the surface; angle [rad].

    stops : distances from the mouth of vertices on the wall, rising from 0 to the arc's radius.  least : of the sizes.
    """
    down = [hole_point(angle, each) for each in stops]
    turn = np.linspace(-pi / 2 - angle, 0.0, 1 + ceil((pi / 2 + angle) / GROWTH))
    arc = stops[-1] * np.stack([np.cos(turn), np.sin(turn)])
    arc[:, 0] = down[-1]
    cuts = (_cut(a, b, wanted, least) for a, b in pairwise([arc[:, -1], *down]))
    return np.hstack([piece[:, :-1] for piece in (*cuts, arc)])


def _lines(
    angle: float, path: Array, tip_size: float, wanted: Wanted, least: float, far: float
) -> tuple[Array, Index, Mask]:
    """Vertices (2, n) of boundary and crack [depths], edges (2, m), and which of these are the crack's, in order."""
    start = float(np.hypot(*path[:, 0]))
    stops = [0.0, 1.0, far] if abs(start - 1) < 1e-9 else sorted([0.0, 1.0, start, far])
    border = rim(angle, stops, wanted, least)
    n, even = border.shape[1], tip_size * np.arange(-RINGS, 1)
    corners = [*path.T[:-1], path[:, -1] + even[0] * _direction(path)]
    if np.hypot(*(corners[-1] - corners[-2])) < 0.3 * tip_size:
        corners.pop()
    cuts = [_cut(a, b, wanted, least)[:, 1:] for a, b in pairwise(corners)]
    line = np.hstack([*cuts, path[:, [-1]] + even[1:] * _direction(path)[:, None]])
    ring, k = np.arange(n), line.shape[1]
    leave = int(np.hypot(*(border - path[:, :1])).argmin())
    crack = np.concatenate([[leave], n + np.arange(k)])
    edges = np.hstack([np.stack([ring, np.roll(ring, -1)]), np.stack([crack[:-1], crack[1:]])])
    return np.hstack([border, line]), edges, np.arange(n + k) >= n


def _direction(path: Array) -> Array:
    run = path[:, -1] - path[:, -2]
    return np.asarray(run / np.hypot(*run))


def _tip_lattice(path: Array, tip_size: float) -> Array:
    """Equilateral lattice (2, n) round the tip, a row along the crack."""
    i, j = (each.ravel() for each in np.mgrid[-RINGS : RINGS + 1, -RINGS : RINGS + 1])
    inside = np.abs(i + j) <= RINGS
    along, across = _direction(path), np.array([-1, 1]) * _direction(path)[::-1]
    x = np.outer(along, (i + 0.5 * j)[inside]) + np.outer(across, sqrt(0.75) * j[inside])
    return np.asarray(path[:, [-1]] + tip_size * x)


def fill(fixed: Array, wanted: Wanted, far: float, angle: float) -> Array:
    """Centres (2, n), in depths, of quadtree cells no wider than CELL h, in the wedge and clear of the fixed vertices.

    far : radius of the arc over the depth.  angle : of the tube [rad].
    """

    def inside(x: Array, margin: float) -> Mask:
        return np.asarray((np.minimum(*clearance(angle, x)) > margin) & (np.hypot(*x) < far - margin))

    centres, side, kept = np.zeros((2, 1)), 2 * far, []
    while centres.size:
        coarse = side > CELL * wanted(centres)
        kept.append(centres[:, ~coarse])
        side /= 2
        quarters = 0.5 * side * np.array([[-1, 1, -1, 1], [-1, -1, 1, 1]])
        centres = (centres[:, coarse, None] + quarters[:, None]).reshape(2, -1)
        centres = centres[:, inside(centres, -side)]
    x = np.hstack(kept)
    x = x[:, inside(x, 0.0)]
    return _apart(fixed, x, CLOSE * wanted(x))


def _apart(fixed: Array, x: Array, least: Array | float) -> Array:
    """Points of x (2, n) that are at least `least` away from all fixed ones."""
    return x[:, cKDTree(fixed.T).query(x.T)[0] >= least]


def smoothed(fixed: Array, free: Array) -> Array:
    """Free vertices (2, n) moved to the mean of their neighbours, SMOOTHING times; in the unit of the fixed ones."""
    n = fixed.shape[1]
    for _ in range(SMOOTHING):
        p = np.hstack([fixed, free])
        start, neighbours = Delaunay(p.T).vertex_neighbor_vertices
        free = np.stack([np.add.reduceat(x[neighbours], start[:-1]) for x in p])[:, n:] / np.diff(start)[n:]
    return free


def _conforming(fixed: Array, free: Array, edges: Index, of_crack: Mask) -> tuple[Array, Index, Index]:
    """Vertices (2, n), triangles (3, m) that have all of the edges, and the crack's edges (2, k) in order.

    Raises ValueError if halving does not end.
    """
    for _ in range(ROUNDS):
        p = np.hstack([fixed, free])
        t = no_slivers(p, Delaunay(p.T).simplices.T.astype(np.int64))
        missing = ~np.isin(_key(edges, p), _key(MeshTri(p, np.ascontiguousarray(t)).facets, p))
        if not missing.any():
            return p, t, edges[:, of_crack]
        middles = 0.5 * (fixed[:, edges[0, missing]] + fixed[:, edges[1, missing]])
        new, at = fixed.shape[1] + np.arange(missing.sum()), np.flatnonzero(missing) + 1
        second = np.stack([new, edges[1, missing]])
        edges[1, missing] = new
        edges, of_crack = np.insert(edges, at, second, axis=1), np.insert(of_crack, at, of_crack[missing])
        fixed = np.hstack([fixed, middles])
        free = _apart(middles, free, 0.3 * np.hypot(*(fixed[:, second[1]] - middles)).min())
    raise ValueError(f"path: no mesh conforms after {ROUNDS} rounds")


def _key(edges: Index, p: Array) -> Index:
    """A number for each edge, whatever its direction."""
    return np.asarray(edges.min(axis=0).astype(np.int64) * p.shape[1] + edges.max(axis=0))


def no_slivers(p: Array, t: Index) -> Index:
    """Triangles (3, m) of vertices p (2, n) without those of no height that round-off leaves on straight boundaries."""
    a, b, c = (p[:, each] for each in t)
    area = np.abs(_cross(b - a, c - a))
    longest = np.max([np.hypot(*(y - x)) for x, y in ((a, b), (b, c), (c, a))], axis=0)
    return np.asarray(t[:, area > FLAT * longest**2])


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[0] * b[1] - a[1] * b[0])


def _opened(mesh: MeshTri, crack: Index) -> tuple[MeshTri, Mask]:
    """The mesh with the crack's vertices doubled on its left up to the tip; which triangles are there.

    What touches the crack behind its tip hangs together, on either side, through edges that are not the crack's.
    """
    p, t = mesh.p, mesh.t
    key = _key(mesh.facets, p)
    touching: Mask = np.any(np.isin(t, crack[0]), axis=0, keepdims=True)[0]
    first, second = mesh.f2t
    link = (second >= 0) & ~np.isin(key, _key(crack, p)) & touching[first] & touching[second]
    graph = sp.coo_matrix((np.ones(link.sum()), (first[link], second[link])), shape=(t.shape[1], t.shape[1]))
    _, label = connected_components(graph, directed=False)
    a, b = p[:, crack[:, :1]].transpose(1, 0, 2)
    beside = mesh.f2t[:, np.isin(key, _key(crack[:, :1], p))].ravel()
    left = np.flatnonzero(_cross(b - a, p[:, t[:, beside]].mean(axis=1) - a) > 0)
    if label[beside[0]] == label[beside[1]]:
        raise ValueError("path: the crack's faces hang together: it crosses itself or the boundary")
    above = touching & (label == label[beside[left][0]])
    twin = np.arange(p.shape[1])
    twin[crack[0]] = p.shape[1] + np.arange(crack.shape[1])
    return MeshTri(np.hstack([p, p[:, crack[0]]]), np.ascontiguousarray(np.where(above, twin[t], t))), above
