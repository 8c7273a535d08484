"""After the solve nothing raises: whatever a user writes and whichever cases fail, tables, words and pictures come."""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Any

import pytest
from domains import examples
from field_samples import inline
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from rich.console import Console
from studycases import field_tables, records, studies
from studystub import CAUTION

from icecone.fem.errors import SolveError
from icecone.studies.command.day import print_comparison
from icecone.studies.command.screen import print_study
from icecone.studies.field.run_compare import run_compare
from icecone.studies.field.table import read_table
from icecone.studies.figures import chip_paths as chipfigure
from icecone.studies.figures import law as lawfigure
from icecone.studies.figures import stress as figures
from icecone.studies.outcome import wanted
from icecone.studies.outcome.data import LOADS, Outcome
from icecone.studies.outcome.wanted import Found
from icecone.studies.sweep.run import run_study
from icecone.studies.sweep.study import read_study

UNPRINTABLE = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b\u2028\u202a-\u202e]")
FORMULA = re.compile(r"^[=+@-](?![\d.])")


@pytest.fixture(scope="module", autouse=True)
def small_pictures() -> Iterator[None]:
    """Pictures of few pixels, and none of fields, chips or laws, which read files and solve."""
    with pytest.MonkeyPatch.context() as patch:
        whole = Figure.savefig
        patch.setattr(Figure, "savefig", lambda self, *to, **how: whole(self, *to, **{**how, "dpi": 15}))
        solving = ((figures, "stress_strip"), (chipfigure, "chips_by_angle"), (lawfigure, "law_of_study"))
        for module, name in solving:
            patch.setattr(module, name, lambda *arguments: Path(arguments[-1]).write_bytes(b"picture"))
        yield


@contextmanager
def solver(data: st.DataObject) -> Iterator[None]:
    """A stand-in for the solver: none, some or all of the cases come out."""
    fail = data.draw(st.sampled_from((0, 0, 1, 3, 4)), "fail of four")

    def solve(case: dict[str, Any], *_: object) -> tuple[Outcome, None]:
        if data.draw(st.integers(1, 4)) <= fail:
            raise SolveError("a case that does not come out")
        return data.draw(records(case)), None

    solving, files = (ModuleType(f"icecone.studies.{name}") for name in ("outcome.solve", "files.solution"))
    vars(solving).update(solve_case=solve)

    def write(outcome: Outcome, solution: object, at: Path) -> None:
        (at / "outcome.json").write_text("{}")

    def pull(case: dict[str, Any], *_: object) -> tuple[Found, dict[str, str]]:
        if data.draw(st.integers(1, 4)) <= fail:
            raise SolveError("a pull that does not come out")
        load = data.draw(st.sampled_from((0.01, 4.0, 300.0)))
        mode = data.draw(st.sampled_from(("cone", "tube bends", "a mode that nobody knows")))
        loads = {f"{name}_kN": load for name in ("limit", *LOADS)}
        return Found(**loads, limit_mode=mode, peak_mode=mode, peak_at_mm=3.0), {}  # type: ignore[arg-type]

    vars(files).update(write_solution=write)
    with pytest.MonkeyPatch.context() as patch:
        for stub in (solving, files):
            patch.setitem(sys.modules, stub.__name__, stub)
        patch.setattr(wanted, "solve_wanted", pull)
        patch.setattr("icecone.studies.field.predict.workers", inline)
        yield


def study_written(text: str, data: st.DataObject, folder: Path) -> bool:
    """Read a study, solve it by the stand-in, write all and print it into `folder`; whether any case was solved."""
    path, out = folder / "study.toml", folder / "out"
    path.write_text(text, encoding="utf-8")
    with solver(data), (folder / "said").open("w") as said:
        study = read_study(path)
        done = run_study(study, out, Console(file=said, width=132))
        print_study(Console(file=said, width=132), study, done)
    return any(case.outcome for case in done)


def table_written(text: str, data: st.DataObject, folder: Path) -> bool:
    """The same of a field table."""
    path, out = folder / "table.csv", folder / "out"
    path.write_text(text, encoding="utf-8", newline="")
    with solver(data), (folder / "said").open("w") as said:
        found, _ = run_compare(read_table(path), out, Console(file=said, width=132), draws=3)
        print_comparison(Console(file=said, width=132), found)
    return bool(found.measured)


def texts_are_plain(folder: Path) -> None:
    """No control character in any text, no cell that a spreadsheet would run, the caution in every row."""
    for path in (folder / "said", *folder.glob("out/*.csv"), *folder.glob("out/*.txt"), *folder.glob("out/*.md")):
        assert not UNPRINTABLE.findall(path.read_text(encoding="utf-8")), path.name
    for path in folder.glob("out/*.csv"):
        with path.open(newline="", encoding="utf-8") as handle:
            rows = list(csv.DictReader(line for line in handle if not line.startswith("# ")))
        assert rows and (CAUTION in path.read_text() or all(row["caution"] == CAUTION for row in rows))
        assert not [cell for row in rows for cell in row.values() if FORMULA.match(cell)]


def every_study(text: str, data: st.DataObject) -> None:
    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        solved = study_written(text, data, folder)
        texts_are_plain(folder)
        assert (folder / "out/why.txt").exists() == (folder / "out/sweep.png").exists() == solved


def every_table(text: str, data: st.DataObject) -> None:
    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        solved = table_written(text, data, folder)
        texts_are_plain(folder)
        assert (folder / "out/comparison.png").exists() == solved
        assert "<script>" not in (folder / "out/comparison.md").read_text(encoding="utf-8")


@examples(8)
@given(studies(), st.data())
def test_every_study_is_written(text: str, data: st.DataObject) -> None:
    every_study(text, data)


@pytest.mark.slow
@examples(100)
@given(studies(), st.data())
def test_every_study_is_written_tried_at_length(text: str, data: st.DataObject) -> None:
    every_study(text, data)


@examples(5)
@given(field_tables(), st.data())
def test_every_comparison_is_written(text: str, data: st.DataObject) -> None:
    every_table(text, data)


@pytest.mark.slow
@examples(40)
@given(field_tables(), st.data())
def test_every_comparison_is_written_tried_at_length(text: str, data: st.DataObject) -> None:
    every_table(text, data)
