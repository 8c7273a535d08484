"""Labels beside points, put where they lie over no other label and no other point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from .style import INK

STEPS = (9.0, 17.0, 26.0, 36.0)  # points from the marker, tried in turn
WAYS = ((0.7, 0.7), (-0.7, 0.7), (0.0, 1.0), (0.7, -0.7), (-0.7, -0.7), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0))
HIGH, WIDE = 11.0, 6.5  # of a letter [points]
CLOSE = 12.0  # points from the marker that need no line


def place_labels(axes: Axes, at: tuple[Sequence[float], Sequence[float]], words: Sequence[str]) -> None:
    """Annotate points inside the axes with short words; a line leads to those that stand off.

    The figure is laid out first, so that places on the page are known.
    """
    figure = axes.figure
    figure.draw_without_rendering()  # type: ignore[union-attr]
    points = axes.transData.transform(np.column_stack(at)) * 72 / figure.dpi
    frame = axes.bbox.get_points() * 72 / figure.dpi
    curve = [line.get_transform().transform(line.get_xydata()) * 72 / figure.dpi for line in axes.lines]
    crowd = np.concatenate([points, *(dense(each) for each in curve if len(each) > 2)]) if len(points) else points
    taken: list[np.ndarray] = []
    for point, text in zip(points, words, strict=True):
        if not ((point > frame[0] - 1).all() and (point < frame[1] + 1).all()):
            continue
        half = np.array([0.5 * WIDE * len(text), 0.5 * HIGH])
        tried = [step * np.array(way) for step in STEPS for way in WAYS]
        offset = min(tried, key=lambda each: cost(point + each, half, taken, crowd, frame) + 0.02 * np.hypot(*each))
        taken.append(np.array([point + offset - half, point + offset + half]))
        line = {"arrowstyle": "-", "lw": 0.6, "color": INK, "shrinkA": 0, "shrinkB": 3}
        far = line if np.hypot(*offset) > CLOSE else None
        place: dict[str, Any] = {"textcoords": "offset points", "ha": "center", "va": "center", "zorder": 8}
        axes.annotate(text, _data(axes, point), tuple(offset), arrowprops=far, fontsize=9, **place)


def cost(
    centre: np.ndarray, half: np.ndarray, taken: Sequence[np.ndarray], crowd: np.ndarray, frame: np.ndarray
) -> float:
    """How bad a place is: labels under it count most, then the frame, then points of the curve and of other markers."""
    over = sum(bool((np.abs(box.mean(axis=0) - centre) < half + 0.5 * (box[1] - box[0])).all()) for box in taken)
    outside = bool((centre - half < frame[0]).any() or (centre + half > frame[1]).any())
    covered = int((np.abs(crowd - centre) < half + 2.5).all(axis=1).sum())
    return 100.0 * over + 50.0 * outside + min(covered, 10)


def dense(line: np.ndarray) -> np.ndarray:
    """Points along a line, at most two points of the page apart."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    length = np.r_[0.0, np.cumsum(np.nan_to_num(steps))]
    places = np.linspace(0.0, length[-1], max(int(length[-1] / 2.0), 2))
    return np.stack([np.interp(places, length, column) for column in line.T], axis=1)


def _data(axes: Axes, point: np.ndarray) -> tuple[float, float]:
    x, y = axes.transData.inverted().transform(point * axes.figure.dpi / 72)
    return float(x), float(y)
