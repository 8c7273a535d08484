"""Solve, study, plot and compare from Python, on a stand-in for the solver; how fast and how large the package is."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_samples import inline
from matplotlib.figure import Figure
from samples import case, even_laws
from studystub import made_up_record, peak_record

import icecone
from icecone import answers
from icecone.studies.case.file import settings_from
from icecone.studies.outcome import peak as peaks
from icecone.studies.outcome import wanted
from icecone.studies.outcome.cautions import PULL_CAUTION
from icecone.studies.outcome.data import LOADS
from icecone.studies.outcome.own import Own
from icecone.studies.outcome.wanted import Found


@pytest.fixture
def solved(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[dict[str, Any], Own]]]:
    """Cases that were to be solved, each by an invented peak that rises with the angle."""
    asked: list[tuple[dict[str, Any], Own]] = []

    def solve(settings: dict[str, Any], say: object = None, own: Own | None = None) -> tuple[Any, None]:
        asked.append((settings, own or Own()))
        angle, depth = settings["placement.angle_deg"], settings["placement.embedment_mm"]
        return peak_record(5 + angle / 10, placement__angle_deg=angle, placement__embedment_mm=depth), None

    monkeypatch.setattr(answers, "solve_settings", solve)
    yield asked


def test_the_package_is_light_and_hands_out_its_names() -> None:
    """No solver and no plotting before a name is asked for; 10 to 15 names, each there."""
    code = "import sys, icecone; print([m for m in ('numpy', 'scipy', 'matplotlib', 'skfem') if m in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[]"
    assert 10 <= len(icecone.__all__) <= 15 and dir(icecone) == sorted(icecone.__all__)
    assert all(getattr(icecone, name) is not None for name in icecone.__all__)
    with pytest.raises(AttributeError, match="no attribute 'slove'"):
        icecone.slove  # noqa: B018


def test_solve_takes_keywords_a_case_or_both(solved: list[Any]) -> None:
    case = icecone.Case(angle_deg=-20, embedment_mm=70)
    for outcome in (icecone.solve(angle_deg=-20, embedment_mm=70), icecone.solve(case)):
        assert outcome.peak_kN == 3.0
    assert icecone.solve(case, angle_deg=10).peak_kN == 6.0
    assert [settings["placement.embedment_mm"] for settings, _ in solved] == [70, 70, 70]


def test_a_study_is_a_table_and_a_dataset(solved: list[Any]) -> None:
    """Dimensions are the keys; each peak lies at its angle and embedment; cautions and units go along."""
    pytest.importorskip("xarray")
    study = icecone.study(angle_deg=[-20, 10], embedment_mm=[60, 70, 80])
    data = study.to_xarray()
    assert dict(data.sizes) == {"placement.angle_deg": 2, "placement.embedment_mm": 3}
    assert (data.peak_kN.sel({"placement.angle_deg": 10}) == 6.0).all() and data.peak_kN.attrs["units"] == "kN"
    assert all(words in data.attrs["caution"] for words in (study.outcomes[0].caution, PULL_CAUTION))
    table = study.to_pandas()
    assert list(table["placement.embedment_mm"]) == 2 * [60, 70, 80] and len(set(table["case_id"])) == 6


def test_what_is_of_ones_own_reaches_the_solver(solved: list[Any]) -> None:
    steel = icecone.metal("titanium_alloy")

    def laws(given: Any) -> Any:
        return given

    icecone.solve(metal=steel, laws=laws)
    assert solved[0][1] == Own(metal=steel, laws=laws)


def test_a_study_is_every_combination_of_the_lists(solved: list[Any]) -> None:
    study = icecone.study(angle_deg=np.array([-20.0, 20.0]), embedment_mm=(50, 70), level="quick")
    assert study.names == ("angle_deg", "embedment_mm") and len(study) == 4
    rows = study.table()
    assert [(row["angle_deg"], row["embedment_mm"], row["peak_kN"]) for row in rows][1] == (-20, 70, 3.0)
    assert {settings["numerics.level"] for settings, _ in solved} == {"quick"}
    assert "4 outcomes over angle_deg, embedment_mm" in repr(study)
    html = study._repr_html_()
    assert html.count("<tr>") == 5 and "limit_kN" in html and "Research and teaching only" in html


def test_a_study_is_refused_before_the_first_solve(solved: list[Any]) -> None:
    with pytest.raises(icecone.CaseError, match=r"placement\.angle_deg = 80"):
        icecone.study(angle_deg=[0, 80])
    for lists in ({}, {"angle_deg": []}):
        with pytest.raises(icecone.CaseError, match="one keyword at least must be a list"):
            icecone.study(**lists)
    assert solved == []


def test_a_study_draws_itself(solved: list[Any], tmp_path: Path) -> None:
    """Over one keyword by the picture of its model, over two as lines."""
    one = icecone.study(angle_deg=[-20, 0, 20]).plot(tmp_path / "one.png")
    two = icecone.study(angle_deg=[-20, 20], embedment_mm=[50, 70]).plot()
    assert isinstance(one, Figure) and isinstance(two, Figure) and len(two.axes) == 1
    assert (tmp_path / "one.png").read_bytes().startswith(b"\x89PNG") and len(list(tmp_path.iterdir())) == 1


@pytest.fixture
def curved(monkeypatch: pytest.MonkeyPatch) -> icecone.Outcome:
    """The default case pulled on even laws, its onset invented."""
    monkeypatch.setattr(peaks, "peak_laws", lambda case, keep: even_laws())
    made = made_up_record(settings_from({"numerics.model": "peak"}), onset_kN=0.3)
    return replace(made, model="peak", **peaks.peak_found(case()))


def test_an_outcome_draws_tabulates_and_shows_itself(curved: icecone.Outcome, tmp_path: Path) -> None:
    figure = curved.plot(tmp_path / "curve.png")
    assert isinstance(figure, Figure) and (tmp_path / "curve.png").exists()
    assert json.loads(json.dumps(curved.to_dict()))["limit_kN"] == curved.limit_kN
    html = curved._repr_html_()
    assert html.index("limit_kN") < html.index("peak_kN") and "never trust a life" in html


@pytest.mark.slow
def test_an_onset_is_solved_again_for_its_stress(tmp_path: Path) -> None:
    outcome = icecone.solve(angle_deg=20, embedment_mm=40, model="onset", level="quick")
    assert len(outcome.plot(tmp_path / "stress.png").axes) >= 3 and (tmp_path / "stress.png").exists()


@pytest.mark.slow
def test_plan_and_compare_take_what_is_shipped_and_keep_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(settings: dict[str, Any], *_: object) -> tuple[Found, dict[str, str]]:
        assert settings["ice.temperature_C"] == -8.0
        loads = {f"{name}_kN": 8.0 + settings["placement.angle_deg"] / 10 for name in ("limit", *LOADS)}
        return Found(**loads, limit_mode="cone", peak_mode="cone", peak_at_mm=3.0), {}

    monkeypatch.setattr(wanted, "solve_wanted", solve)
    monkeypatch.setattr("icecone.studies.field.predict.workers", inline)
    found, learnt = icecone.compare("invented_day", draws=4, temperature_C=-8)
    assert len(found.pairs) == 12 and len(found.measured) == 11 and learnt is None
    day = icecone.plan("angle_day", draws=4, temperature_C=-8)
    assert [round(pull.prediction.load("limit"), 6) for pull in day.pulls[:3]] == [6.0, 6.0, 7.0]
    assert day.findings and len(day.placements) == 5
