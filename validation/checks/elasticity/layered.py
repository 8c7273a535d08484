"""Two bonded layers of a thick cylinder under internal pressure, plane strain: a steel tube frozen into ice.

A layer a <= r <= b under the pressures p inside and q outside has, Lame's solution,

    s = (p a^2 - q b^2) / (b^2 - a^2),   d = (p - q) a^2 b^2 / (b^2 - a^2),   sigma_rr, sigma_tt = s -+ d / r^2   [Pa]
    u_r = (1 + nu) / E [(1 - 2 nu) s r + d / r]                                                                  [m]

The pressure between the layers is the q at which both have the same u_r there; u_r being linear in p and q, it is one
division. A quarter, one element high; a layer of nodes is shared.
"""

from __future__ import annotations

import numpy as np

from ....fem.solid.assembly import assemble_stiffness
from ....fem.solid.stress import recover
from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, block, nearest_node, pressure, quarter_supports, solve_body, traction

STEEL, ICE = (205e9, 0.29), (9.3e9, 0.325)  # Pa, -
BORE, JOINT, OUTER, HEIGHT = 0.0070, 0.0085, 0.040, 0.004  # m
P = 10e6  # Pa
COUNTS = (1, 2, 3)  # elements through the tube; four times as many through the ice, three times round the quarter


def layer(
    r: Array | float, a: float, b: float, p: float, q: float, material: tuple[float, float]
) -> tuple[Array, Array, Array]:
    """u_r [m], sigma_rr and sigma_tt [Pa] at r of a layer of (E, nu) under p inside and q outside."""
    E, nu = material
    s, d = (p * a**2 - q * b**2) / (b**2 - a**2), (p - q) * (a * b) ** 2 / (b**2 - a**2)
    u = (1 + nu) / E * ((1 - 2 * nu) * s * r + d / r)
    return np.asarray(u), np.asarray(s - d / np.square(r)), np.asarray(s + d / np.square(r))


def joint_pressure() -> float:
    """Pressure between the layers [Pa]."""
    pushed = layer(JOINT, BORE, JOINT, P, 0.0, STEEL)[0]
    per_q = layer(JOINT, BORE, JOINT, 0.0, 1.0, STEEL)[0], layer(JOINT, JOINT, OUTER, 1.0, 0.0, ICE)[0]
    return float(pushed / (per_q[1] - per_q[0]))


def _solve(n: int) -> tuple[Array, tuple[Array, Array]]:
    """What is found with n elements through the tube, and the profile (r, sigma_tt).

    Found: u_r at bore and joint [m]; at the joint the pressure that the ice's nodal forces make up, sigma_rr in the
    ice, sigma_tt in the steel and in the ice [Pa].
    """
    through = np.concatenate(
        [
            BORE + (JOINT - BORE) * np.linspace(0, 1, n + 1),
            JOINT * (OUTER / JOINT) ** (np.arange(1, 4 * n + 1) / (4 * n)),
        ]
    )

    def shape(x: Array) -> Array:
        phi = 0.5 * np.pi * x[1]
        return np.stack([x[0] * np.cos(phi), x[0] * np.sin(phi), HEIGHT * x[2]])

    mesh = block([through, np.linspace(0, 1, 3 * n + 1), np.array([0.0, 1.0])], shape)
    steel = np.hypot(*mesh.doflocs[:2, mesh.t].mean(axis=1)[:2]) < JOINT
    regions = [(np.flatnonzero(steel), isotropic(*STEEL)), (np.flatnonzero(~steel), isotropic(*ICE))]
    load = traction(mesh, lambda x: np.hypot(x[0], x[1]) < BORE * (1 + 1e-9), pressure(P))
    u = solve_body(mesh, regions, load, quarter_supports(mesh, HEIGHT))
    bore, joint = nearest_node(mesh, (BORE, 0.0, 0.0)), nearest_node(mesh, (JOINT, 0.0, 0.0))
    field = recover(mesh, u, regions)
    nodes = mesh.dofs.element_dofs[:, field.elements].T
    in_steel, in_ice = (
        field.nodal[(nodes == joint) & (steel[field.elements] == side)[:, None]][0] for side in (True, False)
    )
    at = np.flatnonzero(np.abs(np.hypot(mesh.doflocs[0], mesh.doflocs[1]) / JOINT - 1) < 1e-9)
    forces = (assemble_stiffness(mesh, regions[1:]) @ u).reshape(-1, 3)[at, :2]
    push = float(np.sum(forces * mesh.doflocs[:2, at].T) / JOINT) / (0.5 * np.pi * JOINT * HEIGHT)
    x, y, z = mesh.doflocs[:, nodes]
    line = (np.abs(y) < 1e-9) & (np.abs(z) < 1e-9)
    return np.array([u[3 * bore], u[3 * joint], push, in_ice[0], in_steel[1], in_ice[1]]), (
        x[line],
        field.nodal[line][:, 1],
    )


def measure() -> Measured:
    """Displacements, and stresses on both sides of the joint."""
    found, profiles = zip(*(_solve(n) for n in COUNTS), strict=True)
    q = joint_pressure()
    columns, sizes = np.array(found).T, tuple(1 / n for n in COUNTS)
    inner, outer = (BORE, JOINT, P, q, STEEL), (JOINT, OUTER, q, 0.0, ICE)
    because = "measured error of the finest mesh, with a margin of two to three"
    rows = (
        ("u_r at the bore", "um", float(layer(BORE, *inner)[0]) * 1e6, 1e6, 8e-6, 3.5),
        ("u_r at the joint", "um", float(layer(JOINT, *outer)[0]) * 1e6, 1e6, 8e-6, 3.5),
        ("pressure at the joint, by nodal forces", "MPa", q / 1e6, 1e-6, 3e-5, 3.5),
        ("radial stress at the joint, ice", "MPa", -q / 1e6, 1e-6, 0.03, 1.7),
        ("hoop stress at the joint, steel", "MPa", float(layer(JOINT, *inner)[2]) / 1e6, 1e-6, 0.002, 1.7),
        ("hoop stress at the joint, ice", "MPa", float(layer(JOINT, *outer)[2]) / 1e6, 1e-6, 0.015, 1.7),
    )
    r = [np.linspace(BORE, JOINT, 20), np.linspace(JOINT, OUTER, 60)]
    exact = np.concatenate([layer(r[0], *inner)[2], layer(r[1], *outer)[2]])
    curve = Curve(
        "Hoop stress across tube and ice",
        "radius [mm]",
        "hoop stress [MPa]",
        (np.concatenate(r) * 1e3, exact / 1e6),
        (profiles[-1][0] * 1e3, profiles[-1][1] / 1e6),
    )
    return Measured(
        tuple(
            Quantity(name, unit, reference, column * factor, tolerance, because, sizes, None, rate)
            for (name, unit, reference, factor, tolerance, rate), column in zip(rows, columns, strict=True)
        ),
        (curve,),
    )


CHECKS = (
    Check(
        name="layered",
        group="elasticity",
        title="Steel tube bonded into an ice cylinder under internal pressure, plane strain",
        source="two of Lame's solutions (Timoshenko & Goodier, Theory of Elasticity, from memory) matched at the joint",
        how="closed form",
        part="fem.solid.elasticity of two materials, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra",
        measure=measure,
    ),
)
