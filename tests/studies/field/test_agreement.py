"""Predicted against measured: what a sample with known truth must give back, with bounds and without."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import integrate, stats

from icecone.studies.field.agreement import Agreement, agreement, censored_normal, split_scatter
from icecone.studies.field.censored import log_likelihood
from icecone.studies.field.pulls import Array, Measured

DRAWS = np.exp(np.random.default_rng(0).normal(0.0, 0.3, 4001))


def row(number: int, placement: int, load: float, said: float = 1.0, bound: bool = False, **more: Any) -> Measured:
    """An invented row whose draws are lognormal about `said` [kN], sd 0.3."""
    draws = said * DRAWS / np.median(DRAWS)
    words = {"mode_predicted": "cone", "mode_seen": "", "flag": "invented", **more}
    return Measured(str(number), str(placement), load, bound, 0.02, draws, said, **words)


def day(rng: np.random.Generator, bias: float, between: float, within: float, limit: float = np.inf) -> list[Measured]:
    """Eight placements of three pulls; a load cell ends a pull at `limit` times the prediction."""
    found = []
    for placement in range(8):
        shared = rng.normal(np.log(bias), between)
        for _ in range(3):
            said = 2.0 + placement
            ratio = np.exp(shared + rng.normal(0, within))
            found.append(row(len(found), placement, said * min(ratio, limit), said, bool(ratio > limit)))
    return found


def anova(values: Array) -> tuple[float, float]:
    """Between and within standard deviations of a balanced one-way layout (placements, replicates)."""
    n = values.shape[1]
    within = values.var(1, ddof=1).mean()
    return float(np.sqrt(max(values.mean(1).var(ddof=1) - within / n, 0.0))), float(np.sqrt(within))


def test_a_density_with_bounds_is_the_integral_over_what_is_shared() -> None:
    """Against quadrature of scipy, of two measured rows and two bounds."""
    misses, sd, shared = np.array([0.3, -0.1, 0.2, 0.5]), np.array([0.2, 0.3, 0.25, 0.2]), 0.4
    flags = np.array([False, False, True, True])

    def density(t: float) -> float:
        measured = stats.norm.pdf(misses[:2], t, sd[:2]).prod()
        return float(measured * stats.norm.sf(misses[2:], t, sd[2:]).prod() * stats.norm.pdf(t, 0, shared))

    exact = np.log(integrate.quad(density, -4, 4)[0])
    assert float(log_likelihood(misses, sd, np.array(shared), flags)) == pytest.approx(exact, abs=1e-5)
    none = stats.norm.logpdf(misses[:2], 0, sd[:2]).sum() + stats.norm.logsf(misses[2:], 0, sd[2:]).sum()
    assert float(log_likelihood(misses, sd, np.array(0.0), flags)) == pytest.approx(none, abs=1e-12)


def test_without_bounds_the_fit_is_mean_and_standard_deviation() -> None:
    values = np.random.default_rng(1).normal(0.3, 0.2, 30)
    mean, sd = censored_normal(values, np.zeros(30, bool), np.ones((1, 30)))
    assert (mean[0], sd[0]) == (pytest.approx(values.mean()), pytest.approx(values.std()))


def test_with_bounds_the_fit_is_the_largest_likelihood() -> None:
    """scipy fits the same by its own search; leaving the bounds out or taking them as peaks is far off."""
    values = np.random.default_rng(2).normal(0.0, 0.3, 200)
    bound = values > 0.1
    cut = np.minimum(values, 0.1)
    mean, sd = censored_normal(cut, bound, np.ones((1, 200)))
    reference = stats.norm.fit(stats.CensoredData(cut[~bound], right=cut[bound]))
    assert (mean[0], sd[0]) == (pytest.approx(reference[0], abs=2e-4), pytest.approx(reference[1], abs=2e-4))
    assert mean[0] == pytest.approx(values.mean(), abs=0.03) and cut.mean() < values.mean() - 0.05


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_balanced_and_without_bounds_the_split_is_that_of_the_analysis_of_variance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = rng.normal(0, 0.25, (7, 1)) + rng.normal(0, 0.15, (7, 4))
    found = split_scatter(values.ravel(), np.zeros(28, bool), np.repeat(np.arange(7), 4))
    assert found == pytest.approx(anova(values), rel=2e-3)


def test_placements_that_differ_less_than_replicates_have_no_scatter_between() -> None:
    """The analysis of variance would give a negative square; then all scatter is that of replicates."""
    values = np.array([[-0.2, 0.2], [-0.1, 0.1], [-0.3, 0.3]])
    between, within = split_scatter(values.ravel(), np.zeros(6, bool), np.repeat(np.arange(3), 2))
    assert between < 1e-3 and within == pytest.approx(values.std(ddof=1), rel=2e-3)


def test_the_split_of_an_uneven_layout_is_that_of_a_mixed_model() -> None:
    models = pytest.importorskip("statsmodels.regression.mixed_linear_model")
    rng = np.random.default_rng(8)
    at = np.repeat(np.arange(9), [1, 2, 5, 3, 2, 4, 1, 6, 3])
    values = rng.normal(0.1, 0.3, 9)[at] + rng.normal(0, 0.15, at.size)
    fit = models.MixedLM(values, np.ones((at.size, 1)), groups=at).fit(reml=True)
    reference = (float(np.sqrt(fit.cov_re[0, 0])), float(np.sqrt(fit.scale)))
    assert split_scatter(values, np.zeros(at.size, bool), at) == pytest.approx(reference, rel=5e-3)


@pytest.mark.slow
def test_bounds_do_not_shrink_bias_and_scatter() -> None:
    """Over ten days with a third of the pulls cut off the mean of each estimate is the truth."""
    rng = np.random.default_rng(5)
    found = [agreement(day(rng, 1.2, 0.2, 0.15, 1.35)) for _ in range(10)]
    cut = np.mean([each.bounds for each in found]) / 24
    assert 0.2 < cut < 0.5
    assert np.mean([np.log(each.bias.value) for each in found if each.bias]) == pytest.approx(np.log(1.2), abs=0.05)
    assert np.mean([each.within or 0 for each in found]) == pytest.approx(0.15, abs=0.02)
    assert np.mean([each.between or 0 for each in found]) == pytest.approx(0.2, abs=0.04)


@pytest.mark.slow
def test_the_interval_of_the_bias_holds_the_truth_about_as_often_as_it_says() -> None:
    """Of eight placements a bootstrap is somewhat narrow; replicates taken as independent would hold 67 of 100."""
    rng = np.random.default_rng(7)
    found = [agreement(day(rng, 1.2, 0.3, 0.1)).bias for _ in range(60)]
    held = sum(each is not None and each.low <= 1.2 <= each.high for each in found)
    assert 45 <= held <= 57


def test_the_same_seed_gives_the_same() -> None:
    rows = day(np.random.default_rng(3), 1.1, 0.2, 0.1)
    assert agreement(rows, 4) == agreement(rows, 4) and agreement(rows, 4).bias != agreement(rows, 5).bias


def test_a_bound_counts_inside_only_above_the_range() -> None:
    """Draws of sd 0.3: the middle 50 % end at a factor of 1.22, the middle 90 % at 1.64."""
    rows = [row(k, k, load) for k, load in enumerate((1.0, 1.1, 1.4, 2.0))]
    found = agreement(rows).inside
    assert found[0.5] and found[0.5].value == 0.5 and found[0.9] and found[0.9].value == 0.75
    more = agreement([*rows, row(4, 4, 1.3, bound=True)]).inside
    assert more[0.5] and more[0.5].value == 0.4 and more[0.9] == found[0.9]


def test_order_counts_pairs_that_decide() -> None:
    """Loads 1, 2 or more, 3, 4 as said: the bound decides against the load below it alone."""
    rows = [row(k, k, load, said, load == 2) for k, (load, said) in enumerate([(1, 1), (2, 9), (3, 3), (4, 4)])]
    found = agreement(rows)
    assert found.concordance and found.concordance.value == 1.0
    turned = agreement([row(k, k, load, 5 - load, load == 2) for k, load in enumerate((1.0, 2.0, 3.0, 4.0))])
    assert turned.concordance and turned.concordance.value == 0.0
    assert found.spearman is None, "three peaks that are no bounds are too few"
    even = agreement([row(k, k, load, 5 - load) for k, load in enumerate((1.0, 2.0, 3.0, 4.0))])
    assert even.spearman == pytest.approx(-1.0)


def test_replicates_of_one_placement_say_nothing_of_order() -> None:
    rows = [
        row(k, k // 2, load, said) for k, (load, said) in enumerate([(1, 1), (9, 1), (2, 2), (3, 2), (4, 3), (5, 3)])
    ]
    found = agreement(rows).concordance
    assert found and found.value == pytest.approx(8 / 12), "nine kN of the first placement lies above all four others"


def test_modes_are_counted_where_both_are_known() -> None:
    seen = ("cone", "cone", "lever-out", "")
    found = agreement([row(k, k, 1.0 + 0.1 * k, mode_seen=mode) for k, mode in enumerate(seen)])
    assert found.modes == {("cone", "cone"): 2, ("cone", "lever-out"): 1}
    assert found.modes_right and found.modes_right.value == pytest.approx(2 / 3)


def test_too_few_rows_are_none_and_words() -> None:
    found: Agreement = agreement([row(0, 0, 1.0), row(1, 1, 2.0, bound=True)])
    assert (
        found.bias is found.scatter is found.between is found.within is found.concordance is found.modes_right is None
    )
    assert not any(found.inside.values()) and len(found.untold) == 6
    assert agreement([]).bias is None


@pytest.mark.parametrize(
    "wrong, told",
    [
        ({"load_kN": 0.0}, "load_kN = 0"),
        ({"error": -1.0}, "error = -1"),
        ({"draws_kN": np.array([np.nan])}, "draws_kN"),
    ],
)
def test_a_row_that_can_be_none_is_refused(wrong: dict[str, Any], told: str) -> None:
    given = {"load_kN": 1.0, "error": 0.0, "draws_kN": DRAWS, **wrong}
    with pytest.raises(ValueError, match=told):
        Measured("a", "p", is_bound=False, prediction_kN=1.0, mode_predicted="", mode_seen="", flag="invented", **given)
