"""The peak: what ends a pull, its rivals, the push that takes from the cone; written down and drawn."""

from __future__ import annotations

import json
from dataclasses import replace
from math import inf, pi, radians
from pathlib import Path

import numpy as np
import pytest
from studystub import made_up_record

from icecone.fem.case import Case
from icecone.fem.laws.ice_laws import ConeFronts, IceLaws
from icecone.fem.tube.edges import Neighbour, neighbours
from icecone.fem.tube.peak import solve_peak
from icecone.geometry import MeshError, Placement, Pull, Tube
from icecone.materials import ice_named, metal_named
from icecone.studies.case.file import settings_from
from icecone.studies.command.rows import peak_rows, remarks
from icecone.studies.figures.peak import deformed_tube, load_displacement, peaks_by_key, tubes_strip
from icecone.studies.outcome import peak as peakrecord
from icecone.studies.outcome.data import Outcome, known
from icecone.studies.outcome.hand import hand_loads
from icecone.studies.outcome.peak import early_load, edge_in_words, peak_found
from icecone.studies.outcome.solve import notes
from icecone.studies.words.answer import peak_words
from icecone.studies.words.peak import explain_peaks

TUBE = Tube(0.140, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 10e3)
ICE, STEEL = ice_named("sound_glacier", -5.0), metal_named("chromoly_steel")


def laws(cone: float = 14e3, threads: float = 450e3, wall: float = 270e3, fronts: ConeFronts | None = None) -> IceLaws:
    """Even laws over 130 mm: bearing `wall` and threads [N/m], the cone's load [N]."""
    s = np.array([0.0, 0.13])
    even, stays = np.full((1, 2), wall), np.ones((1, 2))
    k = np.full(2, 8e9)
    return IceLaws(s, k, np.zeros(1), even, stays, 0.017, 6e9, threads, 0.005, cone, 0.005, 1.7e8, 1e3, fronts)


def case(direction_deg: float = 0.0, attachment: str = "eye", sling: float = inf) -> Case:
    placement = Placement(0.0, 0.130, attachment, sling)  # type: ignore[arg-type]
    return Case(TUBE, placement, Pull(radians(direction_deg)), ICE, STEEL, ICE)


def test_a_straight_pull_is_the_least_of_cone_and_threads_and_names_the_other() -> None:
    """Straight out nothing bends: the cone's 14 kN, then the threads' 450 N/mm over 65 mm, the hanger's 10 kN apart."""
    found = solve_peak(case(90.0), laws())
    assert (found.pull.mode, found.pull.peak) == ("cone", pytest.approx(14e3, rel=1e-3))
    assert found.rivals[0] == found.limit == ("hanger", 10e3)
    assert found.rivals[1] == ("threads stripped", pytest.approx(450e3 * 0.065, rel=1e-2))
    assert found.next == ("cone", found.pull.peak) and found.margin == pytest.approx(14 / 10, rel=1e-3)
    stripped = solve_peak(case(90.0), laws(threads=100e3))
    assert (stripped.pull.mode, stripped.pull.peak) == ("threads stripped", pytest.approx(6.5e3, rel=1e-2))
    assert stripped.limit == ("threads stripped", stripped.pull.peak) and stripped.next == ("hanger", 10e3)
    assert stripped.margin == pytest.approx(10 / 6.5, rel=1e-2) and "cone" in dict(stripped.ladder)


def test_rivals_are_a_ladder_of_modes_until_one_needs_twice_the_peak() -> None:
    """Weak threads, then the cone, the bent tube, and a wall that gives way; straight out twice the peak ends it."""
    found = solve_peak(case(), laws(threads=100e3))
    assert found.pull.mode == "threads stripped"
    modes, loads = zip(*(rival for rival in found.rivals if rival[0] != "hanger"), strict=True)
    assert modes == ("cone", "tube bends", "lever-out") and all(load > found.pull.peak for load in loads)
    assert loads[1] <= 2 * found.pull.peak < loads[2]
    assert [mode for mode, _ in solve_peak(case(90.0), laws()).rivals] == ["hanger", "threads stripped"]


def test_a_cone_that_comes_after_counting_has_stopped_is_a_rival_at_its_load() -> None:
    """A tube that turns by 60 deg in weak ice and pulls its cone then: no stronger ice makes that cone stronger."""
    shallow = replace(case(), placement=Placement(0.0, 0.070, "tied_off"))
    found = solve_peak(shallow, laws(cone=12.5e3, wall=200e3))
    came = next(event for event in found.pull.events if event.name == "cone")
    assert found.pull.mode == "lever-out" and came.load > found.pull.peak
    assert dict(found.rivals)["cone"] <= came.load


def test_a_stated_strength_below_the_peak_is_what_limits(made: Outcome) -> None:
    """A hanger of 10 kN over a cone of 14 kN: the limit in the outcome, on the screen's first line and in the title."""
    assert (made.limit_mode, made.limit_kN) == ("hanger", 10.0) and known(made.peak_kN) > 10
    assert (made.next_mode, made.next_kN) == (made.peak_mode, made.peak_kN)
    rows = dict(peak_rows(made))
    assert next(iter(rows)) == "limit of the placement (kN)" and rows["limit of the placement (kN)"] == 10.0
    assert rows["what gives way first"] == "hanger" and "hanger as stated (kN)" not in rows
    assert "note: invented" in remarks(replace(made, notes=("invented",)))
    stated = "limit 10.0 kN: hanger, at the strength stated for it; tube and ice alone: peak "
    assert peak_words(made).startswith(stated)
    strong = replace(made, limit_mode=made.peak_mode, limit_kN=made.peak_kN)
    assert dict(peak_rows(strong))["hanger as stated (kN)"] == 10.0
    assert peak_words(strong).startswith(f"limit {made.peak_kN:.1f} kN: {made.peak_mode}; ")


def test_a_sling_stands_for_the_hanger_where_the_tube_is_tied_off() -> None:
    held = solve_peak(case(90.0, "tied_off", 9e3), laws())
    assert held.rivals[0] == ("sling", 9e3)
    assert all(name != "hanger" for name, _ in held.rivals)
    assert all(name != "sling" for name, _ in solve_peak(case(90.0, "tied_off"), laws()).rivals)


def even_fronts(front: float) -> ConeFronts:
    """A front driven evenly all round by threads and, `front` times as much, by the wall's resultant, at any depth."""
    return ConeFronts(np.array([front, -front, 1.0])[None, None, None, None, None, :, None] * np.ones(2), np.ones(1))


@pytest.mark.parametrize(("taken", "held"), [(0.2, 1 / 1.2), (1.0, 1 / 2.0), (0.0, 1.0)])
def test_the_cone_comes_at_the_push_of_the_moment(taken: float, held: float) -> None:
    """N + taken H = N_0, pulled 45 deg aside at the ice by a tube that hardly turns: N = H = N_0 / (1 + taken)."""
    fronts = even_fronts(taken)
    found = solve_peak(case(45.0, "tied_off"), laws(cone=6e3, fronts=fronts))
    assert found.pull.mode == "cone"
    assert found.pull.cone_load == pytest.approx(held * 6e3, rel=0.02)
    came = next(event for event in found.pull.events if event.name == "cone")
    assert came.load == pytest.approx(2**0.5 * held * 6e3, rel=0.02)
    straight = solve_peak(case(90.0), laws(cone=6e3, fronts=fronts)).pull
    assert straight.cone_load == pytest.approx(6e3, rel=1e-3)  # straight out there is no push and nothing is taken


def test_a_sling_that_can_slide_holds_no_more_than_one_that_cannot() -> None:
    """The cone comes on the way, whatever comes after: the curves are one until the sling slides."""
    peaks = []
    for friction in (0.3, 0.5, inf):
        placement = Placement(0.0, 0.050, "tied_off", sling_friction=friction)
        peaks.append(
            solve_peak(
                replace(case(), placement=placement), laws(cone=3e3, wall=120e3, fronts=even_fronts(0.5))
            ).pull.peak
        )
    assert peaks[0] <= peaks[1] * (1 + 1e-3) and peaks[1] <= peaks[2] * (1 + 1e-3)


@pytest.mark.slow
def test_a_wall_that_bears_less_moves_the_mode_from_bending_to_levering_out() -> None:
    """Strong ice bends the tube; weak ice lets it lever out unbent, and the metal is then no rival."""
    strong, weak = (solve_peak(case(), laws(wall=wall, cone=inf)) for wall in (400e3, 20e3))
    assert strong.pull.first_hinge is not None and strong.pull.mode != "lever-out"
    assert weak.pull.first_hinge is None and weak.pull.mode == "lever-out"
    assert weak.pull.peak < 0.5 * strong.pull.peak


@pytest.fixture(scope="module")
def made() -> Outcome:
    """The outcome of the default case in shear on even laws, its onset invented."""
    settings = settings_from({"numerics.model": "peak"})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(peakrecord, "peak_laws", lambda case, keep: laws())
        found = peak_found(case())
    return replace(made_up_record(settings, onset_kN=0.3), model="peak", **found)


def test_the_outcome_says_how_late_the_peak_comes(made: Outcome) -> None:
    """The peak is the curve's at its movement; early is its largest within one diameter of movement."""
    peak = made.the_peak
    place = int(np.argmin(np.abs(np.array(peak.displacement_mm) - known(made.peak_at_mm))))
    assert peak.load_kN[place] == pytest.approx(made.peak_kN, rel=1e-4)
    early = {at: load for at, load in zip(peak.displacement_mm, peak.load_kN, strict=True) if at <= 17}
    assert made.early_kN == pytest.approx(max(early.values()), abs=1e-4)
    assert early[round(known(made.early_at_mm), 4)] == pytest.approx(made.early_kN, abs=1e-4)
    assert known(made.peak_at_mm) > 30 and known(made.early_kN) < 0.8 * known(made.peak_kN)


def test_the_outcome_is_plain_data_in_the_users_units(made: Outcome) -> None:
    """JSON and back changes nothing; the peak is the curve's largest before the window closes; events are in order."""
    assert Outcome.from_dict(json.loads(json.dumps(made.to_dict()))) == made
    peak = made.the_peak
    at = next(event for event in peak.events if event.name == "peak")
    assert made.peak_kN == pytest.approx(at.load_kN)
    place = int(np.argmin(np.abs(np.array(peak.displacement_mm) - at.displacement_mm)))
    assert peak.load_kN[place] == pytest.approx(made.peak_kN, rel=1e-4)
    assert peak.head_rotation_deg[place] == pytest.approx(made.head_rotation_deg, abs=0.1)
    moved = [event.displacement_mm for event in peak.events]
    assert moved == sorted(moved) and peak.energy_imbalance < 1e-2


def test_a_placement_that_cannot_be_built_is_said_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(case: Case, keep: object) -> IceLaws:
        raise ValueError("embedment [m] = 9: must not exceed 0.5")

    monkeypatch.setattr(peakrecord, "peak_laws", refuse)
    with pytest.raises(MeshError, match=r"no peak for this placement: embedment \[m\] = 9: must not exceed 0\.5"):
        peak_found(case())


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
    return hand_loads(one, laws())


def test_a_hand_formula_far_off_carries_a_warning_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cone law four times the stud's: more than twice, and said so; the usual one carries none."""
    for cone, warned in ((50e3, True), (14e3, False)):
        monkeypatch.setattr(peakrecord, "peak_laws", lambda case, keep, cone=cone: laws(cone=cone, threads=2e6))
        warning = peak_found(case(90.0))["peak"].hand_warning
        assert ("headed stud's cone" in warning and "more than twice below" in warning) == warned


def test_pictures_and_words_of_a_peak(made: Outcome, tmp_path: Path) -> None:
    for draw in (load_displacement, deformed_tube):
        draw(made, tmp_path / f"{draw.__name__}.png")
    other = replace(made, case=dict(settings_from({"placement.angle_deg": 20})), peak_kN=2 * known(made.peak_kN))
    peaks_by_key([made, other], "placement.angle_deg", "invented", tmp_path / "sweep.png")
    tubes_strip([made, other], "placement.angle_deg", tmp_path / "strip.png")
    assert all(path.stat().st_size > 10_000 for path in tmp_path.glob("*.png")) and len(list(tmp_path.iterdir())) == 4
    words = explain_peaks([made, other], "placement.angle_deg")
    assert "2.0 times as much" in words and str(made.peak_mode) in words
    assert f"peak {made.peak_kN:.1f} kN" in peak_words(made)


def test_margin_without_a_rival_is_infinite() -> None:
    found = replace(solve_peak(case(90.0), laws()), stated=None, ladder=())
    assert found.next is None and found.margin == inf


def test_all_threads_at_their_limit_are_stripped_threads() -> None:
    """Threads that give way but do not fall: the load rises to the end, with every thread at its limit."""
    tough = replace(laws(cone=inf, threads=100e3), thread_softening=inf)
    pull = solve_peak(case(90.0), tough).pull
    assert pull.mode == "threads stripped" and pull.peak == pytest.approx(6.5e3, rel=1e-3)


def test_a_few_threads_at_their_limit_are_stripped_threads() -> None:
    """10 mm of thread straight out: the first begins to slip as the others bear 98 % of what they can, and none has."""
    short = replace(case(90.0), tube=replace(TUBE, thread_length=0.010))
    pull = solve_peak(short, laws(cone=inf)).pull
    assert pull.mode == "threads stripped" and pull.peak == pytest.approx(4.5e3, rel=0.03)


def test_early_counts_no_load_beyond_the_peak() -> None:
    """A tube levered out of weak ice hangs on its threads and rises on past 60 deg: up to there early is the peak."""
    shallow = replace(case(), placement=Placement(0.0, 0.070))
    pull = solve_peak(shallow, laws(cone=inf, wall=20e3)).pull
    late = float(pull.displacement[pull.load.argmax()])
    assert pull.load.max() > 1.1 * pull.peak and early_load(pull, late)[0] == pull.peak
    assert pull.displacement[pull.counted - 1] < late


def test_a_case_next_to_a_jump_says_that_it_stands_on_an_edge() -> None:
    """Six neighbours; where one holds far less the peak is said as a range, elsewhere nothing is said."""
    far = neighbours(case(90.0), laws())
    assert len(far) == 6 and not any(n.beyond_edge(14e3) for n in far)
    assert edge_in_words(14e3, far) == ""
    jump = [*far[:5], Neighbour("0.1 deg less toward the pull", 9e3, "lever-out")]
    words = edge_in_words(14e3, jump)
    assert words.startswith("the peak stands on an edge: read it as 9.00 to ")
    assert words.endswith("(0.1 deg less toward the pull: 9.00 kN, lever-out)")


def test_a_peak_below_the_onset_is_said(made: Outcome) -> None:
    low = replace(made, peak_kN=0.2)
    (note,) = notes(low)
    assert note.startswith("the peak, 0.2 kN, lies below the onset of damage, 0.3 kN")
    assert notes(replace(low, peak_kN=0.4)) == [] and notes(replace(low, peak=None)) == []
