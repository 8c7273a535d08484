"""What drives a load (`sweep.tornado`): a bar for each input over its range, the widest on top."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..case.words import case_words, short_words
from ..outcome.cautions import PULL_CAUTION
from ..outcome.data import LOADS
from ..sweep.tornado import LOADS_SHOWN, Driver, Tornado
from .style import BASE, ENDS, INK, README, heading, in_our_look, key_below, rows_of, save, small_print, tidy

NARROWEST = 1e-3  # of the load: less is no bar


@in_our_look
def tornado_figure(tornado: Tornado, path: Path | None) -> Figure:
    """A panel for each angle, down, and each load, across."""
    rows = len(tornado.drivers)
    high = (0.42 * rows + 1.0) * len(tornado.base)
    figure = Figure(figsize=(README + 1.0, high + 1.7), layout="constrained")
    parts = figure.add_gridspec(2, 1, height_ratios=(high, rows_of(1)))
    grid = parts[0].subgridspec(len(tornado.base), len(LOADS_SHOWN)).subplots(squeeze=False)
    for panels, angle in zip(grid, tornado.base, strict=True):
        for axes, name in zip(panels, LOADS_SHOWN, strict=True):
            _draw_panel(axes, tornado, angle, name)
    key_below(figure, parts[1], grid[0, 0].get_legend_handles_labels()[0], 3)
    heading(figure, "Which input drives the load: each over its range, one at a time")
    case = case_words(tornado.case, but=("placement.angle_deg", "numerics.level"))
    small_print(figure, f"Ranges: of the tables of materials and assumptions.\n{case}\n{PULL_CAUTION}")
    return save(figure, path)


def _draw_panel(axes: Axes, tornado: Tornado, angle: float, name: str) -> None:
    base, found = tornado.base[angle][name], tornado.ordered(angle, name)
    for row, (driver, *loads) in enumerate(found):
        for end in sorted((0, 1), key=lambda end: -abs(loads[end] - base)):  # the longer one behind
            axes.barh(row, loads[end] - base, 0.66, left=base, color=ENDS[end])
        _name_ends(axes, row, driver, loads, base)
    for colour, words in zip(ENDS, ("low end of the input", "high end"), strict=True):
        axes.barh(0, 0, left=base, color=colour, label=words)
    axes.axvline(base, color=BASE, lw=1.1, label="as it is")
    axes.set_yticks(range(len(found)), [fill(driver.name, 42) for driver, *_ in found], fontsize=8.5)
    title = f"{short_words('placement.angle_deg', angle)}: {LOADS[name]} {base:.1f} kN"
    axes.set_title(title, fontsize=10.5)
    axes.set_xlabel("pull [kN]")
    axes.margins(x=0.12)
    tidy(axes)
    axes.grid(False, axis="y")
    axes.tick_params(axis="y", length=0)


def _name_ends(axes: Axes, row: int, driver: Driver, loads: Sequence[float], base: float) -> None:
    """Each end of an input at the tip of its bar; where both lie on one side the nearer one across, with its load."""
    moves = [load - base for load in loads]
    if max(map(abs, moves)) < NARROWEST * base:
        return
    far = max((0, 1), key=lambda end: abs(moves[end]))
    side = 1 if moves[far] > 0 else -1
    near = 1 - far
    across = moves[near] * side < -NARROWEST * base
    words = driver.ends[near]
    if not across and abs(moves[near]) > NARROWEST * base:
        words += f": {loads[near]:.1f} kN"
    for load, text, way in ((loads[far], driver.ends[far], side), (loads[near] if across else base, words, -side)):
        gap: dict[str, Any] = {
            "xytext": (3 * way, 0),
            "textcoords": "offset points",
            "ha": "left" if way > 0 else "right",
        }
        axes.annotate(text, (load, row), va="center", fontsize=7.5, color=INK, **gap)
