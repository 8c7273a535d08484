"""A chip that has come loose: a rigid piece of ice on its face of fracture, pushed by the wall in front of it.

The face pushes on the piece at its nodes with forces in Coulomb's cones (unilateral contact, friction mu). The piece
has no weight. A thrust T at a ring of the wall, along the tube's normal as it is now, is borne if these balance it,

    sum_p sum_g l_pg (n_p + mu t_g) + T = 0,    sum_p sum_g l_pg x_p x (n_p + mu t_g) + x_T x T = 0,    l_pg >= 0

in the plane of the pull (the rest is nil by symmetry): the piece jams. If none do, it slides out for nothing. On a
plane that rises by alpha, with a thrust beta below the surface, this comes to

    slides: alpha + beta < 90 deg - atan(mu)

Thrusts that are borne one by one are borne together. Ice that slid out is no longer there (`lost_elements`).

Limits: the piece lies where it broke off, whole and rigid; forces that balance are enough for it to jam; steel on ice
has no friction; the face's last ring, which bends to run below the surface, bears nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, sin

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator
from scipy.optimize import nnls
from scipy.sparse.csgraph import connected_components

from ...fem.cracks.condensed_ice import face_frames
from ...geometry.placement import Placement
from ...geometry.slit_half_model import ConeModel

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Index = NDArray[np.int64]
DIRECTIONS = 16  # of friction round a point
BALANCED = 1e-6  # of the thrust, what may be left over
SHARED = 9  # nodes of two elements that hang together by a face


@dataclass(frozen=True, eq=False)
class Piece:
    """points (3, k) [m] and normals (3, k) of its face, into the piece; x toward the side that is pushed, z up.

    side : 1 in front of the tube, -1 behind it.  angle : of the placement, as that side sees it [rad].
    """

    cone: ConeModel
    side: int
    angle: float
    points: Array
    normals: Array
    friction: float


def loose_piece(cone: ConeModel, placement: Placement, side: int, friction: float) -> Piece:
    """The ice above a slit. placement : that the slit's mesh was made for, turned round for a side of -1."""
    inside = cone.share < cone.rings[-2] - 1e-9
    points, normals = cone.half.mesh.doflocs[:, cone.half.faces[0]], face_frames(cone)[:, :, 0].T
    return Piece(cone, side, placement.angle, points[:, inside], normals[:, inside], friction)


def bears(piece: Piece, depth: Array, lean: Array, pushed: Array) -> Mask:
    """Which thrusts (k,) the piece bears.

    depth : of each along the axis below the mouth [m].  lean : of the tube there, as a placement's angle [rad].
    pushed : 1 for thrusts toward the piece's side, -1 for the others.
    """
    forces, moments = _contact(piece)
    size = float(np.abs(piece.points).max())
    A = np.vstack([forces[0], forces[2], moments / size])
    x, z = -depth * sin(piece.angle), -depth * cos(piece.angle)
    thrust = pushed * np.stack([np.cos(piece.side * lean), -np.sin(piece.side * lean)])
    b = np.vstack([thrust, (z * thrust[0] - x * thrust[1]) / size])
    return np.array([nnls(A, -each)[1] < BALANCED for each in b.T])


def _contact(piece: Piece) -> tuple[Array, Array]:
    """Edges of the friction cones (3, k DIRECTIONS) and their moments about y at the mouth."""
    n = piece.normals
    up = np.array([0.0, 0.0, 1.0])[:, None] - n[2] * n  # a direction of the plane of the pull lies among them
    flat = np.linalg.norm(up, axis=0) < 1e-9
    up[:, flat] = np.array([[1.0], [0.0], [0.0]])
    up /= np.linalg.norm(up, axis=0)
    round_ = np.cross(n, up, axis=0)
    turn = 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    t = up[:, :, None] * np.cos(turn) + round_[:, :, None] * np.sin(turn)
    force = n[:, :, None] + piece.friction * t
    moment = piece.points[2, :, None] * force[0] - piece.points[0, :, None] * force[2]
    return force.reshape(3, -1), moment.ravel()


def rim_elements(cone: ConeModel) -> Index:
    """Elements above the slit's last ring: the thin rest by which a piece that is through still hangs."""
    half = cone.half
    return np.asarray(half.beside[half.under + 1 :, cone.rings.size - 1].ravel())


def lost_elements(piece: Piece, cone: ConeModel, side: int) -> Index:
    """Elements of another slit's mesh, made for `side`, whose middles lie in the piece."""
    half = cone.half
    elements = half.regions["ice"]
    middle = half.mesh.doflocs[:, half.mesh.dofs.element_dofs[:, elements]].mean(axis=1)
    x, y, along = half.frame.T @ middle
    own = piece.cone.half
    floor_x, floor_y, floor = own.frame.T @ own.mesh.doflocs[:, own.faces[0]]
    under = LinearNDInterpolator(np.stack([floor_x, floor_y], axis=1), floor)(side * piece.side * x, y)
    return np.asarray(elements[along > np.where(np.isnan(under), np.inf, under)])


def hanging(cone: ConeModel, gone: Index) -> Index:
    """The elements that are gone, with those that nothing holds any more: a closed slit holds, an edge does not."""
    half = cone.half
    left = np.setdiff1d(half.regions["ice"], gone)
    nodes = half.mesh.dofs.element_dofs[:, left].copy()
    above, below = half.faces
    same = np.arange(half.mesh.doflocs.shape[1])
    same[above] = below
    ones = np.ones(nodes.size)
    touch = sp.csr_matrix((ones, (np.tile(np.arange(left.size), nodes.shape[0]), same[nodes].ravel())))
    shared = touch @ touch.T
    shared.data = (shared.data >= SHARED).astype(float)
    shared.eliminate_zeros()
    _, part = connected_components(shared, directed=False)
    held = np.isin(nodes, half.nodes["far"]).any(axis=0)
    return np.asarray(np.union1d(gone, left[~np.isin(part, part[held])]))
