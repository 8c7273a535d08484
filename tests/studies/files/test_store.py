"""Files are whole or absent, and a record that is not what was written is never taken for one."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from icecone.studies.files import store
from icecone.studies.files.store import Damaged, read_record, write_atomic, write_json, write_record

RECORD = {"onset_kN": 0.1 + 0.2, "onset_mode": "tension", "where": [1.0, -2.5e-17], "case": {"a": 140.0, "b": "ä"}}


def test_atomic_write_replaces_and_leaves_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    write_atomic(path, b"one")
    write_atomic(path, b"two")
    assert path.read_bytes() == b"two" and os.listdir(tmp_path) == ["a.json"]
    plain = tmp_path / "plain"
    plain.touch()
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_a_row_of_numbers_is_a_line_and_nothing_else_changes(tmp_path: Path) -> None:
    """Numbers, truth values and null; text as it is, whatever brackets and breaks stand in it; empty lists too."""
    told = {"rows": [[1.5, -2e-17, None], [True]], "text": ["a [\n1,\n2\n]", "b"], "none": [], "at": [{"x": [1, 2]}]}
    write_json(tmp_path / "a.json", told)
    text = (tmp_path / "a.json").read_text()
    assert json.loads(text) == told
    assert "[1.5, -2e-17, null],\n" in text and '"x": [1, 2]\n' in text and "[true]\n" in text


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_failed_write_keeps_the_old_file_and_no_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """A disk that fills up, or an interrupt, at any step."""
    path = tmp_path / "a.json"
    write_atomic(path, b"old")

    def broken(*arguments: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store.os, step, broken)
    with pytest.raises(OSError, match="No space"):
        write_atomic(path, b"new")
    assert path.read_bytes() == b"old" and os.listdir(tmp_path) == ["a.json"]


def test_json_refuses_what_is_not_a_number(tmp_path: Path) -> None:
    with pytest.raises(ValueError):
        write_json(tmp_path / "a.json", {"onset_kN": float("nan")})
    assert os.listdir(tmp_path) == []


def test_record_comes_back_bit_for_bit(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    write_record(path, RECORD, "1")
    assert read_record(path, "1") == RECORD
    assert read_record(path, "2") is None, "another version's record is not taken"
    assert read_record(tmp_path / "b.json", "1") is None


def test_every_cut_and_every_changed_byte_is_seen(tmp_path: Path) -> None:
    """Cut anywhere, or with any one byte changed, the file is Damaged or (in its white space) still the same record."""
    path = tmp_path / "a.json"
    write_record(path, RECORD, "1")
    whole = path.read_bytes()
    for length in range(len(whole) - 1):
        path.write_bytes(whole[:length])
        if length < len(whole.rstrip()):
            with pytest.raises(Damaged):
                read_record(path, "1")
    refused = 0
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        try:
            assert read_record(path, "1") == RECORD
        except Damaged:
            refused += 1
    assert refused > 0.7 * len(whole)


@pytest.mark.parametrize(
    "text", ["", "null", "[]", "{}", '{"digest": "x", "version": "1", "files": {}, "record": {}}', "NaN"]
)
def test_other_json_is_no_record(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.json"
    path.write_text(text)
    with pytest.raises(Damaged):
        read_record(path, "1")


def test_files_that_belong_to_a_record_are_checked(tmp_path: Path) -> None:
    path, folder = tmp_path / "a.json", tmp_path / "a"
    folder.mkdir()
    write_record(path, RECORD, "1")
    assert read_record(path, "1", folder) is None, "a record without files does not do where files are wanted"
    (folder / "fields.vtu").write_bytes(b"fields")
    write_record(path, RECORD, "1", folder)
    assert read_record(path, "1", folder) == RECORD
    (folder / "fields.vtu").write_bytes(b"field")
    with pytest.raises(Damaged, match=r"fields\.vtu"):
        read_record(path, "1", folder)
    (folder / "fields.vtu").unlink()
    with pytest.raises(Damaged, match=r"fields\.vtu"):
        read_record(path, "1", folder)
    assert read_record(path, "1") == RECORD


def test_record_is_plain_json(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    write_record(path, RECORD, "1")
    assert json.loads(path.read_text())["record"] == RECORD
