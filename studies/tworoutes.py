"""Ten pulls by both routes to the peak: the beam on the ice's laws, and sharp cracks opened in turn round the tube.

The routes share the beam, the families of surfaces and the assumed strengths (`fem.ringtube`); what they do not share:
springs with laws along the wall against one elastic body, prescribed pressures in the laws against pressures found, a
law for the cone's load under a push against the crack itself. A case's outcome is kept as soon as it is there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from ..fem.crackpull import CrackPull, least_pull
from ..fem.peak import Peak, solve_peak
from ..fem.peaklaws import peak_laws
from .casefile import settings_from, to_case
from .drawing import INK, save, small_print, tidy
from .lawstore import kept_law
from .store import Damaged, make_folder, only_run, read_record, write_csv, write_record

Record = dict[str, Any]
Say = Callable[[str], None]
VERSION = "routes/1"
BEYOND, AT_LEAST = 1.25, 0.02  # the second route's way: this many times the first's to its peak, and so many metres
ALLOWED = 0.25  # difference of the peaks over the first's
SECOND = "#d95f02"
TIED = {"placement.attachment": "tied_off"}
CASES: Mapping[str, Mapping[str, Any]] = {
    "straight out, 130 mm in": {"pull.direction_deg": 90},
    "straight out, 65 mm in": {"pull.direction_deg": 90, "placement.embedment_mm": 65},
    "-20°, flush": {"placement.angle_deg": -20},
    "upright, flush": {},
    "+20°, flush": {"placement.angle_deg": 20},
    "70 mm in, at the eye": {"placement.embedment_mm": 70},
    "70 mm in, tied off": {"placement.embedment_mm": 70} | TIED,
    "40 mm in, at the eye": {"placement.embedment_mm": 40},
    "40 mm in, tied off": {"placement.embedment_mm": 40} | TIED,
    "tube of 210 mm, flush": {"tube.length_mm": 210},
}
COLUMNS = ("case", "first_kN", "first_mode", "second_kN", "second_mode", "ratio", "first_hinge_kN", "second_hinge_kN")


def pull_both(name: str, say: Say = lambda words: None) -> Record:
    """One of CASES by both routes.

    Raises KeyError for an unknown case, ValueError and fem.solver.SolveError as the routes do.
    """
    settings = settings_from(dict(CASES[name]))
    case = to_case(settings)
    start = perf_counter()
    first = solve_peak(case, peak_laws(case, partial(kept_law, say=say)))
    middle = perf_counter()
    at = next(event.displacement for event in first.pull.events if event.name == "peak")
    second = least_pull(case, max(BEYOND * at, AT_LEAST))
    seconds = [middle - start, perf_counter() - middle]
    return {"name": name, "case": dict(CASES[name]), "seconds": seconds, **_first(first), **_second(second)}


def _curve(displacement: np.ndarray, load: np.ndarray) -> Record:
    return {"displacement_mm": (1e3 * displacement).round(5).tolist(), "load_kN": (load / 1e3).round(5).tolist()}


def _first(found: Peak) -> Record:
    pull = found.pull
    hinge = None if pull.first_hinge is None else pull.first_hinge / 1e3
    curve = _curve(pull.displacement, pull.load)
    return {"first": {"peak_kN": pull.peak / 1e3, "mode": pull.mode, "hinge_kN": hinge, **curve}}


def _second(pull: CrackPull) -> Record:
    hinge = None if pull.hinge is None else pull.hinge / 1e3
    events = [{"displacement_mm": 1e3 * at, "load_kN": load / 1e3, "name": name} for at, load, name in pull.events]
    curve = _curve(pull.displacement, pull.load)
    return {"second": {"peak_kN": pull.peak / 1e3, "mode": pull.mode, "hinge_kN": hinge, "events": events, **curve}}


def row(record: Mapping[str, Any]) -> tuple[object, ...]:
    """The record in the order of COLUMNS."""
    first, second = record["first"], record["second"]
    ratio = second["peak_kN"] / first["peak_kN"]
    hinges = (first["hinge_kN"], second["hinge_kN"])
    return (record["name"], first["peak_kN"], first["mode"], second["peak_kN"], second["mode"], ratio, *hinges)


def run_routes(names: Sequence[str], folder: Path, say: Say, advance: Callable[[str], None]) -> list[Record]:
    """Pull what is not kept yet, write table.csv and routes.png; `advance` gets the name of each case that is there.

    Raises OSError for a folder that cannot be written, store.Busy where another run holds it, and as `pull_both`.
    """
    kept = folder / "cases"
    make_folder(kept)
    found = []
    with only_run(folder):
        for name in names:
            path = kept / f"{list(CASES).index(name):02d}.json"
            try:
                record = read_record(path, VERSION)
            except Damaged as problem:
                say(f"{problem}: pulling {name} again")
                record = None
            if record is None or record["name"] != name or record["case"] != dict(CASES[name]):
                record = pull_both(name, say)
                write_record(path, record, VERSION)
            found.append(record)
            advance(name)
        write_csv(folder / "table.csv", COLUMNS, [row(record) for record in found])
        draw_routes(found, folder / "routes.png")
    return found


def draw_routes(records: Sequence[Record], path: Path) -> None:
    """Pull against travel by both routes, a panel for each case."""
    columns = min(5, len(records))
    rows = -(-len(records) // columns)
    figure = Figure(figsize=(3.5 * columns + 0.6, 3.3 * rows + 1.5), layout="constrained")
    grid = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, record in zip(grid, records, strict=False):
        end = record["second"]["displacement_mm"][-1]
        for key, colour, words in (("first", INK, "beam on laws"), ("second", SECOND, "cracks opened in turn")):
            part = record[key]
            x, y = np.array(part["displacement_mm"]), np.array(part["load_kN"])
            shown = x <= 1.05 * end
            axes.plot(x[shown], y[shown], color=colour, lw=1.4, label=words)
            at = int(np.argmin(np.abs(y - part["peak_kN"])))
            axes.plot(x[at], y[at], "*", color=colour, ms=11, mec="white", zorder=5)
        for event in record["second"]["events"]:
            if "through" in event["name"]:
                axes.plot(event["displacement_mm"], event["load_kN"], "v", color=SECOND, ms=5)
        first, second = record["first"], record["second"]
        words = f"{first['peak_kN']:.1f} kN, {first['mode']}\n{second['peak_kN']:.1f} kN, {second['mode']}"
        axes.set_title(f"{record['name']}\n{words}", fontsize=9)
        axes.set(xlim=(0, 1.05 * end), ylim=(0, 1.15 * max(first["peak_kN"], second["peak_kN"])))
        axes.set_xlabel("travel of the pull's point [mm]", fontsize=8)
        tidy(axes)
    for axes in grid[len(records) :]:
        axes.set_visible(False)
    for axes in grid[::columns]:
        axes.set_ylabel("pull [kN]")
    grid[0].legend(fontsize=8, loc="lower right")
    figure.suptitle("Two routes to the peak (upper line and black: first; lower and orange: second)", fontsize=13)
    words = "Invented tube of 140 mm in sound glacier ice at -5 °C. Stars: peaks. Triangles: a crack is through."
    small_print(figure, words)
    save(figure, path)
