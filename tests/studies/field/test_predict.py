"""Predictions of a table's rows: every column reaches its key, draws are shared, nothing is solved twice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_samples import made_up_peak_kN
from rich.console import Console

from icecone.studies.case.file import settings_from
from icecone.studies.field.columns import SHORT
from icecone.studies.field.predict import ANGLE_ERROR, Prediction, draws_of, predict, settings_of_row
from icecone.studies.field.table import Row

FULL = {
    "tube.length_mm": 150.0,
    "tube.od_mm": 18.0,
    "placement.embedment_mm": 90.0,
    "placement.angle_deg": -10.0,
    "pull.direction_deg": 45.0,
    "placement.attachment": "tied_off",
    "ice.kind": "bubbly_glacier",
    "ice.crust_mm": 10.0,
    "ice.temperature_C": -8.0,
}


def row(name: str = "a", given: dict[str, Any] | None = None, **known: Any) -> Row:
    return Row(name, 2, given or {}, **known)


def told(rows: list[Row], folder: Path, draws: int, **more: Any) -> list[Prediction]:
    with (folder / "said").open("w") as said:
        return predict(rows, folder / "out", Console(file=said), draws, 1, **more)


def test_every_short_column_reaches_its_own_key() -> None:
    assert set(FULL) == set(SHORT.values())
    settings, assumed = settings_of_row(row(given=FULL))
    assert FULL.items() <= settings.items() and assumed == () and settings["numerics.model"] == "peak"


@pytest.mark.parametrize("key", sorted(FULL))
def test_what_a_row_leaves_open_is_the_default_and_is_listed(key: str) -> None:
    known = {name: value for name, value in FULL.items() if name != key}
    settings, assumed = settings_of_row(row(given=known))
    defaults = settings_from({"tube.length_mm": known.get("tube.length_mm", 140.0)})
    assert settings[key] == defaults[key] and len(assumed) == 1 and assumed[0].startswith(f"{key} = ")


def test_what_was_measured_counts_in_place_of_what_was_planned() -> None:
    given = {"placement.angle_deg": -20.0, "placement.embedment_mm": 100.0}
    measured = row(given=given, angle_measured_deg=-17.0, depth_measured_mm=97.0, time_to_peak_s=40.0)
    settings, _ = settings_of_row(measured)
    assert (settings["placement.angle_deg"], settings["placement.embedment_mm"]) == (-17.0, 97.0)
    assert settings["ice.load_time_s"] == 40.0
    changed, _ = settings_of_row(measured, {"ice.temperature_C": -10.0, "placement.angle_deg": 3.0})
    assert (changed["ice.temperature_C"], changed["placement.angle_deg"]) == (-10.0, 3.0)


@pytest.mark.parametrize(
    ("known", "reason"),
    [
        ({"ice.kind": "water ice"}, "ice.kind = 'water ice': must be one of"),
        ({"placement.angle_deg": 60.0}, "placement.angle_deg = 60: must be a number between -45 and 45 deg"),
        ({"pull.direction_deg": 120.0}, "pull.direction_deg = 120: must be"),
        ({"tube.length_mm": 100.0, "placement.embedment_mm": 120.0}, "placement.embedment_mm = 120: must be"),
        ({"ice.kind": "firn"}, "no balance is found"),
    ],
)
def test_a_row_beyond_the_model_is_kept_with_the_reason(
    tmp_path: Path, pulled: list[Any], known: dict[str, Any], reason: str
) -> None:
    first, second = told([row(given=known), row("b")], tmp_path, 2)
    assert reason in first.problem and first.load("peak") is None and not any(first.draws)
    assert second.problem == "" and second.load("peak") == pytest.approx(0.08 * 130) and len(second.draws) == 2


def test_draws_are_the_same_ice_in_every_row_and_angle_and_depth_their_own(tmp_path: Path, pulled: list[Any]) -> None:
    """The same share of each prior; the angle's draws have the row's own standard deviation about its own angle."""
    rows = [row(given={"placement.angle_deg": -20.0}), row("b", {"placement.angle_deg": 10.0}, angle_error_deg=0.5)]
    first, second = told(rows, tmp_path, 40)
    for key in ("ice.K_IC_kPa_sqrt_m", "assumed.crushing_share"):
        np.testing.assert_array_equal(first.inputs[key], second.inputs[key])
    one, other = (each.inputs["placement.angle_deg"] for each in (first, second))
    np.testing.assert_allclose((one + 20) / ANGLE_ERROR, (other - 10) / 0.5, atol=1e-6)
    assert one.std() == pytest.approx(ANGLE_ERROR, rel=0.4)
    expected = [
        made_up_peak_kN({**(first.settings or {}), **{key: values[k] for key, values in first.inputs.items()}})
        for k in range(40)
    ]
    np.testing.assert_allclose(first.loads("peak"), expected, rtol=1e-12)
    assert first.at("peak", (0.5,))[0] == pytest.approx(float(np.median(expected)))


def test_nothing_is_solved_twice(tmp_path: Path, pulled: list[Any]) -> None:
    """Repeats of a placement share their pulls; a second run takes all from the records, a longer table the rest."""
    rows = [row(), row("b"), row("c", {"placement.angle_deg": 10.0})]
    found = told(rows, tmp_path, 5)
    assert len(pulled) == 12 and found[0].draws == found[1].draws
    pulled.clear()
    assert [each.draws for each in told(rows, tmp_path, 5)] == [each.draws for each in found] and pulled == []
    told([*rows, row("d", {"placement.angle_deg": -10.0})], tmp_path, 5)
    assert len(pulled) == 6


def test_a_stated_number_is_not_drawn(tmp_path: Path) -> None:
    settings, _ = settings_of_row(row(given={"ice.K_IC_kPa_sqrt_m": 90.0}))
    keys = {each.key for each in draws_of(row(), settings, 3, 1).randoms}
    assert "ice.K_IC_kPa_sqrt_m" not in keys and {"assumed.crushing_share", "placement.angle_deg"} <= keys
    none = row(angle_error_deg=0.0, depth_error_mm=0.0)
    assert not {each.key for each in draws_of(none, settings, 3, 1).randoms} & {
        "placement.angle_deg",
        "placement.embedment_mm",
    }


def test_a_drawn_tube_stays_in_the_ice(tmp_path: Path, pulled: list[Any]) -> None:
    """As deep as the tube is long: no draw is deeper."""
    (found,) = told([row(given={"placement.embedment_mm": 140.0}, depth_error_mm=10.0)], tmp_path, 30)
    depths = found.inputs["placement.embedment_mm"]
    assert len(depths) == 30 and depths.max() <= 140.0 and depths.min() > 90.0
