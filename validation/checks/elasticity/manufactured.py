"""Manufactured solutions: a displacement is chosen, the body force that goes with it applied, and the error measured.

In 3D, for any stiffness C, with waves w_i: u_i = s f_i(w_i . x), f = (sin, cos, exp(./2)), and

    b_i = -C_ijkl u_k,lj,    u_k,lj = s f_k''(w_k . x) w_kl w_kj                                              [N/m^3]

on curved elements, u prescribed on the surface. Of revolution, a <= r <= 2 a, isotropic, k = 2 / a:

    u_r = s r^2 / a^2 sin(k z),    u_z = s r / a cos(k z)
    b = -(lam + mu) grad(div u) - mu lap u,   div u = 3 s r / a^2 sin(k z) - s k r / a sin(k z)
    lap u_r - u_r / r^2 = s / a^2 (3 - k^2 r^2) sin(k z),      lap u_z = s / a (1 / r - k^2 r) cos(k z)

Rates of quadratic elements: 3 for u in the mean square, 2 for its gradient and for the recovered stress. The method:
Roache 2002.
"""

from __future__ import annotations

from math import pi

import numpy as np
from skfem import Basis, ElementQuad2, ElementVector, LinearForm, MeshQuad

from ....fem.solid.axisymmetric import make_body, nodal_stress
from ....fem.solid.elasticity import displacement_gradient, scalar_basis
from ....fem.solid.stress import VOIGT, recover
from ....materials.tensor import isotropic
from ...check import Check, Measured, Quantity
from ...models.bodies import Array, block, everywhere, solve_body, solve_held
from .patch import anisotropic, hooke, on_surface

E, NU = 9.3e9, 0.325  # Pa, -
SIZE = 1e-4  # m, of the displacements
WAVES = np.array([[2.0, 1.0, -1.5], [-1.0, 2.5, 1.0], [1.2, -0.8, 1.7]])  # 1/m, row i for u_i
COUNTS = (2, 3, 5)  # elements along an edge
RING_COUNTS = (4, 8, 16)
A = 0.01  # m, inner radius of the ring
K = 2 / A  # 1/m
NAMES = ("displacement", "gradient", "recovered stress")
BECAUSE = "measured error of the finest mesh, with a margin of two"


def exact_field(C: Array, x: Array) -> tuple[Array, Array, Array]:
    """u (3, ...) [m], grad u (3, 3, ...) and body force (3, ...) [N/m^3] of the 3D solution at x (3, ...)."""
    a, b, c = np.tensordot(WAVES, x, 1)
    u = SIZE * np.stack([np.sin(a), np.cos(b), np.exp(0.5 * c)])
    slope = SIZE * np.stack([np.cos(a), -np.sin(b), 0.5 * np.exp(0.5 * c)])
    bend = SIZE * np.stack([-np.sin(a), -np.cos(b), 0.25 * np.exp(0.5 * c)])
    force = -np.einsum("ijkl,kl,kj,k...->i...", C, WAVES, WAVES, bend, optimize=True)
    return u, np.einsum("i...,ij->ij...", slope, WAVES), np.asarray(force)


def _relative(found: Array, exact: Array, weight: Array) -> float:
    """Relative error in the mean square; weights [m^3] at the points."""
    return float(np.sqrt(np.sum((found - exact) ** 2 * weight) / np.sum(exact**2 * weight)))


def _block_errors(C: Array, law: Array, n: int) -> tuple[float, float, float]:
    """Errors of displacement, gradient and recovered stress on n x n x n curved elements.

    C : stiffness of the body; law : the same, from which force and stress are worked out.
    """
    line = np.linspace(0, 1, n + 1)
    mesh = block([line] * 3, lambda x: x + 0.06 * np.sin(pi * x[[1, 2, 0]]) * np.sin(2 * pi * x))
    basis = scalar_basis(mesh, intorder=6)
    x, dx = np.asarray(basis.global_coordinates()), basis.dx
    exact, gradient, force = exact_field(law, x)
    load = np.stack([LinearForm(lambda v, w: w.b * v).assemble(basis, b=force[c]) for c in range(3)], axis=1)
    value = exact_field(law, mesh.doflocs)[0].T.ravel()
    u = solve_body(mesh, everywhere(mesh, C), load.ravel(), on_surface(mesh), value)
    sigma = np.einsum("ijkl,klep->ijep", law, gradient)
    phi = np.stack([value[0] for value in basis.basis])[:, 0]
    recovered = np.einsum("ap,eac->cep", phi, recover(mesh, u, everywhere(mesh, C)).nodal)
    return (
        _relative(np.stack([np.asarray(basis.interpolate(u[c::3])) for c in range(3)]), exact, dx),
        _relative(displacement_gradient(basis, u).transpose(2, 3, 0, 1), gradient, dx),
        _relative(recovered, np.stack([sigma[i, j] for i, j in VOIGT]), dx),
    )


def ring_field(x: Array) -> tuple[Array, Array, Array, Array]:
    """u (2, ...), grad u (2, 2, ...), stress (4, ...: rr, theta, zz, rz) and body force (2, ...) at x = (r, z)."""
    lam, mu = E * NU / ((1 + NU) * (1 - 2 * NU)), E / (2 * (1 + NU))
    r, s, c = x[0], np.sin(K * x[1]), np.cos(K * x[1])
    q = r / A
    u = SIZE * np.stack([q**2 * s, q * c])
    gradient = SIZE * np.stack([[2 * q / A * s, K * q**2 * c], [c / A, -K * q * s]])
    trace = SIZE * (3 / A - K) * q * s
    strain = np.stack([gradient[0, 0], u[0] / r, gradient[1, 1], 0.5 * (gradient[0, 1] + gradient[1, 0])])
    sigma = 2 * mu * strain + lam * trace * np.array([1.0, 1.0, 1.0, 0.0]).reshape(4, *[1] * r.ndim)
    along = SIZE * (3 / A - K) * np.stack([s / A, K * q * c])
    spread = SIZE / A * np.stack([(3 - (K * r) ** 2) / A * s, (1 / r - K**2 * r) * c])
    return u, gradient, sigma, -(lam + mu) * along - mu * spread


def _ring_errors(n: int) -> tuple[float, float, float]:
    """Errors of displacement, gradient and stress on n x n quadrilaterals of a distorted ring."""
    line = np.linspace(0, 1, n + 1)
    mesh = MeshQuad.init_tensor(line, line)
    p = mesh.p + 0.06 * np.sin(pi * mesh.p[::-1]) * np.sin(2 * pi * mesh.p)
    body = make_body(MeshQuad(A * (p + np.array([[1.0], [0.0]])), mesh.t), (E, NU))
    basis = Basis(body.basis.mesh, ElementVector(ElementQuad2()), intorder=8)
    x = np.asarray(basis.global_coordinates())
    exact, gradient, sigma, force = ring_field(x)
    load = LinearForm(lambda v, w: 2 * pi * w.x[0] * (w.br * v[0] + w.bz * v[1])).assemble(
        basis, br=force[0], bz=force[1]
    )
    fixed, value = np.zeros(load.size, bool), np.zeros(load.size)
    fixed[basis.get_dofs().flatten()] = True
    value[body.dofs] = ring_field(body.x)[0]
    u = solve_held(body.K, load, fixed, value)
    weight = basis.dx * x[0]
    field, scalar = basis.interpolate(u), basis.with_element(ElementQuad2())
    recovered = np.stack([np.asarray(scalar.interpolate(part)) for part in nodal_stress(body, u)[1]])
    return (
        _relative(np.asarray(field), exact, weight),
        _relative(np.asarray(field.grad), gradient, weight),
        _relative(recovered, sigma, weight),
    )


def _quantities(kind: str, errors: Array, counts: tuple[int, ...], allowed: tuple[float, ...]) -> list[Quantity]:
    """Errors (sizes, 3) as quantities."""
    sizes = tuple(1 / n for n in counts)
    rates = (2.8, 1.8, 1.8)
    return [
        Quantity(f"{kind}error of {name} (rms over rms)", "-", 0.0, column, tolerance, BECAUSE, sizes, 1.0, rate)
        for name, column, tolerance, rate in zip(NAMES, errors.T, allowed, rates, strict=True)
    ]


def measure_block() -> Measured:
    """Errors in 3D, isotropic and anisotropic."""
    quantities: list[Quantity] = []
    kinds = (("isotropic: ", isotropic(E, NU), hooke(E, NU)), ("anisotropic: ", anisotropic(), anisotropic()))
    for kind, C, law in kinds:
        errors = np.array([_block_errors(C, law, n) for n in COUNTS])
        quantities += _quantities(kind, errors, COUNTS, (1.5e-3, 0.025, 0.035))
    return Measured(tuple(quantities))


def measure_ring() -> Measured:
    """Errors of revolution."""
    errors = np.array([_ring_errors(n) for n in RING_COUNTS])
    return Measured(tuple(_quantities("", errors, RING_COUNTS, (3e-5, 1.2e-3, 2e-3))))


SOURCE = "manufactured here; the method: Roache, J. Fluids Eng. 124, 2002, from memory"
CHECKS = (
    Check(
        name="manufactured",
        group="elasticity",
        title="Manufactured solution in 3D on curved elements, isotropic and anisotropic",
        source=SOURCE,
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; curved 27-node hexahedra",
        measure=measure_block,
    ),
    Check(
        name="manufactured_of_revolution",
        group="elasticity",
        title="Manufactured solution of revolution",
        source=SOURCE,
        how="closed form",
        part="fem.solid.axisymmetric, fem.solid.solver; quadratic quadrilaterals",
        measure=measure_ring,
    ),
)
