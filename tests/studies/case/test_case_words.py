"""Words of a case: each key on an axis and in a line, and what differs from the defaults."""

from __future__ import annotations

from studystub import made_up_record

from icecone.studies.case import words as casewords
from icecone.studies.case.file import settings_from
from icecone.studies.case.keys import KEYS
from icecone.studies.case.words import case_words, short_words


def test_every_key_has_words_on_an_axis_and_in_a_line() -> None:
    """Axis words carry the key's unit; short ones fit a panel's title and tell the keys apart."""
    assert set(casewords.AXIS_WORDS) == set(KEYS)
    lines = {name: casewords.short_words(name, key.low or key.default) for name, key in KEYS.items()}
    for name, key in KEYS.items():
        words = casewords.AXIS_WORDS[name]
        assert (f"[{key.unit}]" in words) == bool(key.unit) and "_" not in words.replace("K_IC", "")
        assert 3 < len(lines[name]) < 45 and "_" not in lines[name].replace("K_IC", "")
    assert len(set(lines.values())) == len(KEYS) == len(set(casewords.AXIS_WORDS.values()))
    assert casewords.AXIS_WORDS["ice.tensile_MPa"] == "tensile strength of the ice [MPa]"
    assert casewords.AXIS_WORDS["crust.porosity"] == "porosity of the crust"
    for name, value, words in (
        ("ice.column_tilt_deg", -45.0, "columns −45°"),
        ("ice.column_tilt_deg", "across", "columns across"),
        ("ice.load_time_s", 10.0, "loaded in 10 s"),
        ("ice.E_GPa", 8.0, "E 8 GPa"),
        ("crust.porosity", 0.1, "crust porosity 0.1"),
        ("crust.kind", "firn", "crust of firn"),
        ("crust.temperature_C", "as_ice", "crust at the ice's temperature"),
        ("placement.angle_deg", -10.0, "head away from the pull (−10°)"),
        ("pull.direction_deg", 90.0, "pulled straight out"),
        ("pull.direction_deg", 45.0, "pull 45° from the surface"),
        ("placement.sling_friction", "fixed", "sling that cannot slide"),
    ):
        assert casewords.short_words(name, value) == words


def test_a_case_in_words_names_whatever_differs_from_the_defaults() -> None:
    """Each key of a case away from its default is said, if it enters; a key that varies is left to the axis."""
    plain = settings_from({"numerics.level": "quick"})
    usual = casewords.case_words(plain)
    assert usual.endswith("sound glacier ice, at −5 °C, quick mesh") and "columns" not in usual
    given = {
        "tube.metal": "titanium_alloy",
        "ice.criterion": "parabolic",
        "ice.size_effect": "weakest_link",
        "ice.load_time_s": 100.0,
        "ice.temperature_C": -12.0,
        "ice.tensile_MPa": 0.8,
        "ice.column_tilt_deg": 40.0,
        "ice.crust_mm": 20.0,
        "crust.kind": "firn",
        "crust.porosity": 0.3,
        "tube.eye_mm": 12.0,
    }
    for name, value in given.items():
        case = plain | {"ice.crust_mm": 20.0, name: value}
        columnar = made_up_record({}, ice={"column_axis": [0.6, 0.0, 0.8]})
        words = casewords.short_words(name, value)
        assert words not in usual
        assert words in casewords.case_words(case, columnar).split("  [")[0].split(", "), name
        assert words not in casewords.case_words(case, columnar, but={name})
    isotropic = made_up_record({})
    assert "columns" not in casewords.case_words(plain | {"ice.column_tilt_deg": 40.0}, isotropic)
    assert "firn" not in casewords.case_words(plain | {"crust.kind": "firn"}), "no crust"


def test_words_of_slings_and_rock() -> None:
    """Said where they are not the default."""
    given = {"placement.attachment": "tied_off", "placement.embedment_mm": 100, "placement.sling_height_mm": 20}
    words = case_words(settings_from({**given, "placement.sling_friction": 0.2, "ice.thickness_mm": 150}))
    assert (
        "tied off 20 mm above the ice" in words and "at the ice" not in words and "friction of the sling 0.2" in words
    )
    assert "ice over rock: 150 mm" in words and "rock" not in case_words(settings_from(given))
    assert short_words("ice.thickness_mm", "deep") == "ice over rock: no rock near"
