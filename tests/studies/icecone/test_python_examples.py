"""The Python of the READMEs and of the docstrings runs, and says what the text claims."""

from __future__ import annotations

import doctest
import os
import re
from pathlib import Path
from typing import Any

import pytest

from icecone import answers, cases, many, pulls
from icecone.studies.sweep import tables

TOP = Path(__file__).resolve().parents[3]


def blocks(page: str) -> list[str]:
    return re.findall(r"```python\n(.*?)```", (TOP / page).read_text(encoding="utf-8"), flags=re.DOTALL)


@pytest.mark.slow
def test_the_python_of_the_studies_page_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Seven examples in one session, on shipped laws; what was handed in changes the answer."""
    monkeypatch.setenv("ICECONE_LAWS", os.fspath(tmp_path / "laws"))
    monkeypatch.chdir(tmp_path)
    session: dict[str, Any] = {}
    said = []
    for block in blocks("studies/README.md"):
        exec(block, session)
        said.append(capsys.readouterr().out)
    study, day, cold, factors, hinge, weak, onset = said
    assert day.startswith("3.88") and "lever-out" in day
    assert study.count(" kN: ") == 3 and (tmp_path / "angles.png").exists()
    usual = answers.solve(level="quick")
    assert repr(usual) not in (cold.strip(), weak.strip()) and cold.startswith("Outcome(limit ")
    peaks = [float(line.split()[1]) for line in factors.splitlines()]
    assert peaks == sorted(peaks) and peaks[0] < peaks[1] == usual.peak_kN
    assert usual.first_hinge_kN is not None and float(hinge) > usual.first_hinge_kN
    assert float(onset) > usual.onset_kN, "shear breaks the upright tube's ice first"
    assert not (tmp_path / "laws").exists(), "all laws were shipped"


@pytest.mark.slow
def test_the_python_of_the_front_page_says_what_the_page_says(capsys: pytest.CaptureFixture[str]) -> None:
    (block,) = blocks("README.md")
    exec(block, {})
    assert capsys.readouterr().out.strip() in (TOP / "README.md").read_text(encoding="utf-8")


def test_examples_of_cases_run() -> None:
    found = doctest.testmod(cases)
    assert found.attempted >= 4 and found.failed == 0


@pytest.mark.slow
def test_examples_of_answers_run() -> None:
    found = doctest.testmod(answers)
    assert found.attempted >= 5 and found.failed == 0


@pytest.mark.parametrize("module", [many, tables, pulls])
def test_examples_of_many_cases_run(module: Any) -> None:
    found = doctest.testmod(module)
    assert found.attempted >= 1 and found.failed == 0
