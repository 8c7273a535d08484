"""Studies: checked before anything is solved, resumable at any point, and never resting on a damaged record."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console
from studystub import CAUTION, install, made_up_record

from icecone.fem.solver import SolveError
from icecone.geometry import MeshError
from icecone.studies import runner
from icecone.studies.casefile import CaseError, settings_from
from icecone.studies.runner import Job, run_cases
from icecone.studies.store import Busy, only_run, read_json
from icecone.studies.sweep import Study, read_study, run_study, shipped_studies

STUB = Path(__file__).with_name("studystub.py")
STUDY = """
[study]
title = "an invented study"
question = "does the stand-in change?"
[case.placement]
embedment_mm = 100
[vary]
key = "placement.angle_deg"
values = [-20, -10, 0, 10, 20]
[strip]
values = [-20, 20]
"""
ANGLES = [-20.0, -10.0, 0.0, 10.0, 20.0]


class Bench:
    """A study with a stand-in solver: what was solved, and what was said."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.out = folder / "out"
        self.path = folder / "study.toml"
        self.path.write_text(STUDY)
        self.solved: list[float] = []
        self.before: Callable[[float], None] = lambda angle: None
        self.console = Console(record=True, file=(folder / "said").open("w"), width=200)
        install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), self.solve)

    def solve(self, settings: dict[str, Any]) -> dict[str, Any]:
        angle = settings["placement.angle_deg"]
        self.before(angle)
        self.solved.append(angle)
        return made_up_record(settings)

    def run(self) -> list[float]:
        """Run the study; the angles that were solved in this run."""
        self.solved.clear()
        run_study(self.study(), self.out, self.console)
        return list(self.solved)

    def study(self) -> Study:
        return read_study(self.path)

    def record_of(self, angle: float) -> Path:
        job = next(job for job in self.study().jobs if job.settings["placement.angle_deg"] == angle)
        return self.out / "cases" / f"{job.id}.json"

    def table(self) -> list[dict[str, str]]:
        with (self.out / "table.csv").open(newline="") as handle:
            return list(csv.DictReader(handle))


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path, monkeypatch)


def test_a_study_solves_each_value_once_and_writes_its_files(bench: Bench) -> None:
    assert bench.run() == ANGLES
    table = bench.table()
    assert [float(row["placement.angle_deg"]) for row in table] == ANGLES
    assert [float(row["onset_kN"]) for row in table] == pytest.approx([1.1 + 0.01 * angle for angle in ANGLES])
    assert all(row["caution"] == CAUTION and row["problem"] == "" for row in table)
    whole = read_json(bench.out / "outcomes.json")
    assert whole["caution"] == CAUTION and [r["case"]["placement.angle_deg"] for r in whole["records"]] == ANGLES
    words = (bench.out / "why.txt").read_text()
    assert "does the stand-in change?" in words and CAUTION in words
    assert (bench.out / "sweep.png").exists() and (bench.out / "stress_strip.png").exists()
    kept = {path.name for path in (bench.out / "cases").iterdir() if path.is_dir()}
    assert kept == {bench.record_of(angle).stem for angle in (-20.0, 20.0)}


def test_a_second_run_solves_nothing(bench: Bench) -> None:
    bench.run()
    table = (bench.out / "table.csv").read_bytes()
    assert bench.run() == []
    assert (bench.out / "table.csv").read_bytes() == table


@pytest.mark.parametrize("stop_at", ANGLES)
def test_stopped_at_any_case_it_goes_on_there(bench: Bench, stop_at: float) -> None:
    def stop(angle: float) -> None:
        if angle == stop_at:
            raise KeyboardInterrupt

    bench.before = stop
    with pytest.raises(KeyboardInterrupt):
        bench.run()
    bench.before = lambda angle: None
    assert bench.run() == ANGLES[ANGLES.index(stop_at) :]


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_killed_it_loses_the_case_in_progress_at_most(tmp_path: Path) -> None:
    """SIGKILL in the middle; the resumed run ends with the same table as one that was never disturbed."""
    log = tmp_path / "log"

    def command(seconds: float, out: str) -> list[str]:
        return [sys.executable, str(STUB), str(seconds), str(log), "study", "why_angle", "--out", str(tmp_path / out)]

    process = subprocess.Popen(command(0.3, "killed"), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 20
    while (not log.exists() or log.read_text().count("\n") < 3) and time.monotonic() < deadline:
        time.sleep(0.02)
    os.kill(process.pid, signal.SIGKILL)
    assert process.wait() == -signal.SIGKILL and not (tmp_path / "killed" / "table.csv").exists()
    before = log.read_text().split()
    assert 3 <= len(before) < 7
    subprocess.run(command(0.0, "killed"), check=True, capture_output=True)
    after = log.read_text().split()
    assert set(after) == {"-30", "-20", "-10", "0", "10", "20", "30"} and len(after) <= 8
    subprocess.run(command(0.0, "whole"), check=True, capture_output=True)
    assert (tmp_path / "killed" / "table.csv").read_bytes() == (tmp_path / "whole" / "table.csv").read_bytes()


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-40])


def _alter(path: Path) -> None:
    path.write_text(path.read_text().replace('"onset_kN": 1.1', '"onset_kN": 9.1'))


@pytest.mark.parametrize(
    "damage", [_cut, _alter, lambda path: path.write_bytes(b"")], ids=["cut", "altered", "emptied"]
)
def test_a_damaged_record_is_solved_again_with_a_message(bench: Bench, damage: Callable[[Path], None]) -> None:
    bench.run()
    table = (bench.out / "table.csv").read_bytes()
    path = bench.record_of(0.0)
    whole = path.read_bytes()
    damage(path)
    assert path.read_bytes() != whole
    assert bench.run() == [0.0]
    assert "not trusted, solving placement.angle_deg = 0 again" in bench.console.export_text()
    assert path.read_bytes() == whole and (bench.out / "table.csv").read_bytes() == table


def test_lost_or_damaged_fields_are_solved_again(bench: Bench) -> None:
    bench.run()
    (bench.record_of(20.0).with_suffix("") / "fields.vtu").write_text("rubbish")
    assert bench.run() == [20.0]
    assert (bench.record_of(20.0).with_suffix("") / "fields.vtu").read_text() != "rubbish"
    bench.path.write_text(STUDY.replace("[-20, 20]\n", "[0]\n", 1).replace("values = [0]", "values = [0, 10]"))
    assert bench.run() == [0.0, 10.0], "a strip that was not asked for before"


def test_other_settings_or_another_version_are_solved_anew(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.run()
    bench.path.write_text(STUDY.replace("embedment_mm = 100", "embedment_mm = 101"))
    assert bench.run() == ANGLES
    assert bench.run() == []
    monkeypatch.setattr(runner, "stamp", lambda: "another")
    assert bench.run() == ANGLES


def test_the_stamp_sees_code_and_material_values() -> None:
    """It covers the values of the ices and the forms; a wrong path would leave it blind."""
    read = {path.split("/")[0] for path in runner.DECIDING}
    assert read == {"icecone.materials", "icecone.geometry", "icecone.fem"}
    assert {"ices.toml", "elasticity.py", "halfmodel.py", "record.py"} <= {
        file.name for file in runner.deciding_files()
    }


def test_a_case_that_fails_is_named_and_the_others_go_on(bench: Bench) -> None:
    def fail(angle: float) -> None:
        if angle == -10.0:
            raise SolveError("contact does not settle\nafter 50 rounds")
        if angle == 20.0:
            raise MeshError("the mesh is tangled in 3 of 9 elements")

    bench.before = fail
    assert bench.run() == [-20.0, 0.0, 10.0]
    rows = bench.table()
    assert [row["problem"] for row in rows] == [
        "",
        "contact does not settle after 50 rounds",
        "",
        "",
        "the mesh is tangled in 3 of 9 elements",
    ]
    assert rows[1]["onset_kN"] == "" and len(read_json(bench.out / "outcomes.json")["problems"]) == 2
    assert "placement.angle_deg = -10: not solved: contact does not settle" in bench.console.export_text()
    bench.before = lambda angle: None
    assert bench.run() == [-10.0, 20.0]
    assert all(row["problem"] == "" for row in bench.table())


def test_nothing_solved_leaves_no_findings(bench: Bench) -> None:
    def fail(angle: float) -> None:
        raise SolveError("no")

    bench.before = fail
    assert bench.run() == []
    assert {path.name for path in bench.out.iterdir()} == {".lock", "cases", "table.csv", "outcomes.json"}


def test_a_second_run_at_the_same_time_is_refused(bench: Bench) -> None:
    bench.out.mkdir()
    with only_run(bench.out), pytest.raises(Busy, match="another run"):
        bench.run()
    assert bench.solved == []


def test_the_same_case_twice_is_solved_once(bench: Bench) -> None:
    case = settings_from({})
    done = run_cases([Job("a", case), Job("b", case, keep=True)], bench.out, bench.console)
    assert bench.solved == [0.0] and [item.job.name for item in done] == ["a", "b"]
    assert (bench.out / "cases" / done[0].job.id / "fields.vtu").exists()


WRONG = [
    (
        "values = [-20, -10, 0, 10, 20]",
        "values = [-20, 0, 50]",
        9,
        "placement.angle_deg = 50: must be a number between -45",
    ),
    ("values = [-20, -10, 0, 10, 20]", "values = [-20, 0, '20']", 9, "placement.angle_deg = '20': must be a number"),
    ("values = [-20, -10, 0, 10, 20]", "values = [0, 5, 0.0]", 9, "placement.angle_deg = 0: must not be given twice"),
    ("values = [-20, -10, 0, 10, 20]", "values = []", 9, "vary.values = []: must be a list of one value or more"),
    ("values = [-20, -10, 0, 10, 20]", "values = 5", 9, "vary.values = 5: must be a list of one value or more"),
    ("values = [-20, -10, 0, 10, 20]", "", 7, "vary.values = missing: must be a list of one value or more"),
    ("values = [-20, 20]", "values = [-20, 15]", 11, "strip.values: 15: must be one of -20, -10, 0, 10, 20"),
    ('key = "placement.angle_deg"', 'key = "angle_deg"', 8, "vary.key = 'angle_deg': must be one of tube.length_mm"),
    ('key = "placement.angle_deg"', "key = 5", 8, "vary.key = 5: must be a text in quotes"),
    ('key = "placement.angle_deg"', "", 7, "vary.key: missing"),
    ('title = "an invented study"', "", 2, "study.title: missing"),
    ('title = "an invented study"', "titel = 'x'", 3, "study.titel = 'x': unknown key: must be one of title, question"),
    (
        "embedment_mm = 100",
        "embedment_mm = 900",
        6,
        "placement.embedment_mm = 900: must be a number between 30 and 300",
    ),
    ("embedment_mm = 100", "embedmnt_mm = 100", 6, "placement.embedmnt_mm = 100: unknown key"),
    (
        "embedment_mm = 100",
        "angle_deg = 5",
        6,
        "case.placement.angle_deg = 5: must be left out where vary.key names it",
    ),
    ("[case.placement]", "[case.place]", 5, "[place]: unknown table: must be one of tube, placement"),
    ("[case.placement]", "[cases.placement]", 5, "[cases]: unknown table: must be one of study, case, vary, strip"),
    (
        "[strip]",
        "[stripe]",
        10,
        "[stripe]: unknown table: must be one of study, case, vary, strip; did you mean strip?",
    ),
]


@pytest.mark.parametrize(("old", "new", "line", "message"), WRONG)
def test_a_wrong_study_is_refused_before_anything_is_solved(
    bench: Bench, old: str, new: str, line: int, message: str
) -> None:
    assert STUDY.count(old) == 1
    bench.path.write_text(STUDY.replace(old, new))
    with pytest.raises(CaseError) as caught:
        bench.run()
    assert str(caught.value).startswith(f"{bench.path}:{line}: ") and message in str(caught.value)
    assert bench.solved == [] and not bench.out.exists()


def test_cross_checks_hold_for_every_value(bench: Bench) -> None:
    """Varying one key can make another one impossible: the error names that one."""
    text = STUDY.replace("placement.angle_deg", "tube.length_mm").replace("[-20, -10, 0, 10, 20]", "[120, 64]")
    bench.path.write_text(text.partition("[strip]")[0].replace("embedment_mm = 100", "embedment_mm = 50"))
    with pytest.raises(
        CaseError, match=r"tube.thread_length_mm = 65 \(the default\): must be a number between 10 and 64"
    ):
        bench.study()


def test_level_overrides_the_study(bench: Bench) -> None:
    assert {job.settings["numerics.level"] for job in read_study(bench.path, "quick").jobs} == {"quick"}


@pytest.mark.parametrize("name", sorted(shipped_studies()))
def test_shipped_studies_are_sound(name: str) -> None:
    study = read_study(shipped_studies()[name])
    assert len(study.jobs) >= 2 and any(job.keep for job in study.jobs)


def test_why_angle_asks_what_it_says() -> None:
    study = read_study(shipped_studies()["why_angle"])
    assert [study.value(job) for job in study.jobs] == [-30, -20, -10, 0, 10, 20, 30]
    assert [study.value(job) for job in study.jobs if job.keep] == [-20, 0, 20]
    for job in study.jobs:
        expected = {
            "pull.direction_deg": 0,
            "ice.kind": "sound_glacier",
            "numerics.level": "standard",
            "ice.crust_mm": 0,
        }
        assert {key: job.settings[key] for key in expected} == expected
        assert job.settings["placement.embedment_mm"] == job.settings["tube.length_mm"] - job.settings["tube.eye_mm"]  # type: ignore[operator]


@pytest.mark.slow
def test_a_study_with_the_real_solver_resumes(tmp_path: Path) -> None:
    """Two cases at the quick level: read back, records agree with their settings, so nothing is solved again."""
    path = tmp_path / "study.toml"
    path.write_text(STUDY.replace("[-20, -10, 0, 10, 20]", "[-20, 20]"))
    console = Console(file=(tmp_path / "said").open("w"))
    first = run_study(read_study(path, "quick"), tmp_path / "out", console)
    table = (tmp_path / "out" / "table.csv").read_bytes()
    second = run_study(read_study(path, "quick"), tmp_path / "out", console)
    assert [case.record for case in second] == [case.record for case in first] and (
        tmp_path / "out" / "sweep.png"
    ).exists()
    assert all(case.record for case in first) and (tmp_path / "out" / "table.csv").read_bytes() == table
    console.file.flush()
    assert "2 of 2 cases were solved before" in (tmp_path / "said").read_text()
    assert json.loads((tmp_path / "out" / "outcomes.json").read_text())["problems"] == []
