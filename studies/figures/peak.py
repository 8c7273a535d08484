"""The peak in pictures: load against displacement with its events, the bent tube in the ice at three of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..case.words import AXIS_WORDS, case_words, short_words, varying
from .stress import PULL, STEEL
from .style import INK, heading, places, save, set_axis, small_print, tidy

Record = dict[str, Any]
ICE, PRESSED, CURVE = "#eef4f8", "#2166ac", "#b2182b"
LATER = {"out of the ice"}
PEAK_MARKERS = {"cone": "v", "tube bends": "o", "lever-out": "s", "threads stripped": "D", "rope": "P"}
MODE_COLOURS = {
    "cone": "#b2182b",
    "tube bends": "#555555",
    "lever-out": "#1b6ca8",
    "threads stripped": "#d95f02",
    "rope": "#7570b3",
    "not reached": "#bbbbbb",
}


def load_displacement(record: Record, path: Path) -> None:
    """The pull against the movement of its point along the rope, events numbered; the way up enlarged beside it."""
    figure = Figure(figsize=(11.5, 5.4), layout="constrained")
    whole, start = figure.subplots(1, 2, width_ratios=(1.7, 1))
    peak = record["peak"]
    x, y = np.array(peak["displacement_mm"]), np.array(peak["load_kN"])
    events = [event for event in peak["events"] if event["name"] not in LATER]
    first = next((event["displacement_mm"] for event in events if event["name"] == "hinge"), None)
    near = 2.5 * (first or max(0.2 * next(e["displacement_mm"] for e in events if e["name"] == "peak"), 0.05))
    for axes in (whole, start):
        axes.plot(x, y, "-", color=CURVE, lw=1.6)
        tidy(axes)
        axes.set_xlabel("movement of the pull's point along the rope [mm]")
    start.set_xlim(0, near)
    start.set_ylim(0, 1.12 * max(y[x <= near].max(initial=0.1), 0.1))
    start.set_title("the first of it", fontsize=10)
    whole.set_ylabel("pull [kN]")
    whole.set_ylim(0, 1.12 * y.max())
    whole.set_xlim(left=0)
    for number, event in enumerate(events, 1):
        at = (event["displacement_mm"], event["load_kN"])
        star = event["name"] == "peak"
        for axes in (whole, start):
            label = f"{number}  {event['name']}: {event['load_kN']:.1f} kN at {event['displacement_mm']:.1f} mm"
            axes.plot(*at, "*" if star else "o", ms=13 if star else 5, color=INK, mec="white", zorder=5, label=label)
        where = start if at[0] <= near else whole
        where.annotate(str(number), at, (4, 5), textcoords="offset points", fontsize=9)
    whole.legend(fontsize=8, loc="best", handlelength=0.8)
    heading(figure, headline(record))
    small_print(figure, f"{case_words(record['case'], record)}\n{peak['caution']}")
    save(figure, path)


def headline(record: Record) -> str:
    """The answer in a line."""
    hinge = record["first_hinge_kN"]
    words = f"peak {record['peak_kN']:.1f} kN: {record['peak_mode']}"
    if record["limit_mode"] != record["peak_mode"]:
        first = f"{record['limit_mode']} fails first, at its stated {record['limit_kN']:.1f} kN"
        words = f"{first}; tube and ice alone: {words}"
    words += f"; first hinge at {hinge:.1f} kN" if hinge is not None else "; the tube forms no hinge"
    return f"{words}; the head turns by {abs(record['head_rotation_deg']):.0f}° up to the peak"


def deformed_tube(record: Record, path: Path) -> None:
    """The tube in the plane of the pull: the wall at its first limit, as ice goes, at the first hinge and the peak."""
    events = {event["name"]: event for event in record["peak"]["events"]}
    names = [name for name in ("bearing at its limit", "ice in front gone", "hinge", "peak") if name in events]
    figure = Figure(figsize=(4.4 * len(names) + 0.8, 5.4), layout="compressed")
    panels = figure.subplots(1, len(names), squeeze=False, sharex=True, sharey=True).ravel()
    most = max(np.abs(events[name]["bearing_N_per_mm"]).max() for name in names) or 1.0
    for axes, name in zip(panels, names, strict=True):
        _draw_event(axes, record, events[name], most)
        axes.set_title(f"{name}: {events[name]['load_kN']:.1f} kN", fontsize=10)
        axes.set_xlabel("x, along the pull [mm]")
    panels[0].set_ylabel("z, out of the ice [mm]")
    heading(figure, headline(record), 12)
    small_print(figure, f"{_legend(most)}\n{case_words(record['case'], record)}\n{record['peak']['caution']}")
    save(figure, path)


def _legend(most: float) -> str:
    return (
        f"Blue: what the wall bears, the longest line {most:.0f} N per mm of tube. Red: yielded metal. True to scale.\n"
        "Chips in front of a tube that leans away are taken out; crushed ice, and chips pressed inward, stay and bear."
    )


def _draw_event(axes: Axes, record: Record, event: Record, most: float) -> None:
    case = record["case"]
    x, z = np.array(event["x_mm"]), np.array(event["z_mm"])
    reach = 0.75 * case["tube.length_mm"]
    axes.fill_between([-4 * reach, 4 * reach], -4 * reach, 0.0, color=ICE, zorder=0)
    axes.axhline(0, color=INK, lw=0.8, zorder=1)
    angle = np.radians(case["placement.angle_deg"])
    tip = -case["placement.embedment_mm"] * np.array([np.sin(angle), np.cos(angle)])
    axes.plot([0, tip[0]], [0, tip[1]], "--", color="#999999", lw=0.8, zorder=2)
    along = np.stack([np.gradient(x), np.gradient(z)])
    along /= np.hypot(*along)
    front = np.stack([-along[1], along[0]])
    bearing = np.array(event["bearing_N_per_mm"])
    length = 0.35 * reach * bearing / most
    for k in np.flatnonzero(np.abs(bearing) > 1e-6 * most):
        foot = np.array([x[k], z[k]]) + np.sign(bearing[k]) * 0.5 * case["tube.od_mm"] * front[:, k]
        end = foot + length[k] * front[:, k]
        axes.plot(*np.stack([foot, end], axis=1), color=PRESSED, lw=1.0, zorder=3)
    side = 0.5 * case["tube.od_mm"] * front
    outline = np.concatenate([np.stack([x, z]) + side, (np.stack([x, z]) - side)[:, ::-1]], axis=1)
    axes.fill(*outline, color=STEEL, zorder=4)
    strain = np.array(event["plastic_strain"])
    for k in np.flatnonzero(strain > 1e-4):
        axes.plot(x[k : k + 2], z[k : k + 2], color=CURVE, lw=4, zorder=5, solid_capstyle="butt")
    pull = np.radians(case["pull.direction_deg"])
    held = event.get("held_node", 0)
    tail = np.array([x[held], z[held]])
    end = tail + 0.35 * reach * np.array([np.cos(pull), np.sin(pull)])
    arrow = {"arrowstyle": "-|>", "color": PULL, "lw": 2.2}
    axes.annotate("", tuple(end), tuple(tail), arrowprops=arrow, annotation_clip=False, zorder=6)
    low = -1.1 * case["placement.embedment_mm"] * np.cos(angle) - 10
    standing = case["tube.length_mm"] - case["placement.embedment_mm"]
    axes.set(xlim=(-reach, 1.3 * reach), ylim=(low, standing + 30.0), aspect="equal")


def tubes_strip(records: Sequence[Record], key: str, path: Path) -> None:
    """The tube at the peak of some cases, side by side."""
    figure = Figure(figsize=(4.4 * len(records) + 0.8, 5.3), layout="compressed")
    panels = figure.subplots(1, len(records), squeeze=False, sharex=True, sharey=True).ravel()
    peaks = [next(event for event in record["peak"]["events"] if event["name"] == "peak") for record in records]
    most = max(np.abs(event["bearing_N_per_mm"]).max() for event in peaks) or 1.0
    for axes, record, event in zip(panels, records, peaks, strict=True):
        _draw_event(axes, record, event, most)
        words = f"{short_words(key, record['case'][key])}\n{record['peak_kN']:.1f} kN: {record['peak_mode']}"
        axes.set_title(words, fontsize=10)
        axes.set_xlabel("x, along the pull [mm]")
    panels[0].set_ylabel("z, out of the ice [mm]")
    words = case_words(records[0]["case"], records[0], but=varying(records))
    small_print(figure, f"At the peak. {_legend(most)}\nAll: {words}\n{records[0]['peak']['caution']}")
    save(figure, path)


def peaks_by_key(records: Sequence[Record], key: str, title: str, path: Path) -> None:
    """Peak with its mode, first hinge and onset against the varied key; and how far the head turns."""
    figure = Figure(figsize=(12.5, 5.0), layout="constrained")
    load, turn = figure.subplots(1, 2, width_ratios=(1.2, 1))
    x, line = places(records, key)
    peaks = [record["peak_kN"] for record in records]
    load.plot(x, peaks, line, color=CURVE, lw=1.2, zorder=2)
    for mode in dict.fromkeys(record["peak_mode"] for record in records):
        at = [place for place, record in zip(x, records, strict=True) if record["peak_mode"] == mode]
        of = [record["peak_kN"] for record in records if record["peak_mode"] == mode]
        load.plot(at, of, PEAK_MARKERS.get(mode, "x"), ms=8, color=MODE_COLOURS.get(mode, INK), label=f"peak: {mode}")
    hinge = np.array([record["first_hinge_kN"] for record in records], dtype=float)
    if not np.isnan(hinge).all():
        load.plot(x, hinge, f"{line}_" if not line else "--", color="#555555", lw=1, label="first hinge of the tube")
    load.set_ylim(0, 1.15 * max(peaks))
    load.set_ylabel("pull [kN]")
    load.set_title("largest pull, and what gives way", fontsize=10)
    load.legend(fontsize=8.5)
    turn.plot(x, [abs(record["head_rotation_deg"]) for record in records], f"o{line}", color=INK)
    turn.set_ylabel("turn of the head up to the peak [deg]")
    turn.set_ylim(bottom=0)
    turn.set_title("how far the head turns", fontsize=10)
    for axes in (load, turn):
        tidy(axes)
        set_axis(axes, key, bool(line))
        axes.set_xlabel(AXIS_WORDS.get(key, key).replace("   (", "\n("))
    heading(figure, title)
    words = case_words(records[0]["case"], records[0], but=varying(records))
    small_print(figure, f"All: {words}\n{records[0]['peak']['caution']}")
    save(figure, path)
