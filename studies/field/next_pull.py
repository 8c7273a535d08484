"""Which placement to pull next: the one whose pull is expected to narrow most what a fit leaves open.

    gain = E[ln p(y | u) - ln p(y)] over u, scatter and y of the fit           expected information of a pull [nats]
    p(y | u) = sum_s P(s) N(y; f(u), error^2 + e(u)^2 + scatter_s^2)           P(s): levels of scatter after the fit
    shrink_i = E[width after the pull / width before] of the middle nine tenths of input i               [-]

The outer mean runs over DRAWS invented pulls, seeded, the inner sums over the grid of the fit are exact; `sd` is the
standard error of the outer mean. All candidates see the same draws of u, scatter and noise (common random numbers).

Limits: a candidate that was pulled before counts as a new placement, as far as the emulator's error goes; the pull is
taken to be measured, not to end as a bound.  Logs of loads in kN.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .emulator import Emulator
from .fit import Fit, Grid
from .pulls import Array

DRAWS, AT_ONCE = 500, 2_000_000  # numbers that are held at once
TAILS = (0.05, 0.95)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A placement that could be pulled next. gain, sd : information and its standard error [nats].

    shrink : by key, width of the middle nine tenths after the pull over before, on average [-].
    """

    placement: str
    gain: float
    sd: float
    shrink: dict[str, float]


def next_pulls(
    fit: Fit,
    placements: Sequence[str],
    emulator: Emulator,
    error: float = 0.0,
    draws: int = DRAWS,
    seed: int = 1,
) -> tuple[Candidate, ...]:
    """Candidates with what a pull of each is expected to tell, the one that tells most first.

    emulator : its rows are the placements.  error : standard deviation of the measurement of a log [-].
    Raises ValueError, one line, where they do not match, or draws are too few.
    """
    if emulator.log_peaks.shape[1] != len(placements) or emulator.points.shape[1] != len(fit.inputs):
        raise ValueError(f"emulator: must be of {len(placements)} placements and {len(fit.inputs)} keys")
    if draws < 2:
        raise ValueError(f"draws = {draws}: must be 2 or more")
    peaks, errors = emulator.at(fit.grid.shares)
    spread = np.sqrt(errors**2 + fit.model_error**2 + error**2)
    found = []
    for number, placement in enumerate(placements):
        rng = np.random.default_rng(seed)
        told, shrink = gain_of(fit.grid, fit.weights, fit.scatters, peaks[:, number], spread[:, number], draws, rng)
        keys = (each.key for each in fit.inputs)
        mean, sd = float(told.mean()), float(told.std(ddof=1) / np.sqrt(draws))
        found.append(Candidate(placement, mean, sd, dict(zip(keys, map(float, shrink.mean(0)), strict=True))))
    return tuple(sorted(found, key=lambda each: -each.gain))


def gain_of(
    grid: Grid, weights: Array, scatters: Array, peaks: Array, spread: Array, draws: int, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Information (draws,) [nats] and shrink (draws, k) [-] of invented pulls of one placement.

    weights (S, G) : the posterior; scatters (S,); peaks, spread (G,) : log peak at each cell and its standard
    deviation without scatter [-].
    """
    ends = np.cumsum(weights.ravel())
    drawn = np.minimum(np.searchsorted(ends, ends[-1] * rng.random(draws)), ends.size - 1)
    level, cell = np.divmod(drawn, weights.shape[1])
    y = peaks[cell] + np.hypot(spread[cell], scatters[level]) * rng.standard_normal(draws)
    over = weights.sum(0)
    levels = np.divide(weights, over, out=np.zeros_like(weights), where=over > 0)
    before = _width(grid, over[None])[0]
    told, shrink = np.empty(draws), np.empty((draws, len(grid.low)))
    step = max(AT_ONCE // weights.size, 1)
    for first in range(0, draws, step):
        some = slice(first, min(first + step, draws))
        density = _density(y[some], peaks, spread, scatters, levels)
        whole = density @ over
        own = density[np.arange(len(whole)), cell[some]]
        told[some] = np.log(own) - np.log(whole)
        shrink[some] = _width(grid, density * over) / before
    return told, shrink


def _density(y: Array, peaks: Array, spread: Array, scatters: Array, levels: Array) -> Array:
    """p(y | u) of each draw and cell."""
    found = np.zeros((len(y), len(peaks)))
    for scatter, chance in zip(scatters, levels, strict=True):
        sd = np.hypot(spread, scatter)
        found += chance / (np.sqrt(2 * np.pi) * sd) * np.exp(-0.5 * ((y[:, None] - peaks) / sd) ** 2)
    return found


def _width(grid: Grid, weights: Array) -> Array:
    low, high = (grid.percentiles(weights, share) for share in TAILS)
    return high - low
