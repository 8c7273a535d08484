"""The cone in pictures: its section with angle, depth and breakout, the load as it grows, and the peaks of a study."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from ..case.words import AXIS_WORDS, case_words, short_words, varying
from ..command.numbers import plural
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome, known
from ..outcome.models import MODELS
from ..outcome.results import StraightCone
from ..words.answer import cone_words
from .section import draw_angle, draw_ice, draw_pull, draw_tube, upright_axis
from .style import (
    CONE,
    INK,
    PULL,
    QUIET,
    README,
    STABLE,
    UNSTABLE,
    heading,
    in_our_look,
    places,
    save,
    small_print,
    tidy,
)


@in_our_look
def cone_picture(outcome: Outcome, path: Path | None) -> Figure:
    """Section in the plane of the pull, load against growth, and the threads' shares or the shapes that were tried."""
    figure = Figure(figsize=(README, 8.4), layout="constrained")
    grid = figure.add_gridspec(2, 2, height_ratios=(1.1, 1))
    section, load, third = (figure.add_subplot(place) for place in (grid[0, :], grid[1, 0], grid[1, 1]))
    _draw_cone(section, outcome)
    _draw_growth(load, outcome)
    if (straight := outcome.the_cone.straight) is not None:
        _draw_threads_share(third, straight)
    else:
        _draw_shapes(third, outcome)
    for axes in (load, third):
        tidy(axes)
    heading(figure, cone_words(outcome))
    sentences = outcome.the_cone.caution.replace(". ", ".\n")
    small_print(figure, f"{case_words(outcome.case, outcome)}\n{sentences}")
    return save(figure, path)


def _sides(outcome: Outcome) -> tuple[np.ndarray, np.ndarray]:
    """The cone's lines in the plane of the pull, behind and in front: (n, 3) each [mm]."""
    surface = np.array(outcome.the_cone.surface_mm)
    middle = surface.shape[1] // 2
    return surface[:, 0], surface[:, middle]


def _draw_cone(axes: Axes, outcome: Outcome) -> None:
    case = outcome.case
    behind, front = _sides(outcome)
    sides = [*(side[-1, 0] for side in (behind, front)), *(_breakout(side) or 0.0 for side in (behind, front))]
    reach = min(1.1 * max(55.0, *np.abs(sides)), 3.2 * outcome.the_cone.depth_mm)
    draw_ice(axes, case, 2 * reach)
    for side in (behind, front):
        axes.plot(side[:, 0], side[:, 2], color=CONE, lw=2.2, zorder=4)
        ahead = _breakout(side)
        if ahead is not None:
            axes.plot([side[-1, 0], ahead], [side[-1, 2], 0.0], "--", color=CONE, lw=1.4, zorder=4)
    axis = upright_axis(case)
    draw_tube(axes, case, axis)
    end = draw_pull(axes, case, axis, 0.3 * max(60.0, case["placement.embedment_mm"]))
    axes.text(end[0] + 3, end[1], "pull", color=PULL, fontsize=9, va="center")
    if case["placement.angle_deg"]:
        draw_angle(axes, case, axis.z[0] + 14)
    _label_cone(axes, outcome, front, reach)
    top = max(45.0, axis.z[0] + 34.0, end[1] + 12.0)
    wide = max(reach, 1.25 * (1.2 * outcome.the_cone.depth_mm + 8 + top))
    axes.set(xlim=(-wide, wide), ylim=(-1.2 * outcome.the_cone.depth_mm - 8, top), aspect="equal")
    axes.set(xlabel="x [mm]", ylabel="z, out of the ice [mm]")
    axes.set_title("the crack in the plane of the pull (dashed: on to the surface)", fontsize=10)


def _breakout(side: np.ndarray) -> float | None:
    """Where the last piece of a side meets the surface, x [mm]; None if it does not rise."""
    (x0, _, z0), (x1, _, z1) = side[-2:]
    return None if z1 <= z0 else float(x1 - z1 * (x1 - x0) / (z1 - z0))


def _label_cone(axes: Axes, outcome: Outcome, front: np.ndarray, reach: float) -> None:
    """Angle, depth and breakout beside the lines."""
    x, z = front[0, 0], front[0, 2]
    angle = outcome.the_cone.angle_deg
    axes.annotate(
        f"mean angle {angle:.0f}° from the surface",
        (0.5 * (x + front[-1, 0]), 0.5 * (z + front[-1, 2])),
        (0.35 * reach, -1.08 * outcome.the_cone.depth_mm),
        fontsize=9,
        va="center",
        arrowprops={"arrowstyle": "-", "lw": 0.7, "color": INK},
    )
    axes.annotate("", (-0.97 * reach, z), (-0.97 * reach, 0), arrowprops={"arrowstyle": "<->", "lw": 1.0})
    axes.text(-0.955 * reach, 0.85 * z, f"{-z:.0f} mm deep", fontsize=9)
    if outcome.the_cone.breakout_mm is not None:
        out = _breakout(front)
        words = f"comes out {outcome.the_cone.breakout_mm:.0f} mm from the axis"
        at = (min(out if out is not None else float(front[-1, 0]), 0.98 * reach), 0.0)
        line = {"arrowstyle": "-", "lw": 0.7, "color": INK}
        axes.annotate(words, at, (0.4 * reach, 0.25 * outcome.the_cone.depth_mm), fontsize=9, arrowprops=line)


def _draw_growth(axes: Axes, outcome: Outcome) -> None:
    """Load at which the crack stands, against its length (its share of the way in 3D): stable up to the peak."""
    cone = outcome.the_cone
    straight, tilted = cone.straight, cone.tilted
    x = np.array(straight.length_mm) if straight else 100 * np.array(known(tilted).share)
    y = np.array(cone.load_kN, dtype=float)
    axes.set_xlabel("length of the crack [mm]" if straight else "way to the surface [%]")
    axes.set_ylabel("pull [kN]")
    axes.set_title("the pull that holds the crack where it is", fontsize=10)
    if tilted:
        axes.plot(x, tilted.least_load_kN, "--", lw=1, color=INK, label="lower bound, if sliding helps the crack")
    if np.isnan(y).all():
        axes.legend(fontsize=8, title="every front is pressed shut", loc="lower right")
        return
    at = int(np.nanargmax(y))
    if at > 0:
        axes.plot(x[: at + 1], y[: at + 1], "o-", ms=4, color=STABLE, label="stable: more load for more crack")
    axes.plot(x[at:], y[at:], "o-", ms=4, color=UNSTABLE, label="unstable: runs by itself")
    axes.plot(x[at], y[at], "*", ms=15, color=INK, mec="white", label=f"peak {np.nanmax(y):.1f} kN", zorder=5)
    if straight:
        axes.axhline(
            straight.onset_kN,
            color=CONE,
            lw=1,
            ls=":",
            label=f"first crack: {straight.onset_kN:.1f} kN, {straight.onset_start}",
        )
    axes.set_ylim(0, 1.12 * np.nanmax(y))
    axes.legend(fontsize=8, loc="best")


def _draw_threads_share(axes: Axes, cone: StraightCone) -> None:
    """Thread by thread: share of the pull before the crack and at the peak."""
    depth = np.array(cone.thread_depths_mm)
    wide = 0.38 * (np.abs(np.diff(depth)).min() if depth.size > 1 else 5.0)
    for shift, shares, colour, label in (
        (-0.5, cone.thread_shares, QUIET, "before any crack"),
        (0.5, cone.thread_shares_at_peak, CONE, "at the peak"),
    ):
        axes.barh(depth + shift * wide, 100 * np.array(shares), wide, color=colour, label=label)
    axes.invert_yaxis()
    axes.set(xlabel="share of the pull [%]", ylabel="depth of the thread's bearing face [mm]")
    axes.set_title("which thread carries how much", fontsize=10)
    axes.legend(fontsize=8)


def _draw_shapes(axes: Axes, outcome: Outcome) -> None:
    """Every shape tried: its load against the way to the surface; the peak is the lowest of their highest loads."""
    best = known(outcome.the_cone.tilted)
    for shape in best.shapes:
        axes.plot(100 * np.array(shape.share), np.array(shape.load_kN, dtype=float), color=QUIET, lw=1)
    load = np.array(outcome.the_cone.load_kN, dtype=float)
    axes.plot(100 * np.array(best.share), load, color=CONE, lw=2, label="the weakest shape")
    axes.set_ylim(0, 3 * (outcome.peak_kN or best.least_kN))
    axes.set(xlabel="way to the surface [%]", ylabel="pull [kN]")
    axes.set_title(f"{plural(len(best.shapes), 'shape')} tried; the weakest decides", fontsize=10)
    axes.legend(fontsize=8)


@in_our_look
def cones_strip(outcomes: Sequence[Outcome], key: str, path: Path) -> None:
    """The cones of some cases one below the other, in the plane of the pull, with their peaks."""
    figure = Figure(figsize=(README, 3.5 * len(outcomes)), layout="constrained")
    panels = figure.subplots(len(outcomes), 1, squeeze=False).ravel()
    for axes, outcome in zip(panels, outcomes, strict=True):
        _draw_cone(axes, outcome)
        axes.set_title(f"{short_words(key, outcome.case[key])}: {cone_words(outcome)}", fontsize=10)
    widest = max(axes.get_xlim()[1] for axes in panels)
    for axes in panels:
        axes.set_xlim(-widest, widest)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {words}\n{own_caution(outcomes)}")
    save(figure, path)


@in_our_look
def peaks_figure(outcomes: Sequence[Outcome], key: str, title: str, path: Path | None) -> Figure:
    """Peak and angle of the cone against the varied key; if a power is fitted, on logarithmic axes with the fit."""
    from ..words.cone import fitted_power

    figure = Figure(figsize=(README, 4.8), layout="constrained")
    peak, shape = figure.subplots(1, 2)
    x, line = places(outcomes, key)
    peaks = np.array([outcome.peak_kN for outcome in outcomes], dtype=float)
    peak.plot(x, peaks, "o", color=INK, label="cone: peak" if np.isfinite(peaks).any() else "no cone tried opens")
    fit = fitted_power(outcomes, key)
    if fit is not None:
        power, factor = fit
        fine = np.linspace(min(x), max(x), 100)
        peak.plot(fine, factor * fine**power, "-", lw=1, color=CONE, label=f"fit: power {power:.2f}")
        peak.set_xscale("log")
        peak.set_yscale("log")
        for axis in (peak.xaxis, peak.yaxis):
            axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
            axis.set_minor_formatter(NullFormatter())
        peak.set_xticks(x)
        peak.set_yticks(peaks.round(1))
    peak.set_ylabel("pull [kN]")
    peak.set_title(MODELS["cone"].title, fontsize=10)
    peak.legend(fontsize=8.5)
    shape.plot(x, [outcome.the_cone.angle_deg for outcome in outcomes], f"o{line}", color=CONE)
    shape.set_ylim(0, 90)
    shape.set_ylabel("mean angle of the cone from the surface [deg]")
    shape.set_title("which way it runs", fontsize=10)
    for axes in (peak, shape):
        tidy(axes)
        axes.set_xlabel(AXIS_WORDS.get(key, key).replace("   (", "\n("))
    heading(figure, title)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {words}\n{own_caution(outcomes)}")
    return save(figure, path)
