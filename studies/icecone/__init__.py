"""Explains and predicts how a threaded steel tube screwed into ice fails when it is pulled.

    import icecone

    answer = icecone.solve(angle_deg=-20, embedment_mm=70)
    print(answer)

Keywords are the keys of the case file, each in the unit of its name; what is left out takes its default. Research and
teaching only: never trust a life to a number from here.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from icecone.answers import Study, plot, solve, study
    from icecone.cases import Case, ice, metal, read_case
    from icecone.fem.errors import SolveError
    from icecone.fem.tube.modes import MODES
    from icecone.materials.assumed import assumptions
    from icecone.pulls import compare, plan
    from icecone.studies.case.toml import CaseError
    from icecone.studies.outcome.data import Outcome

_FROM = {
    "icecone.answers": ("Study", "plot", "solve", "study"),
    "icecone.cases": ("Case", "ice", "metal", "read_case"),
    "icecone.fem.errors": ("SolveError",),
    "icecone.fem.tube.modes": ("MODES",),
    "icecone.materials.assumed": ("assumptions",),
    "icecone.pulls": ("compare", "plan"),
    "icecone.studies.case.toml": ("CaseError",),
    "icecone.studies.outcome.data": ("Outcome",),
}
_MODULE = {name: module for module, names in _FROM.items() for name in names}

__all__ = [
    "MODES",
    "Case",
    "CaseError",
    "Outcome",
    "SolveError",
    "Study",
    "assumptions",
    "compare",
    "ice",
    "metal",
    "plan",
    "plot",
    "read_case",
    "solve",
    "study",
]


def __getattr__(name: str) -> Any:
    """Each name is loaded as it is first asked for: `import icecone` alone loads no solver."""
    if name not in _MODULE:
        raise AttributeError(f"module 'icecone' has no attribute {name!r}")
    return getattr(import_module(_MODULE[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
