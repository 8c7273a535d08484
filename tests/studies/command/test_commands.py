"""The command line: what a user types, reads and finds on disk."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from click.testing import CliRunner, Result
from rich.console import Console
from studystub import CAUTION, install, made_up_record

from icecone.fem.errors import SolveError
from icecone.geometry.errors import MeshError
from icecone.studies.case.file import settings_from
from icecone.studies.command import solving
from icecone.studies.command.main import main
from icecone.studies.files.store import read_json
from icecone.studies.outcome import wanted
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.wanted import Found
from icecone.studies.sweep import drawn

STUB = Path(__file__).parents[2] / "studystub.py"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Solved settings, in order; the solver is a stand-in."""
    solved: list[dict[str, Any]] = []

    def solve(settings: dict[str, Any]) -> Outcome:
        solved.append(settings)
        return made_up_record(settings)

    def put(name: str, module: ModuleType) -> None:
        monkeypatch.setitem(sys.modules, name, module)

    install(put, solve)
    monkeypatch.setattr(solving, "say_at_once", lambda *_: None)
    return solved


# (what is written into the case file, the key, the value as the message shows it, what is allowed)
WRONG = [
    ("[tube]\nlength_mm = 59.9", "tube.length_mm", "59.9", "between 60 and 300 mm"),
    ("[tube]\nlength_mm = 301", "tube.length_mm", "301", "between 60 and 300 mm"),
    ("[tube]\nlength_mm = 0.14", "tube.length_mm", "0.14", "between 60 and 300 mm"),
    ("[tube]\nlength_mm = -140", "tube.length_mm", "-140", "between 60 and 300 mm"),
    ("[tube]\nlength_mm = '140'", "tube.length_mm", "'140'", "a number between 60 and 300 mm"),
    ("[tube]\nlength_mm = true", "tube.length_mm", "true", "a number between 60 and 300 mm"),
    ("[tube]\nlength_mm = nan", "tube.length_mm", "nan", "a number between 60 and 300 mm"),
    ("[tube]\nlength_mm = inf", "tube.length_mm", "inf", "a number between 60 and 300 mm"),
    ("[tube]\nlength_mm = -inf", "tube.length_mm", "-inf", "a number between 60 and 300 mm"),
    ("[tube]\nlength_mm = 1e400", "tube.length_mm", "inf", "a number between 60 and 300 mm"),
    (f"[tube]\nlength_mm = 1{'0' * 400}", "tube.length_mm", "1000", "a number between 60 and 300 mm"),
    (f"[tube]\nlength_mm = 1{'0' * 5000}", "length_mm", "1000", "limit"),
    ("[tube]\nlength_mm = []", "tube.length_mm", "[]", "a number between 60 and 300 mm"),
    ("[tube.length_mm]\nx = 1", "tube.length_mm", "{'x': 1}", "a number between 60 and 300 mm"),
    ("[tube]\nlength_mm = 2026-01-01", "tube.length_mm", "datetime.date(2026, 1, 1)", "a number between 60"),
    ("[tube]\nlength_mm = 'a\\nb'", "tube.length_mm", "'a\\\\nb'", "a number between 60 and 300 mm"),
    ("[tube]\nod_mm = 9", "tube.od_mm", "9", "between 10 and 30 mm"),
    ("[tube]\nwall_mm = 4.5", "tube.wall_mm", "4.5", "between 0.5 and 4 mm"),
    ("[tube]\nthread_length_mm = 141", "tube.thread_length_mm", "141", "between 10 and 140 mm (tube.length_mm)"),
    ("[tube]\nlength_mm = 64", "tube.thread_length_mm", "65 (the default)", "between 10 and 64 mm (tube.length_mm)"),
    ("[tube]\nthread_height_mm = 6", "tube.thread_height_mm", "6", "between 0.5 and 5 mm"),
    ("[tube]\nthread_pitch_mm = 1", "tube.thread_pitch_mm", "1", "between 2 and 10 mm"),
    ("[tube]\neye_mm = 31", "tube.eye_mm", "31", "between 2 and 30 mm"),
    ("[tube]\nhanger_kN = 10000", "tube.hanger_kN", "10000", "between 0 and 100 kN"),
    ("[placement]\nangle_deg = 46", "placement.angle_deg", "46", "between -45 and 45 deg"),
    ("[placement]\nembedment_mm = 29", "placement.embedment_mm", "29", "between 30 and 300 mm"),
    ("[placement]\nembedment_mm = 141", "placement.embedment_mm", "141", 'between 30 and 140 mm, or "flush"'),
    ("[placement]\nembedment_mm = 'Flush'", "placement.embedment_mm", "'Flush'", 'or "flush"'),
    ("[placement]\nattachment = 'sling'", "placement.attachment", "'sling'", 'one of "eye", "tied_off"'),
    ("[placement]\nattachment = 1", "placement.attachment", "1", 'one of "eye", "tied_off"'),
    ("[pull]\ndirection_deg = -1", "pull.direction_deg", "-1", "between 0 and 90 deg"),
    ("[ice]\nkind = 'snow'", "ice.kind", "'snow'", '"sound_glacier", "bubbly_glacier", "dense_waterfall"'),
    ("[ice]\ntemperature_C = 268.15", "ice.temperature_C", "268.15", "between -40 and 0 deg C"),
    ("[ice]\ncrust_mm = 101", "ice.crust_mm", "101", "between 0 and 100 mm"),
    ("[ice]\ncrust_mm = 90\n[placement]\nembedment_mm = 100", "ice.crust_mm", "90", "between 0 and 80 mm"),
    ("[ice]\ncrust_mm = 1", "ice.crust_mm", "1", "must be 0 or lie between 2 and 100 mm"),
    ("[numerics]\nlevel = 'best'", "numerics.level", "'best'", '"quick", "standard", "fine"'),
    ("[tube]\nlenght_mm = 140", "tube.lenght_mm", "140", "did you mean tube.length_mm?"),
    ("length_mm = 140", "length_mm", "140", "did you mean tube.length_mm?"),
    (
        "[tubes]\nlength_mm = 140",
        "[tubes]",
        "",
        "tube, placement, pull, ice, crust, assumed, numerics; did you mean tube?",
    ),
    ("tube = 140", "tube", "140", "must be a table"),
    ("[[tube]]\nlength_mm = 140", "tube", "[{'length_mm': 140}]", "must be a table"),
    ("[tube]\nlength_mm = 140\nlength_mm = 150", "length_mm", "150", "given twice"),
    ("[tube]\nlength_mm = 140 mm", "length_mm", "140 mm", "not valid TOML"),
    ("[tube]\nlength_mm =", "length_mm", "", "not valid TOML"),
    ("[tube]\nlength_mm = 14,0", "length_mm", "14,0", "not valid TOML"),
    ("[tube\nlength_mm = 140", "[tube", "", "not valid TOML"),
]


def check_refused(result: Result, here: Path, *parts: str) -> str:
    """Exit code 2, one line that has the parts, nothing but the input in the folder."""
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    lines = result.stderr.splitlines()
    assert len(lines) == 1 and result.stderr.endswith("\n")
    for part in parts:
        assert part in lines[0]
    assert {path.name for path in here.iterdir()} <= {"case.toml"}
    return lines[0]


@pytest.mark.parametrize(("text", "key", "value", "allowed"), WRONG)
def test_a_wrong_case_is_refused_in_one_line(tmp_path: Path, text: str, key: str, value: str, allowed: str) -> None:
    path = tmp_path / "case.toml"
    path.write_text(f"# a case\n{text}\n", encoding="utf-8")
    line = check_refused(run("solve", path, "--out", tmp_path / "out"), tmp_path, allowed)
    assert f"{path}:" in line
    shown = line.partition(f"{path}:")[2]
    assert key in shown and value in shown
    if "the default" not in line:
        assert shown.partition(":")[0].isdigit(), "the line of the key"


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"[tube]\nlength_mm = 140 # \xff", "case.toml:2: byte 0xff is not UTF-8"),
        (b"\xff\xfe[\x00t\x00", "case.toml:1: byte 0xff is not UTF-8"),
        (b"[tube]\nlength_mm = 140\x00", "case.toml:2: not valid TOML"),
        (b"x = " + b"[" * 5000, "not valid TOML"),
        (b"#" * 6_000_000, "too large"),
    ],
)
def test_a_file_that_is_no_text_is_refused(tmp_path: Path, content: bytes, reason: str) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    check_refused(run("solve", path, "--out", tmp_path / "out"), tmp_path, reason)


def test_missing_file_and_directory_are_refused(tmp_path: Path) -> None:
    check_refused(run("solve", tmp_path / "no.toml"), tmp_path, "no.toml: cannot be read: No such file")
    check_refused(run("solve", tmp_path), tmp_path, "cannot be read: Is a directory")


@pytest.mark.parametrize(
    ("override", "parts"),
    [
        ("tube.length_mm=900", ("--set tube.length_mm = 900", "between 60 and 300 mm")),
        ("tube.length_mm=long", ("tube.length_mm = 'long'", "between 60 and 300 mm")),
        ("tube.length_mm=", ("--set 'tube.length_mm='", "KEY=VALUE")),
        ("tube.length_mm", ("--set 'tube.length_mm'", "KEY=VALUE")),
        ("length_mm=140", ("--set length_mm = 140", "did you mean tube.length_mm?")),
        ("tube.od_mm=17\nx=2", ("tube.od_mm = '17\\nx=2'", "between 10 and 30 mm")),
        ("ice.crust_mm=100", ("--set ice.crust_mm = 100", "between 0 and")),
    ],
)
def test_wrong_overrides_are_refused(tmp_path: Path, override: str, parts: tuple[str, ...]) -> None:
    path = tmp_path / "case.toml"
    path.write_text("[placement]\nembedment_mm = 100\n")
    check_refused(run("solve", path, "--out", tmp_path / "out", "--set", override), tmp_path, *parts)


def test_the_same_key_twice_on_the_command_line_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.touch()
    twice = ("--set", "tube.od_mm=17", "--set", "tube.od_mm=18")
    check_refused(run("solve", path, *twice), tmp_path, "--set tube.od_mm = '18'", "given twice")


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (("solve",), "Missing argument 'CASE.toml'"),
        (("solve", "case.toml", "--level", "quick"), "No such option"),
        (("sovle",), "No such command 'sovle'"),
        (("--nope",), "No such option"),
        (("study", "no_such_study"), "why_angle"),
        (("compare", "no_such_table"), "invented_day, invented_demo, published, trade_facts"),
        (("compare", "trade_facts", "--against", "best"), "'best'"),
    ],
)
def test_wrong_command_lines_are_refused(tmp_path: Path, arguments: tuple[str, ...], part: str) -> None:
    check_refused(run(*arguments), tmp_path, part)


def test_a_folder_that_cannot_be_written_is_refused(tmp_path: Path, stand_in: list[dict[str, Any]]) -> None:
    path = tmp_path / "case.toml"
    path.touch()
    for command in (("solve", path), ("study", "why_angle"), ("compare", "trade_facts"), ("plan", "angle_day")):
        for out in (path, path / "deeper"):
            check_refused(run(*command, "--out", out), tmp_path, f"--out = {out}: must be a folder that can be written")
        check_refused(run(*command, "--out", " "), tmp_path, "--out = ' '")
    assert stand_in == [] and path.read_bytes() == b""


def test_example_is_a_case_that_solve_takes(tmp_path: Path, stand_in: list[dict[str, Any]]) -> None:
    path = tmp_path / "case.toml"
    shown = run("example")
    assert shown.exit_code == 0 and tomllib.loads(shown.stdout)
    above = shown.stdout.split("\n#\n")[0]
    assert " ".join(line.removeprefix("# ") for line in above.splitlines()) == CAUTION
    path.write_text(shown.stdout)
    result = run("solve", path, "--out", tmp_path / "out", "--draws", "0", "--set", "placement.angle_deg=-10")
    assert result.exit_code == 0, result.output
    assert [settings["placement.angle_deg"] for settings in stand_in] == [-10.0]
    for part in ("1.03", "tension", "at the mouth, behind the tube", "0.02", "60.0 %", "1e-12", CAUTION):
        assert part in " ".join(result.stdout.split())
    assert not any(ord(c) < 32 and c != "\n" for c in result.output)
    assert (tmp_path / "out" / "outcome.json").exists()


@pytest.mark.parametrize(
    ("error", "code", "part"),
    [
        (SolveError("residual 1 above 1e-7"), 1, "not solved: residual 1 above 1e-7"),
        (MemoryError(), 1, "out of memory"),
        (MeshError("the mesh is tangled in 3 of 9 elements"), 2, "the mesh is tangled"),
        (
            OSError(28, "No space left on device", "fields.vtu"),
            2,
            "fields.vtu: cannot be read or written: No space left",
        ),
        (KeyboardInterrupt(), 130, "stopped"),
    ],
)
def test_what_goes_wrong_in_a_solve_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException, code: int, part: str
) -> None:
    def solve(settings: dict[str, Any]) -> Outcome:
        raise error

    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), solve)
    monkeypatch.setattr(solving, "say_at_once", lambda *_: None)
    path = tmp_path / "case.toml"
    path.touch()
    result = run("solve", path, "--out", tmp_path / "out")
    assert result.exit_code == code and result.stdout == ""
    assert len(result.stderr.splitlines()) == 1 and part in result.stderr
    assert not (tmp_path / "out").exists()


def test_the_limit_is_said_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """As one pull is made; nothing where a law has to be computed first, or no balance is found."""

    def said(solve: Callable[..., Any]) -> str:
        out = io.StringIO()
        monkeypatch.setattr(wanted, "solve_wanted", solve)
        solving.say_at_once(settings_from({}), Console(file=out, width=132))
        return out.getvalue()

    def unsolved(*_: object) -> None:
        raise SolveError("no balance is found")

    def computes(settings: object, want: object, say: Callable[[str], None]) -> None:
        say("law: computed, minutes")
        raise AssertionError("it must not go on")

    found = Found(limit_kN=9.96, limit_mode="tube bends")
    assert said(lambda *_: (found, {})) == "limit 10.0 kN: tube bends; its range and the first damage follow\n"
    assert said(unsolved) == said(computes) == ""


def test_limit_and_range_are_said_before_the_rest_is_solved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit, the range of 25 draws, that of all; then mesh and stress, and the first damage, before it is drawn.

    The outcome keeps the last range.
    """
    said: list[str] = []

    def solve(settings: dict[str, Any]) -> Outcome:
        said.append("the rest")
        return made_up_record(settings, peak={})

    def pulled(settings: dict[str, Any], *_: object) -> tuple[Found, dict[str, str]]:
        toughness = settings["ice.K_IC_kPa_sqrt_m"]
        load = toughness / 10 if isinstance(toughness, float) else 12.0
        return Found(limit_kN=load, limit_mode="cone", peak_kN=load, early_kN=load), {}

    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), solve)
    monkeypatch.setattr(wanted, "solve_wanted", pulled)
    monkeypatch.setattr(drawn, "solve_wanted", pulled)
    monkeypatch.setattr(solving, "say", lambda screen, text: said.append(text))
    path = tmp_path / "case.toml"
    path.touch()
    result = run("solve", path, "--out", tmp_path / "out", "--draws", 60)
    assert result.exit_code == 0 and [line.split()[0] for line in said[:5]] == [
        "limit",
        "limit",
        "limit",
        "the",
        "first",
    ]
    assert all("as uncertain inputs vary" in line for line in said[1:3])
    assert "nine of ten of the first 25 draws" in said[1] and "nine of ten of 60 draws" in said[2]
    low, high = said[2].split()[1], said[2].split()[3]
    assert f"(nine of ten draws: {low} to {high})" in result.stdout


def test_a_bug_keeps_its_traceback(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(settings: dict[str, Any]) -> Outcome:
        raise ZeroDivisionError

    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), solve)
    path = tmp_path / "case.toml"
    path.touch()
    assert isinstance(run("solve", path, "--out", tmp_path / "out", "--draws", "0").exception, ZeroDivisionError)


@pytest.mark.parametrize("command", [(), ("example",), ("solve",), ("study",), ("compare",), ("plan",)])
def test_help_tells_outputs_and_exit_codes(command: tuple[str, ...]) -> None:
    result = run(*command, "--help")
    assert result.exit_code == 0 and "Usage: " in result.stdout
    if command not in ((), ("example",)):
        assert "Exit codes: 0 done, 1" in " ".join(result.stdout.split())
        assert "in kN" in " ".join(result.stdout.split()) and "into the folder" in " ".join(result.stdout.split())


def test_help_and_bad_input_load_no_solver(tmp_path: Path) -> None:
    """What makes them quick: neither solver nor plotting is imported; timed as well, generously."""
    path = tmp_path / "case.toml"
    path.write_text("[tube]\nlength_mm = 900\n")
    code = (
        "import sys\nfrom icecone.studies.command.main import main\n"
        "try: main(sys.argv[1:])\nexcept SystemExit as end: print(end.code)\n"
        "print([name for name in ('skfem', 'scipy', 'pyvista', 'matplotlib') if name in sys.modules])"
    )
    for arguments, expected in ((["--help"], "0"), (["solve", str(path)], "2"), (["study", str(path)], "2")):
        start = time.perf_counter()
        done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True)
        assert done.stdout.splitlines()[-2:] == [expected, "[]"]
        assert time.perf_counter() - start < 5


def test_the_first_answer_loads_no_mesh_and_no_picture() -> None:
    """Limit and a range of 30 draws in a process of its own: what takes long to load waits until they are said."""
    code = (
        "import sys\nfrom rich.console import Console\nfrom icecone.studies.case.file import settings_from\n"
        "from icecone.studies.command import solving\nfrom icecone.studies.sweep.drawn import draw_case\n"
        "assert solving.say_at_once(settings_from({}), Console(stderr=True))\n"
        "late = {'skfem', 'scipy.optimize', 'scipy.stats', 'matplotlib', 'pyvista', 'meshio'}\n"
        "draw_case(settings_from({}), 30, first=lambda found: print(found.draws, late & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "25 set()\n" and done.stderr.startswith("limit ")


def test_version_and_module_entry_name_the_solver() -> None:
    for without, solver in (("1", "CHOLMOD"), ("0", "MKL")):
        environment = {**os.environ, "ICECONE_NO_MKL": without}
        words = [sys.executable, "-m", "icecone", "--version"]
        done = subprocess.run(words, capture_output=True, text=True, check=True, env=environment)
        assert done.stdout.startswith("icecone ") and solver in done.stdout and done.stdout.count("\n") == 1


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_ctrl_c_ends_a_study_in_one_line(tmp_path: Path) -> None:
    log = tmp_path / "log"
    arguments = [sys.executable, str(STUB), "0.5", str(log), "study", "why_angle", "--out", str(tmp_path / "out")]
    process = subprocess.Popen(
        arguments,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a run in the background ignores it
    )
    deadline = time.monotonic() + 20
    while not log.exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    os.kill(process.pid, signal.SIGINT)
    stdout, stderr = process.communicate(timeout=20)
    assert process.returncode == 130 and stdout == ""
    assert stderr.splitlines()[-1].startswith("icecone: stopped") and "Traceback" not in stderr


@pytest.mark.slow
def test_solve_with_the_real_solver(tmp_path: Path) -> None:
    """The example at the quick level, end to end: a whole record, its fields and its picture."""
    path = tmp_path / "case.toml"
    path.write_text(run("example").stdout)
    out = tmp_path / "out"
    result = run("solve", path, "--out", out, "--set", "numerics.level=quick")
    assert result.exit_code == 0, result.output
    record = read_json(out / "outcome.json")
    assert set(record) == set(made_up_record(record["case"]).to_dict()), "the stand-in has the keys of a real record"
    assert record["case"]["numerics.level"] == "quick" and record["onset_kN"] > 0
    assert record["caution"] in " ".join(result.stdout.split()) and record["onset_place"] in result.stdout
    assert (out / "fields.vtu").stat().st_size > 1000 and (out / "stress.png").read_bytes()[:4] == b"\x89PNG"
    assert record["peak_kN"] > 20 * record["onset_kN"] and record["peak_mode"] in result.stdout
    assert all((out / name).stat().st_size > 5000 for name in ("load_displacement.png", "tube.png"))
    assert json.loads(json.dumps(record)) == record
