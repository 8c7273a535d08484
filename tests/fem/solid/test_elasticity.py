"""The elastic operators on 27-node hexahedra: tensors, matrices, loads, a beam; the exact solutions that checks use.

Patch tests, rates and bodies with known answers are in the validation pack (`test_validation.py`).
"""

from __future__ import annotations

from math import log2

import numpy as np
import pytest
import scipy.sparse as sp
from domains import examples, numbers
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray
from samples import ICE_MODULI
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, MeshHex2

from icecone.fem.solid.assembly import assemble_stiffness
from icecone.fem.solid.elasticity import scalar_basis, spread_force, stiffness_form, stress
from icecone.fem.solid.stress import VOIGT
from icecone.materials.tensor import isotropic, lame
from icecone.validation.checks.elasticity import cavity, kirsch
from icecone.validation.checks.elasticity.halfspace import stress_of
from icecone.validation.checks.elasticity.patch import anisotropic, distorted
from icecone.validation.models.bodies import block, everywhere, solve_body

Array = NDArray[np.float64]
E, NU = ICE_MODULI  # any admissible pair does


def box(n: tuple[int, int, int], size: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> MeshHex2:
    return block([np.linspace(0.0, b, k + 1) for b, k in zip(size, n, strict=True)])


both_kinds = pytest.mark.parametrize("C", [isotropic(E, NU), anisotropic()], ids=["isotropic", "anisotropic"])


def observed_rate(errors: list[float]) -> float:
    """Of the last halving of the element size."""
    return log2(errors[-2] / errors[-1])


def stiffness(mesh: MeshHex2, C: Array) -> sp.csr_matrix:
    return assemble_stiffness(mesh, everywhere(mesh, C))


def test_isotropic_tensor_gives_young_and_poisson():
    """A bar in tension E e_xx stretches by 1 along x and shrinks by nu across it; sliding gives E/(2 (1 + nu))."""
    C = isotropic(E, NU)
    assert np.allclose(stress(C, np.diag([1.0, -NU, -NU])), np.diag([E, 0.0, 0.0]), atol=1e-9 * E)
    sliding = stress(C, np.eye(3)[[1]].T @ np.eye(3)[[0]])
    assert sliding[0, 1] == sliding[1, 0] == pytest.approx(E / (2 * (1 + NU)), rel=1e-14)


@both_kinds
def test_stiffness_tensor_symmetries(C):
    """C_ijkl = C_jikl = C_ijlk = C_klij, and strain energy is positive for each of the six strains."""
    for axes in ((1, 0, 2, 3), (0, 1, 3, 2), (2, 3, 0, 1)):
        assert np.allclose(C, C.transpose(axes), rtol=1e-14, atol=1e-6)
    kelvin = np.array([[C[i, j, k, m] for k, m in VOIGT] for i, j in VOIGT])
    assert np.linalg.eigvalsh(kelvin).min() > 0


@pytest.mark.parametrize(("youngs", "poissons"), [(0.0, 0.3), (-1.0, 0.3), (1.0, 0.5), (1.0, -1.0), (np.nan, 0.3)])
def test_inadmissible_constants_are_refused(youngs, poissons):
    """E > 0 and -1 < nu < 0.5, or the energy is not positive; the message repeats both."""
    with pytest.raises(ValueError, match=r"E = .* nu = "):
        isotropic(youngs, poissons)


def scikit_fems(mesh: MeshHex2, form: BilinearForm, **fields: float) -> sp.csr_matrix:
    """Its own assembly of `form`, renumbered: dof 3 node + component; its local dofs are 3 a + component too."""
    basis = Basis(mesh, ElementVector(ElementHex2()), intorder=4)
    ours = 3 * scalar_basis(mesh).element_dofs[:, None, :] + np.arange(3)[None, :, None]
    place = np.empty(basis.N, np.int64)
    place[ours.reshape(81, -1)] = basis.element_dofs
    return form.assemble(basis, **fields).tocsr()[place][:, place]


def test_assembly_equals_scikit_fems():
    """The fast assembly and scikit-fem's own of the written form are one matrix, on curved elements too."""
    mesh = distorted((2, 2, 1))
    lam, mu = lame(E, NU)
    theirs = scikit_fems(mesh, stiffness_form, lam=lam, mu=mu)
    assert abs(stiffness(mesh, isotropic(E, NU)) - theirs).max() < 1e-13 * abs(theirs).max()


def test_anisotropic_assembly_equals_the_weak_form():
    """K = int grad v : C : grad u dV with C written out; regions add up (three elements of C, then one)."""
    mesh, C = distorted((2, 2, 1)), anisotropic()

    @BilinearForm
    def form(u, v, w):
        return np.einsum("ij...,ijkl,kl...->...", v.grad, C, u.grad)

    theirs = scikit_fems(mesh, form)
    ours = assemble_stiffness(mesh, [(np.array([3, 0, 2]), C), (np.array([1]), C)])
    assert abs(ours - theirs).max() < 1e-13 * abs(theirs).max()


def test_only_rigid_body_motion_is_free():
    """K has exactly six zero eigenvalues, three translations and three rotations: no hourglass, no spurious energy."""
    mesh = distorted((2, 1, 1))
    K = stiffness(mesh, anisotropic())
    x = mesh.doflocs.T
    for axis in np.eye(3):
        for mode in (np.ones_like(x) * axis, np.cross(axis, x)):
            assert np.abs(K @ mode.ravel()).max() < 1e-12 * abs(K).max()
    values = np.linalg.eigvalsh(K.toarray())
    assert np.abs(values[:6]).max() < 1e-12 * values[-1] < 1e-6 * values[6]


@pytest.mark.parametrize("nu", [0.0, 0.2, 0.45])
@pytest.mark.parametrize("exact", [kirsch.exact_displacement, cavity.goodier], ids=["Kirsch", "Goodier"])
def test_formulas_of_checks_satisfy_the_equations(exact, nu):
    """div sigma = 0 by central differences (error h^2), the hole free, and the uniform tension far away."""
    place = np.random.default_rng(2).normal(size=(3, 20))
    around = place if exact is cavity.goodier else place * np.array([[1], [1], [0]])
    out = around / np.linalg.norm(around, axis=0)
    radius = cavity.RADIUS
    assert radius == kirsch.HOLE

    def sigma(x: Array) -> Array:
        return stress_of(lambda y: exact(y, E, nu), x, E, nu) / kirsch.S

    h, at = 1e-4 * radius, 1.5 * radius * out
    steps = [h * np.eye(3)[:, j : j + 1] for j in range(3)]
    divergence = sum((sigma(at + step) - sigma(at - step))[:, j] for j, step in enumerate(steps)) / (2 * h)
    assert np.abs(divergence).max() < 1e-6 / radius
    assert np.abs(np.einsum("ij...,j...->i...", sigma(radius * out), out)).max() < 1e-12
    far = np.zeros((3, 3))
    if exact is cavity.goodier:
        far[2, 2] = 1
    else:
        far[0, 0], far[2, 2] = 1, nu
        assert np.abs(sigma(at) - kirsch.exact_stress(at, nu) / kirsch.S).max() < 1e-12
    assert np.abs(sigma(1e4 * radius * out) - far[..., None]).max() < 1e-6


def beam_deflections(slenderness: int) -> tuple[float, float, float]:
    """Deflection under an end load over P: computed on the half y >= 0, Euler-Bernoulli, shear part (all m/N).

    nu = 0: the clamp then restrains no narrowing of the section, which beam theory does not know.
    """
    h, L = 0.02, 0.02 * slenderness
    lines = [np.linspace(*ends) for ends in ((0, L, 3 * slenderness + 1), (0, h / 2, 2), (-h / 2, h / 2, 3))]
    mesh = block(lines)
    x, y, _ = mesh.doflocs
    last = np.flatnonzero(mesh.doflocs[0][mesh.t].max(axis=0) > L - 1e-9)
    f = spread_force(mesh, last, np.array([0.0, 0.0, 0.5]), np.array([L, 0.0, 0.0]))
    fixed = np.zeros((x.size, 3), bool)
    fixed[np.abs(y) < 1e-12, 1] = True
    fixed[x < 1e-12] = True
    u = solve_body(mesh, everywhere(mesh, isotropic(E, 0.0)), f, fixed.ravel())
    return float(f @ u) / 0.5, L**3 / (3 * E * h**4 / 12), L / (5 / 6 * E / 2 * h**2)


def test_cantilever_approaches_beam_theory():
    """End-loaded square cantilever: P L^3/(3 E I) is approached as (h/L)^2, and with Timoshenko's shear faster.

    Shear coefficient of the rectangle at nu = 0: 5/6 (Cowper, J. Appl. Mech. 33, 1966: 10 (1 + nu)/(12 + 11 nu); from
    memory).
    """
    rows = [beam_deflections(n) for n in (4, 8)]
    euler = [abs(found / bending - 1) for found, bending, _ in rows]
    timoshenko = [abs(found / (bending + shear) - 1) for found, bending, shear in rows]
    assert 1.8 < observed_rate(euler) < 2.2
    assert observed_rate(timoshenko) > 2.4
    assert timoshenko[1] < 0.1 * euler[1] < 1e-3


@examples(20)
@example(force=(0.0, 1e-9), point=(-1e-9, 0.5))
@given(
    force=st.tuples(numbers(-1e4, 1e4), numbers(-1e4, 1e4)),
    point=st.tuples(numbers(-0.5, 0.5), numbers(-0.5, 0.5)),
)
def test_spread_force_is_statically_exact(force, point):
    """Nodal forces add up to the force; their moment about the point is zero, wherever the point lies.

    Forces of 2e-313 N, which a search once found, are no example: a denormal number has no 1e-12 of itself.
    """
    mesh = distorted((2, 1, 1))
    force, point = np.array([force[0], 0.0, force[1]]), np.array([point[0], 0.0, point[1]])
    f = spread_force(mesh, np.array([1]), force, point).reshape(-1, 3)
    size = np.abs(f).sum()
    arm = mesh.doflocs.T - point
    moment = np.sum(arm[:, 2] * f[:, 0] - arm[:, 0] * f[:, 2])
    assert np.abs(f.sum(axis=0) - force).max() <= 1e-12 * size
    assert abs(moment) <= 1e-12 * size
    assert not f[np.setdiff1d(np.arange(len(f)), mesh.dofs.element_dofs[:, 1])].any()


def test_spread_force_turns_like_a_body():
    """A brick pulled along x by F at d below its centre: a + b x (x - point) must turn it by the moment F d.

    By hand: of that moment the x forces carry h^2/(h^2 + w^2), as their share of the polar moment V (h^2 + w^2)/12.
    """
    w, h, F, d = 0.4, 0.7, 3.0, 0.2
    mesh = box((1, 1, 1), (w, 1.0, h))
    f = spread_force(mesh, np.array([0]), np.array([F, 0.0, 0.0]), np.array([w / 2, 0.0, h / 2 - d])).reshape(-1, 3)
    assert (mesh.doflocs[2] - h / 2) @ f[:, 0] == pytest.approx(-F * d * h**2 / (h**2 + w**2), rel=1e-12)
    assert (mesh.doflocs[0] - w / 2) @ f[:, 2] == pytest.approx(F * d * w**2 / (h**2 + w**2), rel=1e-12)
