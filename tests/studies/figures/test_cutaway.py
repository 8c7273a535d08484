"""Surfaces drawn off screen: what is where in the picture, and one line where nothing can be drawn."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.image import imread
from studystub import CONE, SHAPES, made_up_record, peak_record, settings_of

from icecone.studies.figures import cutaway as module
from icecone.studies.figures import solid
from icecone.studies.figures.cutaway import cutaway_picture
from icecone.studies.figures.solid import NoRenderer, Surface, View, render
from icecone.studies.figures.style import LOOK
from icecone.studies.files.solution import write_extra
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.models import MODELS

SQUARE = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [10.0, 0.0, 10.0], [0.0, 0.0, 10.0]])
FACES = np.array([[0, 1, 2], [0, 2, 3]], np.int32)
CRASH = (sys.executable, "-c", "import os; os.abort()")
MISSING = (sys.executable, "-c", "raise ImportError('no VTK')")


def square(colour: str, values: Any = None) -> View:
    """A square seen from -y, a quarter of the picture's height."""
    camera = np.array([[5.0, -50.0, 5.0], [5.0, 0.0, 5.0], [0.0, 0.0, 1.0]])
    surface = Surface(SQUARE, FACES, colour, 1.0, values, True)
    return View((surface,), camera, 40.0, (200, 160), ("#ffffff", "#ff0000"), "#555555", "#ffffff", SQUARE)


@pytest.fixture(scope="module")
def pictures() -> list[Any]:
    """One square in green, one by its values; skipped where VTK has no renderer."""
    try:
        return render([square("#008000"), square("#008000", np.array([0.0, 1.0, 1.0, 0.0]))])
    except NoRenderer as problem:
        pytest.skip(f"no renderer: {problem}")


def test_a_square_is_drawn_where_its_marks_are(pictures: list[Any]) -> None:
    """40 of 160 pixels high, in the middle; its corners' marks on its corners; in its colour, on white."""
    picture, marks = pictures[0]
    assert picture.shape == (160, 200, 3)
    green = (picture[..., 1].astype(int) - picture[..., 0]) > 40
    assert green.sum() == pytest.approx(40 * 40, rel=0.1)
    rows, columns = np.nonzero(green)
    assert marks[0] == pytest.approx([columns.min(), 160 - rows.max()], abs=2.5)
    assert marks[2] == pytest.approx([columns.max(), 160 - rows.min()], abs=2.5)
    assert (picture[:30] == 255).all()


def test_values_are_drawn_by_the_scale(pictures: list[Any]) -> None:
    """White where the value is 0, red where it is 1."""
    picture, _ = pictures[1]
    left, right = picture[80, 84].astype(int), picture[80, 116].astype(int)
    assert left.min() > 200 and right[0] > 180 and right[1] < 80


def test_a_process_that_stands_by_is_the_one_that_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """One process for the block; what drew nothing ends with it."""
    begun: list[subprocess.Popen[str]] = []
    begin = solid.begin
    monkeypatch.setattr(solid, "CHILD", (sys.executable, "-c", "import sys; sys.exit('told ' + sys.stdin.readline())"))
    monkeypatch.setattr(solid, "begin", lambda: begun.append(begin()) or begun[-1])
    with solid.standing_by(), pytest.raises(solid.NoRenderer, match="told 0"):
        solid.render([])
    assert len(begun) == 1
    with solid.standing_by():
        assert begun[1].poll() is None
    assert begun[1].poll() is not None


@pytest.mark.parametrize(("child", "words"), [(CRASH, "crashed (signal"), (MISSING, "ImportError: no VTK")])
def test_where_nothing_can_be_drawn_one_line_says_so(
    child: tuple[str, ...], words: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A library that crashes or is not there ends neither the command nor its other pictures."""
    monkeypatch.setattr(solid, "CHILD", child)
    with pytest.raises(NoRenderer) as problem:
        render([square("#008000")])
    assert words in str(problem.value)
    (line,) = write_extra(peak_record(5.0), tmp_path)
    assert line.startswith("cutaway.png: not drawn, as VTK finds no renderer here: ") and len(line.splitlines()) == 1
    assert words in line and not list(tmp_path.iterdir())


def test_a_renderer_that_hangs_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solid, "CHILD", (sys.executable, "-c", "import time; time.sleep(60)"))
    monkeypatch.setattr(solid, "PATIENCE", 0.5)
    with pytest.raises(NoRenderer, match="has not drawn within"):
        render([square("#008000")])


@pytest.mark.parametrize("name", ["peak", "cone"])
def test_a_case_is_cut_open(name: str, pictures: list[Any], tmp_path: Path) -> None:
    """A picture of some 1,700 pixels with the caution; steel grey and the pull's green are in it."""
    outcome = peak_record(5.0) if name == "peak" else made_up_record(settings_of({}), cone=CONE)
    assert write_extra(outcome, tmp_path) == []
    picture = imread(tmp_path / "cutaway.png")[..., :3]
    assert picture.shape[1] > 1400
    green = (picture[..., 1] - picture[..., 0] > 0.2) & (picture[..., 1] - picture[..., 2] > 0.2)
    assert green.mean() > 5e-4


@pytest.fixture
def seen(monkeypatch: pytest.MonkeyPatch) -> list[View]:
    """The views that a stand-in for the renderer gets; it gives white pictures."""
    found: list[View] = []

    def draw(views: list[View]) -> list[Any]:
        found.extend(views)
        return [(np.full((80, 100, 3), 255, np.uint8), np.full((len(view.marks), 2), 40.0)) for view in views]

    monkeypatch.setattr(module, "render", draw)
    return found


def test_what_stands_in_the_picture(seen: list[View], tmp_path: Path) -> None:
    """Limit, first damage and caution; labels of pull and first damage; without fields no scale."""
    outcome = peak_record(5.0, hanger=3.0)
    figure = module.cutaway(outcome, None, None)
    told = " ".join(text.get_text() for text in [figure._suptitle, figure._supxlabel, *_texts(figure)])
    for words in ("limit 3.0 kN: hanger", "first damage at", "Never trust a life", "pull", "at the peak, 5.0 kN: cone"):
        assert words in told, words
    assert len(seen) == 2 and len(figure.axes) == 2
    assert figure._suptitle.get_fontweight() == LOOK["figure.titleweight"]  # in the look of all pictures
    assert cutaway_picture(outcome, tmp_path / "cutaway.png") == ""


@pytest.mark.parametrize(("angle", "direction", "side"), [(-20.0, 0.0, 1), (20.0, 90.0, -1)])
def test_ice_that_is_gone_is_named_on_the_side_that_the_pull_presses(
    angle: float, direction: float, side: int, seen: list[View]
) -> None:
    """In front where the pull runs along the surface; a tube that leans to +x and is pulled straight out: behind."""
    given = settings_of({"placement__angle_deg": angle, "pull__direction_deg": direction})
    gone = {**SHAPES, "gone_mm": [[0.0] * 3, [0.0, 6.0, 0.0], [0.0, 6.0, 0.0]]}
    figure = module.cutaway(made_up_record(given, peak={"shapes": gone}), None, None)
    (label,) = [text for text in figure.axes[1].texts if text.get_text() == "ice gone, 6 mm down"]
    marks = seen[1].marks
    place = [k for k, text in enumerate(figure.axes[1].texts) if text is label]
    assert np.sign(marks[place[0], 0]) == side


def test_an_end_of_the_crust_is_a_line(seen: list[View]) -> None:
    """As deep as the crust, on the cut face of both panels; none without one."""
    for crust in (0, 20):
        module.cutaway(peak_record(5.0, ice__crust_mm=crust), None, None)
    heights = [[each.points[:, 2] for each in view.surfaces] for view in seen]
    lines = [[z for z in of if z.max() < -19.0 and z.min() > -21.0] for of in heights]
    assert [len(of) for of in lines] == [0, 0, 1, 1]


def _texts(figure: Any) -> list[Any]:
    return [text for axes in figure.axes for text in (*axes.texts, axes.title)]


def test_pictures_that_may_be_missing_are_not_sure() -> None:
    """A solved case's sure files name none of them: another's file of that name is refused as the answer is written."""
    for model in MODELS.values():
        assert not {name for name, _ in (*model.extra, *model.moving)} & set(model.files)
    assert [name for name, _ in MODELS["cone"].extra] == ["cutaway.png"] and not MODELS["onset"].extra


def test_outcomes_are_drawn_with_their_fields(solved: tuple[Outcome, Any, Path], pictures: list[Any]) -> None:
    """Of a solved case the ice is coloured: reds beside the mouth, and the scale beneath."""
    outcome, _, folder = solved
    figure = module.cutaway(outcome, folder / "fields.vtu", None)
    labels = [axes.get_xlabel() for axes in figure.axes]
    assert any("failure index of the ice" in label for label in labels)
    first = np.asarray(figure.axes[0].images[0].get_array()).astype(int)
    assert ((first[..., 0] - first[..., 2]) > 60).sum() > 50
