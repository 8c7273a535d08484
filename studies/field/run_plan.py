"""Plans a day into a folder: the table to fill, the plan as a page and a picture, how many repeats, the field sheet.

OUT/plan.csv          the day's table with what the plan says beside each pull: fill it in, then `icecone compare`
OUT/plan.md, plan.png the plan            OUT/power.png       how many repeats tell placements apart
OUT/field_sheet.*     as PDF and as a page  OUT/study.sqlite  the pulls that were solved, taken up again
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..case.file import Settings
from ..command.plain_text import one_line
from ..files.answer import answer
from ..files.store import write_csv, write_text
from ..outcome.cautions import CAUTION, HIGH_ENERGY, PULL_CAUTION
from ..sweep.runner import say
from .columns import PLANNED
from .plan import COLUMNS, Plan, Planned, cells, plan_day
from .predict import predict
from .rig import Rig
from .sheet import Sheet, SheetRow
from .sheet_page import write_sheet
from .table import Table
from .tell_apart import Telling, tell_apart

if TYPE_CHECKING:
    from rich.console import Console

FILES = ("plan.csv", "plan.md", "plan.png", "field_sheet.pdf", "field_sheet.html")
TO_FILL = ("peak_kN", "ended", "movement_mm", "time_to_peak_s", "angle_measured_deg", "depth_measured_mm", "notes")


def run_plan(
    table: Table,
    rig: Rig,
    out: Path,
    console: Console,
    draws: int,
    seed: int,
    overrides: Mapping[str, Any] | None = None,
    jobs: int | None = None,
) -> tuple[Plan, tuple[Telling, ...]]:
    """Plan a day into a folder; arguments and errors of `predict`. Raises files.lock.Busy if another run holds it."""
    for text in table.said:
        say(console, f"{table.path}: {text}")
    predictions = predict(table.rows, out, console, draws, seed, overrides, jobs)
    plan = plan_day(one_line(table.path.stem), predictions, rig, draws, seed, table.said)
    tellings = tell_apart(plan, seed) if draws else ()
    with answer(out, "plan", FILES) as stage:
        write_plan(plan, tellings, table, stage)
    return plan, tellings


def write_plan(plan: Plan, tellings: Sequence[Telling], table: Table, folder: Path) -> None:
    """Write FILES, as far as anything is predicted. Raises OSError if one cannot be written."""
    from ..words.day_plan import page

    header, rows = filled(plan, table)
    remarks = [f"plan of {plan.name}, {plan.draws} draws, seed {plan.seed}", CAUTION, PULL_CAUTION, HIGH_ENERGY]
    write_csv(folder / "plan.csv", header, rows, remarks)
    write_text(folder / "plan.md", page(plan, tellings))
    if plan.predicted:
        from ..figures.day_plan import plan_figure

        plan_figure(plan, folder / "plan.png")
    if tellings:
        from ..figures.power_figure import power_figure

        power_figure(tellings, folder / "power.png")
    if plan.predicted:
        write_sheet(sheet_of(plan), folder)


def filled(plan: Plan, table: Table) -> tuple[list[str], list[list[object]]]:
    """Header and rows of the day's table: as it was, with columns to fill in, and what the plan says; in its order."""
    kept = [k for k, name in enumerate(table.header) if not name.startswith(PLANNED)]
    own = [table.header[k] for k in kept]
    empty = [name for name in TO_FILL if name not in own]
    rows = []
    for pull, written in zip(plan.pulls, table.cells, strict=True):
        row: list[object] = [written[k].strip() or None for k in kept]
        rows.append((pull.order, [*row, *[None] * len(empty), *cells(pull, plan.rig)]))
    return [*own, *empty, *COLUMNS], [row for _, row in sorted(rows, key=lambda each: each[0])]


def sheet_of(plan: Plan) -> Sheet:
    """The field sheet of a plan."""
    rows = [_sheet_row(pull, pull.prediction.settings) for pull in plan.in_order if pull.prediction.settings]
    return Sheet(plan.name, tuple(rows), plan.seed)


def _sheet_row(pull: Planned, settings: Settings) -> SheetRow:
    return SheetRow(
        id=pull.id,
        order=pull.order,
        block=pull.block,
        angle_deg=float(settings["placement.angle_deg"]),
        depth_mm=float(settings["placement.embedment_mm"]),
        length_mm=float(settings["tube.length_mm"]),
        od_mm=float(settings["tube.od_mm"]),
        attachment="eye" if settings["placement.attachment"] == "eye" else "tied_off",
        sling_height_mm=float(settings["placement.sling_height_mm"]),
        direction_deg=float(settings["pull.direction_deg"]),
        low_kN=pull.low_kN,
        middle_kN=pull.middle_kN,
        high_kN=pull.high_kN,
        mode=pull.mode,
        largest_kN=pull.largest_kN,
    )
