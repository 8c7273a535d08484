"""The plan of a day: expectations, order, what the rig must bear, the table to fill in, the command end to end."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from field_samples import HANGER_KN
from rich.console import Console

from icecone.studies.command.main import main
from icecone.studies.field.plan import Plan, plan_day
from icecone.studies.field.predict import predict
from icecone.studies.field.rig import Rig, read_rig
from icecone.studies.field.table import Row, read_table
from icecone.studies.outcome.cautions import CAUTION, HIGH_ENERGY, PULL_CAUTION
from icecone.studies.words.day_plan import answer, findings, table

DAY = "id,placement.angle_deg,replicate,x_mm,y_mm\na1,-20,,0,0\na2,-20,,300,0\nb1,0,,3000,0\nb2,0,,6000,0\nc1,99,,,\n"


def rig(*overrides: str) -> Rig:
    return read_rig(None, overrides)


def planned(folder: Path, *rows: Row, draws: int = 60, seed: int = 1, of: Rig | None = None) -> Plan:
    with (folder / "said").open("w") as said:
        found = predict(rows, folder / "out", Console(file=said), draws, seed)
    return plan_day("a day", found, of or rig(), draws, seed)


def row(name: str, angle: float = 0.0, **known: Any) -> Row:
    return Row(name, 2, {"placement.angle_deg": angle}, **known)


def run(folder: Path, *arguments: str) -> Result:
    path = folder / "day.csv"
    if not path.exists():
        path.write_text(DAY)
    return CliRunner().invoke(main, ["plan", str(path), "--out", str(folder / "out"), "--draws", "20", *arguments])


def test_a_pull_is_told_by_the_draws_of_its_limit(tmp_path: Path, pulled: list[Any]) -> None:
    (pull,) = planned(tmp_path, row("a")).pulls
    limits = pull.prediction.loads("limit")
    assert (pull.low_kN, pull.middle_kN, pull.high_kN) == pytest.approx(np.quantile(limits, (0.05, 0.5, 0.95)))
    assert pull.largest_kN == pytest.approx(np.quantile(pull.prediction.loads("peak"), 0.95))
    assert pull.largest_kN > HANGER_KN >= pull.high_kN, "a hanger may hold more than its maker states"
    assert sum(share for _, share in pull.modes) == pytest.approx(1.0) and pull.modes[0][1] >= pull.modes[-1][1]
    assert pull.early_kN == pytest.approx(np.median(pull.prediction.loads("early")))
    assert pull.movement_mm == pytest.approx(3 * np.median(pull.prediction.loads("peak")))


def test_without_draws_a_pull_is_told_as_stated(tmp_path: Path, pulled: list[Any]) -> None:
    (pull,) = planned(tmp_path, row("a", -10.0), draws=0).pulls
    assert pull.low_kN == pull.middle_kN == pull.high_kN == pull.prediction.load("limit") and pull.mode == "lever-out"


def test_each_block_holds_each_placement_once_in_an_order_of_the_seed(tmp_path: Path, pulled: list[Any]) -> None:
    rows = [row(f"{angle}{k}", angle) for angle in (-20.0, -10.0, 0.0, 10.0, 20.0) for k in range(4)]
    plan = planned(tmp_path, *rows, draws=0)
    for block in range(1, 5):
        own = [pull for pull in plan.in_order if pull.block == block]
        assert len({pull.placement for pull in own}) == len(own) == 5
        assert [pull.order for pull in own] == list(range(5 * block - 4, 5 * block + 1))
    orders = {tuple(pull.id for pull in planned(tmp_path, *rows, draws=0, seed=s).in_order) for s in (1, 1, 2, 3)}
    assert len(orders) == 3
    assert [pull.prediction.row.given["placement.angle_deg"] for pull in plan.in_order[:5]] != [-20, -10, 0, 10, 20]


def test_a_stated_replicate_is_the_block(tmp_path: Path, pulled: list[Any]) -> None:
    plan = planned(tmp_path, row("a", replicate=7), row("b", replicate=3), draws=0)
    assert [(pull.id, pull.block) for pull in plan.in_order] == [("b", 1), ("a", 2)]


def test_the_rig_is_held_against_the_largest_load(tmp_path: Path, pulled: list[Any]) -> None:
    plan = planned(tmp_path, row("a"), of=rig("rig.cell_kN=11"))
    assert "The rig does not suffice: the cell ends at 11 kN" in answer(plan)
    assert findings(plan)[0].startswith("short: The cell ends at 11 kN") and "pull a" in findings(plan)[0]
    strong = "rig.cell_kN=50", "rig.reaction_kN=100", "rig.people=20", "rig.strand_mm=5000"
    assert answer(planned(tmp_path, row("a"), of=rig(*strong))).endswith("The rig suffices.")


def test_places_that_are_too_near_are_named(tmp_path: Path, pulled: list[Any]) -> None:
    near = planned(tmp_path, row("a", x_mm=0.0, y_mm=0.0), row("b", x_mm=200.0, y_mm=0.0), draws=0)
    assert any("Pulls a and b are 200 mm apart" in text for text in findings(near))
    far = planned(tmp_path, row("a", x_mm=0.0, y_mm=0.0), row("b", x_mm=5000.0, y_mm=0.0), draws=0)
    assert not any("apart; the ice" in text for text in findings(far))


def test_the_day_end_to_end(tmp_path: Path, pulled: list[Any]) -> None:
    result = run(tmp_path)
    assert result.exit_code == 2 and "day.csv:6: column placement.angle_deg = '99': must be a number" in result.stderr
    assert not (tmp_path / "out").exists() and pulled == []
    result = run(tmp_path, "--skip-bad", "--set", "rig.cell_kN=11", "--set", "ice.temperature_C=-8")
    assert result.exit_code == 0, result.output
    told = " ".join(result.stdout.split())
    assert told.startswith("4 pulls of 2 placements: expect") and "left out" in result.stderr
    for words in (CAUTION, HIGH_ENERGY, PULL_CAUTION):
        assert words in told and words in (tmp_path / "out" / "plan.md").read_text()
        assert words in (tmp_path / "out" / "plan.csv").read_text()
    assert {settings["ice.temperature_C"] for settings in pulled} == {-8.0}
    for name in ("plan.png", "power.png", "field_sheet.pdf", "field_sheet.html"):
        assert (tmp_path / "out" / name).stat().st_size > 1000
    text = (tmp_path / "out" / "plan.csv").read_text()
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    assert [row["plan_order"] for row in rows] == ["1", "2", "3", "4"] and {row["id"] for row in rows} == {
        "a1",
        "a2",
        "b1",
        "b2",
    }
    assert all(row["peak_kN"] == row["ended"] == "" and float(row["plan_limit_kN"]) > 0 for row in rows)
    assert all(row["plan_people"] and row["plan_weakest_link"] for row in rows)
    again = read_table(tmp_path / "out" / "plan.csv").rows
    assert {row.id: dict(row.given) for row in again} == {
        row.id: dict(row.given) for row in read_table(tmp_path / "day.csv", skip_bad=True).rows
    }


def test_a_filled_plan_is_planned_and_compared_again(tmp_path: Path, pulled: list[Any]) -> None:
    """Plan, fill in, compare; a plan of the plan keeps what was filled in and fills its own columns anew."""
    assert run(tmp_path, "--skip-bad").exit_code == 0
    path = tmp_path / "out" / "plan.csv"
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    for number, row in enumerate(rows):
        row |= {"peak_kN": f"{8 + number}", "ended": "hanger" if number == 0 else "cone"}
    filled = tmp_path / "filled.csv"
    with filled.open("w", newline="") as handle:
        writer = csv.DictWriter(handle, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    found = CliRunner().invoke(main, ["compare", str(filled), "--out", str(tmp_path / "c"), "--draws", "20"])
    assert found.exit_code == 0 and "4 pulls, 1 of them bounds" in found.stdout
    again = CliRunner().invoke(main, ["plan", str(filled), "--out", str(tmp_path / "p"), "--draws", "0"])
    assert again.exit_code == 0
    kept = read_table(tmp_path / "p" / "plan.csv").rows
    assert sorted(row.peak_kN or 0 for row in kept) == [8, 9, 10, 11]
    header = next(line for line in (tmp_path / "p" / "plan.csv").read_text().splitlines() if not line.startswith("#"))
    assert header.count("plan_limit_kN") == 1


def test_the_table_on_the_screen_has_a_row_a_placement(tmp_path: Path, pulled: list[Any]) -> None:
    rows = table(planned(tmp_path, row("a1"), row("a2"), row("b", -20.0)))
    assert [cells[0] for cells in rows] == ["a1, a2", "b"] and rows[1][1] == "−20°, 130 mm"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--set", "rig.cell=3"), "rig.cell = 3: unknown key: must be one of rig.advantage"),
        (("--set", "ice.kind"), "--set 'ice.kind': must be KEY=VALUE"),
        (("--jobs", "0"), "--jobs = '0': must be a whole number"),
        (("--rig", "no_such.toml"), "no_such.toml: cannot be read"),
        (("--draws", "-1"), "-1"),
        (("--seed", "x"), "'x'"),
    ],
)
def test_bad_options_end_with_one_line(
    tmp_path: Path, pulled: list[Any], arguments: tuple[str, ...], words: str
) -> None:
    result = run(tmp_path, "--skip-bad", *arguments)
    assert result.exit_code == 2 and words in result.stderr and len(result.stderr.splitlines()) <= 2 and pulled == []


def test_a_key_of_the_case_that_there_is_not_ends_the_plan(tmp_path: Path, pulled: list[Any]) -> None:
    result = run(tmp_path, "--skip-bad", "--set", "ice.knid=firn")
    assert result.exit_code == 2 and "ice.knid = 'firn': unknown key" in result.stderr and pulled == []
