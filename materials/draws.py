"""Ices drawn at random for Monte Carlo: strengths and stiffness of a named ice with the spread of `data/laws.toml`.

    tensile, toughness, compressive, stiffness   correlated (`spread.correlated_draws`), means those of the given ice

Stiffness is one factor on all elastic constants. The spread is that of repeated tests on one ice. Places and days
differ more (`low` and `high` of each value).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .data_file import Value, Word, read_values
from .ice import Ice
from .spread import Spread, correlated_draws
from .tensor import Transverse

QUANTITIES = ("tensile", "toughness", "compressive", "stiffness")


def spreads_of(ice: Ice) -> dict[str, Spread]:
    """Spread of each of `QUANTITIES` about the ice's own values [Pa, Pa m^0.5, Pa, 1]."""
    means = (ice.tensile_strength, ice.toughness, ice.compressive_strength, 1.0)
    found = {}
    for name, mean in zip(QUANTITIES, means, strict=True):
        entry = read_values("laws.toml", f"spread_{name}")
        cov, distribution = entry["cov"], entry["distribution"]
        assert isinstance(cov, Value) and isinstance(distribution, Word)
        found[name] = Spread(distribution.word, mean, cov.value)
    return found


def correlations() -> dict[tuple[str, str], float]:
    """Correlation [-] of each pair of `QUANTITIES` that are correlated."""
    found = {}
    for name, value in read_values("laws.toml", "correlation").items():
        first, second, _ = name.split("_")
        assert isinstance(value, Value)
        found[first, second] = value.value
    return found


def draw_ices(ice: Ice, n: int, rng: np.random.Generator) -> list[Ice]:
    """`n` ices drawn about `ice`; the same state of `rng` gives the same ices. Raises ValueError for n < 1."""
    if n < 1:
        raise ValueError(f"n = {n}: must be at least 1")
    drawn = correlated_draws(spreads_of(ice), correlations(), n, rng)
    ices = []
    for tensile, toughness, compressive, stiffness in zip(*(drawn[name] for name in QUANTITIES), strict=True):
        one = ice.with_strengths(float(tensile), float(toughness), float(compressive))
        ices.append(replace(one, elastic=_times(ice.elastic, float(stiffness))))
    return ices


def _times(elastic: Transverse, factor: float) -> Transverse:
    c11, c12, c13, c33, c44 = (factor * value for value in elastic.constants)
    return Transverse(c11, c12, c13, c33, c44, elastic.axis)
