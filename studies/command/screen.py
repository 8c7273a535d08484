"""What the commands print: tables of outcomes, studies, comparisons, materials and checks."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any

import click

from .plain_text import one_line

if TYPE_CHECKING:
    from rich.console import Console

    from ...validation.check import Check
    from ...validation.pack import Result
    from ..field.compare import Comparison
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
    return "" if value is None else _number(value) if isinstance(value, float) else escape(one_line(str(value)))


def _number(value: float) -> str:
    """Three digits that count; all digits before the point of a larger number."""
    text = f"{value:.3g}"
    return f"{value:.0f}" if "e+0" in text else text


def print_outcome(screen: Console, record: Mapping[str, Any]) -> None:
    """The outcome of one case, a quantity a line."""
    table = _grid("what", "value")
    shares = (
        ("front", "bearing in front"),
        ("threads", "threads"),
        ("back_or_toe", "bearing behind (negative: the lever pushes with the pull)"),
    )
    rows = [
        ("onset of damage (kN)", record["onset_kN"]),
        ("what breaks first", record["onset_mode"]),
        ("where", record["onset_place"]),
        ("how the crack runs", record["onset_crack"]),
        ("compliance at the pull (mm/kN)", record["compliance_mm_per_kN"]),
        *((f"share of the pull: {name}", f"{100 * record[f'share_{key}'] + 0.0:.1f} %") for key, name in shares),
        ("level of the mesh", record["case"]["numerics.level"]),
        ("check: residual of the solve", record["residual"]),
        ("check: error of the force balance", record["balance_error"]),
        ("check: contact iterations", record["contact_iterations"]),
        ("check: mesh quality", record["mesh_quality"]),
        ("unknowns, seconds, solver", f"{record['dofs']}, {record['wall_s']:.1f}, {record['solver']}"),
    ]
    if "cone" in record:
        rows = [*_cone_rows(record), *rows]
    if "peak" in record:
        rows = [*peak_rows(record), *rows]
    for what, value in rows:
        table.add_row(what, _short(value))
    screen.print(table)


def _rival_words(mode: str) -> str:
    """A rival's name: by its stated strength, or what would come next."""
    from ...fem.tube.peak import STATED

    return f"{mode} as stated (kN)" if mode in STATED else f"if that could not: {mode} (kN)"


def peak_rows(record: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """What a peak's outcome shows, in words with units, and the values."""
    peak, hinge = record["peak"], record["first_hinge_kN"]
    rivals = [(each["mode"], each["load_kN"]) for each in peak["rivals"]]
    rows = [
        ("limit of the placement (kN)", record["limit_kN"]),
        ("what gives way first", record["limit_mode"]),
        ("peak of tube and ice alone (kN)", record["peak_kN"]),
        ("what gives way of tube and ice", record["peak_mode"]),
        ("travel of the pull's point up to the peak (mm)", peak["travel_mm"]),
        (f"largest pull up to {peak['early']['travel_mm']:.0f} mm of travel (kN)", peak["early"]["load_kN"]),
        ("first hinge of the tube (kN)", "none" if hinge is None else hinge),
        ("turn of the head up to the peak (deg)", abs(record["head_rotation_deg"])),
        *((_rival_words(mode), load) for mode, load in rivals if mode != record["limit_mode"]),
        *((f"by hand: {name} (kN)", load) for name, load in peak["hand_kN"].items()),
    ]
    rows += [("warning", peak["hand_warning"])] if peak["hand_warning"] else []
    return [*rows, *(("note", text) for text in record["notes"])]


def _cone_rows(record: Mapping[str, Any]) -> list[tuple[str, Any]]:
    cone, breakout = record["cone"], record["cone_breakout_mm"]
    rows = [
        ("peak of the ice's cone (kN)", "none opens" if record["peak_kN"] is None else record["peak_kN"]),
        ("the cone starts at", f"{record['cone_start']}, {record['cone_depth_mm']:.0f} mm deep"),
        ("mean angle of its side from the surface (deg)", record["cone_angle_deg"]),
        ("comes out of the surface (mm from the axis)", "not found" if breakout is None else breakout),
        ("how it was found", cone["route"]),
    ]
    if "least_kN" in cone:
        rows.append(("the least that this cone needs, all modes (kN)", cone["least_kN"]))
    if cone.get("mouth"):
        crack = cone["mouth"]
        words = (
            f"{_number(crack['onset_kN'])}: {crack['kind']}, {crack['length_mm']:.1f} mm by {crack['extent_mm']:.1f}"
        )
        rows.append(("first opening crack at the mouth, coupled criterion (kN)", words))
    if "onset_kN" in cone:
        words = f"{_number(cone['onset_kN'])}, at {cone['onset_start']}"
        rows.append(("its first crack, threads resolved (kN)", words))
        rows.append(("stable until the crack is (mm long)", cone["stable_to_mm"]))
        for thread, load in cone["before_kN"].items():
            rows.append((f"before that, a cone from thread {thread} alone (kN)", load))
    return rows


def print_study(screen: Console, found: Study, done: list[Done]) -> None:
    """The varied value beside what breaks first, a table a series."""
    for number, series in enumerate(found.series):
        title = found.title if number == 0 else None
        records = [case.record or {} for case in series.of(done)]
        peaks: dict[str, str] = {}
        if any("cone" in record for record in records):
            peaks = {"peak_kN": "peak of the cone (kN)", "cone_angle_deg": "angle (deg)"}
        elif any("peak" in record for record in records):
            peaks = {"limit_kN": "limit (kN)", "limit_mode": "what limits"}
            peaks |= {"peak_kN": "peak (kN)", "peak_mode": "what gives way", "first_hinge_kN": "first hinge (kN)"}
        keys = found.grid or (series.key,)
        table = _grid(*keys, *peaks.values(), "onset (kN)", "what breaks first", "where", title=title)
        for case in series.of(done):
            record = case.record or {"onset_mode": "not solved", "onset_place": case.problem}
            values = [case.job.settings[key] for key in keys]
            shown = (value if isinstance(value, str) else f"{value:g}" for value in values)
            names = (*peaks, "onset_kN", "onset_mode", "onset_place")
            cells = (*shown, *(record.get(name) for name in names))
            table.add_row(*(_short(cell) for cell in cells))
        screen.print(table)


def print_routes(screen: Console, records: Sequence[Mapping[str, Any]]) -> None:
    """Peaks and modes by both routes, their ratio, and the caution."""
    from ..outcome.record import CAUTION
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
    from ..field.compare import STATEMENT, summary
    from ..outcome.record import CAUTION

    columns = ("row", "flag", "field peak (kN)", "predicted (kN)", "ratio", "field mode", "predicted mode")
    table = _grid(*columns, title=f"{found.name}: predicted beside field peaks")
    for pair in found.pairs:
        cells = (pair.row.id, pair.row.flag, pair.row.peak_kN, pair.peak_kN, pair.ratio, pair.row.mode, pair.mode)
        table.add_row(*(_short(cell) for cell in cells))
    screen.print(table)
    click.echo(f"{summary(found.pairs)}\n{STATEMENT}\n\n{CAUTION}\n")


def print_checks(screen: Console, checks: Sequence[Check]) -> None:
    """The checks of the validation pack, with their sources."""
    table = _grid("check", "group", "what", "source")
    for check in checks:
        table.add_row(*(_short(cell) for cell in (check.name, check.group, check.title, check.source)))
    screen.print(table)


def print_validation(screen: Console, results: Sequence[Result]) -> None:
    """The table of the validation pack, a quantity a line, and how many checks pass."""
    from ..outcome.record import CAUTION
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
