"""What users write (titles, names of rows, names of files), made fit for the place where it goes.

What cannot be printed is taken out everywhere: control characters, marks that turn the direction of writing, halves of
characters. A table's cell must not begin like a formula, which spreadsheets would run. Markdown must not take the text
for its own marks.
"""

from __future__ import annotations

import re
from math import nan

FORMULA = ("=", "+", "-", "@")
_MARKS = re.compile(r"([\\|<>`\[\]$*])")


def one_line(text: str) -> str:
    """The text on one line, without what cannot be printed; white space of any kind is one blank."""
    return " ".join("".join(c if c.isprintable() else " " if c.isspace() else "" for c in text).split())


def shortened(text: str, most: int) -> str:
    """The text, cut to `most` characters with dots if it is longer."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def sheet_cell(text: str) -> str:
    """The text as a cell of a table: an apostrophe before what a spreadsheet would run, but for numbers."""
    line = one_line(text)
    return f"'{line}" if line.startswith(FORMULA) and not _is_number(line) else line


def markdown(text: str) -> str:
    """The text as Markdown shows it, on one line, its marks as they stand."""
    return _MARKS.sub(r"\\\1", one_line(text))


def _is_number(text: str) -> bool:
    try:
        number = float(text)
    except ValueError:
        number = nan
    return number == number
