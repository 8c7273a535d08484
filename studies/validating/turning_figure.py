"""The picture of cracks that turn round the tube: their paths in the plane of the pull, and what drives them on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import NullFormatter

from ..figures.style import BAR, ICE, INK, QUIET_INK, README, in_our_look, save, shades, small_print, tidy
from ..outcome.cautions import INVENTED_ROUTES, PULL_CAUTION

Record = dict[str, Any]
ALL_ROUND = 180.0  # deg
APART = 0.34  # of d, between the words at two ends
WIDE, WORDS, DEEP = 4.6, 3.3, 5.35  # of d
TICKS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)  # kN


@in_our_look
def draw_turning(records: Sequence[Record], path: Path) -> None:
    """Paths over d, the push that drives each on in words at its end, and that push against the way out."""
    figure = Figure(figsize=(README, 5.4), layout="constrained")
    paths, loads = figure.subplots(1, 2, width_ratios=(1.55, 1.0))
    angles = sorted({record["angle_deg"] for record in records})
    colours = dict(zip(angles, shades(len(angles)), strict=True))
    paths.axhspan(-DEEP, 0, color=ICE, zorder=0)
    paths.axhline(0, color=INK, lw=0.9)
    for record in records:
        style, colour = "-" if record["fan_deg"] == ALL_ROUND else "--", colours[record["angle_deg"]]
        x, load = np.array(record["x_over_d"]), np.array(record["load_kN"])
        paths.plot(x, record["z_over_d"], style, color=colour, lw=1.8)
        loads.plot(x[-load.size :], load, style, color=colour, lw=1.6)
    _words_at_ends(paths, records, colours)
    paths.text(0.03, 0.12, "surface of the ice", fontsize=8.5, color=QUIET_INK)
    paths.set(xlim=(0, WIDE + WORDS), ylim=(-DEEP, 0.4), aspect="equal")
    paths.set(xlabel="x / d from the wall, along the pull", ylabel="z / d under the surface")
    paths.set_title("where the crack runs", fontsize=11)
    crushed = [record["crushing_kN"] for record in records]
    loads.axhspan(min(crushed), max(crushed), color=BAR, zorder=0)
    crushing = f"crushing, {min(crushed):.0f} to {max(crushed):.0f} kN"
    loads.text(WIDE, max(crushed) * 1.04, crushing, fontsize=8.5, color=QUIET_INK, ha="right")
    loads.set(yscale="log", xlim=(0, WIDE), xlabel="x / d of its front", ylabel="push that drives it on [kN]")
    low, high = loads.get_ylim()
    loads.set_yticks([tick for tick in TICKS if low < tick < high])
    loads.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    loads.yaxis.set_minor_formatter(NullFormatter())
    loads.set_title("what it needs", fontsize=11)
    for axes in (paths, loads):
        tidy(axes)
    figure.suptitle("A crack in front of the tube whose surface turns, followed in three dimensions", fontsize=13)
    small_print(figure, f"{INVENTED_ROUTES} {_how(records)}\n{PULL_CAUTION}")
    save(figure, path)


def _how(records: Sequence[Record]) -> str:
    first = records[0]
    return (
        f"Even push on the wall down to d = {first['depth_mm']:.0f} mm, friction of the faces {first['friction']:g}, "
        f"K_IC {first['toughness_kPa']:.0f} kPa√m. Solid: open all round, level behind the tube; dashed: open to 90° "
        "on each side. Crushing: what the wall down to d bears, from the first angle to the last."
    )


def _words_at_ends(axes: Axes, records: Sequence[Record], colours: dict[float, str]) -> None:
    """Angle, end and load of each, to the right of its end, so far apart that they can be read."""
    ordered = sorted(records, key=lambda record: -record["z_over_d"][-1])
    at = -np.inf
    for record in ordered:
        x, depth = record["x_over_d"][-1], -record["z_over_d"][-1]
        at = max(at + APART, min(depth, DEEP - 0.15))
        angle = f"{record['angle_deg']:+.0f}°".replace("-", "−").replace("+0°", "0°")
        fan = "" if record["fan_deg"] == ALL_ROUND else ", to the sides"
        rise = record["end_rise_deg"]
        way = f"{'rises' if rise > 0 else 'falls'} {abs(rise):.0f}°"
        words = f"{angle}{fan}: {way}, needs {record['load_kN'][-1]:.0f} kN"
        arrow = {"arrowstyle": "-", "color": colours[record["angle_deg"]], "lw": 0.7, "shrinkA": 0, "shrinkB": 0}
        arrow["relpos"] = (0, 0.5)  # from the left end of the words
        place = (x + 0.25 if x < 0.6 * WIDE else WIDE + 0.1, -at)
        axes.annotate(words, (x, -depth), place, fontsize=8.5, color=INK, va="center", arrowprops=arrow)
