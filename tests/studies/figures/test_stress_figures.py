"""Pictures of solved cases: cuts, the stress, strips, onsets over a key and over several."""

from __future__ import annotations

import json
from itertools import pairwise
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.image import imread
from studystub import changed, made_up_record

from icecone.fem.onset.solve import Solution
from icecone.studies.case import words as casewords
from icecone.studies.case.file import settings_from
from icecone.studies.figures import series as sweepfigures
from icecone.studies.figures import stress as figures
from icecone.studies.figures import style as drawing
from icecone.studies.figures.cuts import cut, read_fields
from icecone.studies.outcome.cautions import CAUTION
from icecone.studies.outcome.data import Outcome


def test_cuts_lie_in_their_planes_and_cover_them(solved: tuple[Outcome, Solution, Path]) -> None:
    """The cut of the tube at y = 0 has the area of two walls; the surface cut leaves out half an ellipse."""
    _, solution, folder = solved
    fields = read_fields(folder / "fields.vtu")
    walls = cut(fields, 1, ("tube",))
    tube = solution.case.tube
    assert area(walls) == pytest.approx(2 * tube.wall * tube.length * 1e6, rel=0.02)
    surface = cut(fields, 2, ("ice", "crust"))
    far = np.abs(surface.x).max() * np.cos(solution.case.placement.angle)
    hole = 0.5 * pi * (tube.radius * 1e3) ** 2 / np.cos(solution.case.placement.angle)
    whole = 0.5 * pi * far**2 / np.cos(solution.case.placement.angle)
    assert area(surface) == pytest.approx(whole - hole, rel=0.01)
    assert surface.sample(fields.points[:, 2]) == pytest.approx(0.0, abs=1e-6)


def area(flat: Any) -> float:
    x, y = flat.x[flat.triangles], flat.y[flat.triangles]
    twice = (x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])
    return float(np.abs(twice).sum() / 2)


def test_the_picture_has_ink_and_the_outcome_its_caution(solved: tuple[Outcome, Solution, Path]) -> None:
    """stress.png is no blank sheet (red and purple both appear); outcome.json holds the outcome and the caution."""
    outcome, _, folder = solved
    image = imread(folder / "stress.png")[..., :3]
    red, purple = image[..., 0] - image[..., 2], image[..., 2] - image[..., 1]
    assert (red > 0.5).mean() > 0.001 and (purple > 0.2).mean() > 0.001
    assert Outcome.from_dict(json.loads((folder / "outcome.json").read_text())) == outcome
    assert outcome.caution == CAUTION
    figures.stress_strip([folder, folder], "placement.embedment_mm", folder / "strip.png")
    assert imread(folder / "strip.png").shape[1] > 900


def onsets(key: str, values: dict[Any, float]) -> tuple[str, list[Outcome]]:
    """A series of made-up records about the default case: value and onset; onsets below 0.1 kN are by crushing."""
    made = []
    for value, onset in values.items():
        mode = "tension" if onset >= 0.1 else "crushing"
        made.append(made_up_record(settings_from({}) | {key: value}, onset_kN=onset, onset_mode=mode))
    return key, made


def test_series_have_a_panel_each_on_one_scale_from_zero() -> None:
    """Words are bars with labels that do not overlap, numbers a line; the base case is ringed where it stands."""
    words = ("sound_glacier", "bubbly_glacier", "dense_waterfall", "aerated_waterfall", "firn", "sun_crust")
    series = [
        onsets("ice.kind", dict(zip(words, (0.4, 0.3, 0.45, 0.2, 0.05, 0.1), strict=True))),
        onsets("ice.temperature_C", {-25.0: 0.42, -5.0: 0.4, 0.0: 0.39}),
        onsets("ice.crust_mm", {2.0: 0.3, 40.0: 0.15}),
        onsets("tube.length_mm", {120.0: 0.3, 140.0: 0.4}),
    ]
    figure = sweepfigures.series_panels(series, settings_from({}), "an invented study")
    panels = [axes for axes in figure.axes if axes.get_xlabel()]
    assert [axes.get_xlabel() for axes in panels] == [casewords.AXIS_WORDS[key] for key, _ in series]
    assert all(axes.get_ylim() == pytest.approx((0.0, 1.15 * 0.45)) for axes in panels)
    assert [len(axes.patches) for axes in panels] == [6, 0, 0, 0]
    rings = [sum(line.get_markersize() == 13 for line in axes.lines) for axes in panels]
    assert rings == [1, 1, 0, 1], "no crust of 0 mm among the values"
    assert [axes.get_title().split()[-1] for axes in panels] == ["9.00", "1.08", "2.00", "1.33"]
    legend = [text.get_text() for axes in figure.axes if axes.get_legend() for text in axes.get_legend().get_texts()]
    assert legend == ["first damage by crushing", "first damage by tension", "base case: 0.40 kN"]
    figure.draw_without_rendering()
    for axes in panels:
        boxes = [label.get_window_extent() for label in axes.get_xticklabels() if label.get_text()]
        assert all(left.x1 < right.x0 for left, right in pairwise(boxes))
    assert drawing.SMALL_PRINT in figure.get_supxlabel() and "standard mesh" in figure.get_supxlabel()


@pytest.mark.slow
def test_a_strip_says_what_its_cases_have_in_common(
    solved: tuple[Outcome, Solution, Path], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Titles do not overlap, whatever the key; what varies is not said of all."""
    outcome, _, folder = solved
    folders = []
    for number, key in enumerate(("ice.column_tilt_deg", "ice.pore_scheme", "crust.confinement_slope")):
        case = outcome.case | {"ice.column_tilt_deg": 30.0 * number, "tube.metal": "titanium_alloy"}
        long = {"onset_place": "12 mm below the surface, all round the tube", "case": case, "crust": None}
        folders.append(tmp_path / key)
        folders[-1].mkdir()
        (folders[-1] / "outcome.json").write_text(json.dumps(changed(outcome, **long).to_dict()))
        (folders[-1] / "fields.vtu").symlink_to(folder / "fields.vtu")
    drawn: list[Any] = []
    monkeypatch.setattr(figures, "save", lambda figure, path: drawn.append(figure))
    for key in SHOWN:
        figures.stress_strip(folders, key, tmp_path / "strip.png")
    assert len(drawn) == len(SHOWN)
    for figure in drawn:
        figure.draw_without_rendering()
        titles = [axes.title.get_window_extent() for axes in figure.axes[:3]]
        assert all(axes.get_title() for axes in figure.axes[:9])
        assert all(left.x1 < right.x0 for left, right in pairwise(titles))
        common = figure.get_supxlabel()
        assert "titanium alloy" in common and "columns" not in common and "head away" in common
        assert drawing.wrapped(casewords.case_words(outcome.case, but=("numerics.level",)), figure, 8)[:40] in common
    assert [axes.get_title().split("\n")[0] for axes in drawn[0].axes[:3]] == [
        "columns 0°",
        "columns 30°",
        "columns 60°",
    ]


SHOWN = ("ice.column_tilt_deg", "placement.angle_deg", "crust.pore_scheme", "pull.direction_deg")


@pytest.mark.parametrize(
    ("part", "axis", "words"),
    [
        ("ice", [0.6, 0.0, 0.8], "lines: columns"),
        ("crust", [-0.6, 0.0, 0.8], "lines: columns"),
        ("ice", [0, 1, 0], "dots"),
    ],
)
def test_columns_are_drawn_along_their_axis_in_their_layer(
    solved: tuple[Outcome, Solution, Path],
    part: str,
    axis: list[float],
    words: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Lines run along the axis of the record, below the crust or in it; isotropic ice has none."""
    outcome, _, folder = solved
    drawn: list[Any] = []
    monkeypatch.setattr(figures, "save", lambda figure, path: drawn.append(figure))
    plain = changed(outcome, ice={"column_axis": None}, crust={"column_axis": None})
    figures.stress_picture(plain, folder / "fields.vtu", folder / "unused.png")
    figures.stress_picture(
        changed(plain, **{part: {"column_axis": axis}}), folder / "fields.vtu", folder / "unused.png"
    )
    for axes, before in zip(drawn[1].axes[:2], drawn[0].axes[:2], strict=True):
        lines = [line for line in axes.lines if line.get_color() == drawing.COLUMNS and line.get_xydata().size]
        assert len(lines) > 10 and not [line for line in before.lines if line.get_color() == drawing.COLUMNS]
        assert axes.axis() == before.axis() and any(text.get_text().startswith(words) for text in axes.texts)
        _, z = np.concatenate([line.get_xydata() for line in lines]).T
        assert (z > -10.0).all() if part == "crust" else (z < -10.0).all()
        for line in lines:
            step = np.diff(line.get_xydata(), axis=0)
            if axis[1] == 0:
                assert np.allclose(step[:, 0] * axis[2], step[:, 1] * axis[0])
            assert line.get_clip_path() is not None


def test_the_loading_time_stands_on_a_logarithmic_axis(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In both pictures of studies, with ticks written out; other numbers stay on a linear one."""
    times, crusts = onsets("ice.load_time_s", {0.1: 0.3, 10.0: 0.4, 1000.0: 0.5}), onsets("ice.crust_mm", {0.0: 0.4})
    figure = sweepfigures.series_panels([times, crusts], settings_from({}), "an invented study")
    assert [axes.get_xscale() for axes in figure.axes[:2]] == ["log", "linear"]
    figure.draw_without_rendering()
    assert {"0.1", "10", "1000"} <= {label.get_text() for label in figure.axes[0].get_xticklabels()}
    drawn: list[Any] = []
    monkeypatch.setattr(figures, "save", lambda figure, path: drawn.append(figure))
    for key, records in (times, crusts):
        figures.sweep_figure(records, key, "an invented study", tmp_path / "unused.png")
    assert [{axes.get_xscale() for axes in figure.axes} for figure in drawn] == [{"log"}, {"linear"}]
    assert "sound glacier ice" in drawn[0].get_supxlabel() and "loaded in" not in drawn[0].get_supxlabel()
    assert {axes.get_xlabel() for axes in drawn[0].axes} == {"time from no load to failure [s]"}
    for figure in drawn:
        onset, _, mouth, compliance = figure.axes
        for axes in (onset, mouth, compliance):
            largest = max(max(line.get_ydata()) for line in axes.lines)
            assert axes.get_ylim()[0] == 0 and axes.get_ylim()[1] > 1.05 * largest, "no marker is cut"


def test_pictures_of_one_series_and_of_several_are_written(tmp_path: Path) -> None:
    """Neither is a blank sheet; words in one series are markers without a line between them."""
    kinds, crusts = onsets("ice.kind", {"a_b": 0.4, "c": 0.3}), onsets("ice.crust_mm", {0.0: 0.4, 5.0: 0.3})
    sweepfigures.series_figure([kinds, crusts], settings_from({}), "an invented study", tmp_path / "several.png")
    figures.sweep_figure(kinds[1], kinds[0], "an invented study", tmp_path / "one.png")
    for name in ("several.png", "one.png"):
        assert 0.005 < (imread(tmp_path / name)[..., 0] < 0.5).mean() < 0.5
    assert drawing.places(kinds[1], "ice.kind") == (["a b", "c"], "")
    assert drawing.places(crusts[1], "ice.crust_mm") == ([0.0, 5.0], "-")
