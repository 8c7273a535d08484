"""A fit to a day of pulls: closed forms, a second route, coverage, and each row by the others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.special import logsumexp
from syntheticpulls import PRIORS, emulator, log_peaks, pulls

from icecone.studies.field.emulator import FLOOR, Emulator
from icecone.studies.field.fit import SPREAD, Fit, Grid, fit_rows, scatter_levels
from icecone.studies.field.fit_cases import design
from icecone.studies.field.priors import Prior
from icecone.studies.field.pulls import Array, Measured
from icecone.studies.field.repeats import SCATTER
from icecone.studies.sweep.statistics import SHARES
from icecone.studies.words.fit import fit_words

EVEN = Prior("assumed.crushing_share", np.array([0.0, 1.0]), np.array([0.0, 1.0]))


def row(name: str, placement: str, log: float, bound: bool = False, error: float = 0.05) -> Measured:
    return Measured(name, placement, float(np.exp(log)), bound, error, np.ones(1), 1.0, "", "", "invented")


def line(rows: int, slope: float = 1.0) -> Emulator:
    """Log peaks that rise straight with one input."""
    points = design(1, 16)
    return Emulator(points, np.repeat(slope * points, rows, axis=1))


def test_one_straight_input_is_fitted_as_the_closed_form() -> None:
    """Even prior on 0..1, four pulls of two placements: of each level of scatter a normal cut off at the ends."""
    ys = np.array([0.52, 0.61, 0.40, 0.47])
    rows = [row(str(k), "ab"[k // 2], y) for k, y in enumerate(ys)]
    fit = fit_rows(rows, line(4), (EVEN,))
    shared = FLOOR**2 * np.kron(np.eye(2), np.ones((2, 2)))
    normals, logs = [], []
    for scatter in scatter_levels():
        cov = shared + (0.05**2 + scatter**2) * np.eye(4)
        inverse = np.linalg.inv(cov)
        precision = inverse.sum()
        normals.append(stats.norm(inverse.sum(0) @ ys / precision, precision**-0.5))
        at = 0.5
        inside = normals[-1].cdf(1) - normals[-1].cdf(0)
        logs.append(stats.multivariate_normal(np.full(4, at), cov).logpdf(ys) - normals[-1].logpdf(at) + np.log(inside))
    weights = np.exp(logs - logsumexp(logs))
    assert fit.log_evidence == pytest.approx(logsumexp(logs) - np.log(len(logs)), abs=2e-3)
    for share, value in zip(SHARES, fit.inputs[0].after, strict=True):
        below = sum(
            weight * (normal.cdf(value) - normal.cdf(0)) / (normal.cdf(1) - normal.cdf(0))
            for weight, normal in zip(weights, normals, strict=True)
        )
        assert below == pytest.approx(share, abs=3e-3)
    assert fit.weights.sum(1) == pytest.approx(weights, abs=2e-3)


def test_a_bound_cuts_the_input_from_below_and_no_more() -> None:
    """One measured pull at the middle and one that is at least 0.8: the value rises; at least 0.1: it stays."""
    base = fit_rows([row("a", "a", 0.5)], line(1), (EVEN,)).inputs[0].after[2]
    low, high = (
        fit_rows([row("a", "a", 0.5), row("b", "b", end, True)], line(2), (EVEN,)).inputs[0].after[2]
        for end in (-0.5, 0.8)
    )
    assert low == pytest.approx(base, abs=2e-3) and high > base + 0.08
    measured = fit_rows([row("a", "a", 0.5), row("b", "b", 0.8)], line(2), (EVEN,)).inputs[0].after[-1]
    none_above = fit_rows([row("a", "a", 0.5), row("b", "b", 0.8, True)], line(2), (EVEN,)).inputs[0].after[-1]
    assert none_above > measured


def test_the_score_of_a_row_is_what_the_evidence_gains_by_it() -> None:
    """Exact: p(y_r | others) = evidence of all over evidence without it, for peaks, bounds and replicates."""
    rows = pulls(np.array([0.6, 0.3]), np.random.default_rng(4), 0.15, limit=0.3)
    assert any(each.is_bound for each in rows)
    whole = emulator()
    fit = fit_rows(rows, whole, PRIORS)
    for number in (0, 3, 8, next(k for k, each in enumerate(rows) if each.is_bound)):
        rest = [k for k in range(len(rows)) if k != number]
        without = fit_rows([rows[k] for k in rest], Emulator(whole.points, whole.log_peaks[:, rest]), PRIORS)
        assert fit.rows[number].score == pytest.approx(fit.log_evidence - without.log_evidence, abs=0.01)
        alone = (
            fit_rows([rows[number]], Emulator(whole.points, whole.log_peaks[:, [number]]), PRIORS)
            if not (rows[number].is_bound)
            else None
        )
        if alone:
            assert fit.rows[number].score_before == pytest.approx(alone.log_evidence, abs=0.01)


def metropolis(rows: list[Measured], steps: int, rng: np.random.Generator) -> Array:
    """Draws (steps, 3) of both shares and the log of the scatter: a plain random walk on the true log peaks."""
    ys, flags = np.log([each.load_kN for each in rows]), np.array([each.is_bound for each in rows])
    at = np.array([int(each.placement) for each in rows])

    def log_of(state: Array) -> float:
        if not np.all((state[:2] > 0) & (state[:2] < 1)):
            return -np.inf
        sd = np.hypot(np.exp(state[2]), [each.error for each in rows])
        z = (ys - log_peaks(state[None, :2])[0, at]) / sd
        parts = np.where(flags, stats.norm.logsf(z), stats.norm.logpdf(z) - np.log(sd))
        return float(parts.sum() + stats.norm.logpdf(state[2], np.log(SCATTER), SPREAD))

    state = np.array([0.5, 0.5, np.log(SCATTER)])
    here, found = log_of(state), np.empty((steps, 3))
    for step in range(steps):
        tried = state + rng.normal(0, (0.15, 0.12, 0.3))
        there = log_of(tried)
        if np.log(rng.random()) < there - here:
            state, here = tried, there
        found[step] = state
    return found[steps // 10 :]


@pytest.mark.slow
def test_the_grid_and_a_random_walk_agree() -> None:
    """The walk knows no grid, no emulator and no levels of scatter: shares within 0.03, a quarter of the spread."""
    rows = pulls(np.array([0.7, 0.35]), np.random.default_rng(6), 0.12)
    fit = fit_rows(rows, emulator(), PRIORS)
    walk = metropolis(rows, 12000, np.random.default_rng(1))
    for share in SHARES:
        grid = fit.grid.percentiles(fit.weights.sum(0), share)
        assert grid == pytest.approx(np.quantile(walk[:, :2], share, axis=0), abs=0.03)
    assert fit.scatter[2] == pytest.approx(np.exp(np.median(walk[:, 2])), rel=0.2)


@pytest.mark.slow
def test_over_a_hundred_days_nine_tenths_hold_the_truth() -> None:
    """Twelve pulls a day, a fifth of them bounds; truth and scatter drawn from their priors."""
    rng = np.random.default_rng(2024)
    emulated = emulator()
    held, bounds = np.zeros(2), 0
    for _ in range(100):
        truth, scatter = rng.random(2), SCATTER * np.exp(SPREAD * rng.standard_normal())
        rows = pulls(truth, rng, scatter)
        bounds += sum(each.is_bound for each in rows)
        fit = fit_rows(rows, emulated, PRIORS, cells=24)
        low, high = (fit.grid.percentiles(fit.weights.sum(0), share) for share in (SHARES[0], SHARES[-1]))
        held += (low <= truth) & (truth <= high)
    assert 150 < bounds < 300
    assert np.all((held >= 85) & (held <= 95)), held


def test_pulls_tell_more_than_none_and_predict_each_other() -> None:
    """Mean over ten days: rows left out are predicted better than before; ranges of the rows narrow."""
    rng = np.random.default_rng(3)
    fits = [fit_rows(pulls(rng.random(2), rng, 0.12), emulator(), PRIORS, cells=24) for _ in range(10)]
    assert np.mean([fit.gain for fit in fits]) > 0.2
    assert all(each.width < 0.95 for fit in fits for each in fit.inputs)
    spans = [(told.before[-1] / told.before[0], told.after[-1] / told.after[0]) for fit in fits for told in fit.rows]
    assert np.mean([after < before for before, after in spans]) > 0.95


def test_an_error_of_the_model_widens_what_replicates_would_narrow() -> None:
    """Twenty replicates of one placement tell the mean; scatter between placements stays."""
    rng = np.random.default_rng(1)
    rows = [row(str(k), "a", 0.5 + 0.1 * rng.standard_normal()) for k in range(20)]
    sure, unsure = (fit_rows(rows, line(20), (EVEN,), model_error=error).inputs[0].width for error in (0.0, 0.2))
    assert sure < 0.15 and unsure > 2 * sure


def test_what_the_table_cannot_tell_is_said() -> None:
    """An input that moves nothing, and two of which only the sum counts."""
    at = design(2, 64)
    rows = [row(str(k), str(k), 1.0 + 0.02 * (-1) ** k, error=0.02) for k in range(6)]
    nothing = Emulator(at, np.repeat(2 * at[:, :1], 6, axis=1))
    fit = fit_rows(rows, nothing, PRIORS)
    told = " ".join(fit_words(fit))
    assert "Pressure of crushing over limit analysis: the table says nothing of it" in told
    assert "Fracture toughness K_IC of the ice: the table says nothing" not in told
    together = fit_rows(rows, Emulator(at, np.repeat(at.sum(1, keepdims=True), 6, axis=1)), (EVEN, EVEN))
    assert together.correlation[0, 1] < -0.9
    assert "cannot be told apart (correlation -0.9" in " ".join(fit_words(together))


def test_the_words_say_where_the_peak_jumps_and_that_the_model_is_trusted() -> None:
    at = design(1, 64)
    jump = np.where(at > 0.5, 1.0, 0.0)
    fit: Fit = fit_rows([row("far", "a", 0.0), row("by", "b", 0.0)], Emulator(at, np.hstack([at, 2 * jump])), (EVEN,))
    told = " ".join(fit_words(fit))
    assert "jumps at 1 row (by)" in told and "The model is trusted" in told
    assert "The model is trusted" not in " ".join(fit_words(replace(fit, model_error=0.1)))


def test_percentiles_of_a_grid_are_those_of_its_cells() -> None:
    """Even weights: the percentile is the share; all in one cell: it lies in that cell."""
    grid = Grid(np.array([0.2, 0.0]), np.array([0.8, 1.0]), 10)
    assert grid.percentiles(np.full(100, 0.01), 0.25) == pytest.approx([0.35, 0.25])
    single = np.zeros(100)
    single[37] = 1.0  # cell 3 of the first, 7 of the second
    assert grid.percentiles(single, 0.5) == pytest.approx([0.2 + 0.6 * 0.35, 0.75])
    assert grid.shares[37] == pytest.approx([0.2 + 0.6 * 0.35, 0.75])


def test_what_does_not_match_is_refused() -> None:
    rows = [row("a", "a", 0.5), row("b", "b", 0.6)]
    for wrong, told in (
        (lambda: fit_rows(rows, line(3), (EVEN,)), "must be of 2 rows and 1 keys"),
        (lambda: fit_rows([replace(each, is_bound=True) for each in rows], line(2), (EVEN,)), "all are bounds"),
        (lambda: fit_rows(rows, line(2), (EVEN,), model_error=-0.1), "model_error = -0.1"),
        (lambda: Prior("a", np.array([0.0, 1.0]), np.array([1.0, 0.0])), "values: must not fall"),
        (lambda: Prior("a", np.array([1.0, 0.0]), np.array([0.0, 1.0])), "shares: must rise"),
    ):
        with pytest.raises(ValueError, match=told):
            wrong()
