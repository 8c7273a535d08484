"""Curved bar bent by end moments, plane strain (Golovin): a quarter ring a <= r <= b under M [N m] a metre of height.

    N = (b^2 - a^2)^2 - 4 a^2 b^2 ln(b/a)^2,    k = a^2 b^2 ln(b/a) / r^2,    l = b^2 ln(r/b) + a^2 ln(a/r)
    sigma_rr = -4 M / N (k + l),    sigma_tt = -4 M / N (-k + l + b^2 - a^2),    sigma_zz = nu (sigma_rr + sigma_tt)

M > 0 straightens the bar. A section turns by kappa a radian of the bar, u_t = kappa r phi, and with Hooke's law

    kappa = eps_tt + r d(eps_tt)/dr - eps_rr = (1 - nu^2) / E (-8 M / N) (b^2 - a^2)

a constant, as compatibility demands. One end is a plane of symmetry, the other carries sigma_tt.
"""

from __future__ import annotations

from math import log

import numpy as np

from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, block, everywhere, held, nearest_node, solve_body, stress_at, traction

E, NU = 9.3e9, 0.325  # Pa, -
INNER, OUTER, HEIGHT = 0.020, 0.040, 0.004  # m
MOMENT = -200.0  # N m a metre of height
COUNTS = (2, 4, 6)  # elements across the bar, twice as many along
BIG = (OUTER**2 - INNER**2) ** 2 - 4 * (INNER * OUTER * log(OUTER / INNER)) ** 2
TURN = -8 * MOMENT / BIG * (OUTER**2 - INNER**2) * (1 - NU**2) / E  # kappa, rad a radian


def exact_stress(r: Array | float) -> tuple[Array, Array]:
    """sigma_rr and sigma_tt [Pa] at r [m]."""
    k = (INNER * OUTER / np.asarray(r)) ** 2 * log(OUTER / INNER)
    across = OUTER**2 * np.log(np.asarray(r) / OUTER) + INNER**2 * np.log(INNER / np.asarray(r))
    return -4 * MOMENT / BIG * (k + across), -4 * MOMENT / BIG * (across - k + OUTER**2 - INNER**2)


def _solve(n: int) -> tuple[tuple[float, float, float], tuple[Array, Array]]:
    """Hoop stress inside and outside at mid-length [Pa], turn of the end [rad]; hoop stress across the bar there."""

    def shape(x: Array) -> Array:
        r, phi = INNER * (OUTER / INNER) ** x[0], 0.5 * np.pi * x[1]
        return np.stack([r * np.cos(phi), r * np.sin(phi), HEIGHT * x[2]])

    mesh = block([np.linspace(0, 1, n + 1), np.linspace(0, 1, 2 * n + 1), np.array([0.0, 1.0])], shape)
    regions = everywhere(mesh, isotropic(E, NU))
    load = traction(mesh, lambda x: np.abs(x[0]) < 1e-9, lambda x, n: n * exact_stress(np.hypot(x[0], x[1]))[1])
    ground = nearest_node(mesh, (INNER, 0.0, 0.0))
    fixed = held(
        mesh,
        (lambda x: np.abs(x[1]) < 1e-9, [1]),
        (lambda x: np.abs(x[2] * (x[2] - HEIGHT)) < 1e-12, [2]),
    )
    fixed[3 * ground] = True
    u = solve_body(mesh, regions, load, fixed)
    inner, outer = (nearest_node(mesh, (0.0, r, 0.0)) for r in (INNER, OUTER))
    turn = -(u[3 * outer] - u[3 * inner]) / (OUTER - INNER)
    x, y, z = mesh.doflocs
    line = np.flatnonzero((np.abs(x - y) < 1e-9) & (z < 1e-9))
    line = line[np.argsort(x[line])]
    s = stress_at(mesh, u, regions, line)
    hoop = 0.5 * (s[:, 0] + s[:, 1]) - s[:, 5]
    return (float(hoop[0]), float(hoop[-1]), float(turn)), (np.hypot(x[line], y[line]), hoop)


def measure() -> Measured:
    """Stress at mid-length, and how far the end turns."""
    found, profiles = zip(*(_solve(n) for n in COUNTS), strict=True)
    columns, sizes = np.array(found).T, tuple(1 / n for n in COUNTS)
    inside, outside = (float(exact_stress(r)[1]) / 1e6 for r in (INNER, OUTER))
    because = "measured error of the finest mesh, with a margin of two to three"
    line = np.linspace(INNER, OUTER, 60)
    r, hoop = profiles[-1]
    curve = Curve(
        "Hoop stress across a curved bar in bending",
        "radius [mm]",
        "hoop stress [MPa]",
        (line * 1e3, exact_stress(line)[1] / 1e6),
        (r * 1e3, hoop / 1e6),
    )
    turned = TURN * 0.5 * np.pi * 1e3
    return Measured(
        (
            Quantity("hoop stress inside", "MPa", inside, columns[0] / 1e6, 0.015, because, sizes, None, 1.7),
            Quantity("hoop stress outside", "MPa", outside, columns[1] / 1e6, 0.025, because, sizes, None, 1.7),
            Quantity("turn of the end", "mrad", turned, columns[2] * 1e3, 2e-4, because, sizes, None, 3.5),
        ),
        (curve,),
    )


CHECKS = (
    Check(
        name="curved_bar",
        group="elasticity",
        title="Thick curved bar bent by moments, plane strain",
        source="Golovin's solution, in Timoshenko & Goodier, Theory of Elasticity, from memory; the turn derived here",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra",
        measure=measure,
    ),
)
