"""The first damage in pictures: where the ice fails, of one case and of several side by side; onsets over a key.

What fails is drawn by `failure`: index of tension and of shear about the damage, and the surface from above. One case
is drawn at its onset; cases side by side at one and the same pull, so that what the varied key changes is seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...fem.tube.modes import in_order, mode_named
from ..case.words import AXIS_WORDS, case_words, short_words, varying
from ..files.store import read_json
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome
from ..outcome.models import MODELS
from ..words.answer import damage_words, limit_words
from .cuts import read_fields
from .failure import KINDS, Shown, draw_section, draw_surface, draw_whole, window_of
from .style import (
    COMPRESSION,
    INK,
    README,
    SHARE_COLOURS,
    TENSION,
    heading,
    in_our_look,
    marked,
    places,
    save,
    set_axis,
    small_print,
    tidy,
)

HOW = (
    "Ticks: along the largest tension; dots: it is square to the page; a crack opens square to it. Star: first damage."
)

LEVER = "Shares above 100 %: the back, by the lever, pushes with the pull, and the front bears that too."


@in_our_look
def stress_picture(outcome: Outcome, fields_path: Path, path: Path | None) -> Figure:
    """Index of tension and of shear about the first damage, the surface from above, the whole, the answer in words."""
    shown = Shown(outcome, read_fields(fields_path), outcome.onset_kN)
    figure = Figure(figsize=(README, 4.7), layout="constrained")
    figure.set_layout_engine("constrained", h_pad=0.08)
    grid = figure.add_gridspec(1, 4, width_ratios=(0.72, 1, 1, 1))
    panels = [figure.add_subplot(grid[0, column]) for column in (1, 2, 3, 0)]
    window, leading = window_of(outcome), _leading(outcome)
    for axes, kind in zip(panels, KINDS, strict=False):
        shades = draw_section(axes, shown, kind, window, ticks=kind == "tension")
        _scale(figure, shades, axes, f"index of {kind} at the onset load")
        axes.set_title(f"{kind}, plane of the pull", fontsize=10)
    shades = draw_surface(panels[2], shown, leading)
    _scale(figure, shades, panels[2], f"index of {leading} at the onset load")
    panels[2].set_title(f"{leading}, surface from above", fontsize=10)
    draw_whole(panels[3], outcome, window)
    panels[3].set_title("where it is", fontsize=10)
    told = [limit_words(outcome)] if outcome.limit_kN is not None else []
    told += [damage_words(outcome), f"crack {outcome.onset.crack}"]
    heading(figure, "; ".join(told), 12)
    below = small_print(figure, f"{HOW}\n{case_words(outcome.case, outcome)}\n{own_caution([outcome])}")
    figure.set_figheight(3.55 + 0.2 * len(figure.get_suptitle().split("\n")) + below)
    return save(figure, path)


@in_our_look
def stress_strip(folders: Sequence[Path], key: str, path: Path | None) -> Figure:
    """Index of tension and shear and the surface from above, a column for each case, all at one and the same pull.

    folders : hold outcome.json and fields.vtu.  key : titles the columns.
    """
    outcomes = [Outcome.from_dict(read_json(folder / "outcome.json")) for folder in folders]
    pull = float(np.sort([outcome.onset_kN for outcome in outcomes])[len(outcomes) // 2])
    wide = max(README, 3.0 * len(folders) + 1.0)
    figure = Figure(figsize=(wide, 11.0), layout="constrained")
    panels = figure.subplots(3, len(folders), squeeze=False)
    for column, folder, outcome in zip(panels.T, folders, outcomes, strict=True):
        shown, window = Shown(outcome, read_fields(folder / "fields.vtu"), pull), window_of(outcome)
        shades = [draw_section(column[k], shown, kind, window, kind == "tension") for k, kind in enumerate(KINDS)]
        draw_surface(column[2], shown, _leading(outcome))
        for axes, words in zip(column, (*(f"{kind}, plane of the pull" for kind in KINDS), ""), strict=True):
            axes.set_title(words or f"{_leading(outcome)}, surface from above", fontsize=9.5)
        damage = fill(f"first damage at {outcome.onset_kN:.2f} kN: {outcome.onset.mode} {outcome.onset.place}", 42)
        column[0].set_title(f"{fill(short_words(key, outcome.case[key]), 36)}\n{damage}\n\n{column[0].get_title()}")
    for axes in (*panels[:2].ravel(), *panels[:, 1:].ravel()):
        axes.set(**({"xlabel": ""} if axes in panels[:2] else {}), **({"ylabel": ""} if axes in panels[:, 1:] else {}))
    for row, kind, drawn in zip(panels, KINDS, shades, strict=False):
        figure.colorbar(drawn, ax=list(row), shrink=0.8, aspect=16).set_label(f"index of {kind} (1: fails)")
    heading(figure, f"What breaks at one and the same pull, {pull:.2f} kN", 12)
    common = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"{HOW}\nAll: {common}\n{own_caution(outcomes)}")
    return save(figure, path)


def _leading(outcome: Outcome) -> str:
    """The index that the first damage is of."""
    return "tension" if outcome.onset.mode == "tension" else "shear"


def _scale(figure: Figure, shades: Any, axes: Axes, words: str) -> None:
    bar = figure.colorbar(shades, ax=axes, orientation="horizontal", shrink=0.9, aspect=22, pad=0.02)
    bar.set_ticks([0.0, 0.5, 1.0], labels=["0", "0.5", "1: fails"])
    bar.set_label(words)


@in_our_look
def sweep_figure(outcomes: Sequence[Outcome], key: str, title: str, path: Path | None) -> Figure:
    """Onset, shares of the load, stress at the mouth and compliance against the varied key."""
    x, line = places(outcomes, key)
    figure = Figure(figsize=(README, 7.6), layout="constrained")
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
    shared = f"All: {case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))}"
    if max(each.share_front for each in onsets) > 1:
        shared = f"{LEVER}\n{shared}"
    small_print(figure, shared)
    return save(figure, path)


def _draw_onset(axes: Axes, x: Sequence[Any], outcomes: Sequence[Outcome], line: str) -> None:
    axes.plot(x, [outcome.onset_kN for outcome in outcomes], line or " ", color=INK, lw=1)
    for mode in map(mode_named, in_order({outcome.onset.mode for outcome in outcomes})):
        at = [i for i, outcome in enumerate(outcomes) if outcome.onset.mode == mode.name]
        loads = [outcomes[i].onset_kN for i in at]
        axes.plot([x[i] for i in at], loads, **marked(mode.marker, mode.colour, 8), label=mode.name)
    axes.set_ylim(0, 1.06 * axes.get_ylim()[1])
    axes.set_ylabel("onset [kN]")
    axes.set_title(MODELS["onset"].title, fontsize=10)
    axes.legend(title="fails by", fontsize=8.5, title_fontsize=8.5)
