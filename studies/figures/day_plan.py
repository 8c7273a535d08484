"""The plan of a day: what each placement is expected to hold, beside what rig and cell can take.

Thick: nine of ten draws of the limit; marker: their median; its colour and shape: what gives way first as a rule. Thin:
up to the load that must be reckoned with. Hollow triangle: early load. Vertical lines: where the cell ends, what the
people can haul, what the weakest link bears.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ...fem.tube.modes import in_order, mode_named
from ..command.plain_text import shortened
from ..field.rig import haul_force_kN
from ..field.rig_verdict import link_demands
from ..outcome.cautions import PULL_CAUTION
from ..words.day_plan import answer, brief
from .style import BAD, INK, LIMIT, READINGS, heading, in_our_look, save, small_print, tidy

if TYPE_CHECKING:
    from ..field.plan import Plan, Planned

LONGEST = 18  # of an id
UNFILLED = "x+"
MOST = 40  # placements drawn


@in_our_look
def plan_figure(plan: Plan, path: Path | None) -> Figure:
    """The picture of a plan; path : None to write nothing. Raises ValueError if nothing is predicted."""
    placements = plan.placements[:MOST]
    if not placements:
        raise ValueError("plan: no pull is predicted")
    figure = Figure(figsize=(9.5, 3.1 + 0.44 * len(placements)), layout="constrained")
    axes = figure.add_subplot()
    for height, pull in enumerate(placements):
        _draw(axes, pull, height)
    count = {pull.placement: 0 for pull in placements}
    for pull in plan.predicted:
        if pull.placement in count:
            count[pull.placement] += 1
    names = [f"{shortened(pull.id, LONGEST)}   {brief(pull)}   x{count[pull.placement]}" for pull in placements]
    axes.set_yticks(range(len(placements)), names, fontsize=9.5)
    axes.set_ylim(len(placements) - 0.4, -1.6)
    most = max(pull.largest_kN or 0.0 for pull in placements)
    _lines(axes, plan, most)
    axes.set_xlim(0, axes.get_xlim()[1])
    axes.set_xlabel("pull [kN]")
    tidy(axes)
    axes.grid(False, axis="y")
    axes.legend(handles=_handles(placements), loc="upper left", bbox_to_anchor=(1.01, 1), fontsize=9, frameon=False)
    heading(figure, answer(plan), 11.5)
    words = (
        f"{plan.draws} draws of ice, assumptions, angle and depth. x2: pulled twice. Angle: positive toward the pull."
    )
    small_print(figure, f"{words}\n{PULL_CAUTION}")
    return save(figure, path)


def _draw(axes: Axes, pull: Planned, y: float) -> None:
    mode = mode_named(pull.mode)
    low, middle, high, largest = (each or 0.0 for each in (pull.low_kN, pull.middle_kN, pull.high_kN, pull.largest_kN))
    axes.hlines(y, high, largest, color=mode.colour, lw=1.4)
    axes.plot(largest, y, "|", color=mode.colour, ms=9, mew=1.4)
    axes.hlines(y, low, high, color=mode.colour, lw=8, alpha=0.45)
    edge = {"mew": 1.8} if mode.marker in UNFILLED else {"mec": "white", "mew": 0.7}
    axes.plot(middle, y, mode.marker, color=mode.colour, ms=8, **edge)
    if pull.early_kN is not None:
        axes.plot(pull.early_kN, y, READINGS["early"], mfc="none", mec=INK, ms=6)


def _lines(axes: Axes, plan: Plan, most: float) -> None:
    """What the rig can take, as loads on the tube."""
    rig = plan.rig
    weakest = max(link_demands(rig, 1.0), key=lambda link: link.share)
    hauled = rig.people * rig.person_kN / haul_force_kN(rig, 1.0)
    ends = ((rig.cell_kN, "cell ends"), (hauled, "people haul"), (1.0 / weakest.share, weakest.name))
    for k, (load, name) in enumerate(sorted(ends)):
        reached = most > load
        colour = BAD if reached else LIMIT
        axes.axvline(load, color=colour, lw=1.3, ls="--", zorder=0)
        side = "right" if load > 0.65 * max(most, *(each for each, _ in ends)) else "left"
        words, low = f" {name} {load:.3g} kN ", -1.52 + 0.33 * (k % 3)
        box = {"facecolor": "white", "edgecolor": "none", "pad": 0.5}
        axes.text(load, low, words, color=colour, fontsize=8.5, va="top", ha=side, bbox=box, zorder=3)


def _handles(placements: list[Planned]) -> list[Line2D]:
    modes = map(mode_named, in_order({pull.mode for pull in placements}))
    style: dict[str, Any] = {"ls": "", "color": INK}
    return [
        *(Line2D([], [], ls="", marker=mode.marker, color=mode.colour, ms=8, label=mode.name) for mode in modes),
        Line2D([], [], color=LIMIT, lw=8, alpha=0.45, label="limit, nine of\nten draws"),
        Line2D([], [], color=LIMIT, lw=1.4, label="to reckon with"),
        Line2D([], [], marker=READINGS["early"], mfc="none", mec=INK, label="early load", **style),
    ]
