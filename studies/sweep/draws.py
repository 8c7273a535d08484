"""What a study draws at random: for each number of a case its spread, for all of them their correlation, and a seed.

    [random]             draws = 200, seed = 1, correlation = [["placement.angle_deg", "ice.tensile_MPa", 0.3]]
    [random.placement]   angle_deg = { distribution = "normal", mean = 0, sd = 5, low = -15, high = 15 }
    [random.ice]         tensile_MPa = { spread = "table" }          the law of spread of `materials/data/laws.toml`
    [random.assumed]     crushing_share = { between = "table" }      even between low and high of its table

    x_i = F_i^-1(Phi(z_i)), z normal with R = 2 sin(pi rho / 6), rho the rank correlation given         Gaussian copula

Each combination of the axes gets the same draws. The normals of draw k and a key come from a generator of their own,
seeded by seed, k and the key's name: they are the same however many are drawn, and whatever else is random. A law of
spread has the mean of the case's own ice, and its laws' correlations of the normals where the file gives none.

Limits: strengths of ice and crust are independent of each other; a spread is that of repeated tests on one ice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import pi, sin
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ...materials import assumptions
from ...materials.data_file import read_tables
from ...materials.draws import correlations, spreads_of
from ...materials.spread import Spread, mixing
from ..case.file import KEYS, CaseError, Settings, flatten, ice_of
from ..case.toml import TomlFile, shown
from .distributions import Distribution, distribution_from

Array = NDArray[np.float64]
OWN, TABLE = ("draws", "seed", "correlation"), "table"
MOST = 1_000_000
DIGITS = 10  # of what is drawn: the last ones differ between machines, and shards must draw the same
# Names of a table of ice -> quantities of `materials.draws`.
SPREADS = {
    "tensile_MPa": "tensile",
    "K_IC_kPa_sqrt_m": "toughness",
    "compressive_MPa": "compressive",
    "E_GPa": "stiffness",
}
_SI = {"tensile_MPa": 1e6, "K_IC_kPa_sqrt_m": 1e3, "compressive_MPa": 1e6}
_TABLES = {
    "ice": ("ices.toml", "ice.kind"),
    "crust": ("ices.toml", "crust.kind"),
    "tube": ("metals.toml", "tube.metal"),
}
_WAYS = 'must be { distribution = ..., its parameters }, { spread = "table" } or { between = "table" }'


@dataclass(frozen=True, slots=True)
class Random:
    """A key that is drawn. way : a distribution, or "spread" or "between" of its table.  origin : of its errors."""

    key: str
    way: Distribution | str
    origin: str


@dataclass(frozen=True, slots=True)
class Draws:
    """What is drawn of each case: how often, from which seed, which keys, and the root of their correlations."""

    number: int
    seed: int
    randoms: tuple[Random, ...]
    root: Array

    def normals(self, draw: int) -> Array:
        """Correlated normals (keys,) of one draw [-]."""
        own = [
            np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=(draw, crc32(each.key.encode()))))
            for each in self.randoms
        ]
        return np.array([each.standard_normal() for each in own]) @ self.root


def read_draws(file: TomlFile) -> Draws | None:
    """The draws of a study file; None if it has no [random]. Raises CaseError."""
    table = file.data.get("random")
    if table is None:
        return None
    if not isinstance(table, Mapping):
        raise CaseError(f"{file.where('random')}random = {shown(table)}: must be a table, written [random]")
    number, seed = (_whole(file, table, name, least) for name, least in (("draws", 1), ("seed", 0)))
    rest = {name: value for name, value in table.items() if name not in OWN}
    if odd := next((name for name in rest if not isinstance(rest[name], Mapping)), ""):
        where = f"{file.where('random', odd)}random.{odd} = {shown(rest[odd])}"
        raise CaseError(f"{where}: must be one of {', '.join(OWN)}, or a table of keys")
    given = flatten(rest, lambda *names: f"{file.where('random', *names)}random.")
    if not given:
        raise CaseError(f"{file.where('random')}[random]: must give one key or more a distribution, in [random.TABLE]")
    ordered = [key for key in KEYS if key in given]
    randoms = tuple(_random(file, key, given[key]) for key in ordered)
    return Draws(number, seed, randoms, _root(file, randoms, table.get("correlation", [])))


def usual_draws(number: int, seed: int, randoms: tuple[Random, ...]) -> Draws:
    """Draws of keys with the materials' own ways, correlated as their laws say."""
    ordered = tuple(sorted(randoms, key=lambda each: list(KEYS).index(each.key)))
    return Draws(number, seed, ordered, mixing([each.key for each in ordered], _of_laws(ordered)))


def _whole(file: TomlFile, table: Mapping[str, Any], name: str, least: int) -> int:
    value = table.get(name)
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= MOST:
        what = "missing" if value is None else shown(value)
        allowed = f"must be a whole number between {least} and {MOST}"
        raise CaseError(f"{file.where('random', name)}random.{name} = {what}: {allowed}")
    return value


def _random(file: TomlFile, key: str, given: Any) -> Random:
    """How a key is drawn."""
    origin = f"{file.where('random', *key.split('.'))}random."
    if KEYS[key].low is None:
        raise CaseError(f"{origin}{key}: must be a key that is a number")
    if not isinstance(given, Mapping):
        raise CaseError(f"{origin}{key} = {shown(given)}: {_WAYS}")
    for way, allowed in (("spread", _has_spread(key)), ("between", _has_range(key))):
        if way in given:
            if set(given) != {way} or given[way] != TABLE:
                raise CaseError(
                    f'{origin}{key} = {shown(dict(given))}: must be {{ {way} = "table" }}, and nothing else'
                )
            if not allowed:
                raise CaseError(f"{origin}{key}.{way}: there is no table of it: must be {{ distribution = ... }}")
            return Random(key, way, origin)
    try:
        return Random(key, distribution_from(given), origin)
    except ValueError as error:
        raise CaseError(f"{origin}{key}.{error}") from None


def _has_spread(key: str) -> bool:
    table, _, name = key.partition(".")
    return table in ("ice", "crust") and name in SPREADS


def _has_range(key: str) -> bool:
    """Whether a table of the materials may give it low and high."""
    table, _, name = key.partition(".")
    if table == "assumed":
        return name in assumptions()
    return table in _TABLES and any(name in entry for entry in read_tables(_TABLES[table][0]).values())


def _root(file: TomlFile, randoms: Sequence[Random], given: Any) -> Array:
    """Root of the correlations of the normals."""
    where = f"{file.where('random', 'correlation')}random.correlation"
    keys = [each.key for each in randoms]
    pairs: dict[tuple[str, str], float] = {}
    if not isinstance(given, list):
        raise CaseError(f"{where} = {shown(given)}: must be a list of [key, key, rank correlation]")
    for each in given:
        if not isinstance(each, list) or len(each) != 3:
            raise CaseError(f"{where} = {shown(each)}: must be [key, key, rank correlation]")
        first, second, rank = each
        if first not in keys or second not in keys or first == second:
            raise CaseError(f"{where} = {shown(each)}: must name two different keys of [random]: {', '.join(keys)}")
        if isinstance(rank, bool) or not isinstance(rank, int | float) or not -1 <= rank <= 1:
            raise CaseError(f"{where} = {shown(each)}: the rank correlation must lie between -1 and 1")
        if (first, second) in pairs or (second, first) in pairs:
            raise CaseError(f"{where} = {shown(each)}: must give a pair once")
        pairs[first, second] = 2 * sin(pi * rank / 6)
    for pair, value in _of_laws(randoms).items():
        if pair not in pairs and pair[::-1] not in pairs:
            pairs[pair] = value
    try:
        return mixing(keys, pairs)
    except ValueError as error:
        raise CaseError(f"{where}: of the normals: {error}") from None


def _of_laws(randoms: Sequence[Random]) -> dict[tuple[str, str], float]:
    """Correlations of the normals of keys that have the materials' laws of spread."""
    named = {each.key for each in randoms if each.way == "spread"}
    keys = {(table, quantity): f"{table}.{name}" for table in ("ice", "crust") for name, quantity in SPREADS.items()}
    found = {}
    for (first, second), value in correlations().items():
        for table in ("ice", "crust"):
            pair = keys[table, first], keys[table, second]
            if set(pair) <= named:
                found[pair] = value
    return found


def drawn_values(
    draws: Draws, normals: Array, given: Mapping[str, Any], check: Callable[[Mapping[str, Any]], Settings]
) -> dict[str, float]:
    """Values of the keys at the normals of one draw, each in its unit.

    given : what the case states besides.  check : completes and checks a case, for laws of spread: with what is drawn
    by then, its own strengths as its kind has them. Raises CaseError for a case whose kind has no such value.
    """
    shares = dict(zip((each.key for each in draws.randoms), map(float, ndtr(normals)), strict=True))
    found: dict[str, float] = {}
    for each in draws.randoms:
        if each.way != "spread":
            way = _table_range(each, given) if each.way == "between" else each.way
            assert isinstance(way, Distribution)
            found[each.key] = way.quantile(shares[each.key])
    spread = [each.key for each in draws.randoms if each.way == "spread"]
    if spread:
        settings = check({**given, **found})
        for table in dict.fromkeys(key.partition(".")[0] for key in spread):
            laws = _laws_of(tuple(each for each in settings.items() if each[0].startswith(("ice.", "crust."))), table)
            found |= {key: float(laws[key].quantile(shares[key])) for key in spread if key.startswith(f"{table}.")}
    return {each.key: float(f"{found[each.key]:.{DIGITS}g}") for each in draws.randoms}


def _table_range(random: Random, given: Mapping[str, Any]) -> Distribution:
    """Even between low and high of the table."""
    table, _, name = random.key.partition(".")
    if table == "assumed":
        number = assumptions()[name].number
        low, high = number.low, number.high
    else:
        file, key = _TABLES[table]
        kind = given.get(key, KEYS[key].default)
        entry = read_tables(file).get(str(kind), {}).get(name, {})
        if not {"low", "high"} <= set(entry):
            raise CaseError(f"{random.origin}{random.key}.between: {kind} has no range of it")
        low, high = entry["low"], entry["high"]
    return _even(low, high)


@lru_cache(maxsize=256)
def _even(low: float, high: float) -> Distribution:
    return distribution_from({"distribution": "uniform", "low": low, "high": high})


@lru_cache(maxsize=64)
def _laws_of(settings: tuple[tuple[str, Any], ...], table: str) -> dict[str, Spread]:
    """Laws of spread of an ice in the units of its keys, about its own values in its state."""
    ice = ice_of(dict(settings), table)
    found, laws = {}, spreads_of(ice)
    for name, quantity in SPREADS.items():
        law = laws[quantity]
        mean = ice.elastic.youngs_modulus / 1e9 if name == "E_GPa" else law.mean / _SI[name]
        found[f"{table}.{name}"] = Spread(law.distribution, mean, law.cov)
    return found
