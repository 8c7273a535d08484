"""A design search on the command line."""

from __future__ import annotations

from pathlib import Path

import click

from .errors import BadInput, Unsolved
from .many import Way
from .plain_text import one_line
from .screen import console
from .tables import print_table, tell


def study_design(path: Path, level: str | None, out: Path, way: Way) -> None:
    """Search for the lightest tubes that meet the file's demand; print the answer and write it into a folder.

    Raises Unsolved where none does, BadInput for an option that a search does not take.
    """
    from ..sweep.demand import read_design
    from ..sweep.run_design import run_design
    from ..words.designs import table_of

    if way.shard is not None:
        raise BadInput(f"--shard = {'/'.join(map(str, way.shard))}: must be left out: a search is not cut into parts")
    found = run_design(read_design(path, level), out, console(stderr=True), way.jobs, way.scheduler)
    screen = console()
    heads, rows = table_of(found)
    text = (out / "why.txt").read_text(encoding="utf-8")
    tell(screen, "\n".join(line for line in text.splitlines() if not line.startswith("- ")))  # those are the table's
    if rows:
        print_table(screen, heads, rows, "lightest tubes that meet it" if found.search.met else "the closest tube")
    click.echo(f"written to {one_line(str(out))}")
    if not found.search.met:
        raise Unsolved("none meets the demand: see above")
