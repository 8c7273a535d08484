"""Runs a study of many cases: solves what is missing into its records, then writes its tables.

OUT/study.sqlite                 the records (`files.records`); taken up again, shared by runs, never replaced
OUT/study-3-of-20.sqlite         those of a shard, which `gather` takes over
OUT/table.csv, and more          the answer (`tables`), the same bytes however the cases were solved
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING, Any

from ..case.toml import CaseError
from ..command.numbers import plural
from ..files.answer import answer
from ..files.lock import Busy
from ..files.records import Kept, Records
from ..outcome.wanted import rests_on, shares_work
from .many import ManyCase, ManyStudy
from .runner import progress_bar, say
from .spread import DRAW, hairline, spread_of
from .tables import FILES, NAME, Results, shown_value, write_results
from .work import Batch, Pool, cluster, cores, processes, solved

if TYPE_CHECKING:
    from rich.console import Console

CLUSTER = 500  # batches under way on a cluster
BATCH = 8  # cases at most that one process takes at once
EXACT = ("assumed.chip_friction", "assumed.sliding_ratio")  # laws are kept at values of these, not between them
WAITS = 30  # times that the folder is tried, a second apart, where another run writes its tables
Shard = tuple[int, int]


def records_path(out: Path, shard: Shard | None = None) -> Path:
    """The file of the records of a study, or of one of its shards, (3, 20) the third of twenty."""
    return out / (NAME if shard is None else f"study-{shard[0]}-of-{shard[1]}.sqlite")


def about(study: ManyStudy) -> dict[str, Any]:
    """What is kept once of a study."""
    return {
        "title": study.title,
        "question": study.question,
        "want": list(study.want),
        "dims": study.dims,
        "axes": {axis.name: _coordinates(axis.name, study) for axis in study.axes},
        "keys": list(study.keys),
        "given": dict(study.given),
    }


def _coordinates(name: str, study: ManyStudy) -> list[Any]:
    """Values along an axis: those of its key as they count, or the numbers of its rows; all words if one is."""
    at = list(study.dims).index(name)
    if name not in study.keys:
        return list(range(1, study.dims[name] + 1))
    found = {case.place[at]: case.varied[name] for case in reversed(study.cases)}
    values = [found[place] for place in range(study.dims[name])]
    return [shown_value(value) for value in values] if any(isinstance(each, str) for each in values) else values


@dataclass
class _Run:
    """A run under way: what it still has to solve, in batches from last to first, and what others do."""

    study: ManyStudy
    records: Records
    console: Console
    stamp: str
    pending: list[list[ManyCase]] = field(default_factory=list)
    others: list[ManyCase] = field(default_factory=list)
    renewed: float = 0.0

    def batches(self, most: int) -> list[Batch]:
        """Cases that this run has claimed, those that share work together."""
        found: list[Batch] = []
        while self.pending and len(found) < most:
            cases = self.pending.pop()
            granted = self.records.claim([case.id for case in cases])
            finished = self.records.finished(self.stamp, granted)
            self.records.let_go(finished)
            self.others += [case for case in cases if case.id not in granted]
            mine = [case for case in cases if case.id in granted - finished]
            if mine:
                found.append([(case.id, self.study.settings(case), self.study.want) for case in mine])
        return found

    def begin(self, cases: Iterable[ManyCase]) -> None:
        """Put cases into `pending`, those that share work together."""
        batches: list[list[ManyCase]] = []
        open_batch: dict[Hashable, list[ManyCase]] = {}
        for case in cases:
            shared = shares_work(self.study.settings(case), self.study.want)
            batch = open_batch.get(shared) if shared else None
            if batch is None or len(batch) == BATCH:
                batches.append(batch := [])
                open_batch[shared] = batch
            batch.append(case)
        self.pending = batches[::-1]

    def idle(self) -> None:
        """Renew the claims now and then."""
        if monotonic() > self.renewed + 20:
            self.renewed = monotonic()
            self.records.go_on()

    def look_again(self, tried: set[str]) -> None:
        """See what the other runs have left, and this one has not tried."""
        finished = self.records.finished(self.stamp, [case.id for case in self.others])
        left, self.others = [case for case in self.others if case.id not in finished | tried], []
        self.begin(left)


def solve_many(
    study: ManyStudy, records: Records, console: Console, pool: Pool, width: int, shard: Shard | None = None
) -> None:
    """Solve the cases of a study, or of one shard, that are missing. `console` gets progress and messages."""
    stamp = rests_on(study.want)
    own = study.cases if shard is None else study.cases[shard[0] - 1 :: shard[1]]
    unique = {case.id: case for case in own}
    records.plan(about(study), ((case.id, case.varied) for case in study.cases))
    before = records.finished(stamp) & set(unique)
    if before:
        say(console, f"{len(before)} of {plural(len(unique), 'case')} solved before, taken from {records.path}")
    for key in EXACT:
        if (values := len({case.varied.get(key) for case in own})) > 1:
            say(console, f"{key}: laws of chips are computed at each of its {values} values: minutes a value")
    run = _Run(study, records, console, stamp)
    run.begin(case for name, case in unique.items() if name not in before)
    known: set[str] = set()
    tried: set[str] = set()
    with progress_bar(console) as progress:
        bar = progress.add_task(study.title, total=len(unique), completed=len(before))
        while run.pending:
            for record, words in solved(pool, run.batches, width, run.idle):
                records.keep([record], stamp)
                tried.add(record.id)
                for text in words:
                    if text not in known:
                        known.add(text)
                        say(console, text)
                if record.problem:
                    say(console, f"{_words(unique[record.id])}: not solved: {record.problem}")
                progress.advance(bar)
            if run.others:
                sleep(1.0)
                run.look_again(tried)


def _words(case: ManyCase) -> str:
    return ", ".join(
        f"{key} = {value:.6g}" if isinstance(value, float) else f"{key} = {value}" for key, value in case.varied.items()
    )


def solve_into(
    study: ManyStudy, out: Path, console: Console, jobs: int | None = None, scheduler: str | None = None
) -> Results:
    """Solve a study into a folder and write its tables.

    jobs : processes, None: one a core.  scheduler : address of a cluster that solves instead.
    Raises OSError if a file cannot be written, CaseError for records of another format, files.lock.Busy.
    """
    with workers(study, jobs, scheduler) as (pool, width):
        return run_many(study, out, console, pool, width)


def solve_shard(
    study: ManyStudy, out: Path, console: Console, shard: Shard, jobs: int | None = None, scheduler: str | None = None
) -> Path:
    """Solve one shard into records of its own; their file. Arguments and errors of `solve_into`."""
    out.mkdir(parents=True, exist_ok=True)
    with workers(study, jobs, scheduler) as (pool, width), Records(records_path(out, shard), study.want) as records:
        solve_many(study, records, console, pool, width, shard)
    return records_path(out, shard)


@contextmanager
def workers(study: ManyStudy, jobs: int | None, scheduler: str | None) -> Iterator[tuple[Pool, int]]:
    """Who solves, and how many cases are under way at most."""
    number = min(cores() if jobs is None else jobs, len(study.cases))
    with cluster(scheduler) if scheduler else processes(number) as pool:
        yield pool, CLUSTER if scheduler else 2 * max(number, 1)


def run_many(study: ManyStudy, out: Path, console: Console, pool: Pool, width: int) -> Results:
    """`solve_into`, by these workers (`work`); width : how many cases are under way at most."""
    out.mkdir(parents=True, exist_ok=True)
    with Records(records_path(out), study.want) as records:
        solve_many(study, records, console, pool, width)
        return _write(records.kept(), out)


def gather_shards(study: ManyStudy, out: Path, console: Console) -> tuple[Results, int]:
    """Take over the records of all shards in a folder and write the tables; the results, and how many are missing.

    Raises CaseError if there are no shards, and as `run_many`.
    """
    stamp, shards = rests_on(study.want), sorted(out.glob("study-*-of-*.sqlite"))
    if not shards:
        raise CaseError(f"{out}: no shards: must hold study-I-of-N.sqlite of icecone study --shard I/N")
    with Records(records_path(out), study.want) as records:
        records.plan(about(study), ((case.id, case.varied) for case in study.cases))
        for path in shards:
            with Records(path, study.want) as shard:
                say(console, f"{path}: {plural(records.take(shard, stamp), 'record')} taken over")
        names = {case.id for case in study.cases}
        return _write(records.kept(), out), len(names - set(records.kept().records))


def draw_pictures(results: Results, folder: Path) -> None:
    """Draw spread and drives of a study of draws over one axis or none, where a draw was solved."""
    if DRAW not in results.dims or len(results.dims) > 2:
        return
    from ..figures.spread import drives_figure, spread_figure

    spread = spread_of(results)
    if spread.loads and all(set(spread.loads) == set(place.percentiles) for place in spread.places):
        spread_figure(spread, hairline(spread), folder / "spread.png")
        if any(place.drives for place in spread.places):
            drives_figure(spread, folder / "drives.png")


def _write(kept: Kept, out: Path) -> Results:
    """Write the tables; where another run of the same study writes them now, after it."""
    results = Results.of(kept)
    for left in reversed(range(WAITS)):
        try:
            with answer(out, "study", FILES[:1]) as stage:
                write_results(results, stage)
                draw_pictures(results, stage)
            return results
        except Busy:
            if not left:
                raise
            sleep(1.0)
    return results
