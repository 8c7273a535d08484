"""Whether a record holds what tables, words and pictures read: the keys, each of its kind.

A digest only says that a file is what somebody wrote. More keys than these may be there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from ..files.law_check import is_number, is_numbers
from ..files.store import Damaged

Kind = Callable[[object], bool]


def _text(value: object) -> bool:
    return isinstance(value, str)


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(map(_text, value))


def _table(value: object) -> bool:
    return isinstance(value, dict)


def _or_none(kind: Kind) -> Kind:
    return lambda value: value is None or kind(value)


def _numbers_by_name(value: object) -> bool:
    return isinstance(value, dict) and all(map(is_number, value.values()))


def _place(value: object) -> bool:
    return isinstance(value, list) and len(value) == 3 and is_numbers(value)


def _points(value: object) -> bool:
    """Rows of points of one length, as a surface has."""
    if not isinstance(value, list) or not all(isinstance(row, list) and row for row in value):
        return False
    return len({len(row) for row in value}) == 1 and all(_place(point) for row in value for point in row)


def _loads(value: object) -> bool:
    return isinstance(value, list) and all(load is None or is_number(load) for load in value)


def _digests(value: object) -> bool:
    return isinstance(value, dict) and all(map(_text, value.values()))


ALWAYS: Mapping[str, Kind] = {
    **dict.fromkeys(("onset_mode", "onset_place", "onset_crack", "caution", "solver"), _text),
    **dict.fromkeys(("onset_kN", "onset_length_mm", "compliance_mm_per_kN", "residual", "balance_error"), is_number),
    **dict.fromkeys(("share_front", "share_threads", "share_back_or_toe", "dofs", "contact_iterations"), is_number),
    **dict.fromkeys(("mouth_tension_MPa_per_kN", "mouth_compression_MPa_per_kN", "wall_s"), is_number),
    **dict.fromkeys(("ice", "metal", "mesh_quality", "case"), _table),
    "onset_where_mm": _place,
    "crust": _or_none(_table),
    "notes": _texts,
}
PEAK: Mapping[str, Kind] = {
    **dict.fromkeys(("limit_kN", "peak_kN", "head_rotation_deg"), is_number),
    **dict.fromkeys(("limit_mode", "peak_mode"), _text),
    **dict.fromkeys(("first_hinge_kN", "next_kN", "margin"), _or_none(is_number)),
    "next_mode": _or_none(_text),
    "laws": _digests,
}
WITHIN_PEAK: Mapping[str, Kind] = {
    **dict.fromkeys(("travel_mm", "largest_kN"), is_number),
    **dict.fromkeys(("displacement_mm", "load_kN", "head_rotation_deg"), is_numbers),
    "hand_kN": _numbers_by_name,
    "caution": _text,
}
RIVAL: Mapping[str, Kind] = {"mode": _text, "load_kN": is_number}
NODES, ELEMENTS = ("x_mm", "z_mm", "s_mm", "bearing_N_per_mm"), ("moment_Nm", "plastic_strain")
EVENT: Mapping[str, Kind] = {
    "name": _text,
    **dict.fromkeys(("load_kN", "displacement_mm"), is_number),
    **dict.fromkeys((*NODES, *ELEMENTS), is_numbers),
}
CONE: Mapping[str, Kind] = {
    "cone_start": _text,
    **dict.fromkeys(("cone_depth_mm", "cone_angle_deg"), is_number),
    **dict.fromkeys(("peak_kN", "cone_breakout_mm"), _or_none(is_number)),
}
WITHIN_CONE: Mapping[str, Kind] = {"route": _text, "caution": _text, "load_kN": _loads, "surface_mm": _points}


def check_record(record: Mapping[str, Any], path: Path) -> None:
    """Raises store.Damaged where a record, read from `path`, lacks what is read of it."""
    problem = _wrong(record, ALWAYS)
    if not problem and "peak" in record:
        problem = _wrong(record, PEAK) or _peak(record["peak"])
    if not problem and "cone" in record:
        problem = _wrong(record, CONE) or _wrong(record["cone"], WITHIN_CONE, "cone.")
    if problem:
        raise Damaged(f"{path}: not a record: {problem}")


def _wrong(table: object, kinds: Mapping[str, Kind], within: str = "") -> str:
    """The first key that is missing or of another kind, "" where none is."""
    if not isinstance(table, dict):
        return f"{within.rstrip('.')}: must be a table"
    name = next((name for name, kind in kinds.items() if name not in table or not kind(table[name])), None)
    return "" if name is None else f"{within}{name}: {'of another kind' if name in table else 'missing'}"


def _peak(peak: object) -> str:
    if problem := _wrong(peak, WITHIN_PEAK, "peak."):
        return problem
    assert isinstance(peak, dict)
    curve = [peak[name] for name in ("displacement_mm", "load_kN", "head_rotation_deg")]
    if len({len(each) for each in curve}) > 1 or not curve[0]:
        return "peak.load_kN: must be as long as peak.displacement_mm"
    for name, kinds in (("rivals", RIVAL), ("events", EVENT)):
        rows = peak.get(name)
        if not isinstance(rows, list) or any(_wrong(row, kinds) for row in rows):
            return f"peak.{name}: missing, or of another kind"
    if not any(event["name"] == "peak" for event in peak["events"]):
        return "peak.events: none is the peak"
    fit = all(_lengths_fit(event) for event in peak["events"])
    return "" if fit else "peak.events: lists of different lengths"


def _lengths_fit(event: Mapping[str, Any]) -> bool:
    """A number for each node, another list's for each element between; the node that is held is one of them."""
    nodes, elements = ({len(event[name]) for name in names} for names in (NODES, ELEMENTS))
    held = event.get("held_node", 0)
    return len(nodes) == 1 and elements == {max(nodes) - 1} and isinstance(held, int) and 0 <= held < max(nodes)
