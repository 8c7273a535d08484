"""What the commands print: tables of outcomes, studies, comparisons, materials and checks."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any

import click

from .numbers import short
from .plain_text import one_line

if TYPE_CHECKING:
    from rich.console import Console

    from ...validation.check import Check
    from ...validation.pack import Result
    from ..field.compare import Comparison
    from ..outcome.data import Outcome
    from ..sweep.runner import Done
    from ..sweep.study import Study
    from ..words.materials import Page

PLAIN_WIDTH, LEAST_WIDTH = 132, 60


def console(stderr: bool = False) -> Console:
    """A console that writes plain text, without control characters, where nobody looks at a terminal.

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


def _grid(*columns: str, title: str | None = None) -> Any:
    from rich.markup import escape
    from rich.table import Table

    table = Table(title=None if title is None else escape(one_line(title)), title_justify="left")
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def _short(value: object) -> str:
    from rich.markup import escape

    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_short(item)}" for key, item in value.items())
    return "" if value is None else short(value) if isinstance(value, float) else escape(one_line(str(value)))


def print_outcome(screen: Console, outcome: Outcome) -> None:
    """The outcome of one case: the answer in a line, then a quantity a line, notes and cautions below."""
    from ..outcome.models import MODELS, load
    from ..words.answer import limit_words
    from .rows import onset_rows

    rows = MODELS[outcome.model].rows
    table = _grid("what", "value")
    for what, value in [*(load(rows)(outcome) if rows else []), *onset_rows(outcome)]:
        table.add_row(what, _short(value))
    screen.print(limit_words(outcome), style="bold", markup=False)
    screen.print(table)


def print_study(screen: Console, found: Study, done: list[Done]) -> None:
    """The varied value beside what breaks first, a table a series."""
    from ..outcome.models import MODELS
    from ..outcome.table import cells

    for number, series in enumerate(found.series):
        title = found.title if number == 0 else None
        outcomes = [case.outcome for case in series.of(done) if case.outcome]
        own = MODELS[outcomes[0].model].shown if outcomes else {}
        keys = found.grid or (series.key,)
        table = _grid(*keys, *own.values(), "onset (kN)", "what breaks first", "where", title=title)
        for case in series.of(done):
            values = [case.job.settings[key] for key in keys]
            shown = (value if isinstance(value, str) else f"{value:g}" for value in values)
            told = cells(case.outcome, (*own, "onset_kN", "onset_mode", "onset_place"))
            if case.outcome is None:
                told[-2:] = ["not solved", case.problem]
            table.add_row(*(_short(cell) for cell in (*shown, *told)))
        screen.print(table)


def print_routes(screen: Console, records: Sequence[Mapping[str, Any]]) -> None:
    """Peaks and modes by both routes, their ratio, and the caution."""
    from ..outcome.cautions import CAUTION
    from ..validating.two_routes import ALLOWED, row

    columns = ("case", "beam on laws (kN)", "mode", "cracks in turn (kN)", "mode", "ratio", "hinge (kN)", "hinge (kN)")
    table = _grid(*columns, title="Two routes to the peak (invented tubes, sound glacier ice)")
    rows = [row(record) for record in records]
    for each in rows:
        table.add_row(*(_short(cell) for cell in each))
    screen.print(table)
    near = sum(abs(float(str(each[5])) - 1) <= ALLOWED for each in rows)
    alike = sum(each[2] == each[4] for each in rows)
    screen.print(f"{near} of {len(rows)} peaks within {ALLOWED:.0%}, {alike} of the same mode. {CAUTION}", markup=False)


def print_comparison(screen: Console, found: Comparison) -> None:
    """Predicted beside field peaks, the summary, what a ratio does not say, and the caution."""
    from ..field.compare import summary
    from ..outcome.cautions import CAUTION, COMPARED

    columns = ("row", "flag", "field peak (kN)", "predicted (kN)", "ratio", "field mode", "predicted mode")
    table = _grid(*columns, title=f"{found.name}: predicted beside field peaks")
    for pair in found.pairs:
        cells = (pair.row.id, pair.row.flag, pair.row.peak_kN, pair.peak_kN, pair.ratio, pair.row.mode, pair.mode)
        table.add_row(*(_short(cell) for cell in cells))
    screen.print(table)
    click.echo(f"{summary(found.pairs)}\n{COMPARED}\n\n{CAUTION}\n")


def print_checks(screen: Console, checks: Sequence[Check]) -> None:
    """The checks of the validation pack, with their sources."""
    table = _grid("check", "group", "what", "source")
    for check in checks:
        table.add_row(*(_short(cell) for cell in (check.name, check.group, check.title, check.source)))
    screen.print(table)


def print_validation(screen: Console, results: Sequence[Result]) -> None:
    """The table of the validation pack, a quantity a line, and how many checks pass."""
    from ..outcome.cautions import CAUTION
    from ..validating.page import COLUMNS, cells, summary

    table = _grid(*COLUMNS)
    for result in results:
        if not result.quantities:
            table.add_row(result.check.name, _short(result.problem), *[""] * 5, result.verdict)
        for at, quantity in enumerate(result.quantities):
            row = (result.check.name if at == 0 else "", quantity.name, *cells(quantity))
            table.add_row(*(_short(cell) for cell in row))
    screen.print(table)
    click.echo(f"{summary(results)}\n\n{CAUTION}\n")


def print_page(screen: Console, page: Page) -> None:
    """A page on materials: a plain table that no narrow screen breaks the names of, and lines below it."""
    from rich import box
    from rich.table import Table

    screen.print(page.title, style="bold", markup=False)
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for number, column in enumerate(page.columns):
        table.add_column(column, overflow="fold", no_wrap=number == 0)
    for row in page.rows:
        table.add_row(*(_short(cell) for cell in row))
    screen.print(table)
    for line in page.below:
        screen.print(line, markup=False)
    screen.print()
