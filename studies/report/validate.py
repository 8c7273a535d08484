"""The report of the validation pack: how many checks agree, a table a group, sources, the pictures of the errors."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..outcome.cautions import CAUTION
from .our_pages import read_page
from .page import Page, Section, Table, section
from .told import pictures

SCOPE = "These checks say that the equations are solved right; how well they describe ice, tables of pulls have to say."


def validate_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a validation."""
    found = read_page((folder / "validation.md").read_text(encoding="utf-8"))
    return Page(
        command="validate",
        title=found.title,
        question="Does icecone solve its equations right, how right, and against whom?",
        answer=(found.answer, SCOPE),
        about=found.title,
        cautions=(CAUTION,),
        sections=(
            *section("errors", "Errors at a glance", *pictures(folder, files, found.answer)),
            *section("read", "How to read the tables", *found.before),
            *map(_filled, found.sections),
        ),
    )


def _filled(part: Section) -> Section:
    """The name of a check in each of its rows, so that a table can be sorted."""
    blocks = tuple(_with_names(block) if isinstance(block, Table) else block for block in part.blocks)
    return Section(part.name, part.heading, blocks)


def _with_names(table: Table) -> Table:
    rows, name = [], ""
    for row in table.rows:
        name = row[0] or name
        rows.append((name, *row[1:]))
    return Table(table.caption, table.head, tuple(rows))
