"""Runs a study: solves its cases, writes its tables, its words and the pictures that its model calls for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..case.quantity import CONE, PEAK, asked
from ..files.answer import answer
from ..files.store import write_csv, write_json, write_text
from .runner import Done, case_folder, run_cases
from .study import Study

if TYPE_CHECKING:
    from rich.console import Console

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
PEAK_COLUMNS = (
    "limit_kN",
    "limit_mode",
    "peak_kN",
    "peak_mode",
    "next_mode",
    "next_kN",
    "margin",
    "first_hinge_kN",
    "head_rotation_deg",
)
CONE_COLUMNS = ("peak_kN", "cone_start", "cone_depth_mm", "cone_angle_deg", "cone_breakout_mm")


def run_study(study: Study, out: Path, console: Console) -> list[Done]:
    """Solve the study into a folder (`sweep.study.runner`), then write table.csv, outcomes.json, why.txt and the
    figures.

    Returns one Done a case, as `Study.jobs`.
    Raises OSError where a file cannot be written, folderlock.Busy where another run holds the folder.
    """
    with answer(out, "study", ("table.csv", "outcomes.json", "why.txt", "sweep.png")) as stage:
        done = run_cases(study.jobs, out, console)
        _write_tables(study, done, stage)
        _write_findings(study, done, out, stage)
    return done


def _write_tables(study: Study, done: Sequence[Done], out: Path) -> None:
    from ..outcome.record import CAUTION

    several = len(study.series) > 1
    kinds = {"cone": CONE_COLUMNS, "peak": PEAK_COLUMNS}
    first_columns = [kinds[kind] for kind in kinds if any(kind in (case.record or {}) for case in done)]
    columns = (*dict.fromkeys(name for names in first_columns for name in names), *COLUMNS)
    rows: list[list[Any]] = []
    problems = []
    for series in study.series:
        for case in series.of(done):
            value, record = series.value(case.job), case.record or {}
            found = {**record, "level": record["case"]["numerics.level"]} if record else {}
            cells = [found.get(name) for name in columns]
            varied = [case.job.settings[key] for key in study.grid] or [value]
            rows.append([series.key, *varied] if several else varied)
            rows[-1] += [*cells, case.problem, case.job.id, CAUTION]
            if case.problem:
                named = {"key": series.key, "value": value} if several else {series.key: value}
                problems.append({**named, "problem": case.problem})
    first = ("varied_key", "value") if several else study.grid or (study.series[0].key,)
    write_csv(out / "table.csv", (*first, *columns, "problem", "case_id", "caution"), rows)
    keys = study.grid or tuple(series.key for series in study.series)
    whole = {
        "title": study.title,
        "question": study.question,
        **({"keys": list(keys)} if len(keys) > 1 else {"key": keys[0]}),
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


def _write_findings(study: Study, done: Sequence[Done], out: Path, stage: Path) -> None:
    """Words and figures from the solved cases, whose fields lie in `out`; nothing where none was solved."""
    from ..figures.stress import stress_strip
    from ..outcome.record import CAUTION

    solved = [(series.key, [case.record for case in series.of(done) if case.record]) for series in study.series]
    solved = [(key, records) for key, records in solved if records]
    if not solved:
        return
    words = _words_and_sweep(study, solved, stage / "sweep.png").strip()
    if CAUTION not in words:
        words += f"\n\n{CAUTION}"
    write_text(stage / "why.txt", f"{study.title}\n{study.question}\n\n{words}\n")
    for series in study.series:
        shown = [case for case in series.of(done) if case.record and case.job.keep]
        records = [case.record for case in shown if case.record]
        if shown and all("cone" in record for record in records):
            from ..figures.cone import cones_strip

            cones_strip(records, series.key, stage / "cone_strip.png")
        elif shown and all("peak" in record for record in records):
            from ..figures.peak import tubes_strip

            tubes_strip(records, series.key, stage / "tube_strip.png")
        elif shown:
            stress_strip([case_folder(out, case.job) for case in shown], series.key, stage / "stress_strip.png")


def _words_and_sweep(study: Study, solved: list[tuple[str, list[dict[str, Any]]]], picture: Path) -> str:
    """Draw the sweep; returns the words."""
    if study.grid:
        from ..figures.grid import draw_lines, draw_map
        from ..figures.tube_front import draw_front

        draw = {"lines": draw_lines, "map": draw_map, "front": draw_front}[study.picture]
        return draw(solved[0][1], study.grid, study.title, picture)
    if study.base is None:
        from ..figures.stress import sweep_figure
        from ..words.onset import explain

        (key, records), *_ = solved
        quantity = asked(records)
        if quantity is CONE:
            from ..figures.cone import peaks_figure
            from ..words.cone import explain_cones

            peaks_figure(records, key, study.title, picture)
            return explain_cones(records, key)
        if quantity is PEAK:
            from ..figures.peak import peaks_by_key
            from ..words.peak import explain_peaks

            peaks_by_key(records, key, study.title, picture)
            if key == "placement.angle_deg":
                from ..figures.chip_paths import chips_by_angle

                chips_by_angle(records, picture.with_name("chip_paths.png"))
            return f"{explain_peaks(records, key)}\n\n{explain(records, key)}"
        sweep_figure(records, key, study.title, picture)
        return explain(records, key)
    from ..figures.series import series_figure
    from ..words.onset import explain_series

    series_figure(solved, study.base, study.title, picture)
    return explain_series(solved)
