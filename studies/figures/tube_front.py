"""Tubes against each other: the peak over the mass, and the front of those that no other tube beats in both.

The keys of a tube are the designer's; the others (the direction of the pull, say) are what each tube must stand: its
peak is the least over them. A tube is on the front if no other is as light or lighter and holds as much or more, one of
the two strictly (Pareto). Peaks are steady to a hundredth only (`fem.tube.peak.STEADY`), so of the front those tubes
are named that hold WORTH more than the lighter ones named. A tube with a pull that was not solved has no such least and
is left out.

    m = rho [pi/4 (D^2 - d^2) length + RING_SHARE pi ((D/2 + h)^2 - (D/2)^2) threaded length]                      [kg]

Steel of the tube with a ridge of thread as thick as the cone's model takes it. Left out: hanger, cutting teeth, and
whatever a made tube has besides. The peaks know no ovalling and no buckling of the wall (`fem.tube.cross_section`), to
which a wide thin tube may owe its place on the front.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import pi
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from ...fem.tube.modes import in_order, mode_named
from ...geometry.threaded_section import RING_SHARE
from ...materials import metal_named
from ..case.words import case_words, short_words, varying
from ..command.numbers import plural
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome, known
from .grid import stated_before
from .style import FRONT, heading, save, small_print, tidy

WORTH = 0.01  # share of a peak; less is no gain


def tube_mass(case: Mapping[str, Any]) -> float:
    """Mass [kg] of the tube of a case's settings (module docstring)."""
    outer, wall, height = (case[f"tube.{name}_mm"] / 1e3 for name in ("od", "wall", "thread_height"))
    length, threads = (case[f"tube.{name}_mm"] / 1e3 for name in ("length", "thread_length"))
    body = pi / 4 * (outer**2 - (outer - 2 * wall) ** 2) * length
    ridge = RING_SHARE * pi * ((outer / 2 + height) ** 2 - (outer / 2) ** 2) * threads
    return metal_named(case["tube.metal"]).density * (body + ridge)


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


def draw_front(outcomes: Sequence[Outcome], keys: Sequence[str], title: str, path: Path) -> str:
    """Peak over mass with the front; returns the words."""
    tubes, left_out = _weakest(outcomes, [key for key in keys if key.startswith("tube.")])
    points = [(1e3 * tube_mass(outcome.case), known(outcome.peak_kN)) for outcome in tubes]
    best = worthwhile(points)
    names = [", ".join(short_words(key, tubes[at].case[key]) for key in keys if key.startswith("tube.")) for at in best]
    figure = Figure(figsize=(10.5, 5.2 + 0.16 * len(best)), layout="constrained")
    axes = figure.add_subplot()
    for mode in map(mode_named, in_order({str(outcome.peak_mode) for outcome in tubes})):
        of_mode = [point for point, outcome in zip(points, tubes, strict=True) if outcome.peak_mode == mode.name]
        style: dict[str, Any] = {"color": mode.colour, "ms": 6, "alpha": 0.7, "ls": ""}
        axes.plot(*zip(*of_mode, strict=True), mode.marker, label=f"weakest pull: {mode.name}", **style)
    axes.plot(
        *zip(*(points[at] for at in best), strict=True), "-", color=FRONT, lw=1.2, label="front: no other is better"
    )
    for number, at in enumerate(best, 1):
        axes.annotate(str(number), points[at], (-11, 5), textcoords="offset points", fontsize=9.5, color=FRONT)
    tidy(axes)
    axes.set_xlabel("mass of the tube [g]")
    axes.set_ylabel("peak [kN]")
    axes.set_title("\n".join(f"{n}: {name}" for n, name in enumerate(names, 1)), fontsize=8.5, loc="left")
    axes.legend(fontsize=9)
    heading(figure, title)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {words}\n{own_caution(outcomes)}")
    save(figure, path)
    caution = own_caution(outcomes)
    if left_out:
        caution = f"Left out for a pull that was not solved: {left_out}.\n{caution}"
    return _words(tubes, points, best, names, caution)


def _weakest(outcomes: Sequence[Outcome], keys: Sequence[str]) -> tuple[list[Outcome], int]:
    """Of each tube with as many pulls as any the outcome with the least peak; how many tubes have fewer."""
    pulls: dict[tuple[Any, ...], list[Outcome]] = {}
    for outcome in outcomes:
        pulls.setdefault(tuple(outcome.case[key] for key in keys), []).append(outcome)
    whole = max(map(len, pulls.values()))
    found = [min(of, key=lambda outcome: known(outcome.peak_kN)) for of in pulls.values() if len(of) == whole]
    return found, len(pulls) - len(found)


def _words(
    tubes: Sequence[Outcome],
    points: Sequence[tuple[float, float]],
    best: Sequence[int],
    names: Sequence[str],
    caution: str,
) -> str:
    lines = [
        f"{len(best)} of {plural(len(tubes), 'tube')} on the front: no other is as light and holds as much. Tubes that "
        f"hold less than {WORTH:.0%} more than a lighter one are not named."
    ]
    for at, name in zip(best, names, strict=True):
        mass, peak = points[at]
        lines.append(f"- {mass:.0f} g, {peak:.1f} kN ({tubes[at].peak_mode}): {name}")
    lines.append("The peak is the least over the pulls tried; the mass is that of tube and thread, without hanger.")
    if before := sum(map(stated_before, tubes)):
        lines.append(f"In {before} of {len(tubes)} hanger or sling fails first, at its stated strength.")
    return "\n".join([*lines, caution])
