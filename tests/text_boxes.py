"""Faults of the texts of a picture, by the boxes that they fill: cut by the frame, or one over another."""

from __future__ import annotations

from itertools import combinations

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

SLACK = 1.5  # pixels that boxes may share: they are a little larger than their letters


def text_faults(figure: Figure) -> list[str]:
    """One line a fault; none in a picture whose every word can be read."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = [(_said(text), box) for text in _shown(figure) if (box := _box(text, canvas)) is not None]
    page = figure.bbox
    cut = [
        f"cut: {words}"
        for words, box in boxes
        if min(box.x0 - page.x0, box.y0 - page.y0, page.x1 - box.x1, page.y1 - box.y1) < -SLACK
    ]
    clipped = [
        f"clipped by its axes: {_said(text)}"
        for text in _shown(figure)
        if _clips(text) and _partly(Text.get_window_extent(text, canvas.get_renderer()), text.axes.bbox)
    ]
    over = [f"over each other: {a} / {b}" for (a, one), (b, other) in combinations(boxes, 2) if _overlap(one, other)]
    return [*cut, *clipped, *over]


def _clips(text: Text) -> bool:
    """Whether its axes cut it off."""
    return text.axes is not None and text.get_clip_on() and text.get_clip_box() is not None


def _said(text: Text) -> str:
    return repr(text.get_text()[:60])


def _shown(figure: Figure) -> list[Text]:
    """Visible texts with words; of ticks those that are drawn."""
    ticks, drawn = set(), set()
    for axes in figure.findobj(Axes):
        for axis in (axes.xaxis, axes.yaxis):
            ticks |= {text for tick in (*axis.majorTicks, *axis.minorTicks) for text in tick.findobj(Text)}
            if axes.get_visible() and axes.axison and axis.get_visible():
                drawn |= {text for tick in axis._update_ticks() for text in (tick.label1, tick.label2)}  # type: ignore[attr-defined]
    texts = [text for text in figure.findobj(Text) if text not in ticks or text in drawn]
    return [text for text in texts if text.get_visible() and text.get_text().strip() and _is_on(text)]


def _is_on(text: Text) -> bool:
    axes = text.axes
    labels = (axes.xaxis.label, axes.yaxis.label) if axes is not None else ()
    return axes is None or (axes.get_visible() and (axes.axison or text not in labels))


def _box(text: Text, canvas: FigureCanvasAgg) -> Bbox | None:
    """What its letters fill on the page, without the arrow of an annotation; None if its axes clip it away."""
    box = Text.get_window_extent(text, canvas.get_renderer())
    if _clips(text) and not _overlap(box, text.axes.bbox):
        return None
    return Bbox(box.get_points())


def _overlap(one: Bbox, other: Bbox) -> bool:
    wide = min(one.x1, other.x1) - max(one.x0, other.x0)
    high = min(one.y1, other.y1) - max(one.y0, other.y0)
    return bool(wide > SLACK and high > SLACK)


def _partly(box: Bbox, frame: Bbox) -> bool:
    inside = min(box.x0 - frame.x0, box.y0 - frame.y0, frame.x1 - box.x1, frame.y1 - box.y1) > -SLACK
    return _overlap(box, frame) and not inside
