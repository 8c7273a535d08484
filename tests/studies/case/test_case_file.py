"""Case files: one table of keys decides defaults, checks, example and README table."""

from __future__ import annotations

import json
import math
import tomllib
from dataclasses import replace
from math import cos, radians, sin
from pathlib import Path

import pytest
from domains import examples, numbers
from hypothesis import given
from hypothesis import strategies as st

from icecone.geometry.placement import Pull, standing_out
from icecone.materials import assumptions, metal_named
from icecone.materials.crystal import solid_ice
from icecone.materials.porosity import with_pores
from icecone.studies.case.file import (
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
    """The crust's own stated values, the same as the ice's, share the last row."""
    rows = keys_table().splitlines()
    shown = [name for name, key in KEYS.items() if not (key.brief and name.startswith("crust."))]
    assert len(KEYS) - len(shown) == len([name for name, key in KEYS.items() if key.brief]) / 2 > 10
    assert all(f"`{name}`" in row for name, row in zip(shown, rows[2:-1], strict=True))
    assert "`crust.fabric` to `crust.peak_pressure_MPa`" in rows[-1]
    assert {row.count("|") for row in rows} == {5}


def test_a_case_states_the_temper_of_its_metal() -> None:
    """Yield and ultimate strength in place of the metal's, all else its own; by_metal is the metal as it stands."""
    stated = to_case(settings_from({"tube.yield_MPa": 980, "tube.ultimate_MPa": 1040})).metal
    table = to_case(settings_from({})).metal
    assert table == metal_named("chromoly_steel")
    assert (stated.yield_strength, stated.ultimate_strength) == (9.8e8, 1.04e9)
    assert replace(stated, yield_strength=7e8, ultimate_strength=8.5e8) == table


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"yield": 980}, "tube.yield_MPa = 980: must be at most tube.ultimate_MPa = 850 (of chromoly_steel)"),
        ({"ultimate": 60}, "tube.ultimate_MPa = 60: must be at least tube.yield_MPa = 700 (of chromoly_steel)"),
        ({"yield": 98, "ultimate": 90}, "tube.yield_MPa = 98: must be at most tube.ultimate_MPa = 90"),
        ({"yield": 20}, 'tube.yield_MPa = 20: must be a number between 50 and 2500 MPa, or "by_metal"'),
    ],
)
def test_a_metal_that_yields_above_its_ultimate_strength_is_told(given: dict[str, float], told: str) -> None:
    with pytest.raises(CaseError) as error:
        settings_from({f"tube.{name}_MPa": value for name, value in given.items()})
    assert str(error.value) == told


def test_defaults_lie_within_their_own_ranges() -> None:
    for key in KEYS.values():
        if isinstance(key.default, str):
            assert key.default in tuple(key.choices)
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
        "pull.travel_mm": 80,
        "pull.turn_deg": 90,
        "ice.kind": "bubbly_glacier",
        "ice.temperature_C": -12,
        "ice.crust_mm": 20,
        "numerics.level": "quick",
        "tube.metal": "titanium_alloy",
        "tube.yield_MPa": 880,
        "tube.ultimate_MPa": 960,
        "placement.sling_kN": 20,
        "placement.sling_height_mm": 30,
        "placement.sling_friction": 0.25,
        "ice.thickness_mm": 200,
        "ice.load_time_s": 3,
        "ice.column_tilt_deg": -30,
        "ice.criterion": "parabolic",
        "ice.size_effect": "weakest_link",
        "crust.kind": "firn",
        "crust.temperature_C": -1,
    }
    own = {
        "fabric": ("columnar_S1", "isotropic"),
        "porosity": (0.03, 0.2),
        "bubble_aspect": (2.0, 1.0),
        "pore_scheme": ("mori_tanaka", "self_consistent"),
        "grain_size_mm": (4.0, 2.0),
        "tensile_MPa": (1.1, 0.3),
        "K_IC_kPa_sqrt_m": (99.0, 50.0),
        "compressive_MPa": (7.0, 2.0),
        "confinement_slope": (3.5, 2.0),
        "deviator_cap_MPa": (17.0, 6.0),
        "pressure_slope": (1.1, 0.8),
        "peak_pressure_MPa": (22.0, 9.0),
    }
    given_values |= {
        f"{table}.{name}": pair[i] for i, table in enumerate(("ice", "crust")) for name, pair in own.items()
    }
    given_values |= {"crust.E_GPa": 2.5, "crust.nu": 0.22}
    given_values |= {name: 0.9 * key.high for name, key in KEYS.items() if name.startswith("assumed.") and key.high}
    assert set(given_values) == set(KEYS) - {"ice.E_GPa", "ice.nu", "numerics.model"}
    case = to_case(settings_from(given_values))
    tube = case.tube
    assert (tube.length, tube.outer_diameter, tube.wall) == pytest.approx((0.150, 0.018, 0.00125), rel=1e-14)
    assert (tube.thread_length, tube.thread_height, tube.thread_pitch) == pytest.approx((0.07, 0.003, 0.004), rel=1e-14)
    assert (tube.eye, tube.hanger_strength) == pytest.approx((0.012, 11e3), rel=1e-14)
    assert case.placement.angle == pytest.approx(-math.pi / 6, rel=1e-14)
    assert case.placement.embedment == pytest.approx(0.1, rel=1e-14) and case.placement.attachment == "tied_off"
    assert (case.pull.direction, case.pull.turn) == pytest.approx((math.pi / 4, math.pi / 2), rel=1e-14)
    assert case.pull.movement == pytest.approx(0.08, rel=1e-14) and to_case(settings_from({})).pull == Pull(0.0)
    assert case.placement.sling_strength == 20e3 and case.placement.sling_friction == 0.25
    assert case.placement.sling_height == pytest.approx(0.03, rel=1e-14)
    assert case.ice.name == "bubbly_glacier" and case.crust_ice.name == "firn" and case.metal.name == "titanium_alloy"
    assert (case.metal.yield_strength, case.metal.ultimate_strength) == pytest.approx((8.8e8, 9.6e8), rel=1e-14)
    assert case.crust == pytest.approx(0.02, rel=1e-14) and case.level == "quick"
    assert case.size_effect == "weakest_link" and to_case(settings_from({})).size_effect == "none"
    for i, one in enumerate((case.ice, case.crust_ice)):
        assert one.fabric == own["fabric"][i] and one.porosity == own["porosity"][i] and one.criterion == "parabolic"
        assert one.grain_size * 1e3 == pytest.approx(own["grain_size_mm"][i])
        assert one.tensile_strength / 1e6 == pytest.approx(own["tensile_MPa"][i])
        assert one.toughness / 1e3 == pytest.approx(own["K_IC_kPa_sqrt_m"][i])
        assert one.compressive_strength / 1e6 == pytest.approx(own["compressive_MPa"][i])
        assert one.confinement_slope == own["confinement_slope"][i]
        assert one.deviator_cap / 1e6 == pytest.approx(own["deviator_cap_MPa"][i])
        assert one.pressure_slope == own["pressure_slope"][i]
        assert one.peak_pressure / 1e6 == pytest.approx(own["peak_pressure_MPa"][i])
    solid = solid_ice(-12.0, "columnar_S1").pointing((-0.5, 0.0, math.sqrt(0.75)))
    expected = with_pores(solid, 0.03, 2.0, "mori_tanaka").tensor()
    assert case.ice.elastic.tensor() == pytest.approx(expected, rel=1e-12, abs=1.0)
    assert case.crust_ice.elastic.youngs_modulus == pytest.approx(2.5e9)
    assert case.crust_ice.elastic.poissons_ratio == pytest.approx(0.22)
    for name, each in assumptions().items():
        unit = {"mm": 1e-3, "deg": math.pi / 180}.get(name.rpartition("_")[2], 1.0)
        assert getattr(case.assumed, each.field) == pytest.approx(unit * given_values[f"assumed.{name}"], rel=1e-14)
    across = to_case(settings_from({**given_values, "ice.column_tilt_deg": "across"}))
    assert across.ice.elastic.axis == (0.0, 1.0, 0.0)


def test_temperature_and_loading_time_reach_both_ices() -> None:
    """The crust follows the ice's temperature unless it has its own; slower loading weakens compression."""
    base = to_case(settings_from({"ice.temperature_C": -12}))
    warmer = to_case(settings_from({"ice.temperature_C": -2}))
    slower = to_case(settings_from({"ice.temperature_C": -12, "ice.load_time_s": 600}))
    wet = to_case(settings_from({"ice.temperature_C": -12, "crust.temperature_C": 0}))
    for name in ("ice", "crust_ice"):
        at = {word: getattr(case, name) for word, case in (("base", base), ("warmer", warmer), ("slower", slower))}
        assert at["warmer"].elastic.youngs_modulus < at["base"].elastic.youngs_modulus
        assert at["slower"].compressive_strength < at["base"].compressive_strength
    assert wet.ice == base.ice and wet.crust_ice.tensile_strength < base.crust_ice.tensile_strength


@pytest.mark.parametrize(
    ("given_values", "message"),
    [
        ({"ice.kind": "dense_waterfall", "ice.E_GPa": 9}, "ice.E_GPa = 9: must be left out where the fabric is"),
        ({"crust.deviator_cap_MPa": 1}, "crust.deviator_cap_MPa = 1: must be at least"),
        ({"ice.kind": "firn", "ice.bubble_aspect": 3}, "ice.bubble_aspect = 3: must be 1 where pore_scheme"),
        ({"ice.porosity": 0.5}, 'ice.porosity = 0.5: must be a number between 0 and 0.45, or "by_kind"'),
        ({"ice.fabric": "woven"}, 'ice.fabric = \'woven\': must be one of "by_kind", "isotropic"'),
        (
            {"ice.column_tilt_deg": "along"},
            "ice.column_tilt_deg = 'along': must be a number between -90 and 90 deg, or",
        ),
        ({"crust.temperature_C": 1}, 'crust.temperature_C = 1: must be a number between -40 and 0 deg C, or "as_ice"'),
        ({"ice.load_time_s": 0}, "ice.load_time_s = 0: must be a number between 0.01 and 3600 s"),
        ({"assumed.crushing_share": 0}, "assumed.crushing_share = 0: must be a number between 0.05 and 5"),
        ({"pull.turn_deg": 4}, "pull.turn_deg = 4: must be a number between 5 and 180 deg"),
        ({"tube.metal": "tin"}, "tube.metal = 'tin': must be one of \"chromoly_steel\""),
    ],
)
def test_overrides_that_do_not_go_together_are_told_by_key(given_values: dict[str, object], message: str) -> None:
    with pytest.raises(CaseError) as caught:
        settings_from(given_values)
    assert str(caught.value).startswith(message) and "\n" not in str(caught.value)


def test_flush_is_length_less_eye() -> None:
    """Driven flush, the eye stands its own height above the ice."""
    settings = settings_from({"tube.length_mm": 163.3, "tube.eye_mm": 12.1})
    assert settings["placement.embedment_mm"] == 151.2
    case = to_case(settings)
    assert standing_out(case.tube, case.placement) == pytest.approx(0.0121, rel=1e-12)
    assert settings_from({**settings, "placement.embedment_mm": "flush"}) == settings


NUMERIC = [key for key in KEYS.values() if key.low is not None]
BRIEF = [key.name for key in KEYS.values() if key.brief]
SLING = ("placement.sling_height_mm", "placement.sling_friction")
CAPS = ("deviator_cap_MPa", "peak_pressure_MPa")


@examples(100)
@given(st.data())
def test_every_accepted_case_is_one_that_the_model_takes(data: st.DataObject) -> None:
    """Whatever settings pass the checks in the users' units pass the checks of the SI classes."""
    given_values: dict[str, object] = {}
    overridden = data.draw(st.lists(st.sampled_from(BRIEF), max_size=2, unique=True))
    for key in KEYS.values():
        if key.brief and key.name not in overridden:
            continue
        if key.name in SLING and given_values["placement.attachment"] == "eye":
            continue
        if key.low is None:
            given_values[key.name] = data.draw(st.sampled_from(tuple(key.choices)))
        else:
            assert key.high is not None
            given_values[key.name] = data.draw(numbers(key.low, key.high))
    try:
        settings = settings_from(given_values)
    except CaseError as error:
        depths = ("tube.thread_length_mm", "placement.embedment_mm", "ice.crust_mm", "placement.sling_height_mm")
        depths += ("ice.thickness_mm", "tube.yield_MPa", "tube.ultimate_MPa")
        ices = [f"{t}.{name}" for t in ("ice", "crust") for name in ("E_GPa", "nu", "bubble_aspect", *CAPS)]
        assert any(f"{key} = " in str(error) for key in (*depths, *ices))
        return
    case = to_case(settings)
    assert case.crust <= 0.8 * case.placement.embedment * math.cos(case.placement.angle) + 1e-9
    assert standing_out(case.tube, case.placement) >= -1e-12
    assert settings_from(settings) == settings == json.loads(json.dumps(settings))


@pytest.mark.parametrize("key", NUMERIC, ids=lambda key: key.name)
def test_range_ends_are_allowed_and_just_beyond_is_not(key) -> None:  # type: ignore[no-untyped-def]
    room = {"tube.length_mm": 300, "tube.thread_length_mm": 10, "placement.embedment_mm": 200}
    room |= {"ice.compressive_MPa": 0.1, "crust.compressive_MPa": 0.1, "crust.kind": "sound_glacier"}
    room |= {"tube.yield_MPa": 50, "tube.ultimate_MPa": 3000}
    room["placement.attachment"] = "tied_off"
    if key.name in ("tube.length_mm", "placement.sling_height_mm"):
        room["placement.embedment_mm"] = 30
    if key.name == "ice.thickness_mm":
        room |= {"placement.embedment_mm": 30, "placement.angle_deg": 45}
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
        now = base[key.name]
        other: float | str = 0.25 + (now if isinstance(now, float) else 0.0)
        if key.low is None:
            other = next(choice for choice in key.choices if choice != now)
        ids.add(settings_id({**base, key.name: other}))
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


def test_a_case_whose_tube_meets_the_rock_is_told_by_key() -> None:
    """The lower edge of the tip: 100 cos 30 + 8.5 sin 30 deg = 90.85 mm."""
    given = {"placement.embedment_mm": 100, "placement.angle_deg": -30}
    edge = 100 * cos(radians(30)) + 8.5 * sin(radians(30))
    assert settings_from({**given, "ice.thickness_mm": edge + 1e-3})["ice.thickness_mm"] == edge + 1e-3
    with pytest.raises(CaseError) as caught:
        settings_from({**given, "ice.thickness_mm": 90})
    words = 'ice.thickness_mm = 90: must be more than 90.8525 mm, the depth of the tip, or "deep"'
    assert str(caught.value) == words
    assert settings_from({})["ice.thickness_mm"] == "deep"


def test_crust_limits_and_names():
    assert settings_from({"ice.crust_mm": 2.0})["ice.crust_mm"] == 2.0
    with pytest.raises(CaseError, match=r"ice\.crust_mm = 1\.99"):
        settings_from({"ice.crust_mm": 1.99})
    with pytest.raises(CaseError, match=r"^here: crust\.deviator_cap_MPa"):
        settings_from({"crust.deviator_cap_MPa": 1}, lambda key: "here: " if key == "crust.deviator_cap_MPa" else "")
