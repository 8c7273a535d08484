"""The ice round a tube as a block that breaks, pushed and pulled ring by ring on the wall of the hole.

The half model's ice (`geometry.halfmodel`) on the corners of its hexahedra, with the phase field of `icedamage`. Every
layer of nodes on the wall is a ring with up to three loads, each a unit force of the whole tube along its direction:

    front    pressure proportional to cos phi on the front half of the wall, resultant along the front normal
    back     the same on the back half
    threads  shear along the axis, outwards, even round the wall, where the tube is threaded

phi: round the axis from the front. With B the nodal forces of unit loads on the half model and K the stiffness at the
state of the ice (secant and tangent in one, `icedamage`), u = K^-1 B f, and each load's own motion is 2 B^T u: the
flexibility (k, k) that a tube feels.

ell is RATIO times an element's size across and along the wall, whichever is more, and never below LEAST: it grows with
the mesh, G_c does not. Ice farther than BREAKS embedments from the mouth does not break.

Limits: no crust; threads push on the wall, not on crests; small strains: the wall is where it was, however far a tube
has gone; of broken ice only pressure is left, along any axis (no friction on a crack that cannot open).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from ..geometry import Placement, Resolution, Tube
from ..geometry.halfmodel import HalfModel, build_half_model
from ..materials import Ice
from ..materials.tensor import lame
from .icedamage import Material, Solid, corrected
from .solver import make_solver

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
SIZE = Resolution(sectors=8, wall=0.005, mouth=0.0065, tip=0.0065, growth=0.12, deep=0.0065)
RATIO, LEAST, BREAKS = 1.5, 0.008, 10.0
FRONT, BACK, THREADS = 0, 1, 2


@dataclass(frozen=True)
class IceBlock:
    """The block and its loads.

    solid : hexahedra.  free : (3 n,) unknowns.  B : (3 n, k) unit loads.  kind, at : (k,) what each is and its place
    along the axis from the mouth [m].  s : (rings,) places of the rings.  width : (k,) length of wall each has [m].
    """

    solid: Solid
    free: Mask
    B: Array
    kind: NDArray[np.int64]
    at: Array
    s: Array
    width: Array

    def respond(self, u: Array, damage: Array) -> tuple[Array, Array]:
        """U (3 n, k) [m/N], motions of the nodes under each unit load, and the flexibility (k, k), at u (3 n,)."""
        dofs, size = self.solid.dofs, self.free.size
        rows, cols = (
            np.broadcast_to(dofs[:, :, None], (*dofs.shape, 24)),
            np.broadcast_to(dofs[:, None], (*dofs.shape, 24)),
        )
        K = sp.coo_matrix((self.solid.cells(u, damage).ravel(), (rows.ravel(), cols.ravel())), (size, size)).tocsr()
        U = np.zeros_like(self.B)
        U[self.free] = make_solver(K[self.free][:, self.free].tocsr()).solve(self.B[self.free])
        flexibility = 2 * self.B.T @ U
        return U, 0.5 * (flexibility + flexibility.T)


def ice_block(
    tube: Tube, placement: Placement, ice: Ice, size: Resolution = SIZE, split: str = "no_tension"
) -> IceBlock:
    """Mesh the block and its loads (module docstring).

    Raises ValueError for a placement that cannot be meshed.
    """
    half = build_half_model(tube, placement, 0.0, size)
    cells = half.mesh.t[:, half.regions["ice"]]
    used, t = np.unique(cells, return_inverse=True)
    t = np.ascontiguousarray(t.reshape(8, -1))
    points = np.ascontiguousarray(half.mesh.doflocs[:, used])
    free = np.ones((used.size, 3), bool)
    free[np.isin(used, half.nodes["symmetry"]), 1] = False
    free[np.isin(used, half.nodes["far"])] = False
    solid = Solid(points, t, _material(points, t, placement, ice), split)
    B, kind, at, s, width = _loads(half, used, tube, placement)
    return IceBlock(solid, free.ravel(), B, kind, at, s, width)


def _material(points: Array, t: NDArray[np.int64], placement: Placement, ice: Ice) -> Material:
    corner = points[:, t]  # (3, 8, m)
    extent = np.sort(corner.max(axis=1) - corner.min(axis=1), axis=0)
    size = extent[1]  # of three: neither the longest (far away, round the axis) nor the shortest
    ell = np.maximum(RATIO * size, LEAST)
    lam, mu = lame(ice.elastic.youngs_modulus, ice.elastic.poissons_ratio)
    reach = BREAKS * placement.embedment
    near = np.linalg.norm(corner.mean(axis=1), axis=0) < reach
    m = t.shape[1]
    return Material(np.full(m, lam), np.full(m, mu), corrected(np.full(m, ice.fracture_energy), size, ell), ell, near)


def _loads(
    half: HalfModel, used: NDArray[np.int64], tube: Tube, placement: Placement
) -> tuple[Array, NDArray[np.int64], Array, Array, Array]:
    """B, kind, at, s and width of `IceBlock`."""
    wall = np.intersect1d(half.pairs[1], used)
    xi, eta, along = half.straight[:, wall]
    depth, phi = -along, np.arctan2(eta, xi)
    s = np.unique(depth.round(9))
    edges = np.r_[s[0], 0.5 * (s[1:] + s[:-1]), s[-1]]
    threaded = np.diff(np.maximum(edges, placement.embedment - tube.thread_length))
    e_1, e_y, e_a = half.frame.T
    columns, kind, at, width = [], [], [], []
    for ring, place in enumerate(s):
        nodes = np.flatnonzero(np.abs(depth - place) < 1e-8)
        nodes = nodes[np.argsort(phi[nodes])]
        angle = phi[nodes]
        arc = np.gradient(angle)
        arc[[0, -1]] *= 0.5 if angle.size > 2 else 1.0
        radial = np.cos(angle)[:, None] * e_1 + np.sin(angle)[:, None] * e_y
        push = {
            FRONT: np.maximum(np.cos(angle), 0.0),
            BACK: np.maximum(-np.cos(angle), 0.0),
            THREADS: np.ones_like(arc),
        }
        for what, pressure in push.items():
            if what == THREADS and threaded[ring] <= 0:
                continue
            weight = pressure * arc
            total = (weight * np.abs(np.cos(angle))).sum() if what != THREADS else weight.sum()
            direction = np.broadcast_to(e_a, radial.shape) if what == THREADS else radial
            b = np.zeros((used.size, 3))
            b[np.searchsorted(used, wall[nodes])] = 0.5 / total * weight[:, None] * direction
            columns.append(b.ravel())
            kind.append(what)
            at.append(place)
            width.append(threaded[ring] if what == THREADS else edges[ring + 1] - edges[ring])
    return np.stack(columns, axis=1), np.array(kind), np.array(at), s, np.array(width)
