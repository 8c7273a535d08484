"""What all pictures share: colours, markers, axes, the caution under them, the writing of a file."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any
from warnings import catch_warnings, filterwarnings

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import FuncFormatter, LogFormatter, NullFormatter

from ...fem.tube.modes import mode_named
from ..command.plain_text import shortened
from ..files.store import write_atomic
from ..outcome.cautions import SMALL_PRINT
from ..outcome.data import Outcome

INK = "#333333"
CONE = mode_named("cone").colour
ICE, STEEL, PULL, PRESSED, CURVE, YIELDED = "#eef4f8", "#8c9196", "#1a7f37", "#2166ac", "#b2182b", "#b2182b"
READING = "#1b6ca8"
DAMAGE, COLUMNS, FRONT, HINGE = "#111111", "#7a7a7a", "#b2182b", "#555555"
SHARE_COLOURS = ("#b2182b", "#4d4d4d", "#2166ac")  # of the pull: bearing in front, threads, bearing behind
TENSION, COMPRESSION = "#b2182b", "#2166ac"
STABLE, UNSTABLE, QUIET = "#1b6ca8", "#d95f02", "#b8bec4"
LINES = ("#1b6ca8", "#b2182b", "#555555", "#d95f02", "#7570b3", "#1b9e77")
QUIET_INK, FAINT, PALER = "#555555", "#666666", "#999999"
PUSHES = ("#9ecae1", "#3182bd", "#08306b")  # of a chip at three lengths of its crack
TENSILE, TOUGHNESS, COMPRESSIVE, SOLID = "#ef8a62", "#5e2a72", "#2166ac", "#777777"  # of a material
PREDICTED, FIELD, FIRST_ROUTE, SECOND_ROUTE = "#1f77b4", "#d62728", "#333333", "#d95f02"
GOOD, BAD, ALLOWED, LIMIT = "#1b6ca8", "#c0392b", "#c9d3dd", "#7d8a97"  # of checks
CURVES = ("#1b6ca8", "#d95f02", "#1a7f37", "#7b3294", "#8c564b", "#444444")
ENDS = ("#9ecae1", "#08306b")  # low and high end of an input
GOES, STAYS = "#1b6ca8", "#555555"  # ends of a band
LEANS = ("#1b6ca8", "#555555", "#d95f02")  # away from the push, upright, toward it
BAR, BASE, SHUT = "#c9d3dd", "#d95f02", "x"
BEYOND: dict[str, Any] = {"facecolor": "#f2f2f2", "hatch": "//", "edgecolor": "#d5d5d5", "lw": 0, "zorder": 0}  # a stop
READINGS = {"peak": "*", "first_drop": "v", "early": "^", "turned": "D", "largest": "s"}  # markers of `data.LOADS`
LOGARITHMIC = ("ice.load_time_s",)
BROKEN, PAPER = "#4d0a14", "#ffffff"  # of surfaces in space: a failure index of 1; behind them
LONGEST_TITLE = 300  # characters


def places(outcomes: Sequence[Outcome], key: str) -> tuple[list[Any], str]:
    """Where the values stand along the axis, and the style of the line between them: none between words."""
    values = [outcome.case[key] for outcome in outcomes]
    if all(isinstance(value, int | float) for value in values):
        return values, "-"
    return [
        fill(value.replace("_", " "), 10) if isinstance(value, str) else f"{value:g}".replace("-", "−")
        for value in values
    ], ""


def set_axis(axes: Axes, key: str, numbers: bool) -> None:
    """The scale along the axis: logarithmic for times, its ticks written out."""
    if key in LOGARITHMIC and numbers:
        axes.set_xscale("log")
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axes.xaxis.set_minor_formatter(NullFormatter())


def tidy(axes: Axes) -> None:
    """A faint grid behind the data, and no frame."""
    axes.grid(alpha=0.25)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)


def wrapped(text: str, figure: Figure, size: float, mark: str = ", ") -> str:
    """The text in lines that fit the figure at that font size, broken after marks if no part is too long for it."""
    width = int(125 * figure.get_figwidth() / size)
    parts = text.split(mark)
    bound = len(parts) > 1 and max(map(len, parts)) < width
    return fill(mark.join(part.replace(" ", "\xa0") for part in parts) if bound else text, width).replace("\xa0", " ")


def small_print(figure: Figure, words: str = "") -> None:
    """Below the figure: what was solved (if no title says it), and the caution."""
    text = "\n".join(wrapped(each, figure, 8) for each in ("", *words.splitlines(), SMALL_PRINT))
    figure.supxlabel(text, fontsize=8, color=QUIET_INK)


def heading(figure: Figure, title: str, size: float = 13) -> None:
    """The figure's title, in lines that fit; one that would fill the picture is cut."""
    mark = "; " if "; " in title else ", "
    figure.suptitle(wrapped(shortened(title, LONGEST_TITLE), figure, size, mark), fontsize=size)


def save(figure: Figure, path: Path | None, dpi: int = 130) -> Figure:
    """Write a figure as PNG, atomically; its texts are drawn as written, a dollar sign begins no formula.

    path : None to write nothing.  Returns the figure.
    """
    for text in set(figure.findobj(Text)) - _powers_of_ten(figure):
        text.set_parse_math(False)
    if path is None:
        return figure
    buffer = io.BytesIO()
    with catch_warnings():
        filterwarnings("ignore", message="Glyph", category=UserWarning)  # of a script that the font has not: a box
        figure.savefig(buffer, format="png", dpi=dpi)
    write_atomic(path, buffer.getvalue())
    return figure


def _powers_of_ten(figure: Figure) -> set[Any]:
    """Labels of ticks that the axis itself writes, as mathematics."""
    axes = [axis for each in figure.axes for axis in (each.xaxis, each.yaxis)]
    own = [axis for axis in axes if isinstance(axis.get_major_formatter(), LogFormatter)]
    return {text for axis in own for text in axis.findobj(Text)} - {axis.label for axis in own}
