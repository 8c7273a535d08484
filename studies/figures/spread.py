"""What a study of draws says (`sweep.spread`): loads with their spread, what gives way, which input drives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ...fem.tube.modes import in_order, mode_named
from ..case.words import AXIS_WORDS, case_words, short_name, short_words
from ..command.numbers import percent
from ..outcome.cautions import PULL_CAUTION
from ..sweep.spread import Place, Spread, name_of
from ..sweep.statistics import CONFIDENCE, Drive
from .style import BASE, CURVE, ENDS, INK, READING, README, heading, in_our_look, save, small_print, tidy

Array = NDArray[np.float64]
BANDS = ((0, 4, 0.16, "nine of ten draws"), (1, 3, 0.34, "half of them"))  # of SHARES, how dark, words
MOST, PANELS = 8, 3  # inputs, places that are drawn


@in_our_look
def spread_figure(spread: Spread, hairline: Mapping[str, Sequence[float]], path: Path | None) -> Figure:
    """A panel for each load with its bands, and the chances of the modes under them, along the axis; or of one place.

    hairline : by load, without draws [kN].  Raises ValueError for more than one axis.
    """
    if len(spread.axes) > 1:
        raise ValueError(f"axes = {', '.join(spread.axes)}: one can be drawn")
    figure = Figure(figsize=(README, 7.6 if spread.axes else 5.8), layout="constrained")
    grid = figure.add_gridspec(2, len(spread.loads), height_ratios=(1.8, 1.0))
    x, ticks = _axis(spread)
    tops: list[Axes] = []
    for k, name in enumerate(spread.loads):
        axes = figure.add_subplot(grid[0, k], sharey=tops[0] if tops else None)
        _draw_bands(axes, spread, name, x, ticks is None)
        if name in hairline:
            axes.plot(
                x,
                hairline[name],
                "o--" if ticks is None else "D",
                color=BASE,
                ms=4,
                lw=1.2,
                label="as stated, none drawn",
            )
        axes.set_title(name_of(name), fontsize=11)
        tops.append(axes)
    tops[0].set_ylim(bottom=0)
    tops[0].set_ylabel("pull [kN]")
    low = figure.add_subplot(grid[1, :])
    _draw_modes(low, spread, x, ticks is None)
    for axes in (*tops, low):
        _set_axis(axes, x, ticks)
    if spread.axes:
        low.set_xlabel(AXIS_WORDS.get(spread.axes[0], spread.axes[0]))
    tops[-1].legend(loc="upper left", fontsize=9, frameon=False)
    heading(figure, spread.title)
    small_print(figure, f"{_words(spread)}\n{PULL_CAUTION}")
    return save(figure, path)


@in_our_look
def drives_figure(spread: Spread, path: Path | None) -> Figure:
    """Which input drives a load: rank correlation of each, at the first, middle and last place of the axis."""
    places = _some(spread.places)
    names = [name for name in ("limit", "early") if any(name in place.drives for place in places)]
    rows = max((min(len(of), MOST) for place in places for of in place.drives.values()), default=1)
    figure = Figure(figsize=(README, (0.42 * rows + 1.0) * len(places) + 1.6), layout="constrained")
    panels = figure.subplots(len(places), max(len(names), 1), squeeze=False, sharex=True)
    for line, place in zip(panels, places, strict=True):
        for axes, name in zip(line, names, strict=False):
            _draw_drives(axes, place.drives.get(name, ())[:MOST])
            axes.set_title("\n".join((*fill(_at(spread, place), 30).splitlines(), name_of(name))), fontsize=10)
    for axes in panels[-1]:
        axes.set_xlabel("rank correlation\n(right: the load rises with it)", fontsize=9)
    heading(figure, "Which input drives the load")
    told = "Percent: share of the load's variance that an input alone explains; without one it is lost in the noise."
    small_print(figure, f"{told}\n{_words(spread)}\n{PULL_CAUTION}")
    return save(figure, path)


def _axis(spread: Spread) -> tuple[Array, list[str] | None]:
    """Where the places stand, and their names where they are words or one alone."""
    values = [place.values[0] for place in spread.places] if spread.axes else []
    if len(values) > 1 and all(isinstance(value, int | float) for value in values):
        return np.array(values, dtype=float), None
    return np.arange(len(spread.places), dtype=float), [fill(str(value).replace("_", " "), 14) for value in values]


def _draw_bands(axes: Axes, spread: Spread, name: str, x: Array, runs: bool) -> None:
    told = np.array([[known.value for known in place.percentiles[name]] for place in spread.places])
    for low, high, alpha, words in BANDS:
        if runs:
            axes.fill_between(x, told[:, low], told[:, high], color=READING, alpha=alpha, lw=0, label=words)
        else:
            height = told[:, high] - told[:, low]
            axes.bar(x, height, 0.5, bottom=told[:, low], color=READING, alpha=alpha, lw=0, label=words)
    middle = told[:, 2]
    if runs:
        axes.plot(x, middle, color=CURVE, lw=1.6, label="median")
    else:
        axes.hlines(middle, x - 0.25, x + 0.25, color=CURVE, lw=1.8, label="median")
    for k, place in enumerate(spread.places):
        for known in (place.percentiles[name][0], place.percentiles[name][-1]):
            axes.vlines(x[k], known.low, known.high, color=INK, lw=0.9)
    axes.vlines([], 0, 1, color=INK, lw=0.9, label=f"{percent(CONFIDENCE, 0)} sure of the end")
    tidy(axes)


def _draw_modes(axes: Axes, spread: Spread, x: Array, runs: bool) -> None:
    names = in_order({mode for place in spread.places for mode in place.modes})
    shares = np.array(
        [[place.modes[name].value if name in place.modes else 0.0 for place in spread.places] for name in names]
    )
    colours = [mode_named(name).pale for name in names]
    if runs and names:
        axes.stackplot(x, shares, colors=colours, labels=names, lw=0.4, edgecolor="white")
    else:
        below = np.cumsum(shares, axis=0) - shares
        for share, bottom, colour, name in zip(shares, below, colours, names, strict=True):
            axes.bar(x, share, 0.5, bottom=bottom, color=colour, label=name)
    axes.set_ylim(0, 1)
    axes.set_ylabel("chance of what gives way")
    axes.yaxis.set_major_formatter(lambda value, _: percent(value, 0))
    if names:
        axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=9, frameon=False, reverse=True)
    tidy(axes)


def _set_axis(axes: Axes, x: Array, ticks: list[str] | None) -> None:
    if ticks is not None:
        axes.set_xticks(x if ticks else [], ticks, fontsize=9)
        axes.set_xlim(x[0] - 0.7, x[-1] + 0.7)
    else:
        axes.set_xlim(x.min(), x.max())


def _draw_drives(axes: Axes, found: Sequence[Drive]) -> None:
    for row, each in enumerate(reversed(found)):
        value, low, high = each.order.value, each.order.low, each.order.high
        axes.barh(row, value, 0.62, color=ENDS[int(value > 0)])
        axes.hlines(row, low, high, color=INK, lw=1.0)
        if each.is_clear:
            right = max(high, value, 0.0) + 0.02
            axes.text(right, row, percent(each.share.value, 0), va="center", fontsize=8.5, color=INK)
    axes.set_yticks(range(len(found)), [fill(short_name(each.key), 46) for each in reversed(found)], fontsize=8.5)
    axes.axvline(0, color=INK, lw=0.8)
    axes.set_xlim(-1.1, 1.1)
    axes.set_xticks((-1, -0.5, 0, 0.5, 1))
    tidy(axes)
    axes.grid(False, axis="y")
    axes.tick_params(axis="y", length=0)


def _some(places: Sequence[Place]) -> list[Place]:
    """The first, the middle and the last with drives."""
    found = [place for place in places if place.drives]
    if len(found) <= PANELS:
        return list(found) or list(places[:1])
    return [found[0], found[len(found) // 2], found[-1]]


def _at(spread: Spread, place: Place) -> str:
    words = ", ".join(short_words(name, value) for name, value in zip(spread.axes, place.values, strict=True))
    return words


def _words(spread: Spread) -> str:
    """How many draws, what was drawn, and the case."""
    draws = spread.places[0].draws
    drawn = ", ".join(short_name(key) for key in spread.drawn)
    case: Mapping[str, Any] = spread.case
    return f"{draws} draws a place: {drawn}\nAll: {case_words(case, but=(*spread.axes, *spread.drawn))}"
