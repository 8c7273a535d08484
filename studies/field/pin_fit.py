"""Two fits to pushes of a pin: the share of crushing, and the tilt at which chips no longer come out. Numbers alone.

    log F_i = log M_i(share) + e_i,   e_i ~ N(0, s^2)          share: least squares on SHARES, M on lines in log share
    interval of 95 %: all shares with S(share) <= S_min (1 + t^2 / (n - 1)),   S: sum of squares                    [-]
    P(out) = 1 / (1 + exp((tilt - border) / width))            border: likelihood on BORDERS, WIDTHS              [deg]
    interval of 95 %: all borders whose best likelihood lies within chi2 / 2 = 1.92 of the largest

An interval that reaches an end of its grid is open there: the pushes do not bound it. Where chips come out below one
tilt and stay above another, the likelihood has no largest value; the bracket of the two stands instead of an interval.

Source: least squares and profile likelihood, any textbook of statistics. Limits: pushes count as independent; noise
is alike at all loads in log; one border for all diameters, lengths and rates.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, t

Array = NDArray[np.float64]
Ordering = Literal["fitted", "bracket", "all came out", "all stayed", "no order", "too few"]
SHARES = np.geomspace(0.05, 5.0, 47)  # as `assumed.crushing_share` may be
FINE = np.geomspace(0.05, 5.0, 4001)
BORDERS, WIDTHS = np.arange(-60.0, 60.01, 0.1), np.geomspace(0.3, 100.0, 60)  # deg
FEWEST, CONFIDENCE = 3, 0.95
FLAT_SUM, SURE = 1e-12, 1e-9


@dataclass(frozen=True, slots=True)
class ShareFit:
    """A share of crushing [-] with its interval of 95 %; low 0 or high inf: open there.

    error : standard error of its logarithm [-], inf if nothing depends on it.  spread : s, of log force [-].  rows : n.
    """

    value: float
    error: float
    low: float
    high: float
    spread: float
    rows: int


@dataclass(frozen=True, slots=True)
class BorderFit:
    """Where chips cease to come out [deg], None if that is not told; low, high : interval or bracket [deg].

    width : of the change [deg], and error : standard error of the border [deg], None if not fitted.  rows : pushes.
    """

    kind: Ordering
    border: float | None
    low: float
    high: float
    width: float | None
    error: float | None
    rows: int


@dataclass(frozen=True, slots=True)
class Ratio:
    """One share over another [-] with its interval of 95 %."""

    value: float
    low: float
    high: float


def fit_share(force: Array, model: Array) -> ShareFit | None:
    """The share that explains forces (n,) best, by what the law says (n, SHARES) of each, in one unit of force.

    None if there are fewer than FEWEST. Raises ValueError for shapes that do not go together or loads not positive.
    """
    force, model = np.asarray(force, float), np.asarray(model, float)
    n = force.size
    if model.shape != (n, SHARES.size) or np.any(force <= 0) or np.any(model <= 0):
        raise ValueError(f"model: must have shape {(n, SHARES.size)}, all loads must be positive")
    if n < FEWEST:
        return None
    at = np.array([np.interp(np.log(FINE), np.log(SHARES), row) for row in np.log(model)])
    off = np.log(force)[:, None] - at
    total = (off**2).sum(axis=0)
    k = int(total.argmin())
    spread = sqrt(total[k] / (n - 1))
    slope = np.gradient(at, np.log(FINE), axis=1)[:, k]
    error = spread / sqrt((slope**2).sum()) if (slope**2).sum() > SURE else inf
    allowed = total[k] * (1.0 + float(t.ppf(0.5 * (1 + CONFIDENCE), n - 1)) ** 2 / (n - 1)) + FLAT_SUM
    inside = np.flatnonzero(total <= allowed)
    first, last = int(inside[0]), int(inside[-1])
    low, high = 0.0 if first == 0 else float(FINE[first]), inf if last == FINE.size - 1 else float(FINE[last])
    return ShareFit(float(FINE[k]), error, low, high, spread, n)


def share_ratio(one: ShareFit, other: ShareFit) -> Ratio | None:
    """The second share over the first; None if either is open, as then no interval holds it."""
    if not all(fit.low > 0 and fit.high < inf and fit.error < inf for fit in (one, other)):
        return None
    middle, error = log(other.value / one.value), sqrt(one.error**2 + other.error**2)
    reach = float(t.ppf(0.5 * (1 + CONFIDENCE), one.rows + other.rows - 2)) * error
    return Ratio(exp(middle), exp(middle - reach), exp(middle + reach))


def fit_border(tilt: Array, out: NDArray[np.bool_]) -> BorderFit:
    """The border of pushes at tilts (n,) [deg] of which some came out (n,), as the module's head has it [deg]."""
    tilt, out = np.asarray(tilt, float), np.asarray(out, bool)
    n = tilt.size
    if n < FEWEST:
        return BorderFit("too few", None, -inf, inf, None, None, n)
    if out.all():
        return BorderFit("all came out", None, float(tilt.max()), inf, None, None, n)
    if not out.any():
        return BorderFit("all stayed", None, -inf, float(tilt.min()), None, None, n)
    last_out, first_in = float(tilt[out].max()), float(tilt[~out].min())
    if last_out < first_in:
        return BorderFit("bracket", 0.5 * (last_out + first_in), last_out, first_in, None, None, n)
    found = _likelihood(tilt, out)
    best = found.max(axis=1)
    k, share = int(best.argmax()), out.mean()
    even = n * (share * log(share) + (1 - share) * log(1 - share))
    half = 0.5 * float(chi2.ppf(CONFIDENCE, 1))
    if best[k] - even < half:
        return BorderFit("no order", None, -inf, inf, None, None, n)
    inside = np.flatnonzero(best >= best[k] - half)
    low = -inf if inside[0] == 0 else float(BORDERS[inside[0]])
    high = inf if inside[-1] == BORDERS.size - 1 else float(BORDERS[inside[-1]])
    place = int(found[k].argmax())
    border, width = float(BORDERS[k]), float(WIDTHS[place])
    error = None if place == 0 else _error(tilt, border, width)
    return BorderFit("fitted", border, low, high, width, error, n)


def _likelihood(tilt: Array, out: NDArray[np.bool_]) -> Array:
    """Log likelihood (BORDERS, WIDTHS)."""
    sign = np.where(out, 1.0, -1.0)
    total = np.zeros((BORDERS.size, WIDTHS.size))
    for angle, side in zip(tilt, sign, strict=True):
        total -= np.logaddexp(0.0, side * (angle - BORDERS[:, None]) / WIDTHS)
    return total


def _error(tilt: Array, border: float, width: float) -> float | None:
    """Standard error of the border [deg] from the information of the logistic line c_0 + c_1 tilt; None if singular."""
    chance = 1.0 / (1.0 + np.exp(np.clip((tilt - border) / width, -500.0, 500.0)))
    rows = np.stack([np.ones_like(tilt), tilt])
    information = (rows * chance * (1 - chance)) @ rows.T
    if np.linalg.cond(information) > 1 / SURE:
        return None
    turn = np.array([width, border * width])  # d border / d c, as border = -c_0 / c_1, c_1 = -1 / width
    return float(sqrt(turn @ np.linalg.solve(information, turn)))
