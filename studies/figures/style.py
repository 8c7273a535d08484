"""What all pictures share: colours, markers, axes, the caution under them, the writing of a file."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from functools import wraps
from pathlib import Path
from textwrap import fill
from typing import Any, ParamSpec, TypeVar
from warnings import catch_warnings, filterwarnings

import numpy as np
from matplotlib import colormaps, rc_context, rc_params_from_file
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec
from matplotlib.text import Text
from matplotlib.ticker import FuncFormatter, LogFormatter, NullFormatter

from ...fem.tube.modes import mode_named
from ..command.plain_text import shortened
from ..files.store import write_atomic
from ..outcome.cautions import SMALL_PRINT
from ..outcome.data import Outcome
from .kinds import SVG_TOO

# One colour for one thing in every picture. What one picture shows together is apart in luminance, for grey print, and
# in CIELAB for eyes without red or green cones (tests/studies/figures/test_style.py).
INK, QUIET_INK, FAINT, PALER = "#333333", "#555555", "#666666", "#999999"
ICE, STEEL, PULL, YIELDED, DAMAGE = "#e6f0f7", "#8c9196", "#12703a", "#6d1a36", "#111111"
TENSION, COMPRESSION = "#b2182b", "#5a9bd5"
OVER = {"tension": "#3d0710", "shear": "#24094f"}  # of ice beyond failure
PRESSED, CONE = COMPRESSION, mode_named("cone").colour
PREDICTED, FIELD = "#1b5fa0", "#ee8a1d"  # what is computed; what was measured
CURVE, READING, HINGE, FRONT, COLUMNS = PREDICTED, INK, "#8a8a8a", INK, "#7a7a7a"
SHARE_COLOURS = ("#980f19", "#e0a458", "#5a9bd5")  # of the pull: bearing in front, threads, bearing behind
STABLE, UNSTABLE, QUIET = PREDICTED, "#ee8a1d", "#b8bec4"
LINES = ("#440154", "#424086", "#2e6f8e", "#1f958b", "#3bbb75", "#86d549")  # values in order, dark to light
CURVES, PUSHES = LINES, ("#86b8dd", "#3a7ab8", "#08306b")  # of a chip at three lengths of its crack
TENSILE, TOUGHNESS, COMPRESSIVE, SOLID = "#ef8a62", "#5e2a72", "#3a7ab8", "#b4b4b4"  # of a material
FIRST_ROUTE, SECOND_ROUTE = "#222222", "#ee8a1d"
GOOD, BAD, ALLOWED, LIMIT = "#1b5fa0", "#7a0f22", "#c9d3dd", "#7d8a97"  # of checks
ENDS = ("#9ecae1", "#08306b")  # low and high end of an input
GOES, STAYS = "#5a9bd5", "#333333"  # ends of a band
LEANS = ("#1b5fa0", "#7d7d7d", "#f2a444")  # away from the push, upright, toward it
BAR, BASE, SHUT = "#c9d3dd", "#d95f02", "x"
BEYOND: dict[str, Any] = {"facecolor": "#f2f2f2", "hatch": "//", "edgecolor": "#d5d5d5", "lw": 0, "zorder": 0}  # a stop
READINGS = {"peak": "*", "first_drop": "v", "early": "^", "turned": "D", "largest": "s"}  # markers of `data.LOADS`
LOGARITHMIC = ("ice.load_time_s",)
BROKEN, PAPER = "#4d0a14", "#ffffff"  # of surfaces in space: a failure index of 1; behind them
LONGEST_TITLE = 300  # characters
README, DPI = 10.0, 130  # width of a picture [in]: at 900 px its text of 9 points is 11 px high
LOOK = rc_params_from_file(Path(__file__).with_name("icecone.mplstyle"), use_default_template=False)
Given = ParamSpec("Given")
Drawn = TypeVar("Drawn")


def in_our_look(draw: Callable[Given, Drawn]) -> Callable[Given, Drawn]:
    """A function that draws, with the style file in force while it does; the user's own settings stay as they are."""

    @wraps(draw)
    def styled(*given: Given.args, **named: Given.kwargs) -> Drawn:
        with rc_context(LOOK):
            return draw(*given, **named)

    return styled


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
    axes.grid(True)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)


def wrapped(text: str, figure: Figure, size: float, mark: str = ", ") -> str:
    """The text in lines that fit the figure at that font size, broken after marks if no part is too long for it."""
    width = int(125 * figure.get_figwidth() / size)
    parts = text.split(mark)
    bound = len(parts) > 1 and max(map(len, parts)) < width
    return fill(mark.join(part.replace(" ", "\xa0") for part in parts) if bound else text, width).replace("\xa0", " ")


def small_print(figure: Figure, words: str = "") -> float:
    """Below the figure: what was solved (if no title says it), and the caution; returns its height [in]."""
    text = "\n".join(wrapped(each, figure, 8) for each in ("", *words.splitlines(), SMALL_PRINT))
    figure.supxlabel(text, fontsize=8, color=QUIET_INK)
    return 0.135 * len(text.split("\n"))


def key_below(figure: Figure, place: SubplotSpec, handles: Sequence[Any], columns: int = 2) -> Axes:
    """The key of a picture in a row of its own, across the whole width; returns its axes, which hold nothing else."""
    axes = figure.add_subplot(place)
    axes.set_axis_off()
    axes.legend(handles=handles, loc="upper left", ncols=columns, handlelength=1.6, columnspacing=2.5, borderaxespad=0)
    return axes


def rows_of(count: int, columns: int = 2) -> float:
    """Height [in] of a key with so many entries."""
    return 0.17 * -(-count // columns) + 0.08


def marked(marker: str, colour: str, size: float = 9.0) -> dict[str, Any]:
    """The style of a marker, edged white where it is filled; no line."""
    edge = {} if marker in "x+_|" else {"mec": "white", "mew": 0.7}
    return {"marker": marker, "color": colour, "ms": size, "ls": "", "clip_on": False, **edge}


def shades(count: int) -> list[str]:
    """So many colours in order, dark to light, for series that have no colour of their own."""
    last = min(0.84, 0.45 + 0.1 * count)  # the lightest only where so many must be told apart
    return [to_hex(colormaps["viridis"](share)) for share in np.linspace(0.0, last, max(count, 1))]


def millimetres(length: float) -> str:
    """A length in words: one digit after the point, below 1 mm two digits that count."""
    return f"{length:.1f} mm" if length >= 1 else f"{length:.2g} mm"


def heading(figure: Figure, title: str, size: float = 13) -> None:
    """The figure's title, in lines that fit; one that would fill the picture is cut."""
    mark = "; " if "; " in title else ", "
    figure.suptitle(wrapped(shortened(title, LONGEST_TITLE), figure, size, mark), fontsize=size)


def save(figure: Figure, path: Path | None, dpi: int = DPI) -> Figure:
    """Write a figure atomically, as SVG if the path ends so, else as PNG; a dollar sign in a text begins no formula.

    path : None to write nothing.  Returns the figure.
    """
    for text in set(figure.findobj(Text)) - _powers_of_ten(figure):
        text.set_parse_math(False)
    if path is None:
        return figure
    _write(figure, path, dpi)
    if SVG_TOO.get() and path.suffix == ".png":
        _write(figure, path.with_suffix(".svg"), dpi)
    return figure


def _write(figure: Figure, path: Path, dpi: int) -> None:
    buffer = io.BytesIO()
    with catch_warnings(), rc_context(LOOK):
        filterwarnings("ignore", message="Glyph", category=UserWarning)  # of a script that the font has not: a box
        if path.suffix == ".svg":
            figure.savefig(buffer, format="svg", metadata={"Date": None})
        else:
            _draw_once(figure, buffer, dpi)
    write_atomic(path, buffer.getvalue())


def _draw_once(figure: Figure, buffer: io.BytesIO, dpi: int) -> None:
    """As PNG. `savefig` would draw it twice, the first time for its layout alone."""
    canvas, before = FigureCanvasAgg(figure), figure.dpi
    figure.dpi = dpi
    try:
        canvas.print_png(buffer)
    finally:
        figure.dpi = before


def _powers_of_ten(figure: Figure) -> set[Any]:
    """Labels of ticks that the axis itself writes, as mathematics."""
    axes = [axis for each in figure.axes for axis in (each.xaxis, each.yaxis)]
    own = [axis for axis in axes if isinstance(axis.get_major_formatter(), LogFormatter)]
    return {text for axis in own for text in axis.findobj(Text)} - {axis.label for axis in own}
