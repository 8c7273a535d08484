"""What the pulls of a tube say: its chance, the load that the demanded share of the draws reaches, and what governs.

    chance    share of the draws of the weakest situation that hold the limit          exact interval (Clopper, Pearson)
    reach     load that the demanded share of these draws holds: an order statistic    interval by order statistics

Intervals are of LEVEL, two-sided, of independent draws. What governs is the weakest situation, and the mode that comes
most often among its draws that hold least: those that may miss the limit, and one more. A tube that was refused is not
pulled in full: its chance is not known, its reach is an upper bound.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import isfinite
from statistics import median

from scipy.stats import binomtest, quantile_test

from .demand import Candidate
from .lightest import UNSOLVED, Search, Trial

LEVEL = 0.95
Ends = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Of one tube. reach_kN : found where whole, else an upper bound.  situation, mode : what governs.

    ends : of an interval; None where the draws do not bound it, or there are none.  modes : how often each, among the
    draws of the weakest situation.  unsolved : pulls that were not solved, which count as misses.
    """

    candidate: Candidate
    meets: bool
    whole: bool
    pulls: int
    chance: float | None
    chance_ends: Ends
    reach_kN: float
    reach_ends: Ends
    median_kN: float | None
    situation: int
    mode: str
    modes: dict[str, int]
    unsolved: int


@dataclass(frozen=True, slots=True)
class Found:
    """The answer of a design search. fresh : the lightest tube on as many fresh draws; None without draws or answer.

    pulls : how many were asked for.
    """

    search: Search
    verdicts: tuple[Verdict, ...]
    fresh: Verdict | None
    pulls: int


def verdict_of(trial: Trial) -> Verdict:
    """What the pulls of a tube say."""
    design, weakest = trial.design, trial.weakest
    own = sorted((each for place, each in trial.pulled.items() if place[0] == weakest), key=lambda each: each.limit_kN)
    limits = [each.limit_kN for each in own]
    least = Counter(each.mode for each in own[: design.allowed + 1])
    drawn = trial.whole and design.draws is not None
    hits = sum(limit >= design.require.limit_kN for limit in limits)
    return Verdict(
        candidate=trial.candidate,
        meets=trial.met,
        whole=trial.whole,
        pulls=len(trial.pulled),
        chance=hits / len(limits) if drawn else None,
        chance_ends=_chance_ends(hits, len(limits)) if drawn else (None, None),
        reach_kN=trial.bound,
        reach_ends=_reach_ends(limits, 1 - design.require.chance) if drawn else (None, None),
        median_kN=median(limits) if drawn else None,
        situation=weakest,
        mode=least.most_common(1)[0][0],
        modes=dict(Counter(each.mode for each in own).most_common()),
        unsolved=sum(each.mode == UNSOLVED for each in trial.pulled.values()),
    )


def _chance_ends(hits: int, number: int) -> Ends:
    found = binomtest(hits, number).proportion_ci(LEVEL, method="exact")
    return float(found.low), float(found.high)


def _reach_ends(limits: list[float], share: float) -> Ends:
    found = quantile_test(limits, q=0.0, p=share).confidence_interval(LEVEL)
    low, high = (float(end) if isfinite(end) else None for end in found)
    return low, high
