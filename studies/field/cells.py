"""Cells of a table of pulls as a file holds them: CSV of any spreadsheet, XLSX, Parquet.

    CSV        commas, semicolons or tabs; UTF-8, with or without a byte order mark, UTF-16, or Windows-1252; lines that
               begin with # above the header are left out; decimal commas where commas do not part the cells
    XLSX       the first sheet, rows counted as the spreadsheet counts them             (pandas, openpyxl)
    Parquet    a row a pull                                                              (pandas, pyarrow)

What was taken for granted in reading is said: a reader of the answer may know better.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import isnan
from pathlib import Path
from typing import Any

from ..case.toml import CaseError, read_bytes
from .columns import is_number, writes_comma, writes_point

MARKS = {",": "commas", ";": "semicolons", "\t": "tabs"}
MINUS = "−"  # as typesetters and some spreadsheets write it
SHEETS, COLUMN_FILES = (".xlsx", ".xlsm"), (".parquet", ".pq")


@dataclass(frozen=True, slots=True)
class Cells:
    """Header, rows with the line where each begins, and what was taken for granted, a sentence each."""

    header: tuple[str, ...]
    line: int
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    said: tuple[str, ...]


def read_cells(path: Path, numeric: Callable[[str], bool] = is_number) -> Cells:
    """The cells of a file; numeric : whether a column may hold numbers.

    Raises CaseError, with the line if there is one.
    """
    suffix = path.suffix.lower()
    if suffix in (*SHEETS, *COLUMN_FILES):
        return _plain(path, iter(_of_pandas(path, suffix)), [])
    text, said = _text(path)
    mark, text = _mark(text)
    if mark != ",":
        said.append(f"cells are parted by {MARKS[mark]}")
    cells = _plain(path, _records(path, text, mark), said)
    return _points(cells, mark, numeric)


def _text(path: Path) -> tuple[str, list[str]]:
    data = read_bytes(path)
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16"), ["the file is in UTF-16"]
        except UnicodeDecodeError:
            raise CaseError(f"{path}: begins as UTF-16 and is not: save the file as UTF-8") from None
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
    try:
        return data.decode("cp1252"), [f"line {line} is not in UTF-8: the file was read as Windows-1252"]
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        byte = data[error.start]
        raise CaseError(f"{path}:{line}: byte 0x{byte:02x} is no text: save the file as UTF-8") from None


def _mark(text: str) -> tuple[str, str]:
    """What parts the cells, by the header; a line `sep=;` that a spreadsheet puts first is left empty."""
    for line in text.splitlines():
        bare = line.strip().lower()
        if bare.startswith("sep=") and len(bare) == 5 and bare[4] in MARKS:
            return bare[4], text.replace(line, "", 1)
        if bare and not bare.startswith("#"):
            first = next(iter(csv.reader([line.replace('"', "")])), [])
            return (",", text) if len(first) > 1 else (max(MARKS, key=line.count), text)
    return ",", text


def _records(path: Path, text: str, mark: str) -> Iterator[tuple[int, list[str]]]:
    """Records with the line where each begins."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    line, above = 1, True
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells) and not (above and cells[0].lstrip().startswith("#")):
                above = False
                yield line, cells
            line = reader.line_num + 1
    except csv.Error as error:
        raise CaseError(f"{path}:{line}: not valid CSV: {error}") from None


def _of_pandas(path: Path, suffix: str) -> list[tuple[int, list[str]]]:
    read_bytes(path)  # that it can be read, and is not too large
    try:
        import pandas

        if suffix in SHEETS:
            values = pandas.read_excel(path, header=None, dtype=object).to_numpy().tolist()
        else:
            table = pandas.read_parquet(path)
            values = [list(map(str, table.columns)), *table.to_numpy(dtype=object).tolist()]
    except ImportError:
        raise CaseError(f"{path}: needs pandas: pip install 'icecone[tables]'") from None
    except Exception as error:  # of many readers, each with its own kinds
        raise CaseError(f"{path}: cannot be read as {suffix[1:].upper()}: {type(error).__name__}") from None
    found = [(number, [_shown(value) for value in row]) for number, row in enumerate(values, start=1)]
    return [(number, row) for number, row in found if any(cell.strip() for cell in row)]


def _shown(value: Any) -> str:
    if value is None or (isinstance(value, float) and isnan(value)) or str(value) in ("<NA>", "NaT"):
        return ""
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def _plain(path: Path, records: Iterator[tuple[int, list[str]]], said: list[str]) -> Cells:
    """Header and rows, without columns that are empty all the way down."""
    line, header = next(records, (1, []))
    names, rows = [name.strip() for name in header], list(records)
    while names and not names[-1] and all(len(cells) < len(names) or not cells[-1].strip() for _, cells in rows):
        rows = [(number, cells[: len(names) - 1]) for number, cells in rows]
        names.pop()
    if any(MINUS in cell for _, cells in rows for cell in cells if cell.strip().startswith(MINUS)):
        said = [*said, f"a minus written {MINUS} is one"]
        rows = [(number, [_minus(cell) for cell in cells]) for number, cells in rows]
    return Cells(tuple(names), line, tuple((number, tuple(cells)) for number, cells in rows), tuple(said))


def _minus(cell: str) -> str:
    text = cell.strip()
    number = text.startswith(MINUS) and (writes_comma(text[1:]) or text[1:].replace(".", "", 1).isdigit())
    return f"-{text[1:]}" if number else cell


def _points(cells: Cells, mark: str, numeric: Callable[[str], bool]) -> Cells:
    """Decimal commas as points, where they part no cells and the file writes no points."""
    numbers = [k for k, name in enumerate(cells.header) if numeric(name)]
    found = [row[k].strip() for _, row in cells.rows for k in numbers if k < len(row)]
    if mark == "," or not any(map(writes_comma, found)) or any(map(writes_point, found)):
        return cells
    rows = tuple(
        (line, tuple(c.replace(",", ".") if k in numbers and writes_comma(c.strip()) else c for k, c in enumerate(row)))
        for line, row in cells.rows
    )
    return Cells(cells.header, cells.line, rows, (*cells.said, "numbers are written with decimal commas"))
