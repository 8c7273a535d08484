"""The records of modes: told apart by all eyes, and one place for whatever solver, pictures and words say of them."""

from __future__ import annotations

from itertools import combinations

import pytest
from eyes import apart, lightness_apart

from icecone.fem.tube.modes import BEAM, MODES, ONSET, in_order, is_stated, mode_named


@pytest.mark.parametrize(("of", "grey"), [("colour", 8.0), ("pale", 4.5)])
def test_modes_of_a_pull_differ_for_all_eyes_and_in_grey(of: str, grey: float) -> None:
    """By 15 in CIELAB (2.3 is just seen) and by some L* between any two, as lines and markers and as cells of a map."""
    of_pulls = [mode for mode in MODES.values() if BEAM in mode.routes]
    assert len(of_pulls) == 7
    shown = of_pulls if of == "pale" else [*of_pulls, MODES["hanger"]]
    for one, other in combinations(shown, 2):
        colours = getattr(one, of), getattr(other, of)
        assert apart(*colours) > 15, f"{one.name} and {other.name}: {apart(*colours):.1f}"
        assert lightness_apart(*colours) > grey, f"{one.name} and {other.name}: {lightness_apart(*colours):.1f} in grey"


def test_modes_of_the_first_damage_differ_too() -> None:
    for one, other in combinations([mode for mode in MODES.values() if ONSET in mode.routes], 2):
        assert apart(one.colour, other.colour) > 15 and lightness_apart(one.colour, other.colour) > 8


def test_markers_of_modes_that_one_picture_shows_differ() -> None:
    """Of a pull with hanger and sling, and of the first damage."""
    onset = [mode.marker for mode in MODES.values() if "onset" in mode.routes]
    pulls = [mode.marker for mode in MODES.values() if "onset" not in mode.routes]
    assert len(set(onset)) == len(onset) == 3 and len(set(pulls)) == len(pulls) == 9


def test_a_mode_without_a_record_is_named_as_itself() -> None:
    assert mode_named("of tomorrow").name == "of tomorrow" and not is_stated("of tomorrow") and is_stated("hanger")
    assert in_order({"of tomorrow", "hanger", "cone"}) == ["cone", "hanger", "of tomorrow"]
