"""A study of many cases as its file says it: a base case, axes, draws, and what is wanted of each case.

[study]            title, question, want = ["peak"]         others: rivals, band, onset, cone (`outcome.wanted`)
[case.TABLE]       keys that differ from the defaults
[axes], [random]   what is varied (`axes`) and what is drawn (`draws`)

A file with `want`, [axes] or [random] is one of these. Every case is checked before the first is solved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import product
from pathlib import Path
from typing import Any

from ..case.file import CaseError, Settings, flatten, settings_from, settings_id
from ..case.toml import TomlFile, did_you_mean, read_toml, shown
from ..command.plain_text import one_line
from ..outcome.wanted import WANTS
from .axes import Axis, read_axes
from .draws import Draws, drawn_values, read_draws

TABLES = ("study", "case", "axes", "random", "grid", "vary")
STUDY = ("title", "question", "want")
DRAW = "draw"
MODEL = "numerics.model"


@dataclass(frozen=True, slots=True)
class ManyCase:
    """One case. place : along each axis, then the draw.  varied : keys with their values.  id : of its settings."""

    place: tuple[int, ...]
    varied: Mapping[str, float | str]
    id: str


@dataclass(frozen=True, slots=True)
class ManyStudy:
    """A study as read and checked. given : keys that all cases share.  cases : in order, the last dimension fastest."""

    title: str
    question: str
    want: tuple[str, ...]
    given: Mapping[str, Any]
    axes: tuple[Axis, ...]
    draws: Draws | None
    cases: tuple[ManyCase, ...]

    @property
    def dims(self) -> dict[str, int]:
        """Dimensions and their lengths."""
        found = {axis.name: len(axis.places) for axis in self.axes}
        return found | ({DRAW: self.draws.number} if self.draws else {})

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys that differ between the cases."""
        drawn = (each.key for each in self.draws.randoms) if self.draws else ()
        return (*(key for axis in self.axes for key in axis.keys), *drawn)

    def settings(self, case: ManyCase) -> Settings:
        """The whole settings of a case."""
        return settings_from({**self.given, **case.varied})


def read_many(path: Path, level: str | None = None) -> ManyStudy:
    """Read a study file and check every case of it; `level` overrides numerics.level. Raises CaseError."""
    file = read_toml(path)
    _check_tables(file)
    given = flatten(file.data.get("case", {}), lambda *names: file.where("case", *names))
    if MODEL in given:
        where = file.where("case", *MODEL.split("."))
        raise CaseError(
            f"{where}case.{MODEL} = {shown(given[MODEL])}: must be left out: study.want says what is solved"
        )
    if level is not None:
        given["numerics.level"] = level
    title, question = (_text(file, name) for name in ("title", "question"))
    want, axes, draws = _want(file), read_axes(file), read_draws(file)
    _check_keys(file, given, axes, draws)
    return ManyStudy(title, question, want, given, axes, draws, tuple(_cases(file, given, axes, draws)))


def _check_tables(file: TomlFile) -> None:
    for table, content in file.data.items():
        if table not in TABLES:
            hint = did_you_mean(table, {name: name for name in TABLES})
            allowed = f"must be one of {', '.join(TABLES)} where study.want, [axes] or [random] is given"
            raise CaseError(f"{file.where(table)}[{table}]: unknown table: {allowed}{hint}")
        if table in ("study", "case") and not isinstance(content, Mapping):
            raise CaseError(f"{file.where(table)}{table} = {shown(content)}: must be a table, written [{table}]")
    for name, value in file.data.get("study", {}).items():
        if name not in STUDY:
            where = f"{file.where('study', name)}study.{name} = {shown(value)}"
            raise CaseError(f"{where}: unknown key: must be one of {', '.join(STUDY)}")


def _text(file: TomlFile, name: str) -> str:
    value = file.data.get("study", {}).get(name)
    if not isinstance(value, str) or not one_line(value):
        what = "missing" if value is None else shown(value)
        raise CaseError(f"{file.where('study', name)}study.{name} = {what}: must be a text in quotes")
    return one_line(value)


def _want(file: TomlFile) -> tuple[str, ...]:
    """What is wanted, in the order of WANTS."""
    given = file.data.get("study", {}).get("want", ["peak"])
    if not isinstance(given, list) or not given or any(each not in WANTS for each in given):
        where = f"{file.where('study', 'want')}study.want = {shown(given)}"
        raise CaseError(f"{where}: must be a list of some of {', '.join(WANTS)}")
    return tuple(want for want in WANTS if want in given)


def _check_keys(file: TomlFile, given: Mapping[str, Any], axes: tuple[Axis, ...], draws: Draws | None) -> None:
    """No key twice, none of how far a case is solved, and something to vary."""
    places = {key: axis.places[0].origin for axis in axes for key in axis.keys}
    randoms = {each.key: each.origin for each in draws.randoms} if draws else {}
    if not places and not randoms:
        raise CaseError(f"{file.path}: must vary something: [axes], [random], [grid] or [vary]")
    for key, origin in (*places.items(), *randoms.items()):
        if key == MODEL:
            raise CaseError(f"{origin}{key}: must be left out: study.want says what is solved")
        if key in given and key != "numerics.level":
            where = file.where("case", *key.split("."))
            raise CaseError(
                f"{where}case.{key} = {shown(given[key])}: must be left out where {_table(origin)} gives it"
            )
    if twice := next((key for key in randoms if key in places), ""):
        raise CaseError(f"{randoms[twice]}{twice}: must be left out where an axis gives it")


def _table(origin: str) -> str:
    """The table that an origin names."""
    return f"[{origin.rpartition(': ')[2].rstrip('. ') or 'axes'}]"


def _cases(file: TomlFile, given: Mapping[str, Any], axes: tuple[Axis, ...], draws: Draws | None) -> Iterator[ManyCase]:
    """Every case, checked."""
    normals = [draws.normals(number) for number in range(draws.number)] if draws else []
    drawn_at = {each.key: each.origin.rpartition("random.")[0] for each in draws.randoms} if draws else {}
    for places in product(*(range(len(axis.places)) for axis in axes)):
        at = [axis.places[place] for axis, place in zip(axes, places, strict=True)]
        values = {**given, **{key: value for place in at for key, value in place.values.items()}}
        origins = {key: place.origin for place in at for key in place.values}
        if draws is None:
            yield _case(places, _checked(file, values, origins), tuple(origins))
            continue
        for number, normal in enumerate(normals):
            origins |= {key: f"{place}draw {number + 1} of random." for key, place in drawn_at.items()}
            check = partial(_checked, file, origins=origins)
            yield _case(
                (*places, number), check({**values, **drawn_values(draws, normal, values, check)}), tuple(origins)
            )


def _case(place: tuple[int, ...], settings: Settings, keys: tuple[str, ...]) -> ManyCase:
    return ManyCase(place, {key: settings[key] for key in keys}, settings_id(settings))


def _checked(file: TomlFile, given: Mapping[str, Any], origins: Mapping[str, str]) -> Settings:
    def origin(name: str) -> str:
        return origins.get(name) or file.where("case", *name.split("."))

    return settings_from(given, origin)
