"""Records of a study: whole after a kill, shared by runs, valid as long as what they rest on, refused if not ours."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from icecone.studies.case.file import CaseError
from icecone.studies.files import records as module
from icecone.studies.files.lock import Busy
from icecone.studies.files.records import FORMAT, Record, Records

WANT, NOW = ("peak",), "code 1"
A, B = (
    Record(name, {"peak_kN": load, "peak_mode": "cone"}, {"law.json": "d"}) for name, load in (("a", 1.5), ("b", 2.5))
)
CASES = [("a", {"placement.angle_deg": 1.0}), ("b", {"placement.angle_deg": 2.0})]
ABOUT = {"title": "invented", "want": list(WANT), "dims": {"placement.angle_deg": 2}}


@pytest.fixture(autouse=True)
def laws_stand(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "law_changed", lambda files: "")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "study.sqlite"


def test_what_is_kept_is_read_again_in_the_order_of_the_plan(path: Path) -> None:
    with Records(path, WANT) as records:
        records.plan(ABOUT, CASES)
        records.keep([B, A], NOW)
    with Records(path) as records:
        kept = records.kept()
    assert kept.cases == tuple(CASES) and kept.about == ABOUT and kept.stamps == (NOW,)
    assert kept.records == {"a": A, "b": B}


def test_provenance_is_kept_once_for_all_records(path: Path) -> None:
    with Records(path, WANT) as records:
        records.keep([A, B], NOW)
    file = sqlite3.connect(path)
    assert [file.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("rests", "laws", "records")] == [
        1,
        1,
        2,
    ]


def test_a_record_counts_while_code_and_laws_are_the_same(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Records(path, WANT) as records:
        records.keep([A], NOW)
        assert records.finished(NOW) == {"a"} and records.finished(NOW, ["a", "b"]) == {"a"}
        assert records.finished("code 2") == set()
        monkeypatch.setattr(module, "law_changed", lambda files: "law.json")
        assert records.finished(NOW) == set()
    with Records(path, ("peak", "band")) as other:
        assert other.finished(NOW) == set()


def test_a_problem_that_lasts_is_not_tried_again(path: Path) -> None:
    with Records(path, WANT) as records:
        records.keep([Record("a", {}, {}, "no equilibrium"), Record("b", {}, {}, "out of memory", False)], NOW)
        assert records.finished(NOW) == {"a"}
        records.keep([B], NOW)
        assert records.finished(NOW) == {"a", "b"} and records.kept().records["b"] == B


def test_a_case_is_solved_by_one_run_at_a_time(path: Path) -> None:
    with Records(path, WANT) as first, Records(path, WANT) as second:
        assert first.claim(["a", "b"]) == {"a", "b"} and second.claim(["a", "b", "c"]) == {"c"}
        assert first.claim(["a"]) == {"a"}
        first.keep([A], NOW)
        assert second.claim(["a", "b"]) == {"a"}
        first.let_go(["b"])
        assert second.claim(["b"]) == {"b"}
    with Records(path, WANT) as third:
        assert third.claim(["a", "b", "c"]) == {"a", "b", "c"}


def test_claims_of_a_killed_run_end_at_once_and_of_another_machine_with_their_lease(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process that is gone holds nothing; one of another machine holds until its lease is over."""
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    with Records(path, WANT) as first:
        with monkeypatch.context() as other:
            other.setattr(os, "getpid", lambda: gone.pid)
            first.claim(["a"])
        with monkeypatch.context() as other:
            other.setattr(module.socket, "gethostname", lambda: "elsewhere")
            first.claim(["b"])
        with Records(path, WANT) as second:
            assert second.claim(["a", "b"]) == {"a"}
            monkeypatch.setattr(module, "time", lambda: 1e12)
            assert second.claim(["b"]) == {"b"}


def test_another_study_may_not_take_a_file_over_from_a_run_at_work(path: Path) -> None:
    with Records(path, WANT) as first, Records(path, WANT) as second:
        first.plan(ABOUT, CASES)
        first.keep([A], NOW)
        first.claim(["b"])
        second.plan(ABOUT, CASES)
        with pytest.raises(Busy, match="another study"):
            second.plan(ABOUT, CASES[:1])
        first.let_go(["b"])
        second.plan(ABOUT, CASES[:1])
        assert second.kept().cases == tuple(CASES[:1]) and second.finished(NOW) == {"a"}


def test_a_full_disk_leaves_what_was_written(path: Path) -> None:
    """sqlite is told that the disk ends here: the error names the file, and the records before stand."""
    with Records(path, WANT) as records:
        records.keep([A], NOW)
        pages = records._file.execute("PRAGMA page_count").fetchone()[0]
        records._file.execute(f"PRAGMA max_page_count = {pages}")
        many = [Record(f"{number}", {"ended_by": "x" * 1000}, {}) for number in range(100)]
        with pytest.raises(OSError) as error:
            records.keep(many, NOW)
        assert error.value.errno == errno.ENOSPC and error.value.filename == str(path)
        assert records.finished(NOW) == {"a"}


@pytest.mark.parametrize("content", ["text", "other", "format", "cut"])
def test_a_file_that_is_not_ours_is_refused_in_words(path: Path, content: str) -> None:
    if content == "text":
        path.write_text("no records at all, of nothing, by nobody" * 50)
    elif content == "other":
        sqlite3.connect(path).execute("CREATE TABLE mine (x)")
    else:
        Records(path, WANT).close()
        file = sqlite3.connect(path)
        file.execute("PRAGMA journal_mode = DELETE")
        file.execute(f"PRAGMA user_version = {FORMAT + 1}") if content == "format" else None
        file.close()
        if content == "cut":
            path.write_bytes(path.read_bytes()[:5000])
    before = path.read_bytes()
    with pytest.raises(CaseError) as error, Records(path, WANT) as records:
        records.kept()
    assert str(path) in str(error.value) and "move it away" in str(error.value) and "\n" not in str(error.value)
    assert content == "cut" or path.read_bytes() == before


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(OSError) as error:
        Records(tmp_path / "none" / "study.sqlite", WANT)
    assert "study.sqlite" in str(error.value.filename)


def test_shards_are_taken_over_once(path: Path) -> None:
    shard = path.with_name("study-1-of-2.sqlite")
    with Records(shard, WANT) as other:
        other.keep([A, Record("b", {}, {}, "out of memory", False)], NOW)
        with Records(path, WANT) as records:
            assert records.take(other, "code 2") == 0
            assert records.take(other, NOW) == 1 and records.take(other, NOW) == 0
            assert records.kept().records == {"a": A}
