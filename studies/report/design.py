"""The report of a design search: the lightest tube that meets a demand, every tube tried, the words of the search."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from ..files.store import read_json
from ..outcome.cautions import CAUTION, PULL_CAUTION
from .page import Page, Table, Words, section
from .rows import read_rows
from .told import pictures


def design_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a design search. Raises ValueError if its words are not as they are written."""
    title, question, _, *lines = (folder / "why.txt").read_text(encoding="utf-8").splitlines()
    said = [line for line in lines if line and line not in (CAUTION, PULL_CAUTION)]
    if not said:
        raise ValueError("why.txt: no answer")
    first, *more = re.split(r"(?<=[.;]) (?=[A-Z])", said[0])
    rows = read_rows(folder / "table.csv")
    points = [line.removeprefix("- ") for line in said[1:]]
    table = (
        Table("Every tube that was tried", tuple(rows[0]), tuple(tuple(row.values()) for row in rows)) if rows else None
    )
    made = read_json(folder / "manifest.json")["icecone"]
    return Page(
        command="study",
        title=title,
        question=question,
        answer=(first, *more[-1:]),
        limits=tuple(more[:-1]),
        about=title,
        cautions=(PULL_CAUTION, CAUTION),
        sections=(
            *section("tubes", "The tubes", *pictures(folder, files, said[0]), table),
            *section("why", "How it was found", Words(tuple(points), points=True)),
        ),
        made=f"Made with icecone {made}.",
    )
