"""How many repeats tell two placements apart: the power of a test, by simulated days.

    day d        both placements see the same ice: one draw of what is not known, ln P_a and ln P_b of it
    pull         ln P + N(0, scatter^2 + error^2), anew for each
    test         on the logs of n pulls of each: Welch's t, or ranks (Mann & Whitney), two-sided at LEVEL
    power(n)     share of the days on which it says that they differ, with CONFIDENCE of the simulation

All n use the same days and pulls (common random numbers), so the powers rise with n as smoothly as they can. Where one
draw says that the placements are alike, no number of repeats helps: the power may stay below its target.

scatter : of replicates, in the log of the load; SCATTER is assumed. Limits: normal scatter, alike for both; no pull
ends as a bound; ranks cannot say anything below four pulls of each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from ..sweep.statistics import Known, chance
from .pulls import Array

SCATTER = 0.15  # assumed: no source found for replicates in one ice
LEVEL, TARGET = 0.05, 0.8
MOST, DAYS = 20, 2000
TESTS = ("welch", "ranks")


@dataclass(frozen=True, slots=True)
class Power:
    """repeats : pulls of each placement.  power : at each [-].  least : repeats from which it stays at TARGET or more,
    None if it does not.  factor : median ratio of the two predicted loads [-].  scatter, error : of a log [-]."""

    repeats: tuple[int, ...]
    power: tuple[Known, ...]
    least: int | None
    factor: float
    scatter: float
    error: float
    test: str


def power_of(
    first_kN: Array,
    second_kN: Array,
    scatter: float = SCATTER,
    error: float = 0.0,
    test: str = "welch",
    most: int = MOST,
    days: int = DAYS,
    seed: int = 1,
) -> Power:
    """Power against repeats, from 2 to `most` of each placement.

    first_kN, second_kN (n,) : peaks predicted of the two by the same draws, of loads in kN; draws without both are left
    out.  scatter, error : standard deviations of the log [-].
    Raises ValueError, one line, for arrays that do not match, a test that there is none of, or numbers out of range.
    """
    logs = _paired_logs(first_kN, second_kN)
    if test not in TESTS:
        raise ValueError(f"test = {test}: must be one of {', '.join(TESTS)}")
    if most < 2:
        raise ValueError(f"most = {most}: must be 2 or more")
    if days < 1:
        raise ValueError(f"days = {days}: must be 1 or more")
    if min(scatter, error) < 0 or not scatter + error > 0:
        raise ValueError(f"scatter, error = {scatter:g}, {error:g}: must be 0 or more, and one of them more than 0")
    rng = np.random.default_rng(seed)
    ice = logs[:, rng.integers(logs.shape[1], size=days)]
    pulls = ice[..., None] + np.hypot(scatter, error) * rng.standard_normal((2, days, most))
    repeats = tuple(range(2, most + 1))
    power = tuple(chance(int((_p_values(pulls[..., :n], test) < LEVEL).sum()), days) for n in repeats)
    short = [n for n, known in zip(repeats, power, strict=True) if known.value < TARGET]
    least = max(short, default=1) + 1
    factor = float(np.exp(np.median(logs[0] - logs[1])))
    return Power(repeats, power, least if least <= most else None, factor, scatter, error, test)


def _paired_logs(first_kN: Array, second_kN: Array) -> Array:
    """Logs (2, n) of the draws that have both."""
    if np.shape(first_kN) != np.shape(second_kN):
        raise ValueError(f"draws = {np.size(first_kN)} and {np.size(second_kN)}: must be the same draws of both")
    loads = np.array([first_kN, second_kN], dtype=float)
    loads = loads[:, np.isfinite(loads).all(0)]
    if not loads.size or np.any(loads <= 0):
        raise ValueError("draws: must hold one or more with both loads, all more than 0 kN")
    return np.log(loads)


def _p_values(pulls: Array, test: str) -> Array:
    """Of each day (days,), from logs of loads (2, days, n)."""
    if test == "welch":
        return np.asarray(stats.ttest_ind(pulls[0], pulls[1], axis=-1, equal_var=False).pvalue)
    return np.asarray(stats.mannwhitneyu(pulls[0], pulls[1], axis=-1).pvalue)
