"""Laws gathered for a case: shipped ones are found, lines between angles, a crust, scaling with the ice."""

from __future__ import annotations

from functools import wraps
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from samples import settings

from icecone.fem.laws.gather import ANGLES, Laws, peak_laws, power_at
from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.laws.recipes import Inputs, Law, Recipe
from icecone.fem.tube import steps
from icecone.fem.tube.pull import solve_pull
from icecone.materials import default_assumed
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.files.laws import kept_law


def never(name: str, inputs: Inputs, recipe: Recipe) -> Law:
    """A law that must be among the shipped ones."""

    @wraps(recipe)  # of its code
    def refuse(inputs: Inputs) -> Law:
        raise AssertionError(f"law {name} is not shipped for {dict(inputs)}")

    return kept_law(name, inputs, refuse)


@pytest.fixture(autouse=True)
def shipped_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path))


ASSUMED = default_assumed()


def laws(**given: Any) -> IceLaws:
    return peak_laws(to_case(settings(**given)), never)


@pytest.mark.parametrize("kind", ["sound_glacier", "bubbly_glacier", "dense_waterfall", "aerated_waterfall"])
@pytest.mark.parametrize("angle", [-30, -20, -5, 0, 10, 25, 30])
def test_a_first_run_of_the_default_tube_computes_nothing(kind: str, angle: float) -> None:
    found = laws(ice__kind=kind, placement__angle_deg=angle)
    assert np.all(found.limit_at(np.radians(angle)) > 0) and found.cone_load > 5e3


@pytest.mark.parametrize("angle", [-30, 0, 35])
@pytest.mark.parametrize("kind", ["firn", "sun_crust"])
def test_soft_ice_has_its_own_laws(kind: str, angle: float) -> None:
    found, sound = (laws(ice__kind=each, placement__angle_deg=angle) for each in (kind, "sound_glacier"))
    assert found.stiffness[0] < 0.5 * sound.stiffness[0]


def test_a_tube_of_any_size_and_metal_computes_nothing() -> None:
    """Its chips are the reference's by similarity, its threaded length is the nearest 5 mm."""
    for length in (46, 58, 73):
        laws(tube__od_mm=20, tube__wall_mm=2, tube__thread_length_mm=length, tube__metal="titanium_alloy")


def test_chips_of_a_thicker_tube_are_similar() -> None:
    """All lengths times 20 / 17: F / K_IC grows by 1.5 powers of it, its slope along the wall by half of one."""
    thin, thick = (Laws(to_case(settings_from({"tube.od_mm": od})), never) for od in (17, 20))
    s, at = np.array([0.017, 0.034, 0.068]), np.full(3, np.radians(20))
    assert thick.chips().start(s * 20 / 17, at) == pytest.approx((20 / 17) ** 1.5 * thin.chips().start(s, at), rel=1e-4)


def test_between_two_angles_laws_lie_between_those_of_the_angles() -> None:
    """At 5 deg the wall's stiffness is the mean of 0 and 10 deg, and so is what drives the cone."""
    low, middle, high = (laws(placement__angle_deg=angle) for angle in (0, 5, 10))
    assert middle.stiffness[0] == pytest.approx(0.5 * (low.stiffness[0] + high.stiffness[0]), rel=1e-12)
    ends = [demand(each, front=1.0, threads=1.0) for each in (low, high)]
    assert demand(middle, front=1.0, threads=1.0) == pytest.approx(np.mean(ends), rel=1e-12)
    assert abs(ends[1] - ends[0]) > 0.05 * ends[0]


def demand(ice: IceLaws, front: float = 0.0, back: float = 0.0, threads: float = 0.0) -> float:
    """Of loads over N_0: in front on the upper fifth, behind on the lower, threads evenly over the lower half."""
    place = (np.arange(200) + 0.5) / 200
    shapes = np.array([place < 0.2, place > 0.8, place > 0.5], float)
    assert ice.fronts is not None
    loads = np.array([[front], [back], [threads]]) * shapes / shapes.sum(axis=1, keepdims=True)
    return ice.fronts.demand(place)(loads)


def test_what_drives_the_cone_is_one_under_the_threads_alone() -> None:
    """65 of 130 mm threaded; leaning one way and seen from behind is leaning the other way."""
    assert demand(laws(), threads=1.0) == pytest.approx(1.0, rel=0.02)
    away, toward = (laws(placement__angle_deg=angle).fronts for angle in (-20, 20))
    assert away is not None and toward is not None
    place = np.array([0.1, 0.9])
    front, back, threads = np.array([1.5, 0.0]), np.array([0.0, 0.3]), np.array([0.2, 0.8])
    seen, turned = np.stack([front, back, threads]), np.stack([back, front, threads])
    assert away.demand(place)(seen) == pytest.approx(toward.demand(place)(turned), rel=1e-12)
    assert away.demand(place)(seen) > 1.25 * toward.demand(place)(seen)  # toward, the push adds nothing at all


@pytest.mark.parametrize("angle", [-20.0, pytest.param(-10.0, marks=pytest.mark.slow)])
def test_steps_are_short_enough_where_ice_goes(angle: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Peak with a quarter of the ice that may go in a step: within 1 %."""
    case = to_case(settings_from({"placement.angle_deg": angle}))
    peaks = []
    for share in (1, 4):
        monkeypatch.setattr(steps, "GONE_A_STEP", steps.GONE_A_STEP / share)
        peaks.append(solve_pull(case.tube, case.placement, case.pull, peak_laws(case, never), case.metal).peak)
    assert peaks[0] == pytest.approx(peaks[1], rel=0.01)


def test_every_law_says_where_it_comes_from() -> None:
    """Computed ones with the error of the computation, others published or assumed."""
    origins = {origin.law: origin for origin in laws().origins}
    computed = {law for law, origin in origins.items() if origin.how == "computed"}
    assert computed == {"cone", "fronts", "wall", "chips", "rise of chips", "crushing"}
    assert all(0 < (origins[law].error or 0.0) < 0.2 for law in computed), origins
    assert {origin.how for origin in origins.values()} == {"computed", "published", "assumed"}
    assert origins["stripping"].how == origins["movement until chips are gone"].how == "assumed"


def test_fronts_of_an_embedment_lie_between_those_computed() -> None:
    """75 mm between 60 and 90: on a line in log h; below 40 mm and beyond 220 those of the ends."""
    low, middle, high = (
        demand(laws(placement__embedment_mm=h, tube__thread_length_mm=50), 1.0, 0.3, 1.0) for h in (60, 75, 90)
    )
    part = np.log(75 / 60) / np.log(90 / 60)
    assert middle == pytest.approx((1 - part) * low + part * high, rel=0.05)


def test_the_wall_bears_more_the_more_the_tube_leans_toward_the_push() -> None:
    """Summed over the depth where chips decide; chips come out below -5 deg, from there on cracks dive."""
    ice = laws()
    assert ice.chips is not None
    angles, shallow = np.radians(ANGLES), ice.s < 0.03
    limits = [np.trapezoid(ice.limit_at(angle)[shallow], ice.s[shallow]) for angle in angles]
    assert np.all(np.diff(limits[:6]) > 0) and limits[-1] >= limits[-2], "from there on crushing bounds it"
    rise = np.degrees(ice.chips.rises(np.radians([-20.0, -7.0, -5.0, -2.0, 10.0])))
    assert rise == pytest.approx([29.8, 12.7, 0.7, -9.3, -38.7], abs=0.3)


def test_crushing_bounds_the_wall_and_grows_with_depth() -> None:
    """Soft ice crushes before it chips; N from the surface to depth: 1.2 to 6.5 sigma_c upright, within 5 %."""
    soft, sound = laws(ice__compressive_MPa=1.2), laws()
    assert soft.limit_at(0.0)[1:] == pytest.approx(soft.crushing[1:])
    over = sound.crushing / (0.017 * to_case(settings()).ice.compressive_strength)
    assert over[0] == pytest.approx(1.2, rel=0.05) and np.all(np.diff(over) > 0)
    assert np.interp(0.085, sound.s, over) == pytest.approx(6.5, rel=0.05)
    assert laws(assumed__crushing_share=0.5).crushing == pytest.approx(0.5 * sound.crushing, rel=1e-12)


def test_loads_go_with_toughness_until_crushing_caps_them() -> None:
    """K_IC halved halves the cone and the chips; the stripping of the threads does not know it."""
    one, half = laws(ice__K_IC_kPa_sqrt_m=100), laws(ice__K_IC_kPa_sqrt_m=50)
    assert half.cone_load == pytest.approx(0.5 * one.cone_load, rel=1e-12)
    assert half.limit_at(0.0)[:8] == pytest.approx(0.5 * one.limit_at(0.0)[:8], rel=1e-12)
    assert half.thread_limit == one.thread_limit


def test_a_crust_weakens_its_own_depth_only() -> None:
    plain, crusted = laws(), laws(ice__crust_mm=20)
    inside = plain.s < 0.0199
    before, after = (each.limit_at(0.2) for each in (plain, crusted))
    assert np.all(after[inside] <= 0.5 * before[inside])
    assert after[~inside] == pytest.approx(before[~inside], rel=1e-12)


def test_the_law_of_chips_is_a_power_between_its_depths() -> None:
    """F = 3 d^1.7 everywhere; with two powers each holds in its own interval."""
    depth = np.array([0.01, 0.02, 0.04])
    at = np.array([0.004, 0.01, 0.015, 0.03, 0.04, 0.1])
    assert power_at(depth, 3 * depth**1.7, at) == pytest.approx(3 * at**1.7)
    bent = np.array([1.0, 2.0, 8.0])  # F = d / 10 mm, then 2 (d / 20 mm)^2
    assert power_at(depth, bent, np.array([0.015, 0.02, 0.03])) == pytest.approx([1.5, 2.0, 4.5])
