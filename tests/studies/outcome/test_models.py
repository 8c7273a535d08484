"""Studies are told and drawn by what they ask for: a study of peaks by its peaks, the onset second."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from studystub import changed, made_up_record, peak_record, settings_of

from icecone.studies.case.file import settings_from
from icecone.studies.figures import series as sweepfigures
from icecone.studies.outcome.cautions import CONE_ALONE, PULL_CAUTION
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.models import MODELS, asked, load
from icecone.studies.words import onset as why
from icecone.studies.words.cone import explain_cones
from icecone.studies.words.peak import explain_peaks

BASE = settings_from({"numerics.model": "peak"})
PEAK, CONE, ONSET = (MODELS[name].quantity for name in ("peak", "cone", "onset"))
THREAD, METAL = "tube.thread_height_mm", "tube.metal"
NOT_HERE = "this setting makes no difference here"


def peak(load: float, mode: str = "cone", hinge: float | None = None, **given: Any) -> Outcome:
    """An outcome of a peak; the onset is the same in all, as it is for a thread's height."""
    return changed(peak_record(load, mode, hinge, **given), onset_kN=0.296)


def cone(load: float | None, **given: Any) -> Outcome:
    return made_up_record(settings_of(given), peak_kN=load, cone={}, onset_kN=0.296)


def threads() -> list[Outcome]:
    """14.8 kN with threads stripped to 16.8 with a cone: a factor of 1.135."""
    found = [(14.8, "threads stripped", 1.5), (16.8, "cone", 2.5), (16.8, "cone", 3.5)]
    return [peak(load, mode, tube__thread_height_mm=height) for load, mode, height in found]


def metals() -> list[Outcome]:
    return [peak(16.8), peak(8.4, "tube bends", 5.0, tube__metal="aluminium_alloy")]


def test_a_study_asks_for_what_all_its_records_hold() -> None:
    onset = made_up_record({})
    assert asked(threads()).quantity is PEAK and asked([cone(1.0), cone(None)]).quantity is CONE
    assert asked([*threads(), onset]) is asked([cone(1.0), *threads()]) is asked([onset]) is MODELS["onset"]
    assert CONE.loads([cone(1.0), cone(None)]) == [1.0] and PEAK.mode(threads()[0]) == "threads stripped"


def test_several_series_of_peaks_are_told_and_ranked_by_their_peaks() -> None:
    """2.00 for the metal before 1.14 for the thread, though neither moves the onset."""
    text = why.explain_series([(THREAD, threads()), (METAL, metals())])
    thread, metal, closing = text.split("\n\n")
    assert thread.startswith(
        f"{THREAD}: The pull reaches 14.8 kN at the least, thread height 1.5 mm, and 16.8 kN at the most"
    )
    assert "threads stripped at 1.5 mm; cone from 2.5 to 3.5 mm" in thread and thread.endswith(
        "onset of damage, 0.296 kN."
    )
    assert "cone at chromoly steel; tube bends at aluminium alloy" in metal
    assert closing.startswith(f"Ranked by the factor between largest and least peak: {METAL} 2.00, {THREAD} 1.14.")
    assert NOT_HERE not in text and why.NOT_PEAK not in text and text.count(PULL_CAUTION) == 1


def test_one_series_of_peaks_is_told_of_peaks_and_not_of_the_onset() -> None:
    """The thread moves the peak: nothing says that it does not enter, and no paragraph is of the first damage."""
    text = "\n\n".join(filter(None, (load(words)(threads(), THREAD) for words in MODELS["peak"].study_words)))
    assert NOT_HERE not in text and "no difference" not in text and text.startswith("The pull reaches 14.8 kN")
    assert "first damage" not in text.replace(PULL_CAUTION, "")
    line = next(line for line in text.splitlines() if line.startswith("Keys that cannot move the peak here: "))
    assert THREAD not in line and "ice.tensile_MPa" in line
    same = [peak(16.8, tube__wall_mm=wall) for wall in (1, 2)]
    words = explain_peaks(same, "tube.wall_mm")
    assert words.startswith("Over 2 values of tube.wall_mm the pull reaches the same 16.8 kN: this key makes no differ")
    onsets = [changed(outcome, peak=None) for outcome in threads()]
    assert NOT_HERE in why.explain(onsets, THREAD)


def test_one_solved_case_is_told() -> None:
    assert explain_peaks(threads()[:1], THREAD).startswith(
        "The pull reaches 14.8 kN, thread height 1.5 mm: threads strip"
    )
    assert "holds 3.00 kN (tube.metal = chromoly_steel)" in explain_cones([cone(3.0)], METAL)


def test_series_of_cones_are_told_by_those_that_open() -> None:
    """9 over 3 kN by depth; of the two places of the pull one opens no cone, so that no factor is known."""
    depths = [cone(load, placement__embedment_mm=depth) for load, depth in ((3.0, 60), (9.0, 130))]
    places = [cone(9.0), cone(None, placement__attachment="tied_off")]
    text = why.explain_series([("placement.embedment_mm", depths), ("placement.attachment", places)])
    assert "In 1 more case no cone that was tried opens" in text and text.count(CONE_ALONE) == 1
    assert "they are not ranked" in text and "3.00 kN (placement.embedment_mm = 60)" in text
    shut = why.explain_series([("placement.attachment", places[1:])])
    assert "placement.attachment: No cone that was tried opens under any of these pulls." in shut


def labels(figure: Any) -> list[str]:
    legend = next(axes.get_legend() for axes in figure.axes if axes.get_legend())
    return [text.get_text() for text in legend.get_texts()]


def test_several_series_of_peaks_are_drawn_by_their_peaks() -> None:
    """Axis, scale, markers of the modes, the factor in the title, the base case ringed."""
    figure = sweepfigures.series_panels([(THREAD, threads()), (METAL, metals())], BASE, "invented", PEAK)
    thread, metal = (axes for axes in figure.axes if axes.get_xlabel())
    assert thread.get_ylabel() == "peak [kN]" and thread.get_ylim() == pytest.approx((0, 1.15 * 16.8))
    assert [axes.get_title() for axes in (thread, metal)] == [
        "largest / least peak: 1.14",
        "largest / least peak: 2.00",
    ]
    assert [bar.get_height() for bar in metal.patches] == [16.8, 8.4]
    assert [line.get_marker() for line in thread.lines if line.get_markersize() == 5.5] == ["D", "v", "v"]
    modes = ["peak: cone", "peak: threads stripped", "peak: tube bends"]
    assert labels(figure) == [*modes, "base case: 16.80 kN"] and PULL_CAUTION in " ".join(
        figure.get_supxlabel().split()
    )
    rings = [line for axes in (thread, metal) for line in axes.lines if line.get_markersize() == 13]
    assert [line.get_ydata().tolist() for line in rings] == [[16.8], [16.8]]


def test_a_cone_that_does_not_open_is_a_cross_at_zero(tmp_path: Path) -> None:
    places = [cone(9.0), cone(None, placement__attachment="tied_off")]
    figure = sweepfigures.series_panels([("placement.attachment", places)], places[1].case, "invented", CONE)
    (panel,) = (axes for axes in figure.axes if axes.get_xlabel())
    crosses = [line for line in panel.lines if line.get_marker() == sweepfigures.SHUT]
    assert [line.get_ydata().tolist() for line in crosses] == [[0.0]]
    assert labels(figure) == ["peak of the cone", "no cone tried opens", "base case"]
    for series in ([("placement.attachment", places)], [("placement.attachment", places[1:])]):
        sweepfigures.series_figure(series, BASE, "invented", tmp_path / "a.png")
        assert (tmp_path / "a.png").stat().st_size > 5000
