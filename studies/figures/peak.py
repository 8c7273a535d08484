"""The peak in pictures: load against movement of the load point, and the bent tube in the ice at its events."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...fem.tube.events import STOPS
from ...fem.tube.modes import in_order, mode_named
from ..case.words import AXIS_WORDS, case_words, varying
from ..outcome.cautions import own_caution
from ..outcome.data import LOADS, Outcome, known
from ..outcome.models import MODELS
from ..words.answer import peak_words
from .style import (
    BEYOND,
    CURVE,
    HINGE,
    INK,
    READING,
    READINGS,
    heading,
    in_our_look,
    places,
    save,
    set_axis,
    small_print,
    tidy,
)

NOT_NUMBERED = {"out of the ice", "peak", *STOPS}


@in_our_look
def load_displacement(outcome: Outcome, path: Path | None) -> Figure:
    """The pull against the movement of the load point, events numbered; the start of the curve enlarged beside it."""
    figure = Figure(figsize=(11.5, 5.4), layout="constrained")
    whole, start = figure.subplots(1, 2, width_ratios=(1.7, 1))
    peak = outcome.the_peak
    x, y = np.array(peak.displacement_mm), np.array(peak.load_kN)
    events = [event for event in peak.events if event.name not in NOT_NUMBERED]
    first = next((event.displacement_mm for event in events if event.name == "hinge"), None)
    near = 2.5 * (first or max(0.2 * known(outcome.peak_at_mm), 0.05))
    for axes in (whole, start):
        axes.plot(x, y, "-", color=CURVE, lw=1.6)
        tidy(axes)
        axes.set_xlabel("movement of the load point [mm]")
    start.set_xlim(0, near)
    start.set_ylim(0, 1.12 * max(y[x <= near].max(initial=0.1), 0.1))
    start.set_title("start of the curve, enlarged", fontsize=10)
    whole.set_ylabel("pull [kN]")
    whole.set_ylim(0, 1.12 * y.max())
    whole.set_xlim(left=0)
    for number, event in enumerate(events, 1):
        at = (event.displacement_mm, event.load_kN)
        for axes in (whole, start):
            label = f"{number}  {event.name}: {event.load_kN:.1f} kN at {event.displacement_mm:.1f} mm"
            axes.plot(*at, "o", ms=5, color=INK, mec="white", zorder=5, label=label)
        where = start if at[0] <= near else whole
        where.annotate(str(number), at, (4, 5), textcoords="offset points", fontsize=9)
    _mark_readings(outcome, whole)
    _hatch_beyond(outcome, whole)
    whole.legend(fontsize=8, loc="upper left", bbox_to_anchor=(0, -0.14), ncols=2, handlelength=1.2, frameon=False)
    heading(figure, peak_words(outcome))
    small_print(figure, f"{case_words(outcome.case, outcome)}\n{peak.caution}")
    return save(figure, path)


def _mark_readings(outcome: Outcome, axes: Axes) -> None:
    """Peak, first drop, early load, load up to a turn and largest load on the curve; equal ones share a marker."""
    found: dict[tuple[float, float], list[str]] = {}
    for name in LOADS:
        at = (round(known(outcome.at_mm(name)), 1), round(known(outcome.load(name)), 2))
        found.setdefault(at, []).append(name)
    for (moved, load), names in found.items():
        words = ", ".join(LOADS[name] for name in names)
        label = f"{words}: {load:.1f} kN at {moved:.1f} mm"
        size = 13 if names[0] == "peak" else 8
        axes.plot(moved, load, READINGS[names[0]], ms=size, color=READING, mec="white", ls="", zorder=6, label=label)


def _hatch_beyond(outcome: Outcome, axes: Axes) -> None:
    """What lies beyond a stop."""
    stop = next((event for event in outcome.the_peak.events if event.name in STOPS), None)
    if stop is not None:
        words = f"not in the peak: beyond the {stop.name}"
        axes.axvspan(stop.displacement_mm, axes.get_xlim()[1], **BEYOND, label=words)


@in_our_look
def peaks_by_key(outcomes: Sequence[Outcome], key: str, title: str, path: Path | None) -> Figure:
    """Peak with its mode, the other loads of the pull and the first hinge against the key; how far the head turns."""
    figure = Figure(figsize=(12.5, 5.0), layout="constrained")
    load, turn = figure.subplots(1, 2, width_ratios=(1.2, 1))
    x, line = places(outcomes, key)
    peaks = [known(outcome.peak_kN) for outcome in outcomes]
    load.plot(x, peaks, line, color=CURVE, lw=1.2, zorder=2)
    for mode in map(mode_named, in_order({str(outcome.peak_mode) for outcome in outcomes})):
        at = [place for place, outcome in zip(x, outcomes, strict=True) if outcome.peak_mode == mode.name]
        of = [known(outcome.peak_kN) for outcome in outcomes if outcome.peak_mode == mode.name]
        load.plot(at, of, mode.marker, ls="", ms=8, color=mode.colour, label=f"peak: {mode.name}")
    for name in [name for name in LOADS if name != "peak"]:
        of = [known(outcome.load(name)) for outcome in outcomes]
        style: dict[str, Any] = {"marker": READINGS[name], "ms": 5, "mfc": "none", "lw": 0.7, "alpha": 0.8}
        load.plot(x, of, color=READING, ls=":" if line else "", label=LOADS[name], zorder=1, **style)
    hinge = np.array([outcome.first_hinge_kN for outcome in outcomes], dtype=float)
    if not np.isnan(hinge).all():
        load.plot(x, hinge, f"{line}_" if not line else "--", color=HINGE, lw=1, label="first hinge of the tube")
    load.set_ylim(0, 1.15 * max(known(outcome.load(name)) for outcome in outcomes for name in LOADS))
    load.set_ylabel("pull [kN]")
    load.set_title(MODELS["peak"].title, fontsize=10)
    figure.legend(*load.get_legend_handles_labels(), loc="outside right upper", fontsize=8.5, frameon=False)
    turn.plot(x, [abs(known(outcome.head_rotation_deg)) for outcome in outcomes], f"o{line}", color=INK)
    turn.set_ylabel("turn of the head up to the peak [deg]")
    turn.set_ylim(bottom=0)
    turn.set_title("how far the head turns", fontsize=10)
    for axes in (load, turn):
        tidy(axes)
        set_axis(axes, key, bool(line))
        axes.set_xlabel(AXIS_WORDS.get(key, key).replace("   (", "\n("))
    heading(figure, title)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {words}\n{own_caution(outcomes)}")
    return save(figure, path)
