"""Pictures, drawn with matplotlib alone (no screen, no graphics driver).

Tension is drawn in one hue (white to red), compression in another (white to blue), steel in grey; the pull is an arrow,
the first damage a star. Stresses are those at the onset load, so that pictures of different cases compare: red reaches
its full depth at `TENSION_SHOWN` MPa.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.path import Path as Outline
from matplotlib.tri import Triangulation

from ...fem.tube.modes import in_order, mode_named
from ..case.words import AXIS_WORDS, case_words, columns_of, short_words, varying
from ..files.store import read_json
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome
from ..outcome.models import MODELS
from ..words.answer import damage_words, limit_words
from .cuts import Cut, Fields, cut, read_fields
from .style import (
    COLUMNS,
    COMPRESSION,
    DAMAGE,
    FAINT,
    INK,
    PULL,
    QUIET_INK,
    SHARE_COLOURS,
    STEEL,
    TENSION,
    heading,
    in_our_look,
    places,
    save,
    set_axis,
    small_print,
    tidy,
    wrapped,
)

TENSION_SHOWN, COMPRESSION_SHOWN = 1.5, 6.0  # MPa at the onset load
TENSION_SHOWN_PER_KN = 4.5  # MPa/kN in the strip
COLUMNS_APART = 9  # per half height of the picture


@in_our_look
def stress_picture(outcome: Outcome, fields_path: Path, path: Path | None) -> Figure:
    """Tension and compression in the plane of the pull, tension on the surface from above, and the answer in words."""
    fields = read_fields(fields_path)
    figure = Figure(figsize=(13.5, 6.0), layout="compressed")
    panels = figure.subplots(1, 3, width_ratios=(1, 1, 0.95))
    reach = _reach(outcome)
    for axes, sign, name in ((panels[0], 1, "tension"), (panels[1], -1, "compression")):
        shades = _draw_section(axes, fields, outcome, sign, reach)
        _scale(figure, shades, axes, f"largest {name} at the onset load [MPa]")
        axes.set_title(f"{name} in the plane of the pull (dots: threads)", fontsize=10)
    shades = _draw_surface(panels[2], fields, outcome)
    _scale(figure, shades, panels[2], "largest tension at the onset load [MPa]")
    panels[2].set_title("the ice's surface from above", fontsize=10)
    words = wrapped(case_words(outcome.case, outcome), figure, 12)
    told = wrapped("; ".join(dict.fromkeys((limit_words(outcome), damage_words(outcome)))), figure, 12)
    figure.set_figheight(5.55 + 0.25 * len(f"{told}\n{words}".split("\n")))
    figure.suptitle(f"{told}\n{words}", fontsize=12)
    small_print(figure, own_caution([outcome]))
    return save(figure, path)


@in_our_look
def stress_strip(folders: Sequence[Path], key: str, path: Path) -> None:
    """Tension in the plane of the pull, side by side, titled by `key`; folders hold outcome.json and fields.vtu."""
    figure = Figure(figsize=(4.4 * len(folders) + 0.6, 5.0), layout="compressed")
    panels = np.atleast_1d(figure.subplots(1, len(folders)))
    outcomes = [Outcome.from_dict(read_json(folder / "outcome.json")) for folder in folders]
    for axes, folder, outcome in zip(panels, folders, outcomes, strict=True):
        shades = _draw_section(axes, read_fields(folder / "fields.vtu"), outcome, 1, 55.0, per_kN=True)
        damage = f"{outcome.onset_kN:.2f} kN: {outcome.onset.mode}\n{outcome.onset.place}"
        axes.set_title(f"{fill(short_words(key, outcome.case[key]), 52)}\n{damage}", fontsize=9.5)
    figure.colorbar(shades, ax=list(panels), shrink=0.9).set_label("largest tension per kN of pull [MPa/kN]")
    small_print(figure, f"All: {case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))}")
    save(figure, path)


@in_our_look
def sweep_figure(outcomes: Sequence[Outcome], key: str, title: str, path: Path | None) -> Figure:
    """Onset, shares of the load, stress at the mouth and compliance against the varied key."""
    x, line = places(outcomes, key)
    figure = Figure(figsize=(11.5, 8.2), layout="constrained")
    onset, shares, mouth, compliance = figure.subplots(2, 2).ravel()
    _draw_onset(onset, x, outcomes, line)
    onsets = [outcome.onset for outcome in outcomes]
    front, threads, behind = SHARE_COLOURS
    for share, label, colour in (
        ([each.share_front for each in onsets], "bearing in front", front),
        ([each.share_threads for each in onsets], "threads", threads),
        ([each.share_back_or_toe for each in onsets], "bearing behind (lever)", behind),
    ):
        shares.plot(x, [100 * each for each in share], f"o{line}", color=colour, label=label)
    shares.axhline(0, color="black", lw=0.6)
    shares.set_ylabel("share of the pull [%]")
    shares.set_title("who carries the pull (sums to 100 %)", fontsize=10)
    shares.legend(fontsize=8.5)
    for stress, label, colour in (
        ([each.mouth_tension_MPa_per_kN for each in onsets], "tension", TENSION),
        ([each.mouth_compression_MPa_per_kN for each in onsets], "compression", COMPRESSION),
    ):
        mouth.plot(x, stress, f"o{line}", color=colour, label=label)
    mouth.set_ylim(0, 1.06 * mouth.get_ylim()[1])
    mouth.set_ylabel("MPa per kN of pull")
    mouth.set_title("stress at the mouth (average over the critical line)", fontsize=10)
    mouth.legend(fontsize=8.5)
    compliance.plot(x, [1e3 * outcome.onset.compliance_mm_per_kN for outcome in outcomes], f"o{line}", color=INK)
    compliance.set_ylim(0, 1.06 * compliance.get_ylim()[1])
    compliance.set_ylabel("µm per kN of pull")
    compliance.set_title("movement of the load point along the pull", fontsize=10)
    for axes in (onset, shares, mouth, compliance):
        tidy(axes)
        set_axis(axes, key, bool(line))
        axes.set_xlabel(AXIS_WORDS.get(key, key).replace("   (", "\n("))
    heading(figure, title)
    small_print(figure, f"All: {case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))}")
    return save(figure, path)


def _draw_onset(axes: Axes, x: Sequence[Any], outcomes: Sequence[Outcome], line: str) -> None:
    axes.plot(x, [outcome.onset_kN for outcome in outcomes], line or " ", color=INK, lw=1)
    for mode in map(mode_named, in_order({outcome.onset.mode for outcome in outcomes})):
        at = [i for i, outcome in enumerate(outcomes) if outcome.onset.mode == mode.name]
        loads = [outcomes[i].onset_kN for i in at]
        axes.plot([x[i] for i in at], loads, mode.marker, ls="", color=mode.colour, label=mode.name)
    axes.set_ylim(0, 1.06 * axes.get_ylim()[1])
    axes.set_ylabel("onset [kN]")
    axes.set_title(MODELS["onset"].title, fontsize=10)
    axes.legend(title="fails by", fontsize=8.5, title_fontsize=8.5)


def _draw_section(axes: Axes, fields: Fields, outcome: Outcome, sign: int, reach: float, per_kN: bool = False) -> Any:
    """Shade the plane y = 0 by the largest tension (sign 1) or compression (sign -1); returns the shading."""
    ice, tube = cut(fields, 1, ("ice", "crust")), cut(fields, 1, ("tube",))
    level = 1.0 if per_kN else outcome.onset_kN
    shown = TENSION_SHOWN_PER_KN if per_kN else TENSION_SHOWN if sign > 0 else COMPRESSION_SHOWN
    principal = fields.data["principal_MPa_per_kN"]
    value = np.maximum(ice.sample(principal[:, 2] if sign > 0 else -principal[:, 0]), 0) * level
    shades = _shade(axes, _triangulation(ice), value, shown, "Reds" if sign > 0 else "Blues")
    axes.tripcolor(_triangulation(tube), np.zeros(tube.x.size), cmap=_flat(STEEL), shading="gouraud", zorder=2)
    _draw_marks(axes, outcome, reach)
    _draw_columns(axes, outcome, Outline.make_compound_path(*shades.get_paths()), reach)
    return shades


def _draw_surface(axes: Axes, fields: Fields, outcome: Outcome) -> Any:
    surface = cut(fields, 2, ("ice", "crust"))
    value = np.maximum(surface.sample(fields.data["principal_MPa_per_kN"][:, 2]), 0) * outcome.onset_kN
    for side in (1, -1):
        shades = _shade(
            axes, Triangulation(surface.x, side * surface.y, surface.triangles), value, TENSION_SHOWN, "Reds"
        )
    x, y, z = outcome.onset.where_mm
    if z > -1.0:
        for beside in {y, -y}:
            axes.plot(x, beside, "*", color=DAMAGE, ms=13, mec="white", zorder=6)
    case = outcome.case
    start = 0.5 * case["tube.od_mm"] / np.cos(np.radians(case["placement.angle_deg"])) + 6.0
    length = 18.0 * np.cos(np.radians(case["pull.direction_deg"]))
    if length > 1.0:
        arrow = {"arrowstyle": "-|>", "color": PULL, "lw": 2}
        axes.annotate("", (start + length, 0), (start, 0), arrowprops=arrow, annotation_clip=False, zorder=5)
    reach = max(35.0, start + 20.0)
    axes.set(
        xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal", xlabel="x, along the pull [mm]", ylabel="y [mm]"
    )
    return shades


def _draw_marks(axes: Axes, outcome: Outcome, reach: float) -> None:
    """Star, pull, threads, crust and limits; a star beside the plane of the cut is hollow."""
    case, (x, y, z) = outcome.case, outcome.onset.where_mm
    in_plane = abs(y) < 1.0
    axes.plot(x, z, "*", color=DAMAGE if in_plane else "none", ms=14, mec="white" if in_plane else DAMAGE, zorder=6)
    axes.annotate(
        "first damage" if in_plane else f"first damage,\n{abs(y):.0f} mm beside\nthis plane",
        (x, z),
        (28, -42),
        textcoords="offset points",
        fontsize=8.5,
        arrowprops={"arrowstyle": "-", "lw": 0.7, "shrinkB": 6},
        zorder=6,
    )
    angle, pull = np.radians(case["placement.angle_deg"]), np.radians(case["pull.direction_deg"])
    axis = np.array([np.sin(angle), np.cos(angle)])
    head = axis * (case["tube.length_mm"] - case["placement.embedment_mm"])
    tail = head
    if case["placement.attachment"] == "tied_off":
        tail = axis * case.get("placement.sling_height_mm", 0.0)
    tip = tail + 0.3 * reach * np.array([np.cos(pull), np.sin(pull)])
    arrow = {"arrowstyle": "-|>", "color": PULL, "lw": 2.2}
    axes.annotate("", tuple(tip), tuple(tail), arrowprops=arrow, annotation_clip=False, zorder=5)
    axes.text(tip[0] + 0.02 * reach, tip[1] + 0.02 * reach, "pull", color=PULL, fontsize=9)
    top = max(0.35 * reach, tip[1] + 0.14 * reach, head[1] + 0.5 * case["tube.od_mm"])
    side = max(0.5 * (top + 1.05 * reach), abs(head[0]) + 1.2 * case["tube.od_mm"], tip[0] + 0.3 * reach)
    axes.set(xlim=(-side, side), ylim=(-1.05 * reach, top), aspect="equal")
    axes.set(xlabel="x, along the pull [mm]", ylabel="z, out of the ice [mm]")
    axes.text(0.95 * side, -reach, "ice ", ha="right", color=QUIET_INK, fontsize=9, style="italic")
    _draw_threads(axes, case)
    if case["ice.crust_mm"] > 0:
        axes.axhline(-case["ice.crust_mm"], color=FAINT, ls="--", lw=1)
        axes.text(-0.97 * side, -case["ice.crust_mm"], "crust", va="bottom", fontsize=8.5, style="italic")


def _draw_columns(axes: Axes, outcome: Outcome, ice: Outline, reach: float) -> None:
    """Faint lines along the columns, in the layers whose ice has any; dots if they run across the picture."""
    crust = outcome.case["ice.crust_mm"]
    limits, step = axes.axis(), reach / COLUMNS_APART
    place = np.linspace(-5 * reach, 5 * reach, 2001)
    for part, (along_x, _, along_z) in columns_of(outcome).items():
        end_on = np.hypot(along_x, along_z) < 0.5
        along = np.array([1.0, 0.0] if end_on else [along_x, along_z])
        style: dict[str, Any] = {"ls": (0, (0.1, 6)), "lw": 2, "dash_capstyle": "round"} if end_on else {"lw": 0.5}
        for across in np.arange(-40, 41) * step:
            x, z = along[0] * place + along[1] * across, along[1] * place - along[0] * across
            layer = (z > -crust) if part == "crust" else (z < -crust)
            (line,) = axes.plot(x[layer], z[layer], color=COLUMNS, alpha=0.6, zorder=1.5, **style)
            line.set_clip_path(ice, axes.transData)
        words = "dots: columns,\nend on" if end_on else "lines: columns"
        axes.text(0.97 * limits[0], 0.01 * reach, words, color=QUIET_INK, fontsize=9, style="italic", va="bottom")
    axes.axis(limits)


def _draw_threads(axes: Axes, case: dict[str, Any]) -> None:
    """Dots along both sides of the threaded part."""
    angle = np.radians(case["placement.angle_deg"])
    s = np.array([0.0, case["tube.thread_length_mm"]]) - case["placement.embedment_mm"]
    for side in (1, -1):
        out = side * (0.5 * case["tube.od_mm"] + 0.5 * case["tube.thread_height_mm"])
        x, z = s * np.sin(angle) + out * np.cos(angle), s * np.cos(angle) - out * np.sin(angle)
        axes.plot(x, z, ":", color=STEEL, lw=2.5, zorder=3)


def _shade(axes: Axes, at: Triangulation, value: np.ndarray, shown: float, hue: str) -> Any:
    levels = np.linspace(0, shown, 16)
    return axes.tricontourf(at, value, levels=levels, cmap=hue, extend="max", zorder=1)


def _scale(figure: Figure, shades: Any, axes: Axes, words: str) -> None:
    ticks = np.linspace(0, shades.levels[-1], 4)
    figure.colorbar(shades, ax=axes, orientation="horizontal", shrink=0.85, pad=0.02, ticks=ticks).set_label(words)


def _triangulation(at: Cut) -> Triangulation:
    return Triangulation(at.x, at.y, at.triangles)


def _flat(colour: str) -> Any:
    from matplotlib.colors import ListedColormap

    return ListedColormap([colour])


def _reach(outcome: Outcome) -> float:
    """Half height of the picture [mm]: a little more than the tube in the ice, and never less than 55 mm."""
    return max(55.0, 1.15 * float(outcome.case["placement.embedment_mm"]))
