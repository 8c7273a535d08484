"""TOML files of the users: read whole or not at all, with errors on one line that name file, line, key and value."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

LARGEST_BYTES = 5_000_000
LONGEST_SHOWN = 60

_PART = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"\s*\[\[?\s*({_DOTTED})\s*\]")
_KEY = re.compile(rf"\s*({_DOTTED})\s*=")
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


class CaseError(ValueError):
    """Bad input, told in one line for the person who wrote it."""

    def __init__(self, message: str) -> None:
        super().__init__("".join(c if c.isprintable() else repr(c)[1:-1] for c in message))


def shown(value: object) -> str:
    """A value as an error message repeats it: numbers short, words in quotes, nothing longer than a line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.10g}"
    try:
        text = repr(value)
    except ValueError:  # an integer of thousands of digits
        text = "a very long number"
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."


def did_you_mean(word: str, known: Mapping[str, str]) -> str:
    """`; did you mean ...?` with what the closest known word stands for, or nothing."""
    match = get_close_matches(word, known, n=1, cutoff=0.6)
    return f"; did you mean {known[match[0]]}?" if match else ""


@dataclass(frozen=True, slots=True)
class TomlFile:
    """A TOML file as read: `data` its tables, `text` as written (for line numbers)."""

    path: Path
    text: str
    data: dict[str, Any]

    def where(self, *parts: str) -> str:
        """`file:line: ` of the key or table with these parts; `file: ` if it is not spelled out."""
        line = _line_of(self.text, parts)
        return f"{self.path}:{line}: " if line else f"{self.path}: "


def read_bytes(path: Path) -> bytes:
    """What a file of a user holds. Raises CaseError if it cannot be read or is too large."""
    try:
        with path.open("rb") as handle:
            data = handle.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise CaseError(f"{path}: cannot be read: {error.strerror or error}") from None
    except ValueError as error:  # a zero byte in the path
        raise CaseError(f"{path}: cannot be read: {error}") from None
    if len(data) > LARGEST_BYTES:
        raise CaseError(f"{path}: too large: must be at most {LARGEST_BYTES // 1_000_000} MB")
    return data


def read_text(path: Path) -> str:
    """The text of a UTF-8 file (a byte order mark is left out). Raises CaseError if it cannot be read."""
    data = read_bytes(path)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        byte = data[error.start]
        raise CaseError(f"{path}:{line}: byte 0x{byte:02x} is not UTF-8 text: save the file as UTF-8") from None


def read_toml(path: Path) -> TomlFile:
    """Read a TOML file. Raises CaseError, with the line if there is one."""
    text = read_text(path)
    try:
        return TomlFile(path, text, tomllib.loads(text))
    except RecursionError:
        raise CaseError(f"{path}: not valid TOML: nested too deeply") from None
    except ValueError as error:
        raise CaseError(_broken(path, text, str(error))) from None


def _broken(path: Path, text: str, message: str) -> str:
    """One line for a file that is not TOML: where, what is written there, and what is wrong with it."""
    lines = text.replace("\r\n", "\n").split("\n")
    place = _PLACE.search(message)
    number = int(place[1]) if place and place[1] else len(lines)
    reason = _PLACE.sub("", message)
    if "overwrite" in reason or "twice" in reason:
        reason += " (given twice)"
    while number > 1 and number >= len(lines) and not lines[number - 1].strip():
        number -= 1  # the end of the document: show the last line that says something
    written = lines[number - 1].strip() if number <= len(lines) else ""
    return f"{path}:{number}: not valid TOML: {reason}, in {shown(written)}"


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in re.findall(_PART, dotted))


def _line_of(text: str, parts: tuple[str, ...]) -> int | None:
    """Line (from 1) where a key or table is written; the nearest table above it if it stands in an inline table."""
    table: tuple[str, ...] = ()
    best, depth = None, 0
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = found = _parts(header[1])
        elif key := _KEY.match(line):
            found = (*table, *_parts(key[1]))
        else:
            continue
        common = min(len(found), len(parts))
        if found[:common] == parts[:common] and common > depth:
            best, depth = number, common
    return best
