"""Rigid parabola pressed into a half-space, as a line (plane strain) and as a point (of revolution), no friction.

    line    b = 2 sqrt(P R / (pi E*)),   p_0 = sqrt(P E* / (pi R)),   p = p_0 sqrt(1 - x^2 / b^2);  P [N/m]
    point   a = (3 F R / (4 E*))^(1/3),  p_0 = 3 F / (2 pi a^2),      approach = a^2 / R;           F [N]
    E* = E / (1 - nu^2)

`fem.solid.contact.solve_gaps` has no gap to start with. Here there is one, g_0 = x^2 / (2 R) >= 0, and it is shifted
in: with g' = g + g_0 >= 0 the energy 1/2 g S g - c g is, but for a constant, 1/2 g' S g' - (c + S g_0) g'. The indenter
is one unknown more, its sinking d; the gap is u_normal + d, so that d is free and P works on it.

Half-widths come from the second moment of the nodal forces, which needs no edge: b^2 = 4 <x^2> for the line and
a^2 = 5/2 <r^2> for the point. The half-space ends, held, at 200 b (line: terms of (b / far)^2) and 2000 a
(point: the approach lacks about 0.4 a / far). The sinking of a line load grows with log(far) and is not compared.
"""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import MeshQuad

from ....fem.solid.assembly import assemble_stiffness
from ....fem.solid.axisymmetric import make_body
from ....fem.solid.condensation import condense
from ....fem.solid.contact import solve_gaps
from ....fem.solid.solver import choose_method
from ....geometry.o_grid import graded
from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, block, everywhere, held

E, NU, CURVED = 9.3e9, 0.325, 0.05  # Pa, -, m
Dofs = NDArray[np.int64]
HALF_WIDTH = 0.001  # m, of both contacts; the loads are those that bring it about
STIFF = E / (1 - NU**2)
LINE, POINT = pi * STIFF * HALF_WIDTH**2 / (4 * CURVED), 4 * STIFF * HALF_WIDTH**3 / (3 * CURVED)  # N/m, N
FAR = 200 * HALF_WIDTH
PER_WIDTH = (4.25, 8.5, 17.0)  # elements in the half width, the edge never at a node
SIZES = tuple(1 / per_width for per_width in PER_WIDTH)


def nodal_pressure(force: Array, x: Array, around: bool = False) -> Array:
    """Pressure (m,) [Pa] whose consistent forces on quadratic line elements through nodes x (m,) [m] are `force` (m,).

    Forces per unit of length, or, with `around`, those of the whole turn about x = 0.
    """
    points, weights = np.polynomial.legendre.leggauss(4)
    N = np.stack([points * (points - 1) / 2, 1 - points**2, points * (points + 1) / 2])
    M = np.zeros((x.size, x.size))
    for first in range(0, x.size - 2, 2):
        at = slice(first, first + 3)
        measure = weights * 0.5 * (x[first + 2] - x[first])
        M[at, at] += (N * measure * (2 * pi * (x[at] @ N) if around else 1.0)) @ N.T
    return np.asarray(np.linalg.solve(M, force), dtype=np.float64)


def _reach(per_width: float) -> float:
    """Just beyond the nodes that may touch [m]: about 1.5 half widths, whole elements."""
    return (round(1.5 * per_width) + 0.1) * HALF_WIDTH / per_width


def _lines(per_width: float, far: float) -> Array:
    """Grid lines from 0 to `far` [m], even up to about 1.5 half widths."""
    size = HALF_WIDTH / per_width
    even = size * np.arange(round(1.5 * per_width) + 1)
    return np.concatenate([even, even[-1] + graded(far - even[-1], size, far, 3.4 / per_width, far)[1:]])


def _press(K: sp.csr_matrix, normal: Dofs, fixed: Dofs, x: Array, load: float) -> tuple[Array, float]:
    """Pressing forces (m,) at the nodes that may touch, and how far the indenter sinks [m].

    normal : (m,) dofs of the outward displacement there, x : (m,) distances [m]; fixed : dofs held; load : on K's part.
    """
    n = K.shape[0]
    kept = np.setdiff1d(np.arange(n), fixed)
    sign = np.ones(n)
    sign[normal] = -1.0  # u_normal = -gap - d
    sinks = sp.csr_matrix((np.full(normal.size, -1.0), (normal, np.zeros(normal.size, int))), shape=(n, 1))
    T = sp.hstack([sp.diags_array(sign).tocsr()[:, kept], sinks]).tocsr()
    b = np.append(np.zeros(kept.size), load)
    A = sp.triu(T.T @ K @ T, format="csr")
    condensed = condense(A, b, np.append(np.isin(kept, normal), False), choose_method(b.size))
    g_0 = (x**2 / (2 * CURVED))[np.argsort(normal)]
    v = condensed.expand(solve_gaps(condensed.S, condensed.c + condensed.S @ g_0)[0] - g_0)
    return -(K @ (T @ v))[normal], float(v[-1])


def _line(per_width: float) -> tuple[Array, Array, Array]:
    """Half width, largest pressure; nodes' x and pressure."""
    size = HALF_WIDTH / per_width
    depth = -graded(FAR, size, FAR, 3.4 / per_width, FAR)[::-1]
    mesh = block([_lines(per_width, FAR), depth, np.array([0.0, HALF_WIDTH])])
    x = mesh.doflocs
    fixed = held(
        mesh,
        (lambda x: np.abs(x[0]) < 1e-12, [0]),
        (lambda x: (x[0] > FAR - 1e-9) | (x[1] < 1e-9 - FAR), [0, 1]),
        (lambda x: np.isfinite(x[2]), [2]),
    )
    top = np.flatnonzero((np.abs(x[1]) < 1e-12) & (x[0] < _reach(per_width)))
    K = assemble_stiffness(mesh, everywhere(mesh, isotropic(E, NU)))
    force, _ = _press(K, 3 * top + 1, np.flatnonzero(fixed), x[0, top], 0.5 * LINE * HALF_WIDTH)
    places, row = np.unique(np.round(x[0, top], 12), return_inverse=True)
    force = np.bincount(row, weights=force) / HALF_WIDTH
    pressure = nodal_pressure(force, places)
    return np.array([2 * sqrt(force @ places**2 / force.sum()), pressure[0]]), places, pressure


def _point(per_width: float) -> tuple[Array, Array, Array]:
    """Contact radius, largest pressure, approach; nodes' r and pressure."""
    far, size = 10 * FAR, HALF_WIDTH / per_width
    depth = -graded(far, size, far, 3.4 / per_width, far)[::-1]
    body = make_body(MeshQuad.init_tensor(_lines(per_width, far), depth), (E, NU))
    r, z = body.x
    end = (r > far - 1e-9) | (z < 1e-9 - far)
    fixed = np.concatenate([body.dofs[0, r < 1e-12], body.dofs[:, end].ravel()])
    top = np.flatnonzero((np.abs(z) < 1e-12) & (r < _reach(per_width)))
    top = top[np.argsort(r[top])]
    force, sinks = _press(body.K, body.dofs[1, top], fixed, r[top], POINT)
    pressure = nodal_pressure(force, r[top], around=True)
    return np.array([sqrt(2.5 * (force @ r[top] ** 2) / force.sum()), pressure[0], sinks]), r[top], pressure


def measure_line() -> Measured:
    """Half width and pressure of the line contact."""
    found = [_line(per_width) for per_width in PER_WIDTH]
    p_0 = sqrt(LINE * STIFF / (pi * CURVED))
    numbers = np.stack([numbers for numbers, _, _ in found]).T
    return Measured(_quantities(numbers, p_0), (_curve("Line contact", *found[-1][1:], p_0),))


def measure_point() -> Measured:
    """Radius, pressure and approach of the point contact."""
    found = [_point(per_width) for per_width in PER_WIDTH]
    p_0 = 3 * POINT / (2 * pi * HALF_WIDTH**2)
    numbers = np.stack([numbers for numbers, _, _ in found]).T
    approach = HALF_WIDTH**2 / CURVED
    because = "measured 3e-4, with a margin of two; most of it is the half-space's held end"
    sunk = Quantity("approach", "um", approach * 1e6, numbers[2] * 1e6, 6e-4, because, SIZES)
    return Measured((*_quantities(numbers, p_0), sunk), (_curve("Point contact", *found[-1][1:], p_0),))


def _quantities(numbers: Array, p_0: float) -> tuple[Quantity, Quantity]:
    edge = "largest of the errors measured with 8 to 25 elements in the half width: the edge lies inside an element"
    fine = "measured 1e-4 (line) and 2e-4 (point), with a margin of two"
    return (
        Quantity("half width of contact", "mm", HALF_WIDTH * 1e3, numbers[0] * 1e3, 2e-4, edge, SIZES),
        Quantity("largest pressure", "MPa", p_0 / 1e6, numbers[1] / 1e6, 4e-4, fine, SIZES, None, 1.5),
    )


def _curve(title: str, x: Array, pressure: Array, p_0: float) -> Curve:
    fine = HALF_WIDTH * np.sin(np.linspace(0, pi / 2, 60))
    exact = p_0 * np.sqrt(1 - (fine / HALF_WIDTH) ** 2) / 1e6
    return Curve(title, "distance [mm]", "pressure [MPa]", (fine * 1e3, exact), (x * 1e3, pressure / 1e6))


SOURCE = "Hertz; as in Johnson, Contact Mechanics, 1985, chapter 4, from memory"
CHECKS = (
    Check(
        name="hertz_line",
        group="contact",
        title="Rigid parabolic cylinder on a half-space, plane strain",
        source=SOURCE,
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver (condensation), fem.solid.contact (solve_gaps with gaps to "
        "start with)",
        measure=measure_line,
        slow=True,
    ),
    Check(
        name="hertz_point",
        group="contact",
        title="Rigid paraboloid on a half-space, of revolution",
        source=SOURCE,
        how="closed form",
        part="fem.solid.axisymmetric, fem.solid.solver (condensation), fem.solid.contact (solve_gaps with gaps to "
        "start with)",
        measure=measure_point,
    ),
)
