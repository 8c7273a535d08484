"""Patch test: a linear displacement, prescribed on the surface of a distorted patch, is found inside to round-off.

    u = A x on the surface   =>   u = A x inside,   sigma = C : A everywhere
    isotropic: sigma = E / (1 + nu) [eps + nu / (1 - 2 nu) tr(eps) 1],   eps = (A + A^T) / 2                       [Pa]

whatever the elements' shape (Irons) and the stiffness: the elements reproduce linear fields exactly, curved ones too.
The patch is of 3 x 2 x 2 elements with every node moved at random, inner, face and edge nodes among them.
"""

from __future__ import annotations

import numpy as np
from skfem import Basis, ElementHex2, MeshHex2

from ....fem.solid.stress import VOIGT
from ....materials.tensor import isotropic
from ...check import Check, Measured, Quantity
from ...models.bodies import Array, Mask, block, everywhere, solve_body, stress_at

E, NU = 9.3e9, 0.325  # Pa, -: granular ice near -10 deg C; any admissible pair does
STRAIN = 1e-3  # of the order of A's components
BECAUSE = "round-off; the stress: the projection stops at 1e-13 of its load"


def distorted(counts: tuple[int, int, int], seed: int = 1, share: float = 0.12) -> MeshHex2:
    """Unit box of counts elements, every node moved at random by up to `share` of half the smallest element."""
    random = np.random.default_rng(seed)
    size = share * 0.5 / max(counts)
    return block([np.linspace(0, 1, n + 1) for n in counts], lambda x: x + size * random.uniform(-1, 1, x.shape))


def hooke(E: float, nu: float) -> Array:
    """Hooke's law as a tensor (3, 3, 3, 3) [Pa], written out without Lame's constants."""
    one = np.eye(3)
    shear = 0.5 * (np.einsum("ik,jl->ijkl", one, one) + np.einsum("il,jk->ijkl", one, one))
    return np.asarray(E / (1 + nu) * (shear + nu / (1 - 2 * nu) * np.einsum("ij,kl->ijkl", one, one)))


def anisotropic(seed: int = 3) -> Array:
    """A positive definite stiffness [Pa] with the elastic symmetries and no other."""
    modes = np.random.default_rng(seed).normal(size=(6, 3, 3))
    modes = modes + modes.transpose(0, 2, 1)
    return np.asarray(0.1 * E * np.einsum("mij,mkl->ijkl", modes, modes) + hooke(E, NU))


def on_surface(mesh: MeshHex2) -> Mask:
    """Which of the 3 nodes components lie on the surface."""
    return np.repeat(np.isin(np.arange(mesh.doflocs.shape[1]), Basis(mesh, ElementHex2()).get_dofs().flatten()), 3)


def _largest_errors(C: Array, law: Array) -> tuple[float, float]:
    """Largest errors of displacement and of recovered stress over the patch, relative to their largest values.

    C : the patch's stiffness; law : the same, from which the stress is expected.
    """
    mesh = distorted((3, 2, 2))
    A = STRAIN * np.random.default_rng(5).normal(size=(3, 3))
    exact = (mesh.doflocs.T @ A.T).ravel()
    fixed = on_surface(mesh)
    inside = ~fixed
    u = solve_body(mesh, everywhere(mesh, C), np.zeros(exact.size), fixed, exact)
    sigma = np.einsum("ijkl,kl->ij", law, A)
    found = stress_at(mesh, u, everywhere(mesh, C), np.arange(mesh.doflocs.shape[1]))
    wrong = np.abs(found - [sigma[i, j] for i, j in VOIGT]).max() / np.abs(sigma).max()
    return float(np.abs(u - exact)[inside].max() / np.abs(exact).max()), float(wrong)


def measure() -> Measured:
    """Largest errors of an isotropic and of an anisotropic patch."""
    quantities = []
    kinds = (("isotropic", isotropic(E, NU), hooke(E, NU)), ("anisotropic", anisotropic(), anisotropic()))
    for kind, C, law in kinds:
        for name, error in zip(("displacement", "recovered stress"), _largest_errors(C, law), strict=True):
            text = f"{kind}: error of {name} over the largest"
            quantities.append(Quantity(text, "-", 0.0, [error], 1e-11, BECAUSE, scale=1))
    return Measured(tuple(quantities))


CHECKS = (
    Check(
        name="patch",
        group="elasticity",
        title="Patch test: linear displacement on distorted curved elements",
        source="Irons' patch test, in Zienkiewicz & Taylor, The Finite Element Method, from memory",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver, fem.solid.stress; distorted 27-node hexahedra",
        measure=measure,
    ),
)
