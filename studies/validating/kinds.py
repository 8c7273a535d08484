"""What `icecone validate` runs case by case instead of checks: the cases, how to run them, what one is called."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from .both_routes import CASES as ROUTES
from .turning import CASES as TURNING
from .turning import run_turning
from .two_routes import run_routes

Record = dict[str, Any]
Say = Callable[[str], None]


class Kind(NamedTuple):
    """cases : by name.  run : names, folder, what says a line, what gets the name of each case that is there.

    called : one case, in an error.
    """

    cases: Mapping[str, Any]
    run: Callable[[Sequence[str], Path, Say, Callable[[str], None]], list[Record]]
    called: str


KINDS = {"routes": Kind(ROUTES, run_routes, "a route"), "turning": Kind(TURNING, run_turning, "a crack")}
