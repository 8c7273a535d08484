"""Tables and prose on a screen of any width: lines break between words, no number is broken, nor torn from its unit.

A table is tried with a frame, then without, then with keys broken after their dots, then without its last columns as
far as these may go. If its longest words still do not fit side by side, each row becomes a block, a line a cell.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from .plain_text import one_line

if TYPE_CHECKING:
    from rich.console import Console

LONGEST_WORD = 30  # a longer one (of a user's own, or a file's name) may be broken
UNITS = r"%|°C|deg|kN|mm|mm/kN|N|MPa|GPa|kPa|g|kJ|s|times"
_UNIT = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?![\w/]))")
BOUND = "\xa0"  # a blank at which no line breaks
Cells = Sequence[str]


def print_table(
    screen: Console,
    columns: Cells,
    rows: Sequence[Cells],
    title: str = "",
    frame: bool = True,
    least: int | None = None,
) -> None:
    """A table with a title above it; all cells are plain text. least : columns that stay, however narrow the screen."""
    if title:
        tell(screen, one_line(title), style="italic")
    broken = [column.replace(".", ". ") for column in columns]
    for framed, heads in ((frame, columns), (False, columns), (False, broken)):
        if widths := fitted(heads, rows, screen.width - (3 * len(columns) + 1 if framed else 2 * len(columns))):
            _print_grid(screen, heads, rows, widths, framed)
            return
    for stay in range(len(columns) - 1, len(columns) if least is None else least - 1, -1):
        few = [row[:stay] for row in rows]
        if widths := fitted(broken[:stay], few, screen.width - 2 * stay):
            _print_grid(screen, broken[:stay], few, widths, False)
            tell(screen, f"Too narrow for: {', '.join(columns[stay:])}; see table.csv.")
            return
    for row in rows:
        _print_block(screen, columns, row)


def tell(screen: Console, text: str, style: str = "") -> None:
    """Prose, broken between words; empty lines stay."""
    for line in text.splitlines() or [""]:
        for part in broken_into(line, screen.width) or [""]:
            screen.print(part, style=style or None, markup=False, highlight=False, soft_wrap=True)


def broken_into(text: str, width: int, indent: str = "", hanging: str = "") -> list[str]:
    """The text in lines of that width, broken between words, a number beside its unit."""
    bound = _UNIT.sub(BOUND, text)
    lines = wrap(bound, width, break_on_hyphens=False, initial_indent=indent, subsequent_indent=hanging)
    return [line.replace(BOUND, " ") for line in lines]


def fitted(heads: Cells, rows: Sequence[Cells], room: int) -> list[int]:
    """Widths of columns in which no word is broken, in so many characters for all of them; none if they do not fit.

    Each has what its longest word needs; what is left goes to those that want more, the least wish first. Of two
    columns the first is as wide as makes the table short.
    """
    texts = [[_UNIT.sub(BOUND, text) for text in (head, *(row[at] for row in rows))] for at, head in enumerate(heads)]
    widths = [max((min(len(word), LONGEST_WORD) for text in of for word in text.split(" ")), default=1) for of in texts]
    left = room - sum(widths)
    if left < 0:
        return []
    if len(heads) == 2:
        return _shortest(texts, widths, left)
    wishes = sorted((max(map(len, of)) - width, at) for at, (of, width) in enumerate(zip(texts, widths, strict=True)))
    for number, (wish, at) in enumerate(wishes):
        given = min(max(wish, 0), left // (len(wishes) - number))
        widths[at] += given
        left -= given
    return widths


def _shortest(texts: Sequence[Cells], widths: Sequence[int], left: int) -> list[int]:
    """Widths of two columns with which the rows take the fewest lines; of equal ones, the widest first column."""
    first, second = (max(map(len, of)) for of in texts)
    most = sum(widths) + left

    def lines(wide: int) -> tuple[int, int]:
        rows = zip(*texts, strict=True)
        return sum(max(len(wrap(a, wide)), len(wrap(b, most - wide))) for a, b in rows), -wide

    wide = min(range(widths[0], min(widths[0] + left, max(first, widths[0])) + 1), key=lines)
    return [wide, max(min(second, most - wide), widths[1])]


def _print_grid(screen: Console, heads: Cells, rows: Sequence[Cells], widths: Sequence[int], framed: bool) -> None:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = (
        Table(box=box.HEAVY_HEAD)
        if framed
        else Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    )
    for head, width in zip(heads, widths, strict=True):
        table.add_column(Text(head), overflow="fold", width=width)
    for row in rows:
        table.add_row(*(Text("\n".join(broken_into(cell, width))) for cell, width in zip(row, widths, strict=True)))
    screen.print(table)


def _print_block(screen: Console, columns: Cells, row: Cells) -> None:
    """A row as lines: its first cell, then head and cell of those that are not empty."""
    first, *rest = zip(columns, row, strict=True)
    for indent, (head, cell) in (("", first), *(("  ", each) for each in rest)):
        if cell:
            for line in broken_into(f"{head}: {cell}", screen.width, indent, f"{indent}    "):
                screen.print(line, markup=False, highlight=False, soft_wrap=True)
    screen.print()
