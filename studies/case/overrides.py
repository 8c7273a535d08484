"""`KEY=VALUE` of a command line."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from typing import Any

from .toml import CaseError, shown


def parse_overrides(overrides: Iterable[str]) -> dict[str, Any]:
    """`KEY=VALUE` arguments as flat unchecked values: a VALUE that reads as TOML is that, anything else is a word."""
    given: dict[str, Any] = {}
    for text in overrides:
        name, equals, written = (part.strip() for part in text.partition("="))
        if not equals or not name or not written:
            raise CaseError(f"--set {shown(text)}: must be KEY=VALUE, for example --set placement.angle_deg=-10")
        if name in given:
            raise CaseError(f"--set {name} = {shown(written)}: given twice on the command line")
        value: Any = written
        if "\n" not in written:
            try:
                value = tomllib.loads(f"value = {written}")["value"]
            except (ValueError, RecursionError):
                value = written
        given[name] = value
    return given
