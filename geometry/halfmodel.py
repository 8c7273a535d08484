"""The half model of a tube in an ice block: one mapped mesh of 27-node hexahedra, y >= 0, for any placement.

Built in three steps, so that topology and node pairs depend on lengths and level only, never on the angle:

1. an O-grid cross-section (`section`) times layers along the axis gives straight coordinates (xi, eta, s): xi toward
   the front, eta out of the symmetry plane, s along the axis from tip to head, s = 0 at the mouth;
2. the ice is every column outside the tube below the mouth, and the full disc below the hole; the tube is the wall
   from tip to head. Both have nodes of their own on the cylinder r = radius, at the same places: the contact pairs;
3. the layers are sheared so that the one at s = 0 lies in the surface z = 0:

       x = (s + tan(angle) xi g) e_a + xi e_1 + eta e_y,
       g = w(s)                                  for r <= r_a,
       g = (w(s) r_a + r - r_a) / r              for r > r_a.

   w = 1 through the crust, falls linearly to 0 at the upper end of the threads (deeper where the angle is too steep
   for that: the tip of a short, steep tube is then cut slightly askew) and is 0 below and at the head: layers are
   normal to the axis round the threads and the tip, and parallel to the surface at the mouth and everywhere far
   away. The crust's lower face is a layer where w = 1.

The hole reaches `HOLE_BELOW_TIP` below the tip (the drilled core is absent), so the toe touches nothing: a toe
pushed into the ice is not modelled at this rung. The outer face (r = far) and the bottom are held fixed.

Threads are an *interface*, not resolved rings, at every level: on the threaded part of the cylinder r = radius the
ice follows the tube along the axis (thread faces bear both ways), while across it the ice can push and not pull, as
on the plain shank, and nothing resists turning round the axis. Thread height and pitch therefore do not enter here.
Against resolved rings under a straight pull (`validation/checks/threadrings.py`: 65 mm of threads, 2.5 mm high, 5 mm
pitch) the interface brings -1.6 % in compliance at the head, +5 points in the thrust of the uppermost fifth of the
threads (52 instead of 47 %), and in the largest tension in the ice -20 % at 1.6 mm and +4.5 % at 3.2 mm outside the
crests.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, tan
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skfem import ElementHex2, MeshHex, MeshHex2

from .placement import Placement, Tube, standing_out
from .quality import Quality, check_quality
from .section import Section, graded, half_disc

Level = Literal["quick", "standard", "fine"]
HOLE_BELOW_TIP = 0.006  # m
SHORTEST_STUB = 0.002  # m, the mesh's tube stands out at least this far
TURN_RADIUS = 1.6  # r_a over the tube's radius
THINNEST_ZONE = 0.0015  # m, zones thinner than this are merged with their neighbour
CRUST_SHARE = 0.8  # deepest crust over the tip's depth
SLING_WIDTH = 0.004  # m, band of the shank that carries a tied-off pull


@dataclass(frozen=True, slots=True)
class Resolution:
    """Element sizes [m] (and `sectors` over 180 degrees) that make a level.

    wall : radial size of the first ring of ice.  mouth, tip, thread : along the axis at those places.
    growth : largest change of size per unit of distance.  deep, outer : largest sizes along the axis and radially.
    """

    sectors: int
    wall: float
    mouth: float
    tip: float
    growth: float
    deep: float


LEVELS: dict[Level, Resolution] = {
    "quick": Resolution(sectors=8, wall=0.0040, mouth=0.0045, tip=0.0060, growth=0.9, deep=0.030),
    "standard": Resolution(sectors=12, wall=0.0025, mouth=0.0016, tip=0.0040, growth=0.6, deep=0.020),
    "fine": Resolution(sectors=16, wall=0.0016, mouth=0.0013, tip=0.0035, growth=0.55, deep=0.016),
}


@dataclass(frozen=True)
class HalfModel:
    """Mesh, regions, surfaces and contact pairs; node arrays index the columns of `mesh.doflocs`.

    straight : (3, n) coordinates (xi, eta, s) of the nodes [m].
    regions : name -> element indices (`ice`, `crust`, `tube`, `eye`, `sling`).
    nodes : name -> node indices (`far`, `symmetry`, `mouth`, `shank`, `threads`).
    pairs : (2, k) tube node and ice node at the same place on the cylinder, sorted along the axis.
    threaded : (k,) bool, True where a pair lies on the threads.
    beside : (layers, rings, sectors) elements of the ice beside the hole, from its bottom up, from its wall outwards,
    round the axis from the front; their local coordinates run outwards, round, and up.
    frame : (3, 3) columns e_1, e_y, e_a of the tube's frame.
    """

    mesh: MeshHex2
    straight: NDArray[np.float64]
    regions: dict[str, NDArray[np.int64]]
    nodes: dict[str, NDArray[np.int64]]
    pairs: NDArray[np.int64]
    threaded: NDArray[np.bool_]
    beside: NDArray[np.int64]
    frame: NDArray[np.float64]
    quality: Quality


@dataclass(frozen=True, slots=True)
class _Layers:
    """Layer boundaries s [m] from the bottom of the block to the head, and the indices of those that matter."""

    s: NDArray[np.float64]
    hole: int
    tip: int
    crust: int
    mouth: int
    sling: int


def _marks(tube: Tube, placement: Placement, crust: float) -> tuple[list[float], list[float]]:
    """Boundaries between tip and mouth: for an upright tube (they set the number of layers) and as they are.

    Only the crust's face moves with the angle. The upper end of the threads is a boundary unless it is close to
    another one (or would cross the crust's face): then the nearest nodes decide what is threaded.
    """
    tip, slant = -placement.embedment, 1 / cos(placement.angle)
    upright, true = [tip, 0.0], [tip, 0.0]
    if crust > 0:
        upright.insert(1, -crust)
        true.insert(1, -crust * slant)
    thread_top = tube.thread_length - placement.embedment
    at = int(np.searchsorted(upright, thread_top))
    clear = min(abs(thread_top - mark) for mark in upright + true) > THINNEST_ZONE
    if clear and tip < thread_top < 0.0 and at == int(np.searchsorted(true, thread_top)):
        upright.insert(at, thread_top)
        true.insert(at, thread_top)
    return upright, true


def _stack_layers(tube: Tube, placement: Placement, crust: float, far: float, size: Resolution) -> _Layers:
    upright, true = _marks(tube, placement, crust)
    tip, hole = true[0], true[0] - HOLE_BELOW_TIP
    stub = max(standing_out(tube, placement), SHORTEST_STUB)
    pieces = [
        hole - graded(far, size.tip, far, size.growth, far)[::-1],
        hole + graded(HOLE_BELOW_TIP, size.tip, size.tip, size.growth, size.deep),
    ]
    for low, high, below, above in zip(upright[:-1], upright[1:], true[:-1], true[1:], strict=True):
        sizes = [size.mouth if mark == 0.0 else size.tip for mark in (low, high)]
        pieces.append(below + graded(high - low, *sizes, size.growth, size.deep) * (above - below) / (high - low))
    sling = min(SLING_WIDTH, stub / 2)
    pieces += [np.array([0.0, sling]), sling + graded(stub - sling, size.tip, size.tip, size.growth, size.deep)]
    s = np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])

    def index(mark: float) -> int:
        return int(np.argmin(np.abs(s - mark)))

    face = -crust / cos(placement.angle)
    return _Layers(s, index(hole), index(tip), index(face), index(0.0), index(sling))


def _turn(tube: Tube, placement: Placement, layers: _Layers) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Table (s, w) of how far the layers have turned from normal-to-axis (0) to surface-parallel (1)."""
    slope = abs(tan(placement.angle))
    face = layers.s[layers.crust]
    thread_top = min(face, tube.thread_length - placement.embedment)
    turned = min(thread_top, face - 2.2 * TURN_RADIUS * tube.radius * slope)
    head = max(layers.s[-1], 1.6 * tube.radius * slope)
    return np.array([turned, face, 0.0, head]), np.array([0.0, 1.0, 1.0, 0.0])


def _to_block(straight: NDArray[np.float64], tube: Tube, placement: Placement, layers: _Layers) -> NDArray[np.float64]:
    """Step 3 of the module's docstring: straight coordinates (3, n) to the block's x, y, z (3, n) [m]."""
    xi, eta, s = straight
    table_s, table_w = _turn(tube, placement, layers)
    w = np.interp(s, table_s + np.array([0.0, 0.0, 1e-12, 2e-12]), table_w)
    r = np.hypot(xi, eta)
    r_a = TURN_RADIUS * tube.radius
    g = np.where(r <= r_a, w, (w * r_a + r - r_a) / np.maximum(r, r_a))
    along = s + tan(placement.angle) * xi * g
    y = np.array([0.0, 1.0, 0.0])
    return np.outer(placement.axis, along) + np.outer(placement.front, xi) + np.outer(y, eta)


def _hexahedra(
    section: Section, quads: NDArray[np.bool_], low: int, high: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Vertices (8, m) as layer * points + point, in scikit-fem's order, with each element's quad and layer."""
    chosen = np.flatnonzero(quads)
    layer = np.repeat(np.arange(low, high), chosen.size)
    quad = np.tile(chosen, high - low)
    a, b, c, d = section.quads[:, quad] + layer * section.points.shape[1]
    up = section.points.shape[1]
    return np.stack([c + up, c, b + up, d + up, b, d, a + up, a]), quad, layer


def _curved_nodes(
    mesh: MeshHex2, vertices: NDArray[np.int64], straight: NDArray[np.float64], ring: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Straight coordinates of all 27 nodes an element: averages of the corners, on arcs where the element is a ring's.

    vertices : (8, m) columns of `straight` (3, v), the corners' coordinates.
    """
    at = ElementHex2.doflocs  # (27, 3)
    corners = at[:8]
    weights = np.prod(np.where(corners[None] == 1, at[:, None], 1 - at[:, None]), axis=2)  # (27, 8)
    corner = straight[:, vertices]
    flat = np.einsum("nv,dvm->dnm", weights, corner)
    radius = np.hypot(corner[0], corner[1])
    angle = np.arctan2(corner[1], corner[0])
    r, phi = weights @ radius, weights @ angle
    nodes = np.empty_like(mesh.doflocs)
    element_nodes = mesh.dofs.element_dofs
    nodes[:, element_nodes] = flat
    arcs = np.stack([r * np.cos(phi), r * np.sin(phi), flat[2]])[..., ring]
    nodes[:, element_nodes[:, ring]] = arcs
    nodes[1, np.abs(nodes[1]) < 1e-12] = 0.0
    return nodes


def build_half_model(
    tube: Tube,
    placement: Placement,
    crust: float = 0.0,
    level: Level | Resolution = "standard",
    far: float | None = None,
) -> HalfModel:
    """Mesh the half model of a tube in an ice block (module docstring).

    crust : thickness of the surface layer [m]; far : radius of the block and its depth below the hole [m], by default
    0.4 m or four times the embedment, whichever is more.
    Raises ValueError if the embedment exceeds the tube or the crust is too thin or too deep, MeshError if the mesh is
    tangled (the message names the parameters).
    """
    size = LEVELS[level] if isinstance(level, str) else level
    deepest_crust = CRUST_SHARE * placement.embedment * cos(placement.angle)
    if crust != 0.0 and not THINNEST_ZONE < crust <= deepest_crust:
        raise ValueError(
            f"ice.crust [m] = {crust:g}: must be 0 or lie between {THINNEST_ZONE:g} and {deepest_crust:g} "
            f"({CRUST_SHARE:g} of the embedment's depth below the surface)"
        )
    far = max(0.4, 4 * placement.embedment) if far is None else far
    layers = _stack_layers(tube, placement, crust, far, size)
    turn_radius = TURN_RADIUS * tube.radius
    near = tube.radius + graded(turn_radius - tube.radius, size.wall, size.wall * 1.3, size.growth, far)
    beyond = turn_radius + graded(far - turn_radius, size.wall * 1.3, far, size.growth, far)
    section = half_disc(np.concatenate([[tube.bore], near, beyond[1:]]), size.sectors)
    outside = section.inner_radius > 0.999 * tube.radius
    wall = section.ring & ~outside

    blocks = [
        _hexahedra(section, outside, 0, layers.mouth),
        _hexahedra(section, ~outside, 0, layers.hole),
        _hexahedra(section, wall, layers.tip, len(layers.s) - 1),
    ]
    own = section.points.shape[1] * len(layers.s)  # the tube's nodes are numbered apart from the ice's
    vertices = np.hstack([blocks[0][0], blocks[1][0], blocks[2][0] + own])
    quad = np.concatenate([block[1] for block in blocks])
    layer = np.concatenate([block[2] for block in blocks])
    used, vertices = np.unique(vertices, return_inverse=True)
    vertices = vertices.reshape(8, -1)
    at_layer, at_point = np.divmod(used % own, section.points.shape[1])
    corners = np.vstack([section.points[:, at_point], layers.s[at_layer]])

    mesh = MeshHex2.from_mesh(
        MeshHex(np.ascontiguousarray(corners), np.ascontiguousarray(vertices), sort_t=False, validate=False)
    )
    straight = _curved_nodes(mesh, vertices, corners, section.ring[quad])
    placed = MeshHex2(_to_block(straight, tube, placement, layers), mesh.t, sort_t=False, validate=False)

    steel = np.arange(quad.size) >= quad.size - blocks[2][1].size
    top = int(layer[steel].max())
    regions = {
        "ice": np.flatnonzero(~steel & (layer < layers.crust)),
        "crust": np.flatnonzero(~steel & (layer >= layers.crust)),
        "tube": np.flatnonzero(steel),
        "sling": np.flatnonzero(steel & (layer >= layers.mouth) & (layer < layers.sling)),
        "eye": np.flatnonzero(steel & (layer == top)),
    }
    nodes, pairs, threaded = _surfaces(tube, placement, placed, straight, regions, far, layers)
    frame = np.column_stack([placement.front, [0.0, 1.0, 0.0], placement.axis])
    quality = check_quality(
        placed,
        f"placement.angle = {placement.angle * 180 / pi:.4g} deg, "
        f"embedment = {placement.embedment * 1e3:.4g} mm, crust = {crust * 1e3:.4g} mm, "
        f"tube radius = {tube.radius * 1e3:.4g} mm",
    )
    beside = np.arange(blocks[0][1].size).reshape(layers.mouth, -1, size.sectors)[layers.hole :]
    return HalfModel(placed, straight, regions, nodes, pairs, threaded, beside, frame, quality)


def _surfaces(
    tube: Tube,
    placement: Placement,
    mesh: MeshHex2,
    straight: NDArray[np.float64],
    regions: dict[str, NDArray[np.int64]],
    far: float,
    layers: _Layers,
) -> tuple[dict[str, NDArray[np.int64]], NDArray[np.int64], NDArray[np.bool_]]:
    """Named node sets and the contact pairs on the tube's cylinder."""
    xi, eta, s = straight
    r = np.hypot(xi, eta)
    tol = 1e-9
    is_tube = np.zeros(r.size, bool)
    is_tube[mesh.dofs.element_dofs[:, regions["tube"]]] = True
    on_cylinder = (np.abs(r - tube.radius) < tol) & (s > layers.s[layers.tip] - tol) & (s < tol)
    tube_side = np.flatnonzero(on_cylinder & is_tube)
    ice_side = np.flatnonzero(on_cylinder & ~is_tube)
    tube_side = tube_side[np.lexsort((np.round(xi[tube_side], 9), np.round(s[tube_side], 9)))]
    distance, match = cKDTree(straight[:, ice_side].T).query(straight[:, tube_side].T)
    if tube_side.size != ice_side.size or distance.max() > tol:
        raise AssertionError("contact pairs do not match")
    pairs = np.stack([tube_side, ice_side[match]])
    threaded = s[tube_side] <= tube.thread_length - placement.embedment + tol
    nodes = {
        "far": np.flatnonzero((r > far - tol) | (s < layers.s[0] + tol)),
        "symmetry": np.flatnonzero(np.abs(eta) < tol),
        "mouth": ice_side[np.abs(s[ice_side]) < tol],
        "shank": pairs[1][~threaded],
        "threads": pairs[1][threaded],
    }
    return nodes, pairs, threaded
