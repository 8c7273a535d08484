"""Runs a design search: pulls what is missing into its records, then writes the answer.

OUT/design.sqlite    the pulls (`files.records`); taken up again, never replaced
OUT/table.csv        every tube that was tried: values, mass, verdict, what governs
OUT/why.txt          the answer in words
OUT/design.png       the load that is reached over the mass (`figures.designs`)

The same file gives the same answer on any number of processes: what is pulled next never depends on who was faster.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from ..case.file import settings_id
from ..files.answer import answer
from ..files.records import Record, Records
from ..files.store import write_csv, write_text
from ..outcome.cautions import CAUTION, PULL_CAUTION
from ..outcome.wanted import rests_on
from .demand import Candidate, Design, Place
from .lightest import UNSOLVED, Pulled, Search, Trial, find_lightest
from .runner import say
from .verdict import Found, Verdict, verdict_of
from .work import Answer, Pool, Task, cluster, cores, processes, solve_task, solved

if TYPE_CHECKING:
    from rich.console import Console

NAME = "design.sqlite"
FILES = ("table.csv", "why.txt", "design.png")
WANT = ("peak",)


@dataclass
class Pulls:
    """Pulls tubes: from the records, or solved by a pool of processes and recorded."""

    design: Design
    records: Records
    pool: Pool
    width: int
    console: Console
    known: dict[str, Record] = field(default_factory=dict)
    asked: int = 0
    _executor: Executor | None = None
    _said: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.stamp = rests_on(WANT)
        self.records.plan({"title": self.design.title, "question": self.design.question, "want": list(WANT)}, ())
        finished = self.records.finished(self.stamp)
        self.known = {name: each for name, each in self.records.kept().records.items() if name in finished}
        if self.known:
            say(self.console, f"{len(self.known)} pulls solved before, taken from {self.records.path}")

    def __call__(self, candidate: Candidate, places: Sequence[Place]) -> list[Pulled]:
        """Pull a tube at some places. Raises CaseError for values that do not go together."""
        cases = [self.design.case(candidate, place) for place in places]
        tasks = {name: (name, case, WANT) for case in cases if (name := settings_id(case)) not in self.known}
        self.asked += len(places)
        records = []
        for record, words in self._solve(list(tasks.values())):
            records.append(record)
            for text in words:
                if text not in self._said:
                    self._said.add(text)
                    say(self.console, text)
        if records:
            self.records.keep(records, self.stamp)
            self.known |= {record.id: record for record in records}
        return [_pulled(self.known[settings_id(case)]) for case in cases]

    def _solve(self, tasks: list[Task]) -> list[Answer]:
        if not tasks or self.width == 1:
            return list(map(solve_task, tasks))
        try:
            self._executor = self._executor or self.pool()
            return list(self._executor.map(solve_task, tasks))
        except BrokenProcessPool:
            self.close()
            left = iter(tasks)
            return list(solved(self.pool, lambda most: [[task] for task in islice(left, most)], 1, lambda: None))

    def close(self) -> None:
        """End the processes."""
        if self._executor:
            self._executor.shutdown(wait=True, cancel_futures=True)
            self._executor = None


def _pulled(record: Record) -> Pulled:
    """A pull that is not solved holds nothing: it counts as a miss."""
    if record.problem:
        return Pulled(0.0, UNSOLVED)
    return Pulled(float(record.found["limit_kN"]), str(record.found["limit_mode"]))


@contextmanager
def pulls_of(design: Design, out: Path, console: Console, jobs: int | None, scheduler: str | None) -> Iterator[Pulls]:
    """Pulls for a design search, with their processes and records."""
    width = 64 if scheduler else jobs or cores()
    pools = cluster(scheduler) if scheduler else processes(width)
    with pools as pool, Records(out / NAME, WANT) as records:
        pulls = Pulls(design, records, pool, width, console)
        try:
            yield pulls
        finally:
            pulls.close()


def run_design(
    design: Design, out: Path, console: Console, jobs: int | None = None, scheduler: str | None = None
) -> Found:
    """Search for the lightest tubes into a folder. `console` gets progress and messages.

    Raises OSError if a file cannot be written, files.lock.Busy if another run holds the folder.
    """
    from ..figures.designs import draw_design
    from ..words.designs import explain_design

    with answer(out, "study", FILES) as stage, pulls_of(design, out, console, jobs, scheduler) as pulls:

        def tell(trial: Trial) -> None:
            what = "does not go together" if trial.problem else "meets it" if trial.met else "refused"
            mass = f"{trial.candidate.mass_g:.1f} g, {trial.candidate.words}"
            say(console, f"{mass}: {what} after {len(trial.pulled)} pulls")

        search = find_lightest(design, pulls, tell)
        found = Found(search, tuple(map(verdict_of, search.tried)), _fresh(search, pulls), pulls.asked)
        _write_table(found, stage / FILES[0])
        write_text(stage / FILES[1], f"{design.title}\n{design.question}\n\n{explain_design(found)}\n")
        draw_design(found, stage / FILES[2])
    return found


def _fresh(search: Search, pulls: Pulls) -> Verdict | None:
    """The lightest tube on as many draws that had no part in choosing it."""
    design = search.design
    if not search.met or design.draws is None:
        return None
    best = search.met[0].candidate
    trial = Trial(best, design)
    for situation in range(len(design.situations)):
        places = [(situation, design.number + draw) for draw in range(design.number)]
        trial.pulled |= dict(zip(places, pulls(best, places), strict=True))
    return verdict_of(trial)


def _write_table(found: Found, path: Path) -> None:
    design = found.search.design
    keys = tuple(design.choices)
    situation = tuple(key for key in design.situations[0].values)
    numbers: tuple[str, ...] = ("mass_g", "meets", "pulls", "whole", "chance", "chance_low", "chance_high")
    numbers += ("reach_kN", "reach_low_kN", "reach_high_kN", "median_kN")
    rows = []
    for each in found.verdicts:
        ends = [*each.chance_ends, each.reach_kN, *each.reach_ends, each.median_kN]
        flags = [each.candidate.mass_g, int(each.meets), each.pulls, int(each.whole), each.chance]
        governs = [design.situations[each.situation].values[key] for key in situation]
        rows.append([*(each.candidate.values[key] for key in keys), *flags, *ends, *governs, each.mode])
    header = (*keys, *numbers, *(f"governs.{key}" for key in situation), "governs.mode")
    remarks = (design.title, design.question, PULL_CAUTION, CAUTION)
    write_csv(path, header, rows, remarks)
