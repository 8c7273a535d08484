"""Between the points of a design: exact at them, honest about what it misses, small errors away from a jump."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from icecone.studies.field.emulator import FLOOR, KERNEL, Emulator
from icecone.studies.field.fit_cases import design


def smooth(points: np.ndarray) -> np.ndarray:
    return np.stack([points.sum(1), np.sin(2 * points[:, 0]) * points[:, -1]], axis=1)


def test_at_its_points_it_is_the_design() -> None:
    points = design(2, 32)
    peaks, _ = Emulator(points, smooth(points)).at(points)
    assert peaks == pytest.approx(smooth(points), abs=1e-9)


def test_what_it_leaves_out_is_what_a_fit_without_the_point_misses() -> None:
    points = design(3, 32)
    known = smooth(points)
    found = Emulator(points, known).left_out()
    assert np.isnan(found[-8:]).all(), "corners are none"
    for number in (0, 7, 31):
        rest = np.arange(len(points)) != number
        without = RBFInterpolator(points[rest], known[rest], kernel=KERNEL)(points[number : number + 1])
        assert found[number] == pytest.approx(known[number] - without[0], abs=1e-9)


def test_a_line_is_met_exactly_in_one_dimension() -> None:
    points = design(1, 16)
    at = np.linspace(0.01, 0.99, 50)[:, None]
    peaks, errors = Emulator(points, 3 * points).at(at)
    assert peaks == pytest.approx(3 * at, abs=1e-9) and errors == pytest.approx(FLOOR, abs=1e-9)


def test_its_error_is_about_what_it_misses() -> None:
    """At 500 other points: root mean square of miss over error near 1."""
    points = design(2, 64)
    at = np.random.default_rng(1).uniform(0.02, 0.98, (500, 2))
    peaks, errors = Emulator(points, smooth(points)).at(at)
    ratio = np.sqrt(np.mean(((peaks - smooth(at)) / errors) ** 2))
    assert 0.3 < ratio < 1.2


def test_by_a_jump_the_error_is_large_and_away_from_it_small() -> None:
    points = design(2, 128)
    jump = 0.3 * points[:, :1] + np.where(points[:, 1:] > 0.5, 1.0, 0.0)
    at = np.array([[0.5, 0.5], [0.5, 0.1], [0.5, 0.9]])
    peaks, errors = Emulator(points, jump).at(at)
    assert errors[0, 0] > 5 * max(errors[1:, 0])
    assert peaks.min() > -0.1 and peaks.max() < 1.4, "no overshoot"


def test_a_pull_that_was_not_solved_is_left_out_of_its_row_alone() -> None:
    points = design(2, 64)
    known = smooth(points)
    gap = known.copy()
    gap[5, 0] = np.nan
    at = points[5:6]
    whole, some = Emulator(points, known).at(at)[0][0], Emulator(points, gap).at(at)[0][0]
    assert some[1] == pytest.approx(whole[1], abs=1e-12) and some[0] != whole[0] and abs(some[0] - whole[0]) < 0.05


def test_a_design_that_cannot_be_is_refused() -> None:
    points = design(2, 16)
    known = smooth(points)
    with pytest.raises(ValueError, match=r"log_peaks of shape \(19, 2\): must be \(20, rows\)"):
        Emulator(points, known[:-1])
    with pytest.raises(ValueError, match="points = 4"):
        Emulator(points[:4], known[:4])
    with pytest.raises(ValueError, match="points = 20"):
        Emulator(np.vstack([points[:1], points[:-1]]), known)
    known[:11, 1] = np.nan
    with pytest.raises(ValueError, match="row 2: 45% of its pulls were solved"):
        Emulator(points, known)
