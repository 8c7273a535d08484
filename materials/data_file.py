"""Reads the value tables in `data/*.toml`: each value keeps its range, source and how it is known."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

HOW = ("published", "from memory", "common practice", "assumed")


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
        if not self.low <= self.value <= self.high:
            raise ValueError(f"{self.name} = {self.value:g}: must lie between {self.low:g} and {self.high:g}")
        if self.how not in HOW:
            raise ValueError(f"{self.name}.how = {self.how!r}: must be one of {', '.join(HOW)}")


@cache
def read_tables(file: str) -> dict[str, dict[str, Any]]:
    """The tables of `data/<file>` by name."""
    return tomllib.loads((files(__package__) / "data" / file).read_text(encoding="utf-8"))


def read_values(file: str, name: str) -> dict[str, Value]:
    """The values of table `name`. Raises ValueError if there is none of that name."""
    tables = read_tables(file)
    if name not in names(file):
        raise ValueError(f"{name!r}: must be one of {', '.join(names(file))}")
    return {key: Value(key, **entry) for key, entry in tables[name].items() if isinstance(entry, dict)}


def names(file: str) -> list[str]:
    """Names of the materials in a file."""
    return [name for name, table in read_tables(file).items() if "title" in table]
