"""Reports in a browser without a screen: they open offline, sliders move them, they turn, print, and can be read.

Where no Chromium is found the tests are skipped, but with CI=true they fail.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from plainscene import plain_scene
from samples import settings
from smallanswers import ANGLE, DEPTH, day_answers, grid_of, study_answer, validate_answer
from studystub import STRAIGHT, made_up_record

from icecone.studies.files.answer import answer
from icecone.studies.files.store import write_json
from icecone.studies.report import build, solve, space

pytestmark = pytest.mark.slow
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
CHROMIUM = next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
)
DRAWN = "it => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(it.toDataURL()))))"
ARGUMENTS = ("--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")  # WebGL without a graphics card


@pytest.fixture(scope="session")
def reports(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A small report of each kind; two cases are solved, the loads of days and draws are made up."""
    from icecone.studies.files.solution import write_solution
    from icecone.studies.outcome.models import solve_settings

    top = tmp_path_factory.mktemp("reports")
    solved = [solve_settings(settings(numerics__level="quick", placement__angle_deg=angle)) for angle in (-20.0, 20.0)]
    outcomes = [outcome for outcome, _ in solved]
    with answer(top / "solve", "solve") as stage:
        write_solution(*solved[0], stage)
    with answer(top / "cone", "solve") as stage:
        write_json(stage / "outcome.json", made_up_record(settings(), cone=STRAIGHT).to_dict())
    folders = {
        "solve": top / "solve",
        "cone": top / "cone",
        "study": study_answer(top / "study", outcomes, [ANGLE]),
        "grid": study_answer(top / "grid", grid_of(outcomes, (70.0, 100.0, 130.0)), [ANGLE, DEPTH]),
        "validate": validate_answer(top / "validate"),
        **day_answers(top),
    }
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solve, "packed", lambda *_: space.pack(plain_scene(-20.0)))
        return {name: build.write_report(folder)[0] for name, folder in folders.items()}


@dataclass
class Opened:
    """A page, and what went wrong on it."""

    page: Any
    wrong: list[str] = field(default_factory=list)

    def moved(self, control: str, value: int) -> None:
        """A slider put to a value, as its user does."""
        slide = "(it, value) => { it.value = value; it.dispatchEvent(new Event('input', {bubbles: true})); }"
        self.page.locator(control).first.evaluate(slide, value)

    def html(self, part: str) -> str:
        found: str = self.page.locator(part).first.inner_html()
        return found


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    if CHROMIUM is None and os.environ.get("CI") != "true":
        pytest.skip("no Chromium is found")
    if os.environ.get("CI") != "true":
        pytest.importorskip("playwright")
    from playwright.sync_api import sync_playwright

    assert CHROMIUM is not None, "no Chromium is found"
    with sync_playwright() as found:
        running = found.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        yield running
        running.close()


@pytest.fixture
def opened(browser: Any) -> Iterator[Any]:
    """Opens a report; at the end nothing may have gone wrong, and nothing been asked for but the file."""
    contexts, pages = [], []

    def open_it(path: Path, size: dict[str, int] = DESK, scheme: str = "light", script: str = "") -> Opened:
        context = browser.new_context(viewport=size, color_scheme=scheme)
        contexts.append(context)
        found = Opened(context.new_page())
        pages.append(found)
        here = path.as_uri()
        found.page.on("console", lambda said: said.type == "error" and found.wrong.append(said.text))
        found.page.on("pageerror", lambda error: found.wrong.append(str(error)))
        found.page.on(
            "request", lambda asked: asked.url.startswith((here, "data:", "blob:")) or found.wrong.append(asked.url)
        )
        found.page.add_init_script(script)
        found.page.goto(here)
        found.page.wait_for_selector("html[data-ready=yes]", state="attached")
        return found

    yield open_it
    for context in contexts:
        context.close()
    assert [wrong for page in pages for wrong in page.wrong] == []


MOVES = {  # a slider, and where to
    "solve": ("#pull-moment", 1),
    "study": ("#explorer-axis-0", 0),
    "grid": ("#explorer-axis-1", 2),
    "many": ("#explorer-axis-0", 2),
    "plan": ("#explorer-axis-0", 4),
    "compare": ("#explorer-axis-0", 9),
}
KINDS = (*MOVES, "cone", "design", "validate")


@pytest.mark.parametrize("kind", MOVES)
def test_a_slider_moves_picture_and_numbers(kind: str, reports: dict[str, Path], opened: Any) -> None:
    page, (slider, value) = opened(reports[kind]), MOVES[kind]
    before = page.html("[data-side]"), page.html("[data-now]")
    page.moved(slider, value)
    after = page.html("[data-side]"), page.html("[data-now]")
    assert before[0] != after[0]
    assert before[1] != after[1]
    assert "kN" in after[1]


def test_the_place_in_the_study_follows_the_slider(reports: dict[str, Path], opened: Any) -> None:
    """The frame of the map stands on the case chosen, and a press on a cell moves the sliders."""
    page = opened(reports["grid"])
    chosen = page.page.locator(".grid td[data-chosen]")
    assert chosen.count() == 1
    page.moved("#explorer-axis-1", 0)
    first = chosen.inner_text()
    assert first in page.page.locator(".grid tbody tr").first.inner_text()
    page.page.locator(".grid tbody tr").last.locator("td").last.click()
    assert page.page.locator("#explorer-axis-1").input_value() == "2"
    assert page.page.locator("#explorer-axis-0").input_value() == "1"
    said = page.html("[data-now]")
    assert "130 mm" in said


def test_the_scene_turns_bends_and_is_cut(reports: dict[str, Path], opened: Any) -> None:
    """Its pixels differ after an arrow key, a moment of the pull and a cut; the key back shows the same again."""
    page = opened(reports["solve"])
    canvas = page.page.locator("[data-space] canvas")
    pixels = lambda: canvas.evaluate(DRAWN)  # noqa: E731
    first = pixels()
    canvas.focus()
    page.page.keyboard.press("ArrowLeft")
    turned = pixels()
    page.page.keyboard.press("ArrowRight")
    page.page.keyboard.press("0")
    assert pixels() == first != turned
    page.moved("#pull-moment", 0)
    bent = pixels()
    assert bent != first
    page.moved("#pull-place", 40)
    assert pixels() != bent


def test_a_case_without_a_pull_is_shown_at_rest(reports: dict[str, Path], opened: Any) -> None:
    """In space and from the side, without a slider over moments and without a curve."""
    page = opened(reports["cone"]).page
    assert page.locator("[data-space] canvas").is_visible()
    assert page.locator("[data-side] svg").is_visible()
    assert not page.locator("#pull-moment").is_visible()
    assert not page.locator("[data-curve]").is_visible()


def test_without_webgl_words_and_the_side_view_stand_in(reports: dict[str, Path], opened: Any) -> None:
    """The picture in space is said to be missing, nothing goes wrong, and the slider moves the rest."""
    no_webgl = "HTMLCanvasElement.prototype.getContext = new Proxy(HTMLCanvasElement.prototype.getContext, {"
    no_webgl += "apply: (get, it, given) => given[0] === 'webgl2' ? null : Reflect.apply(get, it, given) });"
    page = opened(reports["solve"], script=no_webgl)
    assert page.page.locator("[data-still]").is_visible()
    assert not page.page.locator("[data-space]").is_visible()
    before = page.html("[data-side]")
    page.moved("#pull-moment", 1)
    assert page.html("[data-side]") != before


def test_the_tube_at_rest_stands_where_the_scene_has_it(reports: dict[str, Path], opened: Any) -> None:
    """Bent by the axis of the first moment, which is straight, no point moves by more than the axis is rounded."""
    page = opened(reports["solve"])
    page.moved("#pull-moment", 0)
    off = page.page.evaluate(
        """() => {
          const { viewer } = document.querySelector("[data-moving=pull]");
          const part = viewer.parts.find((each) => each.name === "tube");
          const now = part.mesh.geometry.attributes.position.array;
          return Math.max(...part.rest.map((each, k) => Math.abs(each - now[k])));
        }"""
    )
    assert off < 0.02


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_serious_stands_against_reading_it(kind: str, reports: dict[str, Path], opened: Any) -> None:
    """axe-core finds nothing serious or critical, light and dark: names, contrast, order, roles."""
    from axe_playwright_python.sync_playwright import Axe

    page = opened(reports[kind]).page
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found = Axe().run(page).response["violations"]
        bad = [each for each in found if each["impact"] in ("serious", "critical")]
        assert [(each["id"], [node["html"][:120] for node in each["nodes"][:3]]) for each in bad] == [], scheme


@pytest.mark.parametrize("kind", KINDS)
def test_a_phone_shows_it_without_scrolling_sideways(kind: str, reports: dict[str, Path], opened: Any) -> None:
    page = opened(reports[kind], PHONE).page
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


@pytest.mark.parametrize("kind", ["solve", "grid", "plan"])
def test_it_prints(kind: str, reports: dict[str, Path], opened: Any, tmp_path: Path) -> None:
    """To pages of A4."""
    page = opened(reports[kind]).page
    data = page.pdf(path=str(tmp_path / "page.pdf"), prefer_css_page_size=True)
    assert data.startswith(b"%PDF")
    assert b"594.95" in data or b"595" in data  # points: the width of A4


def test_a_table_sorts_both_ways(reports: dict[str, Path], opened: Any) -> None:
    page = opened(reports["solve"]).page
    table = page.locator("table.sorts", has=page.locator("caption", has_text="Events of the pull")).first
    loads = lambda: [float(each) for each in table.locator("tbody td:nth-child(2)").all_inner_texts()]  # noqa: E731
    button = table.get_by_role("button", name="load (kN)")
    button.click()
    up = loads()
    button.click()
    assert up == sorted(up)
    assert loads() == up[::-1] != up


def test_the_case_file_is_copied(reports: dict[str, Path], opened: Any) -> None:
    page = opened(reports["solve"]).page
    button = page.locator("button.copy")
    button.click()
    assert "[placement]" in page.evaluate("getSelection().toString()")
    page.locator("[role=status]", has_text=re.compile("Copied|selected")).wait_for()
