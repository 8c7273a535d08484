"""Keys that cannot move a peak: what is named leaves every number of the pull as it is, solved."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest

from icecone.studies.case.file import KEYS, CaseError, Settings, settings_from
from icecone.studies.outcome.idle import idle_keys, idle_words
from icecone.studies.outcome.wanted import solve_wanted

EYE: Settings = {}
CRUST: Settings = {"ice.crust_mm": 20.0, "pull.direction_deg": 90.0}
TIED: Settings = {"placement.attachment": "tied_off", "placement.embedment_mm": 70.0, "ice.kind": "dense_waterfall"}


def test_keys_of_the_onset_alone_cannot_move_a_peak_and_those_of_the_pull_are_not_named() -> None:
    found = idle_keys(settings_from(EYE))
    assert {"ice.tensile_MPa", "ice.grain_size_mm", "ice.criterion", "ice.column_tilt_deg", "crust.kind"} <= set(found)
    moving = ("tube.wall_mm", "tube.hanger_kN", "ice.kind", "ice.K_IC_kPa_sqrt_m", "ice.crust_mm", "pull.travel_mm")
    assert not set(moving) & set(found)


def test_a_part_that_is_not_there_is_idle_and_one_that_is_there_is_not() -> None:
    """The hanger where the tube is tied off, the sling at the eye, the crust where there is none."""
    tied, crust = idle_keys(settings_from(TIED)), idle_keys(settings_from(CRUST))
    assert "tube.hanger_kN" in tied and "placement.sling_kN" not in tied
    assert "placement.sling_kN" in crust and "tube.hanger_kN" not in crust
    assert "crust.K_IC_kPa_sqrt_m" not in crust and "crust.tensile_MPa" in crust
    assert "all of [crust]" in idle_words([settings_from(EYE), settings_from(TIED)])
    assert "all of [crust]" not in idle_words([settings_from(EYE), settings_from(CRUST)])


def test_nothing_is_computed_for_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An ice whose laws are not kept: nothing is known, and no law is left behind."""
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path))
    assert idle_keys(settings_from({"ice.E_GPa": 1.0, "ice.nu": 0.1})) == ()
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
@pytest.mark.parametrize("base", [EYE, CRUST, TIED])
def test_what_is_named_leaves_every_number_of_the_pull_as_it_is(base: Settings) -> None:
    """Each named key at both ends of its range and at every word, solved: the same to the last digit."""
    settings = settings_from(base)
    truth, _ = solve_wanted(settings, ("peak",))
    tried = 0
    for name in idle_keys(settings):
        for value in (KEYS[name].low, KEYS[name].high, *KEYS[name].choices):
            with suppress(CaseError):
                if value is not None and value != settings[name]:
                    found, _ = solve_wanted(settings_from({**settings, name: value}), ("peak",))
                    assert found == truth, name
                    tried += 1
    assert tried > 15
