"""Cracks that turn, case by case: the table says what the records hold, nothing is followed twice."""

from __future__ import annotations

import csv
from math import atan2, degrees, pi, radians
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from icecone.fem.errors import SolveError
from icecone.studies.command.main import main
from icecone.studies.files.store import read_any, write_record
from icecone.studies.validating.turning import CASES, DEPTH, run_turning
from icecone.validation.turning_chip import follow
from icecone.validation.turning_chip.follow import TurningChip

NAMES = ["-20°, open all round", "0°, open to the sides"]
LOAD = np.array([0.02, 0.04])  # m^1.5


@pytest.fixture
def followed(monkeypatch: pytest.MonkeyPatch) -> list[tuple[float, float]]:
    """Cracks that run straight down at once; the angles and fans that were asked for [rad]."""
    asked: list[tuple[float, float]] = []

    def chip(tube: Any, ice: Any, angle: float, depth: float, friction: float, fan: float, say: Any) -> TurningChip:
        asked.append((angle, fan))
        say("on")
        path = depth * np.array([[0.0, 0.1, 0.2, 1.0], [-1.0, -1.0, -1.0, -2.0]])
        down = np.array([0.0, -0.5])
        return TurningChip(angle, depth, friction, fan, path, down, down, LOAD, np.ones(2), "followed")

    monkeypatch.setattr(follow, "follow_turning_chip", chip)
    return asked


def run(folder: Path, said: list[str] | None = None, names: list[str] = NAMES) -> list[dict[str, Any]]:
    return run_turning(names, folder, (said if said is not None else []).append, lambda name: None)


def test_a_table_and_a_picture_of_each_crack(followed: list[tuple[float, float]], tmp_path: Path) -> None:
    """Loads are at the toughness of the case's ice, 120 kPa m^0.5; crushing is what the wall bears down to DEPTH."""
    said: list[str] = []
    run(tmp_path, said)
    with (tmp_path / "table.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["case"].lstrip("'") for row in rows] == NAMES and DEPTH == 0.04
    assert followed == [(radians(-20), pi), (0.0, pi / 2)]
    for row in rows:
        assert (row["first_kN"], row["end_kN"], row["end_depth_over_d"]) == ("2.4", "4.8", "2")
        assert float(row["end_rise_deg"]) == pytest.approx(degrees(atan2(-1.0, 0.8)), abs=1e-3)
    away, upright = (float(row["crushing_kN"]) for row in rows)
    assert 5 < away < upright < 12
    assert (tmp_path / "turning.png").stat().st_size > 20_000
    assert said[0] == f"{NAMES[0]}: on"


def test_what_is_kept_is_not_followed_again(followed: list[tuple[float, float]], tmp_path: Path) -> None:
    """A record that is damaged, not whole or of another friction is."""
    run(tmp_path)
    run(tmp_path)
    assert len(followed) == 2
    file = tmp_path / "cases" / f"{list(CASES).index(NAMES[0]):02d}.json"
    version, _, record = read_any(file)
    for wrong in ({"load_kN": []}, {"z_over_d": None}, {"friction": 0.3}):
        write_record(file, {**record, **wrong}, version)
        before = len(followed)
        run(tmp_path)
        assert len(followed) == before + 1
    file.write_text(file.read_text(encoding="utf-8")[:-9], encoding="utf-8")
    said: list[str] = []
    run(tmp_path, said)
    assert len(followed) == 6 and "not trusted" in said[0]


def test_the_command_prints_cautions_and_one_line_of_an_error(
    followed: list[tuple[float, float]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = ["--out", str(tmp_path / "here")]
    good = CliRunner().invoke(main, ["validate", "--turning", "--only", "0°, open to the sides", *out])
    assert good.exit_code == 0 and "open to the sides" in good.output
    assert "never trust a life" in " ".join(good.output.split())
    bad = CliRunner().invoke(main, ["validate", "--turning", "--only", "sideways", *out])
    assert bad.exit_code == 2 and "--only = 'sideways': must be in one of" in bad.output

    def none(*of: Any, **more: Any) -> TurningChip:
        raise SolveError("no state of the faces")

    monkeypatch.setattr(follow, "follow_turning_chip", none)
    failed = CliRunner().invoke(main, ["validate", "--turning", "--only", "+20°", *out])
    assert failed.exit_code == 1 and "a crack does not come to its end: no state" in failed.output
