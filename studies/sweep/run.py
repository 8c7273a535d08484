"""Runs a study: solves its cases, writes its tables, its words and the pictures that its model calls for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..files.answer import answer
from ..files.store import write_csv, write_json, write_text
from ..outcome.cautions import CAUTION
from ..outcome.data import Outcome
from ..outcome.models import asked, load
from ..outcome.table import cells, columns
from .runner import Done, Job, case_folder, run_cases
from .study import Study

if TYPE_CHECKING:
    from rich.console import Console


def run_study(study: Study, out: Path, console: Console) -> list[Done]:
    """Solve the study into a folder (`sweep.runner`), then write table.csv, outcomes.json, why.txt and the
    figures.

    Returns one Done a case, as `Study.jobs`.
    Raises OSError if a file cannot be written, files.lock.Busy if another run holds the folder.
    """
    with answer(out, "study", ("table.csv", "outcomes.json", "why.txt", "sweep.png")) as stage:
        done = run_cases(study.jobs, out, console)
        _write_tables(study, done, stage)
        _write_findings(study, done, out, stage)
    return done


def _write_tables(study: Study, done: Sequence[Done], out: Path) -> None:
    several = len(study.series) > 1
    names = columns([case.outcome for case in done if case.outcome])
    rows: list[list[Any]] = []
    problems = []
    for series in study.series:
        for case in series.of(done):
            value = series.value(case.job)
            varied = [case.job.settings[key] for key in study.grid] or [value]
            rows.append([series.key, *varied] if several else varied)
            rows[-1] += [*cells(case.outcome, names), case.problem, case.job.id, CAUTION]
            if case.problem:
                named = {"key": series.key, "value": value} if several else {series.key: value}
                problems.append({**named, "problem": case.problem})
    first = ("varied_key", "value") if several else study.grid or (study.series[0].key,)
    write_csv(out / "table.csv", (*first, *names, "problem", "case_id", "caution"), rows)
    keys = study.grid or tuple(series.key for series in study.series)
    whole = {
        "title": study.title,
        "question": study.question,
        **({"keys": list(keys)} if len(keys) > 1 else {"key": keys[0]}),
        "caution": CAUTION,
        "records": [_with_series(study, case.job, case.outcome) for case in done if case.outcome],
        "problems": problems,
    }
    write_json(out / "outcomes.json", whole)


def _with_series(study: Study, job: Job, outcome: Outcome) -> dict[str, Any]:
    """An outcome; if there are several series with the keys of those that it belongs to."""
    if len(study.series) == 1:
        return outcome.to_dict()
    of = [series.key for series in study.series if job.id in {each.id for each in series.jobs}]
    return {"series": of, **outcome.to_dict()}


def _write_findings(study: Study, done: Sequence[Done], out: Path, stage: Path) -> None:
    """Words and figures from the solved cases, whose fields lie in `out`; nothing if none was solved."""
    from ..figures.stress import stress_strip

    solved = [(series.key, [case.outcome for case in series.of(done) if case.outcome]) for series in study.series]
    solved = [(key, outcomes) for key, outcomes in solved if outcomes]
    if not solved:
        return
    words = _words_and_sweep(study, solved, stage / "sweep.png").strip()
    if CAUTION not in words:
        words += f"\n\n{CAUTION}"
    write_text(stage / "why.txt", f"{study.title}\n{study.question}\n\n{words}\n")
    for series in study.series:
        shown = [case for case in series.of(done) if case.outcome and case.job.keep]
        outcomes = [case.outcome for case in shown if case.outcome]
        strip = asked(outcomes).strip if outcomes else None
        if strip:
            load(strip[1])(outcomes, series.key, stage / strip[0])
        if shown:
            stress_strip([case_folder(out, case.job) for case in shown], series.key, stage / "stress_strip.png")


def _words_and_sweep(study: Study, solved: list[tuple[str, list[Outcome]]], picture: Path) -> str:
    """Draw the sweep; returns the words."""
    if study.grid:
        from ..figures.grid import draw_lines, draw_map
        from ..figures.tube_front import draw_front

        draw = {"lines": draw_lines, "map": draw_map, "front": draw_front}[study.picture]
        return draw(solved[0][1], study.grid, study.title, picture, study.loads)
    if study.base is None:
        (key, outcomes), *_ = solved
        model = asked(outcomes)
        load(model.study_picture)(outcomes, key, study.title, picture)
        for name, also in model.beside.get(key, ()):
            load(also)(outcomes, picture.with_name(name))
        told = [load(words)(outcomes, key) for words in model.study_words]
        return "\n\n".join(filter(None, told))
    from ..figures.series import series_figure
    from ..words.onset import explain_series

    series_figure(solved, study.base, study.title, picture)
    return explain_series(solved)
