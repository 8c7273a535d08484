"""Studies of every combination of keys: read and checked, tabled, drawn as lines, map and front, told in words."""

from __future__ import annotations

import csv
import sys
from math import pi
from pathlib import Path
from typing import Any

import pytest
from matplotlib.figure import Figure
from rich.console import Console
from studystub import changed, install, made_up_record, peak_record

from icecone.studies.case.file import CaseError, settings_from
from icecone.studies.case.mass import tube_mass
from icecone.studies.command.main import print_study
from icecone.studies.figures import grid as gridfigures
from icecone.studies.figures import tube_front as frontfigures
from icecone.studies.figures.grid import draw_lines, draw_map
from icecone.studies.figures.tube_front import draw_front, front, worthwhile
from icecone.studies.outcome.cautions import PULL_CAUTION
from icecone.studies.outcome.data import Outcome, known
from icecone.studies.sweep.run import run_study
from icecone.studies.sweep.study import read_study

GRID = """
[study]
title = "an invented grid"
question = "does every corner count?"
picture = "map"
[case.tube]
length_mm = 120
[grid.placement]
angle_deg = [-20, 20]
embedment_mm = [50, 100, 90]
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "study.toml"
    path.write_text(text)
    return path


def test_a_grid_is_every_combination(tmp_path: Path) -> None:
    study = read_study(written(tmp_path, GRID), "quick")
    keys = ("placement.angle_deg", "placement.embedment_mm")
    assert study.grid == keys and study.picture == "map" and study.base is None
    at = [tuple(job.settings[key] for key in keys) for job in study.jobs]
    assert at == [(a, e) for a in (-20, 20) for e in (50, 100, 90)]
    assert all(job.settings["tube.length_mm"] == 120 for job in study.jobs)
    assert study.jobs[1].name == "placement.angle_deg = -20, placement.embedment_mm = 100"


@pytest.mark.parametrize(
    ("old", "new", "line", "message"),
    [
        ('picture = "map"', 'picture = "pie"', 5, "study.picture = 'pie': must be one of lines, map, front"),
        ('picture = "map"\n', "", 2, "study.picture: missing: must be a text in quotes"),
        ("[-20, 20]", "[-20, 60]", 9, "placement.angle_deg = 60: must be a number between -45 and 45"),
        ("[-20, 20]", "[]", 9, "grid.placement.angle_deg = []: must be a list of one value or more, none twice"),
        ("[-20, 20]", "20", 9, "grid.placement.angle_deg = 20: must be a list of one value or more, none twice"),
        ("[-20, 20]", "[5, 5.0]", 9, "grid.placement.angle_deg = [5, 5.0]: must be a list of one value or more"),
        ("angle_deg = [-20, 20]\n", "", 8, "[grid]: must give two keys or more a list of values"),
        ("angle_deg =", "angel_deg =", 9, "placement.angel_deg = [-20, 20]: unknown key"),
        (
            "[case.tube]\nlength_mm = 120",
            "[case.placement]\nangle_deg = 1",
            7,
            "case.placement.angle_deg: must be left",
        ),
        (
            "[grid.placement]",
            '[vary]\nkey = "pull.direction_deg"\nvalues = [1]\n[grid.placement]',
            8,
            "[vary]: must be",
        ),
        (
            'picture = "map"',
            'picture = "map"\nloads = ["late"]',
            6,
            "study.loads = ['late']: must be a list of some of peak, first_drop, early, turned, largest",
        ),
        ('picture = "map"', 'picture = "map"\nloads = []', 6, "study.loads = []: must be a list of some of"),
        ("100, 90", "100, 130", 10, "placement.embedment_mm = 130: must be"),
        ('picture = "map"', 'picture = "front"', 5, "study.picture = 'front': must go with a key of the tube"),
        (
            "[case.tube]",
            '[case.numerics]\nmodel = "onset"\n[case.tube]',
            7,
            "numerics.model = 'onset': must be 'peak' where [grid] is given",
        ),
    ],
)
def test_a_wrong_grid_is_refused_with_its_line(tmp_path: Path, old: str, new: str, line: int, message: str) -> None:
    assert GRID.count(old) == 1
    path = written(tmp_path, GRID.replace(old, new))
    with pytest.raises(CaseError) as caught:
        read_study(path)
    assert str(caught.value).startswith(f"{path}:{line}: ") and message in str(caught.value), str(caught.value)


@pytest.mark.parametrize("draw", [draw_lines, draw_map, draw_front])
def test_loads_stand_side_by_side(draw: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each with its own numbers, modes and words; the peak alone has no name before its words."""
    keys = ("tube.wall_mm", "placement.angle_deg")
    records = [
        changed(
            peak_record(10.0 * wall, "cone", tube__wall_mm=wall, placement__angle_deg=angle),
            early_kN=3.0 * wall,
            early_mode="lever-out",
        )
        for wall in (1, 2)
        for angle in (0, 20)
    ]
    drawn: list[Figure] = []
    for module in (gridfigures, frontfigures):
        monkeypatch.setattr(module, "save", lambda figure, path: drawn.append(figure))
    both = draw(records, keys, "invented", tmp_path / "both.png", ("peak", "early"))
    alone = draw(records, keys, "invented", tmp_path / "alone.png")
    assert len(drawn[0].axes) == 2 * len(drawn[1].axes)
    assert "lever-out" in both and "lever-out" not in alone
    assert all(load in both for load in ("20.0 kN", "6.0 kN")) and "6.0 kN" not in alone
    assert "early load" in both and "early load" not in alone


def test_a_picture_needs_a_grid(tmp_path: Path) -> None:
    text = GRID.partition("[grid")[0] + '[vary]\nkey = "placement.angle_deg"\nvalues = [0, 1]\n'
    with pytest.raises(CaseError, match=r"study.toml:5: study.picture = 'map': must go with \[grid\]"):
        read_study(written(tmp_path, text))


def test_a_grid_is_solved_tabled_and_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(settings: dict[str, Any]) -> Outcome:
        return made_up_record(settings, peak={"rivals": []})

    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), solve)
    text = GRID.replace("an invented grid", "an invented grid [kN]")
    study, out = read_study(written(tmp_path, text)), tmp_path / "out"
    with (tmp_path / "said").open("w") as said:
        done = run_study(study, out, Console(file=said))
    with (out / "table.csv").open(newline="") as handle:
        rows = list(csv.DictReader(handle))
    columns = ["placement.angle_deg", "placement.embedment_mm", "limit_kN", "limit_mode", "peak_kN"]
    assert list(rows[0])[:5] == columns and len(rows) == 6
    assert [(float(row["placement.angle_deg"]), float(row["placement.embedment_mm"])) for row in rows][:2] == [
        (-20, 50),
        (-20, 100),
    ]
    assert (out / "sweep.png").read_bytes()[:4] == b"\x89PNG"
    words = (out / "why.txt").read_text()
    assert "Of 6 placements: cone in 6." in words and PULL_CAUTION in words
    screen = Console(record=True, file=(tmp_path / "printed").open("w"), width=220)
    print_study(screen, study, done)
    shown = screen.export_text()
    assert "placement.embedment_mm" in shown and "an invented grid [kN]" in shown


def test_words_name_ends_modes_and_the_factor_of_a_pair(tmp_path: Path) -> None:
    """Tied off it holds 6 / 2 = 3 and 9 / 6 = 1.5 times what it holds at the eye; 12 kN is above the hanger's 10."""
    at = [(40, "eye", 2.0, "lever-out"), (40, "tied_off", 6.0, "cone"), (90, "eye", 6.0, "cone")]
    records = [
        peak_record(peak, mode, placement__embedment_mm=depth, placement__attachment=attachment)
        for depth, attachment, peak, mode in [*at, (90, "tied_off", 9.0, "cone")]
    ]
    keys = ("placement.embedment_mm", "placement.attachment")
    words = draw_lines(records, keys, "invented", tmp_path / "lines.png")
    assert "2.0 kN at the least (40 mm in the ice, pulled at the eye: lever-out)" in words
    assert "9.0 kN at the most (90 mm in the ice, tied off at the ice: cone)" in words
    assert "Of 4 placements: cone in 3, lever-out in 1." in words
    assert "The ratio of tied off at the ice to pulled at the eye: from 1.5 (90 mm in the ice) to 3.0 (40 mm" in words
    strong = [changed(outcome, peak_kN=2 * known(outcome.peak_kN)) for outcome in records]
    assert "In 3 hanger or sling fails first, at its stated strength." in draw_map(
        strong, keys, "invented", tmp_path / "map.png"
    )
    assert all((tmp_path / name).stat().st_size > 5000 for name in ("lines.png", "map.png"))


@pytest.mark.parametrize(("rival", "close"), [(("tube bends", 4.3), 1), (("tube bends", 4.5), 0), (("hanger", 4.3), 0)])
def test_a_mode_with_another_close_above_it_is_told(tmp_path: Path, rival: tuple[str, float], close: int) -> None:
    """Within a tenth of 4 kN lies 4.3, not 4.5; a hanger is no mode of tube or ice."""
    records = [
        changed(outcome, peak={"rivals": [{"mode": rival[0], "load_kN": rival[1]}]})
        for outcome in [peak_record(4.0, placement__embedment_mm=50)]
    ]
    records.append(peak_record(1.0, placement__embedment_mm=60))
    words = draw_map(records, ("placement.embedment_mm", "tube.wall_mm"), "invented", tmp_path / "map.png")
    assert (f"In {close} the next mode of tube or ice lies within 10%" in words) == bool(close)
    assert ("which of the two" in words) == bool(close)


def test_the_front_is_what_no_other_beats() -> None:
    """By hand: (3, 5) is beaten by (2, 5), (4, 6) by nothing lighter; equals stand together."""
    points = [(2.0, 5.0), (3.0, 5.0), (4.0, 6.0), (1.0, 1.0), (4.0, 5.5), (2.0, 5.0)]
    assert front(points) == [0, 2, 3, 5]
    assert front([]) == []


def test_a_gain_below_a_hundredth_names_no_tube() -> None:
    """By hand: 5.04 is 0.8 % over 5; 5.08 is 1.6 % over 5 (the last one named), not 0.8 % over 5.04; equals are one."""
    points = [(3.0, 5.08), (1.0, 5.0), (2.0, 5.04), (1.0, 5.0), (4.0, 4.0)]
    assert front(points) == [0, 1, 2, 3]
    assert worthwhile(points) == [1, 0] and worthwhile([]) == []


def test_the_mass_is_that_of_tube_and_ridge() -> None:
    """Steel of 7850 kg/m3: a hollow cylinder, and 0.3 of a cylinder shell of the thread's height over the threads."""
    case = settings_from({"tube.length_mm": 160, "tube.thread_length_mm": 50, "tube.thread_height_mm": 2})
    body = pi / 4 * (0.017**2 - 0.014**2) * 0.16
    ridge = 0.3 * pi * (0.0105**2 - 0.0085**2) * 0.05
    assert tube_mass(case) == pytest.approx(7850 * (body + ridge), rel=1e-12)


def test_a_tube_counts_by_its_weakest_pull(tmp_path: Path) -> None:
    """The thick tube's straight pull is its weakest: 7 kN; the thin one's shear: 4 kN. Both are on the front."""
    pulls = [(1.0, 0, 4.0), (1.0, 90, 6.0), (2.0, 0, 9.0), (2.0, 90, 7.0)]
    records = [peak_record(peak, tube__wall_mm=wall, pull__direction_deg=direction) for wall, direction, peak in pulls]
    words = draw_front(records, ("tube.wall_mm", "pull.direction_deg"), "invented", tmp_path / "front.png")
    assert words.startswith("2 of 2 tubes on the front")
    assert "4.0 kN (cone): wall 1 mm" in words and "7.0 kN (cone): wall 2 mm" in words and PULL_CAUTION in words
    assert (tmp_path / "front.png").stat().st_size > 5000


def test_a_tube_with_an_unsolved_pull_is_left_out(tmp_path: Path) -> None:
    """The thick tube's weak pull, 7 kN, was not solved: its other one, 9 kN, is no least."""
    pulls = [(1.0, 0, 4.0), (1.0, 90, 6.0), (2.0, 0, 9.0)]
    records = [peak_record(peak, tube__wall_mm=wall, pull__direction_deg=direction) for wall, direction, peak in pulls]
    words = draw_front(records, ("tube.wall_mm", "pull.direction_deg"), "invented", tmp_path / "front.png")
    assert words.startswith("1 of 1 tube on the front") and "9.0 kN" not in words
    assert "Left out for a pull that was not solved: 1." in words


def test_the_same_case_twice_is_refused(tmp_path: Path) -> None:
    """Driven flush, a tube of 120 mm with its eye at 10 mm is 110 mm in the ice."""
    path = written(tmp_path, GRID.replace("[50, 100, 90]", '[110, "flush"]'))
    with pytest.raises(CaseError, match=r"study.toml:8: \[grid\]: must not give the same case twice: .* = 110$"):
        read_study(path)


def test_a_grid_without_a_pair_has_no_ratio(tmp_path: Path) -> None:
    """One solved at the eye at 40 mm, one tied off at 90 mm; with a pair of one depth there is one ratio, 3.0."""
    at = [(40, "eye", 2.0), (90, "tied_off", 9.0), (40, "tied_off", 6.0)]
    records = [
        peak_record(peak, placement__embedment_mm=depth, placement__attachment=attachment)
        for depth, attachment, peak in at
    ]
    keys = ("placement.embedment_mm", "placement.attachment")
    words = draw_lines(records[:2], keys, "invented", tmp_path / "lines.png")
    assert "The ratio" not in words and "Of 2 placements: cone in 2." in words
    words = draw_map(records, keys, "invented", tmp_path / "map.png")
    assert "The ratio of tied off at the ice to pulled at the eye: 3.0 (40 mm in the ice)." in words


def test_equal_ratios_at_words_and_numbers_are_told(tmp_path: Path) -> None:
    """Friction 0.2 and a fixed sling: twice as much both times."""
    records = [
        peak_record(peak, placement__attachment="tied_off", placement__sling_friction=friction, tube__wall_mm=wall)
        for friction in ("fixed", 0.2)
        for wall, peak in ((1, 2.0), (2, 4.0))
    ]
    words = draw_map(records, ("placement.sling_friction", "tube.wall_mm"), "invented", tmp_path / "map.png")
    assert "from 2.0 (" in words and "to 2.0 (" in words


def test_lines_of_a_grid_show_the_band_of_each_peak() -> None:
    """From every chip out to none; not where nobody could tell the bands of many lines apart."""
    keys = ("placement.embedment_mm", "placement.angle_deg")

    def drawn(angles: range) -> tuple[list[list[float]], bool]:
        outcomes = [
            changed(
                peak_record(8.0, placement__angle_deg=angle, placement__embedment_mm=depth),
                peak={"band": {"goes": {"peak": 4.0}, "stays": {"peak": 12.0}}},
            )
            for angle in angles
            for depth in (70, 100)
        ]
        figure = gridfigures.lines_figure(outcomes, keys, "title", None)
        bars = [bar for each in figure.axes[0].collections for bar in each.get_segments()]
        told = [text.get_text() for text in figure.legends[0].get_texts()]
        assert figure.axes[0].get_ylim()[1] > 12 or not bars
        return [[float(y) for y in bar[:, 1]] for bar in bars], any("every chip" in words for words in told)

    assert drawn(range(2)) == ([[4.0, 12.0]] * 4, True)
    assert drawn(range(5)) == ([], False)


def test_lines_of_a_grid_keep_their_look_whatever_failed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """In each panel a value of the second key has its own colour, and values of the first stand in order."""
    at = [(90, "eye", 0), (50, "eye", 0), (50, "tied_off", 0), (50, "tied_off", 90)]
    records = [
        peak_record(1.0, placement__embedment_mm=depth, placement__attachment=where, pull__direction_deg=pull)
        for depth, where, pull in at
    ]
    drawn: list[Any] = []
    monkeypatch.setattr(gridfigures, "save", lambda figure, path: drawn.append(figure))
    keys = ("placement.embedment_mm", "placement.attachment", "pull.direction_deg")
    draw_lines(records, keys, "invented", tmp_path / "unused.png")
    both, tied = ([line for line in axes.lines if line.get_linestyle() != "None"] for axes in drawn[0].axes)
    colours = {text.get_text(): line.get_color() for text, line in zip(*legend_of(drawn[0]), strict=True)}
    assert [line.get_xdata().tolist() for line in both if line.get_color() == colours["pulled at the eye"]] == [
        [50, 90]
    ]
    assert {line.get_color() for line in tied if line.get_xdata().size} == {colours["tied off at the ice"]}


def legend_of(figure: Any) -> tuple[list[Any], list[Any]]:
    (legend,) = figure.legends
    return legend.get_texts()[:2], legend.get_lines()[:2]
