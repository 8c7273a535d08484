"""A new mode is one record, a new model is one record: both are then drawn, named, tabled and told."""

from __future__ import annotations

import io
import re
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from rich.console import Console
from studystub import install, made_up_record, peak_record

from icecone.fem.tube.modes import BEAM, MODES, Mode
from icecone.fem.tube.peak import case_without
from icecone.studies.case.file import CaseError, settings_from, to_case
from icecone.studies.command.screen import print_outcome, print_study
from icecone.studies.field.compare import pair_of
from icecone.studies.field.predict import Prediction
from icecone.studies.field.table import Row
from icecone.studies.figures import grid, peak, series, tube_front
from icecone.studies.outcome.models import MODELS, Quantity, asked
from icecone.studies.sweep.run import run_study
from icecone.studies.sweep.study import read_study
from icecone.studies.words.answer import peak_words
from icecone.studies.words.comparison import row_cells
from icecone.studies.words.peak import explain_peaks

TOP = Path(__file__).resolve().parents[3]
ANGLE, WALL = "placement.angle_deg", "tube.wall_mm"
HUM = Mode(
    "hums", "the tube hums", "#123456", "#abcdef", "p", (BEAM,), lambda case, laws: (replace(case, crust=1.0), laws)
)


def colours_and_markers(figure: Figure) -> tuple[set[str], set[Any]]:
    lines = [line for axes in figure.axes for line in axes.lines]
    patches = [patch for axes in figure.axes for patch in axes.patches]
    colours = {to_hex(line.get_color()) for line in lines} | {to_hex(patch.get_facecolor()) for patch in patches}
    return colours, {line.get_marker() for line in lines}


def legend_of(figure: Figure) -> str:
    legends = [*figure.legends, *(axes.get_legend() for axes in figure.axes)]
    return " ".join(text.get_text() for legend in legends if legend for text in legend.get_texts())


def test_a_mode_in_one_place_is_drawn_and_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """In its own colour and marker in pictures of peaks, by its name in words and comparisons; and it is barred."""
    monkeypatch.setitem(MODES, HUM.name, HUM)
    outcomes = [
        peak_record(load, mode, placement__angle_deg=angle, tube__wall_mm=wall)
        for angle, load, mode in ((-10, 4.0, "hums"), (10, 5.0, "cone"))
        for wall in (1, 2)
    ]
    drawn: list[Figure] = []
    for module in (grid, peak, series, tube_front):
        monkeypatch.setattr(module, "save", lambda figure, path: drawn.append(figure))
    words = [
        grid.draw_map(outcomes, (ANGLE, WALL), "t", tmp_path),
        grid.draw_lines(outcomes, (ANGLE, WALL), "t", tmp_path),
        tube_front.draw_front(outcomes, (WALL, ANGLE), "t", tmp_path),
        explain_peaks(outcomes[::2], ANGLE),
        peak_words(outcomes[0]),
        row_cells(pair_of(Prediction(Row("a", 2), {}, plain={"peak_kN": 4.0, "peak_mode": "hums"}), "peak"))[-1],
    ]
    peak.peaks_by_key(outcomes[::2], ANGLE, "t", tmp_path)
    series.series_figure([(ANGLE, outcomes[::2])], settings_from({}), "t", tmp_path)
    assert all("hums" in text for text in words)
    assert len(drawn) == 5 and all("hums" in legend_of(figure) for figure in drawn)
    for figure, colour, marker in zip(drawn, (HUM.pale, None, HUM.colour, HUM.colour, None), "-pppp", strict=True):
        colours, markers = colours_and_markers(figure)
        assert (colour is None or colour in colours) and (marker == "-" or marker in markers)
    case = to_case(settings_from({}))
    assert case_without("hums", case, None) == (replace(case, crust=1.0), None)  # type: ignore[arg-type]


def test_colours_stand_in_two_places() -> None:
    """Those of modes with their records, all others in the pictures' style."""
    rooms = [path for room in ("fem", "studies") for path in (TOP / room).rglob("*.py")]
    coloured = {path.name for path in rooms if re.search(r'"(#[0-9a-fA-F]{6}|tab:\w+)"', path.read_text())}
    assert coloured == {"modes.py", "style.py"}


def hum_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """A made-up model, its functions in a module of its own."""
    module = ModuleType("hum")

    def picture(*arguments: Any) -> None:
        Path(arguments[-1]).write_bytes(b"hum")

    told = {"words": lambda outcomes, key: f"{len(outcomes)} of them hum.", "rows": lambda outcome: [("hum (Hz)", 440)]}
    vars(module).update(solve=lambda case, say, own: {"limit_kN": 3.0, "limit_mode": "hums"}, picture=picture, **told)
    monkeypatch.setitem(sys.modules, "hum", module)
    model = replace(
        MODELS["onset"],
        name="hum",
        words="how it hums",
        quantity=Quantity("hum", lambda outcome: outcome.limit_kN, lambda outcome: outcome.limit_mode, "hum: {}"),
        solve="hum:solve",
        pictures=(("hum.png", "hum:picture"),),
        study_picture="hum:picture",
        study_words=("hum:words",),
        series="hum:words",
        rows="hum:rows",
        columns=("limit_kN", "limit_mode"),
        shown={"limit_kN": "hum limit (kN)"},
    )
    monkeypatch.setitem(MODELS, "hum", model)


def test_a_model_in_one_place_is_solved_drawn_and_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=r"numerics\.model"):
        settings_from({"numerics.model": "hum"})
    hum_model(monkeypatch)
    install(
        lambda name, module: monkeypatch.setitem(sys.modules, name, module),
        lambda settings: made_up_record(settings, model="hum", limit_kN=3.0, limit_mode="hums"),
    )
    path = tmp_path / "study.toml"
    path.write_text(
        '[study]\ntitle = "t"\nquestion = "q"\n[case.numerics]\nmodel = "hum"\n'
        f'[vary]\nkey = "{ANGLE}"\nvalues = [0, 10]\n'
    )
    study = read_study(path)
    out = io.StringIO()
    screen = Console(file=out, width=120, color_system=None)
    done = run_study(study, tmp_path / "out", screen)
    print_study(screen, study, done)
    print_outcome(screen, done[0].outcome)  # type: ignore[arg-type]
    assert (tmp_path / "out" / "sweep.png").read_bytes() == b"hum"
    assert "2 of them hum." in (tmp_path / "out" / "why.txt").read_text()
    assert (tmp_path / "out" / "table.csv").read_text().startswith(f"{ANGLE},limit_kN,limit_mode,onset_kN")
    assert all(words in out.getvalue() for words in ("hum limit (kN)", "limit 3.0 kN: hums", "hum (Hz)", "440"))
    assert asked([case.outcome for case in done if case.outcome]).name == "hum"


@pytest.mark.slow
def test_a_model_in_one_place_leaves_its_files(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Through the solver itself, at the quick level."""
    from icecone.studies.files.solution import write_solution
    from icecone.studies.outcome.models import solve_settings

    hum_model(monkeypatch)
    given = {"numerics.model": "hum", "numerics.level": "quick", "placement.embedment_mm": 40}
    outcome, solution = solve_settings(settings_from(given))
    assert (outcome.model, outcome.limit_mode, outcome.peak_kN) == ("hum", "hums", None)
    write_solution(outcome, solution, tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == set(MODELS["hum"].files)
    assert (tmp_path / "hum.png").read_bytes() == b"hum"
