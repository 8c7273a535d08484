"""A results folder holds one answer, whole: whatever fails, whenever a run is killed, whoever else writes there."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from studystub import install, made_up_record

from icecone.studies.command.main import main
from icecone.studies.files import store
from icecone.studies.files.answer import add_to_answer, answer, read_manifest
from icecone.studies.files.lock import Busy, only_run

STUB = Path(__file__).parents[2] / "studystub.py"
OLD, NEW = (
    {"a.png": "old", "b.txt": "old", "outcome.json": "old"},
    {"b.txt": "new", "c.png": "new", "outcome.json": "new"},
)
LISTED = {*OLD, *NEW}


def write(folder: Path, files: dict[str, str], sure: tuple[str, ...] = ()) -> None:
    with answer(folder, "trial", sure) as stage:
        for name, text in files.items():
            (stage / name).write_text(text)


def found(folder: Path) -> dict[str, str]:
    """The files of answers that the folder holds."""
    return {name: (folder / name).read_text() for name in LISTED if (folder / name).exists()}


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_new_answer_takes_the_place_of_the_whole_old_one(tmp_path: Path) -> None:
    """What the new one lacks is gone; the user's own files and the records of cases stay."""
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "cases").mkdir()
    (tmp_path / "cases" / "1.json").write_text("a record")
    write(tmp_path, OLD)
    assert found(tmp_path) == OLD
    write(tmp_path, NEW)
    assert names(tmp_path) == {*NEW, "manifest.json", "notes.txt", "cases"}
    whole = json.loads((tmp_path / "manifest.json").read_text())
    digests = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in NEW.items()}
    assert whole["files"] == digests and whole["command"] == "trial" and found(tmp_path) == NEW
    assert (tmp_path / "notes.txt").read_text() == "mine" and (tmp_path / "cases" / "1.json").exists()


@pytest.mark.parametrize("error", [ZeroDivisionError(), KeyboardInterrupt(), OSError(28, "No space left on device")])
def test_an_error_leaves_the_old_answer_and_no_empty_folder(tmp_path: Path, error: BaseException) -> None:
    def fail(folder: Path) -> None:
        with pytest.raises(type(error)), answer(folder, "trial") as stage:
            (folder / "cases").mkdir()
            (stage / "b.txt").write_text("new")
            raise error

    write(tmp_path / "out", OLD)
    fail(tmp_path / "out")
    assert names(tmp_path / "out") == {*OLD, "manifest.json"} and found(tmp_path / "out") == OLD
    fail(tmp_path / "made" / "for" / "this")
    assert names(tmp_path) == {"out"}
    (tmp_path / "mine").mkdir()
    fail(tmp_path / "mine")
    assert names(tmp_path / "mine") == set(), "a folder that was there stays"


@pytest.mark.parametrize("sure", [(), ("b.txt",)])
def test_a_file_of_the_users_is_never_written_over(tmp_path: Path, sure: tuple[str, ...]) -> None:
    """Refused before the work where the command is sure to write it, and in any case before anything is touched."""
    write(tmp_path, {"outcome.json": "old"})
    (tmp_path / "b.txt").write_text("mine")
    with pytest.raises(FileExistsError, match="not of an earlier answer") as caught:
        write(tmp_path, NEW, sure)
    assert caught.value.filename == str(tmp_path / "b.txt")
    assert found(tmp_path) == {"outcome.json": "old", "b.txt": "mine"} and read_manifest(tmp_path).keys() == {
        "outcome.json"
    }


@pytest.mark.parametrize("text", ["{}", "[]", "{", '{"icecone": "1", "command": "c", "files": {"../a": ""}}'])
def test_a_manifest_of_something_else_is_the_users(tmp_path: Path, text: str) -> None:
    (tmp_path / "manifest.json").write_text(text)
    with pytest.raises(FileExistsError):
        write(tmp_path, NEW)
    assert names(tmp_path) == {"manifest.json"} and (tmp_path / "manifest.json").read_text() == text


def test_a_link_in_a_results_place_is_replaced_and_not_followed(tmp_path: Path) -> None:
    write(tmp_path / "out", OLD)
    (tmp_path / "target").write_text("mine")
    (tmp_path / "out" / "b.txt").unlink()
    (tmp_path / "out" / "b.txt").symlink_to(tmp_path / "target")
    write(tmp_path / "out", NEW)
    assert found(tmp_path / "out") == NEW and (tmp_path / "target").read_text() == "mine"
    assert not (tmp_path / "out" / "b.txt").is_symlink()


def killed_at(step: int, run: Callable[[], None]) -> bool:
    """Run in a child that kills itself before its step-th change of the disk; False where it has fewer."""
    child = os.fork()
    if child == 0:
        steps = iter(range(step))

        def counted(change: Callable[..., Any]) -> Callable[..., Any]:
            def changed(*arguments: Any, **more: Any) -> Any:
                if next(steps, None) is None:
                    os.kill(os.getpid(), signal.SIGKILL)
                return change(*arguments, **more)

            return changed

        for name in ("replace", "unlink", "mkdir", "rmdir", "fsync"):
            setattr(os, name, counted(getattr(os, name)))
        try:
            run()
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_killed_at_any_step_it_holds_one_answer_and_the_next_run_makes_it_whole(tmp_path: Path) -> None:
    """No mixture at the moment of the kill; then, whatever the next run does, the whole old or the whole new answer."""
    outcomes = []
    for step in range(100):
        folder = tmp_path / str(step)
        write(folder, OLD)
        (folder / "notes.txt").write_text("mine")
        killed = killed_at(step, lambda folder=folder: write(folder, NEW))  # type: ignore[misc]
        assert len(set(found(folder).values())) <= 1, f"step {step}: files of both answers"
        with pytest.raises(ZeroDivisionError), answer(folder, "trial"):
            outcomes.append(found(folder))
            raise ZeroDivisionError
        assert outcomes[-1] in (OLD, NEW), f"step {step}"
        assert names(folder) == {*outcomes[-1], "manifest.json", "notes.txt"}
        digests = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in outcomes[-1].items()}
        assert read_manifest(folder) == digests
        if not killed:
            break
    assert not killed and len(outcomes) > 15
    turn = outcomes.index(NEW)
    assert turn > 3 and outcomes[:turn] == [OLD] * turn and outcomes[turn:] == [NEW] * (len(outcomes) - turn)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_killed_as_a_file_is_added_the_next_answer_still_takes_it_away(tmp_path: Path) -> None:
    """At each step the answer stands, and nothing of the file is left once there is another answer."""
    step, killed = 0, True
    while killed:
        folder = tmp_path / str(step)
        write(folder, OLD)
        killed = killed_at(step, lambda folder=folder: add_to_answer(folder, "made.txt", lambda: b"of it"))  # type: ignore[misc]
        assert found(folder) == OLD
        if not killed:
            assert (folder / "made.txt").read_text() == "of it"
        write(folder, NEW)
        assert names(folder) - {".lock"} == {*NEW, "manifest.json"}
        step += 1
    assert step > 4


def test_a_file_is_added_to_an_answer_alone_and_not_in_a_users_place(tmp_path: Path) -> None:
    """An empty folder has none; a file that no manifest lists stays as it is."""
    with pytest.raises(store.Damaged):
        add_to_answer(tmp_path, "made.txt", lambda: b"")
    write(tmp_path, OLD)
    (tmp_path / "made.txt").write_text("mine")
    with pytest.raises(FileExistsError):
        add_to_answer(tmp_path, "made.txt", lambda: b"ours")
    assert (tmp_path / "made.txt").read_text() == "mine"
    assert "made.txt" not in read_manifest(tmp_path)


def test_leftovers_of_killed_runs_go_and_a_half_written_stage_never_counts(tmp_path: Path) -> None:
    write(tmp_path, OLD)
    other = tmp_path / ".notes.tmp"
    other.touch()
    for place in (tmp_path, tmp_path / "cases", tmp_path / "checks", tmp_path / "cases" / "1"):
        place.mkdir(exist_ok=True)
        (place / store.TEMPORARY.format("file")).touch()
        stage = place / store.TEMPORARY.format("stage")
        stage.mkdir()
        (stage / "b.txt").write_text("cut sho")
        plain = {"icecone": "1", "command": "trial", "files": {"b.txt": hashlib.sha256(b"cut short").hexdigest()}}
        (stage / "manifest.json").write_text(json.dumps(plain))
    with pytest.raises(ZeroDivisionError), answer(tmp_path, "trial"):
        raise ZeroDivisionError
    assert not list(tmp_path.rglob(store.TEMPORARY.format("*"))) and other.exists() and found(tmp_path) == OLD


def test_two_runs_do_not_share_a_folder(tmp_path: Path) -> None:
    """The lock goes with the run; one that was there before stays."""
    with only_run(tmp_path):
        with pytest.raises(Busy, match="another run"), only_run(tmp_path):
            pass
        with pytest.raises(Busy), answer(tmp_path, "trial"):
            pass
        assert names(tmp_path) == {".lock"}
    assert names(tmp_path) == set()
    (tmp_path / ".lock").touch()
    write(tmp_path, NEW)
    assert found(tmp_path) == NEW and (tmp_path / ".lock").exists()


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _link(path: Path) -> None:
    path.symlink_to(path.parent / "target")


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
@pytest.mark.parametrize("put", [_pipe, _link, Path.mkdir], ids=["pipe", "link", "folder"])
def test_what_is_no_plain_file_is_no_lock(tmp_path: Path, put: Callable[[Path], None]) -> None:
    """It neither hangs nor makes what a link points to."""
    put(tmp_path / ".lock")
    before = stat.S_IFMT((tmp_path / ".lock").lstat().st_mode)
    for _ in range(2):
        with pytest.raises(Busy, match=r"\.lock: must be a plain file"), only_run(tmp_path):
            pass
    assert names(tmp_path) == {".lock"} and stat.S_IFMT((tmp_path / ".lock").lstat().st_mode) == before


def test_a_full_disk_names_the_file_by_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for text in ("written", "staged"):
        with pytest.raises(OSError, match="No space") as caught, answer(tmp_path, "trial") as stage:
            store.write_text(stage / "why.txt", text) if text == "written" else (stage / "why.txt").write_text(text)
        assert caught.value.filename == str(tmp_path / "why.txt")
    with pytest.raises(OSError, match="No space") as caught, answer(tmp_path, "trial"):
        raise OSError(28, "No space left on device")
    assert caught.value.filename == str(tmp_path) and names(tmp_path) == set()


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """`solve` on the stand-in, which writes these files beside its own."""
    extra = ["tube.png"]
    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), made_up_record)

    def write_solution(outcome: object, solution: object, folder: Path, *_: object) -> None:
        for name in ("outcome.json", "fields.vtu", *extra):
            (folder / name).write_text(name)

    vars(sys.modules["icecone.studies.files.solution"]).update(write_solution=write_solution)
    yield extra


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_solve_leaves_no_picture_of_the_case_before(tmp_path: Path, stand_in: list[str]) -> None:
    (tmp_path / "case.toml").touch()
    out = tmp_path / "out"
    assert run("solve", tmp_path / "case.toml", "--out", out, "--draws", "0").exit_code == 0
    assert names(out) == {"outcome.json", "fields.vtu", "tube.png", "manifest.json"}
    stand_in.clear()
    assert run("solve", tmp_path / "case.toml", "--out", out, "--draws", "0").exit_code == 0
    assert names(out) == {"outcome.json", "fields.vtu", "manifest.json"}
    refused = run("materials", "sound_glacier", "--plot", tmp_path / "outcome.png")
    assert refused.exit_code == 0 and names(tmp_path) == {"case.toml", "out", "outcome.png"}


def test_a_plot_takes_no_place_of_an_answer_and_waits_for_no_run(tmp_path: Path) -> None:
    write(tmp_path, OLD)
    refused = run("materials", "sound_glacier", "--plot", tmp_path / "a.png")
    assert refused.exit_code == 2 and "must not be a file of the answer" in refused.stderr and found(tmp_path) == OLD
    with only_run(tmp_path):
        busy = run("materials", "sound_glacier", "--plot", tmp_path / "ice.png")
    assert busy.exit_code == 2 and "another run" in busy.stderr and not (tmp_path / "ice.png").exists()


def test_here_is_a_folder_for_results_too(tmp_path: Path, stand_in: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """`--out .` beside the case and the user's own files; what would be written over is refused before it is solved."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").touch()
    assert run("solve", "case.toml", "--out", ".", "--draws", "0").exit_code == 0 and (tmp_path / "case.toml").exists()
    (tmp_path / "table.csv").write_text("mine")
    refused = run("study", "why_angle", "--out", ".")
    assert refused.exit_code == 2 and len(refused.stderr.splitlines()) == 1 and "table.csv: " in refused.stderr
    assert (tmp_path / "table.csv").read_text() == "mine" and not (tmp_path / "cases").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_two_solves_into_one_folder_and_a_kill(tmp_path: Path) -> None:
    """The second is refused in a line; the first, killed, leaves nothing that the next one keeps."""
    log = tmp_path / "log"
    (tmp_path / "case.toml").touch()

    def command(seconds: float) -> list[str]:
        solve = ["solve", str(tmp_path / "case.toml"), "--out", str(tmp_path / "out"), "--draws", "0"]
        return [sys.executable, str(STUB), str(seconds), str(log), *solve]

    first = subprocess.Popen(command(30), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 20
    while not (tmp_path / "out" / ".lock").exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    second = subprocess.run(command(0), capture_output=True, text=True)
    assert second.returncode == 2 and second.stdout == ""
    assert second.stderr.count("\n") == 1 and "another run is writing into this folder" in second.stderr
    first.kill()
    first.wait()
    assert any(name.startswith(".icecone-") for name in names(tmp_path / "out"))
    subprocess.run(command(0), check=True, capture_output=True)
    assert names(tmp_path / "out") == {"outcome.json", "fields.vtu", "manifest.json"}
