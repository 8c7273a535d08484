"""A case from keywords: what a keyword means, what is refused and how, what a user may hand in."""

from __future__ import annotations

from dataclasses import replace
from math import radians
from pathlib import Path

import numpy as np
import pytest

from icecone.cases import Case, ice, metal, read_case
from icecone.materials.surface import MohrCoulomb
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.case.toml import CaseError


def test_keywords_are_keys_without_their_table() -> None:
    case = Case(angle_deg=-20, embedment_mm=70, direction_deg=90, ice="firn", metal="titanium_alloy", level="quick")
    assert case.solver_case() == to_case(
        settings_from(
            {
                "placement.angle_deg": -20,
                "placement.embedment_mm": 70,
                "pull.direction_deg": 90,
                "ice.kind": "firn",
                "tube.metal": "titanium_alloy",
                "numerics.level": "quick",
            }
        )
    )


def test_keys_that_ice_and_crust_share_are_those_of_the_ice() -> None:
    case = Case(crust_mm=10, temperature_C=-12, crust_temperature_C=-2, crust="firn", crust_porosity=0.3)
    settings = case.settings
    assert settings["ice.temperature_C"] == -12 and settings["crust.temperature_C"] == -2
    assert settings["crust.kind"] == "firn" and settings["crust.porosity"] == 0.3 and settings["ice.crust_mm"] == 10
    assert settings["ice.kind"] == "sound_glacier"


@pytest.mark.parametrize(
    ("keywords", "message"),
    [
        ({"angel_deg": 3}, "angel_deg = 3: unknown keyword: must be a key of the case file; did you mean angle_deg?"),
        ({"angle_deg": 80}, "placement.angle_deg = 80: must be a number between -45 and 45 deg"),
        ({"angle_deg": "steep"}, "placement.angle_deg = 'steep': must be a number between -45 and 45 deg"),
        ({"ice": "slush"}, "ice.kind = 'slush': must be one of"),
        ({"embedment_mm": 200}, "placement.embedment_mm = 200: must be a number between 30 and 140 mm"),
    ],
)
def test_what_is_refused_is_named_in_one_line(keywords: dict[str, object], message: str) -> None:
    with pytest.raises(CaseError) as error:
        Case(**keywords)
    assert str(error.value).startswith(message) and "\n" not in str(error.value)


def test_a_case_shows_what_was_given() -> None:
    assert repr(Case(angle_deg=-20, ice="firn")) == "Case(angle_deg=-20, ice='firn')"
    assert "<td>angle_deg</td><td>-20.0</td>" in Case(angle_deg=np.float64(-20))._repr_html_()


def test_a_changed_case_keeps_the_rest_and_flush_stays_flush() -> None:
    case = Case(length_mm=160, ice=ice("firn")).changed(length_mm=200)
    assert case.settings["placement.embedment_mm"] == 190 and case.own.ice == ice("firn")
    assert case.changed(ice="sound_glacier").own.ice is None


def test_what_is_of_ones_own_takes_its_place() -> None:
    own, steel = replace(ice("firn"), toughness=5e4), metal("chromoly_steel", yield_strength=5e8)
    case = Case(ice=own, metal=steel, angle_deg=10).solver_case()
    assert case.ice == own and case.metal == steel and case.placement.angle == pytest.approx(radians(10), rel=1e-15)
    assert repr(Case(ice=own)) == "Case(ice='your own')"


def test_a_failure_surface_of_ones_own_is_the_ices() -> None:
    surface = MohrCoulomb(1e6, 5e6, 2.0, 1e7)
    case = Case(criterion=surface)
    assert case.solver_case().ice.surface is surface and "criterion='your own'" in repr(case)
    assert Case(criterion="parabolic").solver_case().ice.criterion == "parabolic"


def test_a_case_file_is_read_with_changes(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text("[placement]\nangle_deg = -20\n")
    assert read_case(path, embedment_mm=70).solver_case() == Case(angle_deg=-20, embedment_mm=70).solver_case()
    path.write_text("[placement]\nangle_deg = -80\n")
    with pytest.raises(CaseError, match=r"case.toml:2: placement.angle_deg = -80"):
        read_case(path)
