"""A report is one file: whole, escaped, without a request; it goes with its answer, and bad folders are one line."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from samples import settings
from studystub import made_up_record

from icecone.studies.case.file import read_case
from icecone.studies.command.main import main
from icecone.studies.files.answer import answer, listed, recover
from icecone.studies.files.store import write_json, write_text
from icecone.studies.report.build import page_of, write_report
from icecone.studies.report.page import Moving, Page, Table, section
from icecone.studies.report.render import LARGEST_BYTES, encoded, html

HOSTILE = '<script>alert("1")</script> & {{ 7 * 7 }} </script><img src=x onerror=alert(1)>'


class Elements(HTMLParser):
    """Tags with their attributes, in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def named(self, *tags: str) -> list[tuple[str, dict[str, str | None]]]:
        return [each for each in self.found if each[0] in tags]


def solved_into(folder: Path, **given: Any) -> Path:
    """A folder with the answer of a solve by the stand-in."""
    with answer(folder, "solve") as stage:
        write_json(stage / "outcome.json", made_up_record(settings(**given)).to_dict())
    return folder


@pytest.fixture
def solve_html(tmp_path: Path) -> str:
    return encoded(page_of(solved_into(tmp_path / "solve"))).decode()


def test_a_page_asks_for_nothing(solve_html: str) -> None:
    """Pictures and scripts are in it; its policy forbids requests, and no attribute names an address."""
    for _, attributes in Elements(solve_html).found:
        for name in ("src", "href", "action", "data", "poster"):
            assert (attributes.get(name) or "#").startswith(("#", "data:")), attributes
    assert "default-src 'none'" in solve_html
    assert "@import" not in solve_html
    assert not re.search(r"url\((?!\s*['\"]?data:)", re.sub(r"<script.*?</script>", "", solve_html, flags=re.DOTALL))


def test_headings_are_in_order(solve_html: str) -> None:
    """One first heading; none skips a level on the way down."""
    levels = [int(tag[1]) for tag, _ in Elements(solve_html).named("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_every_picture_says_what_it_shows(tmp_path: Path) -> None:
    """In words with the limit's number."""
    folder = tmp_path / "solve"
    outcome = made_up_record(settings())
    with answer(folder, "solve") as stage:
        write_json(stage / "outcome.json", outcome.to_dict())
        (stage / "stress.png").write_bytes(b"\x89PNG")
        (stage / "tube.png").write_bytes(b"\x89PNG")
    pictures = Elements(encoded(page_of(folder)).decode()).named("img")
    assert len(pictures) == 2
    assert all(f"{outcome.limit_kN:.1f} kN" in (attributes["alt"] or "") for _, attributes in pictures)


def test_what_users_write_is_escaped_everywhere() -> None:
    """In texts, tables, attributes and the data of the scripts."""
    moving = Moving("pull", "pull", HOSTILE, {"moments": [{"event": HOSTILE}], "start": 0, "space": None})
    table = Table(HOSTILE, (HOSTILE,), ((HOSTILE,),))
    page = Page("solve", HOSTILE, HOSTILE, (HOSTILE,), HOSTILE, (HOSTILE,), section("a", HOSTILE, moving, table))
    plain = html(Page("solve", "a", "a", ("a",), "a", ("a",), section("a", "a", moving, Table("a", ("a",), (("a",),)))))
    found = html(page)
    for tag in ("<script", "<img", "onerror=alert(1)>"):
        assert found.count(tag) == plain.count(tag)
    assert "{{ 7 * 7 }}" in found


def test_the_case_file_solves_the_same_case(tmp_path: Path) -> None:
    given = settings(placement__angle_deg=-12.5, placement__attachment="tied_off", placement__sling_friction=0.2)
    page = page_of(solved_into(tmp_path / "solve", **{k.replace(".", "__"): v for k, v in given.items()}))
    copied = next(block for part in page.sections for block in part.blocks if block.kind == "copied")
    write_text(tmp_path / "case.toml", copied.text)
    assert read_case(tmp_path / "case.toml") == given


def test_a_report_goes_with_its_answer(tmp_path: Path) -> None:
    """It is a file of the manifest; the next answer takes it away, so that none tells of another case."""
    folder = solved_into(tmp_path / "solve")
    path, size = write_report(folder)
    assert path == folder / "report.html"
    assert "report.html" in listed(folder)
    assert size == path.stat().st_size < LARGEST_BYTES
    write_report(folder)  # again, in its own place
    recover(folder)
    assert path.exists()
    solved_into(folder, placement__angle_deg=-20.0)
    assert not path.exists()
    assert "report.html" not in listed(folder)


def test_a_file_of_the_users_is_not_written_over(tmp_path: Path) -> None:
    """Neither in the folder nor elsewhere; a report may be."""
    folder = solved_into(tmp_path / "solve")
    own = folder / "report.html"
    own.write_text("mine")
    elsewhere = tmp_path / "notes.html"
    elsewhere.write_text("mine too")
    for more in ((), ("--out", elsewhere)):
        result = CliRunner().invoke(main, ["report", str(folder), *map(str, more)])
        assert result.exit_code == 2
        assert len(result.output.strip().splitlines()) == 1
    assert (own.read_text(), elsewhere.read_text()) == ("mine", "mine too")
    for _ in range(2):
        assert CliRunner().invoke(main, ["report", str(folder), "--out", str(tmp_path / "new.html")]).exit_code == 0


def test_a_folder_without_an_answer_is_one_line(tmp_path: Path) -> None:
    """Not there, empty, of another command, of another format: exit code 2, and nothing is written."""
    (tmp_path / "empty").mkdir()
    for name, command, data in (("other", "pin", {}), ("old", "solve", {"format": 1}), ("odd", "solve", [])):
        with answer(tmp_path / name, command) as stage:
            write_json(stage / "outcome.json", data)
    before = sorted(tmp_path.rglob("*"))
    for name in ("missing", "empty", "other", "old", "odd"):
        result = CliRunner().invoke(main, ["report", str(tmp_path / name)])
        assert result.exit_code == 2, name
        assert len(result.output.strip().splitlines()) == 1
        assert str(tmp_path / name) in result.output
    assert sorted(tmp_path.rglob("*")) == before


def test_cautions_stand_first_and_last(solve_html: str) -> None:
    """The general caution is there twice: under the answer and at the end."""
    assert solve_html.count("never trust a life to an anchor") == 2
    assert solve_html.index("never trust a life") < solve_html.index('<h2 id="numbers-head">')
