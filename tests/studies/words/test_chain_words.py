"""Why the angle moves the peak, in words, from invented outcomes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from studystub import changed, peak_record

from icecone.studies.outcome.data import Outcome
from icecone.studies.words.chain import chips_come_out, explain_chain
from icecone.studies.words.peak import explain_peaks

KEY = "placement.angle_deg"


def at(angle: float, peak: float, mode: str, hinge: float | None, goes: float, stays: float) -> Outcome:
    """An outcome with a band of its peak."""
    band = {"goes": {"peak": goes}, "stays": {"peak": stays}}
    return changed(peak_record(peak, mode, hinge, placement__angle_deg=angle), peak={"band": band})


CHAIN = [
    at(20, 14.0, "tube bends", 9.0, 6.0, 14.0),
    at(-20, 4.0, "lever-out", None, 4.0, 8.0),
    at(0, 10.0, "tube bends", 7.0, 3.0, 10.0),
    at(5, 11.0, "tube bends", 7.0, 3.0, 11.0),
]


def test_the_chain_is_told_in_order_of_the_angle() -> None:
    """The ends and what is nearest to upright; what gives way is what each outcome says."""
    words = explain_chain(CHAIN, KEY)
    answer = "Tube and ice hold 4.0 kN leaning 20 deg away from the pull, 10.0 kN upright and 14.0 kN leaning"
    assert words.startswith(answer)
    weak, strong = ([changed(each, limit_mode=mode, limit_kN=9.0) for each in CHAIN] for mode in ("hanger", "cone"))
    assert "The hanger fails before, at its stated 9.0 kN, leaning 20 deg away" in explain_chain(weak, KEY)
    assert "stated" not in explain_chain(strong, KEY)
    places = [words.index(part) for part in ("tension at the mouth", "first damage", "chips", "no hinge", "Upright")]
    assert places == sorted(places)
    assert "leaning 20 deg away from the pull they come out (4.0 kN, 8.0 if none did)" in words
    assert "upright and leaning 20 deg toward the pull they stay (10.0 kN, 3.0 if all came out; 14.0 kN, 6.0" in words
    assert "forms a hinge, at 7.0 kN, and at 10.0 kN the tube bends toward the pull." in words
    assert "5 deg toward" not in words and "11.0" not in words


def test_a_slanting_pull_does_not_push_on_the_front() -> None:
    steep = [replace(each, case={**each.case, "pull.direction_deg": 80}) for each in CHAIN]
    assert "pushes square" in explain_chain(CHAIN, KEY) and "pushes square" not in explain_chain(steep, KEY)


def test_a_study_names_its_values_in_words_not_by_keys() -> None:
    told = explain_peaks(CHAIN[:3], KEY)
    assert "4.0 kN at the least, head away from the pull (−20°), and 14.0 kN at the most, head toward" in told
    assert KEY not in told.split("What gives way")[0]
    assert "lever-out at -20 deg" in told and "tube bends at 20 deg; " in told


def test_there_is_no_chain_of_one_angle_or_another_key() -> None:
    assert explain_chain(CHAIN[:1], KEY) == "" == explain_chain(CHAIN, "tube.wall_mm")


@pytest.mark.parametrize(("goes", "stays", "found"), [(4.0, 8.0, True), (2.0, 4.1, False), (3.9, 4.1, None)])
def test_chips_matter_where_the_band_is_wide(goes: float, stays: float, found: bool | None) -> None:
    outcome = at(0, 4.0, "lever-out", None, goes, stays)
    assert chips_come_out(outcome) is found
    told = explain_chain([outcome, CHAIN[1]], KEY)
    assert ("upright they" in told) == (found is not None)


def test_what_the_chain_has_said_is_not_said_again() -> None:
    """Of a few angles; of more, one sentence has both ends of each band that is wide. Wrinkles are told once."""
    note = "which ice goes is not settled by computation: peak 4 kN if every chip comes out, 8 if none does"
    noted = [changed(each, notes=[note, "a note of its own"], wrinkle_kN=5.0) for each in CHAIN]
    few, many = explain_peaks(noted[:3], KEY), explain_peaks(noted, KEY)
    assert note not in few + many and few.count("a note of its own") == 3
    assert "Which ice goes" not in few and many.count("Which ice goes is not settled") == 1
    wide = [each for each in CHAIN if chips_come_out(each) is not None]
    said = many[many.index("Which ice goes") :].split("none does: ")[1].split(". ")[0]
    assert said.count(" or ") == len(wide) > 0
    assert f"In {len(noted)} of {len(noted)} the wall of the tube wrinkles up to the peak, at 5.0 kN" in many
