"""Measured beside predicted pulls: ratios, bounds, groups, what explains a row, and the command end to end."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from field_samples import inline, made_up_peak_kN

from icecone.studies.case.file import settings_from
from icecone.studies.command.main import main
from icecone.studies.field.compare import LOAD_ERROR, Comparison, compare, explained_by, pair_of
from icecone.studies.field.predict import Prediction
from icecone.studies.field.run_compare import HEADER
from icecone.studies.field.table import Row, read_table, shipped_tables
from icecone.studies.outcome.cautions import CAUTION, COMPARED, IN_VIEW, INVENTED
from icecone.studies.words.comparison import agreement_lines, answer, group_lines, worst_lines


def prediction(
    name: str = "a", peak: float | None = 8.0, median: float = 8.0, angle: float = 0.0, draws: int = 101, **row: Any
) -> Prediction:
    """A row whose draws lie evenly in the log about a median: the toughness alone moves them."""
    settings = settings_from({"placement.angle_deg": angle})
    share = np.linspace(-1, 1, draws)
    loads = median * np.exp(0.5 * share)
    found = tuple({"peak_kN": float(load), "peak_mode": "cone", "limit_kN": min(float(load), 9.0)} for load in loads)
    inputs = {
        "ice.K_IC_kPa_sqrt_m": 120 * np.exp(0.5 * share),
        "assumed.steel_friction": np.tile([0.1, 0.2], draws)[:draws],
    }
    plain = {"peak_kN": median, "peak_mode": "cone", "limit_kN": 9.0, "limit_mode": "hanger"}
    measured = Row(name, 2, {"placement.angle_deg": angle}, peak_kN=peak, **row)
    return Prediction(measured, settings, (), "", plain, found, inputs)


def compared(*rows: Prediction, against: str = "peak") -> Comparison:
    return compare("invented.csv", rows, against, 101, 1)


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["compare", *map(str, arguments)])


def flat(text: str) -> str:
    """On one line."""
    return " ".join(text.split())


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as handle:
        return list(csv.DictReader(line for line in handle if not line.startswith("#")))


def test_the_ratio_is_measured_over_the_median_of_the_draws() -> None:
    """The load at the 75 % point of the draws has a place of three quarters, and the ratio exp(0.25)."""
    pair = pair_of(prediction(peak=8 * float(np.exp(0.25))), "peak")
    assert pair.ratio == pytest.approx(np.exp(0.25), rel=1e-12) and pair.place == pytest.approx(0.75, abs=0.01)
    assert pair.miss == pytest.approx(0.25, rel=1e-12)
    assert pair_of(prediction(peak=None), "peak").measured is None
    assert pair_of(Prediction(Row("a", 2, peak_kN=3.0), None, problem="too steep"), "peak").ratio is None


@pytest.mark.parametrize(
    ("ended", "against", "is_bound"),
    [
        ("cone", "peak", False),
        ("hanger", "peak", True),
        ("sling", "peak", True),
        ("cell's limit", "peak", True),
        ("movement ran out", "peak", True),
        ("stopped by us", "peak", True),
        (None, "peak", False),
        ("hanger", "limit", False),
        ("cell's limit", "limit", True),
    ],
)
def test_what_ended_otherwise_is_a_bound(ended: str | None, against: str, is_bound: bool) -> None:
    """A hanger that tore is the limit itself, and a bound of the peak of tube and ice."""
    measured = pair_of(prediction(ended=ended), against).measured
    assert measured is not None and measured.is_bound == is_bound
    assert measured.mode_seen == ("" if is_bound or ended is None else ended)


def test_a_row_that_was_not_pulled_is_none() -> None:
    assert pair_of(prediction(peak=None, ended="not pulled"), "peak").measured is None


def test_a_bound_below_its_prediction_misses_nothing() -> None:
    low, high = (pair_of(prediction(peak=load, ended="hanger"), "peak") for load in (5.0, 16.0))
    assert low.miss == 0.0 and high.miss == pytest.approx(np.log(2.0))
    assert compared(low.prediction, high.prediction).worst[0].ratio == pytest.approx(2.0)


def test_the_error_of_a_mean_is_that_of_the_cell_and_of_the_mean() -> None:
    measured = pair_of(prediction(peak=8.0, sd_kN=1.6, n=4), "peak").measured
    assert measured is not None and measured.error == pytest.approx(np.hypot(LOAD_ERROR, 0.1), rel=1e-12)


def test_an_unknown_load_is_refused() -> None:
    with pytest.raises(ValueError, match="against = onset: must be one of limit, peak"):
        pair_of(prediction(), "onset")


def test_the_input_that_moves_the_draws_explains_a_row() -> None:
    """The toughness alone moves the load: near a load of 8 exp(-0.4) it is 120 exp(-0.4)."""
    found = explained_by(pair_of(prediction(peak=8 * float(np.exp(-0.4))), "peak"))
    assert found is not None and found[0] == "ice.K_IC_kPa_sqrt_m"
    assert found[1] == pytest.approx(120 * np.exp(-0.4), rel=0.03) and found[2] == pytest.approx(120, rel=1e-9)
    assert explained_by(pair_of(prediction(draws=20), "peak")) is None, "so few draws tell nothing"


def test_the_answer_says_bias_and_whether_the_range_is_honest() -> None:
    """Ten placements with ratios of two in every one: too little, and the ranges (to exp(0.45)) hold none."""
    rows = [prediction(f"p{k}", peak=16 * (1 + 0.001 * k), angle=float(k)) for k in range(10)]
    words = answer(compared(*rows))
    assert words.startswith("10 pulls: measured peak over predicted 2.01 (2.01 to 2.01), so the model says too little.")
    assert words.endswith("Of the ranges that should hold nine in ten, 0 % do: too narrow.")
    fair = [prediction(f"p{k}", peak=8 * float(np.exp(0.05 * (k - 4.5))), angle=float(k)) for k in range(10)]
    assert "so no bias is seen" in answer(compared(*fair)) and "100 % do: honest" in answer(compared(*fair))
    assert answer(compared(prediction(peak=None))) == "No row has both a measured and a predicted load."
    assert answer(compared(prediction())) == "1 pull: too few to say more than row by row."


def test_groups_have_their_own_bias() -> None:
    rows = [
        prediction(f"{a}{k}", peak=8 * f * (1 + 0.01 * k), angle=a)
        for a, f in ((-20, 0.5), (20, 1.5))
        for k in range(5)
    ]
    found = compared(*rows)
    assert set(found.groups) == {"placement.angle_deg"}
    away, toward = found.groups["placement.angle_deg"].values()
    assert away.rows == toward.rows == 5 and away.bias is None, "one placement is too few to say"
    spread = [
        prediction(f"{f}{k}", peak=8 * f * (1 + 0.01 * k), angle=float(k), flag=flag)
        for flag, f in (("measured", 0.5), ("published", 1.5))
        for k in range(5)
    ]
    lines = group_lines(compared(*spread))
    assert any(line.startswith("by flag: measured 0.51") and "published 1.53" in line for line in lines)


def test_worst_rows_are_named_with_their_cause() -> None:
    found = compared(prediction("fine"), prediction("weak", peak=8 * float(np.exp(-0.45))))
    first = worst_lines(found)[0]
    assert first.startswith("weak: 0.64 times the predicted 8 kN; fracture toughness K_IC of the ice near 7")


def test_the_demo_table_end_to_end(tmp_path: Path, pulled: list[dict[str, Any]]) -> None:
    result = run("invented_demo", "--out", tmp_path / "out", "--draws", "20")
    assert result.exit_code == 0, result.output
    assert len(pulled) == 8 * 21
    for part in (COMPARED, CAUTION, INVENTED, "invented_demo.csv: measured beside predicted peak"):
        assert part in flat(result.stdout)
    assert flat(result.stdout).startswith("8 pulls: measured peak over predicted")
    table = read_table(shipped_tables()["invented_demo"]).rows
    written = read_csv(tmp_path / "out" / "comparison.csv")
    for known, found in zip(table, written, strict=True):
        expected = made_up_peak_kN(settings_from(known.given))
        assert (found["id"], float(found["measured_kN"]), found["flag"]) == (known.id, known.peak_kN, "invented")
        assert float(found["predicted_kN"]) == pytest.approx(expected, rel=1e-5)
        ratio = float(found["measured_kN"]) / float(found["predicted_median_kN"])
        assert float(found["measured_over_median"]) == pytest.approx(ratio, rel=1e-4)
        low, high = (float(found[f"predicted_{end}_kN"]) for end in ("low", "high"))
        assert low < float(found["predicted_median_kN"]) < high
        assert float(found["stated_early_kN"]) == pytest.approx(0.7 * expected, rel=1e-5)
    assert tuple(written[0]) == HEADER
    text = (tmp_path / "out" / "comparison.csv").read_text()
    assert text.count(CAUTION) == 1 and text.startswith("# ")
    words = (tmp_path / "out" / "comparison.md").read_text()
    assert all(part in words for part in (COMPARED, CAUTION, INVENTED, "## By group", "## Farthest off"))
    assert all(f"| {known.id} | invented |" in words.replace("\\", "") for known in table)
    for name in ("comparison.png", "by_angle.png"):
        assert (tmp_path / "out" / name).read_bytes()[:4] == b"\x89PNG"
    pulled.clear()
    assert run("invented_demo", "--out", tmp_path / "out", "--draws", "20").exit_code == 0
    assert pulled == [], "resumed, nothing is solved twice"


def test_another_load_and_changed_keys(tmp_path: Path, pulled: list[dict[str, Any]]) -> None:
    arguments = ("invented_demo", "--out", tmp_path, "--draws", "0")
    assert run(*arguments, "--against", "early", "--set", "assumed.crushing_share=0.5").exit_code == 0
    first = read_csv(tmp_path / "comparison.csv")[0]
    expected = 0.7 * made_up_peak_kN(settings_from({"assumed.crushing_share": 0.5, "placement.embedment_mm": 130}))
    assert first["against"] == "early" and float(first["predicted_kN"]) == pytest.approx(expected, rel=1e-5)
    assert "Changed for all: assumed.crushing_share = 0.5" in (tmp_path / "comparison.md").read_text().replace("\\", "")


def test_facts_of_the_trade_carry_the_sentence_on_choices(tmp_path: Path, pulled: list[dict[str, Any]]) -> None:
    result = run("trade_facts", "--out", tmp_path, "--draws", "0")
    assert result.exit_code == 0 and IN_VIEW in flat(result.stdout)
    assert IN_VIEW in (tmp_path / "comparison.md").read_text() and IN_VIEW in (tmp_path / "comparison.csv").read_text()
    assert IN_VIEW not in flat(run("invented_demo", "--out", tmp_path, "--draws", "0").stdout)


def test_rows_that_cannot_be_modelled_are_listed(tmp_path: Path, pulled: list[dict[str, Any]]) -> None:
    """The published table has no ice that the model has values for: no prediction, no picture, no failure."""
    run("trade_facts", "--out", tmp_path, "--draws", "0")
    assert (tmp_path / "comparison.png").exists() and pulled
    pulled.clear()
    result = run("published", "--out", tmp_path)
    assert result.exit_code == 0 and pulled == []
    assert "no prediction" in result.stdout and "water ice" in result.stdout and CAUTION in flat(result.stdout)
    rows = read_csv(tmp_path / "comparison.csv")
    assert all("ice.kind = " in found["not_modelled_because"] and found["predicted_kN"] == "" for found in rows)
    assert "matrix2004_water_125_0: ice.kind" in (tmp_path / "comparison.md").read_text()
    assert not (tmp_path / "comparison.png").exists()


def test_a_failed_solve_is_named_and_ends_with_1(tmp_path: Path, pulled: list[dict[str, Any]]) -> None:
    path = tmp_path / "day.csv"
    path.write_text("id,ice.kind,peak_kN\na,firn,3\nb,sound_glacier,9\n")
    result = run(path, "--out", tmp_path / "out", "--draws", "0")
    assert result.exit_code == 1
    assert result.stderr.splitlines()[-1] == "icecone: 1 of 2 pulls could not be solved: see above"
    first, second = read_csv(tmp_path / "out" / "comparison.csv")
    assert first["not_modelled_because"] == "no balance is found" and first["predicted_kN"] == ""
    assert second["not_modelled_because"] == "" and "placement.embedment_mm = 130" in second["assumed"]


def test_bad_rows_stop_it_unless_told(tmp_path: Path, pulled: list[dict[str, Any]]) -> None:
    text = shipped_tables()["invented_demo"].read_text().replace("14.1", "fourteen").replace(",5.6,", ",-5.6,")
    path = tmp_path / "table.csv"
    path.write_text(text)
    refused = run(path, "--out", tmp_path / "out")
    assert refused.exit_code == 2 and refused.stdout == "" and pulled == [] and not (tmp_path / "out").exists()
    lines = refused.stderr.splitlines()
    assert lines[0].startswith(f"icecone: {path}:2: column peak_kN = 'fourteen': must be a number between 0.001 and")
    assert lines[1].startswith(f"icecone: {path}:6: column peak_kN = '-5.6'") and len(lines) == 2
    taken = run(path, "--out", tmp_path / "out", "--skip-bad", "--draws", "0")
    assert taken.exit_code == 0 and len(pulled) == 6
    assert "left out" in taken.stderr and "fourteen" in (tmp_path / "out" / "comparison.md").read_text()


def test_the_lines_tell_all_that_is_known() -> None:
    rows = [prediction(f"p{k}", peak=8 * float(np.exp(0.1 * (k - 2))), angle=float(k), ended="cone") for k in range(5)]
    found = compared(*rows)
    assert found.whole is not None
    lines = agreement_lines(found.whole)
    assert any(line.startswith("what gives way: right in 100 % of 5 pulls") for line in lines)
    assert "split of the scatter" in next(line for line in lines if line.startswith("not told: "))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--fit", "nothing"), "fit = nothing: must be some of ice.K_IC_kPa_sqrt_m"),
        (("--fit", "assumed.chip_friction"), "its laws take minutes a value"),
        (("--fit", "assumed.crushing_share", "--against", "early"), "--against = early: must be peak"),
        (("--fit", "assumed.crushing_share", "--set", "assumed.crushing_share=0.5"), "must be left out of the rows"),
    ],
)
def test_a_fit_that_cannot_be_is_refused_before_a_pull(
    tmp_path: Path, pulled: list[dict[str, Any]], arguments: tuple[str, ...], words: str
) -> None:
    result = run("invented_day", "--out", tmp_path / "out", *arguments)
    assert result.exit_code == 2 and words in result.stderr and pulled == [] and not (tmp_path / "out").exists()


def test_a_day_is_fitted_end_to_end(
    tmp_path: Path, pulled: list[dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The stand-in's own toughness, 90 of 120, is found again from pulls that it made."""
    monkeypatch.setattr("icecone.studies.field.fit_cases.workers", inline)
    lines = ["id,placement.angle_deg,ended,peak_kN"]
    for number, angle in enumerate((-20, -10, 0, 0, 10, 20)):
        truth = settings_from({"placement.angle_deg": angle, "ice.K_IC_kPa_sqrt_m": 90})
        lines.append(f"{number},{angle},cone,{made_up_peak_kN(truth):.4f}")
    path = tmp_path / "day.csv"
    path.write_text("\n".join(lines) + "\n")
    result = run(path, "--out", tmp_path / "out", "--draws", "3", "--fit", "ice.K_IC_kPa_sqrt_m")
    assert result.exit_code == 0, result.output
    found = json.loads((tmp_path / "out" / "fit.json").read_text())
    (low, *_, high), before = found["inputs"][0]["after"], found["inputs"][0]["before"]
    middle = found["inputs"][0]["after"][2]
    assert low < 90 < high and middle == pytest.approx(90, rel=0.15) and found["caution"] == CAUTION
    assert middle < before[2] - 10 and high - low < 0.8 * (before[-1] - before[0]), (before, low, middle, high)
    assert found["next"][0]["gain"] >= found["next"][-1]["gain"] and "Pull next: " in " ".join(result.stdout.split())
    assert (tmp_path / "out" / "fit.png").read_bytes()[:4] == b"\x89PNG"
    assert "What the pulls teach" in (tmp_path / "out" / "comparison.md").read_text()
