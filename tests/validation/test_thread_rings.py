"""The axisymmetric check of the thread interface: its code against closed forms, then what the interface costs."""

from __future__ import annotations

from functools import cache
from math import log, log2, pi

import numpy as np
import pytest
from numpy.typing import NDArray
from samples import ICE_MODULI
from skfem import ElementQuad2, ElementVector, FacetBasis, LinearForm, MeshQuad

from icecone.fem.solid.axisymmetric import Body, end_force, largest_principal, make_body, nodal_stress
from icecone.fem.solid.solver import make_solver
from icecone.materials.tensor import lame
from icecone.validation.checks.threads.thread_rings import (
    SIZES,
    ThreadInterfaceError,
    pull,
    settled,
    thread_interface_error,
)

Array = NDArray[np.float64]
E, NU = ICE_MODULI
INNER, OUTER, HEIGHT = 0.0085, 0.034, 0.02


def annulus(n: int) -> Body:
    """n elements each way, graded outwards and skewed so that no element is a rectangle."""
    mesh = MeshQuad.init_tensor(np.linspace(0, 1, 2 * n + 1), np.linspace(0, 1, n + 1))
    a, b = mesh.p
    skewed = b + 0.05 * np.sin(pi * a) * np.sin(pi * b)
    return make_body(MeshQuad(np.stack([INNER * (OUTER / INNER) ** a, HEIGHT * skewed]), mesh.t), (E, NU))


def solve(body: Body, f: Array, fixed: NDArray[np.bool_]) -> Array:
    """fixed : (2, n) for u_r and u_z at the nodes."""
    u = np.zeros(f.size)
    free = np.ones(f.size, bool)
    free[body.dofs[fixed]] = False
    u[free] = make_solver(body.K[free][:, free].tocsr(), method="splu").solve(f[free])
    return u


def inner_load(body: Body, component: int, traction: float) -> Array:
    facets = body.basis.mesh.facets_satisfying(lambda x: np.abs(x[0] - INNER) < 1e-9, boundaries_only=True)
    face = FacetBasis(body.basis.mesh, ElementVector(ElementQuad2()), facets=facets, intorder=5)
    return LinearForm(lambda v, w: traction * v[component] * 2 * pi * w.x[0]).assemble(face)


def lame_errors(n: int) -> tuple[float, float]:
    body, p = annulus(n), 1e6
    r = body.x[0]
    u = solve(body, inner_load(body, 0, p), np.stack([np.zeros(r.size, bool), np.ones(r.size, bool)]))
    A = p * INNER**2 / (OUTER**2 - INNER**2)
    exact = (1 + NU) / E * A * ((1 - 2 * NU) * r + OUTER**2 / r)
    points, sigma = nodal_stress(body, u)
    ratio = (OUTER / points[0]) ** 2
    stress = np.stack([A * (1 - ratio), A * (1 + ratio), 2 * NU * A + 0 * ratio, 0 * ratio])
    return float(np.abs(u[body.dofs[0]] / exact - 1).max()), float(np.abs(sigma - stress).max() / np.abs(stress).max())


def test_thick_cylinder_under_internal_pressure():
    """Lame, plane strain (Timoshenko & Goodier, from memory): u_r = (1 + nu)/E A ((1 - 2 nu) r + b^2/r), stresses

    A (1 -+ b^2/r^2), A = p a^2/(b^2 - a^2). Quadratics: rate 3 in displacement and 2 in stress at the worst node.
    """
    errors = [lame_errors(n) for n in (4, 8, 16)]
    for k, rate in ((0, 2.9), (1, 1.9)):
        assert log2(errors[1][k] / errors[2][k]) > rate
    assert errors[-1][0] < 1e-5 and errors[-1][1] < 0.005


def telescope_error(n: int) -> float:
    body = annulus(n)
    r = body.x[0]
    fixed = np.stack([np.ones(r.size, bool), r > OUTER - 1e-9])
    u = solve(body, inner_load(body, 1, 1 / (2 * pi * INNER * HEIGHT)), fixed)
    exact = np.log(OUTER / r) / (2 * pi * lame(E, NU)[1] * HEIGHT)
    return float(np.abs(u[body.dofs[1]] - exact).max() / exact.max())


def test_telescopic_shear():
    """An annulus sheared along its axis by 1 N: u_z = F ln(b/r)/(2 pi G h) (by hand: 2 pi r h tau = F). Rate 3."""
    errors = [telescope_error(n) for n in (4, 8, 16)]
    assert log2(errors[1] / errors[2]) > 2.9
    assert errors[-1] < 1e-5 * log(OUTER / INNER)


def test_bar_in_tension_is_exact():
    """A hollow bar pulled by F stretches by F z/(E A) and narrows by nu F r/(E A): linear, so exact to round-off."""
    body = annulus(3)
    r, z = body.x
    u = solve(body, end_force(body, HEIGHT), np.stack([np.zeros(r.size, bool), z < 1e-9]))
    area = pi * (OUTER**2 - INNER**2)
    scale = HEIGHT / (E * area)
    assert np.abs(u[body.dofs[1]] - z / (E * area)).max() < 1e-10 * scale
    assert np.abs(u[body.dofs[0]] + NU * r / (E * area)).max() < 1e-10 * scale
    _, sigma = nodal_stress(body, u)
    assert np.abs(largest_principal(sigma) * area - 1).max() < 1e-8


def test_largest_principal_takes_hoop_or_in_plane():
    """Pure shear q in the (r, z) plane has principal stresses +-q; a larger hoop stress comes first."""
    shear = np.array([[0.0], [0.5], [0.0], [2.0]])
    hoop = np.array([[0.0], [3.0], [0.0], [2.0]])
    assert largest_principal(shear) == pytest.approx([2.0]) and largest_principal(hoop) == pytest.approx([3.0])


@cache
def found() -> ThreadInterfaceError:
    return thread_interface_error()


@pytest.mark.slow
def test_thread_models_meet_their_assumptions():
    """Threads hand over the whole pull, every ring pushes on its upper face, lower faces open, as the model has it."""
    for answer in (found().rings, found().interface):
        assert answer.thrust == pytest.approx(1.0, abs=1e-7)
        assert answer.least > 0
        assert answer.overlap == 0.0
        assert min(answer.depth) > -0.13 and max(answer.depth) < 0
        assert len(answer.shares) == 13 and sum(answer.shares) == pytest.approx(1.0, abs=1e-12)
        assert answer.upper_fifth == pytest.approx(sum(answer.shares[-2:]) + 0.6 * answer.shares[-3], abs=1e-12)


@pytest.mark.slow
def test_interface_error_is_what_half_model_quotes():
    """A smooth tied cylinder is stiffer than rings in ice, by little, and carries thrust in the same order.

    No closed form: the bands state what `geometry/half_model.py` relies on, whose cost must not vanish unseen either.
    Stress is close from about one thread height outside the crests; nearer, single rings show and the interface
    underestimates.
    """
    error = found()
    assert -0.03 < error.compliance < -0.01
    assert -0.10 < error.thread_compliance < -0.04
    assert 0.03 < error.interface.upper_fifth - error.rings.upper_fifth < 0.06
    assert abs(error.interface.lower_fifth - error.rings.lower_fifth) < 0.005
    near, further = error.principal
    assert -0.30 < near < -0.10
    assert 0.02 < further < 0.08


@pytest.mark.slow
def test_ring_answer_settles_with_refinement():
    """Compliance and stress outside the crests converge: halving the elements moves them less each time."""
    answers = [pull(size, rings=True) for size in SIZES]
    for value in (lambda a: a.thread_compliance, lambda a: a.principal[0], lambda a: a.principal[1]):
        first, second, third = map(value, answers)
        assert abs(third - second) < 0.5 * abs(second - first)
        assert abs(third / second - 1) < 0.02


def test_settled_is_the_limit_of_a_geometric_approach():
    """2 + 3 q^k tends to 2 whatever the ratio q."""
    for q in (0.5, -0.3):
        assert settled((2 + 3 * q, 2 + 3 * q**2, 2 + 3 * q**3)) == pytest.approx(2.0, abs=1e-12)
