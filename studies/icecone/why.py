"""Why a load is what it is: what the angle acts through, and which uncertain input drives it.

from icecone import why

parts = why.angle_parts(embedment_mm=100)
print(parts.table())
parts.plot("parts.png")
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from icecone.cases import Case

if TYPE_CHECKING:
    from icecone.studies.sweep.parts import AngleParts
    from icecone.studies.sweep.tornado import Tornado


def angle_parts(
    case: Case | None = None, /, *, angles: Sequence[float] = (-20.0, 0.0, 20.0), **keywords: Any
) -> AngleParts:
    """Loads at some angles [deg] with one part of the model switched off at a time: `.table()`, `.plot("parts.png")`.

    case, keywords : as of `solve`, without laws, ice or metal of one's own. The angle in the middle is what the others
    are held against. Some thirty pulls, half a minute. Raises CaseError, and SolveError where a law does not come out.
    """
    from icecone.studies.sweep.parts import angle_parts as found

    return found(_settings(case, keywords), tuple(map(float, angles)))


def tornado(case: Case | None = None, /, *, angles: Sequence[float] = (0.0, -20.0), **keywords: Any) -> Tornado:
    """Loads at some angles [deg] as each uncertain input goes over its range: `.table()`, `.plot("tornado.png")`.

    Arguments and errors of `angle_parts`. Laws of crushing for other strengths are computed once, in a minute or two.
    """
    from icecone.studies.sweep.tornado import tornado as found

    return found(_settings(case, keywords), tuple(map(float, angles)))


def _settings(case: Case | None, keywords: dict[str, Any]) -> dict[str, Any]:
    from icecone.studies.case.toml import CaseError

    asked = Case(**keywords) if case is None else case.changed(**keywords)
    if own := asked.own.names():
        raise CaseError(f"{own[0]} = your own: must be left out where inputs of the tables are moved")
    return dict(asked.settings)
