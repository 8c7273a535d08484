"""The field sheet: its words, its side views, PDF and page with every box and caution, the same bytes each time."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from math import cos, hypot, radians, sin
from pathlib import Path
from xml.etree import ElementTree

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from icecone.studies.field.sheet import BOXES, ENDINGS, ROWS, Sheet, SheetRow
from icecone.studies.field.sheet_page import sheet_page, write_sheet
from icecone.studies.field.sheet_pdf import PAGE, sheet_figures, sheet_pdf
from icecone.studies.field.sketch import ARROW, HIGH, WIDE, common_frame, sketch
from icecone.studies.figures.style import PULL, STEEL
from icecone.studies.outcome.cautions import CAUTION, HIGH_ENERGY

AWAY = SheetRow("a1", 1, 1, -20.0, 130.0, 140.0, 17.0, low_kN=3.9, middle_kN=3.9, high_kN=8.2, mode="lever-out")
TIED = SheetRow("b2", 2, 1, 0.0, 70.0, 140.0, 17.0, "tied_off", 30.0, 45.0)
FULL = replace(AWAY, largest_kN=10.25, mode="tube bends")


def day(number: int) -> Sheet:
    """So many pulls, leaning back and forth."""
    rows = [replace(FULL, id=f"p{k}", order=k, block=1 + k // 4, angle_deg=10.0 * (k % 5 - 2)) for k in range(number)]
    return Sheet("Day of angles", tuple(rows), 7)


def test_what_to_set_is_told_in_words() -> None:
    assert AWAY.to_set() == (
        "tube 140 × 17 mm",
        "130 mm in the ice",
        "20° AWAY from the pull",
        "at the EYE",
        "pull along the ice",
    )
    assert TIED.to_set()[2:] == ("UPRIGHT", "TIED OFF, 30 mm up", "pull 45° up from the ice")
    assert replace(AWAY, angle_deg=7.5, direction_deg=90.0).to_set()[2:] == (
        "7.5° TOWARD the pull",
        "at the EYE",
        "pull STRAIGHT OUT",
    )


def test_what_to_expect_and_what_is_not_known() -> None:
    assert AWAY.expected() == ("expect 3.9 kN (3.9 to 8.2)", "lever-out")
    assert FULL.reckon() == "be ready for 10.2 kN"
    assert TIED.expected() == ("no load predicted",) and TIED.reckon() == "largest load: unknown"


@pytest.mark.parametrize("angle", [-30.0, -20.0, 0.0, 20.0])
def test_the_side_view_has_tube_and_pull_as_they_are(angle: float) -> None:
    """The tube's axis leans by its angle, its tip lies depth cos(angle) under the ice, the arrow points along the pull.

    A positive angle leans the head to the right, where the pull goes.
    """
    placed = replace(AWAY, angle_deg=angle, direction_deg=30.0).drawn
    frame = common_frame([placed])
    shapes = sketch(placed, frame)
    (body,) = [shape for shape in shapes if shape.fill == STEEL]
    low, high = ([0.5 * (a + b) for a, b in zip(*ends, strict=True)] for ends in _ends(body.points))
    run, rise = high[0] - low[0], high[1] - low[1]
    assert hypot(run, rise) == pytest.approx(140.0 * frame.scale)
    assert (run, rise) == pytest.approx(
        (140.0 * frame.scale * sin(radians(angle)), 140 * frame.scale * cos(radians(angle)))
    )
    assert frame.ground - low[1] == pytest.approx(130.0 * frame.scale * cos(radians(angle)))
    (line,) = [shape for shape in shapes if shape.stroke == PULL]
    (head,) = [shape for shape in shapes if shape.fill == PULL]
    start, tip = line.points[0], head.points[0]
    assert start == pytest.approx(tuple(high))
    assert (tip[0] - start[0], tip[1] - start[1]) == pytest.approx((ARROW * cos(radians(30)), ARROW * sin(radians(30))))


def _ends(corners: tuple[tuple[float, float], ...]) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Pairs of corners at the lower and at the upper end."""
    a, b, c, d = corners
    return (a, d), (b, c)


def test_a_sling_is_drawn_where_it_sits() -> None:
    """The arrow starts 30 mm up the upright shank."""
    frame = common_frame([TIED.drawn])
    (line,) = [shape for shape in sketch(TIED.drawn, frame) if shape.stroke == PULL]
    assert line.points[0] == pytest.approx((0.5 * WIDE, frame.ground + 30.0 * frame.scale))


def test_every_placement_fits_at_the_common_scale() -> None:
    """Ice, tube, arc and arrow of the deepest, the longest and the flattest stay inside."""
    rows = [AWAY, TIED, replace(AWAY, depth_mm=290.0, length_mm=300.0), replace(AWAY, angle_deg=45.0, depth_mm=99.0)]
    rows += [replace(AWAY, direction_deg=90.0), replace(TIED, angle_deg=30.0, direction_deg=0.0, sling_height_mm=70.0)]
    frame = common_frame([row.drawn for row in rows])
    for row in rows:
        for x, y in (point for shape in sketch(row.drawn, frame) for point in shape.points):
            assert -1e-9 <= x <= WIDE + 1e-9 and -1e-9 <= y <= HIGH + 1e-9


def words_of(sheet: Sheet) -> list[list[str]]:
    return [[text.get_text() for text in figure.findobj(Text)] for figure in sheet_figures(sheet)]


def test_a_page_holds_its_rows_with_all_boxes_and_cautions() -> None:
    pages = words_of(day(ROWS + 1))
    assert len(pages) == 2
    for words, rows in zip(pages, (ROWS, 1), strict=True):
        for box in (*(name for name, _ in BOXES), *ENDINGS, "notes", "ice, temperature °C"):
            assert words.count(box) == rows, box
        flat = [" ".join(text.split()) for text in words]
        assert CAUTION in flat and HIGH_ENERGY in flat and "Day of angles" in flat
        assert {"date", "place", "people"} <= set(flat)
    assert "blocks 1, 2 · seed 7 · page 1 of 2" in pages[0] and "block 2 · seed 7 · page 2 of 2" in pages[1]


def test_nothing_is_written_off_the_page_or_over_its_neighbours_box() -> None:
    """With ids, modes and placements as long as they come, words end inside their column; the page ends after them."""
    long = replace(
        FULL,
        id="W" * 60,
        mode="not reached, tube bent before",
        placement="m" * 60,
        attachment="tied_off",
        sling_height_mm=5,
    )
    (figure,) = sheet_figures(Sheet("W" * 200, (long,) * ROWS, 123456789))
    canvas = FigureCanvasAgg(figure).get_renderer()
    (axes,) = figure.axes
    to_mm = axes.transData.inverted()
    for text in axes.texts:
        (left, low), (right, high) = to_mm.transform(text.get_window_extent(canvas).get_points())
        assert left > 5.0 and right < PAGE[0] - 5.0 and low > 5.0 and high < PAGE[1] - 3.0, text.get_text()
        if 56.0 < text.get_position()[0] < 57.0 and text.get_position()[1] < 265.0:
            assert right < 97.0, (text.get_text(), right)


def test_the_same_sheet_gives_the_same_bytes_without_a_date(tmp_path: Path) -> None:
    assert sheet_pdf(day(3)) == sheet_pdf(day(3))
    pdf, page = write_sheet(day(3), tmp_path)
    assert pdf.read_bytes() == sheet_pdf(day(3)) and page.read_text("utf-8") == sheet_page(day(3))
    assert pdf.read_bytes().startswith(b"%PDF") and b"CreationDate" not in pdf.read_bytes()
    assert b"Day of angles" in pdf.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["field_sheet.html", "field_sheet.pdf"]


class Reader(HTMLParser):
    """Text and tags of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_data(self, data: str) -> None:
        self.words.append(" ".join(data.split()))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert not {name for name, _ in attrs} & {"src", "href", "onload", "onclick"}


def test_the_page_stands_alone_and_holds_the_same() -> None:
    """No script, no picture from elsewhere, no link; each pull with boxes, endings and a side view."""
    page = Reader(sheet_page(day(ROWS + 1)))
    assert {"script", "link", "img", "iframe"} & set(page.tags) == set()
    assert page.tags.count("svg") == ROWS + 1 and page.tags.count("section") == 2
    for words in (*(name for name, _ in BOXES), *ENDINGS):
        assert page.words.count(words) == ROWS + 1
    assert page.words.count(CAUTION) == page.words.count(HIGH_ENERGY) == 2


def test_side_views_of_the_page_are_the_shapes_turned_over() -> None:
    """SVG counts downwards: a point at height y stands at HIGH - y."""
    (svg,) = re.findall(r"<svg.*?</svg>", sheet_page(Sheet("t", (AWAY,))), re.S)
    (body,) = [each for each in ElementTree.fromstring(svg) if each.get("fill") == STEEL]
    found = [tuple(map(float, pair.split(","))) for pair in (body.get("points") or "").split()]
    (shape,) = [each for each in sketch(AWAY.drawn, common_frame([AWAY.drawn])) if each.fill == STEEL]
    for (x, y), (px, py) in zip(found, shape.points, strict=True):
        assert (x, y) == pytest.approx((px, HIGH - py), abs=0.006)


def test_users_text_is_escaped_and_made_fit_for_print() -> None:
    nasty = replace(AWAY, id="<b>&\x1b[31m", placement='<script>"x"</script>', mode="</td>")
    page = sheet_page(Sheet("<u>{{ 7*7 }}\u202e</u>", (nasty,)))
    assert "<script>" not in page and "<u>" not in page and "<u>{{ 7*7 }}</u>" in Reader(page).words
    assert "\x1b" not in page and "\u202e" not in page
    assert "<b>&[31m" in Reader(page).words
    (words,) = words_of(Sheet("$x$", (nasty,)))
    assert "$x$" in words and "<b>&[31m" in words


@pytest.mark.parametrize(
    "change", [{"depth_mm": 0.0}, {"od_mm": float("nan")}, {"angle_deg": 200.0}, {"attachment": "glued"}]
)
def test_bad_rows_are_refused(change: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="must"):
        replace(AWAY, **change)  # type: ignore[arg-type]


def test_a_sheet_without_pulls_is_refused() -> None:
    with pytest.raises(ValueError, match="one pull at least"):
        Sheet("t", ())
