"""How a number of a case is spread, as a study file says it: a distribution, its parameters, and where it is cut off.

    normal       mean, sd                  uniform      low, high
    lognormal    mean, cov                 triangular   low, mode, high
    weibull      mean, cov                 low, high besides: cut off there, F(x) / (F(high) - F(low))

A quantile, not a sampler: what is drawn is a share u of (0, 1), so that draws can be correlated and placed evenly. cov:
standard deviation over mean; Weibull and lognormal are those of `materials.spread`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf, isfinite
from typing import Any, Protocol

from ...materials.spread import Spread
from ..case.toml import did_you_mean, shown

PARAMETERS = {
    "normal": ("mean", "sd"),
    "lognormal": ("mean", "cov"),
    "uniform": ("low", "high"),
    "triangular": ("low", "mode", "high"),
    "weibull": ("mean", "cov"),
}
_CUT = ("low", "high")


class Quantile(Protocol):
    """What a share of all lies below."""

    def quantile(self, u: float) -> Any:
        """The value, in its own unit, below which a share u [-] of all lies."""

    def cdf(self, x: float) -> Any:
        """Share [-] of all that lies below x, in its own unit."""


@dataclass(frozen=True, slots=True)
class Distribution:
    """A distribution cut off at low and high, in the unit of its key; below, left : shares cut off below and left [-].

    Raises ValueError if nothing is left.
    """

    whole: Quantile
    low: float = -inf
    high: float = inf
    below: float = field(init=False, default=0.0)
    left: float = field(init=False, default=1.0)

    def __post_init__(self) -> None:
        if not self.low < self.high:
            raise ValueError(f"high = {self.high:g}: must be more than low = {self.low:g}")
        below, up_to = (float(self.whole.cdf(end)) for end in (self.low, self.high))
        if not up_to > below:
            raise ValueError(f"low, high = {self.low:g}, {self.high:g}: must leave some of the distribution")
        object.__setattr__(self, "below", below)
        object.__setattr__(self, "left", up_to - below)

    def quantile(self, u: float) -> float:
        """The value, in the unit of its key, below which a share u [-] of what is left lies."""
        value = float(self.whole.quantile(min(self.below + u * self.left, 1.0)))
        return min(max(value, self.low), self.high)


@dataclass(frozen=True, slots=True)
class _Even:
    """The uniform distribution."""

    low: float
    high: float

    def quantile(self, u: float) -> float:
        return self.low + u * (self.high - self.low)

    def cdf(self, x: float) -> float:
        return min(max((x - self.low) / (self.high - self.low), 0.0), 1.0)


@dataclass(frozen=True, slots=True)
class _Scipy:
    """A distribution of scipy.stats as a Quantile."""

    frozen: Any

    def quantile(self, u: float) -> Any:
        return self.frozen.ppf(u)

    def cdf(self, x: float) -> Any:
        return self.frozen.cdf(x)


def distribution_from(table: Mapping[str, Any]) -> Distribution:
    """The distribution that a table says. Raises ValueError, one line, that begins with the wrong field."""
    word = table.get("distribution")
    allowed = f"must be one of {', '.join(PARAMETERS)}"
    if not isinstance(word, str) or word not in PARAMETERS:
        hint = did_you_mean(str(word), {name: name for name in PARAMETERS})
        raise ValueError(f"distribution = {'missing' if word is None else shown(word)}: {allowed}{hint}")
    wanted = PARAMETERS[word]
    for name, value in table.items():
        if name not in ("distribution", *wanted, *_CUT):
            raise ValueError(f"{name} = {shown(value)}: must be one of {', '.join(dict.fromkeys((*wanted, *_CUT)))}")
    numbers = {name: _number(name, table.get(name)) for name in wanted}
    cut = {name: _number(name, table[name]) for name in _CUT if name in table and name not in wanted}
    return Distribution(_whole(word, numbers), **cut)


def _number(name: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{name} = {'missing' if value is None else shown(value)}: must be a number")
    return float(value)


def _whole(word: str, of: Mapping[str, float]) -> Quantile:
    if word == "normal":
        if not of["sd"] > 0:
            raise ValueError(f"sd = {of['sd']:g}: must be more than 0")
        from scipy.stats import norm

        return _Scipy(norm(of["mean"], of["sd"]))
    if word in ("lognormal", "weibull"):
        if not of["cov"] > 0:
            raise ValueError(f"cov = {of['cov']:g}: must be more than 0")
        return Spread(word, of["mean"], of["cov"])
    low, high = of["low"], of["high"]
    if not low < high:
        raise ValueError(f"high = {high:g}: must be more than low = {low:g}")
    if word == "uniform":
        return _Even(low, high)
    if not low <= of["mode"] <= high:
        raise ValueError(f"mode = {of['mode']:g}: must lie between low = {low:g} and high = {high:g}")
    from scipy.stats import triang

    return _Scipy(triang((of["mode"] - low) / (high - low), low, high - low))
