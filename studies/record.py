"""One case solved: from flat user settings to the record that is written down, and the fields behind it."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path
from typing import Any

from ..fem.onset import Solution
from .casefile import Settings

CAUTION = (
    "Research and teaching only. Ice varies from place to place and hour to hour; never trust a life to an anchor on the "
    "strength of a number like this. Follow standards, makers' instructions, local codes and qualified practice. "
    "Onset is the first damage, not the peak load."
)


def solve_settings(settings: Settings) -> tuple[dict[str, Any], Solution]:
    """Solve the case that the settings describe; the record is plain JSON data in the users' units."""
    raise NotImplementedError


def write_solution(record: dict[str, Any], solution: Solution, folder: Path) -> None:
    """Write outcome.json, fields.vtu and stress.png into the folder, each atomically."""
    raise NotImplementedError


def versions() -> dict[str, str]:
    """Versions of the packages that make an outcome."""
    return {name: version(name) for name in ("icecone", "scikit-fem", "numpy", "scipy")}
