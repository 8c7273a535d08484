"""Percentiles, chances and drives of draws: against functions and distributions whose answers are known."""

from __future__ import annotations

from math import nan, pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from icecone.studies.sweep.statistics import CONFIDENCE, Drive, chance, chances, drives, percentile

Array = NDArray[np.float64]
RNG = np.random.default_rng(20261130)


def ishigami(n: int) -> tuple[dict[str, Array], Array]:
    """sin x + 7 sin^2 y + 0.1 z^4 sin x on [-pi, pi]^3 (Ishigami & Homma 1990)."""
    x = RNG.uniform(-pi, pi, (3, n))
    return dict(zip("xyz", x, strict=True)), np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])


def test_shares_are_the_first_indices_of_ishigami() -> None:
    """Closed forms with a = 7, b = 0.1: S = 0.3139, 0.4424, 0 (Saltelli et al., Global Sensitivity Analysis)."""
    a, b = 7.0, 0.1
    variance = a**2 / 8 + b * pi**4 / 5 + b**2 * pi**8 / 18 + 0.5
    exact = {"x": 0.5 * (1 + b * pi**4 / 5) ** 2 / variance, "y": a**2 / 8 / variance, "z": 0.0}
    assert exact == pytest.approx({"x": 0.3139, "y": 0.4424, "z": 0.0}, abs=5e-5)
    found = {each.key: each for each in drives(*ishigami(20_000))}
    assert {key: each.share.value for key, each in found.items()} == pytest.approx(exact, abs=0.025)
    assert abs(found["y"].order.value) < 0.03 < 0.3 < found["x"].order.value  # y acts, but neither up nor down


def test_the_error_of_a_share_falls_with_the_root_of_the_draws() -> None:
    errors = [np.std([_of(drives(*ishigami(n)), "y").share.value for _ in range(60)]) for n in (200, 3200)]
    assert 2.5 < errors[0] / errors[1] < 6.5 and errors[0] < 1.2 / np.sqrt(200)


def _of(found: list[Drive], key: str) -> Drive:
    return next(each for each in found if each.key == key)


def test_an_input_that_depends_on_another_is_seen_too() -> None:
    """y = x, and w that follows x: both have what x explains, so the shares overlap."""
    x, other = RNG.normal(size=(2, 4000))
    w = 0.9 * x + np.sqrt(1 - 0.81) * other
    found = drives({"x": x, "w": w, "none": other}, x)
    assert next(each.key for each in found) == "x"
    assert _of(found, "x").share.value == pytest.approx(1.0, abs=0.01)
    assert _of(found, "w").share.value == pytest.approx(0.81, abs=0.04)
    assert _of(found, "w").order.value == pytest.approx(6 / pi * np.arcsin(0.45), abs=0.02)  # of a normal copula


def test_a_percentile_is_held_as_often_as_it_says() -> None:
    """Of the 20th percentile of an exponential, 60 draws at a time: 90 % of the intervals or some more hold it."""
    true = -np.log(0.8)
    held = [each.low <= true <= each.high for each in (percentile(RNG.exponential(size=60), 0.2) for _ in range(1500))]
    assert CONFIDENCE - 0.02 < np.mean(held) < 0.97
    assert percentile(np.arange(1.0, 102.0), 0.5).value == 51.0


def test_too_few_draws_know_no_end() -> None:
    known = percentile(np.array([3.0, 1.0, nan, 2.0]), 0.05)
    assert known.value == pytest.approx(1.1) and np.isnan(known.low) and not np.isnan(known.value)


def test_a_chance_is_wilsons() -> None:
    """15 of 50 at 90 %: z = 1.6449, centre (k + z^2/2)/(n + z^2), by hand."""
    z2 = stats.norm.ppf(0.95) ** 2
    centre, half = (15 + z2 / 2) / (50 + z2), np.sqrt(z2 * (15 * 35 / 50 + z2 / 4)) / (50 + z2)
    found = chance(15, 50)
    assert (found.value, found.low, found.high) == pytest.approx((0.3, centre - half, centre + half), rel=1e-9)
    assert list(chances(["cone", "rope", "cone"])) == ["cone", "rope"]
    assert sum(each.value for each in chances(["cone", "rope", "cone"]).values()) == pytest.approx(1.0)


def test_what_cannot_be_told_is_refused() -> None:
    with pytest.raises(ValueError, match="draws = 0: must be one or more"):
        percentile(np.array([nan]), 0.5)
    with pytest.raises(ValueError, match="share = 1: must lie between"):
        percentile(np.ones(3), 1.0)
    with pytest.raises(ValueError, match="hits = 4: must lie between 0 and 3"):
        chance(4, 3)
    with pytest.raises(ValueError, match="draws = 3: must be four or more"):
        drives({"x": np.arange(3.0)}, np.arange(3.0))
    assert drives({"x": np.ones(9), "y": np.arange(9.0)}, np.ones(9))[0].share.value == 0.0
