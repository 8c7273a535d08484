"""How many repeats tell placements apart: the power of a test against the pulls of each, a line for each pair."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from ..command.numbers import percent
from ..command.plain_text import shortened
from .style import INK, LIMIT, LINES, QUIET, heading, in_our_look, save, small_print, tidy

if TYPE_CHECKING:
    from ..field.tell_apart import Telling

MOST, LONGEST = len(LINES), 44  # lines in colour; characters of a label
TARGET = 0.8


@in_our_look
def power_figure(tellings: Sequence[Telling], path: Path | None) -> Figure:
    """The picture of some pairs, first those that are told apart soonest; path : None to write nothing."""
    figure = Figure(figsize=(9.5, 5.2), layout="constrained")
    axes = figure.add_subplot()
    shown = _some(tellings)
    for telling in tellings:
        if telling not in shown:
            axes.plot(telling.power.repeats, _values(telling), color=QUIET, lw=0.9, zorder=1)
    ends = []
    for colour, telling in zip(LINES, shown, strict=False):
        values = _values(telling)
        axes.plot(telling.power.repeats, values, "o-", color=colour, lw=1.8, ms=4, zorder=2)
        ends.append((values[-1], colour, f"{telling.first} and {telling.second}"))
    _name(axes, ends, tellings[0].power.repeats[-1])
    axes.axhline(TARGET, color=LIMIT, lw=1.2, ls="--", zorder=0)
    axes.text(2, TARGET + 0.015, " four times in five", color=INK, fontsize=8.5)
    axes.set_ylim(0, 1.02)
    axes.yaxis.set_major_formatter(lambda value, _: percent(value, 0))
    axes.set_xlabel("pulls of each placement")
    axes.set_ylabel("chance that a test tells them apart")
    axes.set_xticks(range(2, tellings[0].power.repeats[-1] + 1, 2))
    tidy(axes)
    heading(figure, _title(tellings), 11.5)
    power = tellings[0].power
    scatter = percent(power.scatter, 0)
    small_print(figure, f"Simulated days in one ice each; repeats scatter by {scatter} (assumed). Welch's t at 5 %.")
    return save(figure, path)


def _values(telling: Telling) -> list[float]:
    return [known.value for known in telling.power.power]


def _some(tellings: Sequence[Telling]) -> list[Telling]:
    """Spread evenly from the pair told apart soonest to the last."""
    if len(tellings) <= MOST:
        return list(tellings)
    step = (len(tellings) - 1) / (MOST - 1)
    return [tellings[round(k * step)] for k in range(MOST)]


def _title(tellings: Sequence[Telling]) -> str:
    best, worst = tellings[0].power.least, tellings[-1].power.least
    most = tellings[0].power.repeats[-1]
    if best is None:
        return f"No two placements are told apart by {most} pulls of each"
    pairs = f"{tellings[0].first} and {tellings[0].second}"
    if len(tellings) == 1:
        return f"{best} pulls of each tell {pairs} apart four times in five"
    last = f"more than {most}" if worst is None else f"{worst}"
    return f"{best} pulls of each tell {pairs} apart; the pair most alike needs {last}"


def _name(axes: object, ends: Sequence[tuple[float, str, str]], last: int) -> None:
    """Names at the right end of the lines, pushed apart where they would meet."""
    height = -1.0
    for value, _, name in sorted(ends):
        height = max(value, height + 0.055)
        axes.annotate(  # type: ignore[attr-defined]
            shortened(name, LONGEST), (last, value), (last + 0.5, height), color=INK, fontsize=8.5, va="center",
            annotation_clip=False,
        )  # fmt: skip
