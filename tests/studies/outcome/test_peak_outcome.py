"""The peak as written down, drawn and said: the limit, how late it comes, hand formulas beside it, an edge."""

from __future__ import annotations

import json
from dataclasses import replace
from math import inf, pi
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from samples import ICE, UNBROKEN, case, even_laws
from studystub import made_up_record

from icecone.fem.case import Case
from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.tube.edges import Neighbour, neighbours
from icecone.fem.tube.peak import solve_peak
from icecone.fem.tube.readings import Reading
from icecone.geometry.errors import MeshError
from icecone.geometry.placement import Pull
from icecone.studies.case.file import settings_from
from icecone.studies.command.rows import peak_rows, remarks
from icecone.studies.figures.peak import load_displacement, peaks_by_key
from icecone.studies.figures.tube import deformed_tube, tubes_strip
from icecone.studies.outcome import peak as peakrecord
from icecone.studies.outcome.data import Outcome, known
from icecone.studies.outcome.hand import hand_loads, hand_warning
from icecone.studies.outcome.peak import edge_in_words, peak_found
from icecone.studies.outcome.results import Rival
from icecone.studies.outcome.solve import notes
from icecone.studies.words.answer import peak_words
from icecone.studies.words.peak import explain_peaks


@pytest.fixture(scope="module")
def made() -> Outcome:
    """The outcome of the default case in shear on even laws, of unlimited strain, its onset invented."""
    settings = settings_from({"numerics.model": "peak"})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(peakrecord, "peak_laws", lambda case, keep: even_laws())
        found = peak_found(case(assumed=UNBROKEN))
    return replace(made_up_record(settings, onset_kN=0.3), model="peak", **found)


def test_a_stated_strength_below_the_peak_is_what_limits(made: Outcome) -> None:
    """A hanger of 10 kN over a cone of 14 kN: the limit in the outcome, on the screen's first line and in the title."""
    assert (made.limit_mode, made.limit_kN) == ("hanger", 10.0) and known(made.peak_kN) > 10
    assert (made.next_mode, made.next_kN) == (made.peak_mode, made.peak_kN)
    rows = dict(peak_rows(made))
    assert next(iter(rows)) == "limit of the placement (kN)" and rows["limit of the placement (kN)"] == 10.0
    assert rows["what gives way first"] == "hanger" and "hanger as stated (kN)" not in rows
    assert "note: invented" in remarks(replace(made, notes=("invented",)))
    stated = "limit 10.0 kN: hanger, at its stated strength; tube and ice alone: peak "
    assert peak_words(made).startswith(stated)
    strong = replace(made, limit_mode=made.peak_mode, limit_kN=made.peak_kN)
    assert dict(peak_rows(strong))["hanger as stated (kN)"] == 10.0
    assert peak_words(strong).startswith(f"limit {made.peak_kN:.1f} kN: {made.peak_mode}; ")
    tube, movement = made.case["tube.od_mm"], "movement of the load point up to the peak (mm)"
    assert rows[movement] == made.peak_at_mm and rows[f"largest pull up to {tube:g} mm of movement (kN)"]
    rivals = (*made.the_peak.rivals, Rival("rope", 20.0))
    assert dict(peak_rows(replace(made, peak=replace(made.the_peak, rivals=rivals))))["next in line: rope (kN)"] == 20.0
    more = "nothing else gives way up to (kN)"
    above = {
        others: dict(peak_rows(replace(made, peak=replace(made.the_peak, others_above_kN=others))))
        for others in (28.0, None)
    }
    assert above[28.0][more] == 28.0 and more not in above[None]


def test_the_outcome_says_how_late_the_peak_comes(made: Outcome) -> None:
    """The peak is the curve's at its movement; early is its largest within one diameter of movement."""
    peak = made.the_peak
    place = int(np.argmin(np.abs(np.array(peak.displacement_mm) - known(made.peak_at_mm))))
    assert peak.load_kN[place] == pytest.approx(made.peak_kN, rel=1e-4)
    assert made.early_at_mm == pytest.approx(17) and made.early_mode == "not reached"
    assert made.early_kN == pytest.approx(np.interp(17, peak.displacement_mm, peak.load_kN), abs=1e-4)
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
    return hand_loads(case(direction_deg=direction), even_laws())


def test_a_hand_formula_far_off_carries_a_warning_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cone law four times the stud's: more than twice, and said so; the usual one carries none."""
    for cone, warned in ((50e3, True), (14e3, False)):
        monkeypatch.setattr(peakrecord, "peak_laws", lambda case, keep, cone=cone: even_laws(cone=cone, threads=2e6))
        warning = peak_found(case(direction_deg=90.0))["peak"].hand_warning
        assert ("headed stud's cone" in warning and "less than half the peak" in warning) == warned
    pile = "short pile (Broms)"
    assert "gives 21.0 kN, more than twice the peak: it knows no threads" in hand_warning(1e4, {pile: 2.1e4})
    assert hand_warning(1e4, {pile: 1.9e4}) == ""


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


def test_a_case_next_to_a_jump_says_that_it_stands_on_an_edge() -> None:
    """Six neighbours; where one reads far less both loads are given, for each load that jumps; elsewhere nothing is."""
    own = solve_peak(case(direction_deg=90.0), even_laws()).pull.readings
    far = neighbours(case(direction_deg=90.0), even_laws())
    assert len(far) == 6 and edge_in_words(own, far) == ""
    for share, words in (
        (0.91, ""),
        (0.89, "on an edge: early load 14.00 kN, cone, or 12.46 kN, lever-out (0.1 deg less toward the pull)"),
    ):
        moved = {**own, "early": Reading(share * own["early"].load, 0.01, "lever-out")}
        assert edge_in_words(own, [*far[:5], Neighbour("0.1 deg less toward the pull", moved)]) == words


def test_a_peak_at_a_stop_is_said_to_rise_still() -> None:
    """Of a shallow tube in weak ice: no mode, but how far it was counted, and what the model follows beyond."""
    shallow = case(embedment=0.070, pull=Pull(0.0, turn=pi / 6))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(peakrecord, "peak_laws", lambda case, keep: even_laws(cone=inf, wall=20e3))
        found = peak_found(shallow)
    settings = settings_from({"placement.embedment_mm": 70, "pull.turn_deg": 30})
    outcome = replace(made_up_record(settings), model="peak", **found)
    assert outcome.peak_mode == "not reached" and outcome.the_peak.stop == "head turned by 30 deg"
    assert outcome.head_rotation_deg == pytest.approx(30, rel=1e-3)
    (note,) = [each for each in notes(outcome) if each.startswith("still rising")]
    beyond = f"beyond, the model follows it to {found['largest_kN']:.3g} kN"
    assert note == f"still rising at the stop: head turned by 30 deg; {beyond}"
    assert peak_words(outcome).startswith(
        f"still rising at the stop, {found['peak_kN']:.1f} kN: head turned by 30 deg; "
    )
    assert found["peak_kN"] < found["turned_kN"] < found["largest_kN"] and found["ended_by"]
    figure = load_displacement(outcome, None)
    axes = figure.axes[0]
    (beyond_stop,) = [patch for patch in axes.patches if patch.get_hatch()]
    assert beyond_stop.get_x() == pytest.approx(found["peak_at_mm"], rel=1e-3)
    labels = key_of(figure)
    assert "not in the peak: beyond the stop: head turned" in labels
    assert all(
        sum(name in label.split(":")[0] for label in labels) == 1 for name in ("early load", "up to 45", "largest load")
    )


def test_equal_loads_share_a_marker(made: Outcome) -> None:
    """Straight out they all are the cone's; the picture names each once, and nothing is hatched."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(peakrecord, "peak_laws", lambda case, keep: even_laws())
        found = peak_found(case(direction_deg=90.0))
    figure = load_displacement(replace(made, **found), None)
    assert sum("peak and every other reading" in label for label in key_of(figure)) == 1
    assert not any(patch.get_hatch() for patch in figure.axes[0].patches)


def key_of(figure: Figure) -> list[str]:
    """What the key of a picture says."""
    return [text.get_text() for axes in figure.axes if (key := axes.get_legend()) for text in key.get_texts()]


def test_a_peak_below_the_onset_is_said(made: Outcome) -> None:
    low = replace(made, peak_kN=0.2, wrinkle_kN=None)
    (note,) = notes(low)
    assert note.startswith("the peak, 0.2 kN, lies below the onset of damage, 0.3 kN")
    assert notes(replace(low, peak_kN=0.4, wrinkle_kN=0.35)) == [
        "the wall of the tube wrinkles at 0.35 kN; from there on it bears less"
    ]
    assert notes(replace(low, peak_kN=0.4)) == [] and notes(replace(low, peak=None)) == []
