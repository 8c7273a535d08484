"""A record counts where tables, words and pictures find what they read, each of its kind; a digest is no sign of it."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from studystub import made_up_record

from icecone.studies.case.file import settings_from
from icecone.studies.files.store import Damaged
from icecone.studies.outcome.check import check_record

NODES, ELEMENTS = [0.0, 1.0, 2.0], [0.0, 1.0]
EVENT = {
    "name": "peak",
    "load_kN": 5.0,
    "displacement_mm": 2.0,
    **dict.fromkeys(("x_mm", "z_mm", "s_mm", "bearing_N_per_mm"), NODES),
    **dict.fromkeys(("moment_Nm", "plastic_strain"), ELEMENTS),
    "held_node": 0,
}
PEAK = {
    "rivals": [{"mode": "hanger", "load_kN": 10.0}],
    "events": [EVENT],
    "hand_kN": {"threads stripped": 9.0},
    "caution": "invented",
    **dict.fromkeys(("travel_mm", "largest_kN"), 5.0),
    **dict.fromkeys(("displacement_mm", "load_kN", "head_rotation_deg"), NODES),
}
CONE = {"route": "invented", "caution": "invented", "load_kN": [None, 5.0], "surface_mm": [[[0.0, 0.0, 0.0]] * 2] * 2}
RECORD = made_up_record(settings_from({}))
WITH_PEAK = {**RECORD, "laws": {"chip-0.json": "0"}, "peak": PEAK}
WITH_CONE = {
    **RECORD,
    "cone": CONE,
    "cone_start": "thread 1",
    "cone_breakout_mm": None,
    **dict.fromkeys(("cone_depth_mm", "cone_angle_deg"), 9.0),
}


def broken(record: dict[str, Any], *path: str | int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Copies of a record in which what a path leads to is missing, or of another kind."""
    for wrong in ("missing", {"a": 1}, 10**400, [[None]], [], True):
        changed = deepcopy(record)
        *way, last = path
        at: Any = changed
        for step in way:
            at = at[step]
        if wrong == "missing":
            del at[last]
        else:
            at[last] = wrong
        yield f"{path}: {wrong if wrong != 10**400 else 'too large'}", changed


@pytest.mark.parametrize("record", [RECORD, WITH_PEAK, WITH_CONE], ids=["onset", "peak", "cone"])
def test_a_whole_record_counts(record: dict[str, Any]) -> None:
    check_record(record, Path("a.json"))
    check_record({**record, "more": None}, Path("a.json"))


READ: list[tuple[dict[str, Any], tuple[str | int, ...]]] = [
    *((RECORD, (name,)) for name in ("onset_kN", "onset_mode", "onset_where_mm", "share_front", "residual")),
    *((WITH_PEAK, (name,)) for name in ("limit_kN", "limit_mode", "peak_kN", "peak_mode", "laws")),
    *((WITH_PEAK, ("peak", name)) for name in ("events", "caution", "displacement_mm", "travel_mm")),
    *((WITH_PEAK, ("peak", "events", 0, name)) for name in ("name", "load_kN", "x_mm", "plastic_strain")),
    (WITH_PEAK, ("peak", "rivals", 0, "load_kN")),
    (WITH_CONE, ("cone_depth_mm",)),
    *((WITH_CONE, ("cone", name)) for name in ("route", "caution")),
]


@pytest.mark.parametrize(
    ("record", "path"), READ, ids=lambda value: ".".join(map(str, value)) if type(value) is tuple else ""
)
def test_a_record_that_lacks_what_is_read_does_not_count(record: dict[str, Any], path: tuple[str | int, ...]) -> None:
    for words, changed in broken(record, *path):
        try:
            check_record(changed, Path("a.json"))
        except Damaged as problem:
            assert str(problem).startswith("a.json: not a record: ")
        else:
            pytest.fail(f"taken: {words}")


def test_lengths_must_fit() -> None:
    for name, value in (("x_mm", [0.0]), ("plastic_strain", NODES), ("held_node", 3), ("name", "hinge")):
        changed = {**WITH_PEAK, "peak": {**PEAK, "events": [{**EVENT, name: value}]}}
        with pytest.raises(Damaged, match=r"peak\.events"):
            check_record(changed, Path("a.json"))
    with pytest.raises(Damaged, match=r"peak\.load_kN"):
        check_record({**WITH_PEAK, "peak": {**PEAK, "load_kN": [0.0]}}, Path("a.json"))
    with pytest.raises(Damaged, match=r"cone\.surface_mm"):
        uneven = [[[0.0, 0.0, 0.0]], [[0.0, 0.0, 0.0]] * 2]
        check_record({**WITH_CONE, "cone": {**CONE, "surface_mm": uneven}}, Path("a.json"))
