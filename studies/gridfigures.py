"""The pictures of a grid of peaks: lines with their modes, and the map of what gives way.

lines    the first key along the axis, a line for each value of the second, a panel for each of a third
map      the first key along, the second up, a panel for each value of a third: colour tells the mode, numbers the
         peak in kN; a dot: the tube is bent by then; a frame: hanger or sling, at the strength stated for it,
         gives way before; a wavy equals sign: another mode would come within CLOSE of the peak, so that the name
         of the mode is a toss-up
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from .casewords import AXIS_WORDS, case_words, short_words, varying
from .drawing import INK, save, small_print, tidy, wrapped
from .peakfigures import MODE_COLOURS, PEAK_MARKERS

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
STATED = ("hanger", "sling")
CLOSE = 0.1  # share of the peak


def draw_lines(records: Sequence[Record], keys: Sequence[str], title: str, path: Path) -> str:
    """Peaks as lines; returns the words."""
    panels = _panels(records, keys)
    figure = Figure(figsize=(6.2 * len(panels) + 0.6, 5.6), layout="constrained")
    grid = figure.subplots(1, len(panels), squeeze=False, sharey=True).ravel()
    top = 1.12 * max(record["peak_kN"] for record in records)
    grid[0].set_ylim(0, top)
    for axes, (words, part) in zip(grid, panels.items(), strict=True):
        for number, value in enumerate(_values(part, keys[1])):
            line = [record for record in part if record["case"][keys[1]] == value]
            colour = LINES[number % len(LINES)]
            x, y = ([record["case"][keys[0]] for record in line], [record["peak_kN"] for record in line])
            axes.plot(x, y, ("-", "--")[number % 2], color=colour, lw=1.3, label=short_words(keys[1], value))
            for record in line:
                at = (record["case"][keys[0]], record["peak_kN"])
                axes.plot(*at, PEAK_MARKERS.get(record["peak_mode"], "x"), color=colour, ms=7)
        for name, strength in dict.fromkeys(stated for record in part if (stated := _stated(record))):
            if strength > top:
                continue
            axes.axhline(strength, color=INK, ls=":", lw=1)
            where: dict[str, Any] = {
                "xycoords": ("axes fraction", "data"),
                "fontsize": 8,
                "va": "bottom",
                "ha": "right",
            }
            axes.annotate(f"{name} as stated", (0.99, strength), **where)
        tidy(axes)
        axes.set_title(words, fontsize=10)
        axes.set_xlabel(AXIS_WORDS.get(keys[0], keys[0]).replace("   (", "\n("))
    grid[0].set_ylabel("peak [kN]")
    modes = [
        Line2D([], [], ls="", marker=PEAK_MARKERS.get(mode, "x"), color=INK, label=mode) for mode in _modes(records)
    ]
    handles = [*grid[0].get_legend_handles_labels()[0], *modes]
    grid[0].legend(handles=handles, fontsize=9)
    _finish(figure, records, title, path)
    return _words(records, keys)


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
    grid[0].set_ylabel(AXIS_WORDS.get(keys[1], keys[1]))
    handles: list[Any] = [Patch(color=CELLS.get(mode, INK), label=mode) for mode in _modes(records)]
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
    axes.add_patch(Rectangle((x - 0.49, y - 0.49), 0.98, 0.98, color=CELLS.get(record["peak_mode"], INK), lw=0))
    if stated_before(record):
        frame: dict[str, Any] = {"fill": False, "edgecolor": INK, "linestyle": "--", "lw": 0.9}
        axes.add_patch(Rectangle((x - 0.44, y - 0.42), 0.88, 0.84, **frame))
    mark = "≈ " if _close(record) else ""
    axes.text(x, y, f"{mark}{record['peak_kN']:.1f}", ha="center", va="center", fontsize=9.5, color=INK)
    if _bent(record):
        axes.plot(x + 0.33, y + 0.27, ".", color=INK, ms=5)


def _finish(figure: Figure, records: Sequence[Record], title: str, path: Path) -> None:
    figure.suptitle(wrapped(title, figure, 13), fontsize=13)
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
    return list(dict.fromkeys(record["case"][key] for record in records))


def _modes(records: Sequence[Record]) -> list[str]:
    present = {record["peak_mode"] for record in records}
    return [mode for mode in MODE_COLOURS if mode in present]


def _tick(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}".replace("-", "−")


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
    second = _values(records, keys[1])
    if len(second) == 2:
        others = [key for key in keys if key != keys[1]]
        peaks = {tuple(r["case"][key] for key in (*others, keys[1])): r["peak_kN"] for r in records}
        ratios = [
            (peaks[(*at, second[1])] / peaks[(*at, second[0])], at)
            for *at, value in peaks
            if value == second[0] and (*at, second[1]) in peaks
        ]
        (least, low_at), (most, high_at) = min(ratios), max(ratios)
        told = [", ".join(short_words(k, v) for k, v in zip(others, at, strict=True)) for at in (low_at, high_at)]
        first, other = (short_words(keys[1], value) for value in second)
        words += f" The ratio of {other} to {first}: from {least:.1f} ({told[0]}) to {most:.1f} ({told[1]})."
    return f"{words} {records[0]['peak']['caution']}"
