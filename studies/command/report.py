"""The command `icecone report`: an answer as one page that opens anywhere."""

from __future__ import annotations

from pathlib import Path

import click

from .folders import written_to
from .plain_text import one_line

CODES = "Exit codes: 0 done, 2 no folder with an answer, or a file that cannot be written, 130 stopped."


@click.command(epilog=CODES, short_help="An answer as one page: opens offline, moves, turns, prints.")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--out", "file", metavar="FILE.html", type=click.Path(path_type=Path), help="Without it: DIR/report.html."
)
def report(folder: Path, file: Path | None) -> None:
    """Make one HTML page of a results folder.

    DIR holds the answer of solve, study, plan, compare or validate. The page opens in any browser of today, offline:
    the question, the answer, what limits; sliders that move the tube, the numbers and the place among the other cases;
    curves, tables, what entered, what is assumed, the case file to copy, the cautions. Nothing is solved anew; a page
    that is there is replaced.

    Example: icecone report out/angle_peak --out lecture.html
    """
    from ..report.build import write_report

    path, size = write_report(folder, file)
    written_to(path)
    click.echo(one_line(f"{size / 1e6:.1f} MB, complete in itself"))
