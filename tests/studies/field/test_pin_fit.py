"""Fits of a share and a border: known values are found again, and what the numbers do not tell is left open."""

from __future__ import annotations

from dataclasses import replace
from math import inf, log

import numpy as np
import pytest

from icecone.studies.field.pin_fit import SHARES, fit_border, fit_share, share_ratio

SEED = 11


def in_proportion(n: int) -> np.ndarray:
    """Loads that grow with the share: 2 kN, 3 kN and so on at a share of 1."""
    return np.outer(2.0 + np.arange(n), SHARES)


def test_an_exact_share_is_found_exactly() -> None:
    fit = fit_share(0.7 * (2.0 + np.arange(5)), in_proportion(5))
    assert fit is not None and fit.value == pytest.approx(0.7, rel=2e-3) and fit.rows == 5
    assert fit.low == pytest.approx(0.7, rel=5e-3) and fit.high == pytest.approx(0.7, rel=5e-3)


def test_the_interval_is_that_of_a_mean_of_logarithms() -> None:
    """In proportion the fit is the mean of log force: error s / sqrt n, interval t s / sqrt n."""
    noise = np.array([-0.2, 0.1, 0.3, -0.1, -0.1])
    fit = fit_share(0.7 * (2.0 + np.arange(5)) * np.exp(noise), in_proportion(5))
    assert fit is not None
    s = np.std(noise, ddof=1)
    assert fit.spread == pytest.approx(s, rel=1e-2) and fit.error == pytest.approx(s / np.sqrt(5), rel=1e-2)
    assert log(fit.high / fit.value) == pytest.approx(2.776 * s / np.sqrt(5), rel=2e-2)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Of 200 sets of six noisy loads nine in ten to all hold the true share of 0.9."""
    random, model = np.random.default_rng(SEED), in_proportion(6)
    fits = [fit_share(0.9 * (2.0 + np.arange(6)) * np.exp(0.2 * random.normal(size=6)), model) for _ in range(200)]
    held = sum(fit is not None and fit.low <= 0.9 <= fit.high for fit in fits)
    assert 180 <= held <= 199


def test_a_law_that_is_bounded_leaves_the_share_open_above() -> None:
    """Loads at the bound of 1: any share above it does as well."""
    model = np.minimum(in_proportion(4), (2.0 + np.arange(4))[:, None])
    fit = fit_share((2.0 + np.arange(4)) * np.exp([0.01, -0.01, 0.01, -0.01]), model)
    assert fit is not None and fit.high == inf and 0.9 < fit.low < 1.0


def test_too_few_and_ill_shaped() -> None:
    assert fit_share(np.ones(2), in_proportion(2)) is None
    for force, model in ((np.ones(3), in_proportion(4)), (np.zeros(3), in_proportion(3))):
        with pytest.raises(ValueError, match="must"):
            fit_share(force, model)


def test_a_ratio_of_shares_with_its_interval() -> None:
    """1.2 over 0.8 is 1.5; exact shares have a narrow interval, an open one has none."""
    one, other = (fit_share(share * (2.0 + np.arange(5)), in_proportion(5)) for share in (0.8, 1.2))
    assert one is not None and other is not None
    ratio = share_ratio(replace(one, error=0.03), replace(other, error=0.04))
    assert ratio is not None and ratio.value == pytest.approx(1.5, rel=5e-3)
    assert log(ratio.high / ratio.value) == pytest.approx(2.306 * 0.05, rel=1e-3)
    assert share_ratio(one, replace(other, high=inf)) is None


def pushed(border: float, width: float, n: int) -> tuple[np.ndarray, np.ndarray]:
    """n chips at each of nine tilts, drawn."""
    random, tilt = np.random.default_rng(SEED), np.repeat(np.arange(-20.0, 21.0, 5.0), n)
    return tilt, random.random(tilt.size) < 1 / (1 + np.exp((tilt - border) / width))


def test_a_border_is_found_with_its_interval() -> None:
    """Truth -3 deg, width 4: the interval holds it and narrows as the root of the number."""
    few, many = (fit_border(*pushed(-3.0, 4.0, n)) for n in (10, 90))
    for fit in (few, many):
        assert fit.kind == "fitted" and fit.low < -3.0 < fit.high and fit.border is not None
        assert fit.error == pytest.approx((fit.high - fit.low) / 3.92, rel=0.25)
    assert (many.high - many.low) == pytest.approx((few.high - few.low) / 3.0, rel=0.4)
    assert many.border == pytest.approx(-3.0, abs=1.0) and many.width == pytest.approx(4.0, rel=0.25)


def test_perfect_separation_is_a_bracket() -> None:
    tilt = np.array([-20.0, -10.0, -10.0, 0.0, 10.0])
    fit = fit_border(tilt, tilt < -5)
    assert (fit.kind, fit.low, fit.high, fit.border, fit.error) == ("bracket", -10.0, 0.0, -5.0, None)


def test_one_tilt_that_shows_both_does_not_break_it() -> None:
    """All out below 0, all stay above, both at 0: the border is at 0, within the tilts on either side."""
    tilt = np.repeat([-20.0, -10.0, 0.0, 10.0, 20.0], 4)
    out = tilt < 0
    out[8:10] = True
    fit = fit_border(tilt, out)
    assert fit.kind == "fitted" and fit.border == pytest.approx(0.0, abs=0.2)
    assert -10.0 < fit.low < 0.0 < fit.high < 10.0


@pytest.mark.parametrize(
    ("out", "kind", "low", "high"), [(True, "all came out", 20, inf), (False, "all stayed", -inf, -20)]
)
def test_all_alike(out: bool, kind: str, low: float, high: float) -> None:
    fit = fit_border(np.array([-20.0, 0.0, 20.0]), np.full(3, out))
    assert (fit.kind, fit.low, fit.high, fit.border) == (kind, low, high, None)


def test_no_order_is_said_and_too_few_are() -> None:
    """As many come out at every tilt, or more where the head leans toward the push."""
    tilt = np.repeat([-20.0, 0.0, 20.0], 4)
    assert fit_border(tilt, np.tile([True, False], 6)).kind == "no order"
    assert fit_border(tilt, tilt > 5.0).kind == "no order"
    assert fit_border(tilt[:2], np.array([True, False])).kind == "too few"
