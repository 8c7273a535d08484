"""The elastic operators on 27-node hexahedra: patch tests, rates against exact solutions, bodies with known answers."""

from __future__ import annotations

from collections.abc import Callable
from math import log2, pi

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, FacetBasis, LinearForm, MeshHex, MeshHex2

from icecone.fem.elasticity import (
    assemble_stiffness,
    displacement_gradient,
    scalar_basis,
    spread_force,
    stiffness_form,
    stress,
)
from icecone.fem.solver import make_solver
from icecone.fem.stress import VOIGT, recover
from icecone.materials.tensor import isotropic, lame

Array = NDArray[np.float64]
ROUND_OFF = 1e-10
E, NU = 9.3e9, 0.325  # Pa, -: granular ice near -10 deg C; any admissible pair does


def box(n: tuple[int, int, int], size: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> MeshHex2:
    return MeshHex2.from_mesh(MeshHex.init_tensor(*(np.linspace(0.0, b, k + 1) for b, k in zip(size, n, strict=True))))


def moved(mesh: MeshHex2, move: Callable[[Array], Array]) -> MeshHex2:
    return MeshHex2(move(mesh.doflocs), mesh.t, sort_t=False, validate=False)


def distorted(n: tuple[int, int, int], seed: int = 1, share: float = 0.12) -> MeshHex2:
    """Unit box with every node (mid-edge, mid-face and centre ones too) moved at random: curved elements."""
    mesh, rng = box(n), np.random.default_rng(seed)
    return moved(mesh, lambda x: x + share * 0.5 / max(n) * rng.uniform(-1, 1, x.shape))


def anisotropic(seed: int = 3) -> Array:
    """A stiffness tensor with the elastic symmetries and no other, positive definite [Pa]."""
    modes = np.random.default_rng(seed).normal(size=(6, 3, 3))
    modes = modes + modes.transpose(0, 2, 1)
    return 0.1 * E * np.einsum("mij,mkl->ijkl", modes, modes) + isotropic(E, NU)


both_kinds = pytest.mark.parametrize("C", [isotropic(E, NU), anisotropic()], ids=["isotropic", "anisotropic"])


def on_surface(mesh: MeshHex2) -> NDArray[np.bool_]:
    """Which of the 3 nodes displacement components lie on the surface."""
    return np.repeat(np.isin(np.arange(mesh.doflocs.shape[1]), Basis(mesh, ElementHex2()).get_dofs().flatten()), 3)


def solve(K: sp.csr_matrix, f: Array, fixed: NDArray[np.bool_], value: Array | float = 0.0) -> Array:
    u = np.where(fixed, value, 0.0)
    u[~fixed] = make_solver(K[~fixed][:, ~fixed].tocsr(), method="pardiso").solve((f - K @ u)[~fixed])
    return u


def observed_rate(errors: list[float]) -> float:
    """Of the last halving of the element size."""
    return log2(errors[-2] / errors[-1])


def stiffness(mesh: MeshHex2, C: Array) -> sp.csr_matrix:
    return assemble_stiffness(mesh, [(np.arange(mesh.nelements), C)])


def nodal_stress(mesh: MeshHex2, u: Array, C: Array) -> Array:
    return recover(mesh, u, [(np.arange(mesh.nelements), C)]).nodal


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


@both_kinds
def test_patch(C):
    """A linear displacement on a distorted patch's surface is found inside to round-off, its stress is constant."""
    mesh = distorted((3, 2, 2))
    A = np.random.default_rng(5).normal(size=(3, 3)) * 1e-3
    exact = (mesh.doflocs.T @ A.T).ravel()
    fixed = on_surface(mesh)
    K = stiffness(mesh, C)
    u = solve(K, np.zeros(exact.size), fixed, exact)
    assert not fixed.all()
    assert np.abs(u - exact).max() < ROUND_OFF * np.abs(exact).max()
    sigma = stress(C, A)
    nodal = nodal_stress(mesh, u, C)
    assert np.abs(nodal - [sigma[i, j] for i, j in VOIGT]).max() < ROUND_OFF * np.abs(sigma).max()


WAVES = np.array([[2.0, 1.0, -1.5], [-1.0, 2.5, 1.0], [1.2, -0.8, 1.7]])  # row i: u_i depends on WAVES[i] . x
SIZE = 1e-4  # m


def exact_solution(C: Array, x: Array) -> tuple[Array, Array, Array]:
    """u (3, ...), grad u (3, 3, ...) and the body force f_i = -C_ijkl u_k,lj with u_k,lj = u_k'' WAVES_kl WAVES_kj."""
    a, b, c = np.tensordot(WAVES, x, 1)
    u = SIZE * np.stack([np.sin(a), np.cos(b), np.exp(0.5 * c)])
    slope = SIZE * np.stack([np.cos(a), -np.sin(b), 0.5 * np.exp(0.5 * c)])
    bend = SIZE * np.stack([-np.sin(a), -np.cos(b), 0.25 * np.exp(0.5 * c)])
    force = -np.einsum("ijkl,kl,kj,k...->i...", C, WAVES, WAVES, bend)
    return u, np.einsum("i...,ij->ij...", slope, WAVES), force


def manufactured_errors(C: Array, n: int) -> tuple[float, float, float]:
    """Relative L2 errors of displacement, gradient and recovered stress on n x n x n curved elements."""
    mesh = moved(box((n, n, n)), lambda x: x + 0.06 * np.sin(pi * x[[1, 2, 0]]) * np.sin(2 * pi * x))
    basis = scalar_basis(mesh, intorder=6)
    x, dx = np.asarray(basis.global_coordinates()), basis.dx
    exact, true_grad, load = exact_solution(C, x)
    f = np.stack([LinearForm(lambda v, w, i=i: load[i] * v).assemble(basis) for i in range(3)], axis=1).ravel()
    fixed = on_surface(mesh)
    K = stiffness(mesh, C)
    u = solve(K, f, fixed, exact_solution(C, mesh.doflocs)[0].T.ravel())

    def error(values: Array, exact: Array) -> float:
        return float(np.sqrt(np.sum((values - exact) ** 2 * dx) / np.sum(exact**2 * dx)))

    true_stress = np.einsum("ijkl,klep->ijep", C, true_grad)
    phi = np.stack([value[0] for value in basis.basis])[:, 0]
    nodal = nodal_stress(mesh, u, C)
    return (
        error(np.stack([basis.interpolate(u[i::3]) for i in range(3)]), exact),
        error(displacement_gradient(basis, u).transpose(2, 3, 0, 1), true_grad),
        error(np.einsum("ap,eac->cep", phi, nodal), np.stack([true_stress[i, j] for i, j in VOIGT])),
    )


@both_kinds
def test_manufactured_solution_rates(C):
    """Triquadratic elements: displacement converges at rate 3 in L2, its gradient and the recovered stress at 2."""
    errors = [manufactured_errors(C, n) for n in (3, 6)]
    displacement, gradient, recovered = (observed_rate([e[k] for e in errors]) for k in range(3))
    assert displacement > 2.8
    assert gradient > 1.9
    assert recovered > 1.9
    assert errors[-1][2] < 0.01


def cylinder_errors(n: int) -> tuple[float, float]:
    """Largest relative nodal errors of u_r and of the in-plane stresses: quarter of a thick cylinder, plane strain."""
    a, b, p = 0.0085, 0.034, 1e6
    mesh = moved(
        box((2 * n, n, 1), (1.0, pi / 2, 0.2)),
        lambda x: np.stack([a * (b / a) ** x[0] * np.cos(x[1]), a * (b / a) ** x[0] * np.sin(x[1]), b * x[2]]),
    )
    x, y, _ = mesh.doflocs
    r = np.hypot(x, y)
    inner = np.flatnonzero(np.all(np.abs(r[mesh.facets] - a) < 1e-9, axis=0))
    facets = FacetBasis(mesh, ElementHex2(), facets=inner, intorder=4)
    f = np.stack([LinearForm(lambda v, w, i=i: -p * w.n[i] * v).assemble(facets) for i in range(3)], axis=1)
    fixed = np.stack([np.abs(x) < 1e-9, np.abs(y) < 1e-9, np.ones(r.size, bool)], axis=1)
    C = isotropic(E, NU)
    u = solve(stiffness(mesh, C), f.ravel(), fixed.ravel()).reshape(-1, 3)

    A = p * a**2 / (b**2 - a**2)
    radial = (1 + NU) / E * A * ((1 - 2 * NU) * r + b**2 / r)
    across, along = A * (1 - b**2 / r**2), A * (1 + b**2 / r**2)  # radial and hoop stress
    cos, sin = x / r, y / r
    exact = np.stack([across * cos**2 + along * sin**2, across * sin**2 + along * cos**2, (across - along) * cos * sin])
    error = nodal_stress(mesh, u.ravel(), C)[:, :, [0, 1, 5]] - exact.T[mesh.dofs.element_dofs.T]
    radial_error = (u[:, 0] * cos + u[:, 1] * sin) / radial - 1
    return float(np.abs(radial_error).max()), float(np.abs(error).max() / np.abs(exact).max())


def test_thick_cylinder_under_internal_pressure():
    """Lame's thick cylinder (Timoshenko & Goodier, Theory of Elasticity, from memory), plane strain:

    u_r = (1 + nu)/E A ((1 - 2 nu) r + b^2/r),  sigma_r, sigma_theta = A (1 -+ b^2/r^2),  A = p a^2/(b^2 - a^2).
    The largest nodal error falls at rate 3 in displacement and 2 in stress, the worst node being at the bore.
    """
    errors = [cylinder_errors(n) for n in (6, 12)]
    assert observed_rate([e[0] for e in errors]) > 2.8
    assert observed_rate([e[1] for e in errors]) > 1.8
    assert errors[-1][0] < 1e-5 and errors[-1][1] < 0.01


def beam_deflections(slenderness: int) -> tuple[float, float, float]:
    """Deflection under an end load over P: computed on the half y >= 0, Euler-Bernoulli, shear part (all m/N).

    nu = 0: the clamp then restrains no narrowing of the section, which beam theory does not know.
    """
    h, L = 0.02, 0.02 * slenderness
    mesh = moved(box((3 * slenderness, 1, 2), (L, h / 2, h)), lambda x: x - np.array([[0.0], [0.0], [h / 2]]))
    x, y, _ = mesh.doflocs
    last = np.flatnonzero(mesh.doflocs[0][mesh.t].max(axis=0) > L - 1e-9)
    f = spread_force(mesh, last, np.array([0.0, 0.0, 0.5]), np.array([L, 0.0, 0.0]))
    fixed = np.zeros((x.size, 3), bool)
    fixed[np.abs(y) < 1e-12, 1] = True
    fixed[x < 1e-12] = True
    u = solve(stiffness(mesh, isotropic(E, 0.0)), f, fixed.ravel())
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


@settings(max_examples=20, deadline=None)
@given(
    force=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
    point=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)),
)
def test_spread_force_is_statically_exact(force, point):
    """Nodal forces add up to the force; their moment about the point is zero, wherever the point lies."""
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
