"""What the commands print: tables of outcomes, studies, comparisons, materials and checks."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any

from .numbers import plural, short
from .plain_text import one_line
from .tables import print_table, tell

if TYPE_CHECKING:
    from rich.console import Console

    from ...validation.check import Check
    from ...validation.pack import Result
    from ..outcome.data import Outcome
    from ..sweep.runner import Done
    from ..sweep.study import Study
    from ..words.materials import Page

PLAIN_WIDTH, LEAST_WIDTH = 132, 60


def console(stderr: bool = False) -> Console:
    """A console that writes plain text, without control characters, if nobody looks at a terminal.

    There it is PLAIN_WIDTH wide, or as the environment variable COLUMNS says, at least LEAST_WIDTH.
    """
    from rich.console import Console

    if (sys.stderr if stderr else sys.stdout).isatty():
        return Console(stderr=stderr, highlight=False)
    columns = os.environ.get("COLUMNS", "")
    width = max(LEAST_WIDTH, int(columns)) if columns.isdecimal() and len(columns) < 6 else PLAIN_WIDTH
    return Console(stderr=stderr, highlight=False, force_terminal=False, color_system=None, width=width)


def print_any_text() -> None:
    """Let no title and no name stop the printing: what the terminal's encoding has not becomes a question mark."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")


def _cell(value: object) -> str:
    """Plain text of a cell; None is empty."""
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_cell(item)}" for key, item in value.items())
    return "" if value is None else short(value) if isinstance(value, float) else one_line(str(value))


def _cells(values: Iterable[object]) -> list[str]:
    return [_cell(value) for value in values]


def print_outcome(screen: Console, outcome: Outcome) -> None:
    """The outcome of one case: what limits in a line, then a quantity a line; notes and cautions below."""
    from ..outcome.models import MODELS, load
    from ..words.answer import drawn_words, limit_words
    from .rows import onset_rows, remarks

    rows = MODELS[outcome.model].rows
    tell(screen, limit_words(outcome), style="bold")
    for words in drawn_words(outcome):
        tell(screen, words)
    print_table(
        screen,
        ("what", "value"),
        [_cells(row) for row in (*(load(rows)(outcome) if rows else ()), *onset_rows(outcome))],
    )
    for remark in remarks(outcome):
        tell(screen, remark)


def print_cautions(screen: Console, cautions: Iterable[str]) -> None:
    """A paragraph each."""
    for caution in cautions:
        tell(screen, f"\n{caution}")


def print_study(screen: Console, found: Study, done: list[Done]) -> None:
    """The varied value beside what breaks first, a table a series; below it why a case was not solved."""
    from ..outcome.models import MODELS
    from ..outcome.table import cells

    for number, series in enumerate(found.series):
        outcomes = [case.outcome for case in series.of(done) if case.outcome]
        own = MODELS[outcomes[0].model].shown if outcomes else {}
        keys = found.grid or (series.key,)
        rows, problems = [], []
        for case in series.of(done):
            values = [case.job.settings[key] for key in keys]
            shown = [value if isinstance(value, str) else f"{value:g}" for value in values]
            told = cells(case.outcome, (*own, "onset_kN", "onset_mode", "onset_place"))
            if case.outcome is None:
                told[-2] = "not solved"
                problems.append(f"{case.job.name}: not solved: {case.problem}")
            rows.append(_cells((*shown, *told)))
        columns = (*keys, *own.values(), "onset (kN)", "what breaks first", "where")
        print_table(screen, columns, rows, found.title if number == 0 else "", least=len(keys) + min(len(own), 2))
        for problem in problems:
            tell(screen, one_line(problem))


def print_routes(screen: Console, records: Sequence[Mapping[str, Any]]) -> None:
    """Peaks and modes by both routes, their ratio, and the cautions."""
    from ..outcome.cautions import CAUTION, INVENTED_ROUTES, PULL_CAUTION
    from ..validating.two_routes import ALLOWED, row

    columns = ("case", "beam on laws (kN)", "mode", "cracks in turn (kN)", "mode", "ratio")
    loads = ("first fall (kN)", "first fall (kN)", "early (kN)", "early (kN)", "ice gone (mm)", "behind (mm)")
    rows = [row(record) for record in records]
    title = "Two routes to the peak (invented tubes, sound glacier ice)"
    print_table(screen, (*columns, *loads), [_cells((*each[:6], *each[8:])) for each in rows], title)
    near = sum(abs(float(str(each[5])) - 1) <= ALLOWED for each in rows)
    alike = sum(each[2] == each[4] for each in rows)
    tell(screen, f"{near} of {plural(len(rows), 'peak')} within {ALLOWED:.0%}, {alike} of the same mode.")
    print_cautions(screen, (INVENTED_ROUTES, PULL_CAUTION, CAUTION))


def print_turning(screen: Console, records: Sequence[Mapping[str, Any]]) -> None:
    """How each crack that turns ends, what drives it, what crushes the ice, and the cautions."""
    from ..outcome.cautions import CAUTION, INVENTED_ROUTES, PULL_CAUTION
    from ..validating.turning import row

    columns = ("case", "ending", "rises at its end (deg)", "depth there (d)", "first push (kN)", "push there (kN)")
    rows = [row(record) for record in records]
    cells = [_cells((each[0], *each[3:])) for each in rows]
    print_table(screen, (*columns, "crushing (kN)"), cells, "Cracks in front of the tube that turn")
    print_cautions(screen, (INVENTED_ROUTES, PULL_CAUTION, CAUTION))


def print_checks(screen: Console, checks: Sequence[Check]) -> None:
    """The checks of the validation pack, with their sources below."""
    print_table(
        screen, ("check", "group", "what"), [_cells((check.name, check.group, check.title)) for check in checks]
    )
    for check in checks:
        tell(screen, one_line(f"{check.name}: {check.source}"))


def print_validation(screen: Console, results: Sequence[Result]) -> None:
    """The table of the validation pack, a quantity a line; below, what was not run, how many pass, and the caution."""
    from ..outcome.cautions import CAUTION
    from ..validating.page import COLUMNS, cells, summary

    rows = []
    for result in results:
        if not result.quantities:
            rows.append(_cells((result.check.name, *[""] * 6, result.verdict)))
        for at, quantity in enumerate(result.quantities):
            rows.append(_cells((result.check.name if at == 0 else "", quantity.name, *cells(quantity))))
    print_table(screen, COLUMNS, rows)
    for result in results:
        if result.problem:
            tell(screen, one_line(f"{result.check.name}: {result.problem}"))
    tell(screen, summary(results))
    print_cautions(screen, (CAUTION,))


def print_page(screen: Console, page: Page) -> None:
    """A page on materials: a plain table, or lines, and lines below it."""
    tell(screen, page.title, style="bold")
    if not page.prose:
        print_table(screen, page.columns, [_cells(row) for row in page.rows], frame=False)
    for line in (*(" ".join(row) for row in page.rows if page.prose), *page.below):
        tell(screen, line)
    screen.print()
