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
