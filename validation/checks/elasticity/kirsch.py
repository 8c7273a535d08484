"""Circular hole in a body under tension S along x, plane strain (Kirsch).

With q = a / r, k = 3 - 4 nu, 2 G = E / (1 + nu) and the angle phi from the load,

    sigma_rr = S/2 [1 - q^2 + (1 - 4 q^2 + 3 q^4) cos(2 phi)],   sigma_rt = -S/2 (1 + 2 q^2 - 3 q^4) sin(2 phi)
    sigma_tt = S/2 [1 + q^2 - (1 + 3 q^4) cos(2 phi)],           sigma_zz = nu (sigma_rr + sigma_tt)            [Pa]
    u_r = S r / (8 G) [k - 1 + 2 q^2 + 2 (1 + (1 + k) q^2 - q^4) cos(2 phi)]
    u_t = -S r / (4 G) [1 + (k - 1) q^2 + q^4] sin(2 phi)                                                       [m]

A quarter of a square block of side 8 a carries the tractions of these stresses on its outer faces, so that the infinite
body is the limit of refinement. The hoop stress at the hole, 3 S and -S, does not know nu; displacement and
sigma_zz do.
"""

from __future__ import annotations

import numpy as np
from skfem import MeshHex2

from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, block, everywhere, held, nearest_node, solve_body, stress_at, traction

E, NU, S = 9.3e9, 0.325, 1e6  # Pa, -, Pa
HOLE, HALF, HEIGHT = 0.0085, 0.034, 0.004  # m: radius, half side of the block, its height
COUNTS = (4, 8, 16)  # elements round the quarter; as many outwards


def exact_stress(x: Array, nu: float) -> Array:
    """Stress (3, 3, ...) [Pa] at x (2 or 3, ...)."""
    q2 = HOLE**2 / (x[0] ** 2 + x[1] ** 2)
    phi = np.arctan2(x[1], x[0])
    c, s, C, D = np.cos(phi), np.sin(phi), np.cos(2 * phi), np.sin(2 * phi)
    rr = S / 2 * (1 - q2 + (1 - 4 * q2 + 3 * q2**2) * C)
    tt = S / 2 * (1 + q2 - (1 + 3 * q2**2) * C)
    rt = -S / 2 * (1 + 2 * q2 - 3 * q2**2) * D
    out = np.zeros((3, 3, *phi.shape))
    out[0, 0] = rr * c**2 + tt * s**2 - 2 * rt * s * c
    out[1, 1] = rr * s**2 + tt * c**2 + 2 * rt * s * c
    out[0, 1] = out[1, 0] = (rr - tt) * s * c + rt * (c**2 - s**2)
    out[2, 2] = nu * (rr + tt)
    return out


def exact_displacement(x: Array, E: float, nu: float) -> Array:
    """Displacement (3, ...) [m] at x (2 or 3, ...), which may be complex."""
    rr = x[0] ** 2 + x[1] ** 2
    q2, k = HOLE**2 / rr, 3 - 4 * nu
    cos, sin = (x[0] ** 2 - x[1] ** 2) / rr, 2 * x[0] * x[1] / rr  # of 2 phi
    radial = (k - 1 + 2 * q2 + 2 * (1 + (1 + k) * q2 - q2**2) * cos) / 2
    along = -(1 + (k - 1) * q2 + q2**2) * sin
    return S * (1 + nu) / (2 * E) * np.stack([radial * x[0] - along * x[1], radial * x[1] + along * x[0], 0 * x[0]])


def _solve(n: int) -> tuple[MeshHex2, Array, Array]:
    """Mesh, displacement (3 nodes,) and nodal stress (nodes, 6) with n elements round the quarter."""

    def shape(x: Array) -> Array:
        phi = 0.5 * np.pi * x[1]
        edge = HALF / np.maximum(np.cos(phi), np.sin(phi))
        r = HOLE * (edge / HOLE) ** x[0]
        return np.stack([r * np.cos(phi), r * np.sin(phi), HEIGHT * x[2]])

    lines = np.linspace(0, 1, n + 1)
    mesh = block([lines, lines, np.array([0.0, 1.0])], shape)
    regions = everywhere(mesh, isotropic(E, NU))
    load = traction(
        mesh,
        lambda x: np.maximum(x[0], x[1]) > HALF * (1 - 1e-9),
        lambda x, n: np.einsum("ij...,j...->i...", exact_stress(x, NU), n),
    )
    fixed = held(
        mesh,
        (lambda x: np.abs(x[0]) < 1e-9, [0]),
        (lambda x: np.abs(x[1]) < 1e-9, [1]),
        (lambda x: np.abs(x[2] * (x[2] - HEIGHT)) < 1e-12, [2]),
    )
    u = solve_body(mesh, regions, load, fixed)
    return mesh, u, stress_at(mesh, u, regions, np.arange(mesh.doflocs.shape[1]))


def _round_hole(mesh: MeshHex2, stress: Array) -> Curve:
    """Hoop stress along the hole's edge."""
    x, y, z = mesh.doflocs
    at = np.flatnonzero((np.hypot(x, y) < HOLE * (1 + 1e-6)) & (z < 1e-9))
    phi = np.arctan2(y[at], x[at])
    at, phi = at[np.argsort(phi)], np.sort(phi)
    s, c = np.sin(phi), np.cos(phi)
    hoop = stress[at, 0] * s**2 + stress[at, 1] * c**2 - 2 * stress[at, 5] * s * c
    line = np.linspace(0, 90, 91)
    exact = 1 - 2 * np.cos(2 * np.radians(line))
    return Curve(
        "Hoop stress round a hole",
        "angle from the load [deg]",
        "hoop stress over the remote tension",
        (line, exact),
        (np.degrees(phi), hoop / S),
    )


def measure() -> Measured:
    """Stress and displacement at the hole."""
    found = []
    for n in COUNTS:
        mesh, u, stress = _solve(n)
        front, side = nearest_node(mesh, (HOLE, 0.0, 0.0)), nearest_node(mesh, (0.0, HOLE, 0.0))
        found.append([stress[side, 0], stress[front, 1], stress[side, 2], u[3 * front], u[3 * side + 1]])
    columns = np.array(found).T
    sizes = tuple(1 / n for n in COUNTS)
    wide = S * HOLE * (1 - NU**2) / E
    because = "measured error of the finest mesh, with a margin of two to three"
    rows = (
        ("hoop stress at the side", "MPa", 3 * S / 1e6, 1e-6, 0.005, 1.7),
        ("hoop stress in front", "MPa", -S / 1e6, 1e-6, 0.015, 1.7),
        ("axial stress at the side", "MPa", 3 * NU * S / 1e6, 1e-6, 0.015, 1.7),
        ("stretch of the hole along the load", "um", 3 * wide * 1e6, 1e6, 2e-5, 3.5),
        ("narrowing across it", "um", -wide * 1e6, 1e6, 5e-5, 3.5),
    )
    return Measured(
        tuple(
            Quantity(name, unit, reference, column * factor, tolerance, because, sizes, None, rate)
            for (name, unit, reference, factor, tolerance, rate), column in zip(rows, columns, strict=True)
        ),
        (_round_hole(mesh, stress),),
    )


CHECKS = (
    Check(
        name="kirsch",
        group="elasticity",
        title="Circular hole in a body under tension, plane strain",
        source="Kirsch 1898, in Timoshenko & Goodier, Theory of Elasticity, from memory; "
        "a test shows that it satisfies the equations",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra",
        measure=measure,
    ),
)
