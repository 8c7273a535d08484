"""The pictures of a grid of peaks: lines with their modes, and the map of what gives way.

lines    the first key along the axis, a line for each value of the second, a panel for each of a third
map      the first key along, the second up, a panel for each value of a third: colour tells the mode, numbers the
         peak in kN; a dot: the tube is bent by then; a frame: hanger or sling, at the strength stated for it,
         gives way before; a wavy equals sign: another mode would come within CLOSE of the peak, so that the name
         of the mode is a toss-up
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

from ...fem.tube.peak import STATED
from ..case.words import AXIS_WORDS, case_words, short_words, varying
from .peak import MODE_COLOURS, PEAK_MARKERS
from .style import INK, heading, save, set_axis, small_print, tidy

Record = dict[str, Any]
LINES = ("#1b6ca8", "#b2182b", "#555555", "#d95f02", "#7570b3", "#1b9e77")
CELLS = {  # pale enough to write on; told apart by eyes without the red or the green cones too (a test holds it)
    "cone": "#ee8866",
    "tube bends": "#aaaa00",
    "lever-out": "#77aadd",
    "threads stripped": "#eedd88",
    "rope": "#44bb99",
    "not reached": "#f2f2f2",
}
OTHER = "#dddddd"
CLOSE = 0.1  # share of the peak


def draw_lines(records: Sequence[Record], keys: Sequence[str], title: str, path: Path) -> str:
    """Peaks as lines; returns the words."""
    panels = _panels(records, keys)
    figure = Figure(figsize=(6.2 * len(panels) + 0.6, 5.6), layout="constrained")
    grid = figure.subplots(1, len(panels), squeeze=False, sharey=True).ravel()
    grid[0].set_ylim(0, 1.12 * max(record["peak_kN"] for record in records))
    along, lines = (_values(records, key) for key in keys[:2])
    styles = {value: (("-", "--")[n % 2], LINES[n % len(LINES)]) for n, value in enumerate(lines)}
    for axes, (words, part) in zip(grid, panels.items(), strict=True):
        _draw_lines(axes, part, keys, along, styles)
        axes.set_title(words, fontsize=10)
    grid[0].set_ylabel("peak [kN]")
    handles = [
        Line2D([], [], ls=line, color=colour, lw=1.3, label=short_words(keys[1], value))
        for value, (line, colour) in styles.items()
    ]
    handles += [
        Line2D([], [], ls="", marker=PEAK_MARKERS.get(mode, "x"), color=INK, label=mode) for mode in _modes(records)
    ]
    grid[0].legend(handles=handles, fontsize=9)
    _finish(figure, records, title, path)
    return _words(records, keys)


def _draw_lines(
    axes: Axes, part: Sequence[Record], keys: Sequence[str], along: Sequence[Any], styles: Mapping[Any, tuple[str, str]]
) -> None:
    """The lines of a panel. along : all values of the first key.  styles : line and colour for each of the second."""
    numbers = all(isinstance(value, int | float) for value in along)
    for value, (style, colour) in styles.items():
        line = [record for record in part if record["case"][keys[1]] == value]
        line.sort(key=lambda record: along.index(record["case"][keys[0]]))
        x = [record["case"][keys[0]] if numbers else along.index(record["case"][keys[0]]) for record in line]
        axes.plot(x, [record["peak_kN"] for record in line], style, color=colour, lw=1.3)
        for at, record in zip(x, line, strict=True):
            axes.plot(at, record["peak_kN"], PEAK_MARKERS.get(record["peak_mode"], "x"), color=colour, ms=7)
    for name, strength in dict.fromkeys(stated for record in part if (stated := _stated(record))):
        if strength > axes.get_ylim()[1]:
            continue
        axes.axhline(strength, color=INK, ls=":", lw=1)
        where: dict[str, Any] = {"xycoords": ("axes fraction", "data"), "fontsize": 8, "va": "bottom", "ha": "right"}
        axes.annotate(f"{name} as stated", (0.99, strength), **where)
    tidy(axes)
    set_axis(axes, keys[0], numbers)
    if not numbers:
        axes.set_xticks(range(len(along)), [_tick(value) for value in along])
    axes.set_xlabel(AXIS_WORDS.get(keys[0], keys[0]).replace("   (", "\n("))


def draw_map(records: Sequence[Record], keys: Sequence[str], title: str, path: Path) -> str:
    """The map of modes; returns the words."""
    panels = _panels(records, keys)
    columns, rows = (_values(records, key) for key in keys[:2])
    width = max(0.72 * len(columns) + 1.2, 4.5)
    figure = Figure(figsize=(width * len(panels) + 1.8, 0.5 * len(rows) + 2.9), layout="constrained")
    grid = figure.subplots(1, len(panels), squeeze=False, sharey=True).ravel()
    for axes, (name, part) in zip(grid, panels.items(), strict=True):
        for record in part:
            _cell(axes, record, columns.index(record["case"][keys[0]]), rows.index(record["case"][keys[1]]))
        axes.set(xlim=(-0.5, len(columns) - 0.5), ylim=(-0.5, len(rows) - 0.5))
        axes.set_xticks(range(len(columns)), [_tick(value) for value in columns])
        axes.set_yticks(range(len(rows)), [_tick(value) for value in rows])
        axes.tick_params(length=0)
        axes.spines[:].set_visible(False)
        axes.set_title(name, fontsize=10)
        axes.set_xlabel(AXIS_WORDS.get(keys[0], keys[0]).replace("   (", "\n("))
    grid[0].set_ylabel(fill(AXIS_WORDS.get(keys[1], keys[1]), 38))
    handles: list[Any] = [Patch(color=CELLS.get(mode, OTHER), label=mode) for mode in _modes(records)]
    if any(_bent(record) for record in records):
        handles.append(Line2D([], [], ls="", marker=".", color=INK, label="tube bent by then"))
    if any(stated_before(record) for record in records):
        words = "hanger or sling,\nas stated, gives\nway before"
        handles.append(Patch(fill=False, edgecolor=INK, linestyle="--", label=words))
    if any(map(_close, records)):
        handles.append(Line2D([], [], ls="", marker="$≈$", color=INK, label=f"next mode within {CLOSE:.0%}"))
    figure.legend(handles=handles, loc="outside right upper", fontsize=9, frameon=False)
    _finish(figure, records, title, path)
    return _words(records, keys)


def _cell(axes: Axes, record: Record, x: int, y: int) -> None:
    axes.add_patch(Rectangle((x - 0.49, y - 0.49), 0.98, 0.98, color=CELLS.get(record["peak_mode"], OTHER), lw=0))
    if stated_before(record):
        frame: dict[str, Any] = {"fill": False, "edgecolor": INK, "linestyle": "--", "lw": 0.9}
        axes.add_patch(Rectangle((x - 0.44, y - 0.42), 0.88, 0.84, **frame))
    mark = "≈ " if _close(record) else ""
    axes.text(x, y, f"{mark}{record['peak_kN']:.1f}", ha="center", va="center", fontsize=9.5, color=INK)
    if _bent(record):
        axes.plot(x + 0.33, y + 0.27, ".", color=INK, ms=5)


def _finish(figure: Figure, records: Sequence[Record], title: str, path: Path) -> None:
    heading(figure, title)
    words = case_words(records[0]["case"], records[0], but=varying(records))
    small_print(figure, f"All: {words}\n{records[0]['peak']['caution']}")
    save(figure, path)


def _panels(records: Sequence[Record], keys: Sequence[str]) -> dict[str, list[Record]]:
    """Records by the words for the keys beyond the second; one group without a name where there are two keys."""
    found: dict[str, list[Record]] = {}
    for record in records:
        name = ", ".join(short_words(key, record["case"][key]) for key in keys[2:])
        found.setdefault(name, []).append(record)
    return found


def _values(records: Sequence[Record], key: str) -> list[Any]:
    """Values of a key, numbers in order; words as they come."""
    found = list(dict.fromkeys(record["case"][key] for record in records))
    return sorted(found) if all(isinstance(value, int | float) for value in found) else found


def _modes(records: Sequence[Record]) -> list[str]:
    present = dict.fromkeys(record["peak_mode"] for record in records)
    known = [mode for mode in MODE_COLOURS if mode in present]
    return [*known, *(mode for mode in present if mode not in known)]


def _tick(value: float | str) -> str:
    return value.replace("_", " ") if isinstance(value, str) else f"{value:g}".replace("-", "−")


def _bent(record: Record) -> bool:
    return record["first_hinge_kN"] is not None


def _stated(record: Record) -> tuple[str, float] | None:
    """Hanger or sling, and the strength that is stated for it [kN]."""
    rivals = record["peak"]["rivals"]
    return next(((rival["mode"], rival["load_kN"]) for rival in rivals if rival["mode"] in STATED), None)


def stated_before(record: Record) -> bool:
    """Whether hanger or sling, at the strength that is stated, gives way before the peak."""
    stated = _stated(record)
    return stated is not None and stated[1] < record["peak_kN"]


def _close(record: Record) -> bool:
    """Whether another mode of tube or ice would come at less than CLOSE above the peak."""
    own = [rival["load_kN"] for rival in record["peak"]["rivals"] if rival["mode"] not in STATED]
    return any(load < (1 + CLOSE) * record["peak_kN"] for load in own)


def _words(records: Sequence[Record], keys: Sequence[str]) -> str:
    """Least and most, how often each mode, and the factor between the values of the second key."""
    ordered = sorted(records, key=lambda record: float(record["peak_kN"]))

    def place(record: Record) -> str:
        return ", ".join(short_words(key, record["case"][key]) for key in keys)

    low, high = ordered[0], ordered[-1]
    words = (
        f"The pull reaches {low['peak_kN']:.1f} kN at the least ({place(low)}: {low['peak_mode']}) and "
        f"{high['peak_kN']:.1f} kN at the most ({place(high)}: {high['peak_mode']})."
    )
    counts = {mode: sum(record["peak_mode"] == mode for record in records) for mode in _modes(records)}
    words += f" Of {len(records)} placements: {', '.join(f'{mode} in {n}' for mode, n in counts.items())}."
    before = sum(map(stated_before, records))
    if before:
        words += f" In {before} hanger or sling, at the strength stated for it, gives way before."
    close = sum(map(_close, records))
    if close:
        words += f" In {close} the next mode of tube or ice lies within {CLOSE:.0%}: which of the two comes is open."
    return f"{words}{_ratio_words(records, keys)} {records[0]['peak']['caution']}"


def _ratio_words(records: Sequence[Record], keys: Sequence[str]) -> str:
    """The factor between the two values of the second key; nothing where it has more, or no pair was solved."""
    second = _values(records, keys[1])
    if len(second) != 2:
        return ""
    others = [key for key in keys if key != keys[1]]
    peaks = {tuple(r["case"][key] for key in (*others, keys[1])): r["peak_kN"] for r in records}
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
