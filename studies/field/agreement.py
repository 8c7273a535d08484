"""How far the predictions of a day agree with its pulls, in the log ratio r = ln(measured / median of the draws).

    bias      exp of the mean of r: a censored normal fitted by EM; interval: CONFIDENCE of a bootstrap of placements
    scatter   r_ij = mu + b_j + e_ij: sd of b between placements, of e between replicates; restricted likelihood with
              mu integrated out (Laplace; exact without bounds, then the estimates of a one-way analysis of variance)
    inside    share of measured peaks within the middle 50 and 90 % of the draws
    order     chance that of two pulls of different placements the one said to hold more did (Harrell 1982, from
              memory: a pair counts where the lower load is no bound); Spearman's rank correlation of what is no bound
    modes     how often each was said and seen

What too few rows would tell is None, and words say so.

Limits: replicates of a placement are not independent of each other, so the binomial intervals of `inside`, order and
modes are too narrow where there are many. A bound decides `inside` only by lying above the range: it lowers the share.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special, stats

from ..command.numbers import percent, plural
from ..sweep.statistics import CONFIDENCE, Known, chance
from .censored import log_likelihood
from .pulls import Array, Flags, Measured, bounds, by_placement, logs

RANGES = (0.5, 0.9)
FEWEST, FEWEST_PLACEMENTS, FEWEST_REPLICATES = 4, 3, 3  # rows that are no bounds; placements; spare replicates
NEWTON = 20
LIMITS = ((0.0, 4.0), (-4.0, 1.5))  # between over the scatter of all; log of within over it
RESAMPLES, STEPS, CLOSE = 2000, 1000, 1e-7  # of the bootstrap; of EM, and its last step


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the rows tell; None where they are too few, with the reason in `untold`.

    bias : measured over predicted [-].  scatter, between, within : standard deviations of r, of all and split [-].
    inside : by range.  concordance, spearman, modes_right : [-].  modes : (said, seen) -> rows.
    """

    rows: int
    bounds: int
    placements: int
    bias: Known | None
    scatter: float | None
    between: float | None
    within: float | None
    inside: Mapping[float, Known | None]
    concordance: Known | None
    spearman: float | None
    modes: Mapping[tuple[str, str], int]
    modes_right: Known | None
    untold: tuple[str, ...]


def agreement(rows: Sequence[Measured], seed: int = 1) -> Agreement:
    """What the rows of a day tell of their predictions [-]; the same seed gives the same interval of the bias."""
    untold: list[str] = []
    names = list(by_placement([row.placement for row in rows]))
    at = np.array([names.index(row.placement) for row in rows], dtype=int)
    ratios = logs(rows) - np.log([row.predicted(0.5) for row in rows])
    bound = bounds(rows)
    bias, scatter = _bias(ratios, bound, at, np.random.default_rng(seed), untold)
    between, within = _split(ratios, bound, at, untold)
    seen = Counter((row.mode_predicted, row.mode_seen) for row in rows if row.mode_predicted and row.mode_seen)
    right = sum(count for (said, what), count in seen.items() if said == what)
    if not seen:
        untold.append("modes: no row has one said and one seen")
    return Agreement(
        rows=len(rows),
        bounds=int(bound.sum()),
        placements=len(names),
        bias=bias,
        scatter=scatter,
        between=between,
        within=within,
        inside={share: _inside(rows, share, untold) for share in RANGES},
        concordance=_concordance(rows, at, np.random.default_rng(seed), untold),
        spearman=_spearman(rows),
        modes=dict(seen),
        modes_right=chance(right, sum(seen.values())) if seen else None,
        untold=tuple(untold),
    )


def censored_normal(values: Array, bound: Flags, counts: Array) -> tuple[Array, Array]:
    """Mean and standard deviation (B,), in the unit of values, of normals fitted by EM.

    values (n,); bound (n,) : which are at least that; counts (B, n) : how often each row counts in each fit [-].
    Fits without two different values that are no bounds give NaN.
    """
    total = counts.sum(1)
    free = counts * ~bound
    most, least = (np.where(free > 0, sign * values, -np.inf).max(1) for sign in (1, -1))
    known = most + least > 0
    mean = counts @ values / total
    sd = np.where(known, np.sqrt(np.maximum(counts @ values**2 / total - mean**2, 1e-12)), np.nan)
    for _ in range(STEPS if bound.any() else 1):
        z = (values - mean[:, None]) / sd[:, None]
        drawn = sd[:, None] * np.exp(-0.5 * z**2 - special.log_ndtr(-z)) / np.sqrt(2 * np.pi)
        first = np.where(bound, mean[:, None] + drawn, values)
        square = mean[:, None] ** 2 + sd[:, None] ** 2 + drawn * (values + mean[:, None])
        second = np.where(bound, square, values**2)
        new = (counts * first).sum(1) / total
        new_sd = np.sqrt(np.maximum((counts * second).sum(1) / total - new**2, 1e-12))
        change = np.nanmax(np.abs(new - mean) + np.abs(new_sd - sd)) if known.any() else 0.0
        mean, sd = new, new_sd
        if change < CLOSE:
            break
    return np.where(known, mean, np.nan), np.where(known, sd, np.nan)


def split_scatter(values: Array, bound: Flags, at: Array) -> tuple[float, float]:
    """Standard deviations between placements and within them, in the unit of values: restricted likelihood.

    values (n,); bound (n,) : which are at least that; at (n,) : number of the placement of each.
    """
    groups = [np.flatnonzero(at == group) for group in np.unique(at)]
    whole = max(float(np.std(values)), 1e-6)
    start = float(values.mean())

    def log_of(mean: Array, between: float, within: float) -> Array:
        shared = np.full(mean.shape, between)
        parts = [(values[own] - mean[:, None], np.full((mean.size, own.size), within), bound[own]) for own in groups]
        return np.sum([log_likelihood(misses, sd, shared, flags) for misses, sd, flags in parts], axis=0)

    def loss(of: Array) -> float:
        between, within = float(of[0]) * whole, float(np.exp(of[1])) * whole
        step = 0.1 * np.hypot(between, within) / np.sqrt(len(groups))
        mean, curvature = start, 1.0
        for _ in range(NEWTON):
            low, middle, high = log_of(mean + step * np.array([-1.0, 0.0, 1.0]), between, within)
            curvature = (2 * middle - low - high) / step**2
            if curvature <= 0:
                return np.inf
            move = (high - low) / (2 * step) / curvature
            mean += float(np.clip(move, -5 * whole, 5 * whole))
            if abs(move) < 1e-6 * whole:
                break
        return float(0.5 * np.log(curvature) - log_of(np.array([mean]), between, within)[0])

    options = {"xatol": 1e-4, "fatol": 1e-7}
    best = optimize.minimize(loss, (0.7, -0.4), method="Nelder-Mead", bounds=LIMITS, options=options).x
    return float(best[0] * whole), float(np.exp(best[1]) * whole)


def _bias(
    ratios: Array, bound: Flags, at: Array, rng: np.random.Generator, untold: list[str]
) -> tuple[Known | None, float | None]:
    """The factor with its interval, and the scatter of all."""
    free, placements = ~bound, int(at.max(initial=-1)) + 1
    if free.sum() < FEWEST or np.ptp(ratios[free]) == 0 or placements < FEWEST_PLACEMENTS:
        has = f"{plural(int(free.sum()), 'measured peak')} of {plural(placements, 'placement')}"
        untold.append(f"bias and scatter: {has}: needs {FEWEST} that differ, of {FEWEST_PLACEMENTS}")
        return None, None
    mean, sd = censored_normal(ratios, bound, np.ones((1, ratios.size)))
    times = rng.multinomial(placements, np.full(placements, 1 / placements), RESAMPLES)
    drawn, _ = censored_normal(ratios, bound, times[:, at].astype(float))
    low, high = np.nanquantile(drawn, _ends())
    return Known(*(float(np.exp(each)) for each in (mean[0], low, high))), float(sd[0])


def _ends() -> tuple[float, float]:
    return 0.5 - 0.5 * CONFIDENCE, 0.5 + 0.5 * CONFIDENCE


def _split(ratios: Array, bound: Flags, at: Array, untold: list[str]) -> tuple[float | None, float | None]:
    free = [int((~bound)[at == group].sum()) for group in np.unique(at)]
    placements, spare = sum(count > 0 for count in free), sum(max(count - 1, 0) for count in free)
    if placements < FEWEST_PLACEMENTS or spare < FEWEST_REPLICATES:
        has = f"{plural(placements, 'placement')} with {plural(spare, 'replicate')}"
        untold.append(f"split of the scatter: {has}: needs {FEWEST_PLACEMENTS} with {FEWEST_REPLICATES}")
        return None, None
    return split_scatter(ratios, bound, at)


def _inside(rows: Sequence[Measured], share: float, untold: list[str]) -> Known | None:
    hits = decided = 0
    for row in rows:
        low, high = (row.predicted(0.5 + 0.5 * side * share) for side in (-1, 1))
        if not row.is_bound or row.load_kN > high:
            decided += 1
            hits += not row.is_bound and low <= row.load_kN <= high
    if decided < FEWEST:
        untold.append(f"inside the middle {percent(share, 0)}: {plural(decided, 'row')} that decide: needs {FEWEST}")
        return None
    return chance(hits, decided)


def _concordance(rows: Sequence[Measured], at: Array, rng: np.random.Generator, untold: list[str]) -> Known | None:
    """Harrell's share of pairs in order; its interval by a bootstrap of placements."""
    said, seen, bound = np.array([row.predicted(0.5) for row in rows]), logs(rows), bounds(rows)
    counts = (seen[:, None] < seen) & ~bound[:, None] & (at[:, None] != at)
    right = np.where(counts, (said[:, None] < said) + 0.5 * (said[:, None] == said), 0.0)
    of = (at[:, None] == np.arange(at.max(initial=-1) + 1)).astype(float)
    pairs, hits = of.T @ counts @ of, of.T @ right @ of
    if len(pairs) < FEWEST_PLACEMENTS or pairs.sum() < FEWEST:
        untold.append(f"order: {plural(int(pairs.sum()), 'pair')} that decide: needs {FEWEST}")
        return None
    times = rng.multinomial(len(pairs), np.full(len(pairs), 1 / len(pairs)), RESAMPLES)
    asked = np.einsum("bi,ij,bj->b", times, pairs, times)
    drawn = np.einsum("bi,ij,bj->b", times, hits, times)[asked > 0] / asked[asked > 0]
    return Known(float(hits.sum() / pairs.sum()), *(float(each) for each in np.quantile(drawn, _ends())))


def _spearman(rows: Sequence[Measured]) -> float | None:
    both = np.array([(row.predicted(0.5), row.load_kN) for row in rows if not row.is_bound])
    if len(both) < FEWEST or np.any(np.ptp(both, axis=0) == 0):
        return None
    return float(stats.spearmanr(both[:, 0], both[:, 1]).statistic)
