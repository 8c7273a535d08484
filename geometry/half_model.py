"""The half model of a tube in an ice block: one mapped mesh of 27-node hexahedra, y >= 0, for any placement.

Built in three steps. Topology and node pairs depend on lengths and level only, never on the angle:

1. an O-grid cross-section (`o_grid`) times layers along the axis gives straight coordinates (xi, eta, s) [m]: xi toward
   the front, eta out of the symmetry plane, s along the axis from tip to head, s = 0 at the mouth;
2. the ice is every column outside the tube below the mouth, and the full disc below the hole; the tube is the wall
   from tip to head. Both have nodes of their own on the cylinder r = radius, at the same places: the contact pairs;
3. the layers are sheared so that the one at s = 0 lies in the surface z = 0 and those round the threads and the tip
   stay normal to the axis (`layers`). The crust's lower face is a layer.

The outer face (r = far) and the bottom are held fixed. Threads are a surface: on the threaded part of the cylinder the
ice follows the tube along the axis (thread faces bear both ways); across it the ice can push and not pull, as on the
plain shank; nothing resists turning round the axis. Thread height and pitch do not enter.

Limits: the hole reaches `HOLE_BELOW_TIP` below the tip, so the tip touches nothing; threads are not resolved
(`validation/checks/threads/thread_rings.py` measures what that costs).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import cos, pi

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skfem import ElementHex2, MeshHex, MeshHex2

from .layers import LEVELS, THINNEST_ZONE, TURN_RADIUS, Layers, Level, Resolution, stack_layers, to_block
from .o_grid import HalfDisc, graded, half_disc
from .placement import Placement, Tube
from .quality import Quality, check_quality

CRUST_SHARE = 0.8  # deepest crust over the tip's depth


@dataclass(frozen=True, slots=True)
class Cut:
    """A layer of the mesh moved onto a surface and slit open (`slit_half_model`).

    at : s of the layer on the wall of the hole [m].  radii : (k,) of the section's rings outside the tube, the first is
    the tube's [m].  within : the layer is slit inside this radius, one of `radii` [m].
    place : straight coordinates (3, n) and layers to the block's x, y, z (3, n).
    """

    at: float
    radii: NDArray[np.float64]
    within: float
    place: Callable[[NDArray[np.float64], Layers], NDArray[np.float64]]


@dataclass(frozen=True)
class HalfModel:
    """Mesh, regions, surfaces and contact pairs; node arrays index the columns of `mesh.doflocs`.

    straight : (3, n) coordinates (xi, eta, s) of the nodes [m].
    regions : name -> element indices (`ice`, `crust`, `tube`, `eye`, `sling`).
    nodes : name -> node indices (`far`, `symmetry`, `mouth`, `shank`, `threads`).
    pairs : (2, k) tube node and ice node at the same place on the cylinder, sorted along the axis.
    threaded : (k,) bool, True for a pair on the threads.
    beside : (layers, rings, sectors) elements of the ice beside the hole, from its bottom up, from its wall outwards,
    round the axis from the front; their local coordinates run outwards, round, and up.
    frame : (3, 3) columns e_1, e_y, e_a of the tube's frame.
    faces : (2, k) nodes above and below the slit layer at the same place; the upper ones on the wall are in `pairs`.
    under : layer in `beside` just below the slit; -1 without one.
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
    faces: NDArray[np.int64] = field(default_factory=lambda: np.zeros((2, 0), np.int64))
    under: int = -1


def hexahedra(
    section: HalfDisc, quads: NDArray[np.bool_], low: int, high: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Vertices (8, m) as layer * points + point, in scikit-fem's order, with each element's quad and layer."""
    chosen = np.flatnonzero(quads)
    layer = np.repeat(np.arange(low, high), chosen.size)
    quad = np.tile(chosen, high - low)
    a, b, c, d = section.quads[:, quad] + layer * section.points.shape[1]
    up = section.points.shape[1]
    return np.stack([c + up, c, b + up, d + up, b, d, a + up, a]), quad, layer


def curved_nodes(
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
    cut: Cut | None = None,
) -> HalfModel:
    """Mesh the half model of a tube in an ice block (module docstring).

    crust : thickness of the surface layer [m]; far : radius of the block and its depth below the hole [m], by default
    0.4 m or four times the embedment, whichever is more; cut : a layer to slit.
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
    layers = stack_layers(tube, placement, crust, far, size, cut.at if cut else None)
    radii = ring_radii(tube, far, size) if cut is None else np.concatenate([[tube.bore], cut.radii])
    section = half_disc(radii, size.sectors)
    blocks = _blocks(section, section.inner_radius > 0.999 * tube.radius, layers, cut.within if cut else 0.0)

    used, vertices = np.unique(blocks.vertices, return_inverse=True)
    vertices = np.ascontiguousarray(vertices.reshape(8, -1))
    at_layer, at_point = np.divmod(used % (section.points.shape[1] * layers.s.size), section.points.shape[1])
    corners = np.ascontiguousarray(np.vstack([section.points[:, at_point], layers.s[at_layer]]))
    mesh = MeshHex2.from_mesh(MeshHex(corners, vertices, sort_t=False, validate=False))
    straight = curved_nodes(mesh, vertices, corners, section.ring[blocks.quad])
    x = to_block(straight, tube, placement, layers) if cut is None else cut.place(straight, layers)
    placed = MeshHex2(x, mesh.t, sort_t=False, validate=False)

    steel, layer = blocks.steel, blocks.layer
    regions = {
        "ice": np.flatnonzero(~steel & (layer < layers.crust)),
        "crust": np.flatnonzero(~steel & (layer >= layers.crust)),
        "tube": np.flatnonzero(steel),
        "sling": np.flatnonzero(steel & (layer >= layers.mouth) & (layer < layers.sling)),
        "eye": np.flatnonzero(steel & (layer >= layers.eye)),
    }
    under = layers.cut - 1 - layers.hole if cut else -1
    faces = _faces(mesh, straight, blocks.beside, under)
    nodes, pairs, threaded = _surfaces(tube, placement, placed, straight, regions, far, layers, faces[1])
    frame = np.column_stack([placement.front, [0.0, 1.0, 0.0], placement.axis])
    quality = check_quality(
        placed,
        f"placement.angle = {placement.angle * 180 / pi:.4g} deg, "
        f"embedment = {placement.embedment * 1e3:.4g} mm, crust = {crust * 1e3:.4g} mm, "
        f"tube radius = {tube.radius * 1e3:.4g} mm",
    )
    return HalfModel(placed, straight, regions, nodes, pairs, threaded, blocks.beside, frame, quality, faces, under)


def ring_radii(tube: Tube, far: float, size: Resolution) -> NDArray[np.float64]:
    """Radii (n,) [m] of the section's rings: bore, the tube's outside, then growing, with one at the turning radius."""
    turn = TURN_RADIUS * tube.radius
    near = tube.radius + graded(turn - tube.radius, size.ring, size.ring * 1.3, size.growth, far)
    beyond = turn + graded(far - turn, size.ring * 1.3, far, size.growth, far)
    return np.concatenate([[tube.bore], near, beyond[1:]])


@dataclass(frozen=True, slots=True)
class _Blocks:
    vertices: NDArray[np.int64]  # (8, m), the tube's numbered apart from the ice's
    quad: NDArray[np.int64]
    layer: NDArray[np.int64]
    steel: NDArray[np.bool_]
    beside: NDArray[np.int64]


def _blocks(section: HalfDisc, outside: NDArray[np.bool_], layers: Layers, within: float) -> _Blocks:
    """Elements: the ice beside the hole, the ice below it, the tube; the layer `cut` is slit inside `within`."""
    beside = hexahedra(section, outside, 0, layers.mouth)
    below = hexahedra(section, ~outside, 0, layers.hole)
    tube = hexahedra(section, section.ring & ~outside, layers.tip, len(layers.s) - 1)
    vertices, quad, layer = (np.concatenate(parts, axis=-1) for parts in zip(beside, below, tube, strict=True))
    steel = np.arange(quad.size) >= quad.size - tube[1].size
    points = section.points.shape[1]
    level, point = np.divmod(vertices, points)
    vertices[:, steel] += points * layers.s.size
    inside = np.hypot(*section.points)[point] < within - 1e-9
    vertices[inside & (level == layers.cut) & ~steel & (layer == layers.cut)] += 2 * points * layers.s.size
    sectors = int(np.sum(section.inner_radius == section.inner_radius.max()))
    grid = np.arange(beside[1].size).reshape(layers.mouth, -1, sectors)[layers.hole :]
    return _Blocks(vertices, quad, layer, steel, grid)


def _faces(mesh: MeshHex2, straight: NDArray[np.float64], beside: NDArray[np.int64], under: int) -> NDArray[np.int64]:
    """Pairs of nodes (2, k) above and below the slit, sorted outwards and round the axis."""
    if under < 0:
        return np.zeros((2, 0), np.int64)
    sides = []
    for layer, end in ((under + 1, np.min), (under, np.max)):
        nodes = np.unique(mesh.dofs.element_dofs[:, beside[layer].ravel()])
        sides.append(nodes[np.abs(straight[2, nodes] - end(straight[2, nodes])) < 1e-9])
    above, below = (side[~np.isin(side, other)] for side, other in (sides, sides[::-1]))
    r, phi = np.hypot(*straight[:2]), np.arctan2(straight[1], straight[0])
    above = above[np.lexsort((phi[above], np.round(r[above], 9)))]
    distance, match = cKDTree(straight[:, below].T).query(straight[:, above].T)
    if above.size != below.size or distance.max(initial=0.0) > 1e-9:
        raise AssertionError("the slit's faces do not match")
    return np.stack([above, below[match]])


def _surfaces(
    tube: Tube,
    placement: Placement,
    mesh: MeshHex2,
    straight: NDArray[np.float64],
    regions: dict[str, NDArray[np.int64]],
    far: float,
    layers: Layers,
    not_paired: NDArray[np.int64],
) -> tuple[dict[str, NDArray[np.int64]], NDArray[np.int64], NDArray[np.bool_]]:
    """Named node sets and the contact pairs on the tube's cylinder."""
    xi, eta, s = straight
    r = np.hypot(xi, eta)
    tol = 1e-9
    is_tube = np.zeros(r.size, bool)
    is_tube[mesh.dofs.element_dofs[:, regions["tube"]]] = True
    on_cylinder = (np.abs(r - tube.radius) < tol) & (s > layers.s[layers.tip] - tol) & (s < tol)
    tube_side = np.flatnonzero(on_cylinder & is_tube)
    on_cylinder[not_paired] = False
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
