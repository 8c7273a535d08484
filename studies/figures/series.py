"""The picture of a study of several series: what the study asks for (`outcome.models`), each series in a panel.

Markers tell what gives way. The base case, which all series vary, is ringed and its load drawn through all panels; the
scale of loads is the same in all and begins at zero. If no cone that was tried opens, a cross stands at zero.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil, isfinite, nan
from pathlib import Path
from textwrap import fill
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ...fem.tube.modes import mode_named
from ..case.words import AXIS_WORDS, case_words
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome
from ..outcome.models import MODELS, Quantity, asked
from .style import BAR, BASE, INK, SHUT, heading, in_our_look, places, save, set_axis, small_print, tidy

MOST_ACROSS = 3  # panels in a row


def series_figure(
    series: Sequence[tuple[str, Sequence[Outcome]]], base: Mapping[str, Any], title: str, path: Path
) -> None:
    """What is asked for against each varied key, a panel a series; `base` are the settings that all series vary."""
    quantity = asked([outcome for _, outcomes in series for outcome in outcomes]).quantity
    save(series_panels(series, base, title, quantity), path)


@in_our_look
def series_panels(
    series: Sequence[tuple[str, Sequence[Outcome]]],
    base: Mapping[str, Any],
    title: str,
    quantity: Quantity = MODELS["onset"].quantity,
) -> Figure:
    """The figure of `series_figure`, not yet written."""
    across = min(len(series), MOST_ACROSS)
    down = ceil(len(series) / across)
    figure = Figure(figsize=(4.4 * across + 0.6, 3.9 * down + 1.6), layout="constrained")
    grid = figure.add_gridspec(down + 1, across, height_ratios=[1.0] * down + [0.02])
    panels = [figure.add_subplot(grid[at // across, at % across]) for at in range(len(series))]
    everything = [outcome for _, outcomes in series for outcome in outcomes]
    top = 1.15 * max(quantity.loads(everything), default=1.0)
    at_base = next((outcome for outcome in everything if outcome.case == base), None)
    for at, (axes, (key, outcomes)) in enumerate(zip(panels, series, strict=True)):
        tidy(axes)
        _draw_panel(axes, key, outcomes, at_base, quantity)
        axes.set_ylim(0, top)
        axes.set_ylabel(f"{quantity.name} [kN]" if at % across == 0 else "")
    below = figure.add_subplot(grid[down, :])
    below.set_axis_off()
    handles = _legend(everything, at_base, quantity)
    ncols = min(len(handles), 2 * across)
    below.legend(handles=handles, loc="center", ncols=ncols, fontsize=9, frameon=False)
    heading(figure, title, 12)
    caution = own_caution(everything)
    small_print(figure, f"Base case: {case_words(base, at_base)}\n{caution}".strip())
    return figure


def _draw_panel(axes: Axes, key: str, outcomes: Sequence[Outcome], at_base: Outcome | None, quantity: Quantity) -> None:
    """Numbers on a line, words as bars with their load written over them."""
    x, line = places(outcomes, key)
    loads = [quantity.load(outcome) for outcome in outcomes]
    heights = [nan if load is None else load for load in loads]
    if line:
        axes.plot(x, heights, line, color=INK, lw=1)
    else:
        _draw_bars(axes, x, heights)
    for at, outcome, load in zip(x, outcomes, loads, strict=True):
        marker = SHUT if load is None else mode_named(quantity.mode(outcome)).marker
        axes.plot([at], [load or 0.0], marker, color=INK, ms=5.5, zorder=3, clip_on=load is not None)
        if at_base is not None and outcome.case == at_base.case:
            axes.plot([at], [load or 0.0], "o", ms=13, mfc="none", mec=BASE, mew=1.8, zorder=4)
    base_load = None if at_base is None else quantity.load(at_base)
    if base_load is not None:
        axes.axhline(base_load, color=BASE, ls="--", lw=0.9, zorder=1)
    set_axis(axes, key, bool(line))
    axes.set_xlabel(fill(AXIS_WORDS.get(key, key), 48), fontsize=10)
    found = quantity.loads(outcomes)
    ratio = f"{max(found) / min(found):.2f}" if found else "none"
    axes.set_title(f"largest / least {quantity.name}: {ratio}", fontsize=10)


def _draw_bars(axes: Axes, x: Sequence[str], heights: Sequence[float]) -> None:
    axes.bar(x, heights, width=0.62, color=BAR)
    axes.set_xlim(-0.5, len(x) - 0.5)
    axes.grid(False, axis="x")
    axes.tick_params(axis="x", length=0, labelsize=8.5 if len(x) < 7 else 7)
    clear = {"fc": "white", "ec": "none", "pad": 0.8}  # over the line of the base case
    style: dict[str, Any] = {"ha": "center", "fontsize": 8.5, "color": INK, "zorder": 5, "bbox": clear}
    for at, height in zip(x, heights, strict=True):
        if isfinite(height):
            axes.annotate(f"{height:.2f}", (at, height), (0, 10), textcoords="offset points", **style)


def _legend(outcomes: Sequence[Outcome], at_base: Outcome | None, quantity: Quantity) -> list[Line2D]:
    modes = {quantity.mode(outcome) for outcome in outcomes if quantity.load(outcome) is not None}
    found = [(mode_named(mode).marker, quantity.legend.format(mode)) for mode in sorted(modes)]
    if any(quantity.load(outcome) is None for outcome in outcomes):
        found.append((SHUT, "no cone tried opens"))
    handles = [Line2D([], [], ls="", marker=marker, color=INK, label=label) for marker, label in found]
    if at_base is not None:
        load = quantity.load(at_base)
        words = "base case" if load is None else f"base case: {load:.2f} kN"
        handles.append(Line2D([], [], ls="--", lw=0.9, color=BASE, marker="o", ms=11, mfc="none", label=words))
    return handles
