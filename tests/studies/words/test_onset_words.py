"""What is said of onsets follows their numbers."""

from __future__ import annotations

from studystub import onset_record

from icecone.studies.words import onset as why


def test_the_words_follow_the_numbers() -> None:
    """A rising onset is called rising and explained by the wedge; a falling one is not."""
    usual = [onset_record(-20, 0.2, 6.0), onset_record(0, 0.4, 3.0), onset_record(20, 0.7, 1.5)]
    text = why.explain(usual, "placement.angle_deg")
    assert "rises at every step" in text and "wedge" in text and "0.20 kN" in text and "0.70 kN" in text
    contrary = [onset_record(-20, 0.7, 1.5), onset_record(0, 0.4, 3.0), onset_record(20, 0.2, 6.0)]
    text = why.explain(contrary, "placement.angle_deg")
    assert "does not rise" in text and "wedge" not in text


def test_no_lean_is_claimed_that_was_not_run() -> None:
    """A sweep that leans one way only, or that is pulled straight out, is not told as away against toward."""
    one_way = [onset_record(angle, onset, 2.0) for angle, onset in ((10, 0.5), (20, 0.6), (30, 0.7))]
    out = {"pull__direction_deg": 90.0}
    straight = [onset_record(-20, 0.2, 6.0, **out), onset_record(0, 0.4, 3.0, **out), onset_record(20, 0.7, 1.5, **out)]
    for records in (one_way, straight):
        text = why.explain(records, "placement.angle_deg")
        assert "away" not in text and "wedge" not in text and "not a higher peak" in text


def test_the_words_for_any_key_name_least_and_most() -> None:
    """For another key the paragraph gives the range and the factor."""
    records = [onset_record(0, load, 1.0, placement__embedment_mm=depth) for load, depth in ((0.2, 40), (0.5, 80))]
    text = why.explain(records, "placement.embedment_mm")
    assert "at 0.2 kN" in text and "to 0.5 kN" in text and "a factor of 2.5." in text
