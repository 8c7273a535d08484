"""Measured against predicted pulls: one to one, and along the placement angle with the predicted range.

Marker: what was seen to give way. An arrow up: the pull ended otherwise, its peak is at least that. Colour: the group,
by angle. Bars across: nine of ten draws; bars up: one standard deviation, of a mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from ...fem.tube.modes import in_order, mode_named
from ..case.words import AXIS_WORDS
from ..command.plain_text import shortened
from ..field.compare import group_of
from ..words.comparison import against_words, answer, cautions
from .labels import place_labels
from .style import FIELD, INK, LIMIT, PREDICTED, heading, in_our_look, save, shades, small_print, tidy

if TYPE_CHECKING:
    from ..field.compare import Comparison, Pair

ANGLE, DEPTH = "placement.angle_deg", "placement.embedment_mm"
NAMED = 3  # rows that are named: the farthest off
LONGEST = 16  # of a name
PLAIN = "o"  # hollow: nothing was seen
APART, PALE = 2.0, 0.35  # deg between groups at one angle; of a colour


@in_our_look
def one_to_one(found: Comparison, path: Path | None) -> Figure:
    """Measured over predicted load on log axes, with the band of a factor of two. Raises ValueError without rows."""
    pairs = [pair for pair in found.pairs if pair.measured is not None]
    if not pairs:
        raise ValueError("comparison: no row has both loads")
    figure = Figure(figsize=(9.5, 7.6), layout="constrained")
    axes = figure.add_subplot()
    colours = _colours(pairs)
    named = {pair.id for pair in found.worst[:NAMED]}
    for pair in pairs:
        _mark(axes, pair, colours[_planned(pair)])
    low, high = _ends(pairs)
    line = np.array([low, high])
    axes.fill_between(line, line / 2, line * 2, color=LIMIT, alpha=0.14, lw=0, zorder=0)
    axes.plot(line, line, color=LIMIT, lw=1.2, zorder=1)
    axes.set(xscale="log", yscale="log", xlim=(low, high), ylim=(low, high), aspect="equal")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda load, _: f"{load:g}")
        axis.set_minor_formatter(lambda load, _: f"{load:g}" if str(f"{load:e}")[0] in "25" else "")
    axes.set_xlabel(f"predicted {against_words(found)} [kN], median of the draws")
    axes.set_ylabel("measured load [kN]")
    tidy(axes)
    axes.legend(handles=_handles(pairs, colours), loc="upper left", bbox_to_anchor=(1.01, 1), fontsize=9, frameon=False)
    heading(figure, answer(found), 11.5)
    small_print(figure, f"{found.name}. Grey: one to one, and a factor of two.\n{cautions(found)[0]}")
    far = {
        shortened(pair.id, LONGEST): (pair.measured.predicted(0.5), pair.measured.load_kN)
        for pair in pairs
        if pair.id in named and pair.measured is not None
    }
    if far:
        predicted, measured = zip(*far.values(), strict=True)
        place_labels(axes, (predicted, measured), list(far))
    return save(figure, path)


@in_our_look
def against_angle(found: Comparison, path: Path | None) -> Figure:
    """Measured loads along the placement angle, beside nine of ten draws of each row's own placement."""
    pairs = [pair for pair in found.pairs if pair.prediction.settings is not None and pair.range()[1] is not None]
    figure = Figure(figsize=(9.5, 5.6), layout="constrained")
    axes = figure.add_subplot()
    groups = sorted({_group(pair) for pair in pairs})
    at = {angle: sorted({_group(pair) for pair in pairs if _angle(pair) == angle}) for angle in map(_angle, pairs)}
    for group in groups:
        own = [pair for pair in pairs if _group(pair) == group]
        colour = shades(len(groups))[groups.index(group)] if len(groups) > 1 else PREDICTED
        for pair in own:
            beside = at[_angle(pair)]
            x = _angle(pair) + APART * (beside.index(group) - 0.5 * (len(beside) - 1))
            _band(axes, pair, colour, x)
            _point(axes, pair, x, colour if len(groups) > 1 else FIELD)
    axes.set_ylim(bottom=0)
    axes.set_xlabel(AXIS_WORDS[ANGLE])
    axes.set_ylabel(f"{against_words(found)} [kN]")
    tidy(axes)
    axes.axvline(0, color=INK, lw=0.8, zorder=0)
    handles = [
        Line2D([], [], color=colour, lw=6, alpha=0.35, label=group)
        for colour, group in zip(shades(len(groups)), groups, strict=True)
    ]
    handles = (
        handles if len(groups) > 1 else [Line2D([], [], color=PREDICTED, lw=6, alpha=0.35, label="nine of ten draws")]
    )
    shown = [pair for pair in pairs if pair.measured is not None]
    axes.legend(
        handles=[*handles, *_mode_handles(shown)], loc="upper left", bbox_to_anchor=(1.01, 1), fontsize=9, frameon=False
    )
    heading(figure, f"{found.name}: measured loads and the predicted range, by angle", 12)
    small_print(figure, f"Bar: nine of ten draws, tick: median. {cautions(found)[0]}")
    return save(figure, path)


def _group(pair: Pair) -> str:
    """Depth, attachment and direction of a row, as far as angle alone does not place it."""
    settings = pair.prediction.settings or {}
    tied = ", tied off" if settings["placement.attachment"] != "eye" else ""
    direction = float(settings["pull.direction_deg"])
    return f"{float(group_of(pair, DEPTH)):.0f} mm in{tied}" + (f", pulled at {direction:.0f}°" if direction else "")


def _band(axes: Axes, pair: Pair, colour: str, x: float) -> None:
    """Its range and median, once for all repeats: each draws over the one before."""
    low, middle, high = (each or 0.0 for each in pair.range())
    axes.add_patch(Rectangle((x - 0.3 * APART, low), 0.6 * APART, high - low, color=_paler(colour), lw=0, zorder=1))
    axes.plot([x - 0.4 * APART, x + 0.4 * APART], [middle, middle], color=colour, lw=1.8, zorder=2)


def _paler(colour: str) -> tuple[float, float, float]:
    red, green, blue = to_rgb(colour)
    return (1 - PALE * (1 - red), 1 - PALE * (1 - green), 1 - PALE * (1 - blue))


def _mark(axes: Axes, pair: Pair, colour: str) -> None:
    measured = pair.measured
    if measured is None:
        return
    low, middle, high = (each or 0.0 for each in pair.range())
    axes.hlines(measured.load_kN, low, high, color=colour, lw=1.1, alpha=0.6)
    _point(axes, pair, middle, colour)


def _point(axes: Axes, pair: Pair, x: float, colour: str) -> None:
    """A measured load with its mark, its arrow if it is a bound, its bar if it is a mean."""
    measured, row = pair.measured, pair.prediction.row
    if measured is None:
        return
    y = measured.load_kN
    style: dict[str, Any] = {"ms": 8, "mec": "white", "mew": 0.7, "zorder": 4}
    if measured.mode_seen:
        axes.plot(x, y, mode_named(measured.mode_seen).marker, color=colour, **style)
    else:
        axes.plot(x, y, PLAIN, **{**style, "mfc": "white", "mec": colour, "mew": 1.4})
    if row.sd_kN:
        axes.vlines(x, max(y - row.sd_kN, 0.05 * y), y + row.sd_kN, color=colour, lw=1.0)
    if measured.is_bound:
        arrow = {"arrowstyle": "->", "color": colour, "lw": 1.3}
        axes.annotate("", (x, y), (0, 24), textcoords="offset points", arrowprops={**arrow, "arrowstyle": "<-"})


def _angle(pair: Pair) -> float:
    return float((pair.prediction.settings or {})[ANGLE])


def _planned(pair: Pair) -> float:
    """The angle as planned [deg]: repeats of one placement have one colour."""
    return float(group_of(pair, ANGLE))


def _colours(pairs: Sequence[Pair]) -> dict[float, str]:
    angles = sorted({_planned(pair) for pair in pairs})
    return dict(zip(angles, shades(len(angles)), strict=True))


def _ends(pairs: Sequence[Pair]) -> tuple[float, float]:
    loads = [
        load for pair in pairs for load in (*pair.range(), pair.measured.load_kN if pair.measured else None) if load
    ]
    return 0.75 * min(loads), 1.35 * max(loads)


def _mode_handles(pairs: Sequence[Pair]) -> list[Line2D]:
    seen = in_order({pair.measured.mode_seen for pair in pairs if pair.measured and pair.measured.mode_seen})
    plain: dict[str, Any] = {"ls": "", "color": INK, "ms": 7}
    handles = [Line2D([], [], marker=mode_named(mode).marker, label=f"seen: {mode}", **plain) for mode in seen]
    if any(pair.measured and not pair.measured.mode_seen for pair in pairs):
        handles.append(Line2D([], [], marker=PLAIN, mfc="none", label="other, or not noted", **plain))
    if any(pair.measured and pair.measured.is_bound for pair in pairs):
        handles.append(Line2D([], [], marker="$↑$", label="at least that", **plain))
    return handles


def _handles(pairs: Sequence[Pair], colours: dict[float, str]) -> list[Line2D]:
    angles = [
        Line2D(
            [], [], ls="", marker="s", color=colour, ms=7, label=f"{angle:+.0f}°".replace("-", "−") if angle else "0°"
        )
        for angle, colour in colours.items()
    ]
    return [*angles, *_mode_handles(pairs)]
