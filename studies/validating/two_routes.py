"""Runs both routes over the cases of `validating.both_routes` into a folder: resumable, a kill loses one case
at most.

    OUT/cases/<number>.json    what both routes gave, with digest (`files.store`)
    OUT/table.csv, OUT/routes.png

A case is taken from its file if the code, values and libraries behind it (`files.provenance`) and the law files that
it names (`files.laws`) are the same as now.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from ..files.answer import answer
from ..files.law_check import is_number, is_numbers
from ..files.laws import law_changed
from ..files.provenance import stamp
from ..files.store import make_folder, read_whole, write_csv, write_record
from . import both_routes
from .both_routes import CASES, Record, Say
from .routes_figure import draw_routes

ALLOWED = 0.25  # difference of the peaks over the first's
PEAKS = ("first_kN", "first_mode", "second_kN", "second_mode", "ratio")
OTHERS = tuple(f"{route}_{load}" for load in ("hinge_kN", "first_drop_kN", "early_kN") for route in ("first", "second"))
COLUMNS = ("case", *PEAKS, *OTHERS, "gone_mm", "gone_behind_mm")


def row(record: Mapping[str, Any]) -> tuple[object, ...]:
    """The record in the order of COLUMNS."""
    first, second = record["first"], record["second"]
    ratio = second["peak_kN"] / first["peak_kN"]
    hinges = (first["hinge_kN"], second["hinge_kN"])
    early = [part[name] for name in ("first_drop_kN", "early_kN") for part in (first, second)]
    gone = [max((each["depth_mm"] for each in second["gone"] if each["side"] == side), default=0.0) for side in (1, -1)]
    peaks = (first["peak_kN"], first["mode"], second["peak_kN"], second["mode"])
    return (record["name"], *peaks, ratio, *hinges, *early, *gone)


def run_routes(names: Sequence[str], folder: Path, say: Say, advance: Callable[[str], None]) -> list[Record]:
    """Pull what is not kept yet, write table.csv and routes.png; `advance` gets the name of each case that is there.

    Raises OSError for a folder that cannot be written, files.lock.Busy if another run holds it, and as `pull_both`.
    """
    found = []
    with answer(folder, "routes", ("table.csv", "routes.png")) as stage:
        make_folder(folder / "cases")
        for name in names:
            path = folder / "cases" / f"{list(CASES).index(name):02d}.json"
            record = _pulled_before(name, path, say)
            if record is None:
                record = both_routes.pull_both(name, say)
                write_record(path, record, _stamp())
            found.append(record)
            advance(name)
        write_csv(stage / "table.csv", COLUMNS, [row(record) for record in found])
        draw_routes(found, stage / "routes.png")
    return found


def _stamp() -> str:
    return stamp(both_routes.__name__)


def _pulled_before(name: str, path: Path, say: Say) -> Record | None:
    """What the folder holds of the case and still counts."""
    record = read_whole(path, _stamp(), _is_whole, "a record of both routes", say)
    if record is None or record["name"] != name or record["case"] != dict(CASES[name]):
        return None
    if changed := law_changed(record["laws"]):
        say(f"{path}: the law {changed} is another one now: pulling {name} again")
        return None
    return record


def _is_whole(record: Record) -> bool:
    """Whether it holds what table and picture read."""
    named = isinstance(record.get("name"), str) and isinstance(record.get("case"), dict)
    return named and isinstance(record.get("laws"), dict) and all(map(_is_pull, map(record.get, ("first", "second"))))


def _is_pull(part: Any) -> bool:
    if not isinstance(part, dict) or not isinstance(part.get("mode"), str) or not is_number(part.get("peak_kN")):
        return False
    curve: list[Any] = [part.get(name) for name in ("displacement_mm", "load_kN")]
    hinge, events, gone = part.get("hinge_kN"), part.get("events", []), part.get("gone", [])
    return (
        all(map(is_numbers, curve))
        and all(is_number(part.get(name)) for name in ("first_drop_kN", "early_kN"))
        and isinstance(gone, list)
        and all(map(_is_gone, gone))
        and len({len(each) for each in curve}) == 1
        and (hinge is None or is_number(hinge))
        and isinstance(events, list)
        and all(_is_event(event) for event in events)
    )


def _is_event(event: Any) -> bool:
    whole = isinstance(event, dict) and isinstance(event.get("name"), str)
    return whole and is_number(event.get("load_kN")) and is_number(event.get("displacement_mm"))


def _is_gone(ice: Any) -> bool:
    return isinstance(ice, dict) and is_number(ice.get("depth_mm")) and ice.get("side") in (1, -1)
