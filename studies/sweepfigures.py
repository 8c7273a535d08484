"""The picture of a study of several series: the onset of each in a panel.

Markers tell what breaks first. The base case, which all series vary, is ringed and its onset drawn through all panels;
the scale of onset is the same in all and begins at zero.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil
from pathlib import Path
from textwrap import fill
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from .casewords import AXIS_WORDS, case_words
from .drawing import INK, MARKERS, places, save, set_axis, small_print, tidy, wrapped

Record = dict[str, Any]
BAR, BASE = "#c9d3dd", "#d95f02"
MOST_ACROSS = 3  # panels in a row


def series_figure(
    series: Sequence[tuple[str, Sequence[Record]]], base: Mapping[str, Any], title: str, path: Path
) -> None:
    """The onset against each varied key, a panel a series; `base` are the settings that all series vary."""
    save(series_panels(series, base, title), path)


def series_panels(series: Sequence[tuple[str, Sequence[Record]]], base: Mapping[str, Any], title: str) -> Figure:
    """The figure of `series_figure`, not yet written."""
    across = min(len(series), MOST_ACROSS)
    down = ceil(len(series) / across)
    figure = Figure(figsize=(4.4 * across + 0.6, 3.9 * down + 1.6), layout="constrained")
    grid = figure.add_gridspec(down + 1, across, height_ratios=[1.0] * down + [0.02])
    panels = [figure.add_subplot(grid[at // across, at % across]) for at in range(len(series))]
    everything = [record for _, records in series for record in records]
    top = 1.15 * max(record["onset_kN"] for record in everything)
    at_base = next((record for record in everything if record["case"] == base), None)
    for at, (axes, (key, records)) in enumerate(zip(panels, series, strict=True)):
        tidy(axes)
        _draw_panel(axes, key, records, at_base)
        axes.set_ylim(0, top)
        axes.set_ylabel("onset [kN]" if at % across == 0 else "")
    below = figure.add_subplot(grid[down, :])
    below.set_axis_off()
    handles = _legend({record["onset_mode"] for record in everything}, at_base)
    below.legend(handles=handles, loc="center", ncols=len(handles), fontsize=9, frameon=False)
    figure.suptitle(wrapped(title, figure, 12), fontsize=12)
    small_print(figure, f"Base case: {case_words(base, at_base)}")
    return figure


def _draw_panel(axes: Axes, key: str, records: Sequence[Record], at_base: Record | None) -> None:
    """Numbers on a line, words as bars with their onset written over them."""
    x, line = places(records, key)
    onsets = [record["onset_kN"] for record in records]
    if line:
        axes.plot(x, onsets, line, color=INK, lw=1)
    else:
        axes.bar(x, onsets, width=0.62, color=BAR)
        axes.margins(x=0.03)
        axes.grid(False, axis="x")
        axes.tick_params(axis="x", length=0, labelsize=8.5 if len(x) < 7 else 7)
        clear = {"fc": "white", "ec": "none", "pad": 0.8}  # over the line of the base case
        style: dict[str, Any] = {"ha": "center", "fontsize": 8.5, "color": INK, "zorder": 5, "bbox": clear}
        for at, onset in zip(x, onsets, strict=True):
            axes.annotate(f"{onset:.2f}", (at, onset), (0, 10), textcoords="offset points", **style)
    for at, record in zip(x, records, strict=True):
        axes.plot([at], [record["onset_kN"]], MARKERS.get(record["onset_mode"], "D"), color=INK, ms=5.5, zorder=3)
        if at_base is not None and record["case"] == at_base["case"]:
            axes.plot([at], [record["onset_kN"]], "o", ms=13, mfc="none", mec=BASE, mew=1.8, zorder=4)
    if at_base is not None:
        axes.axhline(at_base["onset_kN"], color=BASE, ls="--", lw=0.9, zorder=1)
    set_axis(axes, key, bool(line))
    axes.set_xlabel(fill(AXIS_WORDS.get(key, key), 48), fontsize=10)
    axes.set_title(f"largest / least onset: {max(onsets) / min(onsets):.2f}", fontsize=10)


def _legend(modes: set[str], at_base: Record | None) -> list[Line2D]:
    handles = [
        Line2D([], [], ls="", marker=MARKERS.get(mode, "D"), color=INK, label=f"first damage by {mode}")
        for mode in sorted(modes)
    ]
    if at_base is not None:
        words = f"base case: {at_base['onset_kN']:.2f} kN"
        handles.append(Line2D([], [], ls="--", lw=0.9, color=BASE, marker="o", ms=11, mfc="none", label=words))
    return handles
