"""Which report a results folder gets: by the command that made its answer and the files that this left.

    solve      outcome.json          study   outcomes.json (few cases), study.sqlite (many), or a design search
    compare    comparison.csv, comparison.md    plan    plan.csv, plan.md
    validate   validation.md, table.csv; the same way whatever else left pages, tables and pictures

Within its folder the report is a file of the answer: the next answer takes it away, so that none tells of another
case. Elsewhere it may replace a report, which its first line tells, and nothing else.
"""

from __future__ import annotations

import errno
from collections.abc import Callable, Sequence
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import Any

from ..case.toml import CaseError
from ..files.answer import MANIFEST, add_to_answer, listed
from ..files.store import Damaged, read_json, write_atomic
from .glossary import glossary
from .page import Page, section
from .render import FIRST_LINE, encoded

NAME = "report.html"
Made = Callable[[Path, Sequence[str]], Page]
KINDS: dict[tuple[str, str], str] = {  # command, a file of its answer: who makes the page
    ("solve", "outcome.json"): "solve:solve_page",
    ("case", "outcome.json"): "solve:solve_page",
    ("study", "outcomes.json"): "study:study_page",
    ("study", "design.png"): "design:design_page",
    ("study", "table.csv"): "many:many_page",
    ("plan", "plan.md"): "plan:plan_page",
    ("compare", "comparison.md"): "compare:compare_page",
    ("validate", "validation.md"): "validate:validate_page",
}

COMMANDS = tuple(dict.fromkeys(command for command, _ in KINDS if command != "case"))


def page_of(folder: Path) -> Page:
    """The page of a folder. Raises CaseError, one line, if it holds no answer that has a report."""
    make, files = _maker(folder)
    try:
        page = make(folder, files)
    except CaseError:
        raise
    except (Damaged, LookupError, TypeError, ValueError) as error:
        raise CaseError(f"DIR = {folder}: its answer cannot be read: {error}") from None
    return replace(page, sections=(*page.sections, *section("words", "Words", glossary())))


def _maker(folder: Path) -> tuple[Made, list[str]]:
    """Who makes the page of a folder, and the files of its answer."""
    files = listed(folder)
    if not files:
        raise CaseError(f"DIR = {folder}: must be a folder with the answer of {', '.join(COMMANDS)}")
    manifest: Any = read_json(folder / MANIFEST)
    command = str(manifest["command"])
    name = next((maker for (of, file), maker in KINDS.items() if of == command and file in files), None)
    if name is None:
        raise CaseError(f"DIR = {folder}: must hold an answer of {', '.join(COMMANDS)}; it is one of {command!r}")
    module, _, function = name.partition(":")
    made: Made = getattr(import_module(f".{module}", __package__), function)
    return made, files


def write_report(folder: Path, path: Path | None = None) -> tuple[Path, int]:
    """Write the report of a folder; its file and size in bytes.

    path : None for NAME within the folder, where it becomes a file of the answer.
    Raises CaseError as `page_of`, OSError if the file cannot be written or is another's, files.lock.Busy.
    """
    if path is not None:
        data = encoded(page_of(folder))
        _check_free(path)
        write_atomic(path, data)
        return path, len(data)
    _maker(folder)  # before the folder is held
    add_to_answer(folder, NAME, lambda: encoded(page_of(folder)))
    return folder / NAME, (folder / NAME).stat().st_size


def _check_free(path: Path) -> None:
    """Raises FileExistsError if there is a file that is no report."""
    if not path.exists():
        return
    if path.is_file():
        with path.open("rb") as file:
            if file.read(len(FIRST_LINE)) == FIRST_LINE.encode():
                return
    raise FileExistsError(errno.EEXIST, "it is there and no report: move it away, or name another file", str(path))
