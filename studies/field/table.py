"""A table of pulls: one pull (or the mean of n pulls) a row, for plan, field sheet and results alike (`columns`).

Every bad cell is reported by file, line and column, all of them at once; the good rows are handed out only when told to
leave the bad ones out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from ..case.toml import CaseError, shown
from ..command.plain_text import one_line
from .cells import Cells, read_cells
from .columns import COLUMNS, ENDED, GAVE_WAY, NOT_PULLED, OTHERWISE, PLANNED, cell, header_problem, key_of

MOST = 100_000


class TableError(ValueError):
    """A table with bad rows; `problems` has one line for each."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


@dataclass(frozen=True, slots=True)
class Row:
    """One row, None if unknown; the unit is the end of each name.

    line : in its file.  given : keys of the case that it states, unchecked where the column has a short name.
    """

    id: str
    line: int
    given: Mapping[str, Any] = field(default_factory=dict)
    source: str = ""
    flag: str = "measured"
    replicate: int | None = None
    notes: str = ""
    x_mm: float | None = None
    y_mm: float | None = None
    angle_measured_deg: float | None = None
    angle_error_deg: float | None = None
    depth_measured_mm: float | None = None
    depth_error_mm: float | None = None
    rate: str | None = None
    time_to_peak_s: float | None = None
    peak_kN: float | None = None
    n: int | None = None
    sd_kN: float | None = None
    movement_mm: float | None = None
    ended: str | None = None
    mode: str | None = None

    @property
    def is_bound(self) -> bool:
        """Whether something else than tube or ice ended the pull: its peak is at least what was measured."""
        return self.ended in OTHERWISE

    @property
    def seen(self) -> str:
        """What was seen to give way, in words."""
        return self.mode or self.ended or ""

    @property
    def is_measured(self) -> bool:
        """Whether it holds a load."""
        return bool(self.peak_kN) and self.ended != NOT_PULLED


@dataclass(frozen=True, slots=True)
class Table:
    """The good rows of a file, one line for each bad cell that was left out, and what reading took for granted.

    header, cells : the columns as they stand in the file, and each good row's cells, to be written back.
    """

    path: Path
    rows: tuple[Row, ...]
    problems: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    header: tuple[str, ...] = ()
    cells: tuple[tuple[str, ...], ...] = ()


def shipped_tables() -> dict[str, Path]:
    """Tables of pulls that come with the package, by name."""
    folder = files("icecone.validation") / "field"
    return {Path(item.name).stem: Path(str(item)) for item in folder.iterdir() if item.name.endswith(".csv")}


def read_table(path: Path, skip_bad: bool = False) -> Table:
    """Read a table of pulls.

    Raises CaseError if the file or its header is bad, TableError with every bad cell if a row is bad and
    `skip_bad` is not set.
    """
    read = read_cells(path)
    if problem := header_problem(list(read.header)):
        raise CaseError(f"{path}:{read.line}: {problem}")
    if len(read.rows) > MOST:
        raise CaseError(f"{path}: {len(read.rows)} rows: must be at most {MOST}")
    rows: list[Row] = []
    kept: list[tuple[str, ...]] = []
    problems: list[str] = []
    seen: dict[str, int] = {}
    for line, cells in read.rows:
        row, wrong = _row(line, read.header, cells)
        if row is not None and row.id in seen:
            wrong.append(f"column id = {shown(row.id)}: must be unique: line {seen[row.id]} has it too")
        problems += [str(CaseError(f"{path}:{line}: {text}")) for text in wrong]
        if row is not None:
            seen.setdefault(row.id, line)
            if not wrong:
                rows.append(row)
                kept.append(cells)
    if problems and not skip_bad:
        raise TableError(tuple(problems))
    if not rows:
        raise CaseError(f"{path}: no row to read: must have a header and one good row or more")
    return Table(path, tuple(rows), tuple(problems), _said(read, rows), read.header, tuple(kept))


def _said(read: Cells, rows: list[Row]) -> tuple[str, ...]:
    """What was taken for granted, with what the table leaves open of its numbers."""
    if "flag" in read.header or not any(row.is_measured for row in rows):
        return read.said
    return (*read.said, "no column flag: all rows count as measured")


def _row(line: int, names: tuple[str, ...], cells: tuple[str, ...]) -> tuple[Row | None, list[str]]:
    """The row, or as much as has an id, and what is wrong with it."""
    if len(cells) != len(names):
        return None, [f"{len(cells)} cells: must be {len(names)}, one a column (quote a text that has a comma)"]
    values: dict[str, Any] = {}
    given: dict[str, Any] = {}
    wrong: list[str] = []
    for name, written in zip(names, cells, strict=True):
        text = written.strip()
        if name.startswith(PLANNED):
            continue
        if not one_line(text):
            if name == "id":
                wrong.append("column id = '': must not be empty")
            continue
        try:
            value = cell(name, text)
        except ValueError as error:
            wrong.append(f"column {name} = {shown(text)}: {error}")
            continue
        if name in COLUMNS:
            values[name] = value
        else:
            given[key_of(name) or name] = value
    if not wrong and (problem := _together(values)):
        wrong.append(problem)
    if "id" not in values:
        return None, wrong
    return Row(line=line, given=given, **values), wrong


def _together(values: Mapping[str, Any]) -> str:
    """What of a row does not go together, "" if all does."""
    ended, peak = values.get("ended"), values.get("peak_kN")
    if ended == NOT_PULLED and peak is not None:
        return f"column ended = {shown(ended)}: must be one of {', '.join(ENDED[:-1])} where peak_kN is given"
    if ended in (*GAVE_WAY, *OTHERWISE) and peak is None:
        return f"column peak_kN = '': must be given where ended = {shown(ended)}"
    for name in ("sd_kN", "movement_mm"):
        if name in values and peak is None:
            return f"column {name} = {shown(values[name])}: must be empty where peak_kN is"
    return ""
