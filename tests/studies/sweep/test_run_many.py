"""Runs of many cases on a stand-in solver: nothing solved twice, nothing lost, the same bytes however it was solved."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from click.testing import CliRunner
from rich.console import Console

from icecone.fem.errors import SolveError
from icecone.fem.onset import elastic
from icecone.studies.case.file import CaseError
from icecone.studies.command.main import main
from icecone.studies.files.records import Records
from icecone.studies.outcome import wanted
from icecone.studies.outcome.wanted import Found
from icecone.studies.sweep import spread, work
from icecone.studies.sweep.many import ManyStudy, read_many
from icecone.studies.sweep.run_many import gather_shards, records_path, run_many, solve_many
from icecone.studies.sweep.tables import FILES, Results, read_results
from icecone.studies.sweep.work import ENDED

STUDY = """
[study]
title = "invented"
question = "how wide?"
want = ["peak"]
[axes.placement]
embedment_mm = [60, 100]
[random]
draws = 4
seed = 1
[random.placement]
angle_deg = { distribution = "uniform", low = -20, high = 20 }
"""
ONSETS = """
[study]
title = "invented"
question = "how wide?"
want = ["onset"]
[case.placement]
embedment_mm = 40
[case.numerics]
level = "quick"
[axes.placement]
angle_deg = [-20, -10]
[random]
draws = 5
seed = 1
[random.ice]
tensile_MPa = { spread = "table" }
K_IC_kPa_sqrt_m = { spread = "table" }
"""
Solve = Callable[[Mapping[str, Any]], None]


class Bench:
    """A study with a stand-in solver: angles that were solved; `before` is called before each."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.path, self.out = folder / "study.toml", folder / "out"
        self.path.write_text(STUDY)
        self.log = folder / "log"
        self.before: Solve = lambda settings: None
        monkeypatch.setattr(wanted, "solve_wanted", self.solve)
        monkeypatch.setattr(spread, "solve_wanted", lambda settings, want: (Found(peak_kN=100.0), {}))
        monkeypatch.setattr("icecone.studies.files.records.law_changed", lambda files: "")
        self.said = Console(record=True, file=(folder / "said").open("w"), width=200)

    def solve(
        self, settings: Mapping[str, Any], want: object, say: Callable[[str], None]
    ) -> tuple[Found, dict[str, str]]:
        self.before(settings)
        angle, embedment = settings["placement.angle_deg"], settings["placement.embedment_mm"]
        with self.log.open("a") as log:
            log.write(f"{angle} {embedment}\n")
        return Found(peak_kN=embedment + angle, peak_mode="cone"), {"law.json": "digest"}

    @property
    def study(self) -> ManyStudy:
        return read_many(self.path)

    def run(self, workers: int = 1) -> Results:
        return run_many(self.study, self.out, self.said, lambda: ThreadPoolExecutor(workers), 2 * workers)

    def run_shard(self, number: int, of: int) -> None:
        self.out.mkdir(exist_ok=True)
        with Records(records_path(self.out, (number, of)), ("peak",)) as records:
            solve_many(self.study, records, self.said, lambda: ThreadPoolExecutor(1), 2, (number, of))

    def solved(self) -> list[str]:
        """Cases that were solved since the last call."""
        found = self.log.read_text().splitlines() if self.log.exists() else []
        self.log.unlink(missing_ok=True)
        return found

    def written(self) -> dict[str, bytes]:
        return {name: (self.out / name).read_bytes() for name in FILES if (self.out / name).exists()}


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path, monkeypatch)


def test_each_case_is_solved_once_and_nothing_again(bench: Bench) -> None:
    results = bench.run()
    assert len(set(bench.solved())) == 8 and len(results.rows) == 8
    assert [row["peak_kN"] for row in results.rows] == [
        case.varied["placement.embedment_mm"] + case.varied["placement.angle_deg"] for case in bench.study.cases
    ]
    first = bench.written()
    assert "table.csv" in first
    bench.run()
    assert bench.solved() == [] and bench.written() == first
    assert "8 of 8 cases solved before" in bench.said.export_text()


def test_one_worker_or_three_write_the_same_bytes(bench: Bench) -> None:
    """Though the cases come in another order."""
    bench.run()
    one, bench.out = bench.written(), bench.out.with_name("three")
    bench.before = lambda settings: time.sleep(0.05 * (settings["placement.embedment_mm"] == 60))
    bench.run(3)
    assert bench.written() == one


def test_more_draws_solve_only_those_that_are_new(bench: Bench) -> None:
    bench.run()
    before = set(bench.solved())
    bench.path.write_text(STUDY.replace("draws = 4", "draws = 6"))
    bench.run()
    after = set(bench.solved())
    assert len(after) == 4 and not before & after


def test_a_case_that_is_not_solved_is_recorded_with_its_reason(bench: Bench) -> None:
    """An expected failure lasts; one that nobody foresaw is tried again; the others are solved."""
    angles = [case.varied["placement.angle_deg"] for case in bench.study.cases[:2]]

    def fail(settings: Mapping[str, Any]) -> None:
        if settings["placement.angle_deg"] == angles[0]:
            raise SolveError("no equilibrium\nat all")
        if settings["placement.angle_deg"] == angles[1]:
            raise ZeroDivisionError("division by zero")

    bench.before = fail
    results = bench.run()
    reasons = ["no equilibrium at all", "ZeroDivisionError: division by zero", "", ""]
    assert [row["problem"] for row in results.rows] == 2 * reasons
    assert len(bench.solved()) == 4
    bench.before = lambda settings: None
    again = bench.run()
    assert [row["problem"] for row in again.rows] == 2 * [reasons[0], "", "", ""]
    assert len(bench.solved()) == 2


def test_onsets_that_share_a_factor_go_to_one_process(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two angles in three directions: two batches, whatever the order of the axes; peaks go one by one."""
    sizes: list[int] = []
    solve = work.solve_batch
    monkeypatch.setattr(work, "solve_batch", lambda batch: sizes.append(len(batch)) or solve(batch))
    axes = "[axes.pull]\ndirection_deg = [0, 20, 45]\n[axes.placement]\nangle_deg = [-20, 10]\n"
    bench.path.write_text(f'[study]\ntitle = "invented"\nquestion = "?"\nwant = ["onset"]\n{axes}')
    bench.run()
    assert sizes == [3, 3]
    sizes.clear()
    bench.path.write_text(STUDY)
    bench.run()
    assert sizes == [1] * 8


def test_stopped_on_the_way_it_goes_on(bench: Bench) -> None:
    """What was finished is kept; the same study then solves the rest, and writes what a run in one go writes."""
    many: list[int] = []

    def stop(settings: Mapping[str, Any]) -> None:
        many.append(1)
        if len(many) == 4:
            raise KeyboardInterrupt

    bench.before = stop
    with pytest.raises(KeyboardInterrupt):
        bench.run()
    first = bench.solved()
    assert 2 <= len(first) < 8 and not (bench.out / "table.csv").exists()
    bench.before = lambda settings: None
    bench.run()
    kept = 8 - len(bench.solved())
    assert kept >= 2
    stopped, bench.out = bench.written(), bench.out.with_name("whole")
    bench.run()
    assert bench.written() == stopped


@pytest.mark.slow
def test_two_runs_share_the_work(bench: Bench) -> None:
    """Each case is solved by one of them; both write the whole answer."""
    bench.before = lambda settings: time.sleep(0.2)
    found: list[Results] = []
    runs = [Thread(target=lambda: found.append(bench.run())) for _ in range(2)]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    solved = bench.solved()
    assert len(solved) == 8 and len(set(solved)) == 8
    assert len(found) == 2 and all(not any(row["problem"] for row in each.rows) for each in found)


def test_a_case_that_kills_its_process_costs_no_other(bench: Bench) -> None:
    """It is recorded; those that were under way with it are solved. Processes are forked: they have the stand-in."""

    def forks() -> Executor:
        return ProcessPoolExecutor(2, get_context("fork"))

    fatal = bench.study.cases[2].varied["placement.angle_deg"]
    bench.before = lambda settings: os._exit(9) if settings["placement.angle_deg"] == fatal else None
    results = run_many(bench.study, bench.out, bench.said, forks, 4)
    assert [row["problem"] for row in results.rows] == 2 * ["", "", ENDED, ""]


def test_shards_gathered_are_the_whole(bench: Bench) -> None:
    bench.run()
    whole, bench.out = bench.written(), bench.out.with_name("shards")
    bench.solved()
    for number in (1, 2):
        bench.run_shard(number, 3)
    assert len(bench.solved()) == 6 and not (bench.out / "table.csv").exists()
    _, missing = gather_shards(bench.study, bench.out, bench.said)
    assert missing == 2
    bench.run_shard(3, 3)
    bench.solved()
    results, missing = gather_shards(bench.study, bench.out, bench.said)
    assert missing == 0 and len(results.rows) == 8 and bench.written() == whole and bench.solved() == []


def test_an_edit_of_code_that_a_case_runs_voids_its_record(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.run()
    bench.solved()
    monkeypatch.setattr("icecone.studies.sweep.run_many.rests_on", lambda want: "other code")
    bench.run()
    assert len(bench.solved()) == 8


def test_an_axis_of_words_and_numbers_is_one_of_words(bench: Bench) -> None:
    """Numbers beside a word are words too, in every file."""
    axis = '[axes.ice]\ncolumn_tilt_deg = ["across", 30]\n[axes.placement]\nembedment_mm = ["flush", 100]\n'
    bench.path.write_text(STUDY.replace("[axes.placement]\nembedment_mm = [60, 100]\n", axis))
    results = bench.run()
    assert results.coordinates["ice.column_tilt_deg"] == ["across", "30"]
    assert results.coordinates["placement.embedment_mm"] == [130.0, 100.0]
    assert set(results.values("ice.column_tilt_deg")) == {"across", "30"}


def test_what_costs_minutes_a_value_is_said_before(bench: Bench) -> None:
    axis = "[axes.assumed]\nchip_friction = [0.3, 0.5]"
    bench.path.write_text(STUDY.replace("[axes.placement]\nembedment_mm = [60, 100]", axis))
    bench.run()
    assert "assumed.chip_friction: laws of chips are computed at each of its 2 values" in bench.said.export_text()


def test_a_number_that_is_none_is_not_kept(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Infinity and NaN are no loads."""
    odd = Found(peak_kN=float("nan"), early_kN=float("inf"), limit_kN=3.0, peak_mode="cone")
    monkeypatch.setattr(wanted, "solve_wanted", lambda *arguments: (odd, {}))
    row = bench.run().rows[0]
    assert "peak_kN" not in row and "early_kN" not in row and (row["limit_kN"], row["peak_mode"]) == (3.0, "cone")


def icecone(*arguments: str) -> tuple[int, str]:
    found = CliRunner().invoke(main, arguments, prog_name="icecone")
    return found.exit_code, found.output


@pytest.mark.parametrize(
    "options, told",
    [
        (("--jobs", "0"), "--jobs = '0': must be a whole number between 1 and 9999"),
        (("--jobs", "two"), "--jobs = 'two': must be a whole number"),
        (("--shard", "4/3"), "--shard = '4/3': must be I/N, I between 1 and N"),
        (("--shard", "0/3"), "--shard = '0/3': must be I/N"),
        (("--jobs", "2", "--scheduler", "tcp://127.0.0.1:1"), "--jobs = 2: must be left out where --scheduler"),
    ],
)
def test_a_wrong_option_is_one_line_and_leaves_nothing(bench: Bench, options: tuple[str, ...], told: str) -> None:
    code, said = icecone("study", str(bench.path), "--out", str(bench.out), *options)
    assert code == 2 and told in said and not bench.out.exists()


def test_options_of_many_cases_are_refused_where_the_study_is_none(tmp_path: Path) -> None:
    code, said = icecone("study", "angle_peak", "--out", str(tmp_path / "out"), "--jobs", "2")
    assert code == 2 and "--jobs = '2': must go with a study of many cases" in said and not (tmp_path / "out").exists()


def test_a_wrong_file_leaves_nothing(bench: Bench) -> None:
    bench.path.write_text(STUDY.replace("high = 20", "high = 90"))
    code, said = icecone("study", str(bench.path), "--out", str(bench.out))
    assert code == 2 and "of random.placement.angle_deg = " in said and not bench.out.exists()


def test_results_of_another_format_or_none_are_refused(bench: Bench) -> None:
    bench.out.mkdir()
    records_path(bench.out).write_text("text" * 1000)
    code, said = icecone("study", str(bench.path), "--out", str(bench.out), "--jobs", "1")
    assert code == 2 and "not the records of a study" in said
    code, said = icecone("gather", str(bench.path), "--out", str(bench.out))
    assert code == 2 and "no shards" in said


REAL = """
[study]
title = "six invented peaks"
question = "how wide?"
want = ["peak"]
[random]
draws = 6
seed = 1
[random.placement]
embedment_mm = { distribution = "uniform", low = 50, high = 70 }
"""


@pytest.mark.slow
def test_killed_at_any_instant_it_goes_on_and_writes_the_same_bytes(tmp_path: Path) -> None:
    """Real peaks: kill -9 of the command on one process, gone on with on two, beside a run in one go."""
    path = tmp_path / "study.toml"
    path.write_text(REAL)

    def command(out: str, jobs: int) -> list[str]:
        return [sys.executable, "-m", "icecone", "study", str(path), "--out", str(tmp_path / out), "--jobs", str(jobs)]

    first = subprocess.Popen(command("killed", 1), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline and first.poll() is None:
        time.sleep(0.05)
        if records_path(tmp_path / "killed").exists() and finished(tmp_path / "killed") >= 2:
            break
    first.send_signal(signal.SIGKILL)
    first.wait()
    done = finished(tmp_path / "killed")
    assert 2 <= done < 6
    again = subprocess.run(command("killed", 2), capture_output=True, text=True, check=True)
    assert f"{done} of 6 cases solved before" in again.stderr
    subprocess.run(command("whole", 1), capture_output=True, check=True)
    written = [name for name in FILES if (tmp_path / "whole" / name).exists()]
    assert "table.csv" in written
    for name in written:
        assert (tmp_path / "killed" / name).read_bytes() == (tmp_path / "whole" / name).read_bytes()


def finished(out: Path) -> int:
    """Cases with an answer."""
    try:
        return sum(not row["problem"] for row in read_results(out).rows)
    except CaseError:  # the run has just begun
        return 0


@pytest.mark.slow
def test_draws_of_strengths_solve_one_contact_a_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Five draws at two angles, one process: two elastic fields, ten onsets."""
    contacts: list[int] = []
    solve = elastic.ElasticSession.fields
    monkeypatch.setattr(elastic.ElasticSession, "fields", lambda *a, **k: contacts.append(1) or solve(*a, **k))
    elastic.kept_field.cache_clear()
    path = tmp_path / "study.toml"
    path.write_text(ONSETS)
    with (tmp_path / "said").open("w") as said:
        results = run_many(read_many(path), tmp_path / "out", Console(file=said), lambda: ThreadPoolExecutor(1), 2)
    assert len(contacts) == 2
    assert len({row["onset_kN"] for row in results.rows}) == 10 and not any(row["problem"] for row in results.rows)
