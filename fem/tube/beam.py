"""A geometrically exact plane beam: the tube in the plane of the pull, finite displacements and rotations.

The axis runs from the head (node 0, where s is least) to the tip; s is the distance along it from the mouth into the
ice. With the rotation phi counted like the placement angle (positive: the head leans toward the pull, from z to x),

    axis, tip to head   a(phi) = (sin phi, cos phi),     front normal   n(phi) = (cos phi, -sin phi),    (x, z)
    a' = d a / d phi = n,   n' = -a;        d position / d xi = r,   xi = -s
    Gamma = r . a - 1,   gamma = r . n,   kappa = d phi / d xi

(Reissner, J. Appl. Math. Phys. 23, 1972; finite elements: Simo & Vu-Quoc, Comput. Methods Appl. Mech. Eng. 58, 1986;
both from memory). Virtual work N dGamma + V dgamma + M dkappa; N and M from `tube.cross_section`, V = kappa_s G A
gamma. Two-node elements, linear in position and rotation, one point each (it keeps shear from locking): second order in
element length. The tangent is the exact derivative, material and geometric part, symmetric.

Unknowns q (nodes, 3): displacement u_x, u_z [m] and rotation [rad] since placing. Displacements, not positions, so that
Gamma is exact to round-off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from .cross_section import HollowSection, SectionForces, respond

Array = NDArray[np.float64]
HALF_BAND = 5


@dataclass(frozen=True, slots=True)
class Beam:
    """A straight beam before loading.

    s : (m,) nodes from head to tip [m].  length : (e,) of the elements [m].  angle : placement angle [rad].
    place : (36 e,) where the entries of the element matrices go in a flat banded matrix.
    """

    s: Array
    length: Array
    angle: float
    place: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class BeamForces:
    """What `resist` gives.

    force : (m, 3) at the nodes [N, N, N m].  band : flat banded tangent, (11 x 3 m,).
    strain : (3, e) Gamma, gamma, kappa.  shear : (e,) V [N].  section : N, M and the fibres' new memory.
    """

    force: Array
    band: Array
    strain: Array
    shear: Array
    section: SectionForces


def make_beam(s: Array, angle: float) -> Beam:
    """A beam with nodes at s (m,) [m], rising, m >= 2, at a placement angle [rad]. Raises ValueError otherwise."""
    s = np.asarray(s, float)
    if s.ndim != 1 or len(s) < 2 or np.any(np.diff(s) <= 0):
        raise ValueError("s: must rise, and have two nodes at least")
    at = 3 * np.arange(len(s) - 1)[:, None] + np.arange(6)
    return Beam(s, np.diff(s), angle, _places(at, at, 3 * len(s)).ravel())


def _places(rows: NDArray[np.int64], columns: NDArray[np.int64], size: int) -> NDArray[np.int64]:
    """Flat index in (11, size) banded storage of each pair of rows (.., r) and columns (.., c)."""
    row, column = rows[..., :, None], columns[..., None, :]
    return (HALF_BAND + row - column) * size + column


def node_places(m: int) -> NDArray[np.int64]:
    """(m, 2, 3): where derivatives of nodal forces (x, z) by u_x, u_z, rotation of the same node go."""
    at = 3 * np.arange(m)[:, None]
    return _places(at + np.arange(2), at + np.arange(3), 3 * m)


def directions(angle: Array) -> tuple[Array, Array]:
    """Unit vectors a and n at rotations `angle` (m,) [rad], each (m, 2)."""
    a, n = np.empty((len(angle), 2)), np.empty((len(angle), 2))
    np.sin(angle, out=a[:, 0])
    np.cos(angle, out=a[:, 1])
    n[:, 0], n[:, 1] = a[:, 1], -a[:, 0]
    return a, n


def beam_strains(beam: Beam, q: Array) -> tuple[Array, Array, Array]:
    """Gamma [-], gamma [-], kappa [1/m] (3, e) at mid-element for q (m, 3) [m, m, rad], and a, n (e, 2) there."""
    turn = 0.5 * (q[:-1, 2] + q[1:, 2])
    a, n = directions(beam.angle + turn)
    change = (q[:-1, :2] - q[1:, :2]) / beam.length[:, None]
    # r = a_0 + change; a_0 . a - 1 = cos(turn) - 1 and a_0 . n = -sin(turn), written so that nothing cancels
    gamma_1 = np.vecdot(change, a) - 2 * np.sin(0.5 * turn) ** 2
    gamma_2 = np.vecdot(change, n) - np.sin(turn)
    kappa = (q[:-1, 2] - q[1:, 2]) / beam.length
    return np.array([gamma_1, gamma_2, kappa]), a, n


def resist(beam: Beam, section: HollowSection, q: Array, plastic: Array) -> BeamForces:
    """Nodal forces [N, N, N m] with which the beam resists q (m, 3) [m, m, rad], and their exact derivative.

    plastic : (e, f) plastic strain of the fibres at the last equilibrium [-].
    """
    strain, a, n = beam_strains(beam, q)
    found = respond(section, strain[0], strain[2], plastic)
    shear = section.shear_stiffness * strain[1]
    e, h = len(beam.length), beam.length
    B = np.zeros((e, 3, 6))
    B[:, 0, :2], B[:, 0, 3:5] = a, -a
    B[:, 1, :2], B[:, 1, 3:5] = n, -n
    B[:, :2] /= h[:, None, None]
    stretch, slide = 1 + strain[0], strain[1]
    B[:, 0, 2] = B[:, 0, 5] = 0.5 * slide
    B[:, 1, 2] = B[:, 1, 5] = -0.5 * stretch
    B[:, 2, 2], B[:, 2, 5] = 1 / h, -1 / h
    C = np.zeros((e, 3, 3))
    C[:, 0, 0], C[:, 2, 2] = found.stiffness[0], found.stiffness[2]
    C[:, 0, 2] = C[:, 2, 0] = found.stiffness[1]
    C[:, 1, 1] = section.shear_stiffness
    K = B.transpose(0, 2, 1) @ (h[:, None, None] * C) @ B
    _add_geometric(K, found.force, shear, a, n, stretch, slide, h)
    stress = np.stack([found.force, shear, found.moment], axis=1) * h[:, None]
    nodal = np.matmul(stress[:, None, :], B)[:, 0]
    force = np.zeros((e + 1, 3))
    force[:-1] += nodal[:, :3]
    force[1:] += nodal[:, 3:]
    band = np.bincount(beam.place, K.ravel(), minlength=(2 * HALF_BAND + 1) * 3 * (e + 1))
    return BeamForces(force, band.astype(float, copy=False), strain, shear, found)


def _add_geometric(K: Array, N: Array, V: Array, a: Array, n: Array, stretch: Array, slide: Array, h: Array) -> None:
    """Add N d2 Gamma + V d2 gamma to K (e, 6, 6): by position and turn N n - V a, by turns -N (1 + Gamma) - V gamma."""
    half = -0.125 * h * (N * stretch + V * slide)
    mixed = 0.5 * (N[:, None] * n - V[:, None] * a)
    column = np.column_stack([mixed, half, -mixed, half])
    for turn in (2, 5):  # where two turns meet, half comes from the row and half from the column
        K[:, :, turn] += column
        K[:, turn, :] += column


def dense(band: Array, n: int) -> Array:
    """(n, n) matrix of a flat band, in its units."""
    rows = band.reshape(-1, n)
    return sum(
        (np.diag(rows[HALF_BAND + d, max(-d, 0) : n - max(d, 0)], -d) for d in range(-HALF_BAND, HALF_BAND + 1)),
        np.zeros((n, n)),
    )


def solve_band(band: Array, right: Array) -> Array:
    """Solve the banded system with flat `band` (11 x n,) for right sides (n, k), in their units.

    Raises numpy.linalg.LinAlgError if it is singular.
    """
    n = len(right)
    whole = np.zeros((3 * HALF_BAND + 1, n))
    whole[HALF_BAND:] = band.reshape(-1, n)
    _, _, x, info = lapack.dgbsv(HALF_BAND, HALF_BAND, whole, right, overwrite_ab=True, overwrite_b=False)
    if info != 0:
        raise np.linalg.LinAlgError(f"banded matrix: dgbsv {info}")
    return np.asarray(x)
