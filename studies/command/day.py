"""A day of pulls on the command line: plan it, compare what came, learn from it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..case.file import CaseError, checked_overrides
from ..outcome.data import LOADS
from .folders import find, out_option, ready, report_unsolved, written_to
from .many import jobs_of
from .plain_text import one_line
from .screen import console, print_cautions
from .tables import print_table, tell

if TYPE_CHECKING:
    from rich.console import Console

    from ..field.compare import Comparison

CODES = "Exit codes: 0 done, 1 a pull could not be solved, 2 bad input or a folder that cannot be written, 130 stopped."
draws_option = click.option(
    "--draws", type=click.IntRange(0, 10_000), default=100, show_default=True, help="Of each placement; 0: none."
)
seed_option = click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Of draws and order.")
set_option = click.option(
    "--set", "overrides", metavar="KEY=VALUE", multiple=True, help="A key of the case, for all pulls; may be repeated."
)
skip_option = click.option(
    "--skip-bad", is_flag=True, help="Leave bad rows out instead of stopping; they are listed all the same."
)
jobs_option = click.option("--jobs", metavar="N", help="Processes; without it one for each core.")


@click.command(epilog=CODES, short_help="Plan a day of pulls: what to expect, whether the rig suffices, a field sheet.")
@click.argument("table_file", metavar="DAY.csv")
@out_option("the table")
@click.option("--rig", "rig_file", metavar="RIG.toml", type=click.Path(path_type=Path), help="The hauling rig.")
@set_option
@draws_option
@seed_option
@jobs_option
@skip_option
def plan(
    table_file: str,
    out: str | None,
    rig_file: Path | None,
    overrides: tuple[str, ...],
    draws: int,
    seed: int,
    jobs: str | None,
    skip_bad: bool,
) -> None:
    """Plan a day of pulls.

    DAY.csv is a table with one pull a row (CSV, XLSX or Parquet; `icecone example --day angle_day` prints one), or the
    name of a day that comes with icecone: {days}. Says for each pull what to expect and what gives way first, with
    which load cell, links and anchor must reckon, how far the load point moves, who can haul it, how far apart
    placements must be, and how many repeats tell two of them apart. Loads are in kN. Writes into the folder: plan.csv
    (the same table, to be filled in and given to `icecone compare`), plan.md, plan.png, power.png and the field sheet,
    field_sheet.pdf and .html.
    RIG.toml: `icecone example --rig`; `--set rig.cell_kN=10` changes a key of it.

    Example: icecone plan angle_day --set ice.kind=bubbly_glacier --set rig.people=4
    """
    from ..field.rig import read_rig
    from ..field.run_plan import run_plan
    from ..field.table import read_table

    path = find(table_file, days(), "day")
    of_rig = [text for text in overrides if text.strip().startswith("rig.")]
    changed = checked_overrides([text for text in overrides if text not in of_rig])
    rig, table = read_rig(rig_file, of_rig), read_table(path, skip_bad)
    left_out(table.problems)
    folder = ready(out, path.stem)
    found, tellings = run_plan(table, rig, folder, console(stderr=True), draws, seed, changed, jobs_of(jobs))
    _print_plan(found, tellings)
    written_to(folder)
    unsolved = sum(pull.middle_kN is None and pull.prediction.settings is not None for pull in found.pulls)
    report_unsolved(unsolved, len(found.pulls), "pull")


def _print_plan(found: Any, tellings: Any) -> None:
    from ..outcome.cautions import CAUTION, HIGH_ENERGY, PULL_CAUTION
    from ..words import day_plan as words

    screen = console()
    tell(screen, words.answer(found), style="bold")
    if found.predicted:
        print_table(screen, words.HEADS, words.table(found), words.drawn_words(found))
    for text in (*words.unpredicted(found), *words.findings(found, words.MOST), *words.repeats(tellings)[: words.MOST]):
        tell(screen, text)
    print_cautions(screen, (HIGH_ENERGY, PULL_CAUTION, CAUTION))


@click.command(epilog=CODES, short_help="Measured pulls beside predicted ones, and what they teach.")
@click.argument("table_file", metavar="TABLE.csv")
@out_option("the table")
@click.option(
    "--against",
    type=click.Choice(("limit", *LOADS)),
    default="peak",
    show_default=True,
    help="Predicted load that the measured ones are held against.",
)
@click.option("--fit", "keys", metavar="KEY", multiple=True, help="Fit this input to the pulls; up to three.")
@set_option
@draws_option
@seed_option
@jobs_option
@skip_option
def compare(
    table_file: str,
    out: str | None,
    against: str,
    keys: tuple[str, ...],
    overrides: tuple[str, ...],
    draws: int,
    seed: int,
    jobs: str | None,
    skip_bad: bool,
) -> None:
    """Hold a table of measured pulls against the model.

    TABLE.csv has one pull a row (CSV, XLSX or Parquet), as `icecone plan` writes it, or is the name of a table that
    comes with icecone: {tables}. What a row leaves open takes the default of the case file and is listed as assumed. A
    pull that ended by hanger, sling, the cell's limit or the rig counts as a bound: its peak is at least that. Says
    whether the model is biased, whether its ranges are honest, in which order and by which mode pulls gave way, which
    rows lie farthest off and which input would explain them. `--fit KEY` fits an input within its published range
    (ice.K_IC_kPa_sqrt_m, ice.compressive_MPa, assumed.crushing_share and others), says what the pulls cannot tell
    apart, and which pull would teach most next. Loads are in kN. Writes into the folder: comparison.csv, .md, .png,
    by_angle.png, fit.png, fit.json.

    Example: icecone compare invented_day --fit ice.K_IC_kPa_sqrt_m --fit assumed.crushing_share
    """
    from ..field.run_compare import run_compare
    from ..field.table import read_table, shipped_tables

    path = find(table_file, shipped_tables(), "table")
    table, changed = read_table(path, skip_bad), checked_overrides(overrides)
    left_out(table.problems)
    folder = ready(out, path.stem)
    found, learnt = run_compare(
        table,
        folder,
        console(stderr=True),
        against=against,
        draws=draws,
        seed=seed,
        changed=changed,
        fit=keys,
        jobs=jobs_of(jobs),
    )
    print_comparison(console(), found, learnt.lines if learnt else ())
    written_to(folder)
    report_unsolved(len(found.failed), len(found.pairs), "pull")


def print_comparison(screen: Console, found: Comparison, learnt: Sequence[str] = ()) -> None:
    """The answer, each row, the statistics, what lies farthest off, what was learnt, and the cautions."""
    from ..words import comparison as words

    tell(screen, words.answer(found), style="bold")
    title = f"{found.name}: measured beside predicted {words.against_words(found)}"
    rows = [words.row_cells(pair) for pair in found.pairs]
    heads: Sequence[str] = words.HEADS
    flag = words.HEADS.index("flag")
    if len(of := {row[flag] for row in rows}) == 1 and (each := of.pop()):  # said once, not in every row
        heads, rows = (*heads[:flag], *heads[flag + 1 :]), [(*row[:flag], *row[flag + 1 :]) for row in rows]
        title += f"; all rows: {each}"
    print_table(screen, heads, rows, title)
    whole = words.agreement_lines(found.whole) if found.whole else []
    for text in (*words.unpredicted(found), *whole, *words.group_lines(found), *words.worst_lines(found), *learnt):
        tell(screen, one_line(text))
    print_cautions(screen, words.cautions(found))


@click.command(epilog=CODES, short_help="Pushes of a pin: which ice goes, and what crushing takes.")
@click.argument("sheet_file", metavar="PUSHES.csv")
@out_option("the sheet")
@click.option("--ice", "kind", default="sound_glacier", show_default=True, help="Kind of ice of the block.")
def pin(sheet_file: str, out: str | None, kind: str) -> None:
    """Fit the law of the wall to a stiff pin pushed sideways through ice.

    It settles what pulls of tubes cannot: which ice in front comes out at which tilt, how much crushing takes, whether
    the rate matters. PUSHES.csv is a file, or the name of a sheet that comes with icecone: invented_pushes. `icecone
    example --day pin_push` prints an empty one, `--protocol` how it is done.
    """
    from ...materials import ice_names
    from ..field.days import shipped_pushes
    from ..field.run_pin import run_pin

    if kind not in ice_names():
        raise CaseError(f"--ice = {kind!r}: must be one of {', '.join(ice_names())}")
    sheet = find(sheet_file, shipped_pushes(), "sheet")
    folder = ready(out, sheet.stem)
    settled, cautions = run_pin(sheet, kind, folder)
    for text in settled.words:
        tell(console(), text)
    written_to(folder)
    print_cautions(console(), cautions)


def example_day(name: str | None, protocol: bool) -> str:
    """The table of a day that comes with icecone, or its protocol; without a name the file of a rig.

    Raises CaseError for a day that there is not.
    """
    from ..field.days import day_text
    from ..field.rig import rig_example

    return rig_example() if name is None else day_text(name, ".md" if protocol else ".csv")


def days() -> dict[str, Path]:
    """Days of pulls that come with the package, by name."""
    from ..field.days import PIN, shipped_days

    return {name: path for name, path in shipped_days().items() if name != PIN}


def left_out(problems: Sequence[str]) -> None:
    """Say which rows are left out."""
    for problem in problems:
        click.echo(f"icecone: left out: {problem}", err=True)
