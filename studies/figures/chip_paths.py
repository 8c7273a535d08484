"""Cracks in front of a tube's wall in pictures: their paths angle by angle, and the load that drives them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import ceil, cos, degrees, radians, sin
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from ...fem.chip.path import ChipPath, HoleWall, follow_chip
from ...fem.errors import SolveError
from ...geometry.wedge_section import hole_point
from ..outcome.data import Outcome
from .style import CONE, ICE, INK, PULL, PUSHES, README, STEEL, in_our_look, save, small_print, tidy

DEPTH = 0.04  # of the loaded part of the wall [m]; nothing drawn depends on it
COLUMNS, MOST = 4, 7  # panels in a row; angles
WIDE, DEEP, HIGH = (-1.9, 4.5), -4.4, 1.3  # loaded depths shown
THICK = 0.35  # of the tube, as drawn
LENGTHS = ((0.25, "o-"), (1.0, "s-"), (3.0, "^-"))  # of the crack over d: where the load is read


def chips_by_angle(outcomes: Sequence[Outcome], path: Path) -> None:
    """Follow a crack in front of the tube at the angle of each outcome, in the first one's ice, and draw them.

    Of more than MOST angles so many are drawn, evenly apart in their order.
    An angle at which none can be followed is named in the picture; if there is no other, nothing is drawn.
    """
    ice = (outcomes[0].ice.E_GPa * 1e9, outcomes[0].ice.nu)
    angles = sorted({float(outcome.case["placement.angle_deg"]) for outcome in outcomes})
    chosen = [
        angles[at] for at in dict.fromkeys(np.linspace(0, len(angles) - 1, min(len(angles), MOST)).round().astype(int))
    ]
    found = {angle: grown_at(angle, ice) for angle in chosen}
    grown = [growth for growth in found.values() if growth is not None]
    if grown:
        chip_figure(grown, path, [angle for angle, growth in found.items() if growth is None])
    else:
        path.unlink(missing_ok=True)


def followed(outcomes: Sequence[Outcome]) -> dict[float, ChipPath]:
    """The crack in front of the tube by the angle [deg] of each outcome, in its ice, where one can be followed."""
    found = {float(each.case["placement.angle_deg"]): (each.ice.E_GPa * 1e9, each.ice.nu) for each in outcomes}
    grown = {angle: grown_at(angle, ice) for angle, ice in found.items()}
    return {angle: growth for angle, growth in grown.items() if growth is not None}


@lru_cache(maxsize=2 * MOST)  # two pictures of a study show the same cracks, seconds each
def grown_at(angle: float, ice: tuple[float, float]) -> ChipPath | None:
    """A crack in front of a tube at an angle [deg], in an ice of E [Pa] and nu; None where none can be followed."""
    try:
        return follow_chip(HoleWall(radians(angle), DEPTH, ice))
    except (SolveError, ValueError):
        return None


@in_our_look
def chip_figure(results: Sequence[ChipPath], path: Path, without: Sequence[float] = ()) -> None:
    """The path of each growth in the plane of the pull, in loaded depths d, and P/(K_IC d^0.5) against the angle.

    Written as PNG to `path`.  without : angles [deg] at which no crack was followed.
    Raises ValueError if there is no growth.
    """
    if not results:
        raise ValueError("results: must hold at least one growth")
    ordered = sorted(results, key=lambda growth: growth.hole.angle)
    rows = ceil((len(ordered) + 1) / COLUMNS)
    figure = Figure(figsize=(README, 2.9 * rows + 1.2), layout="constrained")
    panels = figure.subplots(rows, COLUMNS, squeeze=False).ravel()
    for axes, growth in zip(panels, ordered, strict=False):
        _draw_path(axes, growth)
    for k, axes in enumerate(panels[: len(ordered)]):
        axes.set(ylabel="z / d" if k % COLUMNS == 0 else "", xlabel="x / d, along the pull")
    _draw_loads(panels[len(ordered)], ordered)
    for axes in panels[len(ordered) + 1 :]:
        axes.set_axis_off()
    figure.suptitle("Where a crack in front of the tube runs: out of the ice, or down into it", fontsize=13)
    words = (
        "Plane strain, ice alone: a push P (per metre of width), spread evenly over the uppermost d of the tube's wall;"
        f" wall {ordered[0].hole.below} below, crack faces without friction.\n"
        "The crack starts where the loaded part ends and follows the largest hoop stress; dashed: on to the surface."
        " A plane model: a real chip is a fan round a tube."
    )
    if without:
        words += f"\nNo crack could be followed at {', '.join(f'{angle:+g}°' for angle in without)}."
    small_print(figure, words)
    save(figure, path)


def _draw_path(axes: Axes, growth: ChipPath) -> None:
    """Ice, tube, push and crack, all over d."""
    hole, (x, z) = growth.hole, growth.path / growth.hole.depth
    down = hole_point(hole.angle, 20.0)
    axes.fill([0, 20, 20, down[0]], [0, 0, down[1], down[1]], color=ICE, zorder=0)
    axes.plot([0, 20], [0, 0], color=INK, lw=0.8)
    _draw_tube(axes, hole)
    axes.plot(x, z, color=CONE, lw=2.0, zorder=4)
    axes.set(xlim=WIDE, ylim=(DEEP, HIGH), aspect="equal")
    if growth.outcrop is not None:
        out = growth.outcrop / hole.depth
        axes.plot([x[-1], out], [z[-1], 0], "--", color=CONE, lw=1.2, zorder=4)
        words = f"out at {out:.1f} d"
    else:
        slope = degrees(growth.directions[-1])
        words = f"{'along the wall' if growth.ending == 'wall' else 'on into the ice'}, {-slope:.0f}° down"
    if growth.shut[0] == 1:
        words += ",\nstarts shut, sliding"
    lean = degrees(hole.angle)
    toward = "upright" if lean == 0 else f"head leans {'toward the pull' if lean > 0 else 'away'}"
    placed = f"{lean:+.0f}°: {toward}".replace("-", "−").replace("+0°", "0°")
    axes.set_title(f"{placed}\n{words}", fontsize=9.5)
    axes.spines[["top", "right"]].set_visible(False)


def _draw_tube(axes: Axes, hole: HoleWall) -> None:
    """The tube behind the wall, its loaded part dark, the push as arrows."""
    push = np.array([cos(hole.angle), -sin(hole.angle)])
    for top, foot, colour in ((-HIGH, 20.0, STEEL), (0.0, 1.0, PULL)):
        ends = np.array([hole_point(hole.angle, top), hole_point(hole.angle, foot)])
        back = (THICK if colour == STEEL else 0.12) * push
        axes.fill(*np.vstack([ends, ends[::-1] - back]).T, color=colour, lw=0, zorder=2)
    for depth in (0.2, 0.5, 0.8):
        head = hole_point(hole.angle, depth) - 0.1 * push
        arrow = {"arrowstyle": "-|>", "color": PULL, "lw": 1.2, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 8}
        axes.annotate("", tuple(head), tuple(head - 1.1 * push), arrowprops=arrow, zorder=5)
    tail = hole_point(hole.angle, 0.5) - 1.2 * push
    axes.text(float(tail[0]), float(tail[1]), "P", color=PULL, fontsize=9, ha="right", va="center")


def _draw_loads(axes: Axes, ordered: Sequence[ChipPath]) -> None:
    """P/(K_IC d^0.5) at some lengths of the crack and the largest on the way, against the angle."""
    angle = np.array([degrees(growth.hole.angle) for growth in ordered])
    for (length, style), colour in zip(LENGTHS, PUSHES, strict=True):
        reached = [growth.length[-1] >= length * growth.hole.depth for growth in ordered]
        load = [np.interp(length * each.hole.depth, each.length, each.coefficient) for each in ordered]
        label = f"crack {length:g} d long"
        axes.plot(angle[reached], np.array(load)[reached], style, ms=4.5, lw=1.4, color=colour, label=label)
    largest = [growth.coefficient.max() for growth in ordered]
    axes.plot(angle, largest, "_", ms=12, mew=1.6, color=INK, label="largest, first crack on")
    axes.set_yscale("log")
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.yaxis.set_minor_formatter(NullFormatter())
    ticks = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50]
    low, high = axes.get_ylim()
    axes.set_yticks([tick for tick in ticks if low <= tick <= high])
    axes.set(xlabel="placement angle [deg]", ylabel="P / (K_IC √d)")
    axes.set_title("push that drives the crack on", fontsize=10)
    axes.set_ylim(bottom=0.03)  # room for the key
    axes.legend(fontsize=7.5, loc="lower right")
    tidy(axes)
