"""Work that is shared by copies of this process: in order, begun at once, and done here where a copy is killed."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from time import monotonic, sleep

import pytest

from icecone.studies.sweep.work import forked

HERE = os.getpid()
FORKS = pytest.mark.skipif(not hasattr(os, "fork"), reason="no copies of a process here")


def who(number: int) -> tuple[int, int]:
    return number, os.getpid()


def end_a_copy(number: int) -> tuple[int, int]:
    """The second item ends the process that has it, if that is a copy."""
    if number == 1 and os.getpid() != HERE:
        os.kill(os.getpid(), signal.SIGKILL)
    return who(number)


def refuse(number: int) -> int:
    raise OSError(28, "No space left on device", f"{number}.png")


def touch(file: Path) -> None:
    file.touch()


def test_no_jobs_is_this_process() -> None:
    with forked(0) as each:
        assert list(each(who, [3, 1])) == [(3, HERE), (1, HERE)]


@FORKS
def test_copies_answer_in_order() -> None:
    with forked(2) as each:
        found = list(each(who, list(range(12))))
    assert [number for number, _ in found] == list(range(12)) and HERE not in {process for _, process in found}


@FORKS
def test_what_a_killed_copy_had_is_done_here() -> None:
    with forked(2) as each:
        found = list(each(end_a_copy, list(range(6))))
        assert [number for number, _ in found] == list(range(6)) and HERE in dict(map(reversed, found))
        assert list(each(who, [7])) == [(7, HERE)]  # no copy is left


@FORKS
def test_an_error_in_a_copy_is_raised_here_with_its_file() -> None:
    with forked(1) as each, pytest.raises(OSError, match="No space left") as caught:
        list(each(refuse, [4]))
    assert caught.value.filename == "4.png"


@FORKS
def test_work_begins_as_it_is_handed_out(tmp_path: Path) -> None:
    """Not as its answer is asked for: what goes on beside it takes no longer for it."""
    with forked(1) as each:
        answers = each(touch, [tmp_path / "begun"])
        until = monotonic() + 20
        while not (tmp_path / "begun").exists() and monotonic() < until:
            sleep(0.01)
        assert (tmp_path / "begun").exists()
        assert list(answers) == [None]
