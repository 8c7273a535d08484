"""Comparison with a field table: predicted beside field peaks, row by row."""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from rich.console import Console
from studystub import CAUTION, install, made_up_record, peak_record

from icecone.fem.solid.solver import SolveError
from icecone.studies.case.file import settings_from
from icecone.studies.command.main import main
from icecone.studies.field.compare import (
    KEY_OF,
    RATIO,
    Pair,
    compare_table,
    pair_row,
    rank_correlation,
    rank_sentence,
    summary,
)
from icecone.studies.field.table import Row, read_table, shipped_tables
from icecone.studies.outcome.cautions import COMPARED
from icecone.studies.outcome.data import LOADS, Outcome

FULL = {
    "tube_length_mm": 150.0,
    "tube_od_mm": 18.0,
    "embedment_mm": 90.0,
    "angle_deg": -10.0,
    "pull_direction_deg": 45.0,
    "attachment": "tied_off",
    "ice": "bubbly_glacier",
    "crust_mm": 10.0,
    "temperature_C": -8.0,
}


def row(name: str = "a", **known: Any) -> Row:
    return Row(id=name, source="invented", flag=known.pop("flag", "invented"), line=2, **known)


@pytest.fixture
def solved(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Solved settings, in order; the solver is a stand-in."""
    seen: list[dict[str, Any]] = []

    def solve(settings: dict[str, Any]) -> Outcome:
        seen.append(settings)
        return made_up_record(settings)

    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), solve)
    return seen


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["compare", *map(str, arguments)])


def flat(text: str) -> str:
    """On one line."""
    return " ".join(text.split())


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as handle:
        return list(csv.DictReader(handle))


def test_every_column_reaches_its_own_key() -> None:
    assert set(FULL) == set(KEY_OF)
    pair = pair_row(row(**FULL), "fine")
    assert pair.settings is not None and pair.assumed == ()
    assert {KEY_OF[column]: value for column, value in FULL.items()}.items() <= pair.settings.items()
    assert pair.settings["numerics.level"] == "fine" and pair.settings["numerics.model"] == "peak"


@pytest.mark.parametrize("column", sorted(FULL))
def test_what_a_row_leaves_open_is_the_default_and_is_listed(column: str) -> None:
    known = {name: value for name, value in FULL.items() if name != column}
    pair = pair_row(row(**known), "quick")
    assert pair.settings is not None
    length = known.get("tube_length_mm", 140.0)
    defaults = settings_from({"tube.length_mm": length})
    key = KEY_OF[column]
    assert pair.settings[key] == defaults[key]
    assert len(pair.assumed) == 1 and pair.assumed[0].startswith(f"{key} = ")


@pytest.mark.parametrize(
    ("known", "reason"),
    [
        ({"ice": "water ice"}, "ice.kind = 'water ice': must be one of"),
        ({"angle_deg": 60.0}, "placement.angle_deg = 60: must be a number between -45 and 45 deg"),
        ({"pull_direction_deg": 120.0}, "pull.direction_deg = 120: must be"),
        ({"tube_length_mm": 100.0, "embedment_mm": 120.0}, "placement.embedment_mm = 120: must be"),
    ],
)
def test_a_row_beyond_the_model_is_kept_with_the_reason(known: dict[str, Any], reason: str) -> None:
    pair = pair_row(row(**known), "quick")
    assert pair.settings is None and reason in pair.problem


def pairs(*loads: tuple[float | None, float | None]) -> list[Pair]:
    return [
        Pair(row(str(i), peak_kN=peak), {}, outcome=None if predicted is None else peak_record(predicted))
        for i, (predicted, peak) in enumerate(loads)
    ]


def test_rank_correlation_by_hand() -> None:
    """Spearman without ties: 1 - 6 sum d^2 / (n (n^2 - 1)); ranks 1 2 3 4 against 2 1 4 3 give 1 - 24 / 60 = 0.6."""
    loads = pairs((0.1, 8.0), (0.2, 7.0), (0.3, 30.0), (0.4, 9.0), (None, 1.0), (0.5, None))
    rho, n = rank_correlation(loads)
    assert rho == pytest.approx(0.6, abs=1e-12) and n == 4
    assert "0.60, n = 4 (4 invented). Invented rows say nothing about ice." in rank_sentence(loads)


@pytest.mark.parametrize(
    ("loads", "why"),
    [
        ([(0.1, 1.0), (0.2, 2.0), (0.3, 3.0)], "3 rows with both: fewer than 4"),
        (
            [(0.1, 1.0), (0.1, 2.0), (0.1, 3.0), (0.1, 4.0)],
            "4 rows with both: all predicted or all field peaks are equal",
        ),
        ([], "0 rows with both"),
    ],
)
def test_no_rank_correlation_without_a_basis(loads: list[tuple[float, float]], why: str) -> None:
    assert rank_correlation(pairs(*loads))[0] is None and why in rank_sentence(pairs(*loads))


def test_the_ratio_is_predicted_over_field() -> None:
    (pair, none, zero) = pairs((5.0, 10.0), (5.0, None), (5.0, 0.0))
    assert pair.ratio == pytest.approx(0.5, rel=1e-14) and none.ratio is None and zero.ratio is None


def test_the_mode_says_whether_the_tube_is_bent() -> None:
    modes = [("cone", 6.9), ("cone", None), ("tube bends", 6.9)]
    found = [Pair(row(), {}, outcome=peak_record(9.0, mode, hinge)).mode for mode, hinge in modes]
    assert found == ["cone, tube bent", "cone", "tube bends"]
    assert Pair(row(), {}, problem="too steep").mode == "no prediction: too steep"


def test_the_summary_counts_rows_with_both_and_those_near_one() -> None:
    """Ratios 0.5, 1.0, 1.4 and 3.0: median 1.2, two within a factor 1.5."""
    words = summary(pairs((5.0, 10.0), (8.0, 8.0), (14.0, 10.0), (6.0, 2.0), (None, 4.0), (4.0, None)))
    assert words.startswith(
        "Predicted peak over field peak: median 1.20, from 0.50 to 3.00; 2 of 4 within a factor 1.5."
    )
    assert summary(pairs((1.0, None))).startswith("No row has both")


def test_the_demo_table_end_to_end(tmp_path: Path, solved: list[dict[str, Any]]) -> None:
    result = run("invented_demo", "--out", tmp_path / "out", "--level", "quick")
    assert result.exit_code == 0, result.output
    assert len(solved) == 8 and {settings["numerics.level"] for settings in solved} == {"quick"}
    for part in (COMPARED, CAUTION, "Invented rows say nothing about ice", "invented_demo.csv: predicted beside"):
        assert part in flat(result.stdout)
    table = read_table(shipped_tables()["invented_demo"]).rows
    written = read_csv(tmp_path / "out" / "comparison.csv")
    for known, found in zip(table, written, strict=True):
        expected = made_up_record(
            {"placement.angle_deg": known.angle_deg, "placement.embedment_mm": known.embedment_mm}
        )
        assert (found["id"], float(found["field_peak_kN"])) == (known.id, known.peak_kN)
        assert float(found["predicted_peak_kN"]) == pytest.approx(expected.peak_kN, rel=1e-5)
        assert float(found["predicted_onset_kN"]) == pytest.approx(expected.onset_kN, rel=1e-5)
        assert (
            known.peak_kN
            and expected.peak_kN
            and float(found[RATIO.format("peak")]) == pytest.approx(expected.peak_kN / known.peak_kN, rel=1e-5)
        )
        assert found["flag"] == "invented" and found["caution"] == CAUTION
    first = written[0]
    for load in LOADS:
        ratio = float(first[f"predicted_{load}_kN"]) / float(first["field_peak_kN"])
        assert float(first[RATIO.format(load)]) == pytest.approx(ratio, rel=1e-4) and first[f"predicted_{load}_mode"]
    assert float(first["predicted_largest_kN"]) > float(first["predicted_early_kN"])
    words = (tmp_path / "out" / "comparison.md").read_text()
    assert all(f"- Predicted {name} over field peak: median" in words for name in LOADS.values())
    assert COMPARED in words and CAUTION in words and all(f"| {known.id} | invented |" in words for known in table)
    assert "Peaks at level quick, icecone" in words and "Onset at level" not in words
    assert (tmp_path / "out" / "comparison.png").read_bytes()[:4] == b"\x89PNG"
    solved.clear()
    assert run("invented_demo", "--out", tmp_path / "out", "--level", "quick").exit_code == 0
    assert solved == [], "resumed, nothing is solved twice"


def test_rows_that_cannot_be_modelled_are_listed(tmp_path: Path, solved: list[dict[str, Any]]) -> None:
    """The published table has no ice that the model has values for: no prediction, no picture, no failure."""
    run("trade_facts", "--out", tmp_path)
    assert (tmp_path / "comparison.png").exists() and solved
    solved.clear()
    result = run("published", "--out", tmp_path)
    assert result.exit_code == 0 and solved == []
    assert "no prediction" in result.stdout and "water ice" in result.stdout and CAUTION in flat(result.stdout)
    rows = read_csv(tmp_path / "comparison.csv")
    assert all("ice.kind = " in found["not_modelled_because"] and found["predicted_peak_kN"] == "" for found in rows)
    assert "matrix2004_water_125_0: ice.kind" in (tmp_path / "comparison.md").read_text()
    assert not (tmp_path / "comparison.png").exists()


def test_a_failed_solve_is_named_and_ends_with_1(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(settings: dict[str, Any]) -> Outcome:
        if settings["pull.direction_deg"] == 90:
            raise SolveError("contact does not settle")
        return made_up_record(settings)

    install(lambda name, module: monkeypatch.setitem(sys.modules, name, module), solve)
    result = run("trade_facts", "--out", tmp_path)
    assert (
        result.exit_code == 1
        and result.stderr.splitlines()[-1] == "icecone: 1 of 2 cases could not be solved: see above"
    )
    first, second = read_csv(tmp_path / "comparison.csv")
    assert first["not_modelled_because"] == "" and "placement.embedment_mm = 150" in first["assumed"]
    assert second["not_modelled_because"] == "contact does not settle" and second["predicted_peak_kN"] == ""


def test_bad_rows_stop_it_unless_told(tmp_path: Path, solved: list[dict[str, Any]]) -> None:
    text = shipped_tables()["invented_demo"].read_text().replace("14.1", "fourteen").replace(",5.6,", ",-5.6,")
    path = tmp_path / "table.csv"
    path.write_text(text)
    refused = run(path, "--out", tmp_path / "out")
    assert refused.exit_code == 2 and refused.stdout == "" and solved == [] and not (tmp_path / "out").exists()
    lines = refused.stderr.splitlines()
    assert lines[0].startswith(f"icecone: {path}:2: column peak_kN = 'fourteen': must be a number between 0 and 1000")
    assert lines[1].startswith(f"icecone: {path}:6: column peak_kN = '-5.6'") and len(lines) == 2
    taken = run(path, "--out", tmp_path / "out", "--skip-bad")
    assert taken.exit_code == 0 and len(solved) == 6
    assert "left out" in taken.stderr and "fourteen" in (tmp_path / "out" / "comparison.md").read_text()


def test_the_picture_holds_any_mix_of_rows(tmp_path: Path, solved: list[dict[str, Any]]) -> None:
    """Rows without a peak, with a peak of zero, with a spread above the peak, of every flag, with odd names."""
    text = "\n".join(
        [
            "id,source,tube_length_mm,tube_od_mm,embedment_mm,angle_deg,pull_direction_deg,attachment,ice,crust_mm,"
            "temperature_C,rate,peak_kN,n,sd_kN,mode,flag",
            "a|b,invented,,,,,,,,,,,,,,,published",
            "$\\frac{$,invented,,,,5,,,,,,,0,,,,from memory",
            "c,invented,,,,10,,,,,,,2,3,5,,common practice",
            "d,invented,,,,15,,,,,,,3,,,,invented",
        ]
    )
    path = tmp_path / "table.csv"
    path.write_text(text + "\n")
    with (tmp_path / "said").open("w") as said:
        found = compare_table(read_table(path), "quick", tmp_path / "out", Console(file=said))
    assert len(found.pairs) == len(solved) == 4 and found.failed == []
    assert (tmp_path / "out" / "comparison.png").stat().st_size > 5000
    assert "| a\\|b | published |" in (tmp_path / "out" / "comparison.md").read_text()
