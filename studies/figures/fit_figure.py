"""What a day of pulls says of inputs: each before and after, and every row's load before, after, and by the others."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ..case.keys import KEYS
from ..case.words import short_name
from ..command.numbers import short
from ..command.plain_text import shortened
from ..outcome.cautions import INVENTED
from .style import FIELD, INK, PREDICTED, QUIET, heading, in_our_look, save, small_print, tidy

if TYPE_CHECKING:
    from ..field.fit import Fit, Input
    from ..field.priors import Prior

LONGEST, MOST, WIDE = 22, 40, 96  # of a name; rows drawn; characters across


@in_our_look
def fit_figure(fit: Fit, path: Path | None) -> Figure:
    """The picture of a fit; path : None to write nothing."""
    k, rows = len(fit.inputs), fit.rows[:MOST]
    figure = Figure(figsize=(9.5, 3.4 + 0.9 + 0.3 * len(rows)), layout="constrained")
    grid = figure.add_gridspec(2, k, height_ratios=(2.6, 0.6 + 0.3 * len(rows)))
    for own, (each, prior) in enumerate(zip(fit.inputs, fit.priors, strict=True)):
        _draw_input(figure.add_subplot(grid[0, own]), fit, own, each, prior)
    axes = figure.add_subplot(grid[1, :])
    for number, told in enumerate(rows):
        for shift, of, colour, wide in ((-0.22, told.before, QUIET, 5), (0.0, told.left_out, INK, 1.2),
                                        (0.22, told.after, PREDICTED, 5)):  # fmt: skip
            axes.hlines(number + shift, of[0], of[-1], color=colour, lw=wide, alpha=0.8)
        load = told.row.load_kN
        axes.plot(load, number, ">" if told.row.is_bound else "o", color=FIELD, ms=6, mec="white", mew=0.6, zorder=4)
    axes.set_yticks(range(len(rows)), [shortened(told.row.id, LONGEST) for told in rows], fontsize=8.5)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(left=0)
    axes.set_xlabel("load [kN]")
    tidy(axes)
    handles = [
        Line2D([], [], color=QUIET, lw=5, label="before the fit"),
        Line2D([], [], color=INK, lw=1.2, label="by the other rows"),
        Line2D([], [], color=PREDICTED, lw=5, alpha=0.8, label="after the fit"),
        Line2D([], [], ls="", marker="o", color=FIELD, label="measured"),
        Line2D([], [], ls="", marker=">", color=FIELD, label="at least that"),
    ]
    axes.legend(handles=handles, fontsize=8.5, frameon=False, loc="upper left", bbox_to_anchor=(1.01, 1))
    heading(figure, _title(fit), 11.5)
    bounds = sum(told.row.is_bound for told in fit.rows)
    invented = f"\n{INVENTED}" if any(told.row.flag == "invented" for told in fit.rows) else ""
    small_print(figure, f"Bars: nine tenths. {len(fit.rows)} rows, {bounds} of them bounds.{invented}")
    return save(figure, path)


def _draw_input(axes: Axes, fit: Fit, own: int, each: Input, prior: Prior) -> None:
    """Density of a value after the fit over that before, in the unit of the key."""
    side = fit.grid.sides[own]
    half = 0.5 * (side[1] - side[0])
    edges = prior.at(np.concatenate([side - half, [side[-1] + half]]))
    width = np.maximum(np.diff(edges), 1e-12)
    shares = np.linspace(0.002, 0.998, 250)
    values = prior.at(shares)
    before = np.gradient(shares, values)
    axes.fill_between(values, before, color=QUIET, alpha=0.6, lw=0)
    axes.stairs(each.margin / each.margin.sum() / width, edges, fill=True, color=PREDICTED, alpha=0.55)
    axes.vlines(each.after[len(each.after) // 2], 0, 1, color=PREDICTED, lw=1.5, transform=axes.get_xaxis_transform())
    unit = KEYS[each.key].unit if each.key in KEYS else ""
    wide = WIDE // len(fit.inputs)
    axes.set_xlabel(fill(f"{short_name(each.key)}{f' [{unit}]' if unit else ''}", wide), fontsize=9)
    axes.set_yticks([])
    axes.set_xlim(values[0], values[-1])
    tidy(axes)
    axes.spines["left"].set_visible(False)


def _title(fit: Fit) -> str:
    parts = []
    for each in fit.inputs:
        low, middle, high = (short(each.after[at], 2) for at in (0, len(each.after) // 2, -1))
        unit = f" {KEYS[each.key].unit}" if each.key in KEYS and KEYS[each.key].unit else ""
        parts.append(f"{short_name(each.key)} {middle}{unit} ({low} to {high})")
    return "; ".join(parts)
