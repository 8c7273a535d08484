"""Loads against a key with their band: what a pull reads if every chip comes out, or if none does (`fem.tube.band`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...fem.tube.modes import in_order, mode_named
from ..case.keys import KEYS
from ..case.words import AXIS_WORDS, case_words, varying
from ..outcome.cautions import own_caution
from ..outcome.data import LOADS, Outcome, known
from .style import CURVE, GOES, README, STAYS, heading, in_our_look, key_below, marked, save, small_print, tidy

SHOWN = ("early", "first_drop", "peak", "largest")


@dataclass(frozen=True, slots=True)
class Step:
    """The largest step of a load between neighbours. low, high : values of the key; share : of the lesser load [-]."""

    low: float
    high: float
    share: float


def largest_step(values: Sequence[float], loads: Sequence[float]) -> Step:
    """Of loads (n,) over rising values (n,), n at least 2; ties go to the first."""
    steps = [
        Step(low, high, abs(b - a) / max(min(a, b), 1e-12))
        for low, high, a, b in zip(values, values[1:], loads, loads[1:], strict=False)
    ]
    return max(steps, key=lambda step: step.share)


def band_of_study(outcomes: Sequence[Outcome], path: Path) -> None:
    """Draw the loads against the placement angle; nothing where there is one angle alone or no band."""
    key = "placement.angle_deg"
    if len({outcome.case[key] for outcome in outcomes}) > 1 and any(o.the_peak.band for o in outcomes):
        band_figure(outcomes, key, path)
    else:
        path.unlink(missing_ok=True)


@in_our_look
def band_figure(outcomes: Sequence[Outcome], key: str, path: Path | None) -> Figure:
    """A panel for each of SHOWN against a key with numbers; its title names the largest step between neighbours."""
    ordered = sorted(outcomes, key=lambda outcome: float(outcome.case[key]))
    figure = Figure(figsize=(README, 7.6), layout="constrained")
    grid = figure.add_gridspec(3, 2, height_ratios=(1, 1, 0.2))
    panels: Any = grid[:2, :].subgridspec(2, 2).subplots(sharex=True, sharey=True)
    for axes, name in zip(panels.ravel(), SHOWN, strict=True):
        _draw_panel(axes, ordered, key, name)
    for axes in panels[1]:
        axes.set_xlabel(AXIS_WORDS.get(key, key).replace("   (", "\n("))
    for axes in panels[:, 0]:
        axes.set_ylabel("pull [kN]")
    panels[0, 0].set_ylim(bottom=0)
    found = {
        text: line for axes in panels.ravel() for line, text in zip(*axes.get_legend_handles_labels(), strict=True)
    }
    key_below(figure, grid[2, :], list(found.values()), columns=3)
    heading(figure, "Which ice goes decides the load: the band from every chip out to none")
    words = case_words(ordered[0].case, ordered[0], but=varying(ordered))
    small_print(figure, f"All: {words}\n{own_caution(ordered)}")
    return save(figure, path)


def _draw_panel(axes: Axes, ordered: Sequence[Outcome], key: str, name: str) -> None:
    values = [float(outcome.case[key]) for outcome in ordered]
    loads = [known(outcome.load(name)) for outcome in ordered]
    ends = {
        end: np.array([outcome.the_peak.band.get(end, {}).get(name, np.nan) for outcome in ordered])
        for end in ("goes", "stays")
    }
    axes.fill_between(values, ends["goes"], ends["stays"], color=GOES, alpha=0.10, lw=0, zorder=0)
    axes.plot(values, ends["goes"], color=GOES, lw=1.0, ls="--", label="if every chip comes out")
    axes.plot(values, ends["stays"], color=STAYS, lw=1.0, ls="-.", label="if none does")
    axes.plot(values, loads, "o:", ms=1, color=CURVE, lw=1.3, zorder=2, label="predicted, at the marks")
    for mode in map(mode_named, in_order({outcome.mode(name) for outcome in ordered})):
        at = [k for k, outcome in enumerate(ordered) if outcome.mode(name) == mode.name]
        place, of = ([each[k] for k in at] for each in (values, loads))
        axes.plot(place, of, **marked(mode.marker, mode.colour, 7), zorder=3, label=mode.name)
    step = largest_step(values, loads)
    unit = KEYS[key].unit if key in KEYS else ""
    where = f"{step.low:g} to {step.high:g}".replace("-", "−") + {"deg": "°", "": ""}.get(unit, f" {unit}")
    axes.set_title(f"{LOADS[name]}; largest step: times {1 + step.share:.2g}, from {where}", fontsize=10)
    tidy(axes)
