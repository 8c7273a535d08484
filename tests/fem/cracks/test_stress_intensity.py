"""Energy release rate and stress intensity factors: closed forms, the discrete energy itself, and what is refused.

The checks of `validation/checks/fracture/cracks.py` have the rates; here are the pieces, on small meshes.
"""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import MeshQuad

from icecone.fem.cracks import stress_intensity as energyrelease
from icecone.fem.cracks.stress_intensity import Tip, intensity, kink_angle, williams
from icecone.fem.solid.axisymmetric import Body, make_body
from icecone.fem.solid.solver import make_solver
from icecone.validation.checks.fracture import cracks
from icecone.validation.checks.fracture.cracks import CONE, CRACK, NU, STEP, E, S, opened, plane_body

Array = NDArray[np.float64]
MU = E / (2 * (1 + NU))
STIFF = E / (1 - NU**2)


def williams_displacement(x: Array, K_I: float, K_II: float, side: Array) -> Array:
    """2 mu u = sqrt(rho/(2 pi)) g(phi) in the form of Tada, Paris & Irwin (from memory), k = 3 - 4 nu:

    g_I = (k - cos phi)(cos(phi/2), sin(phi/2)),  g_II = ((2 + k + cos phi) sin(phi/2), (2 - k - cos phi) cos(phi/2)).
    """
    k, rho, phi = 3 - 4 * NU, np.hypot(*x), np.arctan2(x[1], x[0])
    phi = np.where((np.abs(x[1]) < 1e-9) & (x[0] < 0), side * pi, phi)
    c, s = np.cos(phi / 2), np.sin(phi / 2)
    one, two = (k - np.cos(phi)) * np.stack([c, s]), np.stack([(2 + k + np.cos(phi)) * s, (2 - k - np.cos(phi)) * c])
    return np.asarray(np.sqrt(rho / (2 * pi)) / (2 * MU) * (K_I * one + K_II * two))


def williams_body(direction: float) -> tuple[Body, Array, Tip]:
    """A square of side 2 about a tip at (3, -1) with the nodes moved by K_I = 1, K_II = -0.5."""
    turn = np.array([[cos(direction), -sin(direction)], [sin(direction), cos(direction)]])
    at = np.array([[3.0], [-1.0]])
    mesh = opened(np.linspace(-1, 1, 13), np.linspace(0, 1, 7), 1, lambda x: x[0] < -1e-9, lambda x: turn @ x + at)
    body = plane_body(mesh, (E, NU))
    side, above = np.zeros(body.K.shape[0]), (turn.T @ (mesh.p - at))[1, mesh.t].mean(axis=0) > 0
    side[body.basis.element_dofs[:, above]] = 1
    side[body.basis.element_dofs[:, ~above]] = -1
    u = np.zeros(side.size)
    moved = turn @ williams_displacement(turn.T @ (body.x - at), 1.0, -0.5, side[body.dofs[0]])
    u[body.dofs[0]], u[body.dofs[1]] = moved
    return body, u, Tip((3.0, -1.0), direction)


@pytest.mark.parametrize("direction", [0.0, 0.7, 2.5, -1.9])
def test_williams_field_gives_its_factors_back(direction: float) -> None:
    """Whatever the direction of the crack; the nodes carry K_I = 1, K_II = -0.5 exactly, elements interpolate."""
    body, u, tip = williams_body(direction)
    found = intensity(body, u, tip, 0.6, plane=True)
    assert pytest.approx(1.0, abs=1e-3) == found.K_I
    assert pytest.approx(-0.5, abs=1e-3) == found.K_II
    assert pytest.approx(1.25 / STIFF, rel=3e-3) == found.G


def test_auxiliary_fields_are_those_of_a_crack() -> None:
    """Ahead sqrt(2 pi rho) sigma = 1 for the mode's own stress and 0 for the other's; faces are free of traction."""
    rho = 0.3
    ahead, faces = np.array([[rho], [0.0]]), np.array([[-rho, -rho], [0.0, 0.0]])
    lam = E * NU / ((1 + NU) * (1 - 2 * NU))

    def stress(grad: Array) -> Array:
        return lam * (grad[0, 0] + grad[1, 1]) * np.eye(2)[:, :, None] + MU * (grad + grad.swapaxes(0, 1))

    one, two = (sqrt(2 * pi * rho) * stress(g) for g in williams(ahead, np.array([1]), MU, NU))
    assert np.allclose(one[:, :, 0], np.eye(2), atol=1e-12)
    assert np.allclose(two[:, :, 0], [[0, 1], [1, 0]], atol=1e-12)
    for grad in williams(faces, np.array([1, -1]), MU, NU):
        assert np.allclose(sqrt(2 * pi * rho) * stress(grad)[1], 0, atol=1e-12)


def test_auxiliary_gradients_are_derivatives() -> None:
    """Central differences of the displacements, in another form of the same solution."""
    x, step = np.array([[0.3, -0.2, -0.4], [0.1, 0.3, -0.1]]), 1e-6
    for K, grad in zip(((1.0, 0.0), (0.0, 1.0)), williams(x, np.array([1, 1, -1]), MU, NU), strict=True):
        for k in (0, 1):
            shift = step * np.eye(2)[:, [k]]
            side = np.zeros(3)
            difference = williams_displacement(x + shift, *K, side) - williams_displacement(x - shift, *K, side)
            assert np.allclose(difference / (2 * step) * E, grad[:, k] * E, rtol=1e-7, atol=1e-7)


def test_griffith_field_is_in_equilibrium_with_free_faces() -> None:
    """The closed form that moves the slanted crack's boundary: div sigma = 0, no traction on the crack, S far off."""
    lam, step = E * NU / ((1 + NU) * (1 - 2 * NU)), 1e-6

    def stress(x: Array) -> Array:
        shifts = (step * np.eye(2)[:, [k]] for k in (0, 1))
        grad = np.stack([(cracks.griffith(x + d) - cracks.griffith(x - d)) / (2 * step) for d in shifts], axis=1)
        return lam * (grad[0, 0] + grad[1, 1]) * np.eye(2)[:, :, None] + MU * (grad + grad.swapaxes(0, 1))

    x, wide = np.array([[0.013, 0.031, -0.01], [0.007, 0.002, -0.02]]), 1e-4
    shifts = [wide * np.eye(2)[:, [k]] for k in (0, 1)]
    body_force = sum((stress(x + d) - stress(x - d))[:, k] for k, d in enumerate(shifts)) / (2 * wide)
    assert np.abs(body_force).max() < 1e-3 * S / CRACK
    faces = np.array([[0.3 * CRACK, 0.3 * CRACK], [1.01e-6, -1.01e-6]])
    assert np.abs(stress(faces)[1]).max() < 1e-3 * S
    far = stress(np.array([[0.0], [1e3 * CRACK]]))[:, :, 0]
    c, s = cos(cracks.SLANT), sin(cracks.SLANT)
    assert np.allclose(far, S * np.array([[s * s, s * c], [s * c, c * c]]), atol=1e-4 * S)


def test_penny_crack_on_a_coarse_mesh() -> None:
    """Sneddon 1946 (from memory): K_I = 2 S sqrt(a/pi), K_II = 0, within 1 % at six elements over the radius."""
    found = cracks.straight(1, "penny").found()
    assert pytest.approx(2 * S * sqrt(CRACK / pi), rel=0.01) == found.K_I
    assert abs(found.K_II) < 1e-3 * found.K_I
    assert pytest.approx(found.K_I**2 / STIFF, rel=0.03) == found.G


def test_energy_release_rate_is_that_of_the_discrete_energy() -> None:
    """A conical crack, both modes: int G dA over a growth is the rise of 1/2 f.u on the same mesh, however coarse."""
    domain, energy = cracks.released(1, lambda i: i.G)
    assert domain == pytest.approx(energy, rel=1e-4)


@pytest.mark.parametrize("reach", [3.0, 5.0])
def test_the_radius_does_not_matter(reach: float) -> None:
    """Both modes in revolution: the terms that revolution adds make the ring's size indifferent."""
    cone = cracks.conical(1, 8)
    ours, other = cone.found(), cone.found(reach)
    assert pytest.approx(ours.K_I, rel=2e-4) == other.K_I
    assert pytest.approx(ours.K_II, rel=4e-4) == other.K_II
    assert pytest.approx(ours.G, rel=4e-4) == other.G


def test_far_from_the_axis_revolution_is_plane_strain() -> None:
    """The same field of displacement at r = 1e6: hoop strain and its terms vanish."""
    body, u, _ = williams_body(0.7)
    there = MeshQuad(body.basis.mesh.p + np.array([[1e6], [0.0]]), body.basis.mesh.t)
    plane = intensity(body, u, Tip((3.0, -1.0), 0.7), 0.6, plane=True)
    round_ = intensity(make_body(there, (E, NU)), u, Tip((1e6 + 3.0, -1.0), 0.7), 0.6)
    assert pytest.approx(plane.K_I, abs=1e-5) == round_.K_I
    assert pytest.approx(plane.K_II, abs=1e-5) == round_.K_II
    assert pytest.approx(plane.G, rel=1e-5) == round_.G


def test_faces_of_a_curved_crack_count(monkeypatch: pytest.MonkeyPatch) -> None:
    """Arc of half angle c in all-round tension (Cotterell & Rice 1980, from memory): K_II = - K_I tan(c/2).

    The faces' terms make a radius of 3 and of 10 elements agree; without them K_II moves by half a per cent and more.
    """
    arc = cracks.curved(2)
    near, wide = arc.found(3.0), arc.found(10.0)
    assert pytest.approx(-tan(cracks.ARC / 2), rel=0.008) == wide.K_II / wide.K_I
    assert abs(wide.K_II / near.K_II - 1) < 1e-3 and abs(wide.G / near.G - 1) < 1e-3
    monkeypatch.setattr(energyrelease, "_face_terms", lambda *_: [0.0, 0.0, 0.0])
    near, wide = arc.found(3.0), arc.found(10.0)
    assert abs(wide.K_II / near.K_II - 1) > 5e-3 and abs(wide.G / near.G - 1) > 3e-3


def test_faces_pressed_shut_leave_the_second_mode() -> None:
    """A crack under pressure p and shear T, faces in frictionless contact: K_II = T sqrt(pi a), G = K_II^2/E'.

    By superposition: pressure passes through a shut crack. Faces are tied across, free along; the sides of the square
    move as the plane does (`griffith`: sliding; uniform strain for the pressure).
    """
    beyond = CRACK + cracks.away(2 * CRACK)[1:]
    x = np.concatenate([-beyond[::-1], np.linspace(-CRACK, CRACK, 13), beyond])
    body = plane_body(opened(x, cracks.away(3 * CRACK), 1, lambda x: np.abs(x[0]) < CRACK - 1e-9), (E, NU))
    (r, z), n = body.x, body.x.shape[1]
    on = np.flatnonzero((np.abs(z) < 1e-9) & (np.abs(r) < CRACK - 1e-9))
    order = on[np.argsort(np.round(r[on], 9), kind="stable")].reshape(-1, 2)
    c, s, p = cos(cracks.SLANT), sin(cracks.SLANT), 2 * S
    side = np.maximum(np.abs(r), np.abs(z)) > 3 * CRACK - 1e-9
    pressed = -p * (1 + NU) / E * np.stack([-NU * r, (1 - NU) * z])[:, side]
    u = np.zeros(2 * n)
    u[body.dofs[:, side]] = pressed + sliding_part(body.x[:, side])
    T = sp.eye_array(2 * n, format="lil")
    T[body.dofs[1, order[:, 1]], body.dofs[1, order[:, 0]]] = 1.0
    free = np.ones(2 * n, bool)
    free[body.dofs[:, side]] = False
    free[body.dofs[1, order[:, 1]]] = False
    reduced = T.tocsr()[:, free]
    u += reduced @ make_solver((reduced.T @ body.K @ reduced).tocsr()).solve(-reduced.T @ (body.K @ u))
    found = intensity(body, u, Tip((CRACK, 0.0), 0.0), 4 * STEP, plane=True)
    exact = S * s * c * sqrt(pi * CRACK)
    assert pytest.approx(exact, rel=0.005) == found.K_II
    assert pytest.approx(exact**2 / STIFF, rel=0.02) == found.G


def sliding_part(x: Array) -> Array:
    """`griffith` less its part that is symmetric about the crack: sigma_xy = S sin c cos c far off."""
    flip = np.array([[1.0], [-1.0]])
    return np.asarray(0.5 * (cracks.griffith(x) - flip * cracks.griffith(flip * x)))


def test_kink_angle_has_the_largest_hoop_stress() -> None:
    """sigma_phiphi ~ cos^2(phi/2) (K_I cos(phi/2) - 3 K_II sin(phi/2)) (Erdogan & Sih 1963, from memory), searched."""
    phi = np.linspace(-pi, pi, 200_001)
    for K_I, K_II in ((1.0, 0.0), (1.0, 0.3), (0.5, -0.7), (0.0, 1.0), (2.0, 1e-9)):
        hoop = np.cos(phi / 2) ** 2 * (K_I * np.cos(phi / 2) - 3 * K_II * np.sin(phi / 2))
        assert kink_angle(K_I, K_II) == pytest.approx(phi[np.argmax(hoop)], abs=5e-5)
    assert kink_angle(0.0, 1.0) == pytest.approx(-radians(70.5288), abs=1e-5)
    assert kink_angle(-3.0, 1.0) == kink_angle(0.0, 1.0)


@pytest.mark.parametrize("K_I", [0.0, -1.0])
def test_no_kink_of_a_crack_at_rest(K_I: float) -> None:
    with pytest.raises(ValueError, match="no kink"):
        kink_angle(K_I, 0.0)


@pytest.mark.parametrize(
    ("at", "radius", "message"),
    [
        ((CRACK * 1.01, 0.0), 4 * STEP, "single one"),
        ((CRACK - STEP, 0.0), 4 * STEP, "single one"),
        ((0.0, STEP), 4 * STEP, "r must be positive"),
        ((CRACK, 0.0), 1.2 * STEP, "both sides"),
        ((CRACK, STEP), 4 * STEP, "must end there"),
        ((CRACK, 0.0), -STEP, "must be positive"),
    ],
)
def test_what_is_no_tip_is_refused(at: tuple[float, float], radius: float, message: str) -> None:
    """No vertex, a doubled one, the axis, too few elements, a vertex beside the crack, no radius."""
    mesh = opened(np.linspace(0, 2 * CRACK, 13), np.linspace(0, CRACK, 7), 1, lambda x: x[0] < CRACK - 1e-9)
    body = make_body(mesh, (E, NU))
    with pytest.raises(ValueError, match=message):
        intensity(body, np.zeros(body.K.shape[0]), Tip(at, 0.0), radius)


def test_a_radius_beyond_the_other_end_is_refused() -> None:
    """A crack from r = a/2 to a: the auxiliary fields' cut would run on into sound material."""
    mesh = opened(
        np.linspace(0, 2 * CRACK, 13), np.linspace(0, CRACK, 7), 1, lambda x: np.abs(x[0] - 0.75 * CRACK) < 0.24 * CRACK
    )
    body = make_body(mesh, (E, NU))
    with pytest.raises(ValueError, match="not its end"):
        intensity(body, np.zeros(body.K.shape[0]), Tip((CRACK, 0.0), 0.0), 0.9 * CRACK)


def test_conical_crack_runs_straight_on_in_its_direction() -> None:
    """beta is measured from +r toward +z: the vertex ahead of the cone's tip lies at CONE."""
    cone = cracks.conical(1, 8)
    ahead = np.array([cone.tip.at]).T + STEP * np.array([[cos(CONE)], [sin(CONE)]])
    assert np.hypot(*(cone.body.basis.mesh.p - ahead)).min() < 1e-9
