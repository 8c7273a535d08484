"""The outcome as data: plain to JSON and back, and refused where what is read of it is missing or of another kind."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from studystub import CONE, EVENT, STRAIGHT, changed, made_up_record, peak_record

from icecone.studies.case.file import settings_from
from icecone.studies.outcome.data import FORMAT, Outcome

OUTCOME = made_up_record(settings_from({}))
RECORD = OUTCOME.to_dict()
WITH_PEAK = changed(OUTCOME, peak={}, laws={"chip-0.json": "0"}).to_dict()
WITH_CONE = changed(OUTCOME, cone={}).to_dict()
STRAIGHT_CONE = made_up_record({}, cone={**CONE, **STRAIGHT}).to_dict()
ANSWER = [
    "limit_kN",
    "limit_mode",
    "peak_kN",
    "peak_mode",
    "peak_at_mm",
    *(f"{load}_{what}" for load in ("first_drop", "early", "turned", "largest") for what in ("kN", "mode", "at_mm")),
    "ended_by",
    "first_hinge_kN",
    "wrinkle_kN",
    "onset_kN",
]


def test_the_answer_stands_first() -> None:
    """In this order; what is not solved is null; the short form begins with the limit, in one line."""
    n = len(ANSWER)
    assert list(RECORD)[:n] == ANSWER
    onset = changed(OUTCOME, **dict.fromkeys(ANSWER[:-1])).to_dict()
    assert list(onset)[:n] == ANSWER and list(onset.values())[: n - 1] == [None] * (n - 1)
    assert repr(peak_record(15.6, "cone")).startswith("Outcome(limit 10 kN: hanger; peak 15.6 kN: cone; onset ")
    assert repr(Outcome.from_dict(onset)) == "Outcome(onset 1.13 kN: tension)"


@pytest.mark.parametrize(
    "record", [RECORD, WITH_PEAK, WITH_CONE, STRAIGHT_CONE], ids=["onset", "peak", "tilted", "straight"]
)
def test_json_and_back_changes_nothing(record: dict[str, Any]) -> None:
    found = Outcome.from_dict(json.loads(json.dumps(record)))
    assert found.to_dict() == record and Outcome.from_dict(found.to_dict()) == found
    assert Outcome.from_dict({**record, "more": None}) == found


@pytest.mark.parametrize("other", [1, 2, "3", None])
def test_another_format_is_refused_in_one_line(other: object) -> None:
    with pytest.raises(ValueError, match=rf"^outcome: format = {other!r}: must be {FORMAT}; solve the case again$"):
        Outcome.from_dict({**RECORD, "format": other})
    with pytest.raises(ValueError, match="format = 'none'"):
        Outcome.from_dict([])  # type: ignore[arg-type]


def test_what_another_model_solves_is_not_there() -> None:
    with pytest.raises(ValueError, match="not solved by this model"):
        _ = OUTCOME.the_peak
    assert Outcome.from_dict(WITH_PEAK).the_peak.caution and Outcome.from_dict(WITH_CONE).the_cone.tilted
    assert Outcome.from_dict(STRAIGHT_CONE).the_cone.tilted is None


def broken(record: dict[str, Any], *path: str | int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Copies of a record in which what a path leads to is missing, or of another kind."""
    for wrong in ("missing", {"a": 1}, 10**400, [[None]], [], True):
        copy = deepcopy(record)
        *way, last = path
        at: Any = copy
        for step in way:
            at = at[step]
        if wrong == "missing":
            del at[last]
        else:
            at[last] = wrong
        yield f"{path}: {wrong if wrong != 10**400 else 'too large'}", copy


READ: list[tuple[dict[str, Any], tuple[str | int, ...]]] = [
    *((RECORD, (name,)) for name in ("onset_kN", "onset_mode", "onset_where_mm", "share_front", "residual")),
    *((WITH_PEAK, (name,)) for name in ("limit_kN", "limit_mode", "peak_kN", "peak_mode", "laws")),
    *((WITH_PEAK, ("peak", name)) for name in ("events", "caution", "displacement_mm", "laws", "shapes")),
    *((WITH_PEAK, ("peak", "events", 0, name)) for name in ("name", "load_kN", "x_mm", "plastic_strain")),
    (WITH_PEAK, ("peak", "rivals", 0, "load_kN")),
    (WITH_CONE, ("cone_depth_mm",)),
    *((WITH_CONE, ("cone", name)) for name in ("route", "caution")),
]


@pytest.mark.parametrize(
    ("record", "path"), READ, ids=lambda value: ".".join(map(str, value)) if type(value) is tuple else ""
)
def test_a_record_that_lacks_what_is_read_does_not_count(record: dict[str, Any], path: tuple[str | int, ...]) -> None:
    for words, broke in broken(record, *path):
        try:
            Outcome.from_dict(broke)
        except ValueError as problem:
            assert len(str(problem).splitlines()) == 1
        else:
            pytest.fail(f"taken: {words}")


def test_lengths_must_fit() -> None:
    peak, cone = WITH_PEAK["peak"], WITH_CONE["cone"]
    for name, value in (("x_mm", [0.0]), ("plastic_strain", [0.0] * 3), ("held_node", 3), ("name", "hinge")):
        with pytest.raises(ValueError, match=r"peak\.events"):
            Outcome.from_dict({**WITH_PEAK, "peak": {**peak, "events": [{**EVENT, name: value}]}})
    with pytest.raises(ValueError, match=r"peak\.load_kN"):
        Outcome.from_dict({**WITH_PEAK, "peak": {**peak, "load_kN": [0.0]}})
    with pytest.raises(ValueError, match=r"cone\.surface_mm"):
        uneven = [[[0.0, 0.0, 0.0]], [[0.0, 0.0, 0.0]] * 2]
        Outcome.from_dict({**WITH_CONE, "cone": {**cone, "surface_mm": uneven}})
    for name in ("first_drop_kN", "turned_at_mm", "largest_kN"):
        with pytest.raises(ValueError, match=f"{name}.*: missing"):
            Outcome.from_dict({**WITH_PEAK, name: None})
    for model in ("peak", "cone"):
        with pytest.raises(ValueError, match=f"{model}: missing"):
            Outcome.from_dict({**RECORD, "model": model})


def test_shapes_must_fit_the_pull() -> None:
    """As many frames in each list, as many nodes in each frame, a section less; states and nodes that are there."""
    peak = WITH_PEAK["peak"]
    for name, value in (
        ("x_mm", [[0.0]] * 3),
        ("z_mm", [[0.0] * 3] * 2),
        ("yielded", [[0, 0, 0]] * 3),
        ("cone", [False]),
        ("step", [0, 1, 3]),
        ("held_node", [0, 0, -1]),
    ):
        with pytest.raises(ValueError, match=r"peak\.shapes"):
            Outcome.from_dict({**WITH_PEAK, "peak": {**peak, "shapes": {**peak["shapes"], name: value}}})
