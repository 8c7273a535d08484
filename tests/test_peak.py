"""The peak: what ends a pull, its rivals, the push that takes from the cone; written down and drawn."""

from __future__ import annotations

import json
from dataclasses import replace
from math import inf, pi, radians
from pathlib import Path

import numpy as np
import pytest

from icecone.fem.case import Case
from icecone.fem.icelaws import IceLaws
from icecone.fem.peak import Peak, solve_peak
from icecone.fem.peaklaws import PeakLaws
from icecone.fem.pulloutlaw import PushLaw
from icecone.geometry import MeshError, Placement, Pull, Tube
from icecone.materials import ice_named, metal_named
from icecone.studies import peakrecord
from icecone.studies.casefile import settings_from
from icecone.studies.peakfigures import deformed_tube, headline, load_displacement, peaks_by_key, tubes_strip
from icecone.studies.peakrecord import hand_loads, peak_record
from icecone.studies.screen import _rival_words
from icecone.studies.whypeak import explain_peaks

TUBE = Tube(0.140, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 10e3)
ICE, STEEL = ice_named("sound_glacier", -5.0), metal_named("chromoly_steel")
NO_PUSH = PushLaw(np.array([0.0, 1.0]), np.array([1.0, 1.0]))


def laws(cone: float = 14e3, threads: float = 450e3, wall: float = 270e3, push: PushLaw = NO_PUSH) -> PeakLaws:
    """Even laws over 130 mm: bearing `wall` and threads [N/m], the cone's load [N]."""
    s = np.array([0.0, 0.13])
    even, stays = np.full((1, 2), wall), np.ones((1, 2))
    ice = IceLaws(s, np.full(2, 8e9), np.zeros(1), even, stays, 0.017, 6e9, threads, 0.005, cone, 0.005, 1.7e8, 1e3)
    return PeakLaws(ice, push)


def case(direction_deg: float = 0.0, attachment: str = "eye", sling: float = inf) -> Case:
    placement = Placement(0.0, 0.130, attachment, sling)  # type: ignore[arg-type]
    return Case(TUBE, placement, Pull(radians(direction_deg)), ICE, STEEL, ICE)


def test_a_straight_pull_is_the_least_of_cone_and_threads_and_names_the_other() -> None:
    """Straight out nothing bends: the cone's 14 kN, then the threads' 450 N/mm over 65 mm, the hanger's 10 kN apart."""
    found = solve_peak(case(90.0), laws())
    assert (found.pull.mode, found.pull.peak) == ("cone", pytest.approx(14e3, rel=1e-3))
    assert found.rivals[0] == ("hanger", 10e3)
    assert found.rivals[1] == ("threads stripped", pytest.approx(450e3 * 0.065, rel=1e-2))
    assert found.margin == pytest.approx(10 / 14, rel=1e-3)
    stripped = solve_peak(case(90.0), laws(threads=100e3))
    assert (stripped.pull.mode, stripped.pull.peak) == ("threads stripped", pytest.approx(6.5e3, rel=1e-2))
    assert stripped.rivals[1][0] == "cone" or stripped.rivals[0][0] == "cone"


def test_rivals_are_a_ladder_of_modes_until_one_needs_twice_the_peak() -> None:
    """Weak threads, then the cone, the bent tube, and a wall that gives way; straight out twice the peak ends it."""
    found = solve_peak(case(), laws(threads=100e3))
    assert found.pull.mode == "threads stripped"
    modes, loads = zip(*(rival for rival in found.rivals if rival[0] != "hanger"), strict=True)
    assert modes == ("cone", "tube bends", "lever-out") and all(load > found.pull.peak for load in loads)
    assert loads[1] <= 2 * found.pull.peak < loads[2]
    assert [mode for mode, _ in solve_peak(case(90.0), laws()).rivals] == ["hanger", "threads stripped"]


def test_a_stated_strength_below_the_peak_is_said_to_give_way_before() -> None:
    hanger, next_mode = {"mode": "hanger", "load_kN": 10.0}, {"mode": "tube bends", "load_kN": 17.0}
    assert _rival_words(hanger, 13.5) == "hanger as stated (kN), gives way before"
    assert _rival_words(hanger, 4.3) == "hanger as stated (kN)"
    assert _rival_words(next_mode, 13.5) == "if that could not: tube bends (kN)"


def test_a_sling_stands_for_the_hanger_where_the_tube_is_tied_off() -> None:
    held = solve_peak(case(90.0, "tied_off", 9e3), laws())
    assert held.rivals[0] == ("sling", 9e3)
    assert all(name != "hanger" for name, _ in held.rivals)
    assert all(name != "sling" for name, _ in solve_peak(case(90.0, "tied_off"), laws()).rivals)


def test_the_push_on_the_wall_takes_from_the_cone_until_it_is_steady() -> None:
    """N = N_0 n(H / N_0) with the H of the very pull, to 1 %; straight out there is no push and nothing is taken."""
    taking = PushLaw(np.array([0.0, 1.0, 2.0]), np.array([1.0, 0.8, 0.5]))
    aside = solve_peak(case(45.0), laws(push=taking))
    assert aside.push > 0 and aside.cone_load < 0.99 * 14e3
    assert aside.cone_load == pytest.approx(14e3 * taking.n_of(aside.push / 14e3), abs=0.01 * 14e3)
    assert aside.pull.peak < solve_peak(case(45.0), laws()).pull.peak
    assert solve_peak(case(90.0), laws(push=taking)).cone_load == pytest.approx(14e3, rel=1e-6)


def test_a_push_that_goes_to_and_fro_is_steadied() -> None:
    """A cone that falls steeply with the push falls later, with less of it: whole steps alone would swing for good."""
    steep = PushLaw(np.array([0.0, 1.0]), np.array([1.0, 0.0]))
    one = replace(case(45.0), placement=Placement(0.0, 0.070, "tied_off"))
    found = solve_peak(one, laws(cone=5e3, wall=150e3, push=steep))
    assert found.cone_load == pytest.approx(5e3 * steep.n_of(found.push / 5e3), abs=0.01 * 5e3)


@pytest.mark.slow
def test_a_wall_that_bears_less_moves_the_mode_from_bending_to_levering_out() -> None:
    """Strong ice bends the tube; weak ice lets it lever out unbent, and the metal is then no rival."""
    strong, weak = (solve_peak(case(), laws(wall=wall, cone=inf)) for wall in (400e3, 20e3))
    assert strong.pull.first_hinge is not None and strong.pull.mode != "lever-out"
    assert weak.pull.first_hinge is None and weak.pull.mode == "lever-out"
    assert weak.pull.peak < 0.5 * strong.pull.peak


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """A record of the default case in shear on even laws, as `solve` keeps it."""
    monkeypatch.setattr(peakrecord, "peak_laws", lambda case, keep: laws())
    settings = settings_from({"numerics.model": "peak"})
    return {"case": settings, "onset_kN": 0.3, "onset_mode": "shear", "ice": {}, **peak_record(case())}


def test_the_record_is_plain_data_in_the_users_units(made: dict[str, object]) -> None:
    """JSON and back changes nothing; the peak is the curve's largest before the window closes; events are in order."""
    assert json.loads(json.dumps(made)) == made
    peak = made["peak"]
    assert isinstance(peak, dict)
    at = next(event for event in peak["events"] if event["name"] == "peak")
    assert made["peak_kN"] == pytest.approx(at["load_kN"])
    place = int(np.argmin(np.abs(np.array(peak["displacement_mm"]) - at["displacement_mm"])))
    assert peak["load_kN"][place] == pytest.approx(made["peak_kN"], rel=1e-4)
    assert peak["head_rotation_deg"][place] == pytest.approx(made["head_rotation_deg"], abs=0.1)
    moved = [event["displacement_mm"] for event in peak["events"]]
    assert moved == sorted(moved) and peak["energy_imbalance"] < 1e-2


def test_a_placement_that_cannot_be_built_is_said_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(case: Case, keep: object) -> PeakLaws:
        raise ValueError("embedment [m] = 9: must not exceed 0.5")

    monkeypatch.setattr(peakrecord, "peak_laws", refuse)
    with pytest.raises(MeshError, match=r"no peak for this placement: embedment \[m\] = 9: must not exceed 0\.5"):
        peak_record(case())


def test_hand_formulas_look_at_their_part_of_the_pull() -> None:
    """Straight out: stud and threads alone; in shear: the piles alone; at 45 deg each divided by its cosine."""
    straight, shear, slanting = (_hand(direction) for direction in (90.0, 0.0, 45.0))
    assert set(straight) == {"headed stud's cone", "threads stripped"}
    assert set(shear) == {"short pile (Broms)", "yielding pile (Broms)"}
    assert straight["headed stud's cone"] == pytest.approx(2.1 * ICE.toughness * 0.13**1.5)
    for name, load in {**straight, **shear}.items():
        assert slanting[name] == pytest.approx(load / np.cos(0.25 * pi))


def _hand(direction: float) -> dict[str, float]:
    one = case(direction)
    return hand_loads(one, solve_peak(one, laws()))


def test_a_hand_formula_far_off_carries_a_warning_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cone law four times the stud's: more than twice, and said so; the usual one carries none."""
    for cone, warned in ((50e3, True), (14e3, False)):
        monkeypatch.setattr(peakrecord, "peak_laws", lambda case, keep, cone=cone: laws(cone=cone, threads=2e6))
        warning = peak_record(case(90.0))["peak"]["hand_warning"]
        assert ("headed stud's cone" in warning and "more than twice below" in warning) == warned


def test_pictures_and_words_of_a_peak(made: dict[str, object], tmp_path: Path) -> None:
    for draw in (load_displacement, deformed_tube):
        draw(made, tmp_path / f"{draw.__name__}.png")
    other = {**made, "case": {**settings_from({"placement.angle_deg": 20})}, "peak_kN": 2 * float(str(made["peak_kN"]))}
    peaks_by_key([made, other], "placement.angle_deg", "invented", tmp_path / "sweep.png")
    tubes_strip([made, other], "placement.angle_deg", tmp_path / "strip.png")
    assert all(path.stat().st_size > 10_000 for path in tmp_path.glob("*.png")) and len(list(tmp_path.iterdir())) == 4
    words = explain_peaks([made, other], "placement.angle_deg")
    assert "2.0 times as much" in words and str(made["peak_mode"]) in words
    assert f"peak {made['peak_kN']:.1f} kN" in headline(made)


def test_margin_without_a_rival_is_infinite() -> None:
    found = solve_peak(case(90.0), laws())
    assert replace(found, rivals=()).margin == inf and isinstance(found, Peak)
