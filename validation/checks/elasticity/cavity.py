"""Spherical cavity in a body under tension T along z (Goodier).

With R from the centre, theta from the load and A, B, C below, added to the uniform field,

    u_R = -A / R^2 - 3 B / R^4 + [(5 - 4 nu) / (1 - 2 nu) C / R^2 - 9 B / R^4] cos(2 theta)
    u_theta = -(2 C / R^2 + 6 B / R^4) sin(2 theta)                                                             [m]
    (A / a^3, B / a^5, C / a^3) = T (1 + nu) / (4 E (7 - 5 nu)) (-(13 - 10 nu), 1, 5 (1 - 2 nu))

    sigma_zz on the equator = T (27 - 15 nu) / (2 (7 - 5 nu)),   sigma_tt at the pole = -T (3 + 15 nu) / (2 (7 - 5 nu))

The body of revolution ends at 3 a, where it carries the tractions of this field; that in 3D, a wedge, at 2 a, where it
has its displacement, with tractions on the cuts; so that the infinite body is the limit of refinement.
"""

from __future__ import annotations

import numpy as np
from skfem import ElementQuad2, ElementVector, FacetBasis, LinearForm, MeshQuad, MeshQuad2

from ....fem.solid.axisymmetric import make_body, nodal_stress
from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, block, everywhere, held, nearest_node, solve_body, solve_held, stress_at, traction
from .halfspace import stress_of

E, NU, T = 9.3e9, 0.325, 1e6  # Pa, -, Pa
RADIUS, FAR, NEAR = 0.0085, 0.0255, 0.017  # m: cavity, and where the bodies end
COUNTS = (8, 16, 32)  # elements from pole to equator; as many outwards
BLOCK_COUNTS = (3, 6, 10)  # over 45 degrees; as many outwards
EQUATOR = T * (27 - 15 * NU) / (2 * (7 - 5 * NU))
POLE = -T * (3 + 15 * NU) / (2 * (7 - 5 * NU))
BECAUSE = "measured error of the finest mesh, with a margin of two to three"


def goodier(x: Array, E: float, nu: float) -> Array:
    """Displacement (3, ...) [m] at x (3, ...), which may be complex (module docstring)."""
    R = np.sqrt(x[0] ** 2 + x[1] ** 2 + x[2] ** 2)
    c = x[2] / R
    cos = 2 * c**2 - 1  # of 2 theta
    unit = T * (1 + nu) / (4 * E * (7 - 5 * nu))
    A, B, C = -unit * (13 - 10 * nu) * RADIUS**3, unit * RADIUS**5, unit * 5 * (1 - 2 * nu) * RADIUS**3
    radial = -A / R**2 - 3 * B / R**4 + ((5 - 4 * nu) / (1 - 2 * nu) * C / R**2 - 9 * B / R**4) * cos
    along = -2 * c * (2 * C / R**2 + 6 * B / R**4)  # u_theta / sin(theta)
    across = radial / R + along * c / R
    remote = T / E * np.stack([-nu * x[0], -nu * x[1], x[2]])
    return remote + np.stack([across * x[0], across * x[1], radial * c - along * (1 - c**2)])


def exact_stress(x: Array) -> Array:
    """Stress (3, 3, ...) [Pa] at x (3, ...)."""
    return stress_of(lambda y: goodier(y, E, NU), x, E, NU)


def exact_traction(x: Array, n: Array) -> Array:
    """Traction (3, ...) [Pa] on a face of normal n (3, ...)."""
    return np.asarray(np.einsum("ij...,j...->i...", exact_stress(x), n))


def _of_revolution(n: int) -> tuple[tuple[float, float, float, float], tuple[Array, Array]]:
    """sigma_zz at the equator, sigma_tt at the pole [Pa], u_r and u_z there [m]; (r, sigma_zz) along z = 0."""
    line = np.linspace(0, 1, n + 1)
    flat = MeshQuad2.from_mesh(MeshQuad.init_tensor(line, line))
    R, theta = RADIUS * (FAR / RADIUS) ** flat.doflocs[0], 0.5 * np.pi * (1 - flat.doflocs[1])
    x = np.stack([R * np.sin(theta), R * np.cos(theta)])
    mesh = MeshQuad2(np.where(np.abs(x) < 1e-15, 0.0, x), flat.t)
    body = make_body(mesh, (E, NU))
    outer = mesh.facets_satisfying(lambda x: np.hypot(*x) > 0.9 * FAR, boundaries_only=True)
    outer = outer[np.hypot(*mesh.p[:, mesh.facets[:, outer]]).min(axis=0) > FAR * (1 - 1e-9)]
    face = FacetBasis(mesh, ElementVector(ElementQuad2()), facets=outer, intorder=6)
    at, normal = np.asarray(face.global_coordinates()), np.asarray(face.normals)
    zero = np.zeros_like(at[0])
    t = exact_traction(np.stack([at[0], zero, at[1]]), np.stack([normal[0], zero, normal[1]]))
    load = LinearForm(lambda v, w: 2 * np.pi * w.x[0] * (w.tr * v[0] + w.tz * v[1])).assemble(face, tr=t[0], tz=t[2])
    fixed = np.zeros(load.size, bool)
    for c in (0, 1):
        fixed[body.dofs[c, np.abs(body.x[c]) < 1e-12]] = True
    u = solve_held(body.K, load, fixed)
    places, sigma = nodal_stress(body, u)
    side, pole = (int(np.argmin(np.hypot(*(places - np.array([p]).T)))) for p in ((RADIUS, 0.0), (0.0, RADIUS)))
    moved = [
        u[body.dofs[c, np.argmin(np.hypot(*(body.x - np.array([p]).T)))]] for c, p in enumerate(np.diag([RADIUS] * 2))
    ]
    plane = np.flatnonzero(np.abs(places[1]) < 1e-12)
    plane = plane[np.argsort(places[0, plane])]
    return (sigma[2, side], sigma[1, pole], *moved), (places[0, plane], sigma[2, plane])


def measure() -> Measured:
    """Stress at equator and pole, displacement there."""
    found, profiles = zip(*(_of_revolution(n) for n in COUNTS), strict=True)
    columns, sizes = np.array(found).T, tuple(1 / n for n in COUNTS)
    ends = np.diag([RADIUS] * 3)[[0, 2]].T
    exact = goodier(ends, E, NU)
    rows = (
        ("stress on the equator", "MPa", EQUATOR / 1e6, 1e-6, 1.5e-3, 1.7),
        ("stress at the pole", "MPa", POLE / 1e6, 1e-6, 7e-3, 1.7),
        ("u_r on the equator", "um", float(exact[0, 0]) * 1e6, 1e6, 2e-6, 3.0),
        ("u_z at the pole", "um", float(exact[2, 1]) * 1e6, 1e6, 2e-6, 3.0),
    )
    line = np.linspace(RADIUS, FAR, 100)
    along = exact_stress(np.stack([line, 0 * line, 0 * line]))[2, 2]
    r, sigma = profiles[-1]
    curve = Curve(
        "Tension beside a spherical cavity",
        "distance from the centre over its radius",
        "tension over the remote tension",
        (line / RADIUS, along / T),
        (r / RADIUS, sigma / T),
    )
    return Measured(
        tuple(
            Quantity(name, unit, reference, column * factor, tolerance, BECAUSE, sizes, None, rate)
            for (name, unit, reference, factor, tolerance, rate), column in zip(rows, columns, strict=True)
        ),
        (curve,),
    )


def _block(n: int) -> tuple[float, float]:
    """sigma_zz [Pa] and u_x [m] on the equator of a wedge of 45 by 45 degrees, n elements along each edge."""

    def shape(x: Array) -> Array:
        R, (y, z) = RADIUS * (NEAR / RADIUS) ** x[0], np.tan(0.25 * np.pi * x[1:])
        return np.asarray(R / np.sqrt(1 + y**2 + z**2) * np.stack([np.ones_like(y), y, z]))

    mesh = block([np.linspace(0, 1, n + 1)] * 3, shape)
    regions = everywhere(mesh, isotropic(E, NU))
    load = traction(mesh, lambda x: x[1] > x[0] * (1 - 1e-9), exact_traction)
    load += traction(mesh, lambda x: x[2] > x[0] * (1 - 1e-9), exact_traction)
    fixed = held(
        mesh,
        (lambda x: np.abs(x[1]) < 1e-12, [1]),
        (lambda x: np.abs(x[2]) < 1e-12, [2]),
        (lambda x: np.linalg.norm(x, axis=0) > NEAR * (1 - 1e-9), [0, 1, 2]),
    )
    u = solve_body(mesh, regions, load, fixed, goodier(mesh.doflocs, E, NU).T.ravel())
    at = nearest_node(mesh, (RADIUS, 0.0, 0.0))
    return float(stress_at(mesh, u, regions, [at])[0, 2]), float(u[3 * at])


def measure_block() -> Measured:
    """Stress and displacement on the equator, in 3D."""
    columns, sizes = np.array([_block(n) for n in BLOCK_COUNTS]).T, tuple(1 / n for n in BLOCK_COUNTS)
    inwards = float(goodier(np.array([RADIUS, 0.0, 0.0]), E, NU)[0])
    return Measured(
        (
            Quantity("stress on the equator", "MPa", EQUATOR / 1e6, columns[0] / 1e6, 4e-3, BECAUSE, sizes, None, 1.7),
            Quantity("u_x on the equator", "um", inwards * 1e6, columns[1] * 1e6, 6e-6, BECAUSE, sizes, None, 3.0),
        )
    )


SOURCE = (
    "Goodier, Trans. ASME 55, 1933, in Timoshenko & Goodier, Theory of Elasticity, from memory; "
    "a test shows that it satisfies the equations"
)
CHECKS = (
    Check(
        name="cavity",
        group="elasticity",
        title="Spherical cavity in a body under tension, of revolution",
        source=SOURCE,
        how="closed form",
        part="fem.solid.axisymmetric, fem.solid.solver; curved quadratic quadrilaterals",
        measure=measure,
    ),
    Check(
        name="cavity_3d",
        group="elasticity",
        title="Spherical cavity in a body under tension, a wedge in 3D",
        source=SOURCE,
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra",
        measure=measure_block,
        slow=True,
    ),
)
