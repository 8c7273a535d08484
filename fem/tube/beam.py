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

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from .cross_section import HollowSection, SectionForces, respond

Array = NDArray[np.float64]
HALF_BAND = 5


class Beam(NamedTuple):
    """A straight beam before loading.

    s : (m,) nodes from head to tip [m].  length : (e,) of the elements [m].  angle : placement angle [rad].
    """

    s: Array
    length: Array
    angle: float


class BeamForces(NamedTuple):
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
    return Beam(np.array(s), np.diff(s), float(angle))


@compiled
def add_block(band: Array, row: int, column: int, block: Array) -> None:
    """Add a block (r, c) to a flat band, from a row and a column on."""
    size = len(band) // (2 * HALF_BAND + 1)
    for i in range(block.shape[0]):
        for j in range(block.shape[1]):
            band[(HALF_BAND + row + i - column - j) * size + column + j] += block[i, j]


def directions(angle: Array) -> tuple[Array, Array]:
    """Unit vectors a and n at rotations `angle` (m,) [rad], each (m, 2)."""
    a, n = np.empty((len(angle), 2)), np.empty((len(angle), 2))
    np.sin(angle, out=a[:, 0])
    np.cos(angle, out=a[:, 1])
    n[:, 0], n[:, 1] = a[:, 1], -a[:, 0]
    return a, n


@compiled
def beam_strains(beam: Beam, q: Array) -> tuple[Array, Array, Array]:
    """Gamma [-], gamma [-], kappa [1/m] (3, e) at mid-element for q (m, 3) [m, m, rad], and a, n (e, 2) there."""
    angle, length, e = beam.angle, beam.length, len(beam.length)
    strain, a, n = np.empty((3, e)), np.empty((e, 2)), np.empty((e, 2))
    for i in range(e):
        turn, h = 0.5 * (q[i, 2] + q[i + 1, 2]), length[i]
        a[i, 0], a[i, 1] = np.sin(angle + turn), np.cos(angle + turn)
        n[i, 0], n[i, 1] = a[i, 1], -a[i, 0]
        x, z = (q[i, 0] - q[i + 1, 0]) / h, (q[i, 1] - q[i + 1, 1]) / h
        # r = a_0 + change; a_0 . a - 1 = cos(turn) - 1 and a_0 . n = -sin(turn), written so that nothing cancels
        strain[0, i] = x * a[i, 0] + z * a[i, 1] - 2 * np.sin(0.5 * turn) ** 2
        strain[1, i] = x * n[i, 0] + z * n[i, 1] - np.sin(turn)
        strain[2, i] = (q[i, 2] - q[i + 1, 2]) / h
    return strain, a, n


@compiled
def resist(beam: Beam, section: HollowSection, q: Array, plastic: Array) -> BeamForces:
    """Nodal forces [N, N, N m] with which the beam resists q (m, 3) [m, m, rad], and their exact derivative.

    plastic : (e, f) plastic strain of the fibres at the last equilibrium [-].
    """
    strain, a, n = beam_strains(beam, q)
    found = respond(section, strain[0], strain[2], plastic)
    length, stiff, N, M, C = beam.length, section.shear_stiffness, found.force, found.moment, found.stiffness
    shear, e = stiff * strain[1], len(length)
    force, band = np.zeros((e + 1, 3)), np.zeros((2 * HALF_BAND + 1) * 3 * (e + 1))
    B, K = np.zeros((3, 6)), np.empty((6, 6))
    for i in range(e):
        h, stretch, slide = length[i], 1 + strain[0, i], strain[1, i]
        for node, sign in ((0, 1.0), (3, -1.0)):
            for c in range(2):
                B[0, node + c], B[1, node + c] = sign * a[i, c] / h, sign * n[i, c] / h
            B[0, node + 2], B[1, node + 2], B[2, node + 2] = 0.5 * slide, -0.5 * stretch, sign / h
        for r in range(6):
            by_stretch = C[0, i] * B[0, r] + C[1, i] * B[2, r]
            by_turn = C[1, i] * B[0, r] + C[2, i] * B[2, r]
            for c in range(6):
                K[r, c] = h * (by_stretch * B[0, c] + stiff * B[1, r] * B[1, c] + by_turn * B[2, c])
        _add_geometric(K, N[i], shear[i], a[i], n[i], stretch, slide, h)
        add_block(band, 3 * i, 3 * i, K)
        for r in range(6):
            force[i + r // 3, r % 3] += h * (N[i] * B[0, r] + shear[i] * B[1, r] + M[i] * B[2, r])
    return BeamForces(force, band, strain, shear, found)


@within
def _add_geometric(
    K: Array, N: float, V: float, a: Array, n: Array, stretch: float, slide: float, length: float
) -> None:
    """Add N d2 Gamma + V d2 gamma to K (6, 6): by position and turn N n - V a, by turns -N (1 + Gamma) - V gamma."""
    half = -0.125 * length * (N * stretch + V * slide)
    for turn in (2, 5):  # where two turns meet, half comes from the row and half from the column
        for c in range(2):
            mixed = 0.5 * (N * n[c] - V * a[c])
            K[c, turn] += mixed
            K[turn, c] += mixed
            K[c + 3, turn] -= mixed
            K[turn, c + 3] -= mixed
        for c in (2, 5):
            K[c, turn] += half
            K[turn, c] += half


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
    x = np.array(right, float)
    if not eliminate(band, x):
        raise np.linalg.LinAlgError("banded matrix: singular")
    return x


@compiled
def eliminate(band: Array, x: Array) -> bool:
    """Turn right sides x (n, k) into solutions, by Gauss with partial pivoting; false if the band is singular.

    A row begins at the column that is to be eliminated, and ends at its last number that is not zero: a pivot may come
    from HALF_BAND rows below and bring as many columns, but most bring none.
    """
    n, sides = x.shape
    rows, last = _rows(band, n)
    for k in range(n):
        end = min(k + HALF_BAND + 1, n)
        _pivot(rows, last, x, k, end)
        if rows[k, 0] == 0:
            return False
        far = last[k] - k
        for i in range(k + 1, end):
            share, width = rows[i, 0] / rows[k, 0], last[i] - k
            if share != 0:
                width = max(width, far)
                for j in range(1, width + 1):
                    rows[i, j - 1] = rows[i, j] - share * rows[k, j]
                for side in range(sides):
                    x[i, side] -= share * x[k, side]
            else:
                for j in range(1, width + 1):
                    rows[i, j - 1] = rows[i, j]
            rows[i, width], last[i] = 0.0, k + width
    for k in range(n - 1, -1, -1):
        for side in range(sides):
            for j in range(1, last[k] - k + 1):
                x[k, side] -= rows[k, j] * x[k + j, side]
            x[k, side] /= rows[k, 0]
    return True


@within
def _rows(band: Array, n: int) -> tuple[Array, NDArray[np.int64]]:
    """The rows (n, 2 HALF_BAND + 1) of a flat band, each from its first column on, and their last columns."""
    rows, last = np.zeros((n, 2 * HALF_BAND + 1)), np.empty(n, np.int64)
    for i in range(n):
        first, end = max(i - HALF_BAND, 0), min(i + HALF_BAND, n - 1)
        while end > i and band[(HALF_BAND + i - end) * n + end] == 0:
            end -= 1
        for j in range(first, end + 1):
            rows[i, j - first] = band[(HALF_BAND + i - j) * n + j]
        last[i] = end
    return rows, last


@within
def _pivot(rows: Array, last: NDArray[np.int64], x: Array, k: int, end: int) -> None:
    """Exchange row k with that of the largest number in its column, of those before `end`."""
    best = k
    for i in range(k + 1, end):
        if abs(rows[i, 0]) > abs(rows[best, 0]):
            best = i
    if best != k:
        for j in range(rows.shape[1]):
            rows[k, j], rows[best, j] = rows[best, j], rows[k, j]
        for side in range(x.shape[1]):
            x[k, side], x[best, side] = x[best, side], x[k, side]
        last[k], last[best] = last[best], last[k]
