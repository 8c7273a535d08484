"""The peak in pictures: load against movement of the load point, and the loads of a study against its key."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec
from matplotlib.lines import Line2D

from ...fem.tube.events import STOPS
from ...fem.tube.modes import CONE, THREADS, in_order, is_stated, mode_named
from ..case.words import AXIS_WORDS, case_words, varying
from ..outcome.cautions import own_caution
from ..outcome.data import LOADS, Outcome, known
from ..outcome.models import MODELS
from ..outcome.results import Happened
from ..words.answer import peak_words
from .labels import place_labels
from .style import (
    BEYOND,
    CURVE,
    GOES,
    HINGE,
    INK,
    QUIET_INK,
    READING,
    READINGS,
    README,
    heading,
    in_our_look,
    key_below,
    marked,
    millimetres,
    places,
    rows_of,
    save,
    set_axis,
    small_print,
    tidy,
)

NOT_NUMBERED = {"out of the ice", "peak", *STOPS}
ASSUMED_FALL = (CONE, THREADS)  # modes whose load falls by an assumed law after the peak
SMALL = 0.4  # share of the whole movement below which the start is enlarged
PANEL = 3.1  # inches, of the curve
TALLEST = 2.5  # times the curve: a band beyond is named, not drawn


@in_our_look
def load_displacement(outcome: Outcome, path: Path | None) -> Figure:
    """The pull against the movement of the load point, events numbered; the start of the curve enlarged beside it."""
    peak = outcome.the_peak
    x, y = np.array(peak.displacement_mm), np.array(peak.load_kN)
    events = [event for event in peak.events if event.name not in NOT_NUMBERED]
    first = next((event.displacement_mm for event in events if event.name == "hinge"), None)
    near = 2.5 * (first or max(0.2 * known(outcome.peak_at_mm), 0.05))
    figure, drawn, below = _panels_and_key(2 if near < SMALL * x.max() else 1)
    for axes in drawn:
        _draw_curve(axes, outcome, x, y)
        tidy(axes)
        axes.set_xlabel("movement of the load point [mm]")
        axes.plot(*_places(events), "o", ls="", ms=5, color=INK, mec="white", zorder=5, label="_events")
    whole = drawn[0]
    whole.set_ylabel("pull [kN]")
    whole.set(xlim=(0, 1.04 * x.max()), ylim=(0, 1.14 * _top(outcome, y)))
    for axes in drawn[1:]:
        axes.set(xlim=(0, near), ylim=(0, 1.14 * max(y[x <= near].max(initial=0.1), 0.1)))
        axes.set_ylabel("pull [kN]")
        axes.set_title("start of the curve, enlarged", fontsize=10)
    marks = _mark_readings(outcome, whole)
    _mark_movements(outcome, whole)
    _mark_limit(outcome, drawn)
    _draw_band(outcome, whole)
    named = [f"{number}  {event.name}: {_at(event)}" for number, event in enumerate(events, 1)]
    numbers = [Line2D([], [], marker="o", ls="", ms=5, color=INK, label=words) for words in named]
    others = [each for each in (*whole.lines, *whole.patches) if not str(each.get_label()).startswith("_")]
    _fit(figure, key_below(figure, below, [*numbers, *marks, *others]), len(numbers) + len(marks) + len(others))
    heading(figure, peak_words(outcome), 12)
    small_print(figure, f"{case_words(outcome.case, outcome)}\n{peak.caution}")
    for axes in drawn:
        place_labels(axes, _places(events), [str(number) for number in range(1, len(events) + 1)])
    return save(figure, path)


def _panels_and_key(panels: int) -> tuple[Figure, list[Axes], SubplotSpec]:
    """A figure with one panel or two side by side, and the place of its key below."""
    figure = Figure(figsize=(README, 5.2), layout="constrained")
    grid = figure.add_gridspec(2, panels, height_ratios=(1, 0.2), width_ratios=(1.6, 1)[:panels])
    return figure, [figure.add_subplot(grid[0, column]) for column in range(panels)], grid[1, :]


def _fit(figure: Figure, key: Axes, entries: int, columns: int = 2) -> None:
    """Give the row of the key the height that its entries need."""
    key.get_gridspec().set_height_ratios((PANEL, rows_of(entries, columns)))  # type: ignore[union-attr]
    figure.set_figheight(PANEL + rows_of(entries, columns) + 1.9)


def _places(events: Sequence[Happened]) -> tuple[list[float], list[float]]:
    return [event.displacement_mm for event in events], [event.load_kN for event in events]


def _at(event: Happened) -> str:
    return f"{event.load_kN:.{1 if event.load_kN >= 1 else 2}f} kN at {millimetres(event.displacement_mm)}"


def _draw_curve(axes: Axes, outcome: Outcome, x: np.ndarray, y: np.ndarray) -> None:
    """The curve; dashed where it falls by a law that is assumed."""
    beyond = x > known(outcome.peak_at_mm) + 1e-3
    if outcome.peak_mode in ASSUMED_FALL and beyond.any() and not outcome.the_peak.stop:
        turn = int(np.flatnonzero(beyond)[0])
        axes.plot(x[:turn], y[:turn], "-", color=CURVE)
        axes.plot(x[turn - 1 :], y[turn - 1 :], "--", color=CURVE, label="falls by a law that is assumed")
    else:
        axes.plot(x, y, "-", color=CURVE)


def _top(outcome: Outcome, y: np.ndarray) -> float:
    """Of what the axis must hold: the curve, and the band and draws of the peak if they are near."""
    ends = [end.get("peak", 0.0) for end in outcome.the_peak.band.values()]
    ends += outcome.drawn.loads_kN.get("peak", ())[-1:] if outcome.drawn else ()
    return float(max([y.max(), *(end for end in ends if end < TALLEST * y.max())]))


def _mark_readings(outcome: Outcome, axes: Axes) -> list[Line2D]:
    """Peak, first drop, early load, load up to a turn and largest load on the curve; equal ones share a marker."""
    found: dict[tuple[float, float], list[str]] = {}
    for name in LOADS:
        at = (round(known(outcome.at_mm(name)), 1), round(known(outcome.load(name)), 2))
        found.setdefault(at, []).append(name)
    marks = []
    for names in found.values():
        moved, load = known(outcome.at_mm(names[0])), known(outcome.load(names[0]))
        words = ", ".join(LOADS[name] for name in names)
        if len(names) > 3:
            words = "peak and every other reading" if len(names) == len(LOADS) else words.replace("load ", "", 1)
        if names[0] == "peak" and outcome.the_peak.stop:
            words = words.replace("peak", "peak: still rising at the stop", 1)
        size = 14 if names[0] == "peak" else 8
        style: dict[str, Any] = {"ms": size, "color": READING, "mec": "white", "ls": "", "zorder": 6}
        label = f"{words}: {load:.1f} kN at {millimetres(moved)}"
        axes.plot(moved, load, READINGS[names[0]], **style, label="_")
        marks.append(Line2D([], [], marker=READINGS[names[0]], ms=8, color=READING, ls="", label=label))
    return marks


def _mark_limit(outcome: Outcome, panels: Sequence[Axes]) -> None:
    """The strength of hanger or sling, as stated, where that ends the pull before tube and ice do."""
    if is_stated(outcome.limit_mode) and (strength := known(outcome.limit_kN)) < panels[0].get_ylim()[1]:
        mode = mode_named(outcome.limit_mode)
        words = f"limit: {mode.name} as stated, {strength:.1f} kN"
        for axes in panels:
            axes.axhline(strength, color=mode.colour, lw=2.2, zorder=1.5, label=words)


def _mark_movements(outcome: Outcome, axes: Axes) -> None:
    """One diameter of movement, up to which the load is early; and what lies beyond a stop, hatched."""
    diameter, end = float(outcome.case["tube.od_mm"]), axes.get_xlim()[1]
    if diameter < end:
        axes.axvline(
            diameter, color=QUIET_INK, lw=0.9, ls=(0, (4, 3)), zorder=1, label="one diameter: early up to here"
        )
    stop = next((event for event in outcome.the_peak.events if event.name in STOPS), None)
    if stop is not None:
        words = f"not in the peak: beyond the {stop.name}"
        axes.axvspan(stop.displacement_mm, end, **BEYOND, label=words)


def _draw_band(outcome: Outcome, axes: Axes) -> None:
    """The band of the peak as a bar at its movement, and between which loads nine of ten draws of it lie."""
    goes, stays = (outcome.the_peak.band.get(end, {}).get("peak") for end in ("goes", "stays"))
    at, top = known(outcome.peak_at_mm), axes.get_ylim()[1]
    if goes is not None and stays is not None and abs(stays - goes) > 0.01 * max(goes, stays):
        label = f"band of the peak: {goes:.1f} kN if every chip comes out, {stays:.1f} if none"
        style: dict[str, Any] = {"color": GOES, "lw": 6, "alpha": 0.55, "zorder": 2, "solid_capstyle": "butt"}
        axes.plot([at, at], [goes, min(stays, top)], **style, label=label)
    if outcome.drawn and (loads := outcome.drawn.loads_kN.get("peak")):
        label = f"nine of ten draws of the peak: {loads[0]:.1f} to {loads[-1]:.1f} kN"
        axes.axhspan(loads[0], min(loads[-1], top), color=GOES, alpha=0.14, lw=0, zorder=0.2, label=label)


@in_our_look
def peaks_by_key(outcomes: Sequence[Outcome], key: str, title: str, path: Path | None) -> Figure:
    """Peak with its mode, the other loads of the pull and the first hinge against the key; how far the head turns."""
    figure, (load, turn), below = _panels_and_key(2)
    x, line = places(outcomes, key)
    between = ":" if line else ""  # nothing was solved between the values
    peaks = [known(outcome.peak_kN) for outcome in outcomes]
    load.plot(x, peaks, between or " ", color=CURVE, lw=1.2, zorder=2)
    _draw_bands(load, outcomes, x, bool(line))
    for mode in map(mode_named, in_order({str(outcome.peak_mode) for outcome in outcomes})):
        at = [place for place, outcome in zip(x, outcomes, strict=True) if outcome.peak_mode == mode.name]
        of = [known(outcome.peak_kN) for outcome in outcomes if outcome.peak_mode == mode.name]
        load.plot(at, of, **marked(mode.marker, mode.colour), label=f"peak: {mode.name}", zorder=4)
    for name in [name for name in LOADS if name != "peak"]:
        of = [known(outcome.load(name)) for outcome in outcomes]
        style: dict[str, Any] = {
            "marker": READINGS[name],
            "ms": 5,
            "mfc": "none",
            "lw": 0.7,
            "alpha": 0.8,
            "clip_on": False,
        }
        load.plot(x, of, color=READING, ls=between, label=LOADS[name], zorder=1, **style)
    hinge = np.array([outcome.first_hinge_kN for outcome in outcomes], dtype=float)
    if not np.isnan(hinge).all():
        load.plot(x, hinge, "_", ms=14, mew=2, ls="", color=HINGE, label="first hinge of the tube")
    _draw_limits(load, outcomes, x)
    tops = [known(outcome.load(name)) for outcome in outcomes for name in LOADS]
    load.set_ylim(
        0, 1.15 * max([*tops, *(end.get("peak", 0.0) for each in outcomes for end in each.the_peak.band.values())])
    )
    load.set_ylabel("pull [kN]")
    load.set_title(MODELS["peak"].title, fontsize=10)
    handles = load.get_legend_handles_labels()[0]
    _fit(figure, key_below(figure, below, handles, 3), len(handles), 3)
    turned = [abs(known(outcome.head_rotation_deg)) for outcome in outcomes]
    turn.plot(x, turned, f"o{between}", color=INK, clip_on=False)
    turn.set_ylabel("turn of the head up to the peak [deg]")
    turn.set_ylim(bottom=0)
    turn.set_title("how far the head turns", fontsize=10)
    for axes in (load, turn):
        tidy(axes)
        axes.margins(x=0.08 if line else 0.25)
        set_axis(axes, key, bool(line))
        axes.set_xlabel(AXIS_WORDS.get(key, key).replace("   (", "\n(").replace("; ", ";\n"))
    heading(figure, title)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {words}\n{own_caution(outcomes)}")
    return save(figure, path)


def _draw_limits(axes: Axes, outcomes: Sequence[Outcome], x: Sequence[Any]) -> None:
    """Where hanger or sling, as stated, end the pull before tube and ice do."""
    for mode in map(mode_named, in_order({str(each.limit_mode) for each in outcomes if is_stated(each.limit_mode)})):
        at = [place for place, each in zip(x, outcomes, strict=True) if each.limit_mode == mode.name]
        of = [known(each.limit_kN) for each in outcomes if each.limit_mode == mode.name]
        axes.plot(at, of, **marked(mode.marker, mode.colour), label=f"limit: {mode.name} as stated", zorder=5)


def _draw_bands(axes: Axes, outcomes: Sequence[Outcome], x: Sequence[Any], numbers: bool) -> None:
    """The band of each peak, from every chip out to none: a strip over numbers, bars over words."""
    ends = np.array(
        [[each.the_peak.band.get(end, {}).get("peak", np.nan) for end in ("goes", "stays")] for each in outcomes]
    )
    if np.isnan(ends).all():
        return
    label = "band: every chip comes out, or none"
    if numbers and len(x) > 1:
        axes.fill_between(x, ends[:, 0], ends[:, 1], color=GOES, alpha=0.2, lw=0, zorder=0.5, label=label)
    axes.vlines(x, ends[:, 0], ends[:, 1], color=GOES, lw=5, alpha=0.4, zorder=0.6, label="" if numbers else label)
