"""The range of one answer: what is drawn, that the same seed gives the same, that a number stated is not drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from icecone.fem.errors import SolveError
from icecone.studies.case.file import Settings, settings_from
from icecone.studies.outcome.wanted import Found
from icecone.studies.sweep import drawn as module
from icecone.studies.sweep.drawn import OTHER_LAWS, draw_case, keys_drawn
from icecone.studies.words.answer import drawn_words, nine_of_ten, range_words

TOUGHNESS = "ice.K_IC_kPa_sqrt_m"


def stand_in(monkeypatch: pytest.MonkeyPatch, fails_below: float = 0.0) -> list[Settings]:
    """A solver whose limit is a twentieth of K_IC [kPa m^0.5], 10 kN of hanger at most; what it was asked."""
    asked: list[Settings] = []

    def solve(settings: Settings, wants: Any) -> tuple[Found, dict[str, str]]:
        asked.append(settings)
        load = float(settings[TOUGHNESS]) / 20
        if load < fails_below:
            raise SolveError("no balance")
        return Found(min(load, 10.0), "cone" if load < 10 else "hanger", peak_kN=load, early_kN=0.5 * load), {}

    monkeypatch.setattr(module, "solve_wanted", solve)
    return asked


def test_what_is_at_its_value_is_drawn_and_what_is_stated_is_not() -> None:
    drawn = {each.key: each.way for each in keys_drawn(settings_from({}))}
    assert drawn[TOUGHNESS] == drawn["ice.compressive_MPa"] == "spread"
    assert drawn["assumed.crushing_share"] == drawn["assumed.chip_border_shift_deg"] == "between"
    assert not {f"assumed.{name}" for name in OTHER_LAWS} & set(drawn)
    stated = settings_from({TOUGHNESS: 100.0, "assumed.crushing_share": 0.8})
    assert set(drawn) - {each.key for each in keys_drawn(stated)} == {TOUGHNESS, "assumed.crushing_share"}


def test_a_range_is_that_of_what_was_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Percentiles of a load that one input alone makes; that input drives it; modes add up."""
    asked = stand_in(monkeypatch)
    found = draw_case(settings_from({}), 200, 3)
    toughness = np.array([float(settings[TOUGHNESS]) for settings in asked])
    assert found.loads_kN["peak"] == pytest.approx(np.quantile(toughness / 20, found.share))
    assert found.loads_kN["early"] == pytest.approx(np.quantile(toughness / 40, found.share))
    assert found.driven_by[0] == TOUGHNESS and sum(found.modes.values()) == pytest.approx(1.0)
    assert found.modes.get("hanger", 0.0) == pytest.approx(np.mean(toughness >= 200))
    assert len({settings["placement.angle_deg"] for settings in asked}) == 1
    assert draw_case(settings_from({}), 200, 3) == found != draw_case(settings_from({}), 200, 4)


def test_draws_that_cannot_be_solved_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = stand_in(monkeypatch, fails_below=6.0)
    found = draw_case(settings_from({}), 60)
    failed = sum(float(settings[TOUGHNESS]) < 120 for settings in asked)
    assert 0 < found.unsolved == failed < 60 and min(found.loads_kN["peak"]) >= 6.0
    stand_in(monkeypatch, fails_below=1e3)
    with pytest.raises(ValueError, match="none of 5 draws was solved"):
        draw_case(settings_from({}), 5)


def test_the_words_give_the_range_beside_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch)
    drawn = draw_case(settings_from({}), 100)

    class Answer:
        pass

    answer: Any = Answer()
    answer.drawn, answer.limit_kN = drawn, drawn.loads_kN["limit"][2]
    low, high = drawn.loads_kN["limit"][0], drawn.loads_kN["limit"][-1]
    assert range_words(answer) == f" (nine of ten draws: {low:.1f} to {high:.1f})"
    told = drawn_words(answer)
    assert told[0].startswith("100 draws (seed 1) of ") and "fracture toughness" in told[-1]
    assert f"the case's own {answer.limit_kN:.1f} kN among them: 25 % to 50 % of the draws hold less" in told
    for own, share in (
        (0.0, "less than 5 %"),
        (low, "less than 5 %"),
        (high, "75 % to 95 %"),
        (99.0, "more than 95 %"),
    ):
        answer.limit_kN = own
        assert any(f"among them: {share} of the draws" in line for line in drawn_words(answer))
    ends = {**drawn.loads_kN, "limit": (10.0, 10.0, 10.0)}
    answer.drawn = replace(drawn, loads_kN=ends)
    assert range_words(answer) == " (nine of ten draws: the same)"
    assert nine_of_ten(answer.drawn) == "limit 10.0 kN as uncertain inputs vary: nine of ten"
    assert not any("moves the limit" in line for line in drawn_words(answer))
    answer.drawn = None
    assert range_words(answer) == "" and drawn_words(answer) == []
