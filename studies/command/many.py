"""Studies of many cases on the command line: who solves them, what is said of them, shards gathered."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from ..outcome.cautions import CAUTION, PULL_CAUTION
from .errors import BadInput, Unsolved
from .numbers import plural
from .plain_text import one_line
from .screen import console, print_cautions

if TYPE_CHECKING:
    from ..sweep.tables import Results

SHARE = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class Way:
    """How a study of many cases is solved. jobs : processes, None: one a core.  scheduler : address of a cluster.

    shard : (3, 20), the third of twenty parts.
    """

    jobs: int | None = None
    scheduler: str | None = None
    shard: tuple[int, int] | None = None


def many_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of a study of many cases."""
    for name, metavar, words in (
        ("--shard", "I/N", "Of a study of many cases: solve part I of N alone, for batch queues; then icecone gather."),
        ("--scheduler", "ADDRESS", "Of a study of many cases: solve on the dask cluster that runs there."),
        ("--jobs", "N", "Of a study of many cases: processes that solve it, a core each. Without it: all cores."),
    ):
        command = click.option(name, metavar=metavar, help=words)(command)
    return command


def jobs_of(jobs: str | None) -> int | None:
    """Processes as an option says it, None: one a core. Raises BadInput."""
    if jobs is not None and (not re.fullmatch(r"\d{1,4}", jobs) or int(jobs) < 1):
        raise BadInput(f"--jobs = {jobs!r}: must be a whole number between 1 and 9999")
    return None if jobs is None else int(jobs)


def way_of(jobs: str | None, scheduler: str | None, shard: str | None) -> Way:
    """The way that the options say. Raises BadInput."""
    processes = jobs_of(jobs)
    if jobs is not None and scheduler is not None:
        raise BadInput(f"--jobs = {jobs}: must be left out where --scheduler is given")
    part = None
    if shard is not None:
        found = re.fullmatch(r"(\d{1,6})/(\d{1,6})", shard)
        if not found or not 1 <= int(found[1]) <= int(found[2]):
            raise BadInput(f"--shard = {shard!r}: must be I/N, I between 1 and N, for example 3/20")
        part = int(found[1]), int(found[2])
    return Way(processes, scheduler, part)


def refuse_options(given: Mapping[str, str | None]) -> None:
    """Raises BadInput for an option of studies of many cases where the study is none."""
    for name, value in given.items():
        if value is not None:
            raise BadInput(f"--{name} = {value!r}: must go with a study of many cases: study.want, [axes] or [random]")


def study_many(path: Path, level: str | None, out: Path, way: Way) -> None:
    """Solve a study of many cases into a folder, print its spread and write its tables."""
    from ..sweep.many import read_many
    from ..sweep.run_many import solve_into, solve_shard

    study, screen = read_many(path, level), console(stderr=True)
    if way.shard is None:
        report(solve_into(study, out, screen, way.jobs, way.scheduler), out)
    else:
        written = solve_shard(study, out, screen, way.shard, way.jobs, way.scheduler)
        click.echo(f"written to {one_line(str(written))}; once all are: icecone gather")


@click.command(short_help="Take the shards of a study of many cases together.")
@click.argument("study_file", metavar="STUDY.toml", type=click.Path(path_type=Path))
@click.option("--out", metavar="DIR", help="Folder that the shards lie in. Without it: out/ and the name of the study.")
@click.option("--level", type=click.Choice(("quick", "standard", "fine")), help="As it was given to the shards.")
def gather(study_file: Path, out: str | None, level: str | None) -> None:
    """Take the shards of a study of many cases together and write its tables.

    The shards study-I-of-N.sqlite of `icecone study STUDY.toml --shard I/N` lie in one folder; they stay. Says how many
    cases are missing. `icecone study` then solves those and no others.
    """
    from ..sweep.many import read_many
    from ..sweep.run_many import gather_shards

    study = read_many(study_file, level)
    folder = Path(out) if out else Path("out") / study_file.stem
    results, missing = gather_shards(study, folder, console(stderr=True))
    report(results, folder)
    if missing:
        raise Unsolved(f"{missing} of {plural(len(study.cases), 'case')} are in no shard: solve the others first")


def report(results: Results, out: Path) -> None:
    """Print the spread of each load, and what gives way. Raises Unsolved if cases could not be solved."""
    from ..sweep.spread import DRAW, spread_of
    from ..sweep.tables import FILES

    screen = console()
    for line in spread_of(results).lines() if DRAW in results.dims else spread_lines(results):
        screen.print(line, markup=False, highlight=False, soft_wrap=True)
    if left := [name for name in FILES if not (out / name).exists()]:
        click.echo(f"not written: {', '.join(left)}: needs pip install 'icecone[tables]'")
    click.echo(f"written to {one_line(str(out))}")
    print_cautions(screen, (PULL_CAUTION, CAUTION))
    if unsolved := sum(bool(row["problem"]) for row in results.rows):
        raise Unsolved(f"{unsolved} of {plural(len(results.rows), 'case')} could not be solved: see the column problem")


def spread_lines(results: Results) -> list[str]:
    """For each load its median and where nine of ten cases lie [kN]; for each mode its share of the cases."""
    found = [f"{results.attributes['title']}: {plural(len(results.rows), 'case')}"]
    for column in results.columns:
        values = results.values(column.name)
        if column.unit == "kN" and np.isfinite(values).any():
            low, middle, high = np.nanquantile(values, SHARE)
            found.append(f"{column.name}: median {middle:.3g}, nine of ten cases {low:.3g} to {high:.3g}")
        elif column.name in ("peak_mode", "onset_mode"):
            words, counts = np.unique([word for word in values if word], return_counts=True)
            told = sorted(zip(counts.tolist(), words.tolist(), strict=True), key=lambda each: (-each[0], each[1]))
            found.append(f"{column.name}: " + ", ".join(f"{word} {count}" for count, word in told))
    return found
