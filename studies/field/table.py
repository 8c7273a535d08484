"""Tables of field pulls: CSV with a header, one pull (or the mean of n pulls) a row, an empty cell is unknown.

Every bad row is reported by file, line and column, all of them at once; the good rows are handed out only when told to
leave the bad ones out.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from ..case.toml import CaseError, did_you_mean, read_text, shown
from ..command.plain_text import one_line

FLAGS = ("published", "common practice", "from memory", "invented")
ATTACHMENTS = ("eye", "tied_off")
# what a pull can be at all; what the model can take is the case file's business
NUMBERS: dict[str, tuple[float, float]] = {
    "tube_length_mm": (1, 1000),
    "tube_od_mm": (1, 100),
    "embedment_mm": (0, 1000),
    "angle_deg": (-90, 90),
    "pull_direction_deg": (0, 180),
    "crust_mm": (0, 1000),
    "temperature_C": (-80, 0),
    "peak_kN": (0, 1000),
    "sd_kN": (0, 1000),
}
LARGEST_N = 1_000_000
WORDS: dict[str, tuple[str, ...]] = {"attachment": ATTACHMENTS, "flag": FLAGS}
NEEDED = ("id", "source", "flag")
COLUMNS = (
    "id",
    "source",
    "tube_length_mm",
    "tube_od_mm",
    "embedment_mm",
    "angle_deg",
    "pull_direction_deg",
    "attachment",
    "ice",
    "crust_mm",
    "temperature_C",
    "rate",
    "peak_kN",
    "n",
    "sd_kN",
    "mode",
    "flag",
)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


class TableError(ValueError):
    """A table with bad rows; `problems` has one line for each."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a field table, None if unknown; the unit is the end of each name. `line` in its file."""

    id: str
    source: str
    flag: str
    line: int
    tube_length_mm: float | None = None
    tube_od_mm: float | None = None
    embedment_mm: float | None = None
    angle_deg: float | None = None
    pull_direction_deg: float | None = None
    attachment: str | None = None
    ice: str | None = None
    crust_mm: float | None = None
    temperature_C: float | None = None
    rate: str | None = None
    peak_kN: float | None = None
    n: int | None = None
    sd_kN: float | None = None
    mode: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """The good rows of a file, and one line for each bad cell that was left out."""

    path: Path
    rows: tuple[Row, ...]
    problems: tuple[str, ...]


def shipped_tables() -> dict[str, Path]:
    """Field tables that come with the package, by name."""
    folder = files("icecone.validation") / "field"
    return {Path(item.name).stem: Path(str(item)) for item in folder.iterdir() if item.name.endswith(".csv")}


def read_table(path: Path, skip_bad: bool = False) -> Table:
    """Read a field table.

    Raises CaseError if the file or its header is bad, TableError with every bad cell if a row is bad and
    `skip_bad` is not set.
    """
    records = _records(path)
    _, header = next(records, (1, []))
    names = [name.strip() for name in header]
    _check_header(path, names)
    rows: list[Row] = []
    problems: list[str] = []
    seen: dict[str, int] = {}
    for line, cells in records:
        if not any(cell.strip() for cell in cells):
            continue
        row, wrong = _row(line, names, cells)
        if row is not None and row.id in seen:
            wrong.append(f"column id = {shown(row.id)}: must be unique: line {seen[row.id]} has it too")
        problems += [str(CaseError(f"{path}:{line}: {text}")) for text in wrong]
        if row is not None:
            seen.setdefault(row.id, line)
            if not wrong:
                rows.append(row)
    if problems and not skip_bad:
        raise TableError(tuple(problems))
    if not rows:
        raise CaseError(f"{path}: no row to read: must have a header and one good row or more")
    return Table(path, tuple(rows), tuple(problems))


def _records(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Records of a CSV file with the line where each begins."""
    reader = csv.reader(io.StringIO(read_text(path), newline=""), strict=True)
    line = 1
    try:
        for cells in reader:
            yield line, cells
            line = reader.line_num + 1
    except csv.Error as error:
        raise CaseError(f"{path}:{line}: not valid CSV: {error}") from None


def _check_header(path: Path, names: list[str]) -> None:
    for name in names:
        if name not in COLUMNS:
            hint = did_you_mean(name, {column: column for column in COLUMNS})
            raise CaseError(f"{path}:1: column {shown(name)}: unknown: must be one of {', '.join(COLUMNS)}{hint}")
        if names.count(name) > 1:
            raise CaseError(f"{path}:1: column {name}: must not be given twice")
    if missing := [column for column in COLUMNS if column not in names]:
        raise CaseError(f"{path}:1: column {', '.join(missing)}: missing: the header must be {', '.join(COLUMNS)}")


def _row(line: int, names: list[str], cells: list[str]) -> tuple[Row | None, list[str]]:
    """The row, or as much as has an id, and what is wrong with it."""
    if len(cells) != len(names):
        return None, [f"{len(cells)} cells: must be {len(names)}, one a column (quote a text that has a comma)"]
    values: dict[str, str | float | int] = {}
    wrong: list[str] = []
    for name, cell in zip(names, cells, strict=True):
        text = cell.strip()
        if not one_line(text):
            if name in NEEDED:
                wrong.append(f"column {name} = '': must not be empty")
            continue
        try:
            values[name] = _cell(name, text)
        except ValueError as error:
            wrong.append(f"column {name} = {shown(text)}: {error}")
    if "id" not in values:
        return None, wrong
    return Row(line=line, **{"source": "", "flag": "", **values}), wrong  # type: ignore[arg-type]


def _cell(name: str, text: str) -> str | float | int:
    """The value of a cell that is not empty. Raises ValueError that says what is allowed."""
    if name in NUMBERS:
        low, high = NUMBERS[name]
        if not _NUMBER.fullmatch(text) or not low <= float(text) <= high:
            raise ValueError(f"must be a number between {low:g} and {high:g}, or empty")
        return float(text) + 0.0
    if name == "n":
        if not re.fullmatch(r"\d{1,7}", text, re.ASCII) or not 1 <= int(text) <= LARGEST_N:
            raise ValueError(f"must be a whole number between 1 and {LARGEST_N}, or empty")
        return int(text)
    if name in WORDS and text not in WORDS[name]:
        raise ValueError(f"must be one of {', '.join(WORDS[name])}" + ("" if name in NEEDED else ", or empty"))
    return one_line(text)
