"""Why the angle matters, as a chain of five steps: a row for each angle, each step drawn to scale with its number.

1 the push on the wall       the elastic forces as bearing first meets its limit; tension at the mouth per kN of pull
2 the first damage           from above: its place, length and mode, and its load
3 the ice in front           a crack at the foot of a loaded stretch of one tube diameter (`fem.chip`); band of the peak
4 lever or hinge             the tube at its first hinge, or at the peak if it forms none
5 what gives way             the tube at the peak; where it levers out, dashed, the same tube turned on by TURNED

All is read from the outcomes, but the crack of step 3: it is followed in the outcomes' ice, in plane strain.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse

from ...fem.chip.path import ChipPath
from ...fem.tube.modes import LEVER_OUT, is_stated, mode_named
from ..case.words import case_words, varying
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome, known
from ..outcome.results import Happened
from ..words.chain import chips_come_out
from .chip_paths import followed
from .section import (
    ARROW,
    Axis,
    axis_of,
    bare,
    draw_angle,
    draw_bearing,
    draw_hole,
    draw_ice,
    draw_pull,
    draw_tube,
    draw_yielded,
    gone_mm,
    held_place,
    scale_bar,
    upright_axis,
)
from .style import (
    DAMAGE,
    FAINT,
    ICE,
    INK,
    PRESSED,
    PULL,
    QUIET_INK,
    README,
    STEEL,
    heading,
    in_our_look,
    save,
    small_print,
)

TITLED = 3  # angles whose loads a title names
STEPS = ("the push on the wall", "the first damage", "the ice in front", "lever or hinge", "what gives way")
MOST = 5  # rows
TURNED = 25.0  # deg, of a tube that levers out, beyond the peak
SIDE, ROW, ABOVE, LEFT = 1.66, 2.3, 0.72, 0.62  # inches: of a panel, a row, above all, left of all


def chain_of_study(outcomes: Sequence[Outcome], path: Path) -> None:
    """The chain of a study over the placement angle; of more than MOST angles so many, evenly apart."""
    ordered = sorted(outcomes, key=lambda outcome: float(outcome.case["placement.angle_deg"]))
    places = np.linspace(0, len(ordered) - 1, min(len(ordered), MOST)).round().astype(int)
    chosen = [ordered[at] for at in dict.fromkeys(places)]
    if len(chosen) > 1:
        chain_figure(chosen, path)
    else:
        path.unlink(missing_ok=True)


@in_our_look
def chain_figure(
    outcomes: Sequence[Outcome], path: Path | None, cracks: Mapping[float, ChipPath] | None = None
) -> Figure:
    """A row for each outcome, in their order; cracks : of step 3 by the angle [deg], followed here if not given."""
    cracks = followed(outcomes) if cracks is None else cracks
    figure = Figure(figsize=(README, ROW))
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    below = small_print(figure, f"{_legend()}\nAll: {words}\n{own_caution(outcomes)}")
    wide, high = README, ABOVE + ROW * len(outcomes) + below
    figure.set_figheight(high)
    for at, outcome in enumerate(outcomes):
        low = high - ABOVE - at * ROW - SIDE
        row = [
            figure.add_axes((x / wide, low / high, SIDE / wide, SIDE / high))
            for x in np.linspace(LEFT, wide - SIDE - 0.12, len(STEPS))
        ]
        _draw_row(row, outcome, cracks.get(float(outcome.case["placement.angle_deg"])))
        if at == 0:
            for number, (axes, step) in enumerate(zip(row, STEPS, strict=True), 1):
                axes.set_title(f"{number} {step}", fontsize=10, fontweight="bold", pad=8)
    heading(figure, _title(outcomes), 12.5)
    return save(figure, path, dpi=180)


def _degrees(outcome: Outcome) -> str:
    angle = float(outcome.case["placement.angle_deg"])
    return f"{angle:+g}°".replace("-", "−") if angle else "0°"


def _title(outcomes: Sequence[Outcome]) -> str:
    loads = [f"{known(outcome.peak_kN):.1f} kN at {_degrees(outcome)}" for outcome in outcomes]
    said = ", ".join(loads) if len(loads) <= TITLED else f"from {loads[0]} to {loads[-1]}"
    return f"Why the angle matters: {said}, all else the same"


def _legend() -> str:
    return (
        "Drawn to scale. Blue: push between tube and ice. Green: pull. Red: crack that opens; purple: one that slides. "
        "White: ice that is gone, or a hole that the tube has left. "
        "Dark red: metal that has yielded. Dashed tube: how it goes on, a sketch. Which chips "
        "come out is not settled."
    )


def _draw_row(row: Sequence[Axes], outcome: Outcome, crack: ChipPath | None) -> None:
    drawn = (_push, _damage, _ice_in_front, _lever_or_hinge, _gives_way)
    for axes, draw in zip(row, drawn, strict=True):
        number, words = draw(axes, outcome, crack)
        below: dict[str, Any] = {"ha": "center", "va": "top", "transform": axes.transAxes}
        axes.text(0.5, -0.02, number, fontsize=11.5, fontweight="bold", **below)
        axes.text(0.5, -0.145, words, fontsize=8.8, linespacing=1.15, **below)
    for axes in row[:-1]:
        axes.text(1.035, 0.5, "›", fontsize=17, color=FAINT, ha="center", va="center", transform=axes.transAxes)
    lean = float(outcome.case["placement.angle_deg"])
    named = "upright" if lean == 0 else f"head leans\n{'toward the pull' if lean > 0 else 'away from the pull'}"
    row[0].set_ylabel(f"{_degrees(outcome)}: {named}", fontsize=10, labelpad=5)


def _event(outcome: Outcome, *names: str) -> Happened:
    """The first of the named events that came; else the peak."""
    events = {event.name: event for event in reversed(outcome.the_peak.events)}
    return next((events[name] for name in names if name in events), events["peak"])


def _near(case: Mapping[str, Any]) -> tuple[float, float, float, float]:
    wide = case["tube.od_mm"] / 17
    return -24 * wide, 48 * wide, -46 * wide, 26 * wide


def _whole(case: Mapping[str, Any]) -> tuple[float, float, float, float]:
    """A square window for the whole tube however it leans or turns."""
    size, stands = case["placement.embedment_mm"] + 62, case["tube.length_mm"] - case["placement.embedment_mm"]
    high = max(46.0, stands + 24.0)
    return -0.42 * size, 0.58 * size, high - size, high


def _push(axes: Axes, outcome: Outcome, crack: ChipPath | None) -> tuple[str, str]:
    case, event = outcome.case, _event(outcome, "bearing at its limit")
    axis, radius = upright_axis(case), 0.5 * outcome.case["tube.od_mm"]
    bearing = np.array(event.bearing_N_per_mm)
    draw_ice(axes, case, 400)
    draw_tube(axes, case, axis)
    places = np.linspace(1.0, 1.6 * case["tube.od_mm"], 6)
    pushes = np.interp(places, event.s_mm, bearing)
    for place, push in zip(places, 20 * pushes / max(bearing.max(), 1e-9), strict=True):
        if push > 1.5:
            foot = axis.at(place, radius)
            end = foot + push * axis.front[:, 0]
            arrow = {"arrowstyle": "-|>", "color": PRESSED, "lw": 1.6, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 9}
            axes.annotate("", tuple(end), tuple(foot), arrowprops=arrow, zorder=4)
    end = draw_pull(axes, case, axis, 26 * case["tube.od_mm"] / 17)
    axes.text(end[0], end[1] + 2.5, "pull", fontsize=9, color=PULL, ha="center", va="bottom")
    draw_angle(axes, case, 19 * case["tube.od_mm"] / 17)
    bare(axes, _near(case))
    scale_bar(axes, (_near(case)[1] - 14, _near(case)[2] + 3), 10)
    lean = float(case["placement.angle_deg"])
    where = "out of the ice" if lean < 0 else "into the block" if lean > 0 else "along the surface"
    return (
        f"{outcome.onset.mouth_tension_MPa_per_kN:.1f} MPa per kN",
        f"of tension at the mouth:\nthe push points {where}",
    )


def _damage(axes: Axes, outcome: Outcome, crack: ChipPath | None) -> tuple[str, str]:
    case, onset = outcome.case, outcome.onset
    radius, lean = 0.5 * case["tube.od_mm"], np.cos(np.radians(case["placement.angle_deg"]))
    middle = 1.35 * case["tube.od_mm"]
    left, right = -0.75 * middle, 1.25 * middle
    axes.add_patch(Ellipse((0, 0), 2 * radius / lean, 2 * radius, fc=STEEL, ec=INK, lw=0.8, zorder=2))
    bore = radius - case["tube.wall_mm"]
    axes.add_patch(Ellipse((0, 0), 2 * bore / lean, 2 * bore, fc="white", ec=FAINT, lw=0.6, zorder=2.1))
    axes.axhspan(-middle, middle, color=ICE, lw=0, zorder=0)
    x, y, _ = onset.where_mm
    mode = mode_named(onset.mode)
    for side in {1.0, -1.0} if abs(y) > 0.5 else {1.0}:
        out = np.array([x, side * y]) / np.hypot(x, y)
        start = np.array([x, side * y]) + 0.1 * case["tube.od_mm"] * out  # so that the star lies in the ice
        length = max(onset.length_mm, 4.0)
        if onset.mode == "tension":
            steps = np.linspace(0, 1, 9)
            zigzag = start[:, None] + length * steps * out[:, None]
            zigzag += 0.5 * np.array([-out[1], out[0]])[:, None] * (-1.0) ** np.arange(9)
            axes.plot(*zigzag, color=mode.colour, lw=2.2, zorder=4)
        else:
            for turn in (-0.6, 0.6):
                cos, sin = np.cos(turn), np.sin(turn)
                end = start + length * np.array([cos * out[0] - sin * out[1], sin * out[0] + cos * out[1]])
                axes.plot(*np.stack([start, end], axis=1), color=mode.colour, lw=2.2, zorder=4)
        axes.plot(*start, "*", color=DAMAGE, ms=12, mec="white", mew=0.8, zorder=6)
    end = (right - 3, -0.75 * middle)
    axes.annotate("", end, (end[0] - 0.4 * middle, end[1]), arrowprops=ARROW, zorder=6)
    bare(axes, (left, right, -middle, middle))
    axes.text(left + 1, middle - 1, "from above", fontsize=8, color=QUIET_INK, va="top", style="italic")
    opens = {
        "tension": "the ice opens along the pull" if "plane of the pull" in onset.crack else "the ice opens",
        "shear": "the ice slides on a slant",
        "crushing": "the ice is crushed",
    }.get(onset.mode, onset.mode)
    return f"{outcome.onset_kN:.2f} kN", f"{onset.mode}:\n{opens}"


def _ice_in_front(axes: Axes, outcome: Outcome, crack: ChipPath | None) -> tuple[str, str]:
    case = outcome.case
    axis, loaded = upright_axis(case), float(case["tube.od_mm"])
    draw_ice(axes, case, 400)
    draw_tube(axes, case, axis)
    comes = chips_come_out(outcome)
    if crack is not None:
        _draw_crack(axes, axis, crack, loaded, bool(comes))
    bare(axes, _near(case))
    runs = "" if crack is None else "the crack dives: " if crack.outcrop is None else "the crack runs out: "
    peak = f"{runs}{known(outcome.peak_kN):.1f} kN"
    if comes is None:
        return "no difference", f"{peak}\nwith chips and without"
    other = outcome.the_peak.band["stays" if comes else "goes"]["peak"]
    return (
        f"chips {'come out' if comes else 'stay'}",
        f"{peak}\n({other:.1f} kN if {'none did' if comes else 'all came out'})",
    )


def _draw_crack(axes: Axes, axis: Axis, crack: ChipPath, loaded: float, comes: bool) -> None:
    """The crack from the foot of the loaded wall; a chip that comes out is lifted off and leaves a trench."""
    radius = 0.5 * loaded
    offset = axis.front[:, 0] * radius
    path = crack.path / crack.hole.depth * loaded + offset[:, None]
    if crack.outcrop is not None:
        out = crack.outcrop / crack.hole.depth * loaded + offset[0]
        path = np.concatenate([path, [[out], [offset[1]]]], axis=1)
    path[1] = np.minimum(path[1], 0.0)
    if comes and crack.outcrop is not None:
        mouth = np.array([[radius / max(axis.front[0, 0], 1e-6)], [0.0]])
        chip = np.concatenate([mouth, path], axis=1)
        axes.fill(*chip, color="white", lw=0, zorder=1.5)
        lifted = chip + np.array([[4.0], [6.0]]) * loaded / 17
        axes.fill(*lifted, fc=ICE, ec=INK, lw=1.0, zorder=4)
    axes.plot(*path, color=mode_named("tension").colour, lw=2.0, zorder=5)


def _lever_or_hinge(axes: Axes, outcome: Outcome, crack: ChipPath | None) -> tuple[str, str]:
    hinge = outcome.first_hinge_kN  # one after the peak is none of it
    _draw_bent(axes, outcome, _event(outcome) if hinge is None else _event(outcome, "hinge"))
    if hinge is not None:
        return f"hinge at {hinge:.1f} kN", "the tube yields all through\nand turns toward the pull"
    return "no hinge", f"straight up to the peak:\nit turns by {abs(known(outcome.head_rotation_deg)):.0f}° as a lever"


def _gives_way(axes: Axes, outcome: Outcome, crack: ChipPath | None) -> tuple[str, str]:
    case, event = outcome.case, _event(outcome)
    if outcome.peak_mode == LEVER_OUT:
        draw_ice(axes, case, 400)
        _draw_levered(axes, outcome, event)
        bare(axes, _whole(case))
    else:
        _draw_bent(axes, outcome, event)
    words = str(outcome.peak_mode)
    if is_stated(outcome.limit_mode):
        words += f"\n({outcome.limit_mode} stated at {known(outcome.limit_kN):.1f} kN)"
    return f"{known(outcome.peak_kN):.1f} kN", words


def _draw_bent(axes: Axes, outcome: Outcome, event: Happened) -> None:
    case, bent = outcome.case, axis_of(event, outcome.case)
    draw_ice(axes, case, 400)
    draw_hole(axes, case, bent, gone_mm(case, event))
    draw_tube(axes, case, bent)
    draw_yielded(axes, bent, event, 0.5 * case["tube.od_mm"])
    bearing = np.array(event.bearing_N_per_mm)
    draw_bearing(axes, bent, event, 0.5 * case["tube.od_mm"], 34 / max(np.abs(bearing).max(), 1e-9))
    draw_pull(axes, case, bent, 34, event.s_mm[event.held_node])
    bare(axes, _whole(case))


def _draw_levered(axes: Axes, outcome: Outcome, event: Happened) -> None:
    """The tube at the peak, and turned on about the place where the ice pushes on neither side."""
    case, bent = outcome.case, axis_of(event, outcome.case)
    bearing = np.array(event.bearing_N_per_mm)
    below = np.flatnonzero((bearing[:-1] > 0) & (bearing[1:] <= 0))
    at = bent.at(event.s_mm[below[-1]] if below.size else 0.6 * bent.s[-1])
    turn = np.radians(TURNED)
    rotate = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    on = rotate @ (np.stack([bent.x, bent.z]) - at[:, None]) + at[:, None]
    turned = Axis(bent.s, on[0], on[1])
    draw_hole(axes, case, bent, gone_mm(case, event))
    draw_tube(axes, case, bent)
    radius = 0.5 * case["tube.od_mm"]
    ends = np.array([bent.s[0], bent.s[-1]])
    outline = np.concatenate([turned.at(ends, radius), turned.at(ends[::-1], -radius)], axis=1)
    axes.fill(*outline, fill=False, ec=INK, lw=1.1, ls=(0, (4, 2)), zorder=4)
    axes.plot(*at, "o", ms=4.5, color=INK, mec="white", zorder=6)
    draw_pull(axes, case, bent, 34, held_place(case))
