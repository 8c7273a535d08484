"""Whether a placement stands on an edge: what it would read if an input were a little different.

No one drives a tube to a tenth of a millimetre or a tenth of a degree, or knows a strength to a hundredth. If such a
change moves the peak, or one of the other loads (`tube.readings`), by more than EDGE of it, one way of failing takes
over from another there, and both loads are an answer.

Limit: the ice's laws are those of the case as it is; only the placement, or all strengths of the ice alike, are
changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import degrees, radians

from ..case import Case
from ..errors import SolveError
from ..laws.ice_laws import IceLaws
from .peak import pull_case
from .readings import Reading

DEPTH, ANGLE, STRENGTH = 1e-4, radians(0.1), 0.01  # m, rad, share
EDGE = 0.1  # of a load
STRENGTHS = ("crushing", "toughness", "thread_limit", "cone_load", "toe_limit")


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A case a little different. change : in words.  readings : by name, as `TubePull.readings`."""

    change: str
    readings: Mapping[str, Reading]


def is_far(load: float, own: float) -> bool:
    """Whether a load differs from the case's own by more than EDGE of it."""
    return abs(load - own) > EDGE * own


def neighbours(case: Case, laws: IceLaws) -> list[Neighbour]:
    """Those neighbours of a case that can be placed and solved."""
    found = []
    for change, moved, turned, strength in (
        (f"{1e3 * DEPTH:g} mm deeper", DEPTH, 0.0, 1.0),
        (f"{1e3 * DEPTH:g} mm less deep", -DEPTH, 0.0, 1.0),
        (f"{degrees(ANGLE):g} deg more toward the pull", 0.0, ANGLE, 1.0),
        (f"{degrees(ANGLE):g} deg less toward the pull", 0.0, -ANGLE, 1.0),
        (f"ice {STRENGTH:.0%} stronger", 0.0, 0.0, 1 + STRENGTH),
        (f"ice {STRENGTH:.0%} weaker", 0.0, 0.0, 1 - STRENGTH),
    ):
        at = case.placement
        try:
            placed = replace(at, embedment=at.embedment + moved, angle=at.angle + turned)
            ice = replace(laws, **{name: strength * getattr(laws, name) for name in STRENGTHS})
            pull = pull_case(replace(case, placement=placed), ice)
        except (ValueError, SolveError):
            continue
        found.append(Neighbour(change, pull.readings))
    return found
