"""A study: keys of the case varied, all else the same; read, checked, solved, tabled, drawn, explained.

[study]            title, question
[case.placement]   any keys of a case file that differ from the defaults (and so on for the other tables)
[vary]             key = "placement.angle_deg", values = [-20, 0, 20]
[strip]            values = [-20, 20]: cases whose stress is drawn side by side (optional)

Several tables [[vary]] are as many series: each its key over its values, every other key as in [case] (the base case,
which may give a base value to a varied key). [strip] then names its series: key = "placement.angle_deg".

[study]            picture = "lines", "map" or "front" (`figures.grid`, `figures.tube_front`)
                   loads = ["peak"], or others of `outcome.data.LOADS`, side by side (optional)
[grid.placement]   angle_deg = [-20, 0, 20], and so on: every combination of two keys or more, instead of [vary]
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import product
from pathlib import Path
from typing import Any

from ..case.file import KEYS, CaseError, Settings, flatten, settings_from
from ..case.toml import TomlFile, did_you_mean, read_toml, shown
from ..command.plain_text import one_line
from ..outcome.data import LOADS
from .runner import Done, Job

KNOWN = {
    "study": ("title", "question", "picture", "loads"),
    "case": (),
    "vary": ("key", "values"),
    "grid": (),
    "strip": ("key", "values"),
}
PICTURES = ("lines", "map", "front")
_SERIES = re.compile(r"\s*\[\[\s*[\"']?vary[\"']?\s*\]\]")
_HEADER = re.compile(r"\s*\[[^,]*\]\s*(#.*)?$")


@dataclass(frozen=True, slots=True)
class Series:
    """One key over its values: a job for each, in order."""

    key: str
    jobs: tuple[Job, ...]

    def value(self, job: Job) -> float | str:
        """The varied value of a job."""
        return job.settings[self.key]

    def of(self, done: Sequence[Done]) -> list[Done]:
        """Its own cases, in order, out of all cases of the study."""
        found = {case.job.id: case for case in done}
        return [Done(job, found[job.id].outcome, found[job.id].problem) for job in self.jobs]


@dataclass(frozen=True, slots=True)
class Study:
    """A study as read and checked.

    base : the case that several series vary; None if there is one series.  grid : the keys of a grid, whose cases
    are one series; none otherwise.  picture : of a grid, one of PICTURES.  loads : that it shows.
    """

    title: str
    question: str
    series: tuple[Series, ...]
    base: Settings | None = None
    grid: tuple[str, ...] = ()
    picture: str = ""
    loads: tuple[str, ...] = ("peak",)

    @property
    def jobs(self) -> tuple[Job, ...]:
        """The jobs of all series in order, a case that several share once."""
        found: dict[str, Job] = {}
        for job in (job for series in self.series for job in series.jobs):
            first = found.setdefault(job.id, job)
            found[job.id] = replace(first, keep=first.keep or job.keep)
        return tuple(found.values())


def shipped_studies() -> dict[str, Path]:
    """Studies that come with the package, by name."""
    return {
        Path(item.name).stem: Path(str(item))
        for item in files("icecone.studies.shipped").iterdir()
        if item.name[-5:] == ".toml"
    }


def is_many(path: Path) -> bool:
    """Whether a study file is one of many cases (`many`). Raises CaseError if it cannot be read."""
    data = read_toml(path).data
    study = data.get("study")
    return "axes" in data or "random" in data or (isinstance(study, dict) and "want" in study)


def is_design(path: Path) -> bool:
    """Whether a study file is a design search (`demand`). Raises CaseError if it cannot be read."""
    return bool({"require", "choose"} & set(read_toml(path).data))


def read_study(path: Path, level: str | None = None) -> Study:
    """Read a study file and check every case of it; `level` overrides numerics.level. Raises CaseError."""
    file = read_toml(path)
    _check_tables(file)
    if "grid" in file.data:
        return _read_grid(file, level)
    for name in ("picture", "loads"):
        if name in file.data.get("study", {}):
            where = file.where("study", name)
            raise CaseError(f"{where}study.{name} = {shown(file.data['study'][name])}: must go with [grid]")
    parts = _parts(file)
    keys: list[str] = []
    for part in parts:
        keys.append(_varied_key(part, keys))
    given = flatten(file.data.get("case", {}), lambda *names: file.where("case", *names))
    if level is not None:
        given["numerics.level"] = level
    if len(keys) == 1 and keys[0] in given:
        where = file.where("case", *keys[0].split("."))
        raise CaseError(f"{where}case.{keys[0]} = {shown(given[keys[0]])}: must be left out where vary.key names it")
    strip = _strip_key(file, keys)
    series = tuple(_series(part, key, given, strip == key) for part, key in zip(parts, keys, strict=True))
    base = settings_from(given, lambda name: file.where("case", *name.split("."))) if len(keys) > 1 else None
    return Study(_text(file, "study", "title"), _text(file, "study", "question"), series, base)


def _read_grid(file: TomlFile, level: str | None) -> Study:
    """A study of every combination of keys."""
    for table in ("vary", "strip"):
        if table in file.data:
            raise CaseError(f"{file.where(table)}[{table}]: must be left out where [grid] is given")
    values = flatten(file.data["grid"], lambda *names: file.where("grid", *names))
    given = flatten(file.data.get("case", {}), lambda *names: file.where("case", *names))
    if level is not None:
        given["numerics.level"] = level

    def origin(name: str) -> str:
        return file.where("grid" if name in values else "case", *name.split("."))

    if len(values) < 2:
        raise CaseError(f"{file.where('grid')}[grid]: must give two keys or more a list of values")
    for key, each in values.items():
        if not isinstance(each, list) or not each or any(one in each[:at] for at, one in enumerate(each)):
            wanted = "must be a list of one value or more, none twice"
            raise CaseError(f"{origin(key)}grid.{key} = {shown(each)}: {wanted}")
        if key in given:
            raise CaseError(f"{file.where('case', *key.split('.'))}case.{key}: must be left out where [grid] gives it")
    picture = _text(file, "study", "picture")
    if picture not in PICTURES:
        where = file.where("study", "picture")
        raise CaseError(f"{where}study.picture = {shown(picture)}: must be one of {', '.join(PICTURES)}")
    keys = tuple(values)
    jobs: list[Job] = []
    for combination in product(*values.values()):
        settings = settings_from({**given, **dict(zip(keys, combination, strict=True))}, origin)
        job = Job(", ".join(f"{key} = {shown(settings[key])}" for key in keys), settings)
        if any(settings == before.settings for before in jobs):
            raise CaseError(f"{file.where('grid')}[grid]: must not give the same case twice: {job.name}")
        jobs.append(job)
    _check_drawable(file, picture, jobs, keys, origin("numerics.model"))
    title, question = (_text(file, "study", name) for name in ("title", "question"))
    return Study(title, question, (Series(keys[0], tuple(jobs)),), None, keys, picture, _loads(file))


def _loads(file: TomlFile) -> tuple[str, ...]:
    """Loads that a grid's picture shows."""
    loads = file.data["study"].get("loads", ["peak"])
    if not isinstance(loads, list) or not loads or any(load not in tuple(LOADS) for load in loads):
        allowed = f"must be a list of some of {', '.join(LOADS)}"
        raise CaseError(f"{file.where('study', 'loads')}study.loads = {shown(loads)}: {allowed}")
    return tuple(dict.fromkeys(loads))


def _check_drawable(file: TomlFile, picture: str, jobs: Sequence[Job], keys: Sequence[str], model_at: str) -> None:
    """A grid's pictures are of peaks; a front is one of tubes."""
    for job in jobs:
        if (model := job.settings["numerics.model"]) != "peak":
            raise CaseError(f"{model_at}numerics.model = {shown(model)}: must be 'peak' where [grid] is given")
    if picture == "front" and not any(key.startswith("tube.") for key in keys):
        where = file.where("study", "picture")
        raise CaseError(f"{where}study.picture = 'front': must go with a key of the tube in [grid]")


def _check_tables(file: TomlFile) -> None:
    for table in file.data:
        if table not in KNOWN:
            hint = did_you_mean(table, {name: name for name in KNOWN})
            raise CaseError(f"{file.where(table)}[{table}]: unknown table: must be one of {', '.join(KNOWN)}{hint}")
        for part in _parts(file) if table == "vary" else [file]:
            _check_table(part, table)


def _check_table(file: TomlFile, table: str) -> None:
    content = file.data[table]
    if not isinstance(content, dict):
        written = "[vary], or several, written [[vary]]" if table == "vary" else f"[{table}]"
        raise CaseError(f"{file.where(table)}{table} = {shown(content)}: must be a table, written {written}")
    for name, value in content.items():
        if table not in ("case", "grid") and name not in KNOWN[table]:
            allowed = ", ".join(KNOWN[table])
            where = file.where(table, name)
            raise CaseError(f"{where}{table}.{name} = {shown(value)}: unknown key: must be one of {allowed}")


def _parts(file: TomlFile) -> list[TomlFile]:
    """The file once for each [[vary]], the other ones blanked out, so that errors name the right line."""
    tables = file.data.get("vary")
    if not isinstance(tables, list) or not tables:
        return [file]
    parts = []
    for own, table in enumerate(tables):
        lines, number, here = [], -1, True
        for line in file.text.splitlines():
            if _HEADER.match(line):
                number += bool(_SERIES.match(line))
                here = not _SERIES.match(line) or number == own
            lines.append(line if here else "")
        parts.append(TomlFile(file.path, "\n".join(lines), {**file.data, "vary": table}))
    return parts


def _varied_key(file: TomlFile, before: Sequence[str]) -> str:
    """The key of a series; one that an earlier series has is an error."""
    key = _text(file, "vary", "key")
    where = f"{file.where('vary', 'key')}vary.key = {shown(key)}"
    if key not in KEYS:
        raise CaseError(f"{where}: must be one of {', '.join(KEYS)}{did_you_mean(key, {name: name for name in KEYS})}")
    if key in before:
        raise CaseError(f"{where}: must not be given twice: a key has one series")
    return key


def _strip_key(file: TomlFile, keys: Sequence[str]) -> str | None:
    """The key of the series that [strip] draws; it may be left out if there is one series."""
    if "strip" not in file.data:
        return None
    if "key" not in file.data["strip"]:
        if len(keys) == 1:
            return keys[0]
        raise CaseError(f"{file.where('strip')}strip.key: missing: must be one of {', '.join(keys)}")
    key = _text(file, "strip", "key")
    if key not in keys:
        raise CaseError(f"{file.where('strip', 'key')}strip.key = {shown(key)}: must be one of {', '.join(keys)}")
    return key


def _series(file: TomlFile, key: str, given: dict[str, Any], strip: bool) -> Series:
    """A series of checked cases; those that [strip] names keep their fields."""
    cases = _checked(file, key, given, "vary", _values(file, "vary"))
    kept = _checked(file, key, given, "strip", _values(file, "strip")) if strip else []
    for case in kept:
        if case not in cases:
            allowed = ", ".join(shown(settings[key]) for settings in cases)
            raise CaseError(
                f"{file.where('strip', 'values')}strip.values: {shown(case[key])}: must be one of {allowed}"
            )
    return Series(key, tuple(Job(f"{key} = {shown(case[key])}", case, keep=case in kept) for case in cases))


def _text(file: TomlFile, table: str, name: str) -> str:
    value = file.data.get(table, {}).get(name)
    if value is None:
        raise CaseError(f"{file.where(table)}{table}.{name}: missing: must be a text in quotes")
    if not isinstance(value, str) or not one_line(value):
        raise CaseError(f"{file.where(table, name)}{table}.{name} = {shown(value)}: must be a text in quotes")
    return one_line(value)


def _values(file: TomlFile, table: str) -> list[Any]:
    values = file.data.get(table, {}).get("values")
    if not isinstance(values, list) or not values:
        found = "missing" if values is None else shown(values)
        raise CaseError(f"{file.where(table, 'values')}{table}.values = {found}: must be a list of one value or more")
    return values


def _checked(file: TomlFile, key: str, given: dict[str, Any], table: str, values: Sequence[Any]) -> list[Settings]:
    """Settings for each value, in order; the same value twice is an error."""

    def origin(name: str) -> str:
        if name == key:
            return f"{file.where(table, 'values')}{table}.values: "
        return file.where("case", *name.split("."))

    cases: list[Settings] = []
    for value in values:
        case = settings_from({**given, key: value}, origin)
        if case in cases:
            raise CaseError(f"{origin(key)}{key} = {shown(value)}: must not be given twice")
        cases.append(case)
    return cases
