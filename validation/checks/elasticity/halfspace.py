"""Forces on and in an elastic half-space: Boussinesq, Cerruti, Mindlin.

The half-space is z > 0, z pointing down, its surface free. A force F = (F_x, 0, F_z) at (0, 0, c) gives, with
R_1^2 = r^2 + (z - c)^2, R_2^2 = r^2 + (z + c)^2, q = R_2 + z + c, k = 3 - 4 nu, s = 4 (1 - nu)(1 - 2 nu)  (Mindlin):

    16 pi G (1 - nu) u_x / F_x = k / R_1 + 1 / R_2 + x^2 / R_1^3 + k x^2 / R_2^3 + 2 c z / R_2^3 (1 - 3 x^2 / R_2^2)
                                 + s / q (1 - x^2 / (R_2 q))
    16 pi G (1 - nu) u_y / F_x = x y (1 / R_1^3 + k / R_2^3 - 6 c z / R_2^5 - s / (R_2 q^2))
    16 pi G (1 - nu) u_z / F_x = x ((z - c) / R_1^3 + k (z - c) / R_2^3 - 6 c z (z + c) / R_2^5 + s / (R_2 q))
    16 pi G (1 - nu) u_r / F_z = r ((z - c) / R_1^3 + k (z - c) / R_2^3 + 6 c z (z + c) / R_2^5 - s / (R_2 q))
    16 pi G (1 - nu) u_z / F_z = k / R_1 + (8 (1 - nu)^2 - k) / R_2 + (z - c)^2 / R_1^3
                                 + (k (z + c)^2 - 2 c z) / R_2^3 + 6 c z (z + c)^2 / R_2^5

c = 0 is Boussinesq's and Cerruti's case; `tests/validation/test_halfspace_formulas.py` shows that all satisfy the
equations. Forces spread over a patch of the surface or a cube inside give a field without singularity, the integral of
these (Gauss points). Blocks carry it as displacement on their outer faces, so that it is the limit of refinement.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import asinh, pi

import numpy as np
from skfem import ElementQuad2, ElementVector, FacetBasis, LinearForm, MeshHex2, MeshQuad

from ....fem.solid.assembly import assemble_stiffness
from ....fem.solid.axisymmetric import make_body, nodal_stress
from ....fem.solid.elasticity import spread_force
from ....materials.tensor import isotropic
from ...check import Check, Measured, Quantity
from ...models.bodies import Array, Mask, block, everywhere, held, nearest_node, solve_held, stress_at, traction

E, NU, P, A = 9.3e9, 0.325, 1e6, 0.010  # Pa, -, Pa, m: half side of square and cube, radius of the circle
FAR, DEEP = 3 * A, 2 * A  # where the outer faces are, and the cube's centre
SQUARE_COUNTS, CUBE_COUNTS, CIRCLE_COUNTS = (2, 4, 6), (2, 4), (8, 16, 24)  # elements over A
BECAUSE = "measured error of the finest mesh, with a margin of two to three"
FORCE = P * (2 * A) ** 2  # N, on square or cube
CENTRE, BESIDE, BELOW = (0.0, 0.0, 0.0), (1.75 * A, 0.0, 0.0), (0.0, 0.0, A)
Field = Callable[[Array], Array]
Kind = tuple[str, str, float, float | None]  # name, unit, tolerance, least rate


def mindlin(x: Array, c: Array | float, force: tuple[float, float], E: float, nu: float) -> Array:
    """Displacement (3, ...) at x (3, ...) by a force (F_x, F_z) [N] at (0, 0, c) (Mindlin 1936, from memory)."""
    k, s = 3 - 4 * nu, 4 * (1 - nu) * (1 - 2 * nu)
    rr = x[0] ** 2 + x[1] ** 2
    d, e, z = x[2] - c, x[2] + c, x[2]
    R1, R2 = np.sqrt(rr + d**2), np.sqrt(rr + e**2)
    q, cz = R2 + e, 6 * c * z / R2**5
    along = 1 / R1**3 + k / R2**3
    side = along - cz - s / (R2 * q**2)
    u_x = k / R1 + 1 / R2 + x[0] ** 2 * side + 2 * c * z / R2**3 + s / q
    across = d * along - cz * e + s / (R2 * q)
    out = d * along + cz * e - s / (R2 * q)
    u_z = k / R1 + (8 * (1 - nu) ** 2 - k) / R2 + d**2 / R1**3 + (k * e**2 - 2 * c * z) / R2**3 + cz * e**2
    horizontal = force[0] * np.stack([u_x, x[0] * x[1] * side, x[0] * across])
    vertical = force[1] * np.stack([x[0] * out, x[1] * out, u_z])
    return (horizontal + vertical) * (1 + nu) / (8 * pi * E * (1 - nu))


def stress_of(field: Field, x: Array, E: float, nu: float) -> Array:
    """Stress (3, 3, ...) at x (3, ...) of a displacement field, its gradient by complex steps [Pa]."""
    grad = np.empty((3, *x.shape))
    for j in range(3):
        moved = x.astype(complex)
        moved[j] += 1e-30j
        grad[:, j] = field(moved).imag / 1e-30
    eps = 0.5 * (grad + grad.swapaxes(0, 1))
    unit = np.eye(3).reshape(3, 3, *[1] * (x.ndim - 1))
    return np.asarray(E / (1 + nu) * (eps + nu / (1 - 2 * nu) * unit * np.trace(eps)))


def spread(centres: Array, shares: Array, force: tuple[float, float]) -> Field:
    """Field of a force spread over points (3, m) in the given shares (m,)."""

    def field(x: Array) -> Array:
        total = np.zeros(x.shape, x.dtype)
        for (a, b, c), share in zip(centres.T, shares, strict=True):
            shift = np.array([a, b, 0.0]).reshape(3, *[1] * (x.ndim - 1))
            total += share * mindlin(x - shift, c, force, E, NU)
        return total

    return field


def cells(lengths: tuple[float, ...], points: int) -> tuple[Array, Array]:
    """Gauss points (dim, m) and shares (m,) of a box with these half lengths about the origin."""
    t, w = np.polynomial.legendre.leggauss(points)
    grids = np.meshgrid(*(length * t for length in lengths), indexing="ij")
    weights = np.meshgrid(*(0.5 * w for _ in lengths), indexing="ij")
    return np.stack([g.ravel() for g in grids]), np.prod([g.ravel() for g in weights], axis=0)


def _square(tangential: bool) -> Field:
    points, shares = cells((A, A), 12)
    return spread(np.vstack([points, 0 * points[:1]]), shares, (FORCE, 0.0) if tangential else (0.0, FORCE))


def _cube_field(force: tuple[float, float]) -> Field:
    points, shares = cells((A, A, A), 8)
    return spread(points + np.array([[0], [0], [DEEP]]), shares, force)


def _line(n: int) -> Array:
    """Grid line: n elements over the patch, n growing ones out to FAR."""
    t = np.arange(n + 1) / n
    return A * np.concatenate([t[:-1], 1 + t + t**2])


def _outer(x: Array) -> Mask:
    return np.asarray((np.abs(x[:2]).max(axis=0) > FAR - 1e-9) | (x[2] > x[2].max() - 1e-9))


def _patch(n: int, tangential: bool) -> list[float]:
    """A force spread evenly over the square, a quarter of the block: numbers as `_square_reference` orders them."""
    mesh = block([_line(n)] * 3)
    t = np.array([P, 0, 0]) if tangential else np.array([0, 0, P])
    load = traction(
        mesh,
        lambda x: (x[2] < 1e-9) & (np.maximum(x[0], x[1]) < A + 1e-9),
        lambda x, n: t[:, None, None] * np.ones_like(x),
    )
    on_x = [1, 2] if tangential else [0]  # a force along x is odd about the plane x = 0
    fixed = held(mesh, (_outer, [0, 1, 2]), (lambda x: np.abs(x[0]) < 1e-9, on_x), (lambda x: np.abs(x[1]) < 1e-9, [1]))
    u = _held_to(mesh, load, fixed, _square(tangential))
    centre, beside, below = (nearest_node(mesh, at) for at in (CENTRE, BESIDE, BELOW))
    sigma = stress_at(mesh, u, everywhere(mesh, isotropic(E, NU)), [below])[0]
    main, other = (0, 2) if tangential else (2, 0)
    return [u[3 * centre + main], u[3 * beside + main], u[3 * beside + other], sigma[4 if tangential else 2]]


def _square_reference(tangential: bool) -> list[float]:
    """At the centre and beside the square along and across the force [m], and the stress along it on z = 2 a [Pa]."""
    field = _square(tangential)
    main, other = (0, 2) if tangential else (2, 0)
    half = (2 - NU) * (1 + NU) if tangential else 2 * (1 - NU**2)
    beside = field(np.array(BESIDE)[:, None])[:, 0]
    sigma = stress_of(field, np.array(BELOW)[:, None], E, NU)[..., 0]
    return [half * P * 4 * A * asinh(1.0) / (pi * E), beside[main], beside[other], sigma[main, 2]]


def _held_to(mesh: MeshHex2, load: Array, fixed: Mask, field: Field) -> Array:
    """Displacement (3 nodes,) under a load, with the field's on the outer faces."""
    exact, outside = np.zeros_like(mesh.doflocs), _outer(mesh.doflocs)
    exact[:, outside] = field(mesh.doflocs[:, outside])
    K = assemble_stiffness(mesh, everywhere(mesh, isotropic(E, NU)))
    return solve_held(K, load, fixed, exact.T.ravel())


def _circle(n: int) -> list[float]:
    """u_z at the centre and at the edge of a circle under uniform pressure [m], and sigma_zz at z = a [Pa]."""
    body = make_body(MeshQuad.init_tensor(_line(n), _line(n)), (E, NU))
    facets = body.basis.mesh.facets_satisfying(lambda x: (x[1] < 1e-9) & (x[0] < A), boundaries_only=True)
    face = FacetBasis(body.basis.mesh, ElementVector(ElementQuad2()), facets=facets, intorder=5)
    load = LinearForm(lambda v, w: P * v[1] * 2 * pi * w.x[0]).assemble(face)
    r, z = body.x
    outside, axis = np.maximum(r, z) > FAR - 1e-9, r < 1e-9
    exact = _disc()(np.stack([r[outside], 0 * r[outside], z[outside]]))
    value, fixed = np.zeros(load.size), np.zeros(load.size, bool)
    value[body.dofs[0, outside]], value[body.dofs[1, outside]] = exact[0], exact[2]
    fixed[body.dofs[:, outside]] = fixed[body.dofs[0, axis]] = True
    u = solve_held(body.K, load, fixed, value)
    points, sigma = nodal_stress(body, u)

    def at(x: Array, place: tuple[float, float]) -> int:
        return int(np.argmin(np.hypot(x[0] - place[0], x[1] - place[1])))

    centre, edge = (u[body.dofs[1, at(body.x, place)]] for place in ((0.0, 0.0), (A, 0.0)))
    return [float(centre), float(edge), float(sigma[2, at(points, (0.0, A))])]


def _disc() -> Field:
    """Field of the uniform pressure over the circle: Gauss points along r, even ones round it."""
    t, w = np.polynomial.legendre.leggauss(10)
    r, turns = A * (1 + t) / 2, 2 * pi * np.arange(24) / 24
    points = np.stack([np.outer(r, np.cos(turns)), np.outer(r, np.sin(turns)), np.zeros((10, 24))]).reshape(3, -1)
    return spread(points, np.repeat(w * r / A / 24, 24), (0.0, P * pi * A**2))


def _cube(n: int, force: tuple[float, float]) -> list[float]:
    """A force spread over a cube inside; half of the block: numbers as `_cube_reference` orders them."""
    line = _line(n)
    depth = np.concatenate([A * np.arange(n) / n, DEEP + np.r_[-line[n:0:-1], line]])
    mesh = block([np.r_[-line[:0:-1], line], line, depth])
    middle = mesh.p[:, mesh.t].mean(axis=1)
    inside = np.abs(middle - np.array([[0], [0], [DEEP]])).max(axis=0) < A
    load = spread_force(
        mesh, np.flatnonzero(inside), 0.5 * np.array([force[0], 0.0, force[1]]), np.array([0.0, 0.0, DEEP])
    )
    fixed = held(mesh, (_outer, [0, 1, 2]), (lambda x: np.abs(x[1]) < 1e-9, [1]))
    u = _held_to(mesh, load, fixed, _cube_field(force)).reshape(-1, 3)
    return [*u[nearest_node(mesh, CENTRE), [0, 2]], *u[nearest_node(mesh, BESIDE), [0, 2]]]


def _cube_reference(force: tuple[float, float]) -> list[float]:
    """u_x and u_z on the surface, above the cube and beside that [m]."""
    u = _cube_field(force)(np.array([CENTRE, BESIDE]).T)
    return [u[0, 0], u[2, 0], u[0, 1], u[2, 1]]


def measure_square(tangential: bool) -> Measured:
    """Boussinesq's force on a square, or Cerruti's."""
    found = np.array([_patch(n, tangential) for n in SQUARE_COUNTS]).T
    kinds: Sequence[Kind]
    if tangential:
        kinds = (
            ("u_x at the centre", "um", 1e-5, None),
            ("u_x beside the square", "um", 3e-5, None),  # changes sign with the mesh: no rate
            ("u_z beside the square", "um", 5e-3, None),  # rises before it falls
            ("sigma_xz below the centre", "MPa", 0.03, 1.7),
        )
    else:
        kinds = (
            ("u_z at the centre", "um", 1e-5, 3.0),
            ("u_z beside the square", "um", 5e-4, 3.0),
            ("u_x beside the square", "um", 2.5e-3, 1.8),
            ("sigma_zz below the centre", "MPa", 2e-3, None),
        )
    return _quantities(kinds, SQUARE_COUNTS, _square_reference(tangential), found)


def measure_circle() -> Measured:
    """Uniform pressure on a circle, axisymmetric; at the edge, where the pressure jumps, a rate of 1 is due."""
    found = np.array([_circle(n) for n in CIRCLE_COUNTS]).T
    kinds = (
        ("u_z at the centre", "um", 5e-7, 3.5),
        ("u_z at the edge", "um", 3e-4, 0.9),
        ("sigma_zz on the axis at z = a", "MPa", 3e-4, 1.5),
    )
    centre = 2 * (1 - NU**2) * P * A / E
    return _quantities(kinds, CIRCLE_COUNTS, [centre, centre * 2 / pi, -P * (1 - 0.5**1.5)], found)


def measure_cube(horizontal: bool) -> Measured:
    """Mindlin's force spread over a cube."""
    force = (FORCE, 0.0) if horizontal else (0.0, FORCE)
    found, reference = np.array([_cube(n, force) for n in CUBE_COUNTS]).T, _cube_reference(force)
    kinds: Sequence[Kind]
    if horizontal:
        kept = [0, 2, 3]  # u_z above the cube is zero by symmetry
        kinds = (("u_x above it", "um", 2e-5, 3.0), ("u_x beside", "um", 2.5e-4, 1.5), ("u_z beside", "um", 1e-3, 1.8))
    else:
        kept = [1, 2, 3]
        kinds = (("u_z above it", "um", 2.5e-4, 2.5), ("u_x beside", "um", 5e-4, None), ("u_z beside", "um", 5e-4, 1.8))
    return _quantities(kinds, CUBE_COUNTS, [reference[i] for i in kept], found[kept])


def _quantities(
    kinds: Sequence[Kind],
    counts: Sequence[int],
    reference: Sequence[float],
    found: Array,
) -> Measured:
    """Quantities, their references in SI and ours (quantities, sizes).

    No least rate where errors change sign between meshes (u_x of Cerruti's centre, of Mindlin's vertical force) or are
    small on the coarsest already (stress under Boussinesq's).
    """
    sizes, factor = tuple(1 / n for n in counts), {"um": 1e6, "MPa": 1e-6}
    return Measured(
        tuple(
            Quantity(name, unit, value * factor[unit], ours * factor[unit], tolerance, BECAUSE, sizes, None, rate)
            for (name, unit, tolerance, rate), value, ours in zip(kinds, reference, found, strict=True)
        )
    )


FORMULAS = "as verified in test_halfspace_formulas.py (equilibrium, free surface, resultant, Kelvin's limit)"
CHECKS = (
    Check(
        name="boussinesq",
        group="elasticity",
        title="Pressure on a square of the surface of a half-space",
        source=f"Boussinesq; centre of a square after Love, Johnson, Contact Mechanics, 1985, from memory; {FORMULAS}",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; 27-node hexahedra",
        measure=lambda: measure_square(False),
        slow=True,
    ),
    Check(
        name="cerruti",
        group="elasticity",
        title="Shear traction on a square of the surface of a half-space",
        source=f"Cerruti, in Johnson, Contact Mechanics, 1985, from memory; {FORMULAS}",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; 27-node hexahedra",
        measure=lambda: measure_square(True),
        slow=True,
    ),
    Check(
        name="pressure_on_circle",
        group="elasticity",
        title="Uniform pressure on a circle of the surface of a half-space",
        source="Timoshenko & Goodier, Theory of Elasticity, load over part of the boundary, from memory",
        how="closed form",
        part="fem.solid.axisymmetric, fem.solid.solver",
        measure=measure_circle,
    ),
    Check(
        name="mindlin_horizontal",
        group="elasticity",
        title="Horizontal force inside a half-space, spread over a cube",
        source=f"Mindlin, Physics 7, 1936, p. 195, formulas from memory; {FORMULAS}",
        how="closed form",
        part="fem.solid.elasticity (spread_force), fem.solid.solver; 27-node hexahedra",
        measure=lambda: measure_cube(True),
        slow=True,
    ),
    Check(
        name="mindlin_vertical",
        group="elasticity",
        title="Vertical force inside a half-space, spread over a cube",
        source=f"Mindlin, Physics 7, 1936, p. 195, formulas from memory; {FORMULAS}",
        how="closed form",
        part="fem.solid.elasticity (spread_force), fem.solid.solver; 27-node hexahedra",
        measure=lambda: measure_cube(False),
        slow=True,
    ),
)
