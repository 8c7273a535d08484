"""A report as plain data: what stands on the page, in order, whatever it is about.

Texts are plain: `render` escapes them. A picture carries in words what it shows; what moves carries its data as plain
JSON, and the page's scripts draw it. Loads in kN, lengths in mm, angles in deg.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar


@dataclass(frozen=True, slots=True)
class Words:
    """Paragraphs, or a list of points."""

    kind: ClassVar[str] = "words"
    lines: tuple[str, ...]
    points: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table. caption : what it holds.  folded : opened by its reader.  sorts : by a press on a column's head."""

    kind: ClassVar[str] = "table"
    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    folded: bool = False
    sorts: bool = True

    @property
    def numbers(self) -> tuple[bool, ...]:
        """For each column whether it holds numbers."""
        return tuple(all(_is_number(row[at]) for row in self.rows) for at in range(len(self.head)))


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of the folder. data : PNG.  shows : in words, with its numbers.  caption : below it."""

    kind: ClassVar[str] = "picture"
    data: bytes
    shows: str
    caption: str


@dataclass(frozen=True, slots=True)
class Copied:
    """A text to be copied. name : of the file that it makes."""

    kind: ClassVar[str] = "copied"
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Moving:
    """What a script draws and sliders move. what : its template.  shows : in words, where it cannot be drawn."""

    kind: ClassVar[str] = "moving"
    what: str
    name: str
    shows: str
    data: Mapping[str, Any]


Block = Words | Table | Picture | Copied | Moving


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the page under one heading."""

    name: str
    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """A report. command : that made the answer.  answer : one sentence or two.  about : the case in a line.

    limits : what the answer does not say.  cautions : first and last on the page.  made : with which versions.
    """

    command: str
    title: str
    question: str
    answer: tuple[str, ...]
    about: str
    cautions: tuple[str, ...]
    sections: tuple[Section, ...]
    limits: tuple[str, ...] = ()
    made: str = ""
    scripts: frozenset[str] = field(default_factory=frozenset)

    @property
    def moving(self) -> dict[str, Mapping[str, Any]]:
        """The data of what moves, by name."""
        blocks = (block for section in self.sections for block in section.blocks)
        return {block.name: block.data for block in blocks if isinstance(block, Moving)}


def section(name: str, heading: str, *blocks: Block | None) -> tuple[Section, ...]:
    """The section, if there is anything in it."""
    found = tuple(block for block in blocks if block is not None and not _empty(block))
    return (Section(name, heading, found),) if found else ()


def cells(row: Sequence[object]) -> tuple[str, ...]:
    """A row of a table as text."""
    from ..command.numbers import short

    return tuple("" if each is None else short(each) if isinstance(each, float) else str(each) for each in row)


def _empty(block: Block) -> bool:
    return (isinstance(block, Words) and not block.lines) or (isinstance(block, Table) and not block.rows)


def _is_number(text: str) -> bool:
    plain = text.replace("−", "-").replace("%", "").strip()
    try:
        float(plain or "0")
    except ValueError:
        return False
    return True
