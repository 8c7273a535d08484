"""The axes of a study of many cases: each a dimension with its places, and the values of keys at each place.

    [axes.placement]   angle_deg = [-20, 0, 20]                               a list of values
                       embedment_mm = { from = 60, to = 120, number = 7 }     evenly spaced
    [axes.rows]        keys = ["tube.od_mm", "tube.wall_mm"], values = [[16, 1.2], [18, 1.5]]     a row a case
                       csv = "tubes.csv"                                      the same, keys in the first line
                       latin_hypercube = 50, or sobol = 64, seed = 1          spread evenly over
    [axes.rows.between]   "tube.od_mm" = [14, 20]                             these ranges

Every combination of the axes is a case; all of [axes.rows] is one axis, `row`. [grid] and one [vary] are axes too.
Latin hypercube and scrambled Sobol points: `scipy.stats.qmc`.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import qmc

from ..case.file import KEYS, CaseError, flatten
from ..case.toml import TomlFile, did_you_mean, read_text, shown

ROW = "row"
EVENLY = ("from", "to", "number")
DESIGNS = ("latin_hypercube", "sobol")
MOST = 1_000_000
Value = float | str
Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Place:
    """A place on an axis: values of keys there. origin : "file:line: table." of what is wrong with one."""

    values: Mapping[str, Any]
    origin: str


@dataclass(frozen=True, slots=True)
class Axis:
    """A dimension: its name, that of a key or "row", and its places."""

    name: str
    places: tuple[Place, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys that it varies."""
        return tuple(self.places[0].values)


def read_axes(file: TomlFile) -> tuple[Axis, ...]:
    """The axes of a study file, none if it has none. Raises CaseError."""
    found = [*_listed(file, "axes"), *_listed(file, "grid"), *_varied(file), *_rows(file)]
    seen: set[str] = set()
    for axis in found:
        for key in axis.keys:
            if key in seen:
                raise CaseError(f"{axis.places[0].origin}{key}: must not be given twice: a key has one axis")
            seen.add(key)
    return tuple(found)


def _listed(file: TomlFile, table: str) -> list[Axis]:
    """An axis a key."""
    content = file.data.get(table, {})
    if not isinstance(content, Mapping):
        raise CaseError(f"{file.where(table)}{table} = {shown(content)}: must be a table, written [{table}]")
    content = {name: value for name, value in content.items() if (table, name) != ("axes", "rows")}
    found = []
    for key, given in flatten(content, lambda *names: f"{file.where(table, *names)}{table}.").items():
        origin = f"{file.where(table, *key.split('.'))}{table}."
        found.append(Axis(key, tuple(Place({key: value}, origin) for value in _values(given, f"{origin}{key}", key))))
    return found


def _values(given: Any, where: str, key: str) -> list[Any]:
    if isinstance(given, Mapping):
        return _evenly(given, where, key)
    if not isinstance(given, list) or not given:
        raise CaseError(f"{where} = {shown(given)}: must be a list of one value or more, or {{ from, to, number }}")
    for at, value in enumerate(given):
        if value in given[:at]:
            raise CaseError(f"{where} = {shown(given)}: must not hold {shown(value)} twice")
    return given


def _evenly(given: Mapping[str, Any], where: str, key: str) -> list[float]:
    """Evenly spaced numbers, both ends among them."""
    for name in (*given, *EVENLY):
        if name not in EVENLY or name not in given:
            what = "missing" if name not in given else shown(given[name])
            raise CaseError(f"{where}.{name} = {what}: must be one of {', '.join(EVENLY)}, all of them given")
    low, high = (_number(given[name], f"{where}.{name}") for name in EVENLY[:2])
    number = _count(given["number"], f"{where}.number", 2)
    if KEYS[key].low is None or low == high:
        raise CaseError(f"{where}: from, to must be two different numbers, of a key that is a number")
    return [round(float(value), 12) for value in np.linspace(low, high, number)]


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise CaseError(f"{where} = {shown(value)}: must be a number")
    return float(value)


def _count(value: Any, where: str, least: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= MOST:
        raise CaseError(f"{where} = {shown(value)}: must be a whole number between {least} and {MOST}")
    return value


def _varied(file: TomlFile) -> list[Axis]:
    """One [vary] as an axis."""
    content = file.data.get("vary")
    if content is None:
        return []
    if not isinstance(content, Mapping):
        raise CaseError(f"{file.where('vary')}[[vary]]: must be one [vary], or [axes], where study.want is given")
    key = _known(content.get("key"), f"{file.where('vary', 'key')}vary.key")
    origin = f"{file.where('vary', 'values')}vary.values: "
    values = _values(content.get("values"), f"{origin}{key}", key)
    return [Axis(key, tuple(Place({key: value}, origin) for value in values))]


def _known(key: Any, where: str) -> str:
    if not isinstance(key, str) or key not in KEYS:
        hint = did_you_mean(str(key), {name: name for name in KEYS})
        raise CaseError(f"{where} = {shown(key)}: must be one of the keys of a case{hint}")
    return key


def _rows(file: TomlFile) -> list[Axis]:
    """The one axis of [axes.rows]."""
    rows = file.data.get("axes", {}).get("rows")
    if rows is None:
        return []
    ways = {"values": ("keys", "values"), "csv": ("csv",), **{name: (name, "seed", "between") for name in DESIGNS}}
    if not isinstance(rows, Mapping):
        raise CaseError(f"{file.where('axes', 'rows')}axes.rows = {shown(rows)}: must be a table, written [axes.rows]")
    way = [name for name in ways if name in rows]
    if len(way) != 1:
        raise CaseError(f"{file.where('axes', 'rows')}[axes.rows]: must give one of {', '.join(ways)}")
    for name, value in rows.items():
        if name not in ways[way[0]]:
            where = f"{file.where('axes', 'rows', name)}axes.rows.{name} = {shown(value)}"
            raise CaseError(f"{where}: must be one of {', '.join(ways[way[0]])}")
    read = {"values": _paired, "csv": _of_csv}.get(way[0], _design)
    return [Axis(ROW, tuple(read(file, rows)))]


def _paired(file: TomlFile, rows: Mapping[str, Any]) -> list[Place]:
    origin = f"{file.where('axes', 'rows', 'values')}axes.rows.values: "
    keys = rows.get("keys")
    if not isinstance(keys, list) or not keys or len({str(key) for key in keys}) < len(keys):
        where = f"{file.where('axes', 'rows', 'keys')}axes.rows.keys"
        raise CaseError(f"{where} = {shown(keys)}: must be a list of one key or more, none twice")
    for key in keys:
        _known(key, f"{file.where('axes', 'rows', 'keys')}axes.rows.keys")
    values = rows["values"]
    if not isinstance(values, list) or not values:
        raise CaseError(f"{origin}{shown(values)}: must be a list of one row or more")
    for number, row in enumerate(values, start=1):
        if not isinstance(row, list) or len(row) != len(keys):
            raise CaseError(f"{origin}row {number} = {shown(row)}: must be a list of {len(keys)} values, one a key")
    return [Place(dict(zip(keys, row, strict=True)), f"{origin}row {at}: ") for at, row in enumerate(values, start=1)]


def _of_csv(file: TomlFile, rows: Mapping[str, Any]) -> list[Place]:
    """A table beside the study file, keys in its first line."""
    name = rows["csv"]
    if not isinstance(name, str) or not name.strip():
        raise CaseError(f"{file.where('axes', 'rows', 'csv')}axes.rows.csv = {shown(name)}: must be the name of a file")
    path = file.path.parent / Path(name)
    lines = csv.reader(read_text(path).splitlines(), strict=True)
    found: list[Place] = []
    try:
        keys = [cell.strip() for cell in next(lines, [])]
        for key in keys or [""]:
            _known(key, f"{path}:1: column")
        if len(set(keys)) < len(keys):
            raise CaseError(f"{path}:1: columns = {shown(keys)}: must not be given twice")
        for row in lines:
            at = f"{path}:{lines.line_num}: "
            if not any(cell.strip() for cell in row):
                continue
            if len(row) != len(keys):
                raise CaseError(f"{at}{len(row)} values: must be {len(keys)}, one a column")
            found.append(Place({key: _cell(cell) for key, cell in zip(keys, row, strict=True)}, at))
    except csv.Error as error:
        raise CaseError(f"{path}:{lines.line_num}: not a table: {error}") from None
    if not found:
        raise CaseError(f"{path}: no rows: must hold one or more under its first line")
    return found


def _cell(text: str) -> Value:
    try:
        return float(text)
    except ValueError:
        return text.strip()


def _design(file: TomlFile, rows: Mapping[str, Any]) -> list[Place]:
    """Points spread evenly over ranges of keys."""
    word = next(name for name in DESIGNS if name in rows)
    number = _count(rows[word], f"{file.where('axes', 'rows', word)}axes.rows.{word}", 1)
    if word == "sobol" and number & (number - 1):
        where = f"{file.where('axes', 'rows', word)}axes.rows.{word}"
        raise CaseError(f"{where} = {number}: must be a power of two: other numbers are not spread evenly")
    seed = _count(rows.get("seed"), f"{file.where('axes', 'rows', 'seed')}axes.rows.seed", 0)
    ranges = rows.get("between")
    if not isinstance(ranges, Mapping) or not ranges:
        where = f"{file.where('axes', 'rows', 'between')}axes.rows.between"
        raise CaseError(f"{where} = {shown(ranges)}: must be a table of keys, each with its [low, high]")
    if any(isinstance(value, Mapping) for value in ranges.values()):
        ranges = flatten(ranges, lambda *names: f"{file.where('axes', 'rows', 'between', *names)}axes.rows.between.")
    origin = f"{file.where('axes', 'rows', 'between')}axes.rows.between."
    low, high = np.array([_range(key, each, origin) for key, each in ranges.items()]).T
    engine = {"latin_hypercube": qmc.LatinHypercube, "sobol": qmc.Sobol}[word]
    unit = engine(len(ranges), seed=np.random.default_rng(seed)).random(number)
    points = low + unit * (high - low)
    return [Place(dict(zip(ranges, map(float, point), strict=True)), origin) for point in points]


def _range(key: str, each: Any, origin: str) -> tuple[float, float]:
    if key not in KEYS or KEYS[key].low is None:
        raise CaseError(f"{origin}{key} = {shown(each)}: must be a key of a case that is a number")
    if not isinstance(each, list) or len(each) != 2:
        raise CaseError(f"{origin}{key} = {shown(each)}: must be [low, high]")
    low, high = (_number(value, f"{origin}{key}") for value in each)
    if not low < high:
        raise CaseError(f"{origin}{key} = {shown(each)}: must be [low, high], low below high")
    return low, high
