"""The bent tube in the ice, true to scale: at the events of one pull, and at the peaks of several side by side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...fem.tube.modes import CONE as CONE_MODE
from ..case.words import case_words, short_words, varying
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome, known
from ..outcome.results import Happened
from ..words.answer import peak_words
from .section import axis_of, draw_angle, draw_bearing, draw_hole, draw_ice, draw_pull, draw_tube, draw_yielded, gone_mm
from .style import CONE, PULL, README, heading, in_our_look, millimetres, save, small_print

ALIKE = 0.01  # of a band: ends so near each other are one
SEEN, YIELDS = 5.0, 1e-4  # force [N per mm], plastic strain from which a reader sees something
CONE_RISE = 22.0  # deg from the surface, of the cone's sketch
SHOWN = ("bearing at its limit", "ice in front gone", "hinge", "peak")
Case = dict[str, Any]


@in_our_look
def deformed_tube(outcome: Outcome, path: Path | None) -> Figure:
    """The tube in the plane of the pull: the wall at its first limit, as ice goes, at the first hinge and the peak."""
    found = {event.name: event for event in outcome.the_peak.events}
    events = sorted((found[name] for name in SHOWN if name in found), key=lambda event: event.displacement_mm)
    titles = [f"{event.name}:\n{event_words(event)}" for event in events]
    figure = _panels([(outcome, event) for event in events], titles)
    heading(figure, peak_words(outcome), 12)
    below = f"{_legend([(outcome, event) for event in events])}\n{case_words(outcome.case, outcome)}"
    small_print(figure, f"{below}\n{outcome.the_peak.caution}")
    return save(figure, path)


@in_our_look
def tubes_strip(outcomes: Sequence[Outcome], key: str, path: Path | None) -> Figure:
    """The tube at the peak of some cases, side by side."""
    peaks = [next(event for event in outcome.the_peak.events if event.name == "peak") for outcome in outcomes]
    titles = [
        f"{short_words(key, outcome.case[key])}:\n{known(outcome.peak_kN):.1f} kN, {outcome.peak_mode}"
        for outcome in outcomes
    ]
    drawn = list(zip(outcomes, peaks, strict=True))
    figure = _panels(drawn, titles)
    heading(figure, "The tube at the peak", 12)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"{_legend(drawn)}\nAll: {words}\n{own_caution(outcomes)}")
    return save(figure, path)


def _panels(drawn: Sequence[tuple[Outcome, Happened]], titles: Sequence[str]) -> Figure:
    """A panel for each, all to one scale; forces of the ice to one scale too."""
    most = _most(drawn)
    left, right, low, high = _window(drawn)
    wide = max(README, 2.2 * len(drawn))
    each = (wide - 0.9) / len(drawn)
    figure = Figure(figsize=(wide, min(each * (high - low) / (right - left), 6.5) + 2.4), layout="constrained")
    panels = figure.subplots(1, len(drawn), squeeze=False, sharex=True, sharey=True).ravel()
    for axes, (outcome, event), title in zip(panels, drawn, titles, strict=True):
        draw_event(axes, outcome, event, most)
        axes.set_title("\n".join(fill(line, int(15 * each)) for line in title.split("\n")), fontsize=10)
        axes.set(xlim=(left, right), ylim=(low, high), aspect="equal", xlabel="x [mm]")
    panels[0].set_ylabel("z, out of the ice [mm]")
    return figure


def _most(drawn: Sequence[tuple[Outcome, Happened]]) -> float:
    return float(max(np.abs(event.bearing_N_per_mm).max() for _, event in drawn)) or 1.0


def _window(drawn: Sequence[tuple[Outcome, Happened]]) -> tuple[float, float, float, float]:
    """Left, right, low, high [mm]: every tube, its arrow and the longest force in them."""
    length = max(float(outcome.case["tube.length_mm"]) for outcome, _ in drawn)
    points: list[Any] = []
    for outcome, event in drawn:
        held, pull = event.held_node, np.radians(outcome.case["pull.direction_deg"])
        arrow = 0.36 * length * np.array([np.cos(pull), np.sin(pull)])
        bent, at = axis_of(event, outcome.case), np.array([event.x_mm[held], event.z_mm[held]])
        arc = [0.0, 0.42 * length if outcome.case["placement.angle_deg"] else 0.0]
        points += [np.stack([bent.x, bent.z], axis=1), at + arrow + 0.08 * length, arc]
        if outcome.peak_mode == CONE_MODE:
            points += [[-0.6 * length, 0.0], [0.8 * length, 0.0]]
    every = np.concatenate([np.atleast_2d(each) for each in points])
    (left, low), (right, high) = every.min(axis=0), every.max(axis=0)
    return left - 0.4 * length, right + 0.12 * length, low - 0.12 * length, high + 0.1 * length


def _legend(drawn: Sequence[tuple[Outcome, Happened]]) -> str:
    words = "True to scale."
    if (most := _most(drawn)) > SEEN:
        words += f" Blue: force of ice on tube; longest line {most:.0f} N per mm of tube. Crushed ice bears on."
    if any(max(event.plastic_strain, default=0.0) > YIELDS for _, event in drawn):
        words += " Dark red: metal that has yielded."
    if any(gone_mm(outcome.case, event) for outcome, event in drawn):
        words += " White: ice that is gone (how far ahead is a sketch), or a hole that the tube has left."
    else:
        words += " White: a hole that the tube has left."
    words += _unsettled([outcome for outcome, _ in drawn])
    if cones := [axis_of(event, outcome.case) for outcome, event in drawn if outcome.peak_mode == CONE_MODE]:
        far = max(_cone_ends(bent.at(bent.s[-1]))[1] for bent in cones)
        words += f" Red, dashed: the cone, a sketch; it comes out some {round(far, -1):.0f} mm away (--model cone)."
    if any(event.z_mm[event.held_node] < 0 for _, event in drawn):
        words += " Where the pull enters below the surface the rope runs through ice, which is not in the model."
    return words


def _unsettled(outcomes: Sequence[Outcome]) -> str:
    """Both ends of the band of the peak, where they differ; one sentence for several cases."""
    bands = {
        (end["goes"]["peak"], end["stays"]["peak"])
        for end in (outcome.the_peak.band for outcome in outcomes)
        if {"goes", "stays"} <= end.keys()
    }
    wide = [(goes, stays) for goes, stays in bands if abs(stays - goes) > ALIKE * max(goes, stays)]
    if not wide:
        return ""
    (goes, stays), several = wide[0], len({id(outcome) for outcome in outcomes}) > 1
    own = "each peak has a band" if several else f"peak {goes:.1f} kN if every chip comes out, {stays:.1f} if none does"
    return f" Which chips come out is not settled: {own}."


def _cone_ends(tip: np.ndarray) -> tuple[float, float]:
    """Where the cone's sketch comes out of the surface, x [mm] on both sides of its tip."""
    reach = float(-tip[1] / np.tan(np.radians(CONE_RISE)))
    return tip[0] - reach, tip[0] + reach


def event_words(event: Happened) -> str:
    """Load and movement of the load point."""
    return f"{event.load_kN:.{1 if event.load_kN >= 1 else 2}f} kN at {millimetres(event.displacement_mm)}"


def draw_event(axes: Axes, outcome: Outcome, event: Happened, most: float) -> None:
    """Ice, hole, tube and forces at an event; most : force [N per mm] that is drawn a quarter of the tube's length."""
    case, bent = outcome.case, axis_of(event, outcome.case)
    length, radius = float(case["tube.length_mm"]), 0.5 * float(case["tube.od_mm"])
    draw_ice(axes, case, 6 * length)
    draw_hole(axes, case, bent, gone_mm(case, event))
    draw_bearing(axes, bent, event, radius, 0.25 * length / most)
    draw_tube(axes, case, bent)
    draw_yielded(axes, bent, event, radius)
    if event.name == "peak" and outcome.peak_mode == CONE_MODE:
        _draw_cone(axes, bent.at(bent.s[-1]))
    end = draw_pull(axes, case, bent, 0.36 * length, event.s_mm[event.held_node])
    up = case["pull.direction_deg"] > 45
    place, how = ((end[0] + 4, end[1] - 6), ("left", "top")) if up else ((end[0], end[1] + 4), ("right", "bottom"))
    axes.text(*place, "pull", fontsize=9, color=PULL, ha=how[0], va=how[1], zorder=7)
    if case["placement.angle_deg"]:
        draw_angle(axes, case, 0.3 * length)


def _draw_cone(axes: Axes, tip: np.ndarray) -> None:
    """Lines from the tip to the surface."""
    for end in _cone_ends(tip):
        axes.plot([tip[0], end], [tip[1], 0], "--", color=CONE, lw=1.6, zorder=2.2)
