"""Reads the value tables in `data/*.toml`: each value keeps its unit, range, source and how it is known.

    [sound_glacier]
    title = "..."                                                      a table with a title is a material
    tensile_MPa = { value = 1.2, low = 0.7, high = 3.1, how = "published", source = "..." }
    fabric = { word = "isotropic", how = "...", source = "..." }       a word instead of a number

The unit is the end of the name (`UNITS`); a pure number's name ends as in `PURE`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import isfinite, pi
from typing import Any

HOW = ("published", "from memory", "common practice", "assumed")
UNITS = {
    "GPa": 1e9,
    "MPa": 1e6,
    "kPa_sqrt_m": 1e3,
    "MPa_sqrt_m": 1e6,
    "kPa_sqrt_m_per_s": 1e3,
    "kg_per_m3": 1.0,
    "mm": 1e-3,
    "mm3": 1e-9,
    "s": 1.0,
    "per_s": 1.0,
    "C": 1.0,
    "kN": 1e3,
    "K": 1.0,
    "deg": pi / 180,
    "pitches": 1.0,
}
PURE = (
    *("nu", "porosity", "aspect", "slope", "exponent", "strain", "cov", "correlation", "melting", "ratio"),
    *("factor", "share", "friction"),
)


@dataclass(frozen=True, slots=True)
class Value:
    """A number in the unit of its name, the range it may well have, its source and how it is known."""

    name: str
    value: float
    low: float
    high: float
    source: str
    how: str

    def __post_init__(self) -> None:
        if not (isfinite(self.value) and self.low <= self.value <= self.high):
            raise ValueError(f"{self.name} = {self.value:g}: must lie between {self.low:g} and {self.high:g}")
        _check_origin(self.name, self.how, self.source)
        factor(self.name)

    @property
    def si(self) -> float:
        """The number in SI units (temperatures stay in deg C)."""
        return self.value * factor(self.name)


@dataclass(frozen=True, slots=True)
class Word:
    """A choice, its source and how it is known."""

    name: str
    word: str
    source: str
    how: str

    def __post_init__(self) -> None:
        _check_origin(self.name, self.how, self.source)


def _check_origin(name: str, how: str, source: str) -> None:
    if how not in HOW:
        raise ValueError(f"{name}.how = {how!r}: must be one of {', '.join(HOW)}")
    if not source.strip():
        raise ValueError(f"{name}.source: must not be empty")


@cache
def unit_of(name: str) -> str:
    """The unit at the end of a name, "" for a pure number. Raises ValueError if the name has none."""
    fitting = [unit for unit in UNITS if name.endswith(f"_{unit}")]
    if fitting:
        return max(fitting, key=len)
    if name in PURE or name.endswith(tuple(f"_{end}" for end in PURE)):
        return ""
    raise ValueError(f"{name}: must end in a unit ({', '.join(UNITS)}) or in one of {', '.join(PURE)}")


def factor(name: str) -> float:
    """What a number of that name is multiplied by to be in SI units."""
    unit = unit_of(name)
    return UNITS[unit] if unit else 1.0


@cache
def read_tables(file: str) -> dict[str, dict[str, Any]]:
    """The tables of `data/<file>` by name."""
    return tomllib.loads((files(__package__) / "data" / file).read_text(encoding="utf-8"))


def read_values(file: str, name: str) -> dict[str, Value | Word]:
    """The values of table `name`. Raises ValueError if there is none of that name, or an entry is not whole."""
    tables = read_tables(file)
    if name not in tables:
        raise ValueError(f"{name!r}: must be one of {', '.join(names(file))}")
    found: dict[str, Value | Word] = {}
    for key, entry in tables[name].items():
        if isinstance(entry, dict):
            try:
                found[key] = Word(key, **entry) if "word" in entry else Value(key, **entry)
            except (TypeError, ValueError) as error:
                raise ValueError(f"{file}: [{name}] {key}: {error}") from None
    return found


def read_numbers(file: str, name: str) -> dict[str, float]:
    """The numbers of table `name` in SI units, by their names with the unit left on."""
    return {key: value.si for key, value in read_values(file, name).items() if isinstance(value, Value)}


def names(file: str) -> list[str]:
    """Names of the materials in a file: its tables with a title."""
    return [name for name, table in read_tables(file).items() if "title" in table]
