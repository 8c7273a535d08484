"""Repeats that tell two placements apart: the closed form of the t test, and what no repeat can tell."""

from __future__ import annotations

from math import sqrt
from typing import Any

import numpy as np
import pytest
from scipy import stats

from icecone.studies.field.repeats import LEVEL, TARGET, Power, power_of
from icecone.studies.field.tell_apart import Telling

ONE = np.ones(1)


def closed_form(shift: float, sd: float, n: int) -> float:
    """Power of the two-sided t test of two samples of n with equal scatter: noncentral t with 2 n - 2 of freedom."""
    freedom, away = 2 * n - 2, shift / sd * sqrt(n / 2)
    edge = stats.t.ppf(1 - LEVEL / 2, freedom)
    return float(stats.nct.sf(edge, freedom, away) + stats.nct.cdf(-edge, freedom, away))


def test_the_closed_form_is_that_of_statsmodels() -> None:
    power = pytest.importorskip("statsmodels.stats.power")
    for n in (3, 8, 20):
        assert closed_form(0.2, 0.15, n) == pytest.approx(power.TTestIndPower().power(0.2 / 0.15, n, LEVEL), abs=1e-6)


@pytest.mark.parametrize("shift", [0.0, 0.1, 0.2])
def test_of_normal_logs_with_equal_scatter_it_is_the_closed_form(shift: float) -> None:
    """From six repeats on; of fewer Welch's test knows less of the scatter than the closed form, which pools it."""
    days = 20000
    found = power_of(np.exp(shift) * ONE, ONE, 0.12, 0.09, most=14, days=days)
    exact = {n: closed_form(shift, 0.15, n) for n in found.repeats}
    for n, known in zip(found.repeats, found.power, strict=True):
        noise = 3.5 * sqrt(exact[n] * (1 - exact[n]) / days)
        assert known.value <= exact[n] + noise
        if n >= 6:
            assert known.value == pytest.approx(exact[n], abs=noise + 0.004)


def test_the_least_number_of_repeats_is_that_of_the_closed_form() -> None:
    found = power_of(np.exp(0.2) * ONE, ONE, 0.15, days=20000)
    exact = next(n for n in found.repeats if closed_form(0.2, 0.15, n) >= TARGET)
    assert exact == 10 and found.least in (10, 11) and found.factor == pytest.approx(np.exp(0.2))


def test_ranks_need_four_pulls_and_then_tell_nearly_as_much() -> None:
    found = power_of(np.exp(0.3) * ONE, ONE, 0.15, test="ranks", most=10)
    power = dict(zip(found.repeats, (known.value for known in found.power), strict=True))
    assert power[3] == 0.0 and 0.85 * closed_form(0.3, 0.15, 10) < power[10] <= 1.0


def test_ice_that_both_see_does_not_blur_the_difference() -> None:
    """The ice of the block, ten times the scatter, moves both alike; drawn apart it would hide any difference."""
    ice = np.random.default_rng(1).normal(0, 1.5, 500)
    together = power_of(np.exp(ice + 0.4), np.exp(ice))
    assert together.power == power_of(np.exp(0.4) * np.ones(500), np.ones(500)).power
    assert together.least is not None and together.least <= 4


def test_where_half_the_draws_say_alike_no_repeat_helps() -> None:
    """The power stays at a half and the false alarms of the rest."""
    first = np.exp(np.tile([0.0, 1.0], 50))
    found = power_of(first, np.ones(100), most=20)
    assert found.least is None and found.power[-1].value == pytest.approx(0.5 + 0.5 * LEVEL, abs=0.04)


def test_the_same_seed_gives_the_same_and_unsolved_draws_are_left_out() -> None:
    first, second = np.array([2.0, np.nan, 3.0]), np.array([1.5, 1.0, np.nan])
    found = power_of(first, second, seed=3)
    assert found == power_of(first, second, seed=3) == power_of(first[:1], second[:1], seed=3)
    assert found.power != power_of(first, second, seed=4).power


@pytest.mark.parametrize(
    "wrong, told",
    [
        ({"first_kN": np.ones(2)}, "draws = 2 and 1"),
        ({"first_kN": np.zeros(1)}, "draws: must hold"),
        ({"test": "sign"}, "test = sign: must be one of welch, ranks"),
        ({"scatter": -0.1}, "scatter, error = -0.1, 0"),
        ({"scatter": 0.0}, "scatter, error = 0, 0"),
        ({"most": 1}, "most = 1"),
        ({"days": 0}, "days = 0"),
    ],
)
def test_wrong_numbers_are_refused_in_one_line(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        power_of(**{"first_kN": ONE, "second_kN": ONE, **wrong})


@pytest.mark.parametrize(
    ("factor", "said"),
    [(1.001, "in half of the ices both hold the same"), (0.8, "less than a factor of 1.25 lies between them")],
)
def test_two_that_hold_the_same_are_said_to(factor: float, said: str) -> None:
    """Not: less than a factor of 1.00."""
    words = Telling("a", "b", Power((2, 20), (), None, factor, 0.1, 0.1, "invented")).words
    assert words.startswith("a and b: not even 20 pulls of each") and said in words
