"""The pictures of a grid of peaks: lines with their modes, and the map of what gives way.

lines    the first key along the axis, a line for each value of the second, a panel for each of a third
map      the first key along, the second up, a panel for each value of a third: colour tells the mode, numbers the
         load in kN; a dot: the tube is bent by then; a frame: hanger or sling fails first, at its
         stated strength; a wavy equals sign: another mode would come within CLOSE of the peak, so that the name
         of the mode is a toss-up

The load is the peak, or another that a pull reads (`outcome.data.LOADS`); several stand in panels side by side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from ...fem.tube.modes import in_order, is_stated, mode_named
from ..case.words import AXIS_WORDS, case_words, short_words, varying
from ..command.numbers import plural
from ..outcome.cautions import own_caution
from ..outcome.data import LOADS, Outcome, known
from .style import INK, QUIET, README, heading, in_our_look, save, set_axis, shades, small_print, tidy

CLOSE = 0.1  # share of the peak
BANDED = 3  # lines of a panel whose bands can be told apart
STATED: dict[str, Any] = {"xycoords": ("axes fraction", "data"), "fontsize": 8, "va": "bottom"}  # where its words stand


def draw_lines(
    outcomes: Sequence[Outcome], keys: Sequence[str], title: str, path: Path, loads: Sequence[str] = ("peak",)
) -> str:
    """Loads as lines; returns the words.  loads : of `outcome.data.LOADS`."""
    lines_figure(outcomes, keys, title, path, loads)
    return told(outcomes, keys, loads)


@in_our_look
def lines_figure(
    outcomes: Sequence[Outcome], keys: Sequence[str], title: str, path: Path | None, loads: Sequence[str] = ("peak",)
) -> Figure:
    """Loads against the first key, a line for each value of the second, a panel for each of the others.

    loads : of `outcome.data.LOADS`, a row of panels each.
    """
    panels = _panels(outcomes, keys)
    figure = Figure(figsize=(max(README, 6.2 * len(panels) + 0.6), 4.6 * len(loads) + 1.0), layout="constrained")
    grid = figure.subplots(len(loads), len(panels), squeeze=False, sharey="row")
    along, lines = (_values(outcomes, key) for key in keys[:2])
    styles = {value: (("-", "--")[n % 2], shades(len(lines))[n]) for n, value in enumerate(lines)}
    for row, load in zip(grid, loads, strict=True):
        tops = [end for outcome in outcomes for end in (known(outcome.load(load)), *_band(outcome, load))]
        row[0].set_ylim(0, 1.12 * max(tops))
        for axes, (words, part) in zip(row, panels.items(), strict=True):
            _draw_lines(axes, part, keys, along, styles, load)
            axes.set_title(words, fontsize=10)
        row[0].set_ylabel(f"{LOADS[load]} [kN]")
    handles = [
        Line2D([], [], ls=line, color=colour, lw=1.3, label=short_words(keys[1], value))
        for value, (line, colour) in styles.items()
    ]
    handles += [
        Line2D([], [], ls="", marker=mode_named(mode).marker, color=INK, label=mode) for mode in _modes(outcomes, loads)
    ]
    if len(lines) <= BANDED and any(_band(outcome, load) for outcome in outcomes for load in loads):
        handles += [Line2D([], [], lw=6, color=QUIET, alpha=0.6, label="bars: every chip\ncomes out, or none")]
    figure.legend(handles=handles, loc="outside right center")
    return _finish(figure, outcomes, title, path)


def _band(outcome: Outcome, load: str) -> tuple[float, ...]:
    """The load if every chip comes out and if none does [kN]; () where that is not known."""
    band = outcome.peak.band if outcome.peak else {}
    ends = tuple(band.get(end, {}).get(load) for end in ("goes", "stays"))
    return tuple(end for end in ends if end is not None) if None not in ends else ()


def _draw_lines(
    axes: Axes,
    part: Sequence[Outcome],
    keys: Sequence[str],
    along: Sequence[Any],
    styles: Mapping[Any, tuple[str, str]],
    load: str,
) -> None:
    """The lines of a panel. along : all values of the first key.  styles : line and colour for each of the second."""
    numbers = all(isinstance(value, int | float) for value in along)
    for number, (value, (style, colour)) in enumerate(styles.items()):
        line = [outcome for outcome in part if outcome.case[keys[1]] == value]
        line.sort(key=lambda outcome: along.index(outcome.case[keys[0]]))
        x = [outcome.case[keys[0]] if numbers else along.index(outcome.case[keys[0]]) for outcome in line]
        axes.plot(x, [known(outcome.load(load)) for outcome in line], style, color=colour, lw=1.3)
        for at, outcome in zip(x, line, strict=True):
            if len(styles) <= BANDED and (ends := _band(outcome, load)):
                axes.vlines(at, min(ends), max(ends), color=colour, lw=9 - 3 * number, alpha=0.25, zorder=0.6)
            axes.plot(at, known(outcome.load(load)), mode_named(outcome.mode(load)).marker, color=colour, ms=7)
    for name, strength in dict.fromkeys(stated for outcome in part if (stated := stated_part(outcome))):
        if strength > axes.get_ylim()[1]:
            continue
        axes.axhline(strength, color=INK, ls=":", lw=1)
        axes.annotate(f"{name} as stated", (0.01, strength), **STATED)
    tidy(axes)
    set_axis(axes, keys[0], numbers)
    if not numbers:
        axes.set_xticks(range(len(along)), [_tick(value) for value in along])
    axes.set_xlabel(AXIS_WORDS.get(keys[0], keys[0]).replace("   (", "\n("))


@in_our_look
def draw_map(
    outcomes: Sequence[Outcome], keys: Sequence[str], title: str, path: Path, loads: Sequence[str] = ("peak",)
) -> str:
    """The map of modes; returns the words.  loads : of `outcome.data.LOADS`, a row of panels each."""
    panels = _panels(outcomes, keys)
    columns, rows = (_values(outcomes, key) for key in keys[:2])
    width = max(0.72 * len(columns) + 1.2, 4.5)
    height = 0.5 * len(rows) + 0.9
    figure = Figure(figsize=(width * len(panels) + 1.8, height * len(loads) + 2.0), layout="constrained")
    grid = figure.subplots(len(loads), len(panels), squeeze=False, sharey=True)
    shown = [(load, name, part) for load in loads for name, part in panels.items()]
    for axes, (load, name, part) in zip(grid.ravel(), shown, strict=True):
        for outcome in part:
            _cell(axes, outcome, columns.index(outcome.case[keys[0]]), rows.index(outcome.case[keys[1]]), load)
        axes.set(xlim=(-0.5, len(columns) - 0.5), ylim=(-0.5, len(rows) - 0.5))
        axes.set_xticks(range(len(columns)), [_tick(value) for value in columns])
        axes.set_yticks(range(len(rows)), [_tick(value) for value in rows])
        axes.tick_params(length=0)
        axes.spines[:].set_visible(False)
        axes.set_title(", ".join(filter(None, (name, LOADS[load] if len(loads) > 1 else ""))), fontsize=10)
    for axes in grid[-1]:
        lines = AXIS_WORDS.get(keys[0], keys[0]).split("   ")
        axes.set_xlabel("\n".join(fill(line, 46) for line in lines))
    for axes in grid[:, 0]:
        axes.set_ylabel(fill(AXIS_WORDS.get(keys[1], keys[1]), 38))
    handles: list[Any] = [Patch(color=mode_named(mode).pale, label=mode) for mode in _modes(outcomes, loads)]
    if any(outcome.bent(load) for outcome in outcomes for load in loads):
        handles.append(Line2D([], [], ls="", marker=".", color=INK, label="tube bent by then"))
    if any(stated_before(outcome, load) for outcome in outcomes for load in loads):
        words = "hanger or sling\nfails first, at its\nstated strength"
        handles.append(Patch(fill=False, edgecolor=INK, linestyle="--", label=words))
    if "peak" in loads and any(map(_close, outcomes)):
        handles.append(Line2D([], [], ls="", marker="$≈$", color=INK, label=f"next mode within {CLOSE:.0%}"))
    figure.legend(handles=handles, loc="outside right center")
    _finish(figure, outcomes, title, path)
    return told(outcomes, keys, loads)


def _cell(axes: Axes, outcome: Outcome, x: int, y: int, load: str) -> None:
    axes.add_patch(Rectangle((x - 0.49, y - 0.49), 0.98, 0.98, color=mode_named(outcome.mode(load)).pale, lw=0))
    if stated_before(outcome, load):
        frame: dict[str, Any] = {"fill": False, "edgecolor": INK, "linestyle": "--", "lw": 0.9}
        axes.add_patch(Rectangle((x - 0.44, y - 0.42), 0.88, 0.84, **frame))
    mark = "≈ " if load == "peak" and _close(outcome) else ""
    axes.text(x, y, f"{mark}{known(outcome.load(load)):.1f}", ha="center", va="center", fontsize=9.5, color=INK)
    if outcome.bent(load):
        axes.plot(x + 0.33, y + 0.27, ".", color=INK, ms=5)


def _finish(figure: Figure, outcomes: Sequence[Outcome], title: str, path: Path | None) -> Figure:
    heading(figure, title)
    words = case_words(outcomes[0].case, outcomes[0], but=varying(outcomes))
    small_print(figure, f"All: {words}\n{own_caution(outcomes)}")
    return save(figure, path)


def _panels(outcomes: Sequence[Outcome], keys: Sequence[str]) -> dict[str, list[Outcome]]:
    """Records by the words for the keys beyond the second; one group without a name if there are two keys."""
    found: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        name = ", ".join(short_words(key, outcome.case[key]) for key in keys[2:])
        found.setdefault(name, []).append(outcome)
    return found


def _values(outcomes: Sequence[Outcome], key: str) -> list[Any]:
    """Values of a key, numbers in order; words as they come."""
    found = list(dict.fromkeys(outcome.case[key] for outcome in outcomes))
    return sorted(found) if all(isinstance(value, int | float) for value in found) else found


def _modes(outcomes: Sequence[Outcome], loads: Sequence[str]) -> list[str]:
    return in_order({outcome.mode(load) for outcome in outcomes for load in loads})


def _tick(value: float | str) -> str:
    return value.replace("_", " ") if isinstance(value, str) else f"{value:g}".replace("-", "−")


def stated_part(outcome: Outcome) -> tuple[str, float] | None:
    """Hanger or sling, and its stated strength [kN]."""
    rivals = outcome.the_peak.rivals
    return next(((rival.mode, rival.load_kN) for rival in rivals if is_stated(rival.mode)), None)


def stated_before(outcome: Outcome, load: str = "peak") -> bool:
    """Whether hanger or sling fails before that load, at its stated strength."""
    stated = stated_part(outcome)
    return stated is not None and stated[1] < known(outcome.load(load))


def _close(outcome: Outcome) -> bool:
    """Whether another mode of tube or ice would come at less than CLOSE above the peak."""
    own = [rival.load_kN for rival in outcome.the_peak.rivals if not is_stated(rival.mode)]
    return any(load < (1 + CLOSE) * known(outcome.peak_kN) for load in own)


def told(outcomes: Sequence[Outcome], keys: Sequence[str], loads: Sequence[str]) -> str:
    """The words of each load, its name before them if it is not the peak alone."""
    named = [f"{LOADS[load]}: " if tuple(loads) != ("peak",) else "" for load in loads]
    words = [name + _words(outcomes, keys, load) for name, load in zip(named, loads, strict=True)]
    return "\n".join(words) + f" {own_caution(outcomes)}"


def _words(outcomes: Sequence[Outcome], keys: Sequence[str], load: str) -> str:
    """Least and most, how often each mode, and the factor between the values of the second key."""
    ordered = sorted(outcomes, key=lambda outcome: known(outcome.load(load)))

    def place(outcome: Outcome) -> str:
        return ", ".join(short_words(key, outcome.case[key]) for key in keys)

    low, high = ordered[0], ordered[-1]
    words = (
        f"The pull reaches {known(low.load(load)):.1f} kN at the least ({place(low)}: {low.mode(load)}) and "
        f"{known(high.load(load)):.1f} kN at the most ({place(high)}: {high.mode(load)})."
    )
    counts = {mode: sum(outcome.mode(load) == mode for outcome in outcomes) for mode in _modes(outcomes, [load])}
    words += f" Of {plural(len(outcomes), 'placement')}: {', '.join(f'{mode} in {n}' for mode, n in counts.items())}."
    before = sum(stated_before(outcome, load) for outcome in outcomes)
    if before:
        words += f" In {before} hanger or sling fails first, at its stated strength."
    close = sum(map(_close, outcomes))
    if load == "peak" and close:
        words += f" In {close} the next mode of tube or ice lies within {CLOSE:.0%}: which of the two comes is open."
    return f"{words}{_ratio_words(outcomes, keys, load)}"


def _ratio_words(outcomes: Sequence[Outcome], keys: Sequence[str], load: str) -> str:
    """The factor between the two values of the second key; nothing if it has more, or no pair was solved."""
    second = _values(outcomes, keys[1])
    if len(second) != 2:
        return ""
    others = [key for key in keys if key != keys[1]]
    peaks = {tuple(r.case[key] for key in (*others, keys[1])): known(r.load(load)) for r in outcomes}
    ratios = [
        (peaks[(*at, second[1])] / peaks[(*at, second[0])], at)
        for *at, value in peaks
        if value == second[0] and (*at, second[1]) in peaks
    ]
    if not ratios:
        return ""
    found = []
    for ratio, at in (pick(ratios, key=lambda each: each[0]) for pick in (min, max)):
        where = ", ".join(short_words(key, value) for key, value in zip(others, at, strict=True))
        found.append(f"{ratio:.1f} ({where})")
    first, other = (short_words(keys[1], value) for value in second)
    if len(ratios) == 1:
        return f" The ratio of {other} to {first}: {found[0]}."
    return f" The ratio of {other} to {first}: from {found[0]} to {found[1]}."
