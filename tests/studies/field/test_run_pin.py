"""The command `icecone pin`: a sheet of pushes to what they settle, its errors by line."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from icecone.studies.command.main import main
from icecone.studies.field.days import shipped_pushes
from icecone.studies.field.pin_words import settle_pushes
from icecone.studies.field.run_pin import pushes_of
from icecone.studies.figures.pin import pin_figure
from icecone.studies.outcome.cautions import CAUTION, INVENTED


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """The shipped sheet, four pushes filled in with semicolons and decimal commas, invented."""
    rows = list(csv.DictReader(CliRunner().invoke(main, ["example", "--day", "pin_push"]).stdout.splitlines()))
    wanted = {"thick_away_20_slow_1": ("0,3", "came out"), "thick_toward_20_slow_1": ("9,1", "stayed")}
    wanted |= {"thick_upright_slow_1": ("7,9", "stayed"), "thick_upright_slow_2": ("8,4", "none")}
    path = tmp_path / "pushes.csv"
    with path.open("w", newline="") as handle:
        writer = csv.DictWriter(handle, rows[0], delimiter=";")
        writer.writeheader()
        for row in rows:
            if row["id"] in wanted:
                row |= dict(zip(("force_kN", "chips"), wanted[row["id"]], strict=True)) | {"flag": "invented"}
            writer.writerow({name: cell.replace(".", ",") for name, cell in row.items()})
    return path


def run(path: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["pin", str(path), "--out", str(path.parent / "out"), *more])


def test_pushes_are_settled_told_and_drawn(sheet: Path) -> None:
    result = run(sheet)
    assert result.exit_code == 0, result.output
    told = " ".join(result.stdout.split())
    assert "−20°: 1 of 1 push came out" in told and "chips came out up to -20.0 deg and stayed from 0.0 deg on" in told
    assert CAUTION in told and INVENTED in told
    page = (sheet.parent / "out" / "pin.md").read_text()
    assert CAUTION in page and "What 4 pushes of a pin settle" in page
    assert (sheet.parent / "out" / "pin.png").read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("came out", "left", ":2: push thick_away_20_slow_1: chips = 'left': must be one of"),
        ("7,9", "heavy", ":6: push thick_upright_slow_1: force_kN = 'heavy': must be a number between 0.001 and 1000"),
        ("pin_diameter_mm", "pin_mm", ":1: column pin_diameter_mm: missing"),
        (
            "thick_upright_slow_2",
            "thick_upright_slow_1",
            "id = 'thick_upright_slow_1': must be given and must be unique",
        ),
    ],
)
def test_mistakes_are_named(sheet: Path, old: str, new: str, words: str) -> None:
    sheet.write_text(sheet.read_text().replace(old, new))
    result = run(sheet)
    assert result.exit_code == 2 and words in result.stderr and len(result.stderr.splitlines()) == 1
    assert not (sheet.parent / "out").exists()


def test_an_empty_sheet_and_an_unknown_ice_are_refused(sheet: Path) -> None:
    assert "--ice = 'slush': must be one of" in run(sheet, "--ice", "slush").stderr
    empty = CliRunner().invoke(main, ["example", "--day", "pin_push"]).stdout
    sheet.write_text(empty)
    assert "no push was made" in run(sheet).stderr


def test_examples_of_days_and_rigs_are_printed() -> None:
    runner = CliRunner()
    assert "[rig]" in runner.invoke(main, ["example", "--rig"]).stdout
    assert runner.invoke(main, ["example", "--day", "angle_day"]).stdout.startswith("id,")
    assert runner.invoke(main, ["example", "--day", "pin_push", "--protocol"]).stdout.startswith("# ")
    refused = runner.invoke(main, ["example", "--day", "angel_day"])
    assert refused.exit_code == 2 and "did you mean angle_day?" in refused.stderr


def test_the_invented_sheet_that_comes_with_icecone_is_found_by_name_and_says_that_it_is_invented(
    tmp_path: Path,
) -> None:
    done = CliRunner().invoke(main, ["pin", "invented_pushes", "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    assert INVENTED in done.output and INVENTED in (tmp_path / "out" / "pin.md").read_text()


def test_a_picture_of_invented_pushes_says_so() -> None:
    pushes, _ = pushes_of(shipped_pushes()["invented_pushes"])
    settled = settle_pushes(pushes, "sound_glacier")
    said = {
        flag: str(pin_figure(pushes, settled, "sound_glacier", None, flag).get_supxlabel()) for flag in (True, False)
    }
    assert INVENTED in said[True] and INVENTED not in said[False]


def test_a_sheet_that_is_no_file_and_does_not_come_with_icecone_is_refused_in_one_line(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["pin", "nothing", "--out", str(tmp_path / "out")])
    assert done.exit_code == 2 and "sheet = 'nothing'" in done.output and "invented_pushes" in done.output
    assert not (tmp_path / "out").exists()
