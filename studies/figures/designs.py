"""A design search: the load that the demanded share of the draws holds, over the mass of the tube.

Colour and marker tell what gives way in the weakest situation. Full: pulled in full, with the interval of the load
where the draws bound it. Hollow: refused before, its load is an upper bound. Ringed: meets the demand; numbers name
the lightest of these.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ...fem.tube.modes import in_order, mode_named
from ..case.words import case_words
from ..outcome.cautions import PULL_CAUTION
from ..words.designs import answers, demand_words
from .style import FRONT, LIMIT, README, heading, in_our_look, save, small_print, tidy

if TYPE_CHECKING:
    from ..sweep.verdict import Found, Verdict


@in_our_look
def draw_design(found: Found, path: Path | None) -> Figure:
    """The picture of a search; path : None to write nothing."""
    design = found.search.design
    figure = Figure(figsize=(README, 6.2), layout="constrained")
    axes = figure.subplots()
    for each in found.verdicts:
        _draw(axes, each)
    axes.axhline(design.require.limit_kN, color=LIMIT, lw=1.2, ls="--", zorder=1)
    best = answers(found)
    for number, each in enumerate(best, 1):
        at = (each.candidate.mass_g, each.reach_kN)
        axes.annotate(str(number), at, (8, -16), textcoords="offset points", fontsize=9.5, color=FRONT)
    tidy(axes)
    axes.margins(0.06, 0.12)
    axes.set_xlabel("mass of the tube [g]")
    share = f"limit that {100 * design.require.chance:g} % of the draws hold" if design.draws else "limit"
    axes.set_ylabel(f"{share}, weakest situation [kN]")
    named = [f"{n}: {each.candidate.words}, {each.candidate.mass_g:.0f} g" for n, each in enumerate(best, 1)]
    word = "lightest that meet the demand" if found.search.met else "none meets the demand; the closest"
    axes.set_title("\n".join([word, *named]), fontsize=8.5, loc="left")
    axes.legend(handles=_handles(found), fontsize=8.5, loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False)
    heading(figure, design.title)
    varied = {key for situation in design.situations for key in situation.values} | set(design.choices)
    varied |= {each.key for each in design.draws.randoms} if design.draws else set()
    varied |= {"placement.embedment_mm"} - set(design.given)
    places = "; ".join(situation.words for situation in design.situations)
    words = f"Demanded: {demand_words(design)}. Situations: {places}"
    if best:
        case = design.case(best[0].candidate, (best[0].situation, 0))
        words += f"\nAll: {case_words(case, but=varied)}"
    small_print(figure, f"{words}\n{PULL_CAUTION}")
    return save(figure, path)


def _draw(axes: Axes, verdict: Verdict) -> None:
    mode = mode_named(verdict.mode)
    at = (verdict.candidate.mass_g, verdict.reach_kN)
    low, high = verdict.reach_ends
    ends = [at[1] if end is None else end for end in (low, high)]
    axes.plot([at[0], at[0]], ends, "-", color=mode.colour, lw=1.2, alpha=0.7)
    face = mode.colour if verdict.whole else "none"
    style: dict[str, Any] = {"color": mode.colour, "mfc": face, "ms": 6, "alpha": 0.8, "ls": ""}
    axes.plot(*at, mode.marker, **style)
    if verdict.meets:
        axes.plot(*at, "o", mfc="none", mec=FRONT, ms=13, mew=1.1)


def _handles(found: Found) -> list[Line2D]:
    """Modes, and what full, hollow and ringed mean."""
    modes = map(mode_named, in_order({each.mode for each in found.verdicts}))
    handles = [Line2D([], [], ls="", marker=mode.marker, color=mode.colour, label=mode.name) for mode in modes]
    if any(not each.whole for each in found.verdicts):
        label = "hollow: refused before the end,\nholds this at most"
        handles.append(Line2D([], [], ls="", marker="o", mfc="none", color=LIMIT, label=label))
    if any(each.meets for each in found.verdicts):
        handles.append(Line2D([], [], ls="", marker="o", ms=12, mfc="none", mec=FRONT, label="meets the demand"))
    handles.append(Line2D([], [], color=LIMIT, lw=1.2, ls="--", label="demanded"))
    return handles
