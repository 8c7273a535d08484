"""The shank on the ice that it meets: a floor, its tangent, its energy."""

from __future__ import annotations

import numpy as np
import pytest
from samples import chipping_laws

from icecone.fem.tube.beam import make_beam
from icecone.fem.tube.shank import floor_depth, shank_forces, shank_laws, shank_spent, shank_stored

BEAM = make_beam(np.linspace(-0.02, 0.1, 13), 0.1)
LAWS = shank_laws(BEAM, chipping_laws(0.1, goes=True))


def test_what_stands_above_the_ice_bears_nothing_and_what_lies_under_it_does() -> None:
    q = np.zeros((2, 3))
    assert np.all(shank_forces(LAWS, q, 0.0, np.zeros(2)).force == 0)
    q[:, 1] = -LAWS.z - 1e-6
    found = shank_forces(LAWS, q, 0.0, np.zeros(2))
    assert found.force == pytest.approx(LAWS.k * 1e-6)
    q[:, 1] -= 1e-3
    found = shank_forces(LAWS, q, 0.0, np.zeros(2))
    assert found.force == pytest.approx(LAWS.limit) and found.crushed == pytest.approx(1.001e-3 - LAWS.limit / LAWS.k)


def test_over_a_trench_it_meets_the_floor() -> None:
    """t deep under the mouth, rising to the surface t / tan(rise) in front."""
    rise = np.tan(np.radians(30))
    depths = [floor_depth(rise, 0.02, x) for x in (-0.01, 0.0, 0.01, 0.1)]
    assert depths == pytest.approx([0.02, 0.02, 0.02 - 0.01 * rise, 0])
    assert LAWS.tangent == pytest.approx(rise)


def test_the_tangent_is_that_of_differences_and_the_energy_balances() -> None:
    q, h = np.zeros((2, 3)), 1e-9
    q[:, 0], q[:, 1] = 0.01, -LAWS.z - 0.0075
    trench = 0.012 + (0.01 + LAWS.x.max()) * LAWS.tangent * 0.1
    at = shank_forces(LAWS, q, trench, np.zeros(2)).force * 0
    level = -np.array([floor_depth(LAWS.tangent, trench, x) for x in LAWS.x + q[:, 0]])
    q[:, 1] = level - LAWS.z - 1e-6 + at
    found = shank_forces(LAWS, q, trench, np.zeros(2))
    for column in (0, 1):
        moved = q.copy()
        moved[:, column] += h
        slope = -(shank_forces(LAWS, moved, trench, np.zeros(2)).force - found.force) / h
        assert found.slope[:, column] == pytest.approx(slope, rel=1e-5)
    old, work, spent = found, 0.0, 0.0
    for step in np.linspace(0, 1e-3, 400):
        down = q.copy()
        down[:, 1] -= step
        new = shank_forces(LAWS, down, trench, old.crushed)
        work += float((0.5 * (old.force + new.force)).sum() * (step and 1e-3 / 399))
        spent += shank_spent(LAWS, old, new)
        old = new
    assert work == pytest.approx(spent + shank_stored(LAWS, old) - shank_stored(LAWS, found), rel=0.02)
