"""Our elastic solve beside other codes in one run: ratios, memory, share of the dense rate, error over time.

    python validation/benchmarks/elastic_solve.py OUT [--sizes 25k,90k] [--codes mkl,ngsolve] [--threads 1,2]

    OUT/rows.jsonl              a measurement a line; a run that was killed goes on. What other code or other caps
                                decided is measured again
    OUT/README.md               the tables and what they rest on; redrawn at each run from all rows of the present code
    OUT/error_over_time.png     error of the compliance against its limit

Each measurement is a process of its own with so many threads. It first solves the size "tiny", which is not counted:
imports and what is compiled on the first call stay out. One that needs more memory or time than the caps is stopped,
and the row says so; one whose smaller size was stopped, or foretells that it would be (time grows with the unknowns
to the power of FACTOR_GROWTH or LEAST_GROWTH), is not tried. A code that is not installed is named and left out.

Limits: one measurement a row, so ratios carry the machine's noise; memory is watched on Linux alone.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import icecone.fem.solid
from icecone.validation.benchmarks.elastic_case import FINER, GIGABYTE, Stages, make_body, peak_memory
from icecone.validation.benchmarks.elastic_codes import CODES
from icecone.validation.benchmarks.elastic_page import Job, Row, write_page

HERE = Path(__file__).parent
SIZES = ("25k", "90k", "190k", "400k", "1M", "standard", "fine")  # the last two are levels, for the picture
LEVEL_CODES = ("contact-mkl", "contact-cholmod")  # the first that is installed solves them, on the most threads
LEFT_OUT = ("superlu",)  # unless it is asked for
SHORT = ("tiny",)
MEMORY, SECONDS = 14.0, 90.0  # caps: GB of 1024^3 bytes, s
FACTOR_GROWTH, LEAST_GROWTH = 1.6, 1.1  # of direct solvers, whose flops grow with the power 2; of others
POLL = 0.1  # s
THREAD_VARIABLES = ("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS")
PACKAGES = ("numpy", "scipy", "mkl", "pypardiso", "kvxopt", "pymetis", "numba", "ngsolve", "scikit-fem")


def main(words: Sequence[str]) -> None:
    """Measure what is asked for and not yet there, and write the page and the picture."""
    from rich.console import Console

    from icecone.validation.benchmarks.elastic_picture import draw_error_over_time

    if words[:1] == ["--measure"]:
        measure(words[1], words[2], int(words[3]), Path(words[4]))
        return
    given = _arguments(words)
    given.out.mkdir(parents=True, exist_ok=True)
    path, console = given.out / "rows.jsonl", Console(stderr=True)
    rows = measure_all(list(_jobs(given)), path, given.memory, given.time, console)
    write_page(list(rows.values()), given.out / "README.md", given.machine)
    draw_error_over_time(list(rows.values()), given.out / "error_over_time.png")
    console.print(f"{given.out / 'README.md'}", markup=False, highlight=False)


def measure_all(jobs: Sequence[Job], path: Path, memory: float, seconds: float, console: Any) -> dict[Job, Row]:
    """Rows of these jobs and of others that the file holds for the present code; each new one is added to the file."""
    from rich import progress as bars

    rows = read_rows(path)
    columns = (bars.TextColumn("{task.description}", markup=False), bars.BarColumn(), bars.MofNCompleteColumn())
    with bars.Progress(*columns, bars.TimeElapsedColumn(), console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=len(jobs))
        for job in jobs:
            name = f"{CODES[job[0]].words}, {job[1]}, {job[2]} thread{'s' * (job[2] > 1)}"
            bar.update(task, description=name)
            if job not in rows or (rows[job]["problem"] and rows[job]["caps"] != [memory, seconds]):
                rows[job] = _hopeless(job, rows, seconds) or _measured(job, memory, seconds)
                rows[job]["caps"] = [memory, seconds]
                with path.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(rows[job]) + "\n")
                if not console.is_terminal:
                    console.print(f"{name}: {rows[job]['problem'] or _took(rows[job])}", markup=False, highlight=False)
            bar.advance(task)
    return rows


def measure(code: str, size: str, threads: int, to: Path) -> None:
    """In a process of its own: solve once unmeasured, then once on the clock, and write what was found."""
    solve = CODES[code].solve
    if CODES[code].kind != "gauge" and size != "tiny":
        solve(make_body("tiny"), threads, Stages())
    body, stages = make_body(size if code != "dense" else "tiny"), Stages()
    found = asdict(solve(body, threads, stages)) | {"wall": stages.wall, "cpu": stages.cpu, "peak": peak_memory()}
    to.write_text(json.dumps(found), encoding="utf-8")


def read_rows(path: Path) -> dict[Job, Row]:
    """What the file holds for the present code; the last line may have been cut short."""
    rows: dict[Job, Row] = {}
    for line in path.read_text(encoding="utf-8").splitlines() if path.is_file() else []:
        try:
            row = json.loads(line)
        except ValueError:
            continue
        if row["stamp"] == stamp():
            rows[row["code"], row["size"], row["threads"]] = row
    return rows


@cache
def stamp() -> str:
    """Tells the present code, packages and machine from others."""
    folders = [Path(icecone.fem.solid.__file__).parent, Path(icecone.geometry.__file__).parent]
    files = [*sorted(file for folder in folders for file in folder.glob("*.py")), HERE / "elastic_codes.py"]
    text = b"".join(file.read_bytes() for file in [*files, HERE / "elastic_case.py"])
    return f"{sha256(text).hexdigest()[:12]} {versions()} {os.cpu_count()}"


def versions() -> str:
    """Packages that are measured, with their versions."""
    found = []
    for name in PACKAGES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            continue
    return ", ".join(found)


def _arguments(words: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="elastic_solve.py", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path, metavar="OUT", help="folder of the rows, the page and the picture")
    for name, words_of, allowed in (
        ("sizes", SIZES, (*FINER, "quick", "standard", "fine")),
        ("codes", tuple(name for name in CODES if name not in LEFT_OUT), tuple(CODES)),
        ("threads", ("1", "2"), tuple(map(str, range(1, (os.cpu_count() or 1) + 1)))),
    ):
        parser.add_argument(f"--{name}", type=_some_of(allowed), default=words_of, help=", ".join(allowed))
    parser.add_argument("--memory", type=float, default=MEMORY, help=f"cap [GB], {MEMORY:g} by default")
    parser.add_argument("--time", type=float, default=SECONDS, help=f"cap [s], {SECONDS:g} by default")
    parser.add_argument("--machine", default="", help="words on the machine for the page: a shared virtual machine")
    parser.add_argument("--short", action="store_true", help="the smallest size on one thread, to see that it runs")
    given = parser.parse_args(words)
    if given.short:
        given.sizes, given.threads = SHORT, ("1",)
    return given


def _some_of(allowed: Iterable[str]) -> Callable[[str], tuple[str, ...]]:
    """Words with commas between, each of them an allowed one."""

    def read(text: str) -> tuple[str, ...]:
        words = tuple(word.strip() for word in text.split(","))
        if wrong := [word for word in words if word not in allowed]:
            raise argparse.ArgumentTypeError(f"{wrong[0]!r}: must be of {', '.join(allowed)}")
        return words

    return read


def _jobs(given: argparse.Namespace) -> Iterable[Job]:
    """From small to large, each code beside the others."""
    level_code = next((name for name in LEVEL_CODES if name in given.codes and CODES[name].installed()), "")
    most = max(given.threads, key=int)
    for size in given.sizes:
        for threads in given.threads:
            for name in given.codes:
                wanted = size in FINER or (name == level_code and threads == most)
                if wanted and int(threads) in CODES[name].threads and CODES[name].installed():
                    yield name, size, int(threads)


def _hopeless(job: Job, rows: dict[Job, Row], cap: float) -> Row | None:
    """A row that says why a measurement is not tried, by the next smaller size of the family; None to try it."""
    code, size, threads = job
    smaller = [each for each in FINER if size in FINER and FINER[each] < FINER[size]]
    done = [rows[code, each, threads] for each in smaller if (code, each, threads) in rows]
    if not done or CODES[code].kind == "gauge":
        return None
    if done[-1]["problem"]:
        return _row(job, f"not tried: {done[-1]['size']} did not come out")
    power = 3 * (FACTOR_GROWTH if CODES[code].direct else LEAST_GROWTH)
    foretold = sum(done[-1]["wall"].values()) * (FINER[size] / FINER[done[-1]["size"]]) ** power
    return _row(job, f"not tried: over {cap:.0f} s by the time of {done[-1]['size']}") if foretold > cap else None


def _measured(job: Job, memory: float, seconds: float) -> Row:
    """A measurement in a process of its own, stopped at the caps."""
    code, size, threads = job
    env = os.environ | {name: str(threads) for name in THREAD_VARIABLES} | dict(CODES[code].env)
    with tempfile.TemporaryDirectory() as folder:
        to, log, stopped = Path(folder) / "row.json", Path(folder) / "log", ""
        words = [sys.executable, __file__, "--measure", code, size, str(threads), str(to)]
        start = monotonic()
        with log.open("wb") as sink, subprocess.Popen(words, env=env, stdout=sink, stderr=sink) as process:
            try:
                while process.poll() is None and not stopped:
                    sleep(POLL)
                    if monotonic() - start > seconds:
                        stopped = f"over {seconds:.0f} s: stopped"
                    elif _resident(process.pid) > memory:
                        stopped = f"over {memory:g} GB: did not fit, stopped"
            finally:
                process.kill()
        if stopped:
            return _row(job, stopped)
        if not to.is_file():
            last = [line for line in log.read_text(errors="replace").splitlines() if line.strip()][-1:]
            return _row(job, f"failed: {' '.join(last)[:200] or process.returncode}")
        return _row(job, "", **json.loads(to.read_text(encoding="utf-8")))


def _row(job: Job, problem: str, **found: Any) -> Row:
    names = dict(zip(("code", "size", "threads"), job, strict=True))
    when = datetime.now(UTC).strftime("%Y-%m-%d")
    return {**names, "problem": problem, "stamp": stamp(), "date": when, **found}


def _resident(pid: int) -> float:
    """Resident memory of a process [GB]; 0 where the system does not tell."""
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / GIGABYTE
    except (OSError, IndexError):
        return 0.0


def _took(row: Row) -> str:
    return f"{sum(row['wall'].values()):.1f} s, {row['peak']:.2f} GB"


if __name__ == "__main__":
    main(sys.argv[1:])
