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
from functools import wraps
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console
from studystub import CAUTION, changed, install, made_up_record

from icecone.fem.errors import SolveError
from icecone.fem.laws.recipes import RECIPES, Inputs, Law
from icecone.geometry.errors import MeshError
from icecone.studies.case.file import KEYS, CaseError, settings_from
from icecone.studies.command.main import print_study
from icecone.studies.command.main import study as cli_study
from icecone.studies.files.laws import UsedLaws, file_name, kept_law
from icecone.studies.files.lock import Busy, only_run
from icecone.studies.files.store import read_json, write_record
from icecone.studies.sweep import runner
from icecone.studies.sweep.run import run_study
from icecone.studies.sweep.runner import Job, run_cases
from icecone.studies.sweep.study import Study, read_study, shipped_studies

STUB = Path(__file__).parents[2] / "studystub.py"
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
MISSING = object()
ANGLES = [-20.0, -10.0, 0.0, 10.0, 20.0]
SERIES = """
[study]
title = "two invented series"
question = "which one matters more?"
[case.placement]
embedment_mm = 100
[[vary]]
key = "placement.angle_deg"
values = [-20, 0, 20]
[[vary]]
key = "placement.embedment_mm"
values = [
  60,
  100,
]
[strip]
key = "placement.embedment_mm"
values = [60, 100]
"""


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
        self.drawn: list[Any] = []
        vars(sys.modules["icecone.studies.figures.series"]).update(series_figure=self.draw)

    def draw(self, *arguments: Any) -> None:
        self.drawn = list(arguments)
        Path(arguments[-1]).write_bytes(b"picture")

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


def test_series_vary_one_key_each_and_share_the_base_case(bench: Bench) -> None:
    """Three angles and two depths are four cases: the base case, -20 to 20 deg at 100 mm and 60 mm upright."""
    bench.path.write_text(SERIES)
    study = bench.study()
    assert [series.key for series in study.series] == ["placement.angle_deg", "placement.embedment_mm"]
    assert [[series.value(job) for job in series.jobs] for series in study.series] == [[-20, 0, 20], [60, 100]]
    for series in study.series:
        first = study.base[series.key]
        assert all({**job.settings, series.key: first} == study.base for job in series.jobs)  # type: ignore[index]
    assert study.base == settings_from({"placement.embedment_mm": 100})
    assert [job.settings["placement.embedment_mm"] for job in study.jobs] == [100, 100, 100, 60]
    assert [job.keep for job in study.jobs] == [False, True, False, True], "the strip's depths, the shared one too"
    assert bench.run() == [-20.0, 0.0, 20.0, 0.0]
    assert bench.run() == []


def test_series_are_tabled_drawn_and_told_apart(bench: Bench) -> None:
    bench.path.write_text(SERIES)
    bench.run()
    rows = bench.table()
    assert list(rows[0])[:3] == ["varied_key", "value", "onset_kN"] and list(rows[0])[-1] == "caution"
    assert [(row["varied_key"].split(".")[1], float(row["value"]), float(row["onset_kN"])) for row in rows] == [
        ("angle_deg", -20, pytest.approx(0.9)),
        ("angle_deg", 0, pytest.approx(1.1)),
        ("angle_deg", 20, pytest.approx(1.3)),
        ("embedment_mm", 60, pytest.approx(1.06)),
        ("embedment_mm", 100, pytest.approx(1.1)),
    ]
    assert rows[1]["case_id"] == rows[4]["case_id"]
    whole = read_json(bench.out / "outcomes.json")
    angle, depth = whole["keys"]
    assert [record["series"] for record in whole["records"]] == [[angle], [angle, depth], [angle], [depth]]
    assert "3 against placement.angle_deg; 2 against placement.embedment_mm" in (bench.out / "why.txt").read_text()
    series, base, title, _ = bench.drawn
    assert [len(records) for _, records in series] == [3, 2] and title == "two invented series"
    assert base == series[0][1][1].case
    folders = {path.name for path in (bench.out / "cases").iterdir() if path.is_dir()}
    assert folders == {rows[3]["case_id"], rows[4]["case_id"]} and (bench.out / "stress_strip.png").exists()


def test_the_command_prints_a_table_a_series_and_names_the_shipped_studies(bench: Bench) -> None:
    """Two headers, five rows (the shared case in both tables), the title once; help lists what is shipped."""
    bench.path.write_text(SERIES)
    study = bench.study()
    screen = Console(record=True, file=(bench.path.parent / "printed").open("w"), width=200)
    print_study(screen, study, run_study(study, bench.out, bench.console))
    printed = screen.export_text()
    assert printed.count("two invented series") == 1 and printed.count("onset (kN)") == 2
    assert "placement.angle_deg" in printed and "placement.embedment_mm" in printed
    assert printed.count("1.1 ") == 2 and printed.count("at the mouth, behind the tube") == 5
    peaks = {"angle_peak", "partial_and_tied_off", "tube_length", "thread_and_wall", "mode_map", "angle_fine"}
    assert set(shipped_studies()) == {"why_angle", "ice_kind", "pull_out", "lightest_tube", "spread"} | peaks
    named = " ".join((cli_study.help or "").split())
    assert f"comes with icecone: {', '.join(sorted(shipped_studies()))}." in named


def test_a_failed_case_of_a_series_is_named_with_its_key(bench: Bench) -> None:
    def fail(angle: float) -> None:
        if angle == 0.0:
            raise SolveError("no")

    bench.path.write_text(SERIES)
    bench.before = fail
    bench.run()
    problems = read_json(bench.out / "outcomes.json")["problems"]
    assert [(problem["key"], problem["value"]) for problem in problems] == [
        ("placement.angle_deg", 0),
        ("placement.embedment_mm", 60),
        ("placement.embedment_mm", 100),
    ]
    assert [row["problem"] for row in bench.table()] == ["", "no", "", "no", "no"]
    assert not (bench.out / "stress_strip.png").exists() and [key for key, _ in bench.drawn[0]] == [
        "placement.angle_deg"
    ]


def test_stopped_between_series_it_goes_on_there(bench: Bench) -> None:
    def stop(angle: float) -> None:
        if angle == 20.0:
            raise KeyboardInterrupt

    bench.path.write_text(SERIES)
    bench.before = stop
    with pytest.raises(KeyboardInterrupt):
        bench.run()
    bench.before = lambda angle: None
    assert bench.run() == [20.0, 0.0]


def test_one_double_bracket_table_is_the_study_of_one_key(bench: Bench) -> None:
    single = bench.study()
    bench.path.write_text(
        STUDY.replace("[vary]", "[[vary]]").replace("[strip]", '[strip]\nkey = "placement.angle_deg"')
    )
    assert bench.study() == single and single.base is None


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
        return [sys.executable, str(STUB), str(seconds), str(log), "study", "angle_peak", "--out", str(tmp_path / out)]

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


@pytest.mark.skipif(sys.platform == "win32", reason="names of files that are no text")
def test_no_title_and_no_name_stops_the_printing(tmp_path: Path) -> None:
    """A terminal that knows no such letters, and a folder whose name is no text and would colour the screen."""
    path, out = tmp_path / "study.toml", os.fsencode(tmp_path) + b"/o\xff\x1b[31mut"
    path.write_text(STUDY.replace("an invented study", "\u51b0 \u2744"), encoding="utf-8")
    command = [sys.executable, str(STUB), "0", str(tmp_path / "log"), "study", str(path), "--out", out]
    for encoding in ("ascii", "utf-8"):
        done = subprocess.run(command, capture_output=True, env={**os.environ, "PYTHONIOENCODING": encoding})
        assert done.returncode == 0 and b"Traceback" not in done.stderr, done.stderr.decode(errors="replace")
        assert b"written to " in done.stdout and b"\x1b" not in done.stdout + done.stderr


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


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("onset_kN", "much"),
        ("onset_kN", True),
        ("onset_where_mm", [0.0, 1.0]),
        ("case", None),
        ("ice", []),
        ("crust", "thin"),
        ("peak", {}),
        ("peak", "high"),
        ("cone", []),
        ("onset_place", MISSING),
        ("caution", MISSING),
        ("case", MISSING),
    ],
)
def test_a_record_with_a_right_digest_that_lacks_what_is_read_is_solved_again(
    bench: Bench, key: str, value: object
) -> None:
    bench.run()
    path = bench.record_of(0.0)
    record = {name: kept for name, kept in read_json(path)["record"].items() if name != key}
    write_record(path, record if value is MISSING else {**record, key: value}, runner.stamp())
    assert bench.run() == [0.0]
    assert "not trusted, solving placement.angle_deg = 0 again" in bench.console.export_text()


def test_a_law_that_is_another_one_now_is_solved_anew(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The law's file in the user's folder is gone, or holds another law: what rests on it does not count."""
    monkeypatch.setenv("ICECONE_LAWS", str(bench.path.parent / "laws"))
    stiffness, solve = [2.0], vars(sys.modules["icecone.studies.outcome.solve"])["solve_case"]

    @wraps(RECIPES["wall"])  # of its code
    def recipe(inputs: Inputs) -> Law:
        return {"k": list(stiffness)}

    def with_laws(settings: dict[str, Any], *more: Any) -> Any:
        laws = UsedLaws()
        for at in (1.0, 0.0)[: 2 if settings["placement.angle_deg"] == 0.0 else 1]:
            laws("trial", {"at": at}, recipe)
        outcome, solution = solve(settings)
        return changed(outcome, laws=laws.digests), solution

    vars(sys.modules["icecone.studies.outcome.solve"]).update(solve_case=with_laws)
    upright, everywhere = (bench.path.parent / "laws" / file_name("trial", {"at": at}) for at in (0.0, 1.0))
    assert bench.run() == ANGLES and bench.run() == []
    assert set(read_json(bench.record_of(0.0))["record"]["laws"]) == {upright.name, everywhere.name}
    upright.unlink()
    assert bench.run() == [0.0] and bench.run() == []
    stiffness[0] = 3.0
    upright.unlink()
    kept_law("trial", {"at": 0.0}, recipe)
    assert bench.run() == [0.0] and bench.run() == []
    assert "is another one now: solving placement.angle_deg = 0 again" in bench.console.export_text()
    everywhere.unlink()
    assert bench.run() == ANGLES


def test_a_picture_that_fails_leaves_the_answer_before(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """New tables never stand beside the words and pictures of another study."""

    def fail(*arguments: Any) -> None:
        raise ZeroDivisionError

    bench.run()
    before = {path.name: path.read_bytes() for path in bench.out.iterdir() if path.is_file()}
    bench.path.write_text(STUDY.replace("[-20, -10, 0, 10, 20]", "[-20, 5, 20]"))
    vars(sys.modules["icecone.studies.figures.stress"]).update(sweep_figure=fail)
    with pytest.raises(ZeroDivisionError):
        bench.run()
    assert {path.name: path.read_bytes() for path in bench.out.iterdir() if path.is_file()} == before


def test_fields_of_a_case_go_with_its_old_record(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A case that is solved anew, and keeps no fields now, has none of before beside its record."""
    bench.run()
    folder = bench.record_of(20.0).with_suffix("")
    (folder / "notes.txt").write_text("mine")
    other = bench.record_of(-20.0).with_suffix("")
    bench.path.write_text(STUDY.partition("[strip]")[0])
    monkeypatch.setattr(runner, "stamp", lambda: "another")
    assert bench.run() == ANGLES
    assert [path.name for path in folder.iterdir()] == ["notes.txt"] and not other.exists()


def test_other_settings_or_another_version_are_solved_anew(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.run()
    bench.path.write_text(STUDY.replace("embedment_mm = 100", "embedment_mm = 101"))
    assert bench.run() == ANGLES
    assert bench.run() == []
    monkeypatch.setattr(runner, "stamp", lambda: "another")
    assert bench.run() == ANGLES


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
    assert {path.name for path in bench.out.iterdir()} == {"manifest.json", "cases", "table.csv", "outcomes.json"}


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
    ('"an invented study"', r'"\u0000\u202e "', 3, "study.title = '\\x00\\u202e ': must be a text in quotes"),
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
    (
        "[case.placement]",
        "[cases.placement]",
        5,
        "[cases]: unknown table: must be one of study, case, vary, grid, strip",
    ),
    (
        "[strip]",
        "[stripe]",
        10,
        "[stripe]: unknown table: must be one of study, case, vary, grid, strip; did you mean strip?",
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


WRONG_SERIES = [
    ('key = "placement.embedment_mm"\nvalues = [\n', 'key = "placement.angle_deg"\nvalues = [\n', 11,
     "vary.key = 'placement.angle_deg': must not be given twice"),
    ('key = "placement.embedment_mm"\nvalues = [\n', 'key = "placement.depth_mm"\nvalues = [\n', 11,
     "vary.key = 'placement.depth_mm': must be one of tube.length_mm"),
    ("  60,\n", "  '60',\n", 12, "placement.embedment_mm = '60': must be a number between 30 and 300"),
    ("  60,\n", "  [60],\n", 12, "placement.embedment_mm = [60]: must be a number between 30 and 300"),
    ("  60,\n", "  100.0,\n", 12, "placement.embedment_mm = 100: must not be given twice"),
    ("[-20, 0, 20]", "[-20, 0, 60]", 9, "placement.angle_deg = 60: must be a number between -45 and 45"),
    ("embedment_mm = 100\n", "embedment_mm = 20\n", 6, "placement.embedment_mm = 20: must be a number between 30"),
    ('key = "placement.embedment_mm"\nvalues = [60', "values = [60", 16,
     "strip.key: missing: must be one of placement.angle_deg, placement.embedment_mm"),
    ('key = "placement.embedment_mm"\nvalues = [60', 'key = "ice.kind"\nvalues = [60', 17,
     "strip.key = 'ice.kind': must be one of placement.angle_deg, placement.embedment_mm"),
    ("values = [60, 100]", "values = [60, 90]", 18, "strip.values: 90: must be one of 60, 100"),
    ("values = [\n  60,\n  100,\n]", "", 10, "vary.values = missing: must be a list of one value or more"),
    ("values = [\n  60,", "vals = 1\nvalues = [\n  60,", 12, "vary.vals = 1: unknown key: must be one of key, values"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "message"), WRONG_SERIES)
def test_a_wrong_series_is_refused_with_its_own_line(bench: Bench, old: str, new: str, line: int, message: str) -> None:
    assert SERIES.count(old) == 1
    bench.path.write_text(SERIES.replace(old, new))
    with pytest.raises(CaseError) as caught:
        bench.run()
    assert str(caught.value).startswith(f"{bench.path}:{line}: ") and message in str(caught.value)
    assert bench.solved == [] and not bench.out.exists()


@pytest.mark.parametrize(("written", "shown"), [("[]", "[]"), ("3", "3"), ("[3, {}]", "3")])
def test_vary_must_be_a_table_or_several(bench: Bench, written: str, shown: str) -> None:
    bench.path.write_text(f"vary = {written}\n" + SERIES.replace("[[vary]]", "[case.ice]", 1).partition("key =")[0])
    with pytest.raises(CaseError) as caught:
        bench.study()
    message = f"{bench.path}:1: vary = {shown}: must be a table, written [vary], or several, written [[vary]]"
    assert str(caught.value) == message


def test_a_strip_of_another_key_is_refused_where_there_is_one_series(bench: Bench) -> None:
    bench.path.write_text(STUDY.replace("[strip]", '[strip]\nkey = "ice.kind"'))
    with pytest.raises(CaseError, match=r"study.toml:11: strip.key = 'ice.kind': must be one of placement.angle_deg$"):
        bench.study()


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


@pytest.mark.parametrize("name", sorted({*shipped_studies()} - {"lightest_tube", "spread"}))
def test_shipped_studies_are_sound(name: str) -> None:
    study = read_study(shipped_studies()[name])
    assert len(study.jobs) >= 2 and (study.grid or any(job.keep for job in study.jobs))


def test_why_angle_asks_what_it_says() -> None:
    study = read_study(shipped_studies()["why_angle"])
    (series,) = study.series
    assert (
        [series.value(job) for job in study.jobs if job.keep]
        == [series.value(job) for job in study.jobs]
        == [-20, 0, 20]
    )
    for job in study.jobs:
        expected = {
            "pull.direction_deg": 0,
            "ice.kind": "sound_glacier",
            "numerics.level": "standard",
            "numerics.model": "peak",
            "ice.crust_mm": 0,
        }
        assert {key: job.settings[key] for key in expected} == expected
        flush = job.settings["tube.length_mm"] - job.settings["tube.eye_mm"]  # type: ignore[operator]
        assert job.settings["placement.embedment_mm"] == flush


def test_ice_kind_asks_what_it_says() -> None:
    """Each named ice, temperatures and crusts about one upright tube in sound glacier ice, in 17 cases."""
    study = read_study(shipped_studies()["ice_kind"])
    values = {series.key: [series.value(job) for job in series.jobs] for series in study.series}
    assert values["ice.kind"] == list(KEYS["ice.kind"].choices) and len(values) == 3
    assert values["ice.temperature_C"] == [-25, -20, -15, -10, -5, -2, 0]
    assert values["ice.crust_mm"] == [0, 2, 5, 10, 20, 40]
    base = study.base or {}
    asked = ("placement.angle_deg", "pull.direction_deg", "ice.kind", "ice.temperature_C", "ice.crust_mm")
    assert [base[key] for key in asked] == [0, 0, "sound_glacier", -5, 0] and base["numerics.level"] == "standard"
    assert len(study.jobs) == sum(len(found) for found in values.values()) - 2
    kept = [job.settings for job in study.jobs if job.keep]
    assert len(kept) == 3 and len({settings["ice.kind"] for settings in kept}) == 3


@pytest.mark.slow
@pytest.mark.parametrize("model", ["peak", "onset"])
def test_a_study_with_the_real_solver_resumes(tmp_path: Path, model: str) -> None:
    """Two cases at the quick level: read back, records agree with their settings, so nothing is solved again."""
    path = tmp_path / "study.toml"
    text = STUDY.replace("[-20, -10, 0, 10, 20]", "[-20, 20]")
    path.write_text(f'{text}\n[case.numerics]\nmodel = "{model}"\n')
    console = Console(file=(tmp_path / "said").open("w"))
    first = run_study(read_study(path, "quick"), tmp_path / "out", console)
    table = (tmp_path / "out" / "table.csv").read_bytes()
    second = run_study(read_study(path, "quick"), tmp_path / "out", console)
    assert [case.outcome for case in second] == [case.outcome for case in first] and (
        tmp_path / "out" / "sweep.png"
    ).exists()
    assert all(case.outcome for case in first) and (tmp_path / "out" / "table.csv").read_bytes() == table
    console.file.flush()
    assert "2 of 2 cases solved before" in (tmp_path / "said").read_text()
    assert json.loads((tmp_path / "out" / "outcomes.json").read_text())["problems"] == []
