"""Who solves the cases of a study: processes of this machine, or the workers of a cluster; all behind an Executor.

Each case is solved in one thread of linear algebra, whatever the number of processes: cores are not oversubscribed, and
the same case gives the same bytes. A process that is killed takes no other case with it: those that were under way are
solved again one at a time, and the one that ends its process once more is recorded with that; what copies of this
process had is done in it (`forked`). A process whose parent is
killed ends itself.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import asdict
from math import isfinite
from multiprocessing import connection, get_all_start_methods, get_context, parent_process
from typing import Any

from ..case.toml import CaseError
from ..files.records import Record

THREADS = ("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS")
ENDED = "the process that solved it ended, twice: out of memory?"
Pool = Callable[[], Executor]
Each = Callable[[Callable[[Any], Any], Sequence[Any]], Iterator[Any]]  # what `map` does
PATIENCE = 5.0  # s
Task = tuple[str, Mapping[str, Any], tuple[str, ...]]  # id, settings, want
Batch = Sequence[Task]  # what one process solves one after another
Answer = tuple[Record, tuple[str, ...]]  # and what was said of laws


def solve_task(task: Task) -> Answer:
    """The record of a case, and what was said of its laws. Nothing that a case can bring about is raised."""
    from ...fem.errors import SolveError
    from ...geometry.errors import MeshError
    from ..outcome.wanted import solve_wanted

    name, settings, want = task
    said: list[str] = []
    try:
        found, laws = solve_wanted(dict(settings), want, said.append)
    except MemoryError:
        return Record(name, {}, {}, "out of memory: choose a coarser numerics.level", lasting=False), tuple(said)
    except (SolveError, MeshError) as error:
        return Record(name, {}, {}, " ".join(str(error).split()) or type(error).__name__), tuple(said)
    except Exception as error:  # one case of thousands must not end the others: the reason is kept, and tried again
        text = f"{type(error).__name__}: {' '.join(str(error).split())}"
        return Record(name, {}, {}, text, lasting=False), tuple(said)
    told = {key: value for key, value in asdict(found).items() if isinstance(value, str) or _is_finite(value)}
    return Record(name, told, laws), tuple(said)


def solve_batch(batch: Batch) -> list[Answer]:
    """`solve_task` of each."""
    return [solve_task(task) for task in batch]


def _is_finite(value: float | None) -> bool:
    return value is not None and isfinite(value)


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def processes(jobs: int) -> Iterator[Pool]:
    """Makes pools of so many processes, each with one thread; 0: this process alone, whose threads stay as they are."""
    if jobs == 0:
        yield lambda: ThreadPoolExecutor(1)
        return
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield lambda: ProcessPoolExecutor(jobs, get_context("spawn"), initializer=_begin)
    finally:
        for name, value in before.items():
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value


@contextmanager
def forked(jobs: int) -> Iterator[Each]:
    """A map in order, over so many processes that begin as copies of this one: what is compiled and read, they have.

    All is begun as the map is called. What a process had that is killed is done here.
    jobs : 0: this process alone, as where processes cannot be copied.
    """
    if jobs == 0 or "fork" not in get_all_start_methods() or sys.platform == "darwin":
        yield map
        return
    executor = ProcessPoolExecutor(jobs, get_context("fork"), initializer=_begin)
    executor.submit(int)  # the processes are copied now, not as the first work comes

    def each(function: Callable[[Any], Any], items: Sequence[Any]) -> Iterator[Any]:
        begun = [_begun(executor, function, item) for item in items]
        return (_got(future, function, item) for future, item in zip(begun, items, strict=True))

    try:
        yield each
    finally:
        executor.shutdown(cancel_futures=True)


def _begun(executor: Executor, function: Callable[[Any], Any], item: Any) -> Future[Any] | None:
    try:
        return executor.submit(function, item)
    except BrokenProcessPool:
        return None


def _got(future: Future[Any] | None, function: Callable[[Any], Any], item: Any) -> Any:
    try:
        return function(item) if future is None else future.result()
    except BrokenProcessPool:
        return function(item)


@contextmanager
def cluster(address: str) -> Iterator[Pool]:
    """Hands out the workers of a running dask cluster. Raises CaseError if there is none at the address."""
    try:
        from distributed import Client
    except ImportError:
        raise CaseError("--scheduler: needs dask: pip install 'icecone[cluster]'") from None
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise CaseError(f"--scheduler = {address!r}: no scheduler answers there: {type(error).__name__}") from None
    try:
        yield lambda: client.get_executor(pure=False, retries=3)
    finally:
        client.close()


def _begin() -> None:
    """In a new process: leave the keyboard to the parent, and end with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


def solved(
    pool: Pool, batches: Callable[[int], Sequence[Batch]], width: int, idle: Callable[[], None]
) -> Iterator[Answer]:
    """Answers as they come.

    batches : gives so many batches at most, none when there are no more.  width : how many are under way at most.
    idle : called every few seconds. Ends what it can if it is left early.
    """
    executor = pool()
    under_way: dict[Future[list[Answer]], Batch] = {}
    try:
        while True:
            for batch in batches(width - len(under_way)):
                under_way[_submitted(executor, batch)] = batch
            if not under_way:
                return
            done, _ = wait(under_way, timeout=PATIENCE, return_when=FIRST_COMPLETED)
            idle()
            for future in done:
                if isinstance(future.exception(), BrokenProcessPool):
                    executor.shutdown(wait=False)
                    yield from _alone(pool, [task for batch in under_way.values() for task in batch])
                    executor, under_way = pool(), {}
                    break
                yield from _answers(future, under_way.pop(future))
    finally:
        for future in under_way:
            future.cancel()
        executor.shutdown(wait=True)


def _submitted(executor: Executor, batch: Batch) -> Future[list[Answer]]:
    """The batch's future; one that has failed already if a process ended meanwhile."""
    try:
        return executor.submit(solve_batch, batch)
    except BrokenProcessPool as error:
        future: Future[list[Answer]] = Future()
        future.set_exception(error)
        return future


def _answers(future: Future[list[Answer]], batch: Batch) -> list[Answer]:
    """What a future gives; a cluster that gave up on a batch has a reason too."""
    error = future.exception()
    if not isinstance(error, Exception):
        return future.result()
    text = f"{type(error).__name__}: {' '.join(str(error).split())}"
    return [(Record(name, {}, {}, text, lasting=False), ()) for name, _, _ in batch]


def _alone(pool: Pool, tasks: Sequence[Task]) -> Iterator[Answer]:
    """Solve cases one at a time, each that ends its process recorded with that."""
    executor = pool()
    try:
        for task in tasks:
            future = _submitted(executor, [task])
            if isinstance(future.exception(), BrokenProcessPool):
                executor.shutdown(wait=False)
                executor = pool()
                yield Record(task[0], {}, {}, ENDED, lasting=False), ()
            else:
                yield from _answers(future, [task])
    finally:
        executor.shutdown(wait=True)
