"""Runs cracks that turn round the tube into a folder: resumable, a kill loses one case at most.

    OUT/cases/<number>.json    path and driving load of one crack, with digest (`files.store`)
    OUT/table.csv, OUT/turning.png

Each is a crack from DEPTH down the wall of the case's tube (`validation.turning_chip.follow`), of an angle and a fan.
Beside it stands the load of crushing: what the wall down to DEPTH bears by the case's laws, if no chip comes.
A case is taken from its file if code, values and libraries behind it (`files.provenance`) and its inputs are the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import degrees, radians
from pathlib import Path
from typing import Any

import numpy as np

from ...fem.case import Case
from ...fem.laws.gather import peak_laws
from ...validation.turning_chip import follow
from ..case.file import settings_from, to_case
from ..files.answer import answer
from ..files.law_check import is_number, is_numbers
from ..files.laws import UsedLaws
from ..files.provenance import stamp
from ..files.store import make_folder, read_whole, write_csv, write_record
from .turning_figure import draw_turning

Record = dict[str, Any]
Say = Callable[[str], None]
DEPTH = 0.04  # m
CASES: Mapping[str, tuple[float, float]] = {  # placement angle, half angle of the fan [deg]
    **{f"{angle:+.0f}°, open all round".replace("+0°", "0°"): (angle, 180.0) for angle in (-20, -15, -10, 0, 20)},
    **{f"{angle:+.0f}°, open to the sides".replace("+0°", "0°"): (angle, 90.0) for angle in (-20, -10, 0)},
}
LOADS = ("first_kN", "end_kN", "crushing_kN")
COLUMNS = ("case", "angle_deg", "fan_deg", "ending", "end_rise_deg", "end_depth_over_d", *LOADS)


def row(record: Mapping[str, Any]) -> tuple[object, ...]:
    """The record in the order of COLUMNS."""
    load = record["load_kN"]
    ends = (record["end_rise_deg"], -record["z_over_d"][-1], load[0], load[-1])
    return (record["name"], record["angle_deg"], record["fan_deg"], record["ending"], *ends, record["crushing_kN"])


def run_turning(names: Sequence[str], folder: Path, say: Say, advance: Callable[[str], None]) -> list[Record]:
    """Follow what is not kept yet, write table.csv and turning.png; `advance` gets the name of each case that is there.

    Raises OSError for a folder that cannot be written, files.lock.Busy if another run holds it, ValueError, MeshError
    or SolveError for a crack that is lost.
    """
    found = []
    with answer(folder, "turning", ("table.csv", "turning.png")) as stage:
        make_folder(folder / "cases")
        for name in names:
            path = folder / "cases" / f"{list(CASES).index(name):02d}.json"
            kept = _followed_before(name, path, say)
            if kept is None:
                kept = follow_case(name, say)
                write_record(path, kept, _stamp())
            found.append({**kept, "crushing_kN": crushing_load(_case(name)) / 1e3})
            advance(name)
        write_csv(stage / "table.csv", COLUMNS, [row(record) for record in found])
        draw_turning(found, stage / "turning.png")
    return found


def follow_case(name: str, say: Say = lambda words: None) -> Record:
    """One of CASES; lengths over DEPTH, loads at the fracture toughness of the case's ice."""
    case, (angle, fan) = _case(name), CASES[name]

    def tell(words: str) -> None:
        say(f"{name}: {words}")

    friction = case.assumed.chip_friction
    chip = follow.follow_turning_chip(case.tube, case.ice, radians(angle), DEPTH, friction, radians(fan), say=tell)
    x, z = (chip.path / DEPTH).round(5).tolist()
    return {
        **_inputs(name),
        "ending": chip.ending,
        "end_rise_deg": degrees(chip.end),
        "x_over_d": x,
        "z_over_d": z,
        "rise_deg": np.degrees(chip.direction).round(3).tolist(),
        "load_kN": (chip.load * case.ice.toughness / 1e3).round(5).tolist(),
    }


def crushing_load(case: Case) -> float:
    """Largest push of the wall down to DEPTH if no chip comes away [N]."""
    laws = peak_laws(case, UsedLaws())
    s = np.linspace(0.0, DEPTH, 101)
    return float(np.trapezoid(np.interp(s, laws.s, laws.crushing), s))


def _case(name: str) -> Case:
    return to_case(settings_from({"placement.angle_deg": CASES[name][0]}))


def _inputs(name: str) -> Record:
    """What a record must hold to count."""
    case, (angle, fan) = _case(name), CASES[name]
    ice = {"toughness_kPa": case.ice.toughness / 1e3, "E_GPa": case.ice.elastic.youngs_modulus / 1e9}
    sizes = {"depth_mm": 1e3 * DEPTH, "diameter_mm": 1e3 * case.tube.outer_diameter}
    return {"name": name, "angle_deg": angle, "fan_deg": fan, "friction": case.assumed.chip_friction, **sizes, **ice}


def _stamp() -> str:
    return stamp(follow.__name__)


def _followed_before(name: str, path: Path, say: Say) -> Record | None:
    """What the folder holds of the case and still counts."""
    record = read_whole(path, _stamp(), _is_whole, "a record of a crack that turns", say)
    same = record is not None and all(record.get(key) == value for key, value in _inputs(name).items())
    return record if same else None


def _is_whole(record: Record) -> bool:
    """Whether it holds what table and picture read."""
    lists = [record.get(key) for key in ("x_over_d", "z_over_d", "load_kN")]
    numbers = isinstance(record.get("ending"), str) and is_number(record.get("end_rise_deg"))
    return numbers and all(map(is_numbers, lists)) and len(lists[0] or ()) == len(lists[1] or ()) > 0 and bool(lists[2])
