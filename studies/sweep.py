"""A study: keys of the case varied one at a time, all else the same; read, checked, solved, tabled, drawn, explained.

[study]            title, question
[case.placement]   any keys of a case file that differ from the defaults (and so on for the other tables)
[vary]             key = "placement.angle_deg", values = [-20, 0, 20]
[strip]            values = [-20, 20]: cases whose stress is drawn side by side (optional)

Several tables [[vary]] are as many series: each its key over its values, every other key as in [case] (the base case,
which may give a base value to a varied key). [strip] then names its series: key = "placement.angle_deg".
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .casefile import KEYS, CaseError, Settings, flatten, settings_from
from .runner import Done, Job, case_folder, run_cases
from .store import only_run, write_csv, write_json, write_text
from .tomlfile import TomlFile, did_you_mean, read_toml, shown

if TYPE_CHECKING:
    from rich.console import Console

KNOWN = {"study": ("title", "question"), "case": (), "vary": ("key", "values"), "strip": ("key", "values")}
_SERIES = re.compile(r"\s*\[\[\s*[\"']?vary[\"']?\s*\]\]")
_HEADER = re.compile(r"\s*\[[^,]*\]\s*(#.*)?$")
COLUMNS = (
    "onset_kN",
    "onset_mode",
    "onset_place",
    "onset_crack",
    "compliance_mm_per_kN",
    "share_front",
    "share_threads",
    "share_back_or_toe",
    "mouth_tension_MPa_per_kN",
    "mouth_compression_MPa_per_kN",
    "level",
    "dofs",
    "residual",
    "balance_error",
)
CONE_COLUMNS = ("peak_kN", "cone_start", "cone_depth_mm", "cone_angle_deg", "cone_breakout_mm")


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
        return [Done(job, found[job.id].record, found[job.id].problem) for job in self.jobs]


@dataclass(frozen=True, slots=True)
class Study:
    """A study as read and checked. base : the case that several series vary; None where there is one series."""

    title: str
    question: str
    series: tuple[Series, ...]
    base: Settings | None = None

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
    return {Path(item.name).stem: Path(str(item)) for item in files(__package__).iterdir() if item.name[-5:] == ".toml"}


def read_study(path: Path, level: str | None = None) -> Study:
    """Read a study file and check every case of it; `level` overrides numerics.level. Raises CaseError."""
    file = read_toml(path)
    _check_tables(file)
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
        if table != "case" and name not in KNOWN[table]:
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
    """The key of the series that [strip] draws; it may be left out where there is one series."""
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
    if not isinstance(value, str) or not value.strip():
        raise CaseError(f"{file.where(table, name)}{table}.{name} = {shown(value)}: must be a text in quotes")
    return " ".join(value.split())


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


def run_study(study: Study, out: Path, console: Console) -> list[Done]:
    """Solve the study into a folder (`runner`), then write table.csv, outcomes.json, why.txt and the figures.

    Returns one Done a case, as `Study.jobs`.
    Raises OSError where a file cannot be written, store.Busy where another run holds the folder.
    """
    out.mkdir(parents=True, exist_ok=True)
    with only_run(out):
        done = run_cases(study.jobs, out, console)
        _write_tables(study, done, out)
        _write_findings(study, done, out)
    return done


def _write_tables(study: Study, done: Sequence[Done], out: Path) -> None:
    from .record import CAUTION

    several = len(study.series) > 1
    columns = (*CONE_COLUMNS, *COLUMNS) if any("cone" in (case.record or {}) for case in done) else COLUMNS
    rows: list[list[Any]] = []
    problems = []
    for series in study.series:
        for case in series.of(done):
            value, record = series.value(case.job), case.record or {}
            found = {**record, "level": record["case"]["numerics.level"]} if record else {}
            cells = [found.get(name) for name in columns]
            rows.append([series.key, value] if several else [value])
            rows[-1] += [*cells, case.problem, case.job.id, CAUTION]
            if case.problem:
                named = {"key": series.key, "value": value} if several else {series.key: value}
                problems.append({**named, "problem": case.problem})
    first = ("varied_key", "value") if several else (study.series[0].key,)
    write_csv(out / "table.csv", (*first, *columns, "problem", "case_id", "caution"), rows)
    whole = {
        "title": study.title,
        "question": study.question,
        **({"keys": [series.key for series in study.series]} if several else {"key": study.series[0].key}),
        "caution": CAUTION,
        "records": [_with_series(study, case) for case in done if case.record],
        "problems": problems,
    }
    write_json(out / "outcomes.json", whole)


def _with_series(study: Study, case: Done) -> dict[str, Any]:
    """A record; where there are several series with the keys of those that it belongs to."""
    record = case.record or {}
    if len(study.series) == 1:
        return record
    return {"series": [series.key for series in study.series if case.job.id in {j.id for j in series.jobs}], **record}


def _write_findings(study: Study, done: Sequence[Done], out: Path) -> None:
    """Words and figures from the solved cases; nothing where none was solved."""
    from .figures import stress_strip
    from .record import CAUTION

    solved = [(series.key, [case.record for case in series.of(done) if case.record]) for series in study.series]
    solved = [(key, records) for key, records in solved if records]
    if not solved:
        return
    words = _words_and_sweep(study, solved, out / "sweep.png").strip()
    if CAUTION not in words:
        words += f"\n\n{CAUTION}"
    write_text(out / "why.txt", f"{study.title}\n{study.question}\n\n{words}\n")
    for series in study.series:
        shown = [case for case in series.of(done) if case.record and case.job.keep]
        records = [case.record for case in shown if case.record]
        if shown and all("cone" in record for record in records):
            from .conefigures import cones_strip

            cones_strip(records, series.key, out / "cone_strip.png")
        elif shown:
            stress_strip([case_folder(out, case.job) for case in shown], series.key, out / "stress_strip.png")


def _words_and_sweep(study: Study, solved: list[tuple[str, list[dict[str, Any]]]], picture: Path) -> str:
    """Draw the sweep; returns the words."""
    if study.base is None:
        from .figures import sweep_figure
        from .why import explain

        (key, records), *_ = solved
        if all("cone" in record for record in records):
            from .conefigures import peaks_figure
            from .whycone import explain_cones

            peaks_figure(records, key, study.title, picture)
            return explain_cones(records, key)
        sweep_figure(records, key, study.title, picture)
        return explain(records, key)
    from .sweepfigures import series_figure
    from .why import explain_series

    series_figure(solved, study.base, study.title, picture)
    return explain_series(solved)
