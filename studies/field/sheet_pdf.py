"""The field sheet as PDF: A4 upright, drawn in mm of paper; lines of a pencil's width, the box of the peak heavy."""

from __future__ import annotations

import io
from collections.abc import Sequence
from math import inf
from textwrap import fill
from typing import Any
from warnings import catch_warnings, filterwarnings

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Polygon, Rectangle
from matplotlib.textpath import text_to_path

from ..figures.style import INK, QUIET_INK
from .sheet import BLANKS, BOXES, CAUTIONS, ENDINGS, NOTES, ROWS, Sheet, SheetRow
from .sketch import HIGH, WIDE, Frame, Shape, sketch

PAGE, INCH, POINT = (210.0, 297.0), 25.4, 25.4 / 72  # mm
LEFT, TOP, ROW = 10.0, 265.0, 39.0  # mm: edge, upper edge of the first row, height of a row
ORDER, SET, WRITE = 12.0, 41.0, 104.0  # mm, widths beside the sketch's
TALL, TICKS = 13.5, 52.0  # mm: the upper boxes, width of the endings


def sheet_pdf(sheet: Sheet) -> bytes:
    """The sheet as a PDF file, the same bytes for the same sheet."""
    buffer = io.BytesIO()
    plain = {"Creator": None, "Producer": None, "CreationDate": None, "Title": sheet.heading}
    with rc_context({"pdf.fonttype": 42}), catch_warnings(), PdfPages(buffer, metadata=plain) as pdf:
        filterwarnings("ignore", message="Glyph", category=UserWarning)  # of a script that the font has not: a box
        for figure in sheet_figures(sheet):
            pdf.savefig(figure)
    return buffer.getvalue()


def sheet_figures(sheet: Sheet) -> list[Figure]:
    """A figure for each page, A4."""
    frame = sheet.frame
    return [_page(sheet.heading, words, rows, frame) for words, rows in sheet.pages()]


def _page(title: str, words: str, rows: Sequence[SheetRow], frame: Frame) -> Figure:
    figure = Figure(figsize=(PAGE[0] / INCH, PAGE[1] / INCH))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, PAGE[0]), ylim=(0, PAGE[1]))
    axes.set_axis_off()
    _header(axes, title, words)
    for number, row in enumerate(rows):
        _row(axes, row, TOP - ROW * number, frame)
    _footer(axes, TOP - ROW * ROWS)
    return figure


def _text(axes: Axes, x: float, y: float, words: str, size: float, room: float = inf, **more: Any) -> None:
    """Words with their lower left corner at (x, y) [mm]; smaller where they would be wider than `room` [mm]."""
    if room < inf:
        font = FontProperties(size=size, weight=more.get("fontweight", "normal"))
        wide = POINT * text_to_path.get_text_width_height_descent(words, font, False)[0]
        size *= min(room / max(wide, 1e-9), 1.0)
    style: dict[str, Any] = {
        "fontsize": size,
        "color": INK,
        "va": "baseline",
        "parse_math": False,
        **more,
    }
    axes.text(x, y, words, **style)


def _box(axes: Axes, x: float, y: float, wide: float, high: float, heavy: bool = False) -> None:
    """A box with its upper left corner at (x, y) [mm]."""
    line = 2.0 if heavy else 0.8
    axes.add_patch(Rectangle((x, y - high), wide, high, fill=False, edgecolor=INK, lw=line))


def _header(axes: Axes, title: str, words: str) -> None:
    _text(axes, LEFT, 283.0, title, 15, PAGE[0] - 2 * LEFT, fontweight="bold")
    _text(axes, PAGE[0] - LEFT, 290.0, words, 9, PAGE[0] - 2 * LEFT, ha="right")
    x = LEFT
    for blank, wide in BLANKS:
        _text(axes, x, 270.0, blank, 9, color=QUIET_INK)
        axes.plot((x + 3.0 + 1.8 * len(blank), x + wide), (269.4, 269.4), color=INK, lw=0.8)
        x += wide + 6.0


def _footer(axes: Axes, y: float) -> None:
    urgent, calm = CAUTIONS
    _text(axes, LEFT, y - 2.0, fill(urgent, 100), 9.2, fontweight="bold", va="top", linespacing=1.25)
    _text(axes, LEFT, y - 14.0, fill(calm, 148), 6.8, va="top", linespacing=1.25)


def _row(axes: Axes, row: SheetRow, y: float, frame: Frame) -> None:
    """A row with its upper edge at y [mm]."""
    _box(axes, LEFT, y, ORDER + WIDE + SET + WRITE, ROW, heavy=False)
    _text(axes, LEFT + 0.5 * ORDER, y - 0.5 * ROW, str(row.order), 22, ha="center", va="center", fontweight="bold")
    _text(axes, LEFT + 0.5 * ORDER, y - ROW + 3.0, f"block {row.block}", 7, ha="center")
    _draw(axes, sketch(row.drawn, frame), LEFT + ORDER, y - ROW + 0.5 * (ROW - HIGH))
    _words(axes, row, LEFT + ORDER + WIDE + 1.5, y)
    _boxes(axes, LEFT + ORDER + WIDE + SET, y)


def _draw(axes: Axes, shapes: Sequence[Shape], x: float, y: float) -> None:
    """The side view with its lower left corner at (x, y) [mm]."""
    clip = Rectangle((x, y), WIDE, HIGH, transform=axes.transData)
    for layer, shape in enumerate(shapes, 2):
        points = [(x + px, y + py) for px, py in shape.points]
        line: dict[str, Any] = {"lw": shape.width / POINT, "clip_path": clip, "zorder": layer}
        if shape.kind == "text":
            _text(axes, *points[0], shape.words, 9, ha="center", fontweight="bold")
        elif shape.kind == "polygon":
            colours = {"facecolor": shape.fill or "none", "edgecolor": shape.stroke or "none"}
            axes.add_patch(Polygon(points, closed=True, **colours, **line))
        else:
            style = "-" if shape.kind == "line" else (0, (3, 2))
            axes.plot(*zip(*points, strict=True), color=shape.stroke, ls=style, **line)


def _words(axes: Axes, row: SheetRow, x: float, y: float) -> None:
    """What to set and what to expect."""
    _text(axes, x, y - 5.0, row.name, 11, SET - 2.5, fontweight="bold")
    lines = row.to_set()
    for number, words in enumerate(lines):
        weight = "bold" if row.heavy(words) else "normal"
        _text(axes, x, y - 9.2 - 3.5 * number, words, 8.2, SET - 2.5, fontweight=weight)
    for number, words in enumerate(reversed(row.expected())):
        _text(axes, x, y - ROW + 5.6 + 3.3 * number, words, 7.4, SET - 2.5, color=QUIET_INK)
    _text(axes, x, y - ROW + 1.6, row.reckon(), 8.6, SET - 2.5, fontweight="bold")


def _boxes(axes: Axes, x: float, y: float) -> None:
    """The boxes to write in."""
    wide = WRITE / len(BOXES)
    for number, (words, unit) in enumerate(BOXES):
        heavy = words.isupper()
        _box(axes, x + wide * number, y, wide, TALL, heavy)
        _text(axes, x + wide * number + 1.0, y - 2.8, words, 6.6, fontweight="bold" if heavy else "normal")
        _text(axes, x + wide * (number + 1) - 1.0, y - TALL + 1.2, unit, 7.5, ha="right", color=QUIET_INK)
    low = y - TALL
    _box(axes, x, low, TICKS, ROW - TALL)
    half, step, side = 0.5 * TICKS - 3.5, (ROW - TALL) / (len(ENDINGS) / 2), 4.4
    for number, words in enumerate(ENDINGS):
        left, middle = x + 1.2 + half * (number // 4), low - step * (number % 4 + 0.5)
        _box(axes, left, middle + 0.5 * side, side, side)
        _text(axes, left + side + 0.8, middle, words, 6.8, va="center")
    first, second = NOTES
    _note(axes, x + TICKS, low, 0.4 * (ROW - TALL), first)
    _note(axes, x + TICKS, low - 0.4 * (ROW - TALL), 0.6 * (ROW - TALL), second)


def _note(axes: Axes, x: float, y: float, high: float, words: str) -> None:
    _box(axes, x, y, WRITE - TICKS, high)
    _text(axes, x + 1.0, y - 2.8, words, 6.6)
