"""A study: one key of the case varied over values, all else the same; read, checked, solved, tabled, drawn, explained.

[study]            title, question
[case.placement]   any keys of a case file that differ from the defaults (and so on for the other tables)
[vary]             key = "placement.angle_deg", values = [-20, 0, 20]
[strip]            values = [-20, 20]: cases whose stress is drawn side by side (optional)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .casefile import KEYS, CaseError, Settings, flatten, settings_from
from .runner import Done, Job, case_folder, run_cases
from .store import only_run, write_csv, write_json, write_text
from .tomlfile import TomlFile, did_you_mean, read_toml, shown

if TYPE_CHECKING:
    from rich.console import Console

KNOWN = {"study": ("title", "question"), "case": (), "vary": ("key", "values"), "strip": ("values",)}
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


@dataclass(frozen=True, slots=True)
class Study:
    """A study as read and checked: a job for each value of `key`."""

    title: str
    question: str
    key: str
    jobs: tuple[Job, ...]

    def value(self, job: Job) -> float | str:
        """The varied value of a job."""
        return job.settings[self.key]


def shipped_studies() -> dict[str, Path]:
    """Studies that come with the package, by name."""
    return {Path(item.name).stem: Path(str(item)) for item in files(__package__).iterdir() if item.name[-5:] == ".toml"}


def read_study(path: Path, level: str | None = None) -> Study:
    """Read a study file and check every case of it; `level` overrides numerics.level. Raises CaseError."""
    file = read_toml(path)
    _check_tables(file)
    key = _text(file, "vary", "key")
    if key not in KEYS:
        hint = did_you_mean(key, {name: name for name in KEYS})
        raise CaseError(f"{file.where('vary', 'key')}vary.key = {shown(key)}: must be one of {', '.join(KEYS)}{hint}")
    given = flatten(file.data.get("case", {}), lambda *parts: file.where("case", *parts))
    if level is not None:
        given["numerics.level"] = level
    if key in given:
        where = file.where("case", *key.split("."))
        raise CaseError(f"{where}case.{key} = {shown(given[key])}: must be left out where vary.key names it")
    cases = _checked(file, key, given, "vary", _values(file, "vary"))
    kept = _checked(file, key, given, "strip", _values(file, "strip")) if "strip" in file.data else []
    for case in kept:
        if case not in cases:
            allowed = ", ".join(shown(settings[key]) for settings in cases)
            raise CaseError(
                f"{file.where('strip', 'values')}strip.values: {shown(case[key])}: must be one of {allowed}"
            )
    jobs = tuple(Job(f"{key} = {shown(case[key])}", case, keep=case in kept) for case in cases)
    return Study(_text(file, "study", "title"), _text(file, "study", "question"), key, jobs)


def _check_tables(file: TomlFile) -> None:
    for table, content in file.data.items():
        if table not in KNOWN:
            hint = did_you_mean(table, {name: name for name in KNOWN})
            raise CaseError(f"{file.where(table)}[{table}]: unknown table: must be one of {', '.join(KNOWN)}{hint}")
        if not isinstance(content, dict):
            raise CaseError(f"{file.where(table)}{table} = {shown(content)}: must be a table, written [{table}]")
        for name, value in content.items():
            if table != "case" and name not in KNOWN[table]:
                allowed = ", ".join(KNOWN[table])
                where = file.where(table, name)
                raise CaseError(f"{where}{table}.{name} = {shown(value)}: unknown key: must be one of {allowed}")


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

    rows = []
    for case in done:
        record = {**case.record, "level": case.record["case"]["numerics.level"]} if case.record else {}
        found = [record.get(name) for name in COLUMNS]
        rows.append([study.value(case.job), *found, case.problem, case.job.id, CAUTION])
    write_csv(out / "table.csv", (study.key, *COLUMNS, "problem", "case_id", "caution"), rows)
    whole = {
        "title": study.title,
        "question": study.question,
        "key": study.key,
        "caution": CAUTION,
        "records": [case.record for case in done if case.record],
        "problems": [{study.key: study.value(case.job), "problem": case.problem} for case in done if case.problem],
    }
    write_json(out / "outcomes.json", whole)


def _write_findings(study: Study, done: Sequence[Done], out: Path) -> None:
    """Words and figures from the solved cases; nothing where none was solved."""
    from .figures import stress_strip, sweep_figure
    from .record import CAUTION
    from .why import explain

    records = [case.record for case in done if case.record]
    if not records:
        return
    words = explain(records, study.key).strip()
    if CAUTION not in words:
        words += f"\n\n{CAUTION}"
    write_text(out / "why.txt", f"{study.title}\n{study.question}\n\n{words}\n")
    sweep_figure(records, study.key, study.title, out / "sweep.png")
    kept = [case_folder(out, case.job) for case in done if case.record and case.job.keep]
    if kept:
        stress_strip(kept, study.key, out / "stress_strip.png")
