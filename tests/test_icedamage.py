"""Ice that breaks in three dimensions: cracks that open and touch, a notched bar that parts."""

from __future__ import annotations

from math import cos, pi, sqrt

import numpy as np
import pytest
import scipy.sparse as sp
from skfem import MeshHex

from icecone.fem.icedamage import Material, Solid, corrected, cracked_stiffness, split_stiffness
from icecone.fem.solver import make_solver
from icecone.materials.tensor import lame

E, NU, G_C = 9e9, 0.3, 1.6
LAM, MU = (np.array([float(value)]) for value in lame(E, NU))


def bar(size: float, ell: float, steps: int, step: float) -> np.ndarray:
    """Loads [N/m] of half a centre-cracked strip (half width 80, half crack 30, length 320 mm), drawn apart."""
    length, width, crack = 0.32, 0.08, 0.03
    mesh = MeshHex.init_tensor(
        np.linspace(0, length, round(length / size) + 1), np.linspace(0, width, round(width / size) + 1), [0, size]
    )
    (x, y, _), n, m = mesh.p, mesh.p.shape[1], mesh.t.shape[1]
    even = np.ones(m)
    solid = Solid(
        mesh.p, mesh.t, Material(LAM * even, MU * even, corrected(G_C * even, size, ell), ell * even, even > 0)
    )
    damage = solid.break_further(np.zeros(3 * n), ((np.abs(x - length / 2) < 1e-9) & (y < crack + 1e-9)).astype(float))
    fixed = np.stack([(x < 1e-9) | (x > length - 1e-9), y < 1e-9, np.ones(n, bool)], axis=1).ravel()
    rows = np.broadcast_to(solid.dofs[:, :, None], (m, 24, 24)).ravel()
    columns = np.broadcast_to(solid.dofs[:, None], (m, 24, 24)).ravel()
    u, loads, end = np.zeros(3 * n), [], 3 * np.flatnonzero(x > length - 1e-9)
    for at in range(1, steps + 1):
        for _ in range(60):
            K = sp.coo_matrix((solid.cells(u, damage).ravel(), (rows, columns)), (3 * n, 3 * n)).tocsr()
            u = np.zeros(3 * n)
            u[end] = at * step
            u[~fixed] = make_solver(K[~fixed][:, ~fixed].tocsr()).solve(-(K @ u)[~fixed])
            before, damage = damage, solid.break_further(u, damage)
            if np.abs(damage - before).max() < 5e-3:
                break
        solid.keep_directions(u, damage)
        loads.append(float((K @ u)[end].sum()) / size)
    return np.array(loads)


def test_a_notched_bar_comes_near_fracture_mechanics_as_ell_falls_and_parts() -> None:
    """K = sigma sqrt(pi a) sqrt(sec(pi a / 2 W)) (Feddersen's formula, from memory), plane strain; then it is in two.

    From below: a band of 4 ell is no sharp crack. ell 20, 10 mm: order 0.8 with these steps, 0.7 with finer ones.
    """
    a, width = 0.03, 0.08
    sharp = width * sqrt(E * G_C / (1 - NU**2)) / sqrt(pi * a / cos(pi * a / (2 * width)))
    coarse, fine = (bar(0.5 * ell, ell, 20, 1e-6) for ell in (0.02, 0.01))
    short = [1 - loads.max() / sharp for loads in (coarse, fine)]
    assert 0 < short[1] < 0.2 and short[0] / short[1] > 2**0.7
    assert all(loads[-1] < 1e-3 * loads.max() and loads.argmax() < 15 for loads in (coarse, fine))


def test_across_a_crack_nothing_pulls_or_rubs_and_all_else_holds() -> None:
    """Open: no force on its faces. Pressed: the whole ice's pressure, no shear. Along it: the plate's stress."""
    normal = np.array([[0.6, 0.0, 0.8]])
    frame = np.array([normal[0], [0.8, 0.0, -0.6], [0.0, 1.0, 0.0]])

    def stress(strain: np.ndarray) -> np.ndarray:
        eps = frame.T @ strain @ frame
        given = np.array([[eps[0, 0], eps[1, 1], eps[2, 2], 2 * eps[1, 2], 2 * eps[0, 2], 2 * eps[0, 1]]])
        s = (cracked_stiffness(given, normal, LAM, MU) @ given[:, :, None])[0, :, 0]
        return frame @ np.array([[s[0], s[5], s[4]], [s[5], s[1], s[3]], [s[4], s[3], s[2]]]) @ frame.T

    slide = np.array([[1.0, 0.4, 0.2], [0.4, 0.0, 0.0], [0.2, 0.0, 0.0]]) * 1e-3
    assert np.abs(stress(slide)).max() < 1e-3
    shut = stress(slide * [[-1, 1, 1], [1, 1, 1], [1, 1, 1]])
    assert shut[0, 0] == pytest.approx(-1e-3 * (LAM + 2 * MU)[0]) and np.abs(shut[0, 1:]).max() < 1e-3
    along = stress(np.diag([0.0, 1e-3, 0.0]) + slide)
    assert along[1, 1] == pytest.approx(E / (1 - NU**2) * 1e-3) and abs(along[0]).max() < 1e-3


def test_whole_and_broken_ice_under_one_strain() -> None:
    """g = 1: Hooke. g = 0: tension is gone, pressure along one axis stays: E times the strain."""
    pulled, pressed = np.array([[1e-4, 0, 0, 0, 0, 0.0]]), np.array([[-1e-4, 3e-5, 3e-5, 0, 0, 0.0]])
    one, none = np.ones(1), np.zeros(1)
    C, psi = split_stiffness("no_tension", pulled, one, LAM, MU)
    assert (C @ pulled[0])[0, 0] == pytest.approx((LAM + 2 * MU)[0] * 1e-4)
    assert psi[0] == pytest.approx(0.5 * (LAM + 2 * MU)[0] * 1e-8)
    assert np.abs(split_stiffness("no_tension", pulled, none, LAM, MU)[0] @ pulled[0]).max() < 1e-6
    kept = split_stiffness("no_tension", pressed, none, LAM, MU)[0][0] @ pressed[0]
    assert kept[0] == pytest.approx(-E * 1e-4, rel=1e-9) and np.abs(kept[1:]).max() < 1e-3 * E * 1e-4
