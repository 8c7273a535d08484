"""No word of a picture is cut or lies over another: every mode and model; straight, partial, tied off, crusted.

The pulls are made by the model on invented laws of the ice, a fraction of a second each; the numbers say nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from math import inf
from pathlib import Path
from typing import Any

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from samples import chipping_laws, even_laws
from studystub import CONE, STRAIGHT, TILTED, changed, made_up_record
from text_boxes import text_faults

from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.tube.modes import MODES
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.figures import band, chain, cone, grid, peak, series, stress, tube, tube_front
from icecone.studies.outcome import peak as peakrecord
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.results import DrawnRange

CASES: dict[str, tuple[dict[str, Any], Callable[[], IceLaws]]] = {
    "leaning away, chips out": ({"placement.angle_deg": -20}, lambda: chipping_laws(0.13, goes=True)),
    "leaning toward": ({"placement.angle_deg": 20}, lambda: chipping_laws(0.13)),
    "upright": ({}, lambda: chipping_laws(0.13)),
    "straight out": ({"pull.direction_deg": 90}, even_laws),
    "straight out, weak threads": ({"pull.direction_deg": 90}, lambda: even_laws(cone=inf, threads=60e3)),
    "slanting": ({"pull.direction_deg": 45}, even_laws),
    "partial": ({"placement.embedment_mm": 70}, lambda: chipping_laws(0.07)),
    "partial, weak ice, to a stop": ({"placement.embedment_mm": 70}, lambda: even_laws(cone=inf, wall=20e3)),
    "tied off": (
        {"placement.embedment_mm": 70, "placement.attachment": "tied_off"},
        lambda: chipping_laws(0.07),
    ),
    "crusted": ({"ice.crust_mm": 20, "placement.angle_deg": -10}, lambda: chipping_laws(0.13, goes=True)),
}
BAND = {"goes": {"peak": 4.0}, "stays": {"peak": 9.0}}
RANGE = DrawnRange(
    100, 1, 0, (), (0.05, 0.5, 0.95), dict.fromkeys(("limit", "peak"), (2.3, 4.0, 9.9)), {"lever-out": 1.0}, ()
)


@lru_cache
def pulled(name: str) -> Outcome:
    """The outcome of one of CASES."""
    given, laws = CASES[name]
    settings = settings_from(given)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(peakrecord, "peak_laws", lambda case, keep: laws())
        found = peakrecord.peak_found(to_case(settings))
    return replace(made_up_record(settings, onset_kN=0.25), model="peak", **found)


def with_mode(outcome: Outcome, mode: str) -> Outcome:
    """The same said to end by another mode, with draws."""
    return replace(outcome, peak_mode=mode, limit_mode=mode, drawn=RANGE)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("draw", [peak.load_displacement, tube.deformed_tube])
def test_pictures_of_a_pull(name: str, draw: Callable[[Outcome, None], Figure]) -> None:
    assert text_faults(draw(pulled(name), None)) == []


def limited(name: str, strength: float) -> Outcome:
    """The same with a hanger that ends the pull at so many kN."""
    return replace(pulled(name), limit_mode="hanger", limit_kN=strength)


def test_a_hanger_that_ends_the_pull_is_drawn_at_its_strength() -> None:
    """A line in the curve of a case, a mark in that of a study; none where tube and ice end it."""
    strength = 0.7 * (pulled("upright").peak_kN or 0.0)
    for outcome, count in ((limited("upright", strength), 1), (with_mode(pulled("upright"), "lever-out"), 0)):
        lines = peak.load_displacement(outcome, None).axes[0].lines
        found = [line.get_ydata() for line in lines if str(line.get_label()).startswith("limit: hanger as stated")]
        assert [set(each) for each in found] == [{strength}] * count
    key, names = STUDIES["angle"]
    outcomes = [pulled(names[0]), limited("upright", strength), with_mode(pulled(names[2]), "tube bends")]
    lines = peak.peaks_by_key(outcomes, key, "title", None).axes[0].lines
    marks = [line for line in lines if line.get_label() == "limit: hanger as stated"]
    assert [(list(mark.get_xdata()), list(mark.get_ydata())) for mark in marks] == [([0], [strength])]


def test_the_star_stands_on_the_curve_where_the_peak_is() -> None:
    """A movement of 0.12 mm is not drawn, nor told, as 0.1."""
    outcome = pulled("straight out")
    figure = peak.load_displacement(outcome, None)
    (star,) = [line for line in figure.axes[0].lines if line.get_marker() == "*"]
    assert star.get_xdata()[0] == outcome.peak_at_mm and 0 < (outcome.peak_at_mm or 0) < 1
    told = [text.get_text() for axes in figure.axes if axes.get_legend() for text in axes.get_legend().get_texts()]
    assert any(words.endswith(f"kN at {outcome.peak_at_mm:.2g} mm") and words.startswith("peak") for words in told)


def test_the_small_print_of_a_tube_tells_what_is_drawn_and_no_more() -> None:
    names = ("straight out", "leaning away, chips out", "upright")
    straight, away, bent = (" ".join(tube.deformed_tube(pulled(name), None).get_supxlabel().split()) for name in names)
    assert "Dark red" not in straight and "Which chips" not in straight and "ice that is gone" not in straight
    assert "Red, dashed: the cone" in straight and "the cone" not in away + bent
    assert "ice that is gone" in away and "Dark red" in bent
    wide = replace(pulled("upright"), peak=replace(pulled("upright").the_peak, band=BAND))
    assert "not settled: peak 4.0 kN if every chip comes out, 9.0 if none does." in " ".join(
        tube.deformed_tube(wide, None).get_supxlabel().split()
    )


@pytest.mark.parametrize("mode", [name for name, mode in MODES.items() if "onset" not in mode.routes])
def test_pictures_of_every_mode(mode: str) -> None:
    for draw in (peak.load_displacement, tube.deformed_tube):
        assert text_faults(draw(with_mode(pulled("upright"), mode), None)) == []


STUDIES = {
    "angle": ("placement.angle_deg", ("leaning away, chips out", "upright", "leaning toward")),
    "words": ("placement.attachment", ("partial", "tied off")),
    "direction": ("pull.direction_deg", ("upright", "slanting", "straight out")),
}


@pytest.mark.parametrize("study", STUDIES)
def test_pictures_of_a_study(study: str) -> None:
    key, names = STUDIES[study]
    outcomes = [pulled(name) for name in names]
    for draw in (peak.peaks_by_key, stress.sweep_figure):
        assert text_faults(draw(outcomes, key, "Peaks of an invented study with a title of usual length", None)) == []
    assert text_faults(tube.tubes_strip(outcomes, key, None)) == []


@pytest.mark.parametrize(
    "names", [STUDIES["angle"][1], ("crusted", "upright", "leaning toward"), ("tied off", "partial")]
)
def test_the_chain(names: tuple[str, ...]) -> None:
    assert text_faults(chain.chain_figure([pulled(name) for name in names], None, {})) == []


@pytest.mark.slow
def test_the_chain_of_every_mode() -> None:
    modes = list(MODES)
    for some in (modes[:4], modes[4:8], modes[8:]):
        rows = [with_mode(pulled("upright"), mode) for mode in some]
        assert text_faults(chain.chain_figure(rows, None, {})) == []


def test_band_and_series() -> None:
    key, names = STUDIES["angle"]
    outcomes = [pulled(name) for name in names]
    assert text_faults(band.band_figure(outcomes, key, None)) == []
    both = [(key, outcomes), STUDIES["words"]]
    told = [(key, outcomes), (both[1][0], [pulled(name) for name in STUDIES["words"][1]])]
    assert text_faults(series.series_panels(told, outcomes[1].case, "an invented study")) == []


def test_grids(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    drawn: list[Figure] = []
    for module in (grid, tube_front):
        monkeypatch.setattr(module, "save", lambda figure, path, **more: drawn.append(figure))
    walls, angles = (1.0, 1.5, 2.0), (-20, 0, 20)
    modes = [name for name, mode in MODES.items() if "onset" not in mode.routes]
    outcomes = [
        replace(
            with_mode(pulled("upright"), modes[(3 * i + j) % len(modes)]),
            case={**pulled("upright").case, "tube.wall_mm": wall, "placement.angle_deg": angle},
            peak_kN=5.0 + i + 2 * j,
        )
        for i, wall in enumerate(walls)
        for j, angle in enumerate(angles)
    ]
    keys = ("tube.wall_mm", "placement.angle_deg")
    title = "An invented study of tubes whose title goes over two lines: along the surface and straight out"
    grid.draw_map(outcomes, keys, title, tmp_path / "a.png")
    grid.draw_lines(outcomes, keys, title, tmp_path / "b.png")
    tube_front.draw_front(outcomes, keys, title, tmp_path / "c.png")
    assert [text_faults(figure) for figure in drawn] == [[], [], []]


@pytest.mark.parametrize("shape", ["straight", "tilted"])
def test_cones(shape: str) -> None:
    parts = CONE | STRAIGHT if shape == "straight" else CONE | TILTED
    direction = 90 if shape == "straight" else 30
    outcome = changed(made_up_record(settings_from({"pull.direction_deg": direction})), cone=parts)
    assert text_faults(cone.cone_picture(outcome, None)) == []
    assert text_faults(cone.peaks_figure([outcome] * 2, "tube.wall_mm", "an invented study", None)) == []


def test_the_key_of_a_cone_that_runs_at_once_lies_beside_its_curve() -> None:
    """A load that falls from the first length on, as of inclined pulls; nothing of it is stable."""
    fall = {"share": [0.1, 0.4, 0.6, 0.85], "least_load_kN": [18.0, 9.0, 7.0, 5.0]}
    parts = CONE | TILTED | fall | {"load_kN": [20.0, 10.0, 8.0, 6.0], "shut": [0.0] * 4}
    outcome = changed(made_up_record(settings_from({"pull.direction_deg": 30})), cone=parts)
    figure = cone.cone_picture(outcome, None)
    FigureCanvasAgg(figure).draw()
    axes = next(each for each in figure.axes if "holds the crack" in each.get_title())
    legend = axes.get_legend()
    assert legend is not None and not any("stable: more" in text.get_text() for text in legend.get_texts())
    box = legend.get_window_extent()
    for line in axes.lines:
        assert not any(box.contains(*place) for place in axes.transData.transform(line.get_xydata()))


def test_stress_wherever_the_damage_is(solved: Any) -> None:
    outcome, _, folder = solved
    for mode, where, place in (
        ("tension", [8.8, 0.0, 0.0], "at the mouth, in front of the tube"),
        ("shear", [0.0, 8.5, -20.0], "20 mm below the surface, beside the tube"),
        ("crushing", [20.0, 0.0, -58.0], "58 mm below the surface, all round the tube"),
    ):
        made = changed(outcome, onset_mode=mode, onset_where_mm=where, onset_place=place)
        assert text_faults(stress.stress_picture(made, folder / "fields.vtu", None)) == []
    assert text_faults(stress.stress_strip([folder] * 3, "placement.angle_deg", None)) == []
