"""Thick-walled cylinder under internal pressure p, in plane strain (Lame).

    A = p a^2 / (b^2 - a^2),   sigma_rr = A (1 - b^2 / r^2),   sigma_tt = A (1 + b^2 / r^2)                     [Pa]
    u_r = (1 + nu) / E A [(1 - 2 nu) r + b^2 / r]                                                                [m]

with a <= r <= b. A quarter of the cylinder, one element high, rings graded outwards like those of the half model.
"""

from __future__ import annotations

import numpy as np

from ....materials.tensor import isotropic
from ...check import Check, Measured, Quantity
from ...models.bodies import (
    Array,
    block,
    everywhere,
    nearest_node,
    pressure,
    quarter_supports,
    solve_body,
    stress_at,
    traction,
)

E, NU, P = 9.3e9, 0.325, 1e6  # Pa, -, Pa
INNER, OUTER, HEIGHT = 0.0085, 0.034, 0.004  # m
COUNTS = (2, 4, 8)  # elements round the quarter; twice as many outwards


def _cylinder(n: int) -> tuple[float, float]:
    """u_r at the bore [m] and hoop stress there [Pa], with n elements round the quarter."""

    def shape(x: Array) -> Array:
        r, phi = INNER * (OUTER / INNER) ** x[0], 0.5 * np.pi * x[1]
        return np.stack([r * np.cos(phi), r * np.sin(phi), HEIGHT * x[2]])

    mesh = block([np.linspace(0, 1, 2 * n + 1), np.linspace(0, 1, n + 1), np.array([0.0, 1.0])], shape)
    regions = everywhere(mesh, isotropic(E, NU))
    load = traction(mesh, lambda x: np.hypot(x[0], x[1]) < INNER * (1 + 1e-9), pressure(P))
    u = solve_body(mesh, regions, load, quarter_supports(mesh, HEIGHT))
    at = nearest_node(mesh, (INNER, 0.0, 0.0))
    return float(u[3 * at]), float(stress_at(mesh, u, regions, [at])[0, 1])


def measure() -> Measured:
    """Radial displacement and hoop stress at the bore."""
    A = P * INNER**2 / (OUTER**2 - INNER**2)
    found = np.array([_cylinder(n) for n in COUNTS])
    sizes = tuple(1 / n for n in COUNTS)
    bore = (1 + NU) / E * A * ((1 - 2 * NU) * INNER + OUTER**2 / INNER)
    hoop = A * (1 + OUTER**2 / INNER**2)
    because = "measured error of the finest mesh, with a margin of three"
    return Measured(
        (
            Quantity("u_r at the bore", "um", bore * 1e6, found[:, 0] * 1e6, 2e-5, because, sizes, None, 3.5),
            Quantity("hoop stress at the bore", "MPa", hoop / 1e6, found[:, 1] / 1e6, 4e-4, because, sizes, None, 3.0),
        )
    )


CHECKS = (
    Check(
        name="lame",
        group="elasticity",
        title="Thick cylinder under internal pressure, plane strain",
        source="Timoshenko & Goodier, Theory of Elasticity, thick-walled cylinder (Lame's solution), from memory",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra",
        measure=measure,
    ),
)
