"""The trench that chips leave: the next chip's surface, in closed form where faces rise evenly."""

from __future__ import annotations

import numpy as np
import pytest

from icecone.fem.laws.trench import Chips

STEP = 1e-3
DEPTH = np.arange(0.0, 0.201, STEP)
ANGLES = np.radians([-20.0, 0.0, 20.0])
FORCE = np.array([[1.0], [2.0], [4.0]]) * DEPTH
EVEN = Chips(ANGLES, STEP, FORCE, np.radians([-90.0, 90.0]), np.radians([20.0, 20.0]))
FALLING = Chips(ANGLES, STEP, FORCE, np.radians([-30.0, -5.0, 20.0]), np.radians([25.0, 0.0, -25.0]))


def test_chips_start_on_lines_between_angles_and_depths() -> None:
    at = EVEN.start(np.array([0.01, 0.0105, 0.05, 0.0, -0.01]), np.radians([-10.0, 0.0, 40.0, 0.0, 0.0]))
    assert at == pytest.approx([0.015, 0.021, 0.2, 0.0, 0.0])


def test_without_a_trench_the_next_chip_is_the_first() -> None:
    edges = np.linspace(0, 0.05, 6)
    force, out = EVEN.next(edges, 0.0, np.zeros(5))
    assert force == pytest.approx(np.full(5, 0.02)) and np.all(out == 1)


def test_faces_that_rise_evenly_have_a_floor_in_closed_form() -> None:
    """tan b = r tan(b + a), r = t / s: with x = tan b a quadratic, a x^2 - (1 - r) x + r a = 0 (a for tan a)."""
    trench, a = 0.02, np.tan(np.radians(20.0))
    s = np.array([0.06, 0.1, 0.15])
    r = trench / s
    exact = np.arctan(((1 - r) - np.sqrt((1 - r) ** 2 - 4 * a**2 * r)) / (2 * a))
    assert EVEN.floor(s, trench, np.zeros(3)) == pytest.approx(exact, rel=1e-3)
    assert np.all(np.diff(exact) < 0), "a deep chip hardly feels a shallow trench"


def test_a_chip_over_a_trench_leans_further_and_at_last_dives() -> None:
    """Its tube leans by b more: it needs more than as deep a first chip; near the floor the border is reached."""
    s, trench = np.linspace(0.02, 0.06, 5), 0.02
    away = np.full(4, np.radians(-20.0))
    first, _ = FALLING.next(s - trench, 0.0, away)
    after, out = FALLING.next(s, trench, away)
    assert np.all(after > first) and np.all(np.diff(out) >= 0) and out[0] < 0.7 < out[-1]
    leaning = np.degrees(away + FALLING.floor(0.5 * (s[1:] + s[:-1]), trench, away))
    assert np.all(leaning < -5) and np.all(np.diff(leaning) < 0)


@pytest.mark.parametrize(("shift", "comes"), [(0.0, 0.0), (15.0, 1.0), (-10.0, 0.0)])
def test_the_border_moves_with_the_shift_alone(shift: float, comes: float) -> None:
    """At 0 deg chips come out only where the border lies 10 deg or more beyond it; loads stay the same."""
    moved = Chips(ANGLES, STEP, FORCE, FALLING.turns, FALLING.rise, np.radians(shift))
    edges = np.linspace(0, 0.05, 6)
    force, out = moved.next(edges, 0.0, np.zeros(5))
    assert out == pytest.approx(np.full(5, comes)) and force == pytest.approx(FALLING.next(edges, 0.0, np.zeros(5))[0])


def test_right_at_the_floor_a_chip_is_at_the_border_and_no_farther() -> None:
    """t = s: b turns the tube to where cracks run along the surface, -5 deg; one beyond that it does not turn."""
    leans = np.radians([-30.0, -20.0, -6.0, 0.0, 20.0])
    found = np.degrees(leans + FALLING.floor(np.full(5, 0.02), 0.02, leans))
    assert found == pytest.approx([-5.0, -5.0, -5.0, 0.0, 20.0], abs=0.1)
