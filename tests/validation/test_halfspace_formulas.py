"""The half-space formulas that checks are held against: they satisfy the equations and meet each other's limits."""

from __future__ import annotations

from math import asinh, pi

import numpy as np
import pytest
from samples import ICE_MODULI

from icecone.validation.checks.elasticity.halfspace import cells, mindlin, stress_of

E, NU = ICE_MODULI
G = E / (2 * (1 + NU))
FORCES = [(1.0, 0.0), (0.0, 1.0)]
PLACES = np.random.default_rng(4).uniform(-1, 1, (3, 12)) * np.array([[2.0], [2.0], [1.4]]) + np.array(
    [[0], [0], [1.5]]
)


def field(force, c=1.0, nu=NU):
    return lambda x: mindlin(x, c, force, E, nu)


@pytest.mark.parametrize("force", FORCES)
@pytest.mark.parametrize("nu", [0.0, 0.2, 0.45])
def test_equilibrium(force, nu):
    """div sigma = 0 away from the force, by central differences (error h^2)."""
    h = 1e-4
    total = np.zeros(PLACES.shape)
    for j in range(3):
        step = h * np.eye(3)[:, j : j + 1]
        ahead, behind = (stress_of(field(force, nu=nu), PLACES + sign * step, E, nu) for sign in (1, -1))
        total += (ahead - behind)[:, j] / (2 * h)
    size = np.abs(stress_of(field(force, nu=nu), PLACES, E, nu)).max()
    assert np.abs(total).max() < 1e-5 * size


@pytest.mark.parametrize("force", FORCES)
def test_surface_is_free(force):
    """sigma_xz = sigma_yz = sigma_zz = 0 at z = 0."""
    at = PLACES * np.array([[1], [1], [0]])
    sigma = stress_of(field(force), at, E, NU)
    assert np.abs(sigma[2]).max() < 1e-12 * np.abs(sigma).max()


@pytest.mark.parametrize("force", FORCES)
@pytest.mark.parametrize("depth", [0.3, 1.0])
def test_the_block_round_the_force_carries_it(force, depth):
    """Tractions over the faces of a box about the force, or about its part below the surface, sum up to -F."""
    high = min(0.5, depth)
    points, shares = cells((0.5, 0.5), 40)
    total = np.zeros(3)
    for axis in range(3):
        for sign in (-1, 1):
            others = [i for i in range(3) if i != axis]
            low, up = (-high, 0.5) if 2 in others else (-0.5, 0.5)
            at = np.empty((3, points.shape[1]))
            at[others[0]] = points[0]
            at[others[1]] = points[1] if 2 not in others else low + (points[1] + 0.5) * (up - low)
            at[axis] = sign * 0.5 if not (axis == 2 and sign < 0) else -high
            at[2] += depth
            sigma = stress_of(field(force, depth), at, E, NU)
            total += sign * (sigma[:, axis] * shares).sum(axis=1) * (up - low)
    assert total == pytest.approx([-force[0], 0, -force[1]], abs=2e-4)


@pytest.mark.parametrize("force", FORCES)
def test_deep_limit_is_kelvins(force):
    """u_i = ((3 - 4 nu) d_ij + x_i x_j / R^2) F_j / (16 pi G (1 - nu) R); Love, Theory of Elasticity, from memory."""
    c = 1e5
    x = PLACES - np.array([[0], [0], [1.5]])
    R = np.linalg.norm(x, axis=0)
    F = np.array([force[0], 0.0, force[1]])
    kelvin = ((3 - 4 * NU) * F[:, None] + x * (F @ x) / R**2) / (16 * pi * G * (1 - NU) * R)
    found = mindlin(x + np.array([[0], [0], [c]]), c, force, E, NU)
    assert found == pytest.approx(kelvin, abs=1e-4 * np.abs(kelvin).max())


def test_surface_limits_are_boussinesqs_and_cerrutis():
    """Displacement of the surface and the stress on planes z = const, Johnson, Contact Mechanics, from memory."""
    x, y, z = PLACES
    r, R = np.hypot(x, y), np.linalg.norm(PLACES, axis=0)
    surface = np.stack([x, y, 0 * z])
    normal, tangential = (mindlin(surface, 0.0, force, E, NU) for force in ((0.0, 1.0), (1.0, 0.0)))
    assert normal[2] == pytest.approx((1 - NU) / (2 * pi * G * r))
    assert normal[0] == pytest.approx(-(1 - 2 * NU) * x / (4 * pi * G * r**2))
    assert tangential[0] == pytest.approx(((1 - NU) / r + NU * x**2 / r**3) / (2 * pi * G))
    assert tangential[1] == pytest.approx(NU * x * y / r**3 / (2 * pi * G))
    for force, along in (((0.0, 1.0), z), ((1.0, 0.0), x)):
        sigma = stress_of(field(force, 0.0), PLACES, E, NU)[2]
        assert sigma == pytest.approx(-3 * PLACES * along * z / (2 * pi * R**5), rel=1e-9)


def test_betti():
    """u_z at Q by a horizontal force at P is u_x at P by a vertical force at Q."""
    P, Q = np.array([0.0, 0.0, 0.7]), np.array([0.9, 0.4, 1.6])
    there = mindlin((Q - [P[0], P[1], 0])[:, None], P[2], (1.0, 0.0), E, NU)
    back = mindlin((P - [Q[0], Q[1], 0])[:, None], Q[2], (0.0, 1.0), E, NU)
    assert there[2, 0] == pytest.approx(back[0, 0])


def test_centre_of_a_square():
    """int dA / r over a square of half side a = 8 a asinh 1 (Gauss points in the four quarters, none at the middle)."""
    points, shares = cells((0.5, 0.5), 200)
    r = np.hypot(points[0] + 0.5, points[1] + 0.5)
    assert 4 * (shares / r).sum() == pytest.approx(8 * asinh(1.0), rel=1e-4)
