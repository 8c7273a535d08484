"""Why the angle matters, part by part (`sweep.parts`): the loads' ratios to the upright tube's as bars."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..case.words import case_words
from ..outcome.cautions import PULL_CAUTION
from ..outcome.data import LOADS
from ..sweep.parts import AS_IT_IS, LOADS_SHOWN, AngleParts
from .style import INK, LEANS, README, heading, in_our_look, key_below, rows_of, save, small_print, tidy


@in_our_look
def parts_figure(parts: AngleParts, path: Path | None) -> Figure:
    """A panel for each load; a bar for each part switched off and each angle but the middle one."""
    high = 0.62 * len(parts.loads)
    figure = Figure(figsize=(README, high + 2.6), layout="constrained")
    grid = figure.add_gridspec(2, 1, height_ratios=(high + 0.8, rows_of(1)))
    panels = grid[0].subgridspec(1, len(LOADS_SHOWN)).subplots(squeeze=False, sharey=True, sharex=True).ravel()
    for axes, name in zip(panels, LOADS_SHOWN, strict=True):
        _draw_panel(axes, parts, name)
    panels[0].set_yticks(range(len(parts.loads)), [_row(switch) for switch in parts.loads])
    panels[0].invert_yaxis()
    panels[0].set_xlim(left=0)
    handles = panels[0].get_legend_handles_labels()[0]
    key_below(figure, grid[1], handles, len(handles))
    heading(figure, "Why the angle matters: one part switched off at a time")
    words = case_words(
        {**parts.case, "placement.angle_deg": _middle(parts)}, but=("placement.angle_deg", "numerics.level")
    )
    small_print(
        figure, f"Bars: load over that of the upright tube; beside them the loads in kN.\n{words}\n{PULL_CAUTION}"
    )
    return save(figure, path)


def _row(switch: str) -> str:
    return "nothing switched off" if switch == AS_IT_IS else switch


def _middle(parts: AngleParts) -> float:
    return parts.angles[len(parts.angles) // 2]


def _draw_panel(axes: Axes, parts: AngleParts, name: str) -> None:
    middle = _middle(parts)
    others = [angle for angle in parts.angles if angle != middle]
    height = 0.78 / len(others)
    for k, angle in enumerate(others):
        colour = LEANS[0 if angle < middle else 2]
        ratios = [parts.ratio(switch, angle, name) for switch in parts.loads]
        at = [row + (k - 0.5 * (len(others) - 1)) * height for row in range(len(ratios))]
        axes.barh(at, ratios, 0.92 * height, color=colour, label=f"{angle:+g}° over upright".replace("-", "−"))
        axes.axvline(ratios[0], color=colour, lw=0.9, ls=":", zorder=0)
        for place, ratio, found in zip(at, ratios, parts.loads.values(), strict=True):
            words = f"{ratio:.2f}   ({found[angle][name]:.1f} / {found[middle][name]:.1f})"
            style: dict[str, Any] = {
                "va": "center",
                "fontsize": 8,
                "color": INK,
                "bbox": {"fc": "white", "ec": "none", "pad": 0.6},
            }
            axes.text((ratio if ratio == ratio else 0.0) + 0.02, place, words, **style)
    axes.axvline(1.0, color=INK, lw=0.9)
    axes.set_title(LOADS[name], fontsize=11)
    axes.set_xlabel("load over that of the upright tube")
    axes.margins(x=0.24)
    tidy(axes)
    axes.grid(False, axis="y")
    axes.tick_params(axis="y", length=0)
