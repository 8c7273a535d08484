"""Laws gathered for a case: shipped ones are found, lines between angles, a crust, scaling with the ice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from icecone.fem.chip import chip_law
from icecone.fem.peaklaws import FRICTION, SLIDING_RATIO, PeakLaws, _Laws, compute, peak_laws
from icecone.studies.casefile import settings_from, to_case
from icecone.studies.lawstore import kept_law


def never(name: str, version: int, inputs: Mapping[str, float], make: Callable[[], Any]) -> dict[str, Any]:
    """A law that must be among the shipped ones."""

    def refuse() -> dict[str, Any]:
        raise AssertionError(f"law {name} is not shipped for {dict(inputs)}")

    return kept_law(name, version, inputs, refuse)


@pytest.fixture(autouse=True)
def shipped_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path))


def laws(**given: Any) -> PeakLaws:
    named = {name.replace("__", "."): value for name, value in given.items()}
    return peak_laws(to_case(settings_from(named)), never)


@pytest.mark.parametrize("kind", ["sound_glacier", "bubbly_glacier", "dense_waterfall", "aerated_waterfall"])
@pytest.mark.parametrize("angle", [-30, -20, -5, 0, 10, 25, 30])
def test_a_first_run_of_the_default_tube_computes_nothing(kind: str, angle: float) -> None:
    found = laws(ice__kind=kind, placement__angle_deg=angle)
    assert np.all(found.ice.front_limit[1:] > 0) and found.ice.cone_load > 5e3


@pytest.mark.parametrize("kind", ["firn", "sun_crust"])
def test_soft_ice_has_its_own_laws_upright(kind: str) -> None:
    assert laws(ice__kind=kind).ice.stiffness[0] < 0.5 * laws().ice.stiffness[0]


def test_between_two_angles_laws_lie_between_those_of_the_angles() -> None:
    """At 5 deg the wall's stiffness is the mean of 0 and 10 deg, the chips' limit between them at every depth."""
    low, middle, high = (laws(placement__angle_deg=angle) for angle in (0, 5, 10))
    assert middle.ice.stiffness[0] == pytest.approx(0.5 * (low.ice.stiffness[0] + high.ice.stiffness[0]), rel=1e-12)
    inside = slice(2, 12)  # where chips, not crushing, decide
    assert np.all(low.ice.front_limit[inside] < middle.ice.front_limit[inside])
    assert np.all(middle.ice.front_limit[inside] < high.ice.front_limit[inside])


def test_in_front_of_a_tube_leaning_away_is_as_behind_one_leaning_toward() -> None:
    away, toward = laws(placement__angle_deg=-20), laws(placement__angle_deg=20)
    assert away.ice.front_limit == pytest.approx(toward.ice.back_limit, rel=1e-12)
    assert away.ice.front_limit[4] < toward.ice.front_limit[4]


def test_loads_go_with_toughness_until_crushing_caps_them() -> None:
    """K_IC halved halves the cone and the chips; the stripping of the threads does not know it."""
    one, half = laws(ice__K_IC_kPa_sqrt_m=100), laws(ice__K_IC_kPa_sqrt_m=50)
    assert half.ice.cone_load == pytest.approx(0.5 * one.ice.cone_load, rel=1e-12)
    assert half.ice.front_limit[:8] == pytest.approx(0.5 * one.ice.front_limit[:8], rel=1e-12)
    assert half.ice.thread_limit == one.ice.thread_limit


def test_a_crust_weakens_its_own_depth_only() -> None:
    plain, crusted = laws(), laws(ice__crust_mm=20)
    inside = plain.ice.s < 0.0199
    assert np.all(crusted.ice.front_limit[inside] <= 0.4 * plain.ice.front_limit[inside])
    assert crusted.ice.front_limit[~inside] == pytest.approx(plain.ice.front_limit[~inside], rel=1e-12)


@pytest.mark.slow
def test_a_shipped_law_is_what_the_model_computes_now() -> None:
    """Chips upright at two depths, computed again: within 0.1 % of the shipped ones."""
    case = _Laws(to_case(settings_from({})), compute).case
    law = chip_law(case.tube, 0.0, case.ice, FRICTION, (0.01, 0.02), sliding_ratio=SLIDING_RATIO)
    shipped = _Laws(to_case(settings_from({})), never)
    between = np.array([0.0125, 0.0175])
    assert shipped.chip(1, between) * case.ice.toughness == pytest.approx(law.per_length(between), rel=1e-3)
