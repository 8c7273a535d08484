"""Tubes against each other: the load over the mass, and the front of those that no other tube beats in both.

The load is the peak, or another that a pull reads (`outcome.data.LOADS`); several stand in panels side by side.
The keys of a tube are the designer's; the others (the direction of the pull, say) are what each tube must stand: its
peak is the least over them. A tube is on the front if no other is as light or lighter and holds as much or more, one of
the two strictly (Pareto). Peaks are steady to a hundredth only (`fem.tube.peak.STEADY`), so of the front those tubes
are named that hold WORTH more than the lighter ones named. A tube with a pull that was not solved has no such least and
is left out.

The mass is that of `case.mass`. The peaks know no ovalling and no buckling of the wall (`fem.tube.cross_section`), to
which a wide thin tube may owe its place on the front.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...fem.tube.modes import in_order, mode_named
from ..case.mass import tube_mass
from ..case.words import case_words, short_words, varying
from ..command.numbers import plural
from ..outcome.cautions import own_caution
from ..outcome.data import LOADS, Outcome, known
from .grid import STATED, stated_before, stated_part
from .style import FRONT, INK, heading, in_our_look, marked, save, small_print, tidy

WORTH = 0.01  # share of a peak; less is no gain


def front(points: Sequence[tuple[float, float]]) -> list[int]:
    """Places of the (mass, peak) that no other beats: as light or lighter and as much or more, one strictly."""
    return [
        at
        for at, (mass, peak) in enumerate(points)
        if not any(m <= mass and p >= peak and (m < mass or p > peak) for m, p in points)
    ]


def worthwhile(points: Sequence[tuple[float, float]]) -> list[int]:
    """Of the front, by mass, those whose peak is WORTH more than that of the one before."""
    named: list[int] = []
    for at in sorted(front(points), key=lambda at: points[at]):
        if not named or points[at][1] > (1 + WORTH) * points[named[-1]][1]:
            named.append(at)
    return named


@in_our_look
def draw_front(
    outcomes: Sequence[Outcome], keys: Sequence[str], title: str, path: Path, loads: Sequence[str] = ("peak",)
) -> str:
    """Load over mass with the front, a panel for each of the loads; returns the words."""
    figure = Figure(figsize=(10.5 if len(loads) == 1 else 8.0 * len(loads), 6.2), layout="constrained")
    words = []
    for axes, load in zip(figure.subplots(1, len(loads), squeeze=False).ravel(), loads, strict=True):
        tubes, left_out = _weakest(outcomes, [key for key in keys if key.startswith("tube.")], load)
        points = [(1e3 * tube_mass(outcome.case), known(outcome.load(load))) for outcome in tubes]
        best = worthwhile(points)
        of_tube = [key for key in keys if key.startswith("tube.")]
        names = [", ".join(short_words(key, tubes[at].case[key]) for key in of_tube) for at in best]
        _draw_tubes(axes, tubes, points, best, names, load)
        named = "" if tuple(loads) == ("peak",) else f"{LOADS[load]}: "
        words.append(named + _words(tubes, points, best, names, load))
        if left_out:
            words.append(f"Left out for a pull that was not solved: {left_out}.")
    heading(figure, title)
    case = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {case}\n{own_caution(outcomes)}")
    save(figure, path)
    return "\n".join([*words, own_caution(outcomes)])


def _draw_tubes(
    axes: Axes,
    tubes: Sequence[Outcome],
    points: Sequence[tuple[float, float]],
    best: Sequence[int],
    names: Sequence[str],
    load: str,
) -> None:
    for mode in map(mode_named, in_order({outcome.mode(load) for outcome in tubes})):
        of_mode = [point for point, outcome in zip(points, tubes, strict=True) if outcome.mode(load) == mode.name]
        axes.plot(
            *zip(*of_mode, strict=True), **marked(mode.marker, mode.colour, 7), label=f"weakest pull: {mode.name}"
        )
    axes.plot(
        *zip(*(points[at] for at in best), strict=True), "-", color=FRONT, lw=1.2, label="front: no other is better"
    )
    for number, at in enumerate(best, 1):
        axes.annotate(str(number), points[at], (-11, 5), textcoords="offset points", fontsize=9.5, color=FRONT)
    tidy(axes)
    axes.set_ylim(0, 1.12 * max(load for _, load in points))
    for name, strength in dict.fromkeys(stated for tube in tubes if (stated := stated_part(tube))):
        if strength < axes.get_ylim()[1]:
            axes.axhline(strength, color=INK, ls=":", lw=1)
            axes.annotate(f"{name} as stated", (0.01, strength), **STATED)
    axes.set_xlabel("mass of the tube [g]")
    axes.set_ylabel(f"{LOADS[load]} [kN]")
    axes.set_title("\n".join(f"{n}: {name}" for n, name in enumerate(names, 1)), fontsize=8.5, loc="left")
    axes.legend(fontsize=9)


def _weakest(outcomes: Sequence[Outcome], keys: Sequence[str], load: str) -> tuple[list[Outcome], int]:
    """Of each tube with as many pulls as any the outcome with the least load; how many tubes have fewer."""
    pulls: dict[tuple[Any, ...], list[Outcome]] = {}
    for outcome in outcomes:
        pulls.setdefault(tuple(outcome.case[key] for key in keys), []).append(outcome)
    whole = max(map(len, pulls.values()))
    found = [min(of, key=lambda outcome: known(outcome.load(load))) for of in pulls.values() if len(of) == whole]
    return found, len(pulls) - len(found)


def _words(
    tubes: Sequence[Outcome],
    points: Sequence[tuple[float, float]],
    best: Sequence[int],
    names: Sequence[str],
    load: str,
) -> str:
    lines = [
        f"{len(best)} of {plural(len(tubes), 'tube')} on the front: no other is as light and holds as much. Tubes that "
        f"hold less than {WORTH:.0%} more than a lighter one are not named."
    ]
    for at, name in zip(best, names, strict=True):
        mass, peak = points[at]
        lines.append(f"- {mass:.0f} g, {peak:.1f} kN ({tubes[at].mode(load)}): {name}")
    lines.append(
        f"The {LOADS[load]} is the least over the pulls tried; the mass is that of tube and thread, without hanger."
    )
    if before := sum(stated_before(tube, load) for tube in tubes):
        lines.append(f"In {before} of {len(tubes)} hanger or sling fails first, at its stated strength.")
    return "\n".join(lines)
