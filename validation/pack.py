"""The pack: every check, in the order in which the table shows them.

A file of `checks/` holds a topic and offers `CHECKS`; a new file is added to TOPICS.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import import_module
from importlib.util import find_spec

from .check import Check

TOPICS = ("lame",)


@cache
def pack() -> tuple[Check, ...]:
    """All checks. Raises ValueError where two have the same name."""
    checks = tuple(check for topic in TOPICS for check in import_module(f".checks.{topic}", __package__).CHECKS)
    names = [check.name for check in checks]
    if len(set(names)) < len(names):
        raise ValueError(f"checks of the same name: {sorted({name for name in names if names.count(name) > 1})}")
    return checks


def chosen(names: Sequence[str]) -> tuple[Check, ...]:
    """The checks of these names or groups, all where there are none. Raises ValueError for an unknown name."""
    known = {check.name for check in pack()} | {check.group for check in pack()}
    for name in names:
        if name not in known:
            raise ValueError(f"only = {name!r}: must be a check or a group: {', '.join(sorted(known))}")
    return tuple(check for check in pack() if not names or check.name in names or check.group in names)


def missing(check: Check) -> tuple[str, ...]:
    """Packages that the check needs and that are not installed."""
    return tuple(name for name in check.needs if find_spec(name) is None)
