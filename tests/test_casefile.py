"""Case files: one table of keys decides defaults, checks, example and README table."""

from __future__ import annotations

import json
import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from icecone.geometry import standing_out
from icecone.studies.casefile import (
    KEYS,
    CaseError,
    example_text,
    flatten,
    keys_table,
    read_case,
    settings_from,
    settings_id,
    to_case,
)


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_example_is_the_defaults(tmp_path: Path) -> None:
    """The example, read back, is the case that an empty file is; it says that it is invented and shows every key."""
    text = example_text()
    assert read_case(written(tmp_path, text)) == settings_from({}) == read_case(written(tmp_path, ""))
    assert "invented" in text
    assert set(flatten(tomllib.loads(text), lambda *parts: "")) == set(KEYS)
    for key in KEYS.values():
        assert key.help in text and key.allowed().removeprefix("must be ") in text


def test_readme_table_has_a_row_for_every_key() -> None:
    rows = keys_table().splitlines()
    assert len(rows) == 2 + len(KEYS)
    assert all(f"`{name}`" in row for name, row in zip(KEYS, rows[2:], strict=True))
    assert {row.count("|") for row in rows} == {5}


def test_defaults_lie_within_their_own_ranges() -> None:
    for key in KEYS.values():
        if isinstance(key.default, str):
            assert key.default in key.choices
        else:
            assert key.low is not None and key.high is not None and key.low <= key.default <= key.high


def test_to_case_turns_units_once() -> None:
    """mm to m, deg to rad, kN to N; each key reaches its own field."""
    given_values = {
        "tube.length_mm": 150,
        "tube.od_mm": 18,
        "tube.wall_mm": 1.25,
        "tube.thread_length_mm": 70,
        "tube.thread_height_mm": 3,
        "tube.thread_pitch_mm": 4,
        "tube.eye_mm": 12,
        "tube.hanger_kN": 11,
        "placement.angle_deg": -30,
        "placement.embedment_mm": 100,
        "placement.attachment": "tied_off",
        "pull.direction_deg": 45,
        "ice.kind": "bubbly_glacier",
        "ice.temperature_C": -12,
        "ice.crust_mm": 20,
        "numerics.level": "quick",
    }
    assert set(given_values) == set(KEYS)
    case = to_case(settings_from(given_values))
    tube = case.tube
    assert (tube.length, tube.outer_diameter, tube.wall) == pytest.approx((0.150, 0.018, 0.00125), rel=1e-14)
    assert (tube.thread_length, tube.thread_height, tube.thread_pitch) == pytest.approx((0.07, 0.003, 0.004), rel=1e-14)
    assert (tube.eye, tube.hanger_strength) == pytest.approx((0.012, 11e3), rel=1e-14)
    assert case.placement.angle == pytest.approx(-math.pi / 6, rel=1e-14)
    assert case.placement.embedment == pytest.approx(0.1, rel=1e-14) and case.placement.attachment == "tied_off"
    assert case.pull.direction == pytest.approx(math.pi / 4, rel=1e-14)
    assert case.ice.name == "bubbly_glacier" and case.crust_ice.name == "sun_crust" and case.metal.name == "steel"
    assert case.crust == pytest.approx(0.02, rel=1e-14) and case.level == "quick"
    warmer = to_case(settings_from({**given_values, "ice.temperature_C": -2}))
    assert warmer.ice.youngs_modulus < case.ice.youngs_modulus
    assert warmer.crust_ice.youngs_modulus < case.crust_ice.youngs_modulus


def test_flush_is_length_less_eye() -> None:
    """Driven flush, the eye stands its own height above the ice."""
    settings = settings_from({"tube.length_mm": 163.3, "tube.eye_mm": 12.1})
    assert settings["placement.embedment_mm"] == 151.2
    case = to_case(settings)
    assert standing_out(case.tube, case.placement) == pytest.approx(0.0121, rel=1e-12)
    assert settings_from({**settings, "placement.embedment_mm": "flush"}) == settings


NUMERIC = [key for key in KEYS.values() if key.low is not None]


@given(st.data())
def test_every_accepted_case_is_one_that_the_model_takes(data: st.DataObject) -> None:
    """Whatever settings pass the checks in the users' units pass the checks of the SI classes."""
    given_values: dict[str, object] = {}
    for key in KEYS.values():
        if key.low is None:
            given_values[key.name] = data.draw(st.sampled_from(key.choices))
        else:
            assert key.high is not None
            given_values[key.name] = data.draw(st.floats(key.low, key.high))
    try:
        settings = settings_from(given_values)
    except CaseError as error:
        assert any(
            f"{key} = " in str(error) for key in ("tube.thread_length_mm", "placement.embedment_mm", "ice.crust_mm")
        )
        return
    case = to_case(settings)
    assert case.crust <= 0.8 * case.placement.embedment * math.cos(case.placement.angle) + 1e-9
    assert standing_out(case.tube, case.placement) >= -1e-12
    assert settings_from(settings) == settings == json.loads(json.dumps(settings))


@pytest.mark.parametrize("key", NUMERIC, ids=lambda key: key.name)
def test_range_ends_are_allowed_and_just_beyond_is_not(key) -> None:  # type: ignore[no-untyped-def]
    room = {"tube.length_mm": 300, "tube.thread_length_mm": 10, "placement.embedment_mm": 200}
    if key.name == "tube.length_mm":
        room["placement.embedment_mm"] = 30
    for end, beyond in ((key.low, -1e-6), (key.high, 1e-6)):
        assert settings_from({**room, key.name: end})[key.name] == end
        with pytest.raises(CaseError, match=rf"{key.name} = .*must be a number between {key.low:g} and {key.high:g}"):
            settings_from({**room, key.name: end + beyond})


def test_id_depends_on_every_value_and_not_on_how_it_is_written() -> None:
    base = settings_from({})
    assert settings_id(settings_from({"tube.length_mm": 140, "placement.angle_deg": -0.0})) == settings_id(base)
    assert settings_id(dict(reversed(base.items()))) == settings_id(base)
    ids = {settings_id(base)}
    for key in KEYS.values():
        other = key.choices[-1] if key.low is None else float(base[key.name]) + 0.25
        ids.add(settings_id({**base, key.name: other if other != base[key.name] else key.choices[0]}))
    assert len(ids) == 1 + len(KEYS)


def test_overrides_win_over_the_file_and_read_as_toml_or_word(tmp_path: Path) -> None:
    path = written(tmp_path, "[placement]\nangle_deg = 5\n[ice]\nkind = 'sun_crust'\n")
    settings = read_case(path, ["placement.angle_deg=-10", "ice.kind=bubbly_glacier", 'numerics.level = "quick"'])
    assert settings["placement.angle_deg"] == -10.0
    assert settings["ice.kind"] == "bubbly_glacier" and settings["numerics.level"] == "quick"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("# a comment\n\n[tube]\nod_mm = 17\nlength_mm = 900\n", 5),
        ("tube.length_mm = 900\n", 1),
        ("\n[tube] # the body\n'length_mm' = 900\n", 3),
        ("\n\ntube = { od_mm = 17, length_mm = 900 }\n", 3),
        ("[ice]\ncrust_mm = 0\n[ tube ]\n\tlength_mm = 900", 4),
        ("\ufeff[tube]\r\nlength_mm = 900\r\n", 2),
    ],
)
def test_errors_name_the_line_however_the_key_is_written(tmp_path: Path, text: str, line: int) -> None:
    path = written(tmp_path, text)
    with pytest.raises(CaseError) as caught:
        read_case(path)
    assert str(caught.value) == f"{path}:{line}: tube.length_mm = 900: must be a number between 60 and 300 mm"


@pytest.mark.parametrize(
    ("key", "hint"),
    [
        ("tube.lenght_mm", "tube.length_mm"),
        ("tube.angle_deg", "placement.angle_deg"),
        ("ice.temp_C", "ice.temperature_C"),
    ],
)
def test_a_misspelt_key_gets_the_closest_one(key: str, hint: str) -> None:
    with pytest.raises(CaseError, match=f"{key} = 5: unknown key: .*did you mean {hint}"):
        settings_from({key: 5})


def test_crust_limit_is_told_in_the_users_units() -> None:
    """0.8 of embedment times cos(angle): 0.8 * 100 * cos(30 deg) = 69.282 mm."""
    near = {"placement.embedment_mm": 100, "placement.angle_deg": 30}
    assert settings_from({**near, "ice.crust_mm": 69.28})["ice.crust_mm"] == 69.28
    with pytest.raises(CaseError, match=r"^ice.crust_mm = 69.29: must be a number between 0 and 69.282 mm"):
        settings_from({**near, "ice.crust_mm": 69.29})
