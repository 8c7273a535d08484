"""Three linear elastic benchmarks of NAFEMS, in 3D: LE1, LE10 and LE11.

LE1, LE10: a quarter of a plate between the ellipses (2 cos t, sin t) and (3.25 cos t, 2.75 sin t) [m]. LE1: outward
pressure 10 MPa on the outer edge, plane stress (here a plate so thin, 0.005 m, that one element through it does).
LE10: 0.6 m thick, 1 MPa on its upper face; on the outer face u_x = u_y = 0, on its middle line u_z = 0. Wanted is
sigma_yy at D, x = 2 m on the inner edge (LE10: of the upper face).

LE11: a body of revolution, a thick cylinder that tapers into a sphere, at the temperature T = sqrt(x^2 + y^2) + z
[deg C; m], u_z = 0 on both ends. Nodal forces and stress of the thermal strain alpha T 1:

    f_a = int B_a^T C : 1 alpha T dV,       sigma = C : eps(u) - C : 1 alpha T

Wanted is sigma_zz at A, r = 1 m, z = 0. In all three E = 210 GPa, nu = 0.3.

Limits, with references of three digits: LE1 depends neither on nu (plane, tractions alone, none on the hole) nor on E.
LE10's support along a line is singular and its third digit drifts with the mesh; nu 10 % larger fails. LE11 is in
proportion to E alpha, of which 10 % fail; nu 10 % larger passes: LE11 is no guard of nu.
"""

from __future__ import annotations

import numpy as np
from skfem import LinearForm, MeshHex2

from ....fem.solid.elasticity import scalar_basis
from ....materials.tensor import isotropic
from ...check import Check, Measured, Quantity
from ...models.bodies import (
    Array,
    Mask,
    block,
    everywhere,
    held,
    nearest_node,
    pressure,
    solve_body,
    stress_at,
    traction,
)

E, NU, ALPHA = 210e9, 0.3, 2.3e-4  # Pa, -, 1/K
INNER, OUTER = np.array([2.0, 1.0]), np.array([3.25, 2.75])  # m, semi-axes
THIN, THICK = 0.005, 0.6  # m
MEMBRANE_COUNTS = (8, 16, 32)  # elements round the quarter; half as many outwards
PLATE_COUNTS = (1, 2, 3)  # half, a quarter and a sixth of those through the plate, outwards, round
TURNED_COUNTS = (2, 3, 4)  # elements in a quarter of the section's length; twice as many through it, four round


def _plate(round_: int, outwards: int, z: Array) -> MeshHex2:
    """The quarter between the ellipses, elements finer at both edges and towards D, between the levels z [m]."""

    def shape(x: Array) -> Array:
        t = 0.5 * np.pi * x[1]
        axes = INNER[:, None] + (OUTER - INNER)[:, None] * x[0]
        return np.stack([axes[0] * np.cos(t), axes[1] * np.sin(t), x[2]])

    across = np.linspace(-1, 1, outwards + 1)
    across = 0.5 * (1 + np.sign(across) * (1 - (1 - np.abs(across)) ** 2))
    return block([across, np.linspace(0, 1, round_ + 1) ** 1.5, z], shape)


def _on_outer(x: Array) -> Mask:
    """Where x (3, ...) lies on the outer ellipse."""
    return np.asarray(np.abs(np.hypot(x[0] / OUTER[0], x[1] / OUTER[1]) - 1) < 1e-9)


SIDES = ((lambda x: np.abs(x[0]) < 1e-9, [0]), (lambda x: np.abs(x[1]) < 1e-9, [1]))


def _membrane(n: int) -> float:
    """LE1: sigma_yy at D [Pa] with n elements round the quarter."""
    mesh = _plate(n, n // 2, np.array([0.0, THIN / 2]))
    regions = everywhere(mesh, isotropic(E, NU))
    load = traction(mesh, _on_outer, pressure(-10e6))
    u = solve_body(mesh, regions, load, held(mesh, *SIDES, (lambda x: np.abs(x[2]) < 1e-9, [2])))
    return float(stress_at(mesh, u, regions, [nearest_node(mesh, (INNER[0], 0.0, 0.0))])[0, 1])


def _thick_plate(n: int) -> float:
    """LE10: sigma_yy at D [Pa] with 2 n elements through the plate."""
    mesh = _plate(6 * n, 4 * n, np.linspace(0, THICK, 2 * n + 1))
    regions = everywhere(mesh, isotropic(E, NU))
    load = traction(mesh, lambda x: np.abs(x[2] - THICK) < 1e-9, pressure(1e6))
    middle = (lambda x: _on_outer(x) & (np.abs(x[2] - THICK / 2) < 1e-9), [2])
    u = solve_body(mesh, regions, load, held(mesh, *SIDES, (_on_outer, [0, 1]), middle))
    return float(stress_at(mesh, u, regions, [nearest_node(mesh, (INNER[0], 0.0, THICK))])[0, 1])


def section(s: Array, t: Array) -> Array:
    """(r, z) [m] of LE11's section: s from 0 at z = 0 to 4 at the upper end, t from 0 inside to 1 outside."""
    h = np.sqrt(0.5)
    angle = np.minimum(s, 2) * np.pi / 8
    inside = np.stack([np.cos(angle), np.sin(angle) + np.maximum(s - 2, 0) / 2 * (1.79 - h)])
    arc = np.minimum(s, 1) * np.pi / 6
    knots = np.array([[1.4 * np.cos(np.pi / 6), 1.1062, 1.0, 1.0], [0.7, 1.045, 1.39, 1.79]])
    line = np.stack([np.interp(s, [1, 2, 3, 4], row) for row in knots])
    return inside + t * (np.where(s < 1, 1.4 * np.stack([np.cos(arc), np.sin(arc)]), line) - inside)


def _turned(n: int) -> float:
    """LE11: sigma_zz at A [Pa] with 4 n elements along the section."""

    def shape(x: Array) -> Array:
        phi = 0.5 * np.pi * x[2]
        r, z = section(x[1], x[0])
        return np.stack([r * np.cos(phi), r * np.sin(phi), z])

    mesh = block([np.linspace(0, 1, 2 * n + 1), np.linspace(0, 4, 4 * n + 1), np.linspace(0, 1, 4 * n + 1)], shape)
    C = isotropic(E, NU)
    regions = everywhere(mesh, C)
    hot = ALPHA * np.einsum("ijkk->ij", C)  # stress that holds back the strain of 1 K
    basis = scalar_basis(mesh)
    x = np.asarray(basis.global_coordinates())
    T = np.hypot(x[0], x[1]) + x[2]
    load = np.stack(
        [LinearForm(lambda v, w, c=c: w.T * hot[c, c] * v.grad[c]).assemble(basis, T=T) for c in range(3)], axis=1
    )
    ends = (lambda x: np.abs(x[2] * (x[2] - 1.79)) < 1e-9, [2])
    u = solve_body(mesh, regions, load.ravel(), held(mesh, *SIDES, ends))
    A = nearest_node(mesh, (1.0, 0.0, 0.0))
    return float(stress_at(mesh, u, regions, [A])[0, 2] - hot[2, 2] * 1.0)


def measure_membrane() -> Measured:
    """LE1."""
    ours = np.array([_membrane(n) for n in MEMBRANE_COUNTS]) / 1e6
    because = "half of the reference's last digit, 0.054 %, and what is left of the mesh, 0.02 %, rounded up to 0.08 %"
    sizes = tuple(1 / n for n in MEMBRANE_COUNTS)
    return Measured((Quantity("sigma_yy at D", "MPa", 92.7, ours, 8e-4, because, sizes),))


def measure_plate() -> Measured:
    """LE10."""
    ours = np.array([_thick_plate(n) for n in PLATE_COUNTS]) / 1e6
    because = "half of the reference's last digit, 0.1 %, and the drift with the mesh, 0.4 %; 1.1 nu would make 1.6 %"
    return Measured((Quantity("sigma_yy at D", "MPa", -5.38, ours, 5e-3, because, tuple(1 / n for n in PLATE_COUNTS)),))


def measure_turned() -> Measured:
    """LE11."""
    ours = np.array([_turned(n) for n in TURNED_COUNTS]) / 1e6
    because = "half of the reference's last digit, 0.48 %; 1.1 nu would make -0.46 %: no guard of nu"
    return Measured(
        (Quantity("sigma_zz at A", "MPa", -105.0, ours, 4.8e-3, because, tuple(1 / n for n in TURNED_COUNTS)),)
    )


BOOK = "NAFEMS, The Standard NAFEMS Benchmarks, 1990 (book not seen)"
PAGE = "a public verification page of a general-purpose finite-element code"
PART = "fem.solid.elasticity, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra"
CHECKS = (
    Check(
        name="nafems_le1",
        group="elasticity",
        title="NAFEMS LE1: elliptic membrane under outward pressure",
        source=f"{BOOK}, LE1, geometry and value as {PAGE} gives them (FeenoX, open source: nafems-le1)",
        how="published",
        part=PART,
        measure=measure_membrane,
        slow=True,
    ),
    Check(
        name="nafems_le10",
        group="elasticity",
        title="NAFEMS LE10: thick elliptic plate under pressure",
        source=f"{BOOK}, LE10, supports and value as {PAGE} gives them (open source)",
        how="published",
        part=PART,
        measure=measure_plate,
        slow=True,
    ),
    Check(
        name="nafems_le11",
        group="elasticity",
        title="NAFEMS LE11: cylinder, taper and sphere at a temperature that varies",
        source=f"{BOOK}, LE11, data and value as {PAGE} gives them, points as FinEALE's test_LE11_H8 does",
        how="published",
        part=f"{PART}; thermal load added here",
        measure=measure_turned,
        slow=True,
    ),
)
