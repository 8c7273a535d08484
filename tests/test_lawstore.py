"""Laws are computed once, found again, and never trusted where they are damaged or of another model."""

from __future__ import annotations

from pathlib import Path

import pytest

from icecone.studies.lawstore import Law, file_name, kept_law, laws_folder

INPUTS = {"od_m": 0.017, "ice": "sound"}


class Counting:
    """A computation that counts how often it ran."""

    def __init__(self) -> None:
        self.runs = 0

    def __call__(self) -> Law:
        self.runs += 1
        return {"c": [2.5, 2.6]}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path / "laws"))
    return tmp_path / "laws"


def test_a_law_is_computed_once(folder: Path) -> None:
    compute, said = Counting(), list[str]()
    first = kept_law("trial", 1, INPUTS, compute, said.append)
    assert kept_law("trial", 1, INPUTS, compute) == first == {"c": [2.5, 2.6]}
    assert compute.runs == 1 and said == ["law trial computed in 0 s"]
    assert [path.name for path in folder.iterdir()] == [file_name("trial", INPUTS)]


def test_another_input_or_version_is_another_law(folder: Path) -> None:
    compute = Counting()
    for version, inputs in ((1, INPUTS), (1, {**INPUTS, "od_m": 0.018}), (2, INPUTS), (2, INPUTS)):
        kept_law("trial", version, inputs, compute)
    assert compute.runs == 3


@pytest.mark.parametrize("harm", ["{", '{"digest": "0", "version": "trial/1", "files": {}, "record": {}}', "swap"])
def test_a_damaged_law_is_computed_again(folder: Path, harm: str) -> None:
    """Cut short, not a record, or a number changed by hand."""
    compute, said = Counting(), list[str]()
    kept_law("trial", 1, INPUTS, compute)
    file = folder / file_name("trial", INPUTS)
    file.write_text(file.read_text().replace("2.5", "9.5") if harm == "swap" else harm)
    assert kept_law("trial", 1, INPUTS, compute, said.append) == {"c": [2.5, 2.6]}
    assert compute.runs == 2 and file_name("trial", INPUTS) in said[0] and "not trusted" in said[0]
    assert kept_law("trial", 1, INPUTS, compute) and compute.runs == 2


def test_a_folder_that_cannot_be_written_costs_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "laws").write_text("a file in the folder's place")
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path / "laws"))
    compute, said = Counting(), list[str]()
    assert kept_law("trial", 1, INPUTS, compute, said.append) == {"c": [2.5, 2.6]}
    assert "cannot be kept" in said[-1]


def test_the_users_cache_is_the_default(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("ICECONE_LAWS", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", "/somewhere")
    assert laws_folder() == Path("/somewhere/icecone/laws")
