"""Solves a list of cases into a folder, one record a case: resumable, and a kill loses one case at most.

    OUT/cases/<id>.json    record with digest (`files.store`)
    OUT/cases/<id>/        outcome.json, fields.vtu, stress.png, if a job keeps its fields

A case is taken from its record if its settings, the code, values and libraries behind it (`files.provenance`) and
the law files that it names (`files.laws`) are the same as now.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

from ..case.file import Settings, settings_id
from ..command.numbers import plural
from ..command.plain_text import one_line
from ..files import provenance
from ..files.answer import staged, withdraw
from ..files.laws import law_changed
from ..files.store import Damaged, make_folder, read_record, write_record
from ..outcome.data import Outcome
from ..outcome.models import solvers
from ..outcome.wanted import shares_work

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

    from ...fem.onset.elastic import ElasticSession

ROOTS = (*solvers(), "icecone.fem.onset.fields")  # what makes an outcome, and the fields that are kept


@dataclass(frozen=True, slots=True)
class Job:
    """A case to solve. name : in words, for messages.  keep : write its fields and picture too."""

    name: str
    settings: Settings
    keep: bool = False

    @property
    def id(self) -> str:
        """Name of its files."""
        return settings_id(self.settings)


@dataclass(frozen=True, slots=True)
class Done:
    """A job with its outcome, or with the problem that kept it from one."""

    job: Job
    outcome: Outcome | None
    problem: str = ""


def stamp() -> str:
    """What a record rests on: version, code, values and libraries."""
    return provenance.stamp(*ROOTS)


def say(console: Console, text: str) -> None:
    """One plain line, not wrapped."""
    console.print(one_line(text), markup=False, highlight=False, soft_wrap=True)


def case_folder(out: Path, job: Job) -> Path:
    """Where the fields of a job lie that keeps them."""
    return out / "cases" / job.id


def run_cases(jobs: Sequence[Job], out: Path, console: Console) -> list[Done]:
    """Solve what is not solved yet; one Done a job, in order. `console` gets progress and messages.

    A case that cannot be solved does not stop the others. Raises OSError if a file cannot be written.
    The caller holds the folder (`files.answer.answer`).
    """
    make_folder(out / "cases")
    unique: dict[str, Job] = {}
    for job in jobs:
        if job.id not in unique or job.keep:
            unique[job.id] = job
    done = {name: old for name, job in unique.items() if (old := _solved_before(job, out, console))}
    if done:
        say(console, f"{len(done)} of {plural(len(unique), 'case')} solved before, taken from {out / 'cases'}")
    _solve_all([job for name, job in unique.items() if name not in done], len(unique), out, console, done)
    return [Done(job, done[job.id].outcome, done[job.id].problem) for job in jobs]


def _solved_before(job: Job, out: Path, console: Console) -> Done | None:
    path = out / "cases" / f"{job.id}.json"
    try:
        record = read_record(path, stamp(), case_folder(out, job) if job.keep else None)
        outcome = None if record is None else Outcome.from_dict(record)
    except ValueError as problem:
        damage = f"{problem}" if isinstance(problem, Damaged) else f"{path}: not a record: {problem}"
        say(console, f"{damage}: not trusted, solving {job.name} again")
        return None
    except OSError as error:
        say(console, f"{path}: cannot be read ({error.strerror}): solving {job.name} again")
        return None
    if outcome is None or outcome.case != job.settings:
        return None
    if changed := law_changed(outcome.laws):
        say(console, f"{path}: the law {changed} is another one now: solving {job.name} again")
        return None
    return Done(job, outcome)


def progress_bar(console: Console) -> Progress:
    """A bar with what is in hand, how many are done, the time and how much of it is left; none without a terminal."""
    from rich import progress as bars

    columns = (bars.TextColumn("{task.description}", markup=False), bars.BarColumn(), bars.MofNCompleteColumn())
    times = (bars.TimeElapsedColumn(), bars.TextColumn("left:"), bars.TimeRemainingColumn())
    return bars.Progress(*columns, *times, console=console, disable=not console.is_terminal)


def _solve_all(jobs: Sequence[Job], total: int, out: Path, console: Console, done: dict[str, Done]) -> None:
    from ...fem.onset.elastic import ElasticSession

    session = ElasticSession()
    alike: dict[Hashable, list[Job]] = {}
    for job in jobs:
        alike.setdefault(shares_work(job.settings, ("onset",)), []).append(job)
    with progress_bar(console) as progress:
        task = progress.add_task("", total=total, completed=total - len(jobs))
        for job in chain.from_iterable(alike.values()):
            progress.update(task, description=job.name)
            start = monotonic()
            done[job.id] = _solve(job, out, partial(say, console), session)
            progress.advance(task)
            if problem := done[job.id].problem:
                say(console, f"{job.name}: not solved: {problem}")
            elif not console.is_terminal:
                say(console, f"solved {len(done)} of {total}: {job.name} ({monotonic() - start:.1f} s)")


def _solve(job: Job, out: Path, tell: Callable[[str], None], session: ElasticSession) -> Done:
    from ...fem.errors import SolveError
    from ...geometry.errors import MeshError
    from ..outcome.models import solve_settings

    folder = case_folder(out, job)
    try:
        outcome, solution = solve_settings(dict(job.settings), tell, session=session)
    except MemoryError:
        return Done(job, None, "out of memory: choose a coarser numerics.level")
    except (SolveError, MeshError) as error:
        return Done(job, None, " ".join(str(error).split()))
    if job.keep:
        from ..files.solution import write_solution

        folder.mkdir(exist_ok=True)
        with staged(folder, "case") as stage:
            write_solution(outcome, solution, stage)
    elif folder.is_dir():
        withdraw(folder)
    write_record(folder.with_name(f"{job.id}.json"), outcome.to_dict(), stamp(), folder if job.keep else None)
    return Done(job, outcome)
