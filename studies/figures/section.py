"""The plane of the pull, drawn to scale: ice, tube with its threads, hanger or sling, pull, angle, what ice is gone.

x along the pull, z out of the ice, the mouth of the hole at (0, 0) [mm]. An axis is the line of nodes of a tube, head
to tip, with their places s along it, 0 at the mouth and rising into the ice.

Ice that is gone is read from the forces of an event: a stretch from the mouth on that bears nothing though the tube is
pushed into it. How far ahead the chips of it reach is not computed there; AHEAD depths are drawn, as cracks in a plane
section break out (`chip_paths`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Arc, Circle
from numpy.typing import NDArray

from ..outcome.results import Happened
from .style import FAINT, ICE, INK, PALER, PRESSED, PULL, QUIET_INK, STEEL, YIELDED

Array = NDArray[np.float64]
AHEAD = 2.0
PUSHED = 0.02  # movement [mm] from which a wall that bears nothing has lost its ice
ARROW: dict[str, Any] = {"arrowstyle": "-|>", "color": PULL, "lw": 2.2, "shrinkA": 0, "shrinkB": 0}


@dataclass(frozen=True)
class Axis:
    """Nodes of a tube in the plane of the pull, head to tip: places along it, x, z (m,) [mm]."""

    s: Array
    x: Array
    z: Array

    @cached_property
    def front(self) -> Array:
        """Normals toward the front, (2, m)."""
        along = np.stack([np.gradient(self.x), np.gradient(self.z)])
        along /= np.hypot(*along)
        return np.stack([-along[1], along[0]])

    def at(self, s: float | Array, out: float = 0.0) -> Array:
        """Points (2, ...) at places along the axis, `out` [mm] toward the front."""
        front = self.front
        return np.stack([np.interp(s, self.s, line + out * n) for line, n in ((self.x, front[0]), (self.z, front[1]))])


def upright_axis(case: Mapping[str, Any]) -> Axis:
    """The axis before the pull."""
    angle, deep = np.radians(case["placement.angle_deg"]), case["placement.embedment_mm"]
    s = np.linspace(deep - case["tube.length_mm"], deep, 60)
    return Axis(s, -s * np.sin(angle), -s * np.cos(angle))


def axis_of(event: Happened, case: Mapping[str, Any]) -> Axis:
    """The bent axis at an event; what stands above the place where the rope holds it goes on straight to the head."""
    s, x, z = (np.array(each) for each in (event.s_mm, event.x_mm, event.z_mm))
    above = s[0] - (case["placement.embedment_mm"] - case["tube.length_mm"])
    if above > 0.1:
        step = above / (s[1] - s[0])
        s, x, z = (np.r_[each[0] - step * (each[1] - each[0]), each] for each in (s, x, z))
    return Axis(s, x, z)


def gone_mm(case: Mapping[str, Any], event: Happened) -> float:
    """Depth along the wall down to which the ice in front is gone at an event; 0 where none is."""
    s, before = np.array(event.s_mm), upright_axis(case)
    pushed = np.sum((np.array([event.x_mm, event.z_mm]) - before.at(s)) * before.front[:, :1], axis=0)
    deepest = 0.0
    for place, moved, bearing in zip(s, pushed, event.bearing_N_per_mm, strict=True):
        if place < 0:
            continue
        if bearing != 0 or moved < PUSHED:
            break
        deepest = float(place)
    return deepest


def draw_ice(axes: Axes, case: Mapping[str, Any], reach: float) -> None:
    """Ice below the surface, its crust hatched."""
    axes.fill_between([-reach, reach], -reach, 0.0, color=ICE, lw=0, zorder=0)
    axes.plot([-reach, reach], [0, 0], color=INK, lw=0.8, zorder=1)
    if (crust := case["ice.crust_mm"]) > 0:
        axes.fill_between(
            [-reach, reach], -crust, 0.0, facecolor="none", edgecolor=PALER, hatch="...", lw=0, zorder=0.5
        )
        axes.plot([-reach, reach], [-crust, -crust], color=FAINT, ls="--", lw=0.8, zorder=1)


def draw_hole(axes: Axes, case: Mapping[str, Any], bent: Axis, gone: float) -> None:
    """What the tube left behind it, the trench in front, and where its axis was."""
    before, radius = upright_axis(case), 0.5 * case["tube.od_mm"]
    inside = bent.s >= 0
    ends = np.array([0.0, case["placement.embedment_mm"]])
    hole = np.concatenate([before.at(ends, radius), before.at(ends[::-1], -radius)], axis=1)
    axes.fill(*hole, color="white", lw=0, zorder=1.5)
    if inside.any():
        back = np.stack([bent.x, bent.z])[:, inside]
        swept = np.concatenate([before.at(bent.s[inside], -radius), back[:, ::-1]], axis=1)
        axes.fill(*swept, color="white", lw=0, zorder=1.5)
        axes.plot(*before.at(ends), "--", color=PALER, lw=0.8, zorder=2)
    if gone > 0:
        foot, mouth = bent.at(gone, radius), before.at(0.0)
        lip = np.array([foot[0] + AHEAD * abs(foot[1]), 0.0])
        axes.fill(*np.stack([mouth, bent.at(gone), foot, lip], axis=1), color="white", lw=0, zorder=1.6)
        axes.plot(*np.stack([foot, lip], axis=1), color=FAINT, lw=0.9, zorder=1.7)


def draw_tube(axes: Axes, case: Mapping[str, Any], axis: Axis, colour: str = STEEL) -> None:
    """Outline and threads, as they are wound: a ridge slants by half a pitch from one side to the other."""
    radius, height, pitch = 0.5 * case["tube.od_mm"], case["tube.thread_height_mm"], case["tube.thread_pitch_mm"]
    shown = np.linspace(axis.s[0], axis.s[-1], 80)
    outline = np.concatenate([axis.at(shown, radius), axis.at(shown[::-1], -radius)], axis=1)
    axes.fill(*outline, color=colour, lw=0, zorder=3)
    tip = axis.s[-1]
    for turn in np.arange(tip - case["tube.thread_length_mm"] + 0.5 * pitch, tip - 0.3 * pitch, pitch):
        ends = [axis.at(turn - 0.25 * pitch, radius + height), axis.at(turn + 0.25 * pitch, -radius - height)]
        axes.plot(*np.stack(ends, axis=1), color=colour, lw=1.4, zorder=3, solid_capstyle="butt")
        axes.plot(*np.stack(ends, axis=1), color="white", lw=0.35, zorder=3.1, alpha=0.8)


def draw_yielded(axes: Axes, axis: Axis, event: Happened, wide: float) -> None:
    """The stretch of metal that has yielded, across the tube."""
    for k in np.flatnonzero(np.array(event.plastic_strain) > 1e-4):
        ends = axis.s[k], axis.s[k + 1]
        corners = [
            axis.at(place, side) for place, side in zip((*ends, *ends[::-1]), (wide, wide, -wide, -wide), strict=True)
        ]
        axes.fill(*np.stack(corners, axis=1), color=YIELDED, lw=0, zorder=4)


def draw_bearing(axes: Axes, axis: Axis, event: Happened, radius: float, per_mm: float) -> None:
    """Force of the ice on the tube as lines square to it; per_mm : length drawn for 1 N per mm."""
    for place, bearing in zip(event.s_mm, event.bearing_N_per_mm, strict=True):
        if abs(bearing) * per_mm < 0.1:
            continue
        side = np.sign(bearing) * radius
        foot, end = axis.at(place, side), axis.at(place, side + per_mm * bearing)
        axes.plot(*np.stack([foot, end], axis=1), color=PRESSED, lw=1.0, zorder=2.5, solid_capstyle="butt")


def held_place(case: Mapping[str, Any]) -> float:
    """Where along the axis the rope holds the tube, s [mm]."""
    if case["placement.attachment"] == "tied_off":
        return -float(case.get("placement.sling_height_mm", 0.0))
    return float(case["placement.embedment_mm"] - case["tube.length_mm"])


def draw_pull(axes: Axes, case: Mapping[str, Any], axis: Axis, length: float, held: float | None = None) -> Array:
    """Hanger or sling, and the pull as an arrow from it; returns the arrow's end (2,)."""
    place, radius = held_place(case) if held is None else held, 0.5 * case["tube.od_mm"]
    at, pull = axis.at(place), np.radians(case["pull.direction_deg"])
    if case["placement.attachment"] == "tied_off":
        sides = np.stack([axis.at(place, radius + 1.0), axis.at(place, -radius - 1.0)], axis=1)
        axes.plot(*sides, color=PULL, lw=3.0, zorder=5, solid_capstyle="round")
    else:
        axes.add_patch(Circle(tuple(at), 0.3 * radius, fc="white", ec=PULL, lw=1.6, zorder=5))
    end: Array = at + length * np.array([np.cos(pull), np.sin(pull)])
    axes.annotate("", tuple(end), tuple(at), arrowprops=ARROW, annotation_clip=False, zorder=6)
    return end


def draw_angle(axes: Axes, case: Mapping[str, Any], size: float) -> None:
    """The surface normal at the mouth, and the arc from it to the axis with the angle."""
    lean = float(case["placement.angle_deg"])
    axes.plot([0, 0], [0, size], ls=(0, (4, 3)), color=QUIET_INK, lw=0.8, zorder=4.5)
    if lean:
        towards = np.radians(90 - lean)
        axes.plot([0, size * np.cos(towards)], [0, size * np.sin(towards)], color=QUIET_INK, lw=0.8, zorder=4.5)
        first, last = sorted((90.0, 90 - lean))
        axes.add_patch(Arc((0, 0), 1.7 * size, 1.7 * size, theta1=first, theta2=last, color=INK, lw=1.0, zorder=4.6))
    words = f"{lean:+g}°".replace("-", "−").replace("+0", "0")
    place = np.radians(90 - 0.5 * lean)
    axes.text(
        1.04 * size * np.cos(place),
        1.04 * size * np.sin(place),
        words,
        fontsize=9,
        ha="center",
        va="bottom",
        zorder=7,
    )


def bare(axes: Axes, window: tuple[float, float, float, float]) -> None:
    """A drawing true to scale without axes, left, right, low, high [mm]."""
    left, right, low, high = window
    axes.set(xlim=(left, right), ylim=(low, high), aspect="equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.spines[:].set_visible(False)


def scale_bar(axes: Axes, at: tuple[float, float], length: float) -> None:
    """A bar of that length [mm] with its words."""
    x, z = at
    axes.plot([x, x + length], [z, z], color=INK, lw=2.0, zorder=8, solid_capstyle="butt")
    axes.text(x + 0.5 * length, z, f"{length:g} mm", fontsize=8, ha="center", va="bottom", zorder=8)
