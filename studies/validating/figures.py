"""The validation pack in pictures: errors beside what is allowed, rates beside what is demanded, profiles."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from pathlib import Path
from textwrap import fill

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ...validation.check import Curve, Quantity
from ...validation.pack import Result
from ..figures.style import ALLOWED, BAD, CURVES, GOOD, INK, LIMIT, README, in_our_look, save, small_print, tidy

SMALLEST = 1e-16  # errors below, and exact zeros, are drawn here
ACROSS = 4


@in_our_look
def errors_figure(results: Sequence[Result], path: Path) -> bool:
    """A row a check: the error of each quantity at its finest mesh, over what is allowed. False if nothing ran."""
    ran = [result for result in results if result.quantities]
    if not ran:
        return False
    figure = Figure(figsize=(README, 1.7 + 0.27 * len(ran)), layout="constrained")
    axes = figure.subplots()
    tidy(axes)
    for row, result in enumerate(ran):
        for up, quantity in zip(_spread(len(result.quantities)), result.quantities, strict=True):
            error = max(abs(quantity.errors[-1]), SMALLEST)
            limits = _limits(quantity)
            axes.plot([error, *limits], [row + up] * (1 + len(limits)), color=ALLOWED, lw=1.2, zorder=1)
            axes.plot(limits, [row + up] * len(limits), "|", ms=6, mew=1.4, color=LIMIT, zorder=2)
            axes.plot([error], [row + up], "o", ms=3.6, color=GOOD if quantity.passed else BAD, zorder=3)
    axes.set_xscale("log")
    axes.set_xlim(SMALLEST, 1)
    axes.set_ylim(len(ran) - 0.4, -0.6)
    _name_groups(axes, ran)
    axes.set_yticks(range(len(ran)), [result.check.name for result in ran], fontsize=8.5)
    axes.set_xlabel(
        "size of the error (of the finest mesh, if any) over the reference, or over what the quantity names; shares: "
        "over the whole\nexact zeros stand at the left edge"
    )
    handles = [
        Line2D([], [], ls="", marker="o", ms=4, color=GOOD, label="a quantity within what is allowed"),
        Line2D([], [], ls="", marker="o", ms=4, color=BAD, label="outside it, or too slow a rate"),
        Line2D([], [], ls="", marker="|", ms=7, mew=1.4, color=LIMIT, label="allowed (two: between them)"),
    ]
    figure.legend(handles=handles, loc="outside upper left", ncols=3, fontsize=9)
    small_print(figure)
    save(figure, path)
    return True


def _limits(quantity: Quantity) -> list[float]:
    """Sizes of the errors that are allowed at most, and at least, if zero is not allowed."""
    ends = [-quantity.tolerance if quantity.least_error is None else quantity.least_error, quantity.tolerance]
    sizes = sorted({max(abs(end), SMALLEST) for end in ends})
    return sizes if ends[0] * ends[1] > 0 else sizes[-1:]


def _name_groups(axes: Axes, ran: Sequence[Result]) -> None:
    """A line between groups, and each group's name at the right."""
    for row, result in enumerate(ran):
        if row == 0 or result.check.group != ran[row - 1].check.group:
            axes.axhline(row - 0.5, color=INK, lw=0.6)
            axes.text(0.8, row - 0.4, result.check.group, ha="right", va="top", fontsize=8.5, color=INK, style="italic")


@in_our_look
def convergence_figure(results: Sequence[Result], path: Path) -> bool:
    """A row a check: how fast each error falls with the element size, beside the least demanded. False if none is."""
    ran = [(result, _with_rate(result)) for result in results]
    ran = [(result, quantities) for result, quantities in ran if quantities]
    if not ran:
        return False
    figure = Figure(figsize=(README, 1.7 + 0.27 * len(ran)), layout="constrained")
    axes = figure.subplots()
    tidy(axes)
    for row, (_, quantities) in enumerate(ran):
        for up, quantity in zip(_spread(len(quantities)), quantities, strict=True):
            rate, least = _rates(quantity)
            axes.plot([least, rate], [row + up] * 2, color=ALLOWED, lw=1.2, zorder=1)
            axes.plot(least, row + up, "|", ms=6, mew=1.4, color=LIMIT, zorder=2)
            axes.plot(rate, row + up, "o", ms=3.6, color=GOOD if rate >= least else BAD, zorder=3)
    axes.set_yticks(range(len(ran)), [result.check.name for result, _ in ran], fontsize=8.5)
    axes.set(ylim=(len(ran) - 0.4, -0.6), xlabel="observed rate: power of the element size with which the error falls")
    axes.set_xlim(left=0)
    handles = [
        Line2D([], [], ls="", marker="o", ms=4, color=GOOD, label="observed"),
        Line2D([], [], ls="", marker="|", ms=7, mew=1.4, color=LIMIT, label="least demanded"),
    ]
    figure.legend(handles=handles, loc="outside upper left", ncols=2, fontsize=9)
    small_print(figure)
    save(figure, path)
    return True


def _rates(quantity: Quantity) -> tuple[float, float]:
    """The observed rate and the least demanded, of a quantity that has both."""
    if quantity.rate is None or quantity.least_rate is None:
        raise ValueError(f"{quantity.name}: no rate")
    return quantity.rate, quantity.least_rate


def _spread(count: int) -> Sequence[float]:
    """Places of so many points across a row."""
    return [float(each) for each in np.linspace(-0.3, 0.3, count)] if count > 1 else [0.0]


@in_our_look
def profiles_figure(results: Sequence[Result], path: Path) -> bool:
    """A panel a curve: the reference as a line, ours as points. False if no check has one."""
    curves = [(result.check.name, curve) for result in results if result.measured for curve in result.measured.curves]
    if not curves:
        return False
    figure, panels = _panels(len(curves), 3.5, 3.0)
    for axes, (name, curve) in zip(panels, curves, strict=True):
        _draw_curve(axes, name, curve)
    handles = [
        Line2D([], [], color=INK, lw=1.4, label="reference"),
        Line2D([], [], ls="", marker="o", ms=3.5, mfc="none", color=CURVES[1], label="icecone"),
    ]
    figure.legend(handles=handles, loc="outside upper left", ncols=2, fontsize=9)
    small_print(figure)
    save(figure, path)
    return True


def _draw_curve(axes: Axes, name: str, curve: Curve) -> None:
    axes.plot(*curve.reference, color=INK, lw=1.4)
    axes.plot(*curve.ours, "o", ms=3.5, mfc="none", color=CURVES[1])
    axes.set_title(fill(f"{name}: {curve.title}", 42), fontsize=9)
    axes.set_xlabel(fill(curve.x, 44), fontsize=8.5)
    axes.set_ylabel(fill(curve.y, 36), fontsize=8.5)
    axes.tick_params(labelsize=8)


def _with_rate(result: Result) -> list[Quantity]:
    return [q for q in result.quantities if q.least_rate is not None and q.rate is not None]


def _panels(count: int, width: float, height: float) -> tuple[Figure, list[Axes]]:
    across = min(count, ACROSS)
    down = ceil(count / across)
    figure = Figure(figsize=(width * across + 0.4, height * down + 0.5), layout="constrained")
    grid = figure.subplots(down, across, squeeze=False).ravel()
    for axes in grid[count:]:
        axes.set_axis_off()
    for axes in grid[:count]:
        tidy(axes)
    return figure, list(grid[:count])
