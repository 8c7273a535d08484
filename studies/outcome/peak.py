"""The peak of a case, as it is written down: load, mode, rivals, the curve, the tube at the events, hand formulas.

The tube is a beam on laws of the ice that finite elements supply (`fem.tube.peak`). Beside it stands what hand formulas
give; more than a factor of HAND_FACTOR between the two carries a warning.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from math import cos, degrees, isfinite, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.hand import broms_long, broms_short
from ...fem.laws.gather import peak_laws
from ...fem.tube.cross_section import hollow_section
from ...fem.tube.edges import Neighbour, neighbours
from ...fem.tube.peak import Peak, solve_peak
from ...fem.tube.pull import ENERGIES, Event
from ...geometry import MeshError, facing, lever_arm
from ..files.laws import UsedLaws

Record = dict[str, Any]
Array = NDArray[np.float64]
EARLY = 0.02  # m of travel: what a tube holds while it still sits about where it was placed
HAND_FACTOR = 2.0
SMALL = 0.02  # share of the pull along or across the axis that a hand formula does not look at
PULL_CAUTION = (
    "A prediction of tube and ice by mechanics and assumed strengths, not a strength to rely on: ice varies from place "
    "to place and from hour to hour."
)


def peak_record(case: Case, say: Callable[[str], None] = lambda text: None) -> Record:
    """Solve for the peak; plain JSON data in the users' units.  say : gets a line for each law that is computed.

    Raises MeshError for a placement that cannot be meshed, fem.solid.solver.SolveError where a solve does not come out.
    """
    laws = UsedLaws(say)
    try:
        found = solve_peak(case, peak_laws(case, laws))
    except ValueError as error:
        raise MeshError(f"no peak for this placement: {error}") from None
    pull, hand = found.pull, hand_loads(case, found)
    least = min(hand, key=lambda name: hand[name])
    at = next(event.displacement for event in pull.events if event.name == "peak")
    turned = float(np.interp(at, pull.displacement, pull.head_rotation))
    near = neighbours(case, found.laws)
    limit, following = found.limit, found.next
    return {
        "limit_kN": limit[1] / 1e3,
        "limit_mode": limit[0],
        "peak_kN": pull.peak / 1e3,
        "peak_mode": pull.mode,
        "next_mode": following[0] if following else None,
        "next_kN": following[1] / 1e3 if following else None,
        "margin": found.margin if isfinite(found.margin) else None,
        "first_hinge_kN": None if pull.first_hinge is None else pull.first_hinge / 1e3,
        "head_rotation_deg": degrees(turned),
        "laws": laws.digests,
        "peak": {
            "rivals": [{"mode": mode, "load_kN": load / 1e3} for mode, load in found.rivals],
            "largest_kN": pull.largest / 1e3,
            "travel_mm": at * 1e3,
            "early": {"travel_mm": EARLY * 1e3, "load_kN": pull.early(EARLY) / 1e3},
            "ended": pull.ended,
            "cone_kN": pull.cone_load / 1e3 if isfinite(pull.cone_load) else None,
            "hand_kN": {name: load / 1e3 for name, load in hand.items()},
            "hand_warning": _warning(pull.peak, least, hand[least]),
            "energy_imbalance": pull.imbalance,
            "event_overshoot": pull.overshoot,
            "neighbours": [{"change": n.change, "peak_kN": n.peak / 1e3, "mode": n.mode} for n in near],
            "edge": edge_in_words(pull.peak, near),
            "displacement_mm": (pull.displacement * 1e3).round(4).tolist(),
            "load_kN": (pull.load / 1e3).round(5).tolist(),
            "head_rotation_deg": np.degrees(pull.head_rotation).round(3).tolist(),
            "energies_J": dict(zip(ENERGIES, pull.energies[-1].tolist(), strict=True)),
            "events": [_event(event) for event in pull.events],
            "laws": {
                "depth_mm": (found.laws.s * 1e3).round(3).tolist(),
                "front_limit_N_per_mm": (found.laws.limit_at(case.placement.angle) / 1e3).round(3).tolist(),
                "back_limit_N_per_mm": (found.laws.limit_at(-case.placement.angle) / 1e3).round(3).tolist(),
                "wall_stiffness_GPa": float(found.laws.stiffness[-1] / 1e9),
                "thread_limit_N_per_mm": found.laws.thread_limit / 1e3,
                "origins": [asdict(origin) for origin in found.laws.origins],
            },
            "caution": PULL_CAUTION,
        },
    }


def edge_in_words(peak: float, near: Sequence[Neighbour]) -> str:
    """A line where a small change moves the peak [N] far, empty otherwise."""
    far = [neighbour for neighbour in near if neighbour.beyond_edge(peak)]
    if not far:
        return ""
    loads = [peak, *(neighbour.peak for neighbour in near)]
    told = "; ".join(f"{each.change}: {each.peak / 1e3:.2f} kN, {each.mode}" for each in far)
    return f"the peak stands on an edge: read it as {min(loads) / 1e3:.2f} to {max(loads) / 1e3:.2f} kN ({told})"


def _event(event: Event) -> Record:
    return {
        "name": event.name,
        "load_kN": event.load / 1e3,
        "displacement_mm": event.displacement * 1e3,
        "x_mm": (event.x * 1e3).round(3).tolist(),
        "z_mm": (event.z * 1e3).round(3).tolist(),
        "s_mm": (event.s * 1e3).round(3).tolist(),
        "bearing_N_per_mm": (event.bearing / 1e3).round(2).tolist(),
        "moment_Nm": event.moment.round(3).tolist(),
        "plastic_strain": event.plastic_strain.round(6).tolist(),
        "overshoot": event.overshoot,
        "found": event.found,
        "held_node": event.held,
    }


def hand_loads(case: Case, found: Peak) -> dict[str, float]:
    """Pulls [N] by hand formulas: the headed stud's cone, stripped threads, the short and the yielding pile.

    Each looks at its own part of the pull, along or across the axis; the piles bear the wall's mean limit on the
    side that the pull presses.
    """
    tube, embedment = case.tube, case.placement.embedment
    aside = case.pull.direction - (0.5 * np.pi - case.placement.angle)
    along, across = cos(aside), abs(sin(aside))
    out = {}
    if along > SMALL:
        out["headed stud's cone"] = case.assumed.headed_stud_factor * case.ice.toughness * embedment**1.5 / along
        out["threads stripped"] = found.laws.thread_limit * min(tube.thread_length, embedment) / along
    if across > SMALL:
        front = facing(case.placement, case.pull)[0].angle
        bearing = float(np.trapezoid(found.laws.limit_at(front), found.laws.s)) / embedment / tube.outer_diameter
        lever = lever_arm(tube, case.placement)
        hinge = hollow_section(tube.radius, tube.bore, case.metal).plastic_moment
        out["short pile (Broms)"] = broms_short(bearing, tube.outer_diameter, embedment, lever) / across
        out["yielding pile (Broms)"] = broms_long(bearing, tube.outer_diameter, lever, hinge) / across
    return out


def _warning(peak: float, name: str, load: float) -> str:
    """A line where the weakest hand formula is far from the peak, empty otherwise."""
    if 1 / HAND_FACTOR <= load / peak <= HAND_FACTOR:
        return ""
    lower = "below" if load < peak else "above"
    why = {
        "headed stud's cone": "it knows no bearing of the wall, which takes part of the pull",
        "threads stripped": "it knows no bearing of the wall, which takes part of the pull",
        "short pile (Broms)": "it knows no threads, which hold the tube as it turns",
        "yielding pile (Broms)": "it ends at the hinge; the bent tube turns toward the pull and its threads hold",
    }[name]
    return f"the weakest hand formula, {name}, gives {load / 1e3:.1f} kN, more than twice {lower}: {why}"
