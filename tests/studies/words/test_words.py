"""Words under the series of a study, from made-up records: each sentence where the numbers bear it, only there."""

from __future__ import annotations

from typing import Any

import pytest
from studystub import changed, made_up_record

from icecone.studies.words import onset as why


def ice(kind: str = "sound_glacier", **more: Any) -> dict[str, Any]:
    """A made-up ice as a record holds it."""
    return {
        "kind": kind,
        "fabric": "isotropic",
        "porosity": 0.0,
        "E_GPa": 9.0,
        "nu": 0.32,
        "tensile_MPa": 1.2,
        "K_IC_kPa_sqrt_m": 120.0,
        "compressive_MPa": 8.0,
        "critical_distance_mm": 3.2,
        **more,
    }


def record(key: str, value: float | str, onset: float, crust: dict[str, Any] | None = None, **more: Any) -> Any:
    """A made-up record; what `more` names that an ice has is of its ice, the rest of the record."""
    own = {name: more.pop(name) for name in ice() if name in more}
    case = {"ice.kind": "sound_glacier", "ice.temperature_C": -5.0, "ice.crust_mm": 0.0, key: value}
    also = more.pop("also", {})
    told = {"onset_place": "at the mouth, in front of the tube", "onset_where_mm": [8.5, 0.0, 0.0], **more}
    return made_up_record({**case, **also}, onset_kN=onset, ice=ice(str(case["ice.kind"]), **own), crust=crust, **told)


def kinds(*rows: tuple[str, float, float, float]) -> list[Any]:
    """Records of kinds: name, onset, tensile strength, critical distance."""
    return [record("ice.kind", name, f, tensile_MPa=s, critical_distance_mm=length) for name, f, s, length in rows]


def test_kinds_that_follow_the_tensile_strength_are_said_to() -> None:
    """0.30, 0.25 and 0.10 kN per MPa of 1.2, 1.0 and 0.4: the same to the digit, whatever the critical distance."""
    text = why.explain(kinds(("firn", 0.10, 0.4, 5.0), ("a_b", 0.30, 1.2, 3.0), ("c", 0.26, 1.0, 3.0)), "ice.kind")
    assert "Of 3 kinds of ice a b bears most before the first damage and firn least, a factor of 3.00" in text
    assert "(kN: a b 0.30, c 0.26, firn 0.10)" in text
    assert (
        "It begins at the mouth, in front of the tube in all, by tension. Where tension comes first the onset" in text
    )
    assert "follows the tensile strength: from firn to a b 3.00 times in strength, 1.00 times in toughness" in text
    assert "3.00 times in onset; per MPa it differs by 4 %." in text
    assert "does not follow" not in text and "may well change places" in text and text.endswith(why.LATER)


def test_kinds_that_do_not_follow_it_are_told_by_what_else_differs() -> None:
    """Twice the onset per MPa in the ice with the longer critical distance and the lower modulus."""
    records = kinds(("firn", 0.20, 0.4, 9.0), ("sound", 0.30, 1.2, 3.0))
    records[0] = changed(records[0], ice={"E_GPa": 3.0, "fabric": "S1"})
    text = why.explain(records, "ice.kind")
    assert "the onset does not follow the tensile strength alone: from firn to sound 3.00 times in strength" in text
    assert "Per MPa of it firn has 2.00 times the onset of sound" in text
    others = "critical distance 9 against 3 mm, modulus 3 against 9 GPa, fabric S1 against isotropic."
    assert f"what else differs: {others}" in text


def test_kinds_that_follow_the_toughness_are_said_to() -> None:
    """0.30 and 0.15 kN with 120 and 60 kPa m^0.5, whatever the tensile strength: a crack needs its energy."""
    records = kinds(("firn", 0.15, 0.9, 3.0), ("sound", 0.30, 1.2, 3.0))
    records[0] = changed(records[0], ice={"K_IC_kPa_sqrt_m": 60.0})
    text = why.explain(records, "ice.kind")
    assert "follows the toughness, not the tensile strength: from firn to sound 1.33 times in strength, 2.00" in text
    assert "per unit of toughness it differs by 0 %: a crack must get its energy" in text
    records[0] = changed(records[0], ice={"K_IC_kPa_sqrt_m": 90.0})
    assert "follows the toughness" not in why.explain(records, "ice.kind")


def test_a_small_difference_is_not_said_to_follow() -> None:
    """Onsets 4 % apart with strengths 4 % apart the other way: within 15 %, but nothing that follows."""
    text = why.explain(kinds(("a", 0.300, 1.04, 3.0), ("b", 0.312, 1.0, 3.0)), "ice.kind")
    assert "does not follow" in text


@pytest.mark.parametrize("mode", ["shear", "crushing"])
def test_each_mode_is_held_against_its_own_strength(mode: str) -> None:
    """Two kinds in tension follow the tensile strength, two others the compressive one: 0.2 to 0.1 kN, 4 to 2 MPa."""
    records = kinds(("a", 0.3, 1.2, 3.0), ("b", 0.2, 0.8, 3.0), ("soft", 0.1, 1.2, 3.0), ("hard", 0.2, 0.7, 3.0))
    for at, strength in ((2, 2.0), (3, 4.0)):
        records[at] = changed(records[at], onset_mode=mode, ice={"compressive_MPa": strength})
    text = why.explain(records, "ice.kind")
    assert f"by tension (a, b); by {mode} (hard, soft)." in text
    assert "Where tension comes first the onset follows the tensile strength: from b to a 1.50" in text
    assert f"Where {mode} comes first the onset follows the compressive strength: from soft to hard 2.00" in text
    del records[3]
    assert mode in (text := why.explain(records, "ice.kind")) and f"Where {mode}" not in text


def test_a_key_that_does_nothing_or_little_is_said_to() -> None:
    """The same onset to the digit, and a factor below the error of the mesh."""
    same = why.explain([record("crust.kind", kind, 0.3) for kind in ("firn", "sun_crust")], "crust.kind")
    assert "comes at the same 0.3 kN: this setting makes no difference here." in same
    little = [record("ice.load_time_s", t, f) for t, f in ((1.0, 0.30), (3600.0, 0.31))]
    assert "less than the error" not in why.explain(little, "ice.load_time_s")
    little = [changed(one, case={**one.case, "numerics.level": "quick"}) for one in little]
    text = why.explain(little, "ice.load_time_s")
    assert "a factor of 1.03. That is less than the error of a mesh of level quick (13 %)." in text
    assert "ice.load_time_s = 3600" in text


def test_temperature_tells_the_change_per_10_K_and_which_properties_move() -> None:
    """-10 % over 20 K is -5 % per 10 K; the strength falls as much, the toughness does not move."""
    key = "ice.temperature_C"
    records = [record(key, t, f, tensile_MPa=s, E_GPa=9.0) for t, f, s in ((-5, 0.36, 1.08), (-25, 0.40, 1.2))]
    text = why.explain(records, key)
    assert "From -25 to -5 deg C the onset falls at every step, 0.400 to 0.360 kN: -5.0 % per 10 K" in text
    assert "Over the same range: tensile strength -10.0 %; unchanged: modulus, compressive strength, toughness" in text
    assert "the onset follows the tensile strength: from -5 deg C to -25 deg C 1.11 times in strength" in text
    records[0] = changed(records[0], onset_kN=0.44)
    text = why.explain(records, key)
    assert "rises at every step" in text and "does not follow the tensile strength" in text and "+5.0 %" in text


def test_temperature_without_a_change_claims_none() -> None:
    key = "ice.temperature_C"
    text = why.explain([record(key, t, 0.4) for t in (-20, -10, 0)], key)
    assert "hardly changes" in text and "no property of the ice changes." in text and "follow" not in text
    text = why.explain([record(key, t, f) for t, f in ((-20, 0.4), (-10, 0.4005), (0, 0.3))], key)
    assert "falls or stays at every step" in text
    text = why.explain([record(key, t, f) for t, f in ((-20, 0.4), (-10, 0.3), (0, 0.4))], key)
    assert "does not change one way" in text


def crusted(mm: float, onset: float, depth: float = 0.0, tensile: float = 0.4) -> Any:
    soft = ice("sun_crust", tensile_MPa=tensile, E_GPa=3.0) if mm else None
    return record("ice.crust_mm", mm, onset, soft, onset_where_mm=[8.5, 0.0, -depth])


def test_crust_tells_how_the_onset_falls_where_it_begins_and_what_the_strength_leaves() -> None:
    """0.40 to 0.14 kN is 0.35 of it, near the 0.33 of the strength; at 2 mm it begins below, at 5 mm at the border."""
    records = [crusted(0, 0.40), crusted(2, 0.30, 4.0), crusted(5, 0.20, 5.0), crusted(10, 0.142), crusted(40, 0.14)]
    text = why.explain(records, "ice.crust_mm")
    assert "As the crust thickens the onset falls at every step, a factor of 2.86 in all" in text
    assert "From 10 mm on it stays within 5 % of that under the thickest." in text
    assert "begins below the crust at 2 mm; on the lower side of the crust at 5 mm; in the crust at 10, 40 mm." in text
    assert "0.33 times the tensile strength of the ice and 0.33 times its modulus; at 40 mm the onset is 0.35" in text
    assert "as the tensile strength (within 15 %)." in text


@pytest.mark.parametrize(("tensile", "expected"), [(0.2, "more than the"), (0.9, "less than the")])
def test_crust_that_does_not_leave_what_its_strength_says(tensile: float, expected: str) -> None:
    text = why.explain([crusted(0, 0.40), crusted(20, 0.14, tensile=tensile)], "ice.crust_mm")
    assert f"{expected} tensile strength alone would leave." in text and "From" not in text


def test_crust_in_shear_is_held_against_the_compressive_strength() -> None:
    """Alike in compression (8 MPa both), a third in tension: the onset of 0.35 is less than the former would leave."""
    records = [crusted(0, 0.40), crusted(20, 0.14)]
    records[1] = changed(records[1], onset_mode="shear")
    assert "would leave" not in why.explain(records, "ice.crust_mm"), "tension without crust, shear with it"
    records[0] = changed(records[0], onset_mode="shear")
    text = why.explain(records, "ice.crust_mm")
    assert "1.00 times the compressive strength" in text and "less than the compressive strength alone would" in text


def test_below_the_crust_its_strength_is_not_held_to_decide() -> None:
    text = why.explain([crusted(0, 0.40), crusted(20, 0.14, depth=30.0)], "ice.crust_mm")
    assert "below the crust at 20 mm" in text and "0.35 times that without. " in text


def test_kinds_under_a_crust_are_told_in_general() -> None:
    """The crust starts to break first; and a single value."""
    records = [changed(each, crust=ice("sun_crust")) for each in kinds(("a", 0.3, 1.2, 3.0), ("b", 0.2, 0.8, 3.0))]
    general = why.explain(records, "ice.kind")
    assert "Over 2 values of ice.kind" in general and "strength" not in general
    assert "Over 1 value of" in why.explain(records[:1], "ice.kind")


def test_a_lean_that_shears_opens_no_crack() -> None:
    """How the crack runs is quoted as it is where tension does not come first at both ends."""
    rows = ((-20.0, 0.2, "shear", "slanting, sliding"), (0.0, 0.4, "tension", "x"), (20.0, 0.7, "tension", "along it"))
    numbers = {"share_front": 1.2, "share_threads": 0.1, "share_back_or_toe": -0.3, "compliance_mm_per_kN": 0.03}
    numbers |= {"mouth_tension_MPa_per_kN": 2.0, "mouth_compression_MPa_per_kN": 8.0}
    records = [
        record(
            "placement.angle_deg",
            angle,
            onset,
            onset_mode=mode,
            onset_crack=crack,
            also={"pull.direction_deg": 0.0},
            **numbers,
        )
        for angle, onset, mode, crack in rows
    ]
    text = why.explain(records, "placement.angle_deg")
    assert "How the crack runs, leaning away: slanting, sliding; leaning toward: along it." in text
    assert "The crack that this opens" not in text
    records[0] = changed(records[0], onset_mode="tension")
    assert "The crack that this opens lies slanting, sliding, or along it." in why.explain(
        records, "placement.angle_deg"
    )


@pytest.mark.parametrize(
    ("compressions", "words"),
    [
        ((5.6, 8.0, 5.6), "the compression falls to 0.7 both ways, so it cannot explain the difference."),
        ((9.6, 8.0, 10.4), "the compression rises to 1.2 and 1.3 times, so it cannot explain the difference."),
        ((8.0, 8.0, 8.0), "the compression stays the same both ways, so it cannot explain the difference."),
        ((5.6, 8.0, 10.4), "the compression goes to 0.7 and 1.3 times."),
    ],
)
def test_compression_that_is_alike_both_ways_explains_nothing(
    compressions: tuple[float, float, float], words: str
) -> None:
    """Over that of the upright tube: 0.7 and 0.7 differ by nothing, 0.7 and 1.3 by more than a quarter."""
    numbers = {"share_front": 1.2, "share_threads": 0.1, "share_back_or_toe": -0.3, "compliance_mm_per_kN": 0.03}
    numbers |= {"mouth_tension_MPa_per_kN": 2.0}
    records = [
        record(
            "placement.angle_deg",
            angle,
            0.3,
            also={"pull.direction_deg": 0.0},
            mouth_compression_MPa_per_kN=compression,
            **numbers,
        )
        for angle, compression in zip((-20.0, 0.0, 20.0), compressions, strict=True)
    ]
    text = why.explain(records, "placement.angle_deg")
    assert words in text
    assert f"Both ways, tension breaks the ice first {records[0].onset.place}." in text
    records[0] = changed(records[0], onset_mode="shear")
    assert "Leaning away, shear breaks the ice first" in why.explain(records, "placement.angle_deg")


def test_series_are_ranked_by_their_factor() -> None:
    """Temperature 0.40 / 0.32 = 1.25 before the kinds' 1.20; a paragraph each, a closing one, the peak named once."""
    series = [
        ("ice.kind", kinds(("a", 0.24, 0.96, 3.0), ("b", 0.20, 0.8, 3.0))),
        ("ice.temperature_C", [record("ice.temperature_C", t, f) for t, f in ((-20, 0.4), (0, 0.32))]),
        ("ice.crust_mm", [crusted(5, 0.2)]),
    ]
    text = why.explain_series(series)
    paragraphs = text.split("\n\n")
    assert [p.split(":")[0] for p in paragraphs[:3]] == [key for key, _ in series] and len(paragraphs) == 4
    ranking = "Ranked by the factor between largest and least onset: ice.temperature_C 1.25, ice.kind 1.20."
    assert paragraphs[3].startswith(ranking) and text.count(why.LATER) == text.count(why.NOT_PEAK) == 1
    assert "they are not ranked" in why.explain_series(series[1:]) and "Ranked" not in why.explain_series(series[1:])
