"""Distributions of a study file: closed forms of their quantiles, cut off where told, refused in one line."""

from __future__ import annotations

from math import exp, log, log1p, sqrt
from typing import Any

import numpy as np
import pytest
from scipy.special import gamma

from icecone.studies.sweep.distributions import distribution_from

SHARES = np.array([0.01, 0.1, 0.5, 0.9, 0.99])


def quantiles(**table: Any) -> list[float]:
    found = distribution_from(table)
    return [found.quantile(float(u)) for u in SHARES]


def test_uniform_and_triangular_are_their_closed_forms() -> None:
    """F = (x - a) / (b - a); F = (x - a)^2 / ((b - a)(c - a)) below the mode c."""
    assert quantiles(distribution="uniform", low=2.0, high=6.0) == pytest.approx(2 + 4 * SHARES)
    low = distribution_from({"distribution": "triangular", "low": 1.0, "mode": 4.0, "high": 5.0})
    x = low.quantile(0.3)
    assert (x - 1) ** 2 / (4 * 3) == pytest.approx(0.3)


def test_normal_and_lognormal_are_one_by_their_logarithm() -> None:
    """ln x is normal with variance ln(1 + cov^2) about ln(mean / sqrt(1 + cov^2))."""
    plain = quantiles(distribution="normal", mean=log(5 / sqrt(1 + 0.3**2)), sd=sqrt(log1p(0.3**2)))
    assert quantiles(distribution="lognormal", mean=5.0, cov=0.3) == pytest.approx([exp(each) for each in plain])


def test_weibull_has_its_mean_and_its_form() -> None:
    """ln(-ln(1 - F)) is a straight line in ln x; the mean is x0 G(1 + 1/m)."""
    x = np.log(quantiles(distribution="weibull", mean=1.2, cov=0.23))
    slope, at = np.polyfit(x, np.log(-np.log(1 - SHARES)), 1)
    assert np.ptp(np.log(-np.log(1 - SHARES)) - slope * x) < 1e-9
    assert exp(-at / slope) * gamma(1 + 1 / slope) == pytest.approx(1.2)


def test_what_is_cut_off_is_the_rest_in_proportion() -> None:
    """F_cut(x) = (F(x) - F(low)) / (F(high) - F(low)); no value lies outside."""
    whole = distribution_from({"distribution": "normal", "mean": 0, "sd": 2})
    cut = distribution_from({"distribution": "normal", "mean": 0, "sd": 2, "low": -1, "high": 5})
    below, up_to = (float(whole.whole.cdf(end)) for end in (-1, 5))
    for u in (0.0, 0.2, 0.7, 1.0):
        assert whole.whole.cdf(cut.quantile(u)) == pytest.approx(below + u * (up_to - below))
    assert (cut.quantile(0.0), cut.quantile(1.0)) == pytest.approx((-1, 5))


@pytest.mark.parametrize(
    "table, told",
    [
        ({}, "distribution = missing: must be one of normal, lognormal"),
        ({"distribution": "nrmal"}, "did you mean normal?"),
        ({"distribution": "normal", "mean": 1}, "sd = missing: must be a number"),
        ({"distribution": "normal", "mean": 1, "sd": -1}, "sd = -1: must be more than 0"),
        ({"distribution": "normal", "mean": 1, "sd": True}, "sd = true: must be a number"),
        ({"distribution": "normal", "mean": 1, "sd": 1, "cov": 2}, "cov = 2: must be one of mean, sd, low, high"),
        ({"distribution": "normal", "mean": float("inf"), "sd": 1}, "mean = inf: must be a number"),
        ({"distribution": "normal", "mean": 0, "sd": 1, "low": 2, "high": 1}, "high = 1: must be more than low = 2"),
        ({"distribution": "normal", "mean": 0, "sd": 1, "low": 90}, "low, high = 90, inf: must leave some"),
        ({"distribution": "lognormal", "mean": 1, "cov": 3}, "cov = 3: must be 0 or lie between"),
        ({"distribution": "weibull", "mean": -1, "cov": 0.2}, "mean = -1: must be positive"),
        ({"distribution": "weibull", "mean": 1, "cov": 0}, "cov = 0: must be more than 0"),
        ({"distribution": "uniform", "low": 2, "high": 2}, "high = 2: must be more than low = 2"),
        ({"distribution": "triangular", "low": 1, "mode": 9, "high": 2}, "mode = 9: must lie between low = 1"),
    ],
)
def test_a_wrong_distribution_is_told_by_its_field(table: dict[str, Any], told: str) -> None:
    with pytest.raises(ValueError) as error:
        distribution_from(table)
    assert told in str(error.value) and "\n" not in str(error.value)
