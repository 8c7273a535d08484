"""What many draws say: percentiles and chances with what is known of them, and which input drives the result.

    percentile p        of n values, between order statistics that hold it with CONFIDENCE            (binomial; scipy)
    chance              k of n, Wilson's interval of CONFIDENCE                                                  (scipy)
    order  rho_i        Spearman's rank correlation of an input with the result: which way, how surely            [-]
    share  S_i          Var(E[y | x_i]) / Var(y), of an input alone, whatever the shape                            [-]
                        = (1/n sum y_(j) y_(j+1) - mean^2) / Var(y), y ordered by x_i, the last followed by the first

S_i: the first Sobol index from any sample (F. Gamboa, P. Gremaud, T. Klein & A. Lagnoux 2022, Bernoulli 28, from
memory). Inputs may depend on each other: then shares overlap and may add up to more than 1.

Limits: S_i is uncertain by about 1 / sqrt(n), so a share below twice that is none; equal values of an input stand in
the order of the draws; none of these knows what was not drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]
CONFIDENCE, NOISE = 0.9, 2.0  # NOISE over sqrt(n): shares below are none
SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)  # percentiles that are told
SHOWN = ("limit", "peak", "early")  # loads whose spread is told
FEWEST = 20  # draws, from which on inputs are told apart


@dataclass(frozen=True, slots=True)
class Known:
    """A number from draws, and between which it lies with CONFIDENCE; low, high : nan where draws are too few."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Drive:
    """What an input does to a result: `order` and `share` of the module's docstring, with CONFIDENCE [-]."""

    key: str
    order: Known
    share: Known
    draws: int

    @property
    def is_clear(self) -> bool:
        """Whether its share stands out of the noise."""
        return self.share.value > NOISE / sqrt(self.draws)


def percentile(values: Array, share: float) -> Known:
    """The value (n,) below which a share of the draws lies. Raises ValueError without draws, or beyond 0..1."""
    from scipy import stats

    values = _finite(values)
    if not 0 < share < 1:
        raise ValueError(f"share = {share:g}: must lie between 0 and 1")
    found = stats.quantile_test(values, q=float(np.quantile(values, share)), p=share).confidence_interval(CONFIDENCE)
    low, high = (float(end) if np.isfinite(end) else np.nan for end in (found.low, found.high))
    return Known(float(np.quantile(values, share)), low, high)


def chance(hits: int, draws: int) -> Known:
    """Of something that came `hits` times in `draws`. Raises ValueError for no draws, or more hits than draws."""
    from scipy import stats

    if not 0 <= hits <= draws or draws == 0:
        raise ValueError(f"hits = {hits}: must lie between 0 and {draws} draws, of which there must be some")
    found = stats.binomtest(hits, draws).proportion_ci(CONFIDENCE, method="wilson")
    return Known(hits / draws, float(found.low), float(found.high))


def chances(modes: Sequence[str]) -> dict[str, Known]:
    """Of each mode among those of all draws, the likeliest first."""
    names, counts = np.unique(np.asarray(modes, dtype=str), return_counts=True)
    order = np.argsort(-counts, kind="stable")
    return {str(names[k]): chance(int(counts[k]), len(modes)) for k in order}


def drives(inputs: Mapping[str, Array], result: Array) -> list[Drive]:
    """What each input (n,) does to the result (n,), the one that does most first; draws without a result left out.

    Raises ValueError for fewer than four draws with a result.
    """
    known = np.isfinite(result)
    if known.sum() < 4:
        raise ValueError(f"draws = {known.sum()}: must be four or more")
    y = result[known]
    told = {key: x[known] for key, x in inputs.items() if np.ptp(x[known]) > 0}
    found = [Drive(key, _order(x, y), _share(x, y), y.size) for key, x in told.items()]
    return sorted(found, key=lambda each: -max(each.order.value**2, each.share.value if each.is_clear else 0.0))


def _finite(values: Array) -> Array:
    values = np.asarray(values, dtype=float)
    values = values[np.isfinite(values)]
    if not values.size:
        raise ValueError("draws = 0: must be one or more with a result")
    return values


def _order(x: Array, y: Array) -> Known:
    """Spearman's rank correlation; its interval by Fisher's z with variance 1.06 / (n - 3)."""
    from scipy import stats

    rho = float(stats.spearmanr(x, y).statistic) if np.ptp(y) > 0 else 0.0
    half = ndtri(0.5 + 0.5 * CONFIDENCE) * sqrt(1.06 / max(x.size - 3, 1))
    z = np.arctanh(np.clip(rho, -1 + 1e-12, 1 - 1e-12))
    return Known(rho, float(np.tanh(z - half)), float(np.tanh(z + half)))


def _share(x: Array, y: Array) -> Known:
    if np.ptp(y) == 0:
        return Known(0.0, 0.0, 0.0)
    ordered = y[np.argsort(x, kind="stable")]
    ordered = (ordered - ordered.mean()) / ordered.std()
    value = float((ordered * np.roll(ordered, -1)).mean())
    half = float(ndtri(0.5 + 0.5 * CONFIDENCE)) / sqrt(x.size)
    return Known(min(max(value, 0.0), 1.0), max(value - half, 0.0), min(value + half, 1.0))
