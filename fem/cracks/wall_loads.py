"""The wall of the hole as rings that a tube loads: unit loads on the half model's ice, the same on any of its meshes.

Along the wall from the mouth to the tip nodes stand SPACING apart, the tube's too. About each, over a hat that is 1
there and 0 at its neighbours, the wall bears up to three loads, each a unit force [N] of the whole tube:

    front    pressure proportional to cos phi on the front half of the wall, resultant along the front normal
    back     the same on the back half, along minus that normal
    threads  shear along the axis, outwards, even round the wall, on the threaded part of the tube

phi: round the axis from the front. Loads are hats in the distance along the axis, not nodes of a mesh: meshes slit in
different places bear the same loads, and flexibilities can be compared and exchanged.

Limits: small strains, the wall stays where it was; threads push on the wall, not on crests.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2

from ...geometry.half_model import HalfModel
from ...geometry.placement import Placement, Tube

Array = NDArray[np.float64]
Index = NDArray[np.int64]
FRONT, BACK, THREADS = 0, 1, 2
SPACING, GAUSS = 0.010, 4  # m, no less than the meshes can tell apart; points of an element each way


@dataclass(frozen=True)
class Rings:
    """s : (n,) nodes from the mouth along the axis [m].  kind, node : (k,) of each load.  width : (k,) its wall [m]."""

    s: Array
    kind: Index
    node: Index
    width: Array


def hole_rings(tube: Tube, placement: Placement) -> Rings:
    """Rings of a placed tube."""
    below = placement.embedment
    s = np.linspace(0.0, below, max(round(below / SPACING), 2) + 1)
    bare = below - tube.thread_length
    plain, threaded = (_covered(s, start) for start in (0.0, max(bare, 0.0)))
    kind = np.repeat([FRONT, BACK, THREADS], len(s))
    node = np.tile(np.arange(len(s)), 3)
    width = np.concatenate([plain, plain, threaded])
    kept = width > 1e-9
    return Rings(s, kind[kept], node[kept], width[kept])


def _covered(s: Array, start: float) -> Array:
    """Integral of each node's hat over the wall below `start` [m]."""
    fine = np.linspace(start, s[-1], 2001)
    hats = _hats(s, 0.5 * (fine[1:] + fine[:-1]))
    return np.asarray(hats.sum(axis=1) * (fine[1] - fine[0]))


def _hats(s: Array, at: Array) -> Array:
    """Hats (n, ...) at distances from the mouth; 0 below the tip."""
    distance = np.abs(np.maximum(at, 0.0) - s.reshape(-1, *[1] * np.ndim(at)))
    return np.where(at <= s[-1], np.maximum(1 - distance / (s[1] - s[0]), 0.0), 0.0)


@dataclass(frozen=True)
class HolePoints:
    """Quadrature of the wall of the hole: p points in each of e elements.

    nodes : (27, e) and value : (27, p) of the elements' functions.  area : (e, p) that each point stands for [m^2].
    xi, along : (e, p) places toward the front and along the axis, outwards [m].  phi : (e, p) round the axis from the
    front.  radial, axis : (3, e, p) unit vectors into the ice and along the axis, outwards.
    """

    nodes: Index
    value: Array
    area: Array
    xi: Array
    along: Array
    phi: Array
    radial: Array
    axis: Array

    def forces(self, pressure: Array, direction: Array) -> Array:
        """Forces (27, e, 3) [N] at the elements' nodes of pressure times area (e, p) [N] in directions (3, e, p)."""
        return np.asarray(np.einsum("np,ep,iep->nei", self.value, pressure, direction))


def hole_points(half: HalfModel, elements: Index) -> HolePoints:
    """Points of the faces on the wall of these elements, of `half.beside`."""
    x, w = np.polynomial.legendre.leggauss(GAUSS)
    round_, up = (0.5 + 0.5 * v.ravel() for v in np.meshgrid(x, x))
    points, weight = np.stack([np.zeros_like(up), round_, up]), 0.25 * np.outer(w, w).ravel()
    mapping, element = half.mesh.mapping(), ElementHex2()
    side = mapping.DF(points, tind=elements)  # (3, 3, elements, points)
    area = np.linalg.norm(np.cross(side[:, 1], side[:, 2], axis=0), axis=0) * weight
    xi, eta, along = np.einsum("ic,iep->cep", half.frame, mapping.F(points, tind=elements))
    phi = np.arctan2(eta, xi)
    e_1, e_y, e_a = half.frame.T[:, :, None, None]
    radial, axis = np.cos(phi) * e_1 + np.sin(phi) * e_y, np.broadcast_to(e_a, (3, *phi.shape))
    value = np.stack([element.lbasis(points, i)[0] for i in range(27)])
    return HolePoints(half.mesh.dofs.element_dofs[:, elements], value, area, xi, along, phi, radial, axis)


def ring_loads(half: HalfModel, tube: Tube, placement: Placement, rings: Rings) -> Array:
    """Nodal forces (3 nodes, k) [N] of unit loads, half of each on the half model."""
    at = hole_points(half, half.beside[:, 0].ravel())
    toward, hats = np.cos(at.phi), _hats(rings.s, -at.along)
    threaded = -at.along > placement.embedment - tube.thread_length
    pressure = {FRONT: np.maximum(toward, 0.0), BACK: np.maximum(-toward, 0.0), THREADS: 1.0 * threaded}
    loads = np.zeros((half.mesh.doflocs.shape[1], 3, len(rings.kind)))
    for column, (kind, node) in enumerate(zip(rings.kind, rings.node, strict=True)):
        pressed = pressure[kind] * hats[node] * at.area
        total = (pressed * (1.0 if kind == THREADS else np.abs(toward))).sum()
        force = at.forces(pressed, at.axis if kind == THREADS else at.radial)
        np.add.at(loads[:, :, column], at.nodes, 0.5 / total * force)
    return loads.reshape(-1, len(rings.kind))
