"""The two ends between which a pull lies: every chip comes out, or none does.

Which ice goes at which angle is not settled by computation: cracks in plane sections split at -5 deg (`laws.trench`),
straight faces round a tube rise up to 27 deg. So each pull is solved with both ends of that as well:

    goes     chips come out at every angle, unless crushing comes before them
    stays    cracks in front dive at every angle: the ice bears on at the load that starts a chip

Limit: all else is the case's own; the ends are no bounds on what other strengths would hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import pi

from ..case import Case
from ..errors import SolveError
from ..laws.ice_laws import IceLaws
from .peak import pull_case
from .readings import Reading

SHIFTS = {"goes": pi, "stays": -pi}  # rad, of the border


def ends(case: Case, laws: IceLaws) -> dict[str, Mapping[str, Reading]]:
    """Readings [N], [m] at each of SHIFTS, as `TubePull.readings`; an end that is not solved is left out."""
    found: dict[str, Mapping[str, Reading]] = {}
    if laws.chips is None:
        return found
    for name, shift in SHIFTS.items():
        try:
            found[name] = pull_case(case, replace(laws, chips=replace(laws.chips, shift=shift))).readings
        except SolveError:
            continue
    return found
