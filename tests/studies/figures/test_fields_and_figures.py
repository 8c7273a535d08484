"""Files and pictures of one solved case: fields as another program reads them, words that follow the numbers."""

from __future__ import annotations

import json
from itertools import pairwise
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.image import imread
from scipy.integrate import simpson
from studystub import changed, made_up_record

from icecone.fem.onset.fields import contact_pressure, node_fields, vtk_order
from icecone.fem.onset.solve import Solution
from icecone.studies.case import words as casewords
from icecone.studies.case.file import settings_from
from icecone.studies.case.keys import KEYS
from icecone.studies.command.screen import console, print_study
from icecone.studies.figures import series as sweepfigures
from icecone.studies.figures import stress as figures
from icecone.studies.figures import style as drawing
from icecone.studies.figures.cuts import cut, read_fields
from icecone.studies.files.solution import write_solution
from icecone.studies.outcome.cautions import CAUTION
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.models import solve_settings
from icecone.studies.sweep.runner import Done, Job
from icecone.studies.sweep.study import Series, Study
from icecone.studies.words import onset as why


@pytest.fixture(scope="module")
def solved(tmp_path_factory: pytest.TempPathFactory) -> tuple[Outcome, Solution, Path]:
    settings = settings_from(
        {"numerics.level": "quick", "placement.angle_deg": -15.0, "placement.embedment_mm": 60.0, "ice.crust_mm": 10.0}
    )
    outcome, solution = solve_settings(settings)
    folder = tmp_path_factory.mktemp("case")
    write_solution(outcome, solution, folder)
    return outcome, solution, folder


def test_another_reader_finds_the_same_volume_and_fields(solved: tuple[Outcome, Solution, Path]) -> None:
    """VTK, an independent reader, measures the tube's volume in the file: the pipe's closed form, within 1 %."""
    pyvista = pytest.importorskip("pyvista")
    _, solution, folder = solved
    grid = pyvista.read(folder / "fields.vtu")
    assert set(np.unique(grid.celltypes)) == {29}  # triquadratic hexahedra
    tube = grid.extract_cells(np.flatnonzero(grid.cell_data["region"] == 2))
    measured = tube.compute_cell_sizes(length=False, area=False)["Volume"].sum()
    case = solution.case.tube
    exact = 0.5 * pi * (case.radius**2 - case.bore**2) * case.length * 1e9
    assert measured == pytest.approx(exact, rel=0.01)
    for name, values in node_fields(solution).items():
        assert np.allclose(grid.point_data[name], values)


def test_vtk_order_is_a_permutation() -> None:
    """Each of the 27 nodes once."""
    assert sorted(vtk_order()) == list(range(27))


def pressure_error(level: str) -> float:
    """Relative error of the contact pressure's integral over the hole against the sum of the nodal contact forces."""
    _, solution = solve_settings(settings_from({"numerics.level": level, "placement.embedment_mm": 40.0}))
    model, pressure = solution.model, contact_pressure(solution)
    assert pressure.min() >= 0.0
    xi, eta, s = model.straight[:, model.pairs[0]]
    phi = np.arctan2(eta, xi)
    order = np.lexsort((phi, np.round(s, 9)))
    rows = np.unique(np.round(s, 9)).size
    grid_s, grid_phi, p = (value[order].reshape(rows, -1) for value in (s, phi, pressure))
    along = simpson(p, x=grid_phi, axis=1) * solution.case.tube.radius
    force = float(simpson(along, x=grid_s[:, 0]))
    nodal = float(solution.contact.force.sum())
    return abs(force / nodal - 1)


@pytest.mark.slow
def test_contact_pressure_carries_the_contact_force() -> None:
    """The pressure recovered from the ice's stress, integrated over the hole, tends to the nodal contact forces.

    Two independent results of one solve (upright tube): the error falls from `quick` to `standard`, to under 5 %.
    """
    coarse, fine = pressure_error("quick"), pressure_error("standard")
    assert fine < coarse and fine < 0.05


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
    """stress.png is no blank sheet (red and blue both appear); outcome.json holds the outcome and the caution."""
    outcome, _, folder = solved
    image = imread(folder / "stress.png")[..., :3]
    red, blue = image[..., 0] - image[..., 2], image[..., 2] - image[..., 0]
    assert (red > 0.5).mean() > 0.001 and (blue > 0.3).mean() > 0.001
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
    assert drawing.SMALL_PRINT in figure.get_supxlabel() and "[standard]" in figure.get_supxlabel()


def test_every_key_has_words_on_an_axis_and_in_a_line() -> None:
    """Axis words carry the key's unit; short ones fit a panel's title and tell the keys apart."""
    assert set(casewords.AXIS_WORDS) == set(KEYS)
    lines = {name: casewords.short_words(name, key.low or key.default) for name, key in KEYS.items()}
    for name, key in KEYS.items():
        words = casewords.AXIS_WORDS[name]
        assert (f"[{key.unit}]" in words) == bool(key.unit) and "_" not in words.replace("K_IC", "")
        assert 3 < len(lines[name]) < 45 and "_" not in lines[name].replace("K_IC", "")
    assert len(set(lines.values())) == len(KEYS) == len(set(casewords.AXIS_WORDS.values()))
    assert casewords.AXIS_WORDS["ice.tensile_MPa"] == "tensile strength of the ice [MPa]"
    assert casewords.AXIS_WORDS["crust.porosity"] == "porosity of the crust"
    for name, value, words in (
        ("ice.column_tilt_deg", -45.0, "columns −45°"),
        ("ice.column_tilt_deg", "across", "columns across"),
        ("ice.load_time_s", 10.0, "loaded in 10 s"),
        ("ice.E_GPa", 8.0, "E 8 GPa"),
        ("crust.porosity", 0.1, "crust porosity 0.1"),
        ("crust.kind", "firn", "crust of firn"),
        ("crust.temperature_C", "as_ice", "crust at the ice's temperature"),
        ("placement.angle_deg", -10.0, "head away from the pull (−10°)"),
    ):
        assert casewords.short_words(name, value) == words


def test_a_case_in_words_names_whatever_differs_from_the_defaults() -> None:
    """Each key of a case away from its default is said, if it enters; a key that varies is left to the axis."""
    plain = settings_from({"numerics.level": "quick"})
    usual = casewords.case_words(plain)
    assert usual.endswith("sound glacier ice, at −5 °C  [quick]") and "columns" not in usual
    given = {
        "tube.metal": "titanium_alloy",
        "ice.criterion": "parabolic",
        "ice.load_time_s": 100.0,
        "ice.temperature_C": -12.0,
        "ice.tensile_MPa": 0.8,
        "ice.column_tilt_deg": 40.0,
        "ice.crust_mm": 20.0,
        "crust.kind": "firn",
        "crust.porosity": 0.3,
        "tube.eye_mm": 12.0,
    }
    for name, value in given.items():
        case = plain | {"ice.crust_mm": 20.0, name: value}
        columnar = made_up_record({}, ice={"column_axis": [0.6, 0.0, 0.8]})
        words = casewords.short_words(name, value)
        assert words not in usual
        assert words in casewords.case_words(case, columnar).split("  [")[0].split(", "), name
        assert words not in casewords.case_words(case, columnar, but={name})
    isotropic = made_up_record({})
    assert "columns" not in casewords.case_words(plain | {"ice.column_tilt_deg": 40.0}, isotropic)
    assert "firn" not in casewords.case_words(plain | {"crust.kind": "firn"}), "no crust"


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
        titles = [axes.title.get_window_extent() for axes in figure.axes if axes.get_title()]
        assert len(titles) == 3 and all(left.x1 < right.x0 for left, right in pairwise(titles))
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
        lines = [line for line in axes.lines if line.get_color() == figures.COLUMNS and line.get_xydata().size]
        assert len(lines) > 10 and not [line for line in before.lines if line.get_color() == figures.COLUMNS]
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


def test_a_study_prints_its_values_as_they_were_given(capsys: pytest.CaptureFixture[str]) -> None:
    """3600 and not 3.6e+03; two values that differ in the fourth digit stay apart."""
    jobs = tuple(
        Job(f"{value:g}", settings_from({"ice.load_time_s": value})) for value in (3600.0, 1234.5, 999.9, 0.01)
    )
    done = [Done(job, made_up_record(job.settings, onset_kN=999.9), "") for job in jobs]
    print_study(console(), Study("title", "question", (Series("ice.load_time_s", jobs),)), done)
    text = capsys.readouterr().out
    assert "e+" not in text and {"3600", "1234.5", "999.9", "0.01", "1000"} <= set(text.split())


def test_pictures_of_one_series_and_of_several_are_written(tmp_path: Path) -> None:
    """Neither is a blank sheet; words in one series are markers without a line between them."""
    kinds, crusts = onsets("ice.kind", {"a_b": 0.4, "c": 0.3}), onsets("ice.crust_mm", {0.0: 0.4, 5.0: 0.3})
    sweepfigures.series_figure([kinds, crusts], settings_from({}), "an invented study", tmp_path / "several.png")
    figures.sweep_figure(kinds[1], kinds[0], "an invented study", tmp_path / "one.png")
    for name in ("several.png", "one.png"):
        assert 0.005 < (imread(tmp_path / name)[..., 0] < 0.5).mean() < 0.5
    assert drawing.places(kinds[1], "ice.kind") == (["a b", "c"], "")
    assert drawing.places(crusts[1], "ice.crust_mm") == ([0.0, 5.0], "-")


def made_up(angle: float, onset: float, tension: float, **more: float) -> Outcome:
    """A made-up outcome for the words; `more` of its case, with two underscores for a dot."""
    case = {"placement.angle_deg": angle, "pull.direction_deg": 0.0}
    case |= {name.replace("__", "."): value for name, value in more.items()}
    return made_up_record(
        case, onset_kN=onset, mouth_tension_MPa_per_kN=tension, onset_place="at the mouth, in front of the tube"
    )


def test_the_words_follow_the_numbers() -> None:
    """A rising onset is called rising and explained by the wedge; a falling one is not."""
    usual = [made_up(-20, 0.2, 6.0), made_up(0, 0.4, 3.0), made_up(20, 0.7, 1.5)]
    text = why.explain(usual, "placement.angle_deg")
    assert "rises at every step" in text and "wedge" in text and "0.20 kN" in text and "0.70 kN" in text
    contrary = [made_up(-20, 0.7, 1.5), made_up(0, 0.4, 3.0), made_up(20, 0.2, 6.0)]
    text = why.explain(contrary, "placement.angle_deg")
    assert "does not rise" in text and "wedge" not in text


def test_no_lean_is_claimed_that_was_not_run() -> None:
    """A sweep that leans one way only, or that is pulled straight out, is not told as away against toward."""
    one_way = [made_up(angle, onset, 2.0) for angle, onset in ((10, 0.5), (20, 0.6), (30, 0.7))]
    out = {"pull__direction_deg": 90.0}
    straight = [made_up(-20, 0.2, 6.0, **out), made_up(0, 0.4, 3.0, **out), made_up(20, 0.7, 1.5, **out)]
    for records in (one_way, straight):
        text = why.explain(records, "placement.angle_deg")
        assert "away" not in text and "wedge" not in text and "not a higher peak" in text


def test_the_words_for_any_key_name_least_and_most() -> None:
    """For another key the paragraph gives the range and the factor."""
    records = [made_up(0, load, 1.0, placement__embedment_mm=depth) for load, depth in ((0.2, 40), (0.5, 80))]
    text = why.explain(records, "placement.embedment_mm")
    assert "at 0.2 kN" in text and "to 0.5 kN" in text and "a factor of 2.5." in text


def test_a_straight_pull_breaks_all_round() -> None:
    """Pulled along its own axis an upright tube has no front: no side is named (symmetry)."""
    outcome, _ = solve_settings(
        settings_from({"numerics.level": "quick", "pull.direction_deg": 90.0, "placement.embedment_mm": 50.0})
    )
    assert outcome.onset.place.endswith("all round the tube")
