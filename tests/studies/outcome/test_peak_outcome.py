"""The peak as written down, drawn and said: the limit, how late it comes, hand formulas beside it, an edge."""

from __future__ import annotations

import json
from collections.abc import Mapping
from io import StringIO
from math import pi
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from rich.console import Console
from samples import ICE, case, even_laws
from studystub import made_up_record

from icecone.fem.case import Case
from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.tube.edges import Neighbour, neighbours
from icecone.geometry import MeshError
from icecone.studies.case.file import settings_from
from icecone.studies.command.screen import print_outcome
from icecone.studies.figures.peak import deformed_tube, headline, load_displacement, peaks_by_key, tubes_strip
from icecone.studies.outcome import peak as peakrecord
from icecone.studies.outcome.peak import edge_in_words, hand_loads, peak_record
from icecone.studies.outcome.record import notes
from icecone.studies.words.peak import explain_peaks


@pytest.fixture(scope="module")
def made() -> dict[str, object]:
    """A record of the default case in shear on even laws, as `solve` keeps it."""
    settings = settings_from({"numerics.model": "peak"})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(peakrecord, "peak_laws", lambda case, keep: even_laws())
        return {"case": settings, "onset_kN": 0.3, "onset_mode": "shear", "ice": {}, "notes": [], **peak_record(case())}


def rows(record: Mapping[str, Any]) -> dict[str, str]:
    """What the screen says of an outcome: quantity and value of each line."""
    said = StringIO()
    print_outcome(Console(file=said, width=200), {**made_up_record(record["case"]), **record})
    cells = [line.split("│")[1:3] for line in said.getvalue().splitlines() if line.startswith("│")]
    return {what.strip(): value.strip() for what, value in cells}


def test_a_stated_strength_below_the_peak_is_what_limits(made: dict[str, object]) -> None:
    """A hanger of 10 kN over a cone of 14 kN: the limit in the record, on the screen's first line and in the title."""
    assert (made["limit_mode"], made["limit_kN"]) == ("hanger", 10.0) and float(str(made["peak_kN"])) > 10
    assert (made["next_mode"], made["next_kN"]) == (made["peak_mode"], made["peak_kN"])
    shown = rows({**made, "notes": ["invented"]})
    assert next(iter(shown)) == "limit of the placement (kN)" and shown["limit of the placement (kN)"] == "10"
    assert shown["what gives way first"] == "hanger" and "hanger as stated (kN)" not in shown
    assert shown["note"] == "invented"
    assert headline(made).startswith("hanger fails first, at its stated 10.0 kN; tube and ice alone: peak ")
    strong = {**made, "limit_mode": made["peak_mode"], "limit_kN": made["peak_kN"], "notes": []}
    assert rows(strong)["hanger as stated (kN)"] == "10" and headline(strong).startswith("peak ")


def test_the_record_says_how_late_the_peak_comes(made: dict[str, object]) -> None:
    """Travel at the peak is the curve's there; up to 20 mm the pull is the curve's largest by then, well below."""
    peak: Any = made["peak"]
    place = int(np.argmin(np.abs(np.array(peak["displacement_mm"]) - peak["travel_mm"])))
    assert peak["load_kN"][place] == pytest.approx(made["peak_kN"], rel=1e-4)
    early = [load for at, load in zip(peak["displacement_mm"], peak["load_kN"], strict=True) if at <= 20]
    assert peak["early"] == {"travel_mm": 20.0, "load_kN": pytest.approx(max(early), abs=1e-4)}
    assert peak["travel_mm"] > 30 and peak["early"]["load_kN"] < 0.8 * float(made["peak_kN"])  # type: ignore[arg-type]


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
    def refuse(case: Case, keep: object) -> IceLaws:
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
    found: Any = SimpleNamespace(laws=even_laws())  # the laws are all that is read
    return hand_loads(case(direction_deg=direction), found)


def test_a_hand_formula_far_off_carries_a_warning_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cone law four times the stud's: more than twice, and said so; the usual one carries none."""
    for cone, warned in ((50e3, True), (14e3, False)):
        monkeypatch.setattr(peakrecord, "peak_laws", lambda case, keep, cone=cone: even_laws(cone=cone, threads=2e6))
        warning = peak_record(case(direction_deg=90.0))["peak"]["hand_warning"]
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


def test_a_case_next_to_a_jump_says_that_it_stands_on_an_edge() -> None:
    """Six neighbours; where one holds far less the peak is said as a range, elsewhere nothing is said."""
    far = neighbours(case(direction_deg=90.0), even_laws())
    assert len(far) == 6 and not any(n.beyond_edge(14e3) for n in far)
    assert edge_in_words(14e3, far) == ""
    jump = [*far[:5], Neighbour("0.1 deg less toward the pull", 9e3, "lever-out")]
    words = edge_in_words(14e3, jump)
    assert words.startswith("the peak stands on an edge: read it as 9.00 to ")
    assert words.endswith("(0.1 deg less toward the pull: 9.00 kN, lever-out)")


def test_a_peak_below_the_onset_is_said() -> None:
    low = {"peak": {"edge": ""}, "peak_kN": 0.2, "onset_kN": 0.3}
    (note,) = notes(low)
    assert note.startswith("the peak, 0.2 kN, lies below the onset of damage, 0.3 kN")
    assert notes({**low, "peak_kN": 0.4}) == [] and notes({"onset_kN": 0.3}) == []
