"""The pack: every check, in the order in which the table shows them.

A file of `checks/<group>/` holds a topic and offers `CHECKS`; files are found, in the order of their names.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pkgutil import walk_packages
from time import monotonic

from . import checks
from .check import Check, Measured, Quantity

TOPICS = tuple(module.name for module in walk_packages(checks.__path__, checks.__name__ + ".") if not module.ispkg)
PASSED, FAILED, NOT_RUN = "pass", "FAIL", "not run"


@cache
def pack() -> tuple[Check, ...]:
    """All checks. Raises ValueError if two have the same name."""
    found = tuple(check for topic in TOPICS for check in import_module(topic).CHECKS)
    names = [check.name for check in found]
    if len(set(names)) < len(names):
        raise ValueError(f"checks of the same name: {sorted({name for name in names if names.count(name) > 1})}")
    return found


def chosen(names: Sequence[str]) -> tuple[Check, ...]:
    """The checks of these names or groups, all if none is named. Raises ValueError for an unknown name."""
    known = {check.name for check in pack()} | {check.group for check in pack()}
    for name in names:
        if name not in known:
            raise ValueError(f"only = {name!r}: must be a check or a group: {', '.join(sorted(known))}")
    return tuple(check for check in pack() if not names or check.name in names or check.group in names)


def missing(check: Check) -> tuple[str, ...]:
    """Packages that the check needs and that are not installed."""
    return tuple(name for name in check.needs if find_spec(name) is None)


@dataclass(frozen=True, slots=True)
class Result:
    """A check with what it found, or with the problem that kept it from that.

    absent : packages that it needs and that are not installed: it was not run.
    """

    check: Check
    measured: Measured | None
    seconds: float = 0.0
    problem: str = ""
    absent: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """PASSED, FAILED or NOT_RUN."""
        if self.absent:
            return NOT_RUN
        return PASSED if self.measured is not None and self.measured.passed else FAILED

    @property
    def quantities(self) -> Sequence[Quantity]:
        """What was found; nothing if there is a problem."""
        return self.measured.quantities if self.measured else ()


def run_check(check: Check) -> Result:
    """Run one check; whatever keeps it from an answer is its problem, and the check has failed."""
    if absent := missing(check):
        needed = f"needs {', '.join(absent)}: pip install 'icecone[reference]'"
        return Result(check, None, problem=needed, absent=absent)
    start = monotonic()
    try:
        found = check.measure()
    except Exception as error:  # a check that breaks must not take the others with it
        problem = " ".join(f"{type(error).__name__}: {error}".split())
        return Result(check, None, monotonic() - start, problem)
    return Result(check, found, monotonic() - start)
