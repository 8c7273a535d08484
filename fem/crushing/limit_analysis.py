"""Limit analysis of a plane section as a cone programme: what a rigid tool can press into a body, from both sides.

    find      stress (s, d1, d2) at the corners of triangles,   sigma_x, sigma_y = s +- d1,   tau = d2
    largest   force of the tool along its movement            in equilibrium,   |(d1, d2)| <= r <= a_i - b_i s

    lower     stress is linear in a triangle; equilibrium inside; tractions agree across every edge (Sloan 1988;
              Makrodimopoulos & Martin 2006, Int. J. Numer. Meth. Engng, from memory)
    upper     velocity is quadratic in a triangle and may jump at edges; equilibrium in the mean with each velocity: the
              dual of the least dissipation, with flow at corners (Makrodimopoulos & Martin 2007, Int. J. Numer. Anal.
              Meth. Geomech., from memory) and in edges as layers of no thickness (Krabbenhoft et al. 2005, from memory)

Jumps are held by Bezier points: an edge slides or opens between its ends as they and the middle do. Far edges: a lower
bound ends them by bars at their strength or less, which an endless body carries on; an upper bound holds them. So both
are bounds of an endless body. Solver: Clarabel. Forces per length are in the unit of stress times that of length.

Limits: small movement, rigid-plastic, associated flow, no weight.
"""

from __future__ import annotations

from dataclasses import dataclass

import clarabel
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ..errors import SolveError
from .plane_strength import PlaneStrength
from .section import Face, Section

Array = NDArray[np.float64]
Index = NDArray[np.int64]
PER_POINT = 4  # s, d1, d2, r
MIDDLE = {(0, 1): 3, (1, 2): 4, (0, 2): 5}  # Bezier point between two corners, after the corners


@dataclass(frozen=True, slots=True)
class Bound:
    """force : of the tool along its movement.  velocity : of an upper bound at corners of triangles (2, 3, n)."""

    force: float
    velocity: Array


class _Rows:
    """Rows of a sparse matrix, gathered in blocks."""

    def __init__(self) -> None:
        self.count = 0
        self._parts: list[tuple[Array, Index, Index]] = []

    def add(self, values: Array, columns: Index) -> None:
        """New rows of values (n, entries) at columns (n, entries)."""
        rows = self.count + np.arange(len(values))[:, None] + np.zeros_like(columns)
        self.put(values, rows, columns, self.count + len(values))

    def put(self, values: Array, rows: Index, columns: Index, count: int) -> None:
        """Values to add at rows and columns; the matrix then has `count` rows."""
        values, rows, columns = np.broadcast_arrays(values, rows, columns)
        self._parts.append((values.ravel(), rows.ravel(), columns.ravel()))
        self.count = count

    def matrix(self, columns: int) -> sparse.csr_matrix:
        """All rows."""
        if not self._parts:
            return sparse.csr_matrix((0, columns))
        values, rows, cols = (np.concatenate(part) for part in zip(*self._parts, strict=True))
        return sparse.csr_matrix((values, (rows, cols)), shape=(self.count, columns))


def lower_bound(section: Section, strength: PlaneStrength) -> Bound:
    """Force that the body surely bears (module docstring). Raises SolveError if the programme is not solved."""
    mesh, points = section.mesh, 3 * section.mesh.nelements
    gradients, area = section.gradients()
    balance, below = _Rows(), _Rows()
    for axis in (0, 1):
        values = _traction(gradients * np.sqrt(area)[:, None, None])[:, :, axis, :]
        balance.add(values.reshape(-1, 12), _stress_columns(np.arange(points)).reshape(-1, 12))
    inner = np.nonzero(mesh.f2t[1] >= 0)[0]
    outer = np.nonzero(mesh.f2t[1] < 0)[0]
    free = np.setdiff1d(outer, np.concatenate([section.tool, section.far, section.symmetry]))
    for end in (0, 1):
        _agree(balance, section, inner, end)
        values, columns = _edge_traction(section, free, end, 0)
        for axis in (0, 1):
            balance.add(values[:, axis], columns)
        values, columns = _edge_traction(section, section.symmetry, end, 0)
        balance.add(values[:, 0], columns)
    limits, extra = _bar_tractions(balance, below, section, strength, PER_POINT * points)
    objective = np.zeros(PER_POINT * points + extra)
    right, normal, half = list(limits), section.normals(section.tool), section.lengths(section.tool)[:, None] / 2
    for end in (0, 1):
        values, columns = _edge_traction(section, section.tool, end, 0)
        np.add.at(objective, columns, half * (values.swapaxes(1, 2) @ section.movement))
        right += _face_rows(below, section.face, values, columns, normal)
    force, _ = _solve(objective, balance, below, np.array(right), points, strength)
    return Bound(force, np.empty((2, 3, 0)))


def upper_bound(section: Section, strength: PlaneStrength) -> Bound:
    """Force that the body surely does not bear (module docstring). Raises SolveError if it is not solved."""
    mesh, each = section.mesh, 6 * np.arange(section.mesh.nelements)
    gradients, area = section.gradients()
    power, size = _Rows(), 12 * mesh.nelements
    for a in range(3):
        columns = _stress_columns(each // 2 + a)
        for j in range(3):
            values = _traction(gradients[:, j] * (2 * area / 3)[:, None])
            _at(power, values, each + (a if j == a else MIDDLE[min(a, j), max(a, j)]), columns, size)
    points = 3 * mesh.nelements
    inner = np.nonzero(mesh.f2t[1] >= 0)[0]
    values, columns, _ = _slip(section, inner, points, np.tile(section.normals(inner), (3, 1)))
    for side, sign in ((0, -1.0), (1, 1.0)):
        _at(power, sign * values, _controls(section, inner, side), columns, size)
    points += len(columns)
    tool, ends = section.tool, mesh.p[:, mesh.facets[:, section.tool]]
    at = np.hstack([ends[:, 0], ends[:, 1], ends.mean(1)])
    normal = np.tile(section.normals(tool), (3, 1)) if section.outward is None else section.outward(at).T
    values, columns, traction = _slip(section, tool, points, normal)
    _at(power, -values, _controls(section, tool, 0), columns, size)
    points += len(columns)
    below, first = _Rows(), PER_POINT * points
    limits, bars = (np.empty(0), 0) if section.endless else _bar_forces(power, below, section, strength, first)
    objective = np.zeros(first + bars)
    objective[columns] = values.swapaxes(1, 2) @ section.movement
    right = list(limits) + _face_rows(below, section.face, traction, columns, normal)
    moving = np.ones((size // 2, 2), bool)
    moving[_controls(section, section.symmetry, 0), 1] = False
    if section.endless:
        moving[_controls(section, section.far, 0)] = False
    kept = np.nonzero(moving.ravel())[0]
    force, multipliers = _solve(objective, power, below, np.array(right), points, strength, kept)
    velocity = np.zeros(size)
    velocity[kept] = -multipliers
    return Bound(force, velocity.reshape(-1, 6, 2)[:, :3].transpose(2, 1, 0))


def _controls(section: Section, edges: Index, side: int) -> Index:
    """Bezier points of the velocity of the triangles on a side of edges: first ends, second ends, middles (3 n,)."""
    mesh, triangle = section.mesh, section.mesh.f2t[side, edges]
    first, second = ((mesh.t[:, triangle] == mesh.facets[end, edges]).argmax(0) for end in (0, 1))
    middle = np.array([0, 3, 5, 4])[first + second]  # corners 0 + 1, 0 + 2, 1 + 2
    return 6 * np.tile(triangle, 3) + np.concatenate([first, second, middle])


def _slip(section: Section, edges: Index, first: int, normal: Array) -> tuple[Array, Index, Array]:
    """Stresses from a number on at three points of edges that may slip or open: forces, columns, tractions."""
    traction = _traction(normal)
    weight = np.tile(section.lengths(edges), 3) / 3
    return weight[:, None, None] * traction, _stress_columns(first + np.arange(3 * edges.size)), traction


def _at(power: _Rows, forces: Array, control: Index, columns: Index, size: int) -> None:
    """Add forces (n, 2, entries) of columns (n, entries) at Bezier points (n,)."""
    for axis in (0, 1):
        power.put(forces[:, axis], (2 * control + axis)[:, None], columns, size)


def _solve(
    objective: Array,
    balance: _Rows,
    below: _Rows,
    right: Array,
    points: int,
    strength: PlaneStrength,
    kept: Index | None = None,
) -> tuple[float, Array]:
    """Largest objective with balance x = 0, below x <= right, points within strength; multipliers of balance."""
    n, at = objective.size, PER_POINT * np.arange(points)
    for a, b in zip(strength.intercept, strength.slope, strict=True):
        below.add(np.tile([1.0, b], (points, 1)), np.stack([at + 3, at], 1))
        right = np.append(right, np.full(points, a))
    zero = balance.matrix(n)
    zero = zero if kept is None else zero[kept]
    shear = (at[:, None] + [3, 1, 2]).ravel()
    cone = sparse.csr_matrix((-np.ones(shear.size), (np.arange(shear.size), shear)), shape=(shear.size, n))
    A = sparse.vstack([zero, below.matrix(n), cone]).tocsc()
    b = np.concatenate([np.zeros(zero.shape[0]), right, np.zeros(shear.size)])
    cones = [clarabel.ZeroConeT(zero.shape[0]), clarabel.NonnegativeConeT(right.size)]
    cones += [clarabel.SecondOrderConeT(3)] * points
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    found = clarabel.DefaultSolver(sparse.csc_matrix((n, n)), -objective, A, b, cones, settings).solve()
    if str(found.status) not in ("Solved", "AlmostSolved"):
        raise SolveError(f"limit analysis: the cone programme ended with {found.status}")
    return -float(found.obj_val), np.array(found.z[: zero.shape[0]])


def _traction(normal: Array) -> Array:
    """Operator (..., 2, 4) that takes (s, d1, d2, r) to the traction on a normal (..., 2)."""
    x, y, none = normal[..., 0], normal[..., 1], np.zeros(normal.shape[:-1])
    return np.stack([np.stack([x, x, y, none], -1), np.stack([y, -y, x, none], -1)], -2)


def _stress_columns(point: Index) -> Index:
    return PER_POINT * point[:, None] + np.arange(PER_POINT)


def _edge_traction(section: Section, edges: Index, end: int, side: int) -> tuple[Array, Index]:
    """Operator (n, 2, 4) and columns (n, 4) of the traction at an end of edges, by the triangle on a side."""
    mesh = section.mesh
    triangle = mesh.f2t[side, edges]
    corner = (mesh.t[:, triangle] == mesh.facets[end, edges]).argmax(0)
    return _traction(section.normals(edges)), _stress_columns(3 * triangle + corner)


def _agree(balance: _Rows, section: Section, edges: Index, end: int) -> None:
    """Tractions on both sides of inner edges are the same."""
    (values, one), (_, other) = (_edge_traction(section, edges, end, side) for side in (0, 1))
    for axis in (0, 1):
        balance.add(np.hstack([values[:, axis], -values[:, axis]]), np.hstack([one, other]))


def _bar_tractions(
    balance: _Rows, below: _Rows, section: Section, strength: PlaneStrength, first: int
) -> tuple[Array, int]:
    """Tractions at far edges are a factor of each edge times its bars; limits and number of the factors."""
    edges = section.far
    factor = first + np.arange(edges.size)[:, None]
    for end in (0, 1):
        values, columns = _edge_traction(section, edges, end, 0)
        for axis in (0, 1):
            balance.add(np.hstack([values[:, axis], -section.bars[axis, end][:, None]]), np.hstack([columns, factor]))
    return _bar_limits(below, section, strength, factor, section.bars).min(0).ravel(), edges.size


def _bar_forces(power: _Rows, below: _Rows, section: Section, strength: PlaneStrength, first: int) -> tuple[Array, int]:
    """The same in the mean, for Bezier points of the velocity; limits and number of the factors."""
    edges, bars = section.far, section.bars
    factor = first + np.arange(edges.size)[:, None]
    first_ends, second_ends = bars[:, 0], bars[:, 1]
    shared = np.hstack(
        [first_ends / 4 + second_ends / 12, first_ends / 12 + second_ends / 4, (first_ends + second_ends) / 6]
    )
    pushed = -np.tile(section.lengths(edges), 3) * shared
    _at(power, pushed.T[:, :, None], _controls(section, edges, 0), np.tile(factor, (3, 1)), power.count)
    return _bar_limits(below, section, strength, factor, bars.mean(1, keepdims=True)).min(0).ravel(), edges.size


def _bar_limits(below: _Rows, section: Section, strength: PlaneStrength, factor: Index, bars: Array) -> Array:
    """Limits (points, signs, edges) of the factors where bars (2, points, edges) reach their strength."""
    normal = section.normals(section.far).T
    most = (normal[:, None] * bars).sum(0) / (bars**2).sum(0)
    limits = []
    for sign, of_bar in zip((-1.0, 1.0), strength.uniaxial(), strict=True):
        if np.isfinite(of_bar):
            below.add(np.full((len(factor), 1), sign), factor)
            limits.append(of_bar * most)
    return np.stack(limits, 1) if limits else np.empty((1, 0, len(factor)))


def _face_rows(below: _Rows, face: Face, values: Array, columns: Index, normal: Array) -> list[float]:
    """The face's law for tractions values (n, 2, entries) at columns (n, entries); its right-hand sides."""
    if face.bonded:
        return []
    along = np.stack([-normal[:, 1], normal[:, 0]], -1)
    pressed, shear = ((direction[:, None] @ values)[:, 0] for direction in (normal, along))
    rows = [(shear + face.friction * pressed, face.adhesion), (face.friction * pressed - shear, face.adhesion)]
    if face.opens:
        rows.append((pressed, 0.0))
    right: list[float] = []
    for row, limit in rows:
        below.add(row, columns)
        right += [limit] * len(row)
    return right
