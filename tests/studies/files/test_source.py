"""What counts of a file of code is kept for other processes, and read again where what is kept is of no use."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from icecone.fem.laws.recipes import RECIPES
from icecone.studies.files import source
from icecone.studies.files.laws import law_stamp
from icecone.studies.files.store import read_record, write_record

ASK = """
from icecone.studies.files import source
from icecone.studies.files.laws import law_stamp
from icecone.studies.files.store import read_record, write_record
from icecone.fem.laws.recipes import RECIPES
read = source.read_source
count = 0
def counted(text):
    global count
    count += 1
    return read(text)
source.read_source = counted
print(*(law_stamp(name, RECIPES[name]) for name in ("wall", "chip")), count)
"""


def ask(cache: Path) -> tuple[list[str], int]:
    """Stamps of two laws in a process of its own, and how many syntax trees it read."""
    done = subprocess.run(
        [sys.executable, "-c", ASK], env={"XDG_CACHE_HOME": str(cache)}, capture_output=True, text=True, check=True
    )
    *stamps, count = done.stdout.split()
    return stamps, int(count)


def test_a_second_process_reads_no_syntax_tree_and_stamps_alike(tmp_path: Path) -> None:
    known = [law_stamp(name, RECIPES[name]) for name in ("wall", "chip")]
    (first, many), (second, none) = ask(tmp_path), ask(tmp_path)
    assert first == second == known
    assert many > 30 and none == 0


def shortened(text: str) -> str:
    """One source lost its functions and imports."""
    kept = json.loads(text)
    sources = kept["record"]["sources"]
    first = next(iter(sources))
    sources[first] = sources[first][:1]
    return json.dumps(kept)


def a_digit_off(text: str) -> str:
    """The digest of one source's code is another."""
    kept = json.loads(text)
    code = next(iter(kept["record"]["sources"].values()))
    code[0] = ("1" if code[0][0] == "0" else "0") + code[0][1:]
    return json.dumps(kept)


SPOILT = (lambda text: text[:-9], lambda text: "[1]", lambda text: "{}", shortened, a_digit_off)


@pytest.mark.parametrize("spoil", SPOILT)
def test_what_is_damaged_is_read_again(tmp_path: Path, spoil: Callable[[str], str]) -> None:
    known, many = ask(tmp_path)
    file = tmp_path / "icecone" / "sources.json"
    file.write_text(spoil(file.read_text()))
    again, count = ask(tmp_path)
    assert again == known and count == many


def test_what_another_reader_kept_does_not_count(tmp_path: Path) -> None:
    known, many = ask(tmp_path)
    file = tmp_path / "icecone" / "sources.json"
    sources = read_record(file, source.READER)["sources"]
    write_record(file, {"sources": {name: ["00", *rest] for name, (_, *rest) in sources.items()}}, "another")
    assert ask(tmp_path) == (known, many)


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "icecone").write_text("a file in the folder's place")
    known, many = ask(tmp_path)
    assert ask(tmp_path) == (known, many) and many > 30


def test_a_text_is_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    text = b"def f() -> int:\n    return 17_041_913\n"
    found = source.source_of(text)
    monkeypatch.setattr(source, "read_source", None)
    assert source.source_of(bytes(text)) is found and found.functions == {"f"}
