"""Shipped laws are what their recipes give, and the script that renews them trusts nothing but that."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from icecone.fem.laws.recipes import RECIPES, Inputs, Law
from icecone.studies.files.renew import SHIPPED, Shipped, difference, is_same, main, shipped_laws
from icecone.studies.files.store import read_any, write_record

KIND = "wall"
LAW = {"kappa": 0.9, "error": 0.01}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three shipped laws of a kind, and one of another, all of other code."""
    walls = [each for each in shipped_laws() if each.name == KIND][:3]
    for each in (*walls, next(each for each in shipped_laws() if each.name == "chip")):
        write_record(tmp_path / each.path.name, each.record, f"{each.name}/of other code")
    return tmp_path


def asked(monkeypatch: pytest.MonkeyPatch, factor: float = 1.0) -> list[Inputs]:
    """Recipes that give what is shipped, numbers times a factor; the inputs that they were asked for."""
    given: list[Inputs] = []

    def shipped(inputs: Inputs) -> Law:
        given.append(inputs)
        law = next(each.record["law"] for each in shipped_laws() if each.record["inputs"] == inputs)
        return {key: [factor * v for v in value] if isinstance(value, list) else factor * value
                for key, value in law.items()}  # fmt: skip

    monkeypatch.setattr(Shipped, "again", lambda self: (shipped(self.record["inputs"]), 1.0))
    return given


def contents(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}


def test_a_check_says_what_is_of_other_code_and_writes_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = contents(folder)
    assert main(["--check"], folder) == 1 and contents(folder) == before
    said = capsys.readouterr().out
    assert "3 of 3 laws are of other code" in said and "1 of 1 laws are of other code" in said
    assert main(["--check"]) == 0


def test_a_proof_signs_all_of_a_kind_and_changes_no_number(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One of a kind is computed; what it gives within round-off is not written either."""
    before, given = {name: read_any(folder / name)[2] for name in contents(folder)}, asked(monkeypatch, 1 + 1e-9)
    assert main(["--prove"], folder) == 0 and len(given) == 2
    assert {name: read_any(folder / name)[2] for name in contents(folder)} == before
    assert main(["--check"], folder) == 0
    assert main(["--prove"], folder) == 0 and len(given) == 2, "nothing is left to prove"


def test_a_proof_that_fails_signs_none(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before, _ = contents(folder), asked(monkeypatch, 1.001)
    assert main(["--prove"], folder) == 1 and contents(folder) == before
    assert "moved by 1.0e-03" in capsys.readouterr().out


def test_laws_of_other_code_are_computed_again_and_others_are_not(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that was stopped goes on where it was."""
    given = asked(monkeypatch, 1.1)
    done = next(each for each in shipped_laws(folder) if each.name == KIND)
    write_record(done.path, done.record, done.now)
    assert main([], folder) == 0 and len(given) == 3 and main(["--check"], folder) == 0
    for each in shipped_laws(folder):
        was = read_any(SHIPPED / each.path.name)[2]["law"]
        assert difference(was, each.record["law"]) == pytest.approx(0.0 if each.path == done.path else 0.1)


def test_a_file_that_is_no_law_is_one_line_and_code_2(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = next(folder.glob("chip-*"))
    path.rename(folder / "chip-0123.json")
    assert main(["--check"], folder) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_what_is_the_same() -> None:
    """No number differs by more than the law's error, nor than a digit of four; lists must fit."""
    assert is_same(LAW, {"kappa": 0.9 * (1 + 1e-4), "error": 0.2})
    assert not is_same(LAW, {"kappa": 0.9 * (1 + 5e-4), "error": 0.01})
    assert not is_same({**LAW, "error": 1e-5}, {"kappa": 0.9 * (1 + 1e-4), "error": 0.01})
    assert not is_same(LAW, {"kappa": [0.9, 0.9], "error": 0.01}) and not is_same(LAW, {"error": 0.01})
    assert difference({"w": "1.0 -0.5"}, {"w": "1.0 -0.4"}) == pytest.approx(0.1)
    assert not is_same(LAW, {"kappa": float("nan"), "error": 0.01})


OTHER_VALUES = """
import json, sys, tomllib
loads = tomllib.loads

def moved(entry):
    if isinstance(entry, dict):
        return {key: entry[key] * 0.9 if key in ("value", "low", "high") else moved(entry[key]) for key in entry}
    return entry

tomllib.loads = lambda text: moved(loads(text))
from icecone.fem.laws.recipes import RECIPES
from icecone.materials import metal_named
print(json.dumps([RECIPES[sys.argv[1]](json.loads(sys.argv[2])), metal_named("chromoly_steel").youngs_modulus]))
"""


@pytest.mark.slow
@pytest.mark.parametrize("name", RECIPES)
def test_a_shipped_law_is_what_its_recipe_gives_now_whatever_the_values_of_materials(name: str) -> None:
    """The cheapest of a kind, computed where all values of ices and metals are 0.9 times ours."""
    one = min((each for each in shipped_laws() if each.name == name), key=lambda each: each.seconds)
    arguments = [sys.executable, "-c", OTHER_VALUES, name, json.dumps(one.record["inputs"])]
    done = subprocess.run(arguments, capture_output=True, text=True, check=True, env=dict(os.environ))
    law, steel = json.loads(done.stdout)
    assert steel < 190e9, "values are others"
    assert is_same(one.record["law"], law)
