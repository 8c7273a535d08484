"""Both routes side by side: the table says what the records hold, nothing is pulled twice, a picture is left."""

from __future__ import annotations

import csv
from functools import wraps
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from icecone.fem.errors import SolveError
from icecone.fem.laws.recipes import RECIPES, Inputs, Law
from icecone.studies.command.main import main
from icecone.studies.files.laws import file_name, kept_law
from icecone.studies.files.store import read_any, write_record
from icecone.studies.validating import both_routes, two_routes
from icecone.studies.validating.both_routes import CASES, early_loads
from icecone.studies.validating.routes_figure import draw_routes
from icecone.studies.validating.two_routes import run_routes
from icecone.validation.discrete_cracks.pull import CrackPull

TRAVEL = np.array([0.0, 1e-3, 2e-3])
NAMES = list(CASES)[:2]


@pytest.fixture
def pulled(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Routes that give 10 and 12 kN at once and draw nothing; the ways that the second was asked to go [m]."""
    asked: list[float] = []
    event = SimpleNamespace(name="peak", displacement=0.04)
    load = np.array([0.0, 1e4, 5e3])
    first = SimpleNamespace(peak=1e4, mode="cone", first_hinge=None, events=(event,), displacement=TRAVEL, load=load)

    def second(case: object, farthest: float) -> CrackPull:
        asked.append(farthest)
        events = ((1e-3, 8e3, "chip from 20 mm slides out"),)
        return CrackPull(TRAVEL, 1.2 * load, 1.2e4, "tube bends", 7e3, events, ((1e-3, 0.02, 1), (2e-3, 0.01, 1)))

    monkeypatch.setattr(both_routes, "peak_laws", lambda case, keep: None)
    monkeypatch.setattr(both_routes, "solve_peak", lambda case, laws: SimpleNamespace(pull=first))
    monkeypatch.setattr(both_routes, "least_pull", second)
    monkeypatch.setattr(two_routes, "draw_routes", lambda records, path: path.write_bytes(b"picture"))
    return asked


def run(folder: Path, said: list[str] | None = None) -> list[dict[str, Any]]:
    return run_routes(NAMES, folder, (said if said is not None else []).append, lambda name: None)


def test_a_table_and_a_picture_of_what_both_gave(pulled: list[float], tmp_path: Path) -> None:
    draw_routes(run(tmp_path), tmp_path / "drawn.png")
    with (tmp_path / "table.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["case"] for row in rows] == NAMES
    assert (rows[0]["first_kN"], rows[0]["second_kN"], rows[0]["ratio"]) == ("10", "12", "1.2")
    assert (rows[0]["first_early_kN"], rows[0]["second_first_drop_kN"]) == ("10", "12")
    assert (rows[0]["gone_mm"], rows[0]["gone_behind_mm"]) == ("20", "0")
    assert (rows[0]["first_mode"], rows[0]["second_mode"], rows[0]["second_hinge_kN"]) == ("cone", "tube bends", "7")
    assert (tmp_path / "drawn.png").stat().st_size > 10_000 and (tmp_path / "routes.png").read_bytes() == b"picture"
    assert pulled == [pytest.approx(1.25 * 0.04)] * 2


def test_what_is_kept_is_not_pulled_again_and_what_is_damaged_is(pulled: list[float], tmp_path: Path) -> None:
    run(tmp_path)
    run(tmp_path)
    assert len(pulled) == 2
    file = tmp_path / "cases" / "01.json"
    file.write_text(file.read_text(encoding="utf-8")[:-9], encoding="utf-8")
    said: list[str] = []
    run(tmp_path, said)
    assert len(pulled) == 3 and "again" in said[0]


def test_what_rests_on_another_law_is_pulled_again(
    pulled: list[float], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first route's laws are named by digest; the one kept now is another."""
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path / "laws"))
    stiffness = [1.0]

    @wraps(RECIPES["wall"])  # of its code
    def recipe(inputs: Inputs) -> Law:
        return {"k": list(stiffness)}

    monkeypatch.setattr(both_routes, "peak_laws", lambda case, keep: keep("trial", {"a": 1.0}, recipe))
    file = tmp_path / "laws" / file_name("trial", {"a": 1.0})
    out, said = tmp_path / "out", list[str]()
    assert [list(record["laws"]) for record in run(out)] == [[file.name]] * 2
    run(out)
    assert len(pulled) == 2
    file.unlink()
    stiffness[0] = 2.0
    kept_law("trial", {"a": 1.0}, recipe)
    run(out, said)
    assert len(pulled) == 4 and "is another one now" in said[0]


def test_early_loads_hang_on_no_stop() -> None:
    """A saw-tooth: the first fall by 5 % is from its second tooth; within a diameter the third is the largest."""
    load = 1e3 * np.array([0.0, 2.0, 1.95, 3.0, 2.0, 4.0, 5.0])
    found = early_loads(5e-3 * np.arange(7), load, 0.026)
    assert found == {"early_kN": 4.0, "first_drop_kN": 3.0}
    assert early_loads(TRAVEL, np.array([0.0, 1e3, 2e3]), 0.017)["first_drop_kN"] == 2.0


@pytest.mark.parametrize(
    "wrong", [{"first": None}, {"second": {}}, {"laws": []}, {"name": 1}, {"case": "x"}, {"first": {"peak_kN": "1"}}]
)
def test_a_signed_record_without_what_is_read_is_pulled_again(
    pulled: list[float], tmp_path: Path, wrong: dict[str, Any]
) -> None:
    run(tmp_path)
    file = tmp_path / "cases" / "01.json"
    version, _, record = read_any(file)
    write_record(file, {**record, **wrong}, version)
    said: list[str] = []
    run(tmp_path, said)
    assert len(pulled) == 3 and "not trusted" in said[0]


def test_a_picture_that_fails_leaves_the_table_before(pulled: list[float], tmp_path: Path) -> None:
    """Table and picture change together or not at all."""
    run(tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    assert set(before) == {"table.csv", "routes.png", "manifest.json"}
    with pytest.MonkeyPatch.context() as patch, pytest.raises(ZeroDivisionError):
        patch.setattr(two_routes, "draw_routes", lambda records, path: 1 / 0)
        run_routes(NAMES[:1], tmp_path, lambda words: None, lambda name: None)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_the_command_prints_ratios_the_caution_and_one_line_of_an_error(
    pulled: list[float], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = ["--out", str(tmp_path / "here")]
    good = CliRunner().invoke(main, ["validate", "--routes", "--only", "straight out", *out])
    assert good.exit_code == 0 and "2 of 2 peaks within 25%, 0 of the same mode" in good.output
    assert "never trust a life" in " ".join(good.output.split())
    bad = CliRunner().invoke(main, ["validate", "--routes", "--only", "sideways", *out])
    assert bad.exit_code == 2 and "--only = 'sideways': must be in one of" in bad.output

    def none(case: object, farthest: float) -> CrackPull:
        raise SolveError("no step on from 1 mm")

    monkeypatch.setattr(both_routes, "least_pull", none)
    failed = CliRunner().invoke(main, ["validate", "--routes", "--only", "upright", *out])
    assert failed.exit_code == 1 and "no step on from 1 mm" in failed.output
