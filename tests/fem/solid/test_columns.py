"""Columns of ice in the solver: no axis in isotropic ice, a columnar cube in tension."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import scipy.sparse.linalg as sla
from domains import examples, numbers
from hypothesis import given
from hypothesis import strategies as st
from samples import ICE_MODULI
from skfem import ElementHex2, FacetBasis, LinearForm, MeshHex, MeshHex2

from icecone.fem.solid.assembly import assemble_stiffness
from icecone.fem.solid.elasticity import displacement_gradient, scalar_basis
from icecone.materials.crystal import FABRICS, solid_ice
from icecone.materials.tensor import (
    Transverse,
    directional_youngs_modulus,
    inverse,
    isotropic,
)

E, NU = ICE_MODULI
FORCE = np.array([0.6, 0.0, 0.8])  # direction n of the tension
axes = st.tuples(*[numbers(-1, 1)] * 3).filter(lambda n: np.linalg.norm(n) > 0.1)


def unit_cube(n: int = 2) -> MeshHex2:
    mesh = MeshHex2.from_mesh(MeshHex.init_tensor(*(np.linspace(0, 1, n + 1),) * 3))
    inside = (mesh.doflocs > 0) & (mesh.doflocs < 1)
    x = mesh.doflocs + 0.05 * np.random.default_rng(2).uniform(-1, 1, mesh.doflocs.shape) * inside
    return MeshHex2(x, mesh.t, sort_t=False, validate=False)


@examples(20)
@given(axes)
def test_stiffness_matrix_of_isotropic_ice_has_no_axis(axis: tuple[float, float, float]) -> None:
    mesh, all_of = unit_cube(1), np.arange(1)
    ours, theirs = (
        assemble_stiffness(mesh, [(all_of, C)])
        for C in (Transverse.isotropic(E, NU).pointing(axis).tensor(), isotropic(E, NU))
    )
    assert abs(ours - theirs).max() < 1e-13 * abs(theirs).max()


@cache
def pulled_cube() -> tuple[MeshHex2, np.ndarray]:
    """The cube and its load under a traction (n . normal) n of 1 Pa."""
    mesh, sigma = unit_cube(), np.outer(FORCE, FORCE)
    facets = FacetBasis(mesh, ElementHex2(), facets=mesh.boundary_facets(), intorder=4)
    pull = [LinearForm(lambda v, w, i=i: np.tensordot(sigma[i], w.n, 1) * v).assemble(facets) for i in range(3)]
    return mesh, np.stack(pull, axis=1).ravel()


@examples(5)
@given(st.sampled_from(FABRICS[1:]), axes)
def test_columnar_cube_in_tension(fabric: str, axis: tuple[float, float, float]) -> None:
    """Traction s n n . normal on a cube held in six points: the strain is S : s n n, and along n it is s / E(n) with

    1/E = (1 - c^2)^2 S11 + c^4 S33 + c^2 (1 - c^2) (2 S13 + S44), c = n . columns (Nye 1957, from memory).
    """
    ice, n, s = solid_ice(-10, fabric).pointing(axis), FORCE, 1e6
    (mesh, pull), sigma = pulled_cube(), s * np.outer(n, n)
    K = assemble_stiffness(mesh, [(np.arange(mesh.nelements), ice.tensor())])
    corner = [int(np.abs(mesh.doflocs.T - p).sum(axis=1).argmin()) for p in ((0, 0, 0), (1, 0, 0), (0, 1, 0))]
    held = [
        3 * corner[0],
        3 * corner[0] + 1,
        3 * corner[0] + 2,
        3 * corner[1] + 1,
        3 * corner[1] + 2,
        3 * corner[2] + 2,
    ]
    free = np.setdiff1d(np.arange(K.shape[0]), held)
    u = np.zeros(K.shape[0])
    u[free] = sla.spsolve(K[free][:, free].tocsc(), s * pull[free])
    grad = displacement_gradient(scalar_basis(mesh), u)
    strain = (grad + np.swapaxes(grad, -1, -2)) / 2
    compliant = np.einsum("ijkl,kl", inverse(ice.tensor()), sigma)
    assert np.abs(strain - compliant).max() < 1e-10 * np.abs(compliant).max()
    D = (ice.c11 + ice.c12) * ice.c33 - 2 * ice.c13**2
    S11, S33, S13 = (ice.c33 / D + 1 / (ice.c11 - ice.c12)) / 2, (ice.c11 + ice.c12) / D, -ice.c13 / D
    c2 = (n @ ice.axis) ** 2
    exact = (1 - c2) ** 2 * S11 + c2**2 * S33 + c2 * (1 - c2) * (2 * S13 + 1 / ice.c44)
    assert np.einsum("i,epij,j->ep", n, strain, n) == pytest.approx(np.full(strain.shape[:2], s * exact), rel=1e-10)
    assert directional_youngs_modulus(ice.tensor(), 2 * n) == pytest.approx(1 / exact, rel=1e-12)
