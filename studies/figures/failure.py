"""Where ice fails: the index of failure in tension and in shear about the damage, and the directions of tension.

    index = stress over what the ice bears there, for the surface of `materials.surface`; 1 is failure at a point

The onset takes averages over lines (`fem.onset.criterion`), so that at the onset load a small region lies above 1.
Ticks run along the largest tension, dots where it is square to the page; a crack opens square to it. An ice with a
surface of the user's own has its index of shear only where that is larger than the one of tension.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.patches import Ellipse, Polygon
from matplotlib.path import Path as Outline
from matplotlib.tri import Triangulation
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...fem.solid.stress import largest_direction
from ...materials.surface import MohrCoulomb, Parabolic
from ..case.words import columns_of
from ..outcome.data import Outcome
from ..outcome.results import IceUsed
from .cuts import Cut, Fields, cut
from .section import ARROW, bare, draw_angle, draw_ice, draw_pull, draw_tube, held_place, upright_axis
from .style import COLUMNS, DAMAGE, INK, OVER, PULL, QUIET_INK, STEEL

Array = NDArray[np.float64]
Window = tuple[float, float, float, float]  # left, right, low, high [mm]
KINDS = ("tension", "shear")
HUES = {"tension": "Reds", "shear": "Purples"}
LEVELS = np.linspace(0.0, 1.0, 11)
WIDE = 2.5  # of the window, in diameters
TICKS, LEAST = 14, 0.15  # ticks across a window; the least index that has one
CLEAR = 4.0  # height [mm] of the place where the pull enters below which its arrow would hide the damage
COLUMNS_APART = 18  # across a window


@dataclass(frozen=True)
class Shown:
    """An outcome with its fields, and the pull [kN] at which they are drawn."""

    outcome: Outcome
    fields: Fields
    pull_kN: float

    def index(self, kind: str, at: Cut) -> Array:
        """The index of one of KINDS at the points of a cut."""
        case = self.outcome.case
        principal = at.sample_rows(self.fields.data["principal_MPa_per_kN"]) * self.pull_kN
        whole = at.sample(self.fields.data["criterion_index_per_kN"]) * self.pull_kN
        in_crust = at.sample(self.fields.points[:, 2]) > -float(case["ice.crust_mm"]) - 1e-6
        parts = [(self.outcome.ice, ~in_crust), (self.outcome.crust or self.outcome.ice, in_crust)]
        found = np.zeros(len(whole))
        for ice, here in parts:
            if here.any():
                found[here] = _index(kind, ice, principal[here], whole[here])
        return found


def _index(kind: str, ice: IceUsed, principal: Array, whole: Array) -> Array:
    tension = np.maximum(principal[:, 2], 0.0) / (ice.tensile_MPa * (ice.size_factor or 1.0))
    if kind == "tension":
        return np.asarray(tension, dtype=np.float64)
    strengths = ice.tensile_MPa, ice.compressive_MPa
    if ice.criterion == "mohr_coulomb":
        surface: Any = MohrCoulomb(*strengths, ice.confinement_slope, ice.deviator_cap_MPa)
    elif ice.criterion == "parabolic":
        surface = Parabolic(*strengths, ice.pressure_slope, ice.peak_pressure_MPa)
    else:
        return np.where(whole > np.maximum(principal[:, 2], 0.0) / ice.tensile_MPa, whole, 0.0)
    return np.asarray(1.0 / surface.load_factors(np.sort(principal, axis=1))[1], dtype=np.float64)


def window_of(outcome: Outcome) -> Window:
    """A square of WIDE diameters about the first damage in the plane of the pull, the mouth in it if that is near."""
    case, (x, _, z) = outcome.case, outcome.onset.where_mm
    size = WIDE * case["tube.od_mm"]
    high = min(z + 0.5 * size, 0.34 * size)
    middle = x if z < 0.34 * size - size else 0.55 * x + 0.12 * size * np.sign(x)
    return middle - 0.5 * size, middle + 0.5 * size, high - size, high


def draw_section(axes: Axes, shown: Shown, kind: str, window: Window, ticks: bool = True) -> Any:
    """The plane of the pull: shades of the index, directions of tension, tube, pull, star; returns the shades."""
    case = shown.outcome.case
    ice = cut(shown.fields, 1, ("ice", "crust"))
    shades = _shade(axes, Triangulation(ice.x, ice.y, ice.triangles), shown.index(kind, ice), kind)
    _limit(axes, window)
    axes.plot(window[:2], [0, 0], color=INK, lw=0.7, zorder=1.2)
    _draw_walls(axes, case)
    if ticks:
        _draw_directions(axes, shown, ice, window, (0, 2, 1))
    _draw_columns(axes, shown.outcome, Outline.make_compound_path(*shades.get_paths()), window)
    _draw_marks(axes, shown.outcome, window)
    axes.set(xlabel="x [mm]", ylabel="z, out of the ice [mm]")
    return shades


def draw_surface(axes: Axes, shown: Shown, kind: str, ticks: bool = True) -> Any:
    """The ice's surface from above, both halves."""
    case = shown.outcome.case
    surface = cut(shown.fields, 2, ("ice", "crust"))
    index = shown.index(kind, surface)
    half = 0.5 * WIDE * case["tube.od_mm"]
    window = (-0.75 * half, 1.25 * half, -half, half)
    for side in (1, -1):
        shades = _shade(axes, Triangulation(surface.x, side * surface.y, surface.triangles), index, kind)
        if ticks:
            _draw_directions(axes, shown, surface, window, (0, 1, 2), side)
    _limit(axes, window)
    flat, radius = np.cos(np.radians(case["placement.angle_deg"])), 0.5 * case["tube.od_mm"]
    bore = radius - case["tube.wall_mm"]
    axes.add_patch(Ellipse((0, 0), 2 * radius / flat, 2 * radius, fc=STEEL, lw=0, zorder=2))
    axes.add_patch(Ellipse((0, 0), 2 * bore / flat, 2 * bore, fc="white", lw=0, zorder=2.1))
    for x, y, z in _stars(shown.outcome):
        if z > -1.5:
            axes.plot(x, y, "*", color=DAMAGE, ms=11, mec="white", mew=0.8, zorder=6)
    length = 0.5 * half * np.cos(np.radians(case["pull.direction_deg"]))
    if length > 1.0:
        end = (window[1] - 0.06 * half, -0.84 * half)
        axes.annotate("", end, (end[0] - length, end[1]), arrowprops=ARROW, zorder=5)
    axes.set(xlabel="x [mm]", ylabel="y, across the pull [mm]")
    return shades


def draw_whole(axes: Axes, outcome: Outcome, window: Window) -> None:
    """The whole tube in its hole, and the window that other panels show."""
    case, axis = outcome.case, upright_axis(outcome.case)
    draw_ice(axes, case, 3 * case["tube.length_mm"])
    draw_tube(axes, case, axis)
    deep, arrow = case["placement.embedment_mm"], 0.3 * case["tube.length_mm"]
    end = draw_pull(axes, case, axis, arrow)
    axes.text(end[0] + 3, end[1], "pull", color=PULL, fontsize=9, va="center")
    arc = max(0.3 * deep, float(axis.z[0]) + 12)
    if case["placement.angle_deg"] or case["pull.direction_deg"] < 60:
        draw_angle(axes, case, arc)
    left, right, low, high = window
    corners = [(left, low), (right, low), (right, high), (left, high)]
    axes.add_patch(Polygon(corners, fill=False, ec=INK, lw=1.0, ls=(0, (3, 2)), zorder=7))
    top = max(float(axis.z[0]) + 0.3 * deep, end[1] + 0.2 * deep, high + 4, 1.1 * arc + 0.13 * (deep + arc))
    side = max(
        0.55 * (top + 1.1 * deep) / 1.25, np.abs(axis.x).max() + 0.12 * deep, end[0] + 0.3 * deep, right + 4, -left + 4
    )
    bare(axes, (-side, side, min(-1.1 * deep, low - 4), top))


def _shade(axes: Axes, at: Triangulation, index: Array, kind: str) -> Any:
    hue = colormaps[HUES[kind]].with_extremes(over=OVER[kind])
    return axes.tricontourf(at, index, levels=LEVELS, cmap=hue, extend="max", zorder=1)


def _limit(axes: Axes, window: Window) -> None:
    left, right, low, high = window
    axes.set(xlim=(left, right), ylim=(low, high), aspect="equal")


def _draw_walls(axes: Axes, case: dict[str, Any]) -> None:
    """The two cut walls of the tube, and its threads as dots along them."""
    axis, radius = upright_axis(case), 0.5 * case["tube.od_mm"]
    ends = axis.s[[0, -1]]
    whole = np.concatenate([axis.at(ends, radius), axis.at(ends[::-1], -radius)], axis=1)
    axes.fill(*whole, color="white", lw=0, zorder=1.4)
    for side in (1, -1):
        out = [axis.at(ends, side * radius), axis.at(ends[::-1], side * (radius - case["tube.wall_mm"]))]
        axes.fill(*np.concatenate(out, axis=1), color=STEEL, lw=0, zorder=2)
        threaded = np.array([axis.s[-1] - case["tube.thread_length_mm"], axis.s[-1]])
        axes.plot(*axis.at(threaded, side * (radius + 0.5 * case["tube.thread_height_mm"])), ":", color=STEEL, lw=2.5)


def _stars(outcome: Outcome) -> list[tuple[float, float, float]]:
    """The middle of the line over which the damage is averaged, in the ice beside the wall; on both halves."""
    x, y, z = outcome.onset.where_mm
    lean = np.tan(np.radians(outcome.case["placement.angle_deg"]))
    wall = np.array([x - z * lean, y])  # from the axis at that depth
    if "all round" in outcome.onset.place:
        wall = np.array([np.hypot(*wall), 0.0])
    half = 0.5 * min(outcome.onset.length_mm, outcome.case["tube.od_mm"])
    ahead, beside = wall * (1 + half / max(float(np.hypot(*wall)), 1e-9))
    found = [(z * lean + ahead, float(beside), z)]
    if "all round" in outcome.onset.place:
        return [*found, (z * lean - ahead, 0.0, z)]
    return [*found, (z * lean + ahead, -float(beside), z)] if abs(y) > 0.5 else found


def _draw_marks(axes: Axes, outcome: Outcome, window: Window) -> None:
    """Star, pull and angle where the window has them; what lies beside the plane is said."""
    case, (left, right, low, high) = outcome.case, window
    for x, y, z in _stars(outcome):
        if abs(y) < 1.0:
            axes.plot(x, z, "*", color=DAMAGE, ms=11, mec="white", mew=0.8, zorder=6)
        elif y > 0:
            words = f"first damage: {abs(y):.0f} mm beside\nthis plane, {-z:.0f} mm deep"
            axes.text(right - 1, low + 1, words, fontsize=8, ha="right", va="bottom", zorder=7, color=INK)
    axis, size = upright_axis(case), right - left
    held = axis.at(held_place(case))
    if left < held[0] < right and CLEAR < held[1] < high - 2:
        rise = max(float(np.sin(np.radians(case["pull.direction_deg"]))), 1e-9)
        draw_pull(axes, case, axis, min(0.3 * size, (high - held[1] - 0.5) / rise))
    if (crust := case["ice.crust_mm"]) > 0:
        axes.axhline(-crust, color=QUIET_INK, ls="--", lw=0.8, zorder=1.3)
        axes.text(right - 1, -crust, "crust", ha="right", va="bottom", fontsize=8, style="italic", clip_on=True)


def _draw_directions(
    axes: Axes, shown: Shown, at: Cut, window: Window, order: tuple[int, int, int], side: int = 1
) -> None:
    """Ticks along the largest tension on a grid of points; order : the two axes of the page, then the one across."""
    left, right, low, _ = window
    step = (right - left) / TICKS
    middle = (np.arange(TICKS) + 0.5) * step
    grid = np.stack(np.meshgrid(left + middle, low + middle), axis=-1).reshape(-1, 2)
    points = np.stack([at.x, side * at.y], axis=1)
    away, nearest = cKDTree(points).query(grid)
    index = shown.index("tension", at)[nearest]
    kept = (away < step) & (index > LEAST) & _in_ice(grid, shown.outcome.case, order[1])
    if order[1] == 1:
        kept &= side * grid[:, 1] > 0
    if not kept.any():
        return
    along = largest_direction(at.sample_rows(shown.fields.data["stress_MPa_per_kN"])[nearest[kept]])
    for point, way, shade in zip(grid[kept], along, index[kept], strict=True):
        tick = 0.4 * step * way[list(order[:2])] * np.array([1, side if order[1] == 1 else 1])
        colour = "white" if shade > 0.7 else INK
        if abs(way[order[2]]) > 0.8:
            axes.plot(*point, ".", ms=2.8, color=colour, zorder=3)
        else:
            axes.plot(*np.stack([point - tick, point + tick], axis=1), color=colour, lw=1.0, zorder=3)


def _in_ice(points: Array, case: dict[str, Any], up: int) -> NDArray[np.bool_]:
    """Which points (n, 2) of the plane of the pull (up = 2) or of the surface (up = 1) are ice, outside of the hole."""
    lean, radius = np.radians(case["placement.angle_deg"]), 0.5 * case["tube.od_mm"] + 0.3
    x, y = points.T
    if up == 1:
        return np.asarray((x * np.cos(lean)) ** 2 + y**2 > radius**2)
    along, out = -x * np.sin(lean) - y * np.cos(lean), x * np.cos(lean) - y * np.sin(lean)
    return np.asarray((y < 0) & ((np.abs(out) > radius) | (along > case["placement.embedment_mm"])))


def _draw_columns(axes: Axes, outcome: Outcome, ice: Outline, window: Window) -> None:
    """Faint lines along the columns, in the layers whose ice has any; dots if they run across the picture."""
    crust = outcome.case["ice.crust_mm"]
    left, right, low, high = window
    step, middle = (right - left) / COLUMNS_APART, np.array([0.5 * (left + right), 0.5 * (low + high)])
    place = np.linspace(-2 * COLUMNS_APART, 2 * COLUMNS_APART, 2001) * step
    for part, (along_x, _, along_z) in columns_of(outcome).items():
        end_on = np.hypot(along_x, along_z) < 0.5
        along = np.array([1.0, 0.0] if end_on else [along_x, along_z])
        style: dict[str, Any] = {"ls": (0, (0.1, 6)), "lw": 2, "dash_capstyle": "round"} if end_on else {"lw": 0.5}
        for across in np.arange(-20, 21) * step:
            x = middle[0] + along[0] * place + along[1] * across
            z = middle[1] + along[1] * place - along[0] * across
            layer = (z > -crust) if part == "crust" else (z < -crust)
            (line,) = axes.plot(x[layer], z[layer], color=COLUMNS, alpha=0.6, zorder=1.1, **style)
            line.set_clip_path(ice, axes.transData)
        words = "dots: columns,\nend on" if end_on else "lines: columns"
        axes.text(left + 1, low + 1, words, color=QUIET_INK, fontsize=8, style="italic", va="bottom", zorder=7)
    _limit(axes, window)
