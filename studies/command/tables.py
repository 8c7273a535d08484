"""Tables and prose on a screen of any width: lines break between words, no number is ever broken.

A table is tried with a frame, then without, then with keys broken after their dots. If its longest words still do not
fit side by side, each row becomes a block, a line a cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from .plain_text import one_line

if TYPE_CHECKING:
    from rich.console import Console

LONGEST_WORD = 30  # a longer one (of a user's own, or a file's name) may be broken
Cells = Sequence[str]


def print_table(screen: Console, columns: Cells, rows: Sequence[Cells], title: str = "", frame: bool = True) -> None:
    """A table with a title above it; all cells are plain text."""
    if title:
        tell(screen, one_line(title), style="italic")
    broken = [column.replace(".", ". ") for column in columns]
    for framed, heads in ((frame, columns), (False, columns), (False, broken)):
        if widths := fitted(heads, rows, screen.width - (3 * len(columns) + 1 if framed else 2 * len(columns))):
            _print_grid(screen, heads, rows, widths, framed)
            return
    for row in rows:
        _print_block(screen, columns, row)


def tell(screen: Console, text: str, style: str = "") -> None:
    """Prose, broken between words; empty lines stay."""
    for line in text.splitlines() or [""]:
        for part in wrap(line, screen.width, break_on_hyphens=False) or [""]:
            screen.print(part, style=style or None, markup=False, highlight=False, soft_wrap=True)


def fitted(heads: Cells, rows: Sequence[Cells], room: int) -> list[int]:
    """Widths of columns in which no word is broken, in so many characters for all of them; none if they do not fit.

    Each has what its longest word needs; what is left goes to those that want more, the least wish first.
    """
    texts = [[head, *(row[at] for row in rows)] for at, head in enumerate(heads)]
    widths = [max((min(len(word), LONGEST_WORD) for text in of for word in text.split()), default=1) for of in texts]
    left = room - sum(widths)
    if left < 0:
        return []
    wishes = sorted((max(map(len, of)) - width, at) for at, (of, width) in enumerate(zip(texts, widths, strict=True)))
    for number, (wish, at) in enumerate(wishes):
        given = min(max(wish, 0), left // (len(wishes) - number))
        widths[at] += given
        left -= given
    return widths


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
        table.add_row(*map(Text, row))
    screen.print(table)


def _print_block(screen: Console, columns: Cells, row: Cells) -> None:
    """A row as lines: its first cell, then head and cell of those that are not empty."""
    first, *rest = zip(columns, row, strict=True)
    for indent, (head, cell) in (("", first), *(("  ", each) for each in rest)):
        if cell:
            for line in wrap(f"{head}: {cell}", screen.width, initial_indent=indent, subsequent_indent=f"{indent}    "):
                screen.print(line, markup=False, highlight=False, soft_wrap=True)
    screen.print()
