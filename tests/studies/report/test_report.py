"""A report is one file: whole, escaped, without a request; it goes with its answer, and bad folders are one line."""

from __future__ import annotations

import re
from base64 import b64decode
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from plainscene import plain_scene
from samples import settings
from smallanswers import ANGLE, DEPTH, day_answers, grid_of, study_answer, validate_answer
from studystub import STRAIGHT, made_up_record

from icecone.fem.tube.modes import MODES
from icecone.studies.case.file import read_case, settings_id
from icecone.studies.command.main import main
from icecone.studies.files.answer import answer, listed, recover
from icecone.studies.files.store import read_json, write_json, write_text
from icecone.studies.report.build import page_of, write_report
from icecone.studies.report.moments import mode_looks
from icecone.studies.report.page import Moving, Page, Table, section
from icecone.studies.report.render import LARGEST_BYTES, asset, encoded, html
from icecone.studies.report.space import pack
from icecone.studies.sweep.study import read_study

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


def solved_into(folder: Path, peak: Any = None, cone: Any = None, **given: Any) -> Path:
    """A folder with the answer of a solve by the stand-in.  peak, cone : as `made_up_record` takes them."""
    with answer(folder, "solve") as stage:
        write_json(stage / "outcome.json", made_up_record(settings(**given), peak=peak, cone=cone).to_dict())
    return folder


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """An answer of each kind."""
    top = tmp_path_factory.mktemp("answers")
    pulls = [made_up_record(settings(placement__angle_deg=angle), peak={}) for angle in (-20.0, 0.0, 20.0)]
    onsets = [made_up_record(settings(placement__angle_deg=angle)) for angle in (-20.0, 0.0, 20.0)]
    return {
        "solve": solved_into(top / "solve"),
        "peak": solved_into(top / "peak", peak={}),
        "cone": solved_into(top / "cone", cone=STRAIGHT),
        "study": study_answer(top / "study", pulls, [ANGLE]),
        "onsets": study_answer(top / "onsets", onsets, [ANGLE]),
        "grid": study_answer(top / "grid", grid_of(pulls, (60.0, 130.0)), [ANGLE, DEPTH]),
        "validate": validate_answer(top / "validate"),
        **day_answers(top),
    }


@pytest.fixture(
    scope="module",
    params=("solve", "peak", "cone", "study", "onsets", "grid", "many", "design", "plan", "compare", "validate"),
)
def page_html(request: pytest.FixtureRequest, folders: dict[str, Path]) -> str:
    return encoded(page_of(folders[request.param])).decode()


def test_a_page_asks_for_nothing(page_html: str) -> None:
    """Pictures and scripts are in it; its policy forbids requests, and no attribute names an address."""
    for _, attributes in Elements(page_html).found:
        for name in ("src", "href", "action", "data", "poster"):
            assert (attributes.get(name) or "#").startswith(("#", "data:")), attributes
    assert "default-src 'none'" in page_html
    assert "@import" not in page_html
    assert not re.search(r"url\((?!\s*['\"]?data:)", re.sub(r"<script.*?</script>", "", page_html, flags=re.DOTALL))


def test_headings_are_in_order(page_html: str) -> None:
    """One first heading; none skips a level on the way down."""
    levels = [int(tag[1]) for tag, _ in Elements(page_html).named("h1", "h2", "h3", "h4")]
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


def test_values_are_told_with_how_they_are_known_and_their_unit(tmp_path: Path) -> None:
    page = page_of(solved_into(tmp_path / "solve"))
    tables = {block.caption: block for part in page.sections for block in part.blocks if isinstance(block, Table)}
    (ice,) = [table for title, table in tables.items() if title.startswith("Values of the ice")]
    how, source = (ice.head.index(name) for name in ("how known", "source"))
    assert {row[how] for row in ice.rows} <= {"assumed", "published", "from memory", "follows"}
    assert all(row[source] and not row[source].startswith("[") for row in ice.rows)
    judged = {row[0]: row[1] for row in tables["What is assumed besides the materials"].rows}
    assert judged["border between chips and cracks that dive"] == "0 deg"
    assert judged["motion until a chip is gone"].endswith(" mm")


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


def test_cautions_stand_first_and_last(page_html: str) -> None:
    """The general caution is there twice, not counting a file to copy: under the answer and at the end."""
    seen = re.sub(r"<script.*?</script>|<pre.*?</pre>", "", page_html, flags=re.DOTALL)
    heads = [at.start() for at in re.finditer("<h2", seen)]
    places = [at.start() for at in re.finditer("never trust a life to an anchor", seen)]
    assert len(places) == 2
    assert heads[0] < places[0] < heads[1]
    assert places[1] > heads[-1]


def test_every_kind_says_its_answer_in_two_sentences_at_most(folders: dict[str, Path]) -> None:
    """And none is empty; each page is far below the largest."""
    for name, folder in folders.items():
        page = page_of(folder)
        assert 1 <= len(page.answer) <= 2, name
        assert all(text.strip().endswith(".") for text in page.answer), page.answer
        assert len(encoded(page)) < LARGEST_BYTES / 5


def test_an_explorer_holds_every_case_at_its_place(folders: dict[str, Path]) -> None:
    """Of a grid: as many as combinations, none twice, the limit of each as in its outcome."""
    data = page_of(folders["grid"]).moving["explorer"]
    records = read_json(folders["grid"] / "outcomes.json")["records"]
    places = {tuple(case["at"]): case for case in data["cases"]}
    assert len(places) == len(records) == 6
    for record in records:
        at = tuple(
            axis["values"].index(record["case"][key]) for axis, key in zip(data["axes"], (ANGLE, DEPTH), strict=True)
        )
        assert places[at]["limit"] == pytest.approx(record["limit_kN"], abs=1e-3)


def test_the_studys_file_asks_for_the_same_cases(folders: dict[str, Path], tmp_path: Path) -> None:
    """One key, and a grid."""
    for name in ("study", "grid"):
        page = page_of(folders[name])
        copied = next(block for part in page.sections for block in part.blocks if block.kind == "copied")
        write_text(tmp_path / "study.toml", copied.text)
        cases = [job.settings for job in read_study(tmp_path / "study.toml").jobs]
        records = read_json(folders[name] / "outcomes.json")["records"]
        assert sorted(map(settings_id, cases)) == sorted(settings_id(record["case"]) for record in records)


def test_a_plan_and_a_comparison_know_where_each_tube_stands(folders: dict[str, Path]) -> None:
    """The angle of a row's picture is that of its row."""
    for name in ("plan", "compare"):
        cases = page_of(folders[name]).moving["explorer"]["cases"]
        for case in cases:
            said = case["words"].partition(":")[0]
            angle = (
                0 if said.startswith("upright") else int(said.split("_")[1]) * (-1 if said.startswith("away") else 1)
            )
            assert case["placement"]["angle"] == pytest.approx(angle, abs=4)


def test_a_study_of_draws_tells_its_range(folders: dict[str, Path]) -> None:
    """Low, middle and high of each place, in order, and the chances of the modes among its facts."""
    cases = page_of(folders["many"]).moving["explorer"]["cases"]
    assert [case["at"] for case in cases] == [[0], [1], [2]]
    assert all(case["low"] <= case["limit"] <= case["high"] for case in cases)
    assert all(any(name.startswith("chance: ") for name, _ in case["facts"]) for case in cases)


def test_a_scene_is_packed_as_the_viewer_reads_it() -> None:
    """Numbers come back; of the ice's box x runs fastest, two bytes a point."""
    scene = plain_scene()
    packed = pack(scene)
    tube, grid = packed["parts"][0], scene.grid
    assert grid is not None
    points = np.frombuffer(b64decode(tube["points"]), "<f4").reshape(-1, 3)
    np.testing.assert_array_equal(points, scene.parts[0].points)
    nx, ny, nz = packed["grid"]["shape"]
    read = np.frombuffer(b64decode(packed["grid"]["bytes"]), np.uint8).reshape(nz, ny, nx, 2)
    assert read[3, 2, 1, 0] == grid.values[1, 2, 3]
    assert (read[3, 2, 1, 1] == 255) == grid.solid[1, 2, 3]
    assert {0, 255} == set(read[..., 1].ravel().tolist())


def test_notices_of_the_libraries_are_on_every_page(page_html: str) -> None:
    """Both are under the MIT License, which asks for it."""
    assert "three.js authors" in page_html
    assert "Leon Sorokin" in page_html


def luminance(colour: str) -> float:
    """Relative luminance of a colour, as the web's rules of contrast define it (WCAG 2.2)."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_numbers_can_be_read_on_the_map() -> None:
    """On the pale colour of each mode the map's text has a contrast of 4.5 at least (AA)."""
    text = re.search(r"\.grid td \{ color: (#[0-9a-f]{6})", asset("style.css"))
    assert text is not None
    for name, look in mode_looks(set(MODES)).items():
        lighter = (luminance(look["pale"]) + 0.05) / (luminance(text[1]) + 0.05)
        assert lighter >= 4.5, name
