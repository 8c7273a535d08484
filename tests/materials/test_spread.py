"""Spread of strength: moments, weakest link, effective volumes in closed form, copula, fit by likelihood."""

from __future__ import annotations

from dataclasses import replace
from math import asin, exp, gamma, inf, log1p, pi, sqrt

import numpy as np
import pytest
from domains import examples, numbers
from hypothesis import given
from scipy.stats import kstest, norm, pearsonr, spearmanr, weibull_min

from icecone.materials.spread import Spread, correlated_draws, effective_volume, fit_weibull

WEIBULL = Spread("weibull", 1.2e6, 0.23)
LOGNORMAL = Spread("lognormal", 8e6, 0.25)
EACH = pytest.mark.parametrize("name", ["weibull", "lognormal"])
# Millions of turns to fatigue of 23 ball bearings, Lieblein & Zelen 1956, J. Res. Natl Bur. Stand. 57, 273-316
# (published, as handed on by open statistics packages; some print 48.40 for 48.48, which moves the fourth digit of m).
BEARINGS = [17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64, 68.64, 68.88]
BEARINGS += [84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40]


NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(60)
WEIGHTS /= WEIGHTS.sum()  # expectation over a normal variable


def of_normal(spread: Spread, z: np.ndarray) -> np.ndarray:
    """Values of a spread at normal variables z, held short of Phi = 1."""
    return spread.quantile(np.minimum(norm.cdf(z), 1 - 1e-16))


def test_weibull_modulus_of_known_distributions() -> None:
    """m = 1 is the exponential, cov 1; m = 2 Rayleigh's, cov^2 = 4/pi - 1; large m: cov m -> pi / sqrt(6)."""
    assert Spread("weibull", 3.0, 1.0).weibull_modulus == pytest.approx(1.0, rel=1e-12)
    rayleigh = Spread("weibull", 3.0, sqrt(4 / pi - 1))
    assert rayleigh.weibull_modulus == pytest.approx(2.0, rel=1e-12)
    assert rayleigh.scale == pytest.approx(3.0 / gamma(1.5), rel=1e-12)
    assert Spread("weibull", 3.0, 1e-4).weibull_modulus * 1e-4 == pytest.approx(pi / sqrt(6), rel=2e-4)
    assert Spread("weibull", 3.0, 0.0).weibull_modulus == inf


@EACH
@examples(25)
@given(mean=numbers(1e-3, 1e9), cov=numbers(0.02, 1.0))
def test_moments_are_those_asked_for(name: str, mean: float, cov: float) -> None:
    """Mean and sd by quadrature of the quantile over the normal variable, u = Phi(z)."""
    spread, value = Spread(name, mean, cov), of_normal(Spread(name, mean, cov), NODES)
    assert WEIGHTS @ value == pytest.approx(spread.mean, rel=1e-6)
    assert sqrt(WEIGHTS @ (value - spread.mean) ** 2) == pytest.approx(spread.sd, rel=1e-4)
    assert spread.sd == pytest.approx(cov * mean)
    u = np.array([0.0, 1e-6, 0.3, 0.999])
    assert spread.cdf(spread.quantile(u)) == pytest.approx(u, rel=1e-9)
    assert spread.quantile(u) == pytest.approx(mean * Spread(name, 1.0, cov).quantile(u), rel=1e-9)


def test_median_of_the_lognormal_and_scale_of_the_weibull() -> None:
    """Median mean / sqrt(1 + cov^2); F(x0) = 1 - 1/e."""
    assert LOGNORMAL.quantile(0.5) == pytest.approx(8e6 / sqrt(1.0625), rel=1e-12)
    assert WEIBULL.cdf(WEIBULL.scale) == pytest.approx(1 - exp(-1), rel=1e-12)


@EACH
def test_samples_follow_the_distribution(name: str) -> None:
    spread = Spread(name, 2.0, 0.3)
    drawn = spread.sample(4000, np.random.default_rng(1))
    assert kstest(drawn, spread.cdf).pvalue > 0.01
    assert abs(drawn.mean() - 2.0) < 4 * 0.6 / sqrt(4000)
    assert (drawn == spread.sample(4000, np.random.default_rng(1))).all()


@EACH
def test_without_spread_all_is_the_mean(name: str) -> None:
    still = Spread(name, 5.0, 0.0)
    assert (still.sample(3, np.random.default_rng(1)) == 5.0).all() and (still.quantile([0.0, 1.0]) == 5.0).all()
    assert still.cdf([4.99, 5.0]).tolist() == [0.0, 1.0] and still.sd == 0
    if name == "weibull":
        assert still.at_volume(7.0, 1.0) == still and still.scale == 5.0


def test_weakest_of_n_is_the_size_effect() -> None:
    """1 - (1 - F)^n exactly; minima of draws follow it (Kolmogorov-Smirnov), and are not the parent's."""
    x = WEIBULL.quantile(np.linspace(0.01, 0.99, 9))
    for n in (1, 2, 7):
        assert WEIBULL.chain(n).cdf(x) == pytest.approx(1 - (1 - WEIBULL.cdf(x)) ** n, rel=1e-10)
        assert WEIBULL.at_volume(3.0 * n, 3.0) == WEIBULL.chain(n)
    assert WEIBULL.chain(8).cov == WEIBULL.cov
    assert WEIBULL.chain(8).scale == pytest.approx(WEIBULL.scale * 8 ** (-1 / WEIBULL.weibull_modulus), rel=1e-12)
    minima = WEIBULL.sample(16000, np.random.default_rng(2)).reshape(2000, 8).min(axis=1)
    assert kstest(minima, WEIBULL.at_volume(8.0, 1.0).cdf).pvalue > 0.01
    assert kstest(minima, WEIBULL.cdf).pvalue < 1e-6


@pytest.mark.parametrize("m", [1, 5, 12])
def test_effective_volumes_in_closed_form(m: int) -> None:
    """Bars in tension V, pure bending V / (2 (m + 1)), three-point bending V / (2 (m + 1)^2) (standard, from memory).

    Gauss points make the sums exact; the compressed half, as large, must not count."""
    at, weight = np.polynomial.legendre.leggauss(12)
    at, weight = (at + 1) / 2, weight / 2
    volume = 3e-4
    assert effective_volume(np.full(12, 2e6), volume * weight, m) == pytest.approx(volume, rel=1e-12)
    both, half = np.concatenate([at, -at, [1.0]]), np.concatenate([weight, weight, [0.0]]) / 2  # the outer fibre too
    assert effective_volume(7e5 * both, volume * half, m) == pytest.approx(volume / (2 * (m + 1)), rel=1e-12)
    along, across = np.append(at, 1.0), np.append(weight, 0.0)
    stress, part = np.outer(both, along), np.outer(half, across)
    found = effective_volume(7e5 * stress.ravel(), volume * part.ravel(), m)
    assert found == pytest.approx(volume / (2 * (m + 1) ** 2), rel=1e-12)
    assert effective_volume([-3.0, 1.0], [1.0, 2.0], m) == 2.0
    assert effective_volume([4.0, 2.0, 1.0], [1.0, 2.0, 4.0], m, 2.0) == pytest.approx(3.0 + 4.0 / 2**m, rel=1e-14)
    assert effective_volume([-1.0, 0.0], [1.0, 1.0], m) == 0.0 == effective_volume([], [], m)


def test_a_body_fails_as_its_effective_volume() -> None:
    """Links in their own stress: prod (1 - F(s_i))^(V_i / V0) is the survival of V_e at the largest stress."""
    rng = np.random.default_rng(3)
    stress, volume = rng.normal(size=40) * 5e5, rng.random(40)
    survival = np.prod((1 - WEIBULL.cdf(np.maximum(stress, 0))) ** (volume / 0.5))
    body = WEIBULL.at_volume(effective_volume(stress, volume, WEIBULL.weibull_modulus), 0.5)
    assert 1e-9 < survival < 1 - 1e-9 and 1 - body.cdf(stress.max()) == pytest.approx(survival, rel=1e-9)


def test_copula_keeps_distributions_and_correlations() -> None:
    """Spearman 6/pi arcsin(R/2), lognormals' Pearson (e^(R a b) - 1) / sqrt((e^(a^2) - 1)(e^(b^2) - 1)), exact both."""
    n = 40000
    spreads = {"t": WEIBULL, "c": Spread("lognormal", 2.0, 0.9), "E": Spread("lognormal", 1.0, 0.6), "k": LOGNORMAL}
    R = {("t", "c"): 0.6, ("E", "c"): -0.7, ("E", "t"): -0.2}
    drawn = correlated_draws(spreads, R, n, np.random.default_rng(4))
    for name, spread in spreads.items():
        assert kstest(drawn[name], spread.cdf).pvalue > 0.01
        assert abs(drawn[name].mean() - spread.mean) < 4 * spread.sd / sqrt(n)
        fourth = (
            float(np.mean((drawn[name] - spread.mean) ** 4)) / spread.sd**4
        )  # sd's error: sd sqrt((fourth - 1) / 4n)
        assert abs(drawn[name].std() - spread.sd) < 4 * spread.sd * sqrt((fourth - 1) / (4 * n))
    for (a, b), rho in {**R, ("t", "k"): 0.0, ("c", "k"): 0.0}.items():
        assert spearmanr(drawn[a], drawn[b]).statistic == pytest.approx(6 / pi * asin(rho / 2), abs=4 / sqrt(n))
    a, b = sqrt(log1p(0.81)), sqrt(log1p(0.36))
    exact = (exp(-0.7 * a * b) - 1) / sqrt(0.81 * 0.36)
    assert exact > -0.55  # far from -0.7
    assert pearsonr(drawn["c"], drawn["E"]).statistic == pytest.approx(exact, abs=0.015)


def test_pearsons_correlation_as_the_docstring_states_it() -> None:
    """Quadrature over both normals for R = 0.5 and -0.5."""
    weibull_1, lognormal_1 = Spread("weibull", 1.0, 1.0), Spread("lognormal", 1.0, 1.0)
    table = [(WEIBULL, Spread("weibull", 1.0, 0.2), 0.5, 0.498), (WEIBULL, Spread("weibull", 1.0, 0.2), -0.5, -0.496)]
    table += [(WEIBULL, LOGNORMAL, 0.5, 0.489), (WEIBULL, LOGNORMAL, -0.5, -0.494)]
    table += [(weibull_1, lognormal_1, 0.5, 0.430), (weibull_1, lognormal_1, -0.5, -0.327)]
    for one, other, R, stated in table:
        a = of_normal(one, NODES) - one.mean
        b = of_normal(other, R * NODES[:, None] + sqrt(1 - R * R) * NODES) - other.mean
        assert (WEIGHTS * a) @ b @ WEIGHTS / (one.sd * other.sd) == pytest.approx(stated, abs=6e-4)


def test_draws_can_be_drawn_again() -> None:
    """Same state, same draws; fewer are the first of more; a quantity held still leaves the others as they are."""
    spreads, R = {"a": WEIBULL, "b": LOGNORMAL, "c": LOGNORMAL}, {("a", "b"): 0.5, ("b", "c"): 0.8}
    all_ = correlated_draws(spreads, R, 50, np.random.default_rng(5))
    few = correlated_draws(spreads, R, 20, np.random.default_rng(5))
    still = correlated_draws({**spreads, "b": replace(LOGNORMAL, cov=0.0)}, R, 50, np.random.default_rng(5))
    for name in spreads:
        assert (few[name] == all_[name][:20]).all()
    assert (still["b"] == 8e6).all() and (still["a"] == all_["a"]).all() and (still["c"] == all_["c"]).all()
    same = correlated_draws({"a": WEIBULL, "b": WEIBULL}, {("a", "b"): 1.0}, 50, np.random.default_rng(5))
    assert same["a"] == pytest.approx(same["b"], rel=1e-6)  # the edge of what is possible
    assert correlated_draws({}, {}, 3, np.random.default_rng(5)) == {}


def test_fit_finds_what_was_drawn_and_published() -> None:
    """Against 4 standard errors of m (0.78 m / sqrt(n), from memory), scipy's own optimiser, and the bearings.

    Bearings: m = 2.10, scale 81.9 (Lawless 1982, from memory)."""
    drawn = WEIBULL.sample(5000, np.random.default_rng(6))
    m, scale = fit_weibull(drawn)
    assert abs(m / WEIBULL.weibull_modulus - 1) < 4 * 0.78 / sqrt(5000)
    assert scale == pytest.approx(WEIBULL.scale, rel=4 * 1.05 / m / sqrt(5000))
    for samples in (drawn / 1e6, [1.0, 1.01, 1.02, 50.0]):
        m, _, scale = weibull_min.fit(samples, floc=0)
        assert fit_weibull(samples) == pytest.approx((m, scale), rel=1e-3)
    m, scale = fit_weibull(BEARINGS)
    assert m == pytest.approx(2.10, abs=0.005) and scale == pytest.approx(81.9, abs=0.05)
    assert fit_weibull(np.array(BEARINGS) * 1e6) == pytest.approx((m, scale * 1e6), rel=1e-10)


PAIRS = {"a": WEIBULL, "b": WEIBULL, "c": WEIBULL}


def test_correlations_that_cannot_all_hold_name_the_worst() -> None:
    """0.8, 0.8, -0.9: least eigenvalue 0.55 - sqrt(0.45^2 + 1.28) by hand; 0.599 times all holds, 0.6 does not."""
    R = {("a", "b"): 0.8, ("b", "c"): 0.8, ("a", "c"): -0.9}
    with pytest.raises(ValueError, match=r"^correlation a, c = -0\.9: does not go with .* times 0\.599 would$"):
        correlated_draws(PAIRS, R, 2, np.random.default_rng(7))
    correlated_draws(PAIRS, {pair: 0.599 * rho for pair, rho in R.items()}, 2, np.random.default_rng(7))
    with pytest.raises(ValueError, match="does not go"):
        correlated_draws(PAIRS, {pair: 0.6 * rho for pair, rho in R.items()}, 2, np.random.default_rng(7))


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda rng: Spread("normal", 1.0, 0.1), "distribution = 'normal': must be one of weibull, lognormal"),
        (lambda rng: Spread("weibull", 0.0, 0.1), "mean = 0: must be positive"),
        (lambda rng: Spread("weibull", 1.0, 1.1), "cov = 1.1: must be 0 or lie between 0.0001 and 1"),
        (lambda rng: WEIBULL.quantile([0.5, 1.1]), "u: must lie between 0 and 1"),
        (lambda rng: LOGNORMAL.at_volume(2.0, 1.0), "at_volume: distribution = 'lognormal'"),
        (lambda rng: LOGNORMAL.scale, "weibull_modulus: distribution = 'lognormal'"),
        (lambda rng: WEIBULL.at_volume(0.0, 1.0), "volume = 0: must be positive"),
        (lambda rng: WEIBULL.chain(0), "n = 0: must be at least 1"),
        (lambda rng: effective_volume([1.0], [1.0, 2.0], 3), "volume.shape"),
        (lambda rng: effective_volume([1.0], [-1.0], 3), "volume = -1: must not be negative"),
        (lambda rng: effective_volume([1.0], [1.0], 0), "m = 0: must be positive"),
        (lambda rng: correlated_draws(PAIRS, {("a", "z"): 0.1}, 2, rng), "correlation of 'z': must be one of a, b, c"),
        (lambda rng: correlated_draws(PAIRS, {("a", "a"): 1.0}, 2, rng), "correlation a, a: must be of two"),
        (lambda rng: correlated_draws(PAIRS, {("a", "b"): 0.1, ("b", "a"): 0.1}, 2, rng), "correlation b, a: must be"),
        (lambda rng: correlated_draws(PAIRS, {("a", "b"): 1.5}, 2, rng), "correlation a, b = 1.5: must lie between"),
        (lambda rng: fit_weibull([1.0, 0.0]), "samples: must be positive"),
        (lambda rng: fit_weibull([1.0, 1.0]), "samples: must hold two different"),
    ],
)
def test_nonsense_is_refused(make, named: str) -> None:
    with pytest.raises(ValueError, match=f"^{named}"):
        make(np.random.default_rng(7))
