"""Which values of one to three inputs a day of pulls allows: Bayes on a grid of the cube of their priors.

    y_r = f_r(u) + t_p + e_r       log peak of row r at placement p; f from the emulator at shares u of the priors
    t_p ~ N(0, emulator's error(u)^2 + model_error^2)      the same for all pulls of a placement
    e_r ~ N(0, error_r^2 + scatter^2)                      of a bound, y_r is at least that (`censored`)
    prior : even in u; scatter lognormal about SCATTER, its log with sd SPREAD, on SCATTERS levels (assumed)

The grid runs over the whole cube first, then over the box that holds what the table allows, with or without any one
row. On it all is exact: percentiles, evidence, correlation, and each row predicted by the others (leave one out), its
log score against the prior's.  Logs of loads in kN and shares: without unit [-]; values: in the unit of the key.

model_error : scatter between placements that the inputs do not explain; 0 trusts the model, and then the values come
out too sure. Limits: priors independent; inputs that are not fitted stand at their values, and what is wrong with them
goes into those that are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import logsumexp
from scipy.stats import norm

from ..sweep.statistics import SHARES
from .censored import log_likelihood
from .emulator import Emulator
from .priors import Prior
from .pulls import Array, Measured, bounds, by_placement, logs
from .repeats import SCATTER

SPREAD, SCATTERS = 0.5, 7
CELLS = {1: 200, 2: 48, 3: 24}  # along each side of the grid
LEAST = 1e-4  # chance in a slice of the grid below which the box leaves it out
DRAWS = 4000  # of a predicted load


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of a box in the cube. low, high (k,) : its ends [-].  cells : along each side."""

    low: Array
    high: Array
    cells: int

    @property
    def sides(self) -> Array:
        """Middles of the cells along each side (k, cells) [-]."""
        middles = (np.arange(self.cells) + 0.5) / self.cells
        return np.asarray(self.low[:, None] + (self.high - self.low)[:, None] * middles)

    @property
    def shares(self) -> Array:
        """Middles of all cells (cells^k, k) [-], the last input fastest."""
        return np.stack(np.meshgrid(*self.sides, indexing="ij"), -1).reshape(-1, len(self.low))

    def margins(self, weights: Array) -> list[Array]:
        """Sums of weights (..., cells^k) over all inputs but one (..., cells), for each."""
        k = len(self.low)
        box = weights.reshape(*weights.shape[:-1], *(self.cells,) * k)
        return [box.sum(tuple(axis - k for axis in range(k) if axis != own)) for own in range(k)]

    def percentiles(self, weights: Array, share: float) -> Array:
        """Shares of the priors (..., k) [-] below which a share of the weights (..., cells^k) lies."""
        found = []
        for own, margin in enumerate(self.margins(weights)):
            below = np.cumsum(margin, -1) / margin.sum(-1, keepdims=True)
            cell = np.minimum((below < share).sum(-1), self.cells - 1)
            top = np.take_along_axis(below, cell[..., None], -1)[..., 0]
            inside = np.take_along_axis(margin / margin.sum(-1, keepdims=True), cell[..., None], -1)[..., 0]
            at = (cell + 1 - (top - share) / np.maximum(inside, 1e-300)) / self.cells
            found.append(self.low[own] + (self.high[own] - self.low[own]) * at)
        return np.stack(found, -1)


@dataclass(frozen=True, slots=True)
class Input:
    """A fitted key. before, after : values at SHARES, in the unit of the key.  width : of the middle nine tenths, in
    shares of the prior, over that before [-].  margin : chance in each cell along the grid's side [-]."""

    key: str
    before: tuple[float, ...]
    after: tuple[float, ...]
    width: float
    margin: Array


@dataclass(frozen=True, slots=True)
class Told:
    """A row with its predicted load at SHARES [kN]: by the prior, by all rows, by the others alone.

    score, score_before : log density of what was measured, by the others and by the prior [-].
    """

    row: Measured
    before: tuple[float, ...]
    after: tuple[float, ...]
    left_out: tuple[float, ...]
    score: float
    score_before: float


@dataclass(frozen=True, slots=True)
class Fit:
    """What the table allows. grid, weights (SCATTERS, cells^k) : the posterior, of sum 1.  scatter : at SHARES [-].

    log_evidence : of the table under prior and model [-].  correlation (k, k) : of the values, after [-].
    emulator_error (rows,) : root mean square of what leaving a point out misses [-].
    """

    priors: tuple[Prior, ...]
    grid: Grid
    weights: Array
    scatters: Array
    scatter: tuple[float, ...]
    inputs: tuple[Input, ...]
    correlation: Array
    rows: tuple[Told, ...]
    log_evidence: float
    emulator_error: Array
    model_error: float

    @property
    def gain(self) -> float:
        """What the fit adds to the log score of a row that it has not seen, on average [-]; below 0 it harms."""
        return float(np.mean([told.score - told.score_before for told in self.rows]))


def scatter_levels() -> Array:
    """Standard deviations of replicates (SCATTERS,), equally likely before [-]."""
    return np.asarray(SCATTER * np.exp(SPREAD * norm.ppf((np.arange(SCATTERS) + 0.5) / SCATTERS)))


def fit_rows(
    rows: Sequence[Measured],
    emulator: Emulator,
    priors: Sequence[Prior],
    model_error: float = 0.0,
    cells: int | None = None,
    seed: int = 1,
) -> Fit:
    """Fit the priors' keys to the rows of a day.

    emulator : its rows are these rows.  model_error : see above [-].  cells : along each side of the grid.
    Raises ValueError, one line, where rows, emulator and priors do not match, or all rows are bounds.
    """
    k = len(priors)
    if emulator.log_peaks.shape[1] != len(rows) or emulator.points.shape[1] != k:
        raise ValueError(f"emulator: must be of {len(rows)} rows and {k} keys")
    if k not in CELLS:
        raise ValueError(f"keys = {k}: must be 1 to {max(CELLS)}")
    if all(row.is_bound for row in rows):
        raise ValueError("rows: must hold one measured peak or more: all are bounds")
    if not model_error >= 0:
        raise ValueError(f"model_error = {model_error:g}: must be 0 or more")
    whole = Grid(np.zeros(k), np.ones(k), cells or CELLS[k])
    first = _Likelihood.of(rows, emulator, whole, model_error)
    grid = _box(whole, first)
    return _told(rows, first, _Likelihood.of(rows, emulator, grid, model_error), priors, emulator, seed)


@dataclass(frozen=True, slots=True)
class _Likelihood:
    """Logs of the likelihood on a grid: of all rows (S, G), without each (rows, S, G), of each alone (rows, S, G)."""

    grid: Grid
    scatters: Array
    peaks: Array
    spread: Array
    whole: Array
    without: Array
    alone: Array
    model_error: float

    @classmethod
    def of(cls, rows: Sequence[Measured], emulator: Emulator, grid: Grid, model_error: float) -> _Likelihood:
        peaks, errors = emulator.at(grid.shares)
        spread, scatters = np.hypot(errors, model_error), scatter_levels()
        misses, flags = logs(rows) - peaks, bounds(rows)
        own = np.hypot([row.error for row in rows], scatters[:, None])
        shape = (len(scatters), len(peaks))
        blocks: Array = np.zeros(shape)
        without, alone = np.empty((2, len(rows), *shape))

        def log_of(some: Sequence[int], level: int, shared: Array) -> Array:
            some = list(some)
            sd = np.broadcast_to(own[level, some], (len(peaks), len(some)))
            return log_likelihood(misses[:, some], sd, shared, flags[some])

        for numbers in by_placement([row.placement for row in rows]).values():
            shared = spread[:, numbers].mean(1)
            for level in range(len(scatters)):
                block = log_of(numbers, level, shared)
                blocks[level] += block
                for row in numbers:
                    rest = [other for other in numbers if other != row]
                    without[row, level] = (log_of(rest, level, shared) if rest else 0.0) - block
                    alone[row, level] = log_of([row], level, spread[:, row]) if rest else block
        return cls(grid, scatters, peaks, spread, blocks, without + blocks, alone, model_error)


def _normed(log: Array) -> Array:
    """Weights of sum 1 over the last two axes."""
    return np.exp(log - logsumexp(log, axis=(-2, -1), keepdims=True))


def _box(grid: Grid, found: _Likelihood) -> Grid:
    """The box that holds what all rows allow, or all but one."""
    some = np.concatenate([found.whole[None], found.without])
    low, high = grid.low.copy(), grid.high.copy()
    for own, margin in enumerate(grid.margins(_normed(some).sum(1))):
        inside = np.flatnonzero((margin > LEAST).any(0))
        low[own], high[own] = max(inside[0] - 1, 0) / grid.cells, min(inside[-1] + 2, grid.cells) / grid.cells
    return replace(grid, low=low, high=high)


def _told(
    rows: Sequence[Measured],
    before: _Likelihood,
    after: _Likelihood,
    priors: Sequence[Prior],
    emulator: Emulator,
    seed: int,
) -> Fit:
    grid, weights, rng = after.grid, _normed(after.whole), np.random.default_rng(seed)
    over = weights.sum(0)
    shares = np.array([grid.percentiles(over, share) for share in SHARES])
    margins = grid.margins(over)
    inputs = tuple(
        Input(
            prior.key,
            tuple(map(float, prior.at(np.array(SHARES)))),
            tuple(map(float, prior.at(shares[:, own]))),
            float((shares[-1, own] - shares[0, own]) / (SHARES[-1] - SHARES[0])),
            margins[own],
        )
        for own, prior in enumerate(priors)
    )
    values = np.stack([prior.at(grid.shares[:, own]) for own, prior in enumerate(priors)])
    even = np.full_like(before.whole, 1 / before.whole.size)
    told = []
    for number, row in enumerate(rows):
        told.append(
            Told(
                row,
                _predicted(before, even, number, row, rng),
                _predicted(after, weights, number, row, rng),
                _predicted(after, _normed(after.without[number]), number, row, rng),
                float(logsumexp(after.whole) - logsumexp(after.without[number])),
                float(logsumexp(before.alone[number]) - np.log(even.size)),
            )
        )
    volume = float(np.log(grid.high - grid.low).sum())
    levels = np.cumsum(weights.sum(1))
    return Fit(
        priors=tuple(priors),
        grid=grid,
        weights=weights,
        scatters=after.scatters,
        scatter=tuple(float(after.scatters[min(int((levels < share).sum()), SCATTERS - 1)]) for share in SHARES),
        inputs=inputs,
        correlation=np.atleast_2d(_correlation(values, over)),
        rows=tuple(told),
        log_evidence=float(logsumexp(after.whole) - np.log(weights.size) + volume),
        emulator_error=np.sqrt(np.nanmean(emulator.left_out() ** 2, axis=0)),
        model_error=after.model_error,
    )


def _correlation(values: Array, weights: Array) -> Array:
    away = values - (values @ weights)[:, None]
    covariance = (away * weights) @ away.T
    sd = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    return np.asarray(covariance / np.outer(sd, sd))


def _predicted(
    on: _Likelihood, weights: Array, number: int, row: Measured, rng: np.random.Generator
) -> tuple[float, ...]:
    """Load of another such pull [kN] at SHARES, in draws from the weights (S, G)."""
    ends = np.cumsum(weights.ravel())
    level, cell = np.divmod(
        np.minimum(np.searchsorted(ends, ends[-1] * rng.random(DRAWS)), ends.size - 1), weights.shape[1]
    )
    sd = np.sqrt(on.spread[cell, number] ** 2 + on.scatters[level] ** 2 + row.error**2)
    drawn = on.peaks[cell, number] + sd * rng.standard_normal(DRAWS)
    return tuple(float(np.exp(each)) for each in np.quantile(drawn, SHARES))
