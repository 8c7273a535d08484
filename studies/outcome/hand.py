"""What hand formulas give for the pull that ends a placement, beside the peak by finite elements.

More than a factor of HAND_FACTOR between the weakest of them and the peak carries a warning.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, sin

import numpy as np

from ...fem.case import Case
from ...fem.hand import broms_long, broms_short
from ...fem.laws.ice_laws import IceLaws
from ...fem.tube.cross_section import hollow_section
from ...fem.tube.modes import THREADS
from ...geometry.placement import facing, lever_arm

HAND_FACTOR = 2.0
SMALL = 0.02  # share of the pull along or across the axis that a hand formula does not look at


def strip_load(case: Case, limit: float) -> float | None:
    """Pull [N] that strips all threads in the ice; limit : of threads [N/m]. None if it hardly runs along them."""
    along = cos(_aside(case))
    return limit * min(case.tube.thread_length, case.placement.embedment) / along if along > SMALL else None


def _aside(case: Case) -> float:
    """Angle from the tube's axis to the pull [rad]."""
    return case.pull.direction - (0.5 * np.pi - case.placement.angle)


def hand_loads(case: Case, laws: IceLaws) -> dict[str, float]:
    """Pulls [N] by hand formulas: the headed stud's cone, stripped threads, the short and the yielding pile.

    Each looks at its own part of the pull, along or across the axis; the piles bear the wall's mean limit on the
    side that the pull presses.
    """
    tube, embedment = case.tube, case.placement.embedment
    along, across = cos(_aside(case)), abs(sin(_aside(case)))
    out = {}
    if (stripped := strip_load(case, laws.thread_limit)) is not None:
        out["headed stud's cone"] = case.assumed.headed_stud_factor * case.ice.toughness * embedment**1.5 / along
        out[THREADS] = stripped
    if across > SMALL:
        front = facing(case.placement, case.pull)[0].angle
        bearing = float(np.trapezoid(laws.limit_at(front), laws.s)) / embedment / tube.outer_diameter
        lever = lever_arm(tube, case.placement)
        hinge = hollow_section(tube.radius, tube.bore, case.metal).plastic_moment
        out["short pile (Broms)"] = broms_short(bearing, tube.outer_diameter, embedment, lever) / across
        out["yielding pile (Broms)"] = broms_long(bearing, tube.outer_diameter, lever, hinge) / across
    return out


def hand_warning(peak: float, loads: Mapping[str, float]) -> str:
    """A line if the weakest hand formula is far from the peak [N], empty otherwise."""
    name = min(loads, key=lambda name: loads[name])
    load = loads[name]
    if 1 / HAND_FACTOR <= load / peak <= HAND_FACTOR:
        return ""
    far = "less than half the peak" if load < peak else "more than twice the peak"
    why = {
        "headed stud's cone": "it knows no bearing of the wall, which takes part of the pull",
        THREADS: "it knows no bearing of the wall, which takes part of the pull",
        "short pile (Broms)": "it knows no threads, which hold the tube as it turns",
        "yielding pile (Broms)": "it ends at the hinge; the bent tube turns toward the pull and its threads hold",
    }[name]
    return f"the weakest hand formula, {name}, gives {load / 1e3:.1f} kN, {far}: {why}"
