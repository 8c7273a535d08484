"""Rows of a CSV that a command wrote, its remarks left out, and the cases that they stand for."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from ..case.file import KEYS, CaseError, Settings, settings_from
from ..case.keys import FLUSH
from ..command.numbers import short

DEPTH = "placement.embedment_mm"


def read_rows(path: Path) -> list[dict[str, str]]:
    """Rows by the names of the columns."""
    lines = [line for line in path.read_text(encoding="utf-8").splitlines(keepends=True) if not line.startswith("#")]
    return list(csv.DictReader(lines))


def number(row: dict[str, str], name: str) -> float | None:
    """A cell as a number; None where there is none."""
    try:
        return float(row.get(name) or "")
    except ValueError:
        return None


def told(cell: str) -> str:
    """A cell as a page shows it: a number with its first three digits."""
    try:
        return short(float(cell))
    except ValueError:
        return cell


def settings_of(given: dict[str, Any]) -> Settings:
    """A whole case from some of its keys; the default placement where they do not go together."""
    try:
        return settings_from({key: value for key, value in given.items() if key in KEYS})
    except CaseError:
        return settings_from({})


def case_of(row: dict[str, str]) -> Settings:
    """The case of a row whose columns are named as keys; what is left open is as in a case file."""
    given: dict[str, Any] = {}
    for key, known in KEYS.items():
        if (text := row.get(key)) and text != FLUSH:
            value = number(row, key)
            given[key] = text if value is None or known.low is None else value
    return settings_of(given)
