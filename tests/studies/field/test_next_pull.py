"""The pull that tells most: the closed form of a straight model with normal noise, and what it must prefer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from syntheticpulls import PRIORS, emulator, log_peaks, pulls

from icecone.studies.field.emulator import Emulator
from icecone.studies.field.fit import Grid, fit_rows
from icecone.studies.field.fit_cases import design
from icecone.studies.field.next_pull import gain_of, next_pulls

LINE = Grid(np.zeros(1), np.ones(1), 1000)
EVEN = np.full((1, 1000), 1e-3)


@pytest.mark.parametrize("slope, noise", [(1.0, 0.5), (0.2, 0.5), (2.0, 0.3)])
def test_of_a_straight_model_it_is_half_the_log_of_one_and_the_square_of_signal_over_noise(
    slope: float, noise: float
) -> None:
    """Input normal of sd 1 before, noise normal: gain = 0.5 ln(1 + slope^2 / noise^2)."""
    theta = norm.ppf(LINE.shares[:, 0])
    told, _ = gain_of(LINE, EVEN, np.array([noise]), slope * theta, np.zeros(1000), 4000, np.random.default_rng(1))
    exact, sd = 0.5 * np.log(1 + slope**2 / noise**2), told.std(ddof=1) / np.sqrt(4000)
    assert told.mean() == pytest.approx(exact, abs=3 * sd + 0.002) and sd < 0.02


def test_the_width_shrinks_as_noise_over_range_does() -> None:
    """Even input, straight model, noise 0.02 of its range: 3.29 times 0.02 over 0.9."""
    told, shrink = gain_of(
        LINE, EVEN, np.array([0.02]), LINE.shares[:, 0], np.zeros(1000), 2000, np.random.default_rng(2)
    )
    assert shrink.mean() == pytest.approx(3.29 * 0.02 / 0.9, rel=0.03)
    assert told.mean() == pytest.approx(-np.log(0.02 * np.sqrt(2 * np.pi * np.e)), abs=0.06)


def test_a_pull_that_no_input_moves_tells_nothing() -> None:
    told, shrink = gain_of(LINE, EVEN, np.array([0.1]), np.zeros(1000), np.zeros(1000), 50, np.random.default_rng(1))
    assert told == pytest.approx(0.0, abs=1e-12) and shrink == pytest.approx(1.0, abs=1e-9)


def test_the_next_pull_is_where_the_open_input_moves_the_peak() -> None:
    """Pulls that told one input only: the candidate that the other one moves comes first, and narrows it."""
    at = design(2, 128)
    rows = [each for each in pulls(np.array([0.5, 0.5]), np.random.default_rng(2), 0.1) if each.placement == "0"]
    fit = fit_rows(rows, Emulator(at, np.repeat(log_peaks(at)[:, :1], 2, axis=1)), PRIORS, cells=24)
    names = tuple("abcdef")
    found = next_pulls(fit, names, emulator(1), error=0.03)
    assert found[0].placement in "ef" and found[-1].placement in "ab"
    assert found[0].shrink[PRIORS[1].key] < found[-1].shrink[PRIORS[1].key] - 0.1
    assert found[0].gain - found[-1].gain > 3 * (found[0].sd + found[-1].sd) > 0
    assert found == next_pulls(fit, names, emulator(1), error=0.03)


def test_more_noise_tells_less() -> None:
    fit = fit_rows(pulls(np.array([0.5, 0.5]), np.random.default_rng(2), 0.1), emulator(), PRIORS, cells=24)
    sharp, blurred = (next_pulls(fit, "abcdef", emulator(1), error=error)[0] for error in (0.0, 0.4))
    assert sharp.gain > 1.5 * blurred.gain > 0


def test_what_does_not_match_is_refused() -> None:
    fit = fit_rows(pulls(np.array([0.5, 0.5]), np.random.default_rng(2), 0.1), emulator(), PRIORS, cells=24)
    with pytest.raises(ValueError, match="must be of 2 placements and 2 keys"):
        next_pulls(fit, "ab", emulator(1))
    with pytest.raises(ValueError, match="draws = 1"):
        next_pulls(fit, "abcdef", emulator(1), draws=1)
