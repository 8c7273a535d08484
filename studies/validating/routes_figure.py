"""The picture of both routes: pull against movement of the load point, a panel a case."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from ..figures.style import FIRST_ROUTE, README, SECOND_ROUTE, in_our_look, save, small_print, tidy
from ..outcome.cautions import INVENTED_ROUTES, PULL_CAUTION

Record = dict[str, Any]
ACROSS = 3  # panels in a row: read at README width


@in_our_look
def draw_routes(records: Sequence[Record], path: Path) -> None:
    """Pull against movement of the load point by both routes, a panel for each case."""
    columns = min(ACROSS, len(records))
    rows = -(-len(records) // columns)
    figure = Figure(figsize=(README, 3.0 * rows + 1.5), layout="constrained")
    grid = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, record in zip(grid, records, strict=False):
        end = record["second"]["displacement_mm"][-1]
        for key, colour, words in (
            ("first", FIRST_ROUTE, "beam on laws"),
            ("second", SECOND_ROUTE, "cracks opened in turn"),
        ):
            part = record[key]
            x, y = np.array(part["displacement_mm"]), np.array(part["load_kN"])
            shown = x <= 1.05 * end
            axes.plot(x[shown], y[shown], color=colour, lw=1.4, label=words)
            at = int(np.argmin(np.abs(y - part["peak_kN"])))
            axes.plot(x[at], y[at], "*", color=colour, ms=11, mec="white", zorder=5)
        for event in record["second"]["events"]:
            if event["name"].endswith("slides out") or _cone_through(event["name"]):
                axes.plot(event["displacement_mm"], event["load_kN"], "v", color=SECOND_ROUTE, ms=5)
        first, second = record["first"], record["second"]
        words = f"{first['peak_kN']:.1f} kN, {first['mode']}\n{second['peak_kN']:.1f} kN, {second['mode']}"
        axes.set_title(f"{record['name']}\n{words}", fontsize=9)
        axes.set(xlim=(0, 1.05 * end), ylim=(0, 1.15 * max(first["peak_kN"], second["peak_kN"])))
        axes.set_xlabel("movement of the load point [mm]", fontsize=8)
        tidy(axes)
    for axes in grid[len(records) :]:
        axes.set_visible(False)
    for axes in grid[::columns]:
        axes.set_ylabel("pull [kN]")
    grid[0].legend(fontsize=8, loc="lower right")
    figure.suptitle("Two routes to the peak (upper line and black: first; lower and orange: second)", fontsize=13)
    marks = "Stars: peaks. Triangles: a chip slides out, a cone is through."
    small_print(figure, f"{INVENTED_ROUTES} {marks}\n{PULL_CAUTION}")
    save(figure, path)


def _cone_through(words: str) -> bool:
    return words.startswith("cone") and words.endswith("through")
