"""The peak of a case, as it is written down: load, mode, rivals, the curve, the tube at the events, hand formulas.

The tube is a beam on laws of the ice that finite elements supply (`fem.tube.peak`). Beside it stands what hand formulas
give (`outcome.hand`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from math import degrees, isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.laws.gather import peak_laws
from ...fem.laws.ice_laws import IceLaws
from ...fem.tube.edges import Neighbour, neighbours
from ...fem.tube.peak import Peak, solve_peak
from ...fem.tube.pull import ENERGIES, Event, TubePull
from ...geometry import MeshError
from ..files.laws import UsedLaws
from .cautions import PULL_CAUTION
from .hand import hand_loads, hand_warning
from .own import Own
from .results import Happened, LawOrigin, LawsUsed, NearCase, PeakResult, Rival

Array = NDArray[np.float64]


def peak_found(case: Case, say: Callable[[str], None] = lambda text: None, own: Own | None = None) -> dict[str, Any]:
    """Solve for the peak; fields of the outcome.  say : gets a line for each law that is computed.

    own : changes the laws of the ice before the pull.
    Raises MeshError for a placement that cannot be meshed, fem.solid.solver.SolveError if a solve does not come out.
    """
    laws = UsedLaws(say)
    try:
        found = solve_peak(case, (own or Own()).change(peak_laws(case, laws)))
    except ValueError as error:
        raise MeshError(f"no peak for this placement: {error}") from None
    pull = found.pull
    at = next(event.displacement for event in pull.events if event.name == "peak")
    early, early_at = early_load(pull, case.tube.outer_diameter)
    limit, following = found.limit, found.next
    return {
        "limit_kN": limit[1] / 1e3,
        "limit_mode": limit[0],
        "peak_kN": pull.peak / 1e3,
        "peak_mode": pull.mode,
        "peak_at_mm": at * 1e3,
        "early_kN": early / 1e3,
        "early_at_mm": early_at * 1e3,
        "first_hinge_kN": None if pull.first_hinge is None else pull.first_hinge / 1e3,
        "next_mode": following[0] if following else None,
        "next_kN": following[1] / 1e3 if following else None,
        "margin": found.margin if isfinite(found.margin) else None,
        "head_rotation_deg": degrees(float(np.interp(at, pull.displacement, pull.head_rotation))),
        "laws": laws.digests,
        "peak": _result(case, found),
    }


def early_load(pull: TubePull, movement: float) -> tuple[float, float]:
    """Largest load [N] up to a movement of the load point [m], within what counts, and the movement at it [m]."""
    moved, load = pull.displacement[: pull.counted], pull.load[: pull.counted]
    at = int(np.where(moved <= movement, load, -np.inf).argmax())
    return float(load[at]), float(moved[at])


def _result(case: Case, found: Peak) -> PeakResult:
    pull, hand = found.pull, hand_loads(case, found.laws)
    near = neighbours(case, found.laws)
    return PeakResult(
        rivals=tuple(Rival(mode, load / 1e3) for mode, load in found.rivals),
        largest_kN=pull.largest / 1e3,
        ended=pull.ended,
        cone_kN=pull.cone_load / 1e3 if isfinite(pull.cone_load) else None,
        hand_kN={name: load / 1e3 for name, load in hand.items()},
        hand_warning=hand_warning(pull.peak, hand),
        energy_imbalance=pull.imbalance,
        event_overshoot=pull.overshoot,
        neighbours=tuple(NearCase(n.change, n.peak / 1e3, n.mode) for n in near),
        edge=edge_in_words(pull.peak, near),
        displacement_mm=rounded(pull.displacement * 1e3, 4),
        load_kN=rounded(pull.load / 1e3, 5),
        head_rotation_deg=rounded(np.degrees(pull.head_rotation), 3),
        energies_J=dict(zip(ENERGIES, pull.energies[-1].tolist(), strict=True)),
        events=tuple(_happened(event) for event in pull.events),
        laws=_laws_used(case, found.laws),
        caution=PULL_CAUTION,
    )


def rounded(values: Array, digits: int) -> tuple[float, ...]:
    """The numbers with so many digits after the point."""
    return tuple(values.round(digits).tolist())


def _laws_used(case: Case, laws: IceLaws) -> LawsUsed:
    angle = case.placement.angle
    return LawsUsed(
        depth_mm=rounded(laws.s * 1e3, 3),
        front_limit_N_per_mm=rounded(laws.limit_at(angle) / 1e3, 3),
        back_limit_N_per_mm=rounded(laws.limit_at(-angle) / 1e3, 3),
        wall_stiffness_GPa=float(laws.stiffness[-1] / 1e9),
        thread_limit_N_per_mm=laws.thread_limit / 1e3,
        origins=tuple(LawOrigin(**asdict(origin)) for origin in laws.origins),
    )


def edge_in_words(peak: float, near: Sequence[Neighbour]) -> str:
    """A line if a small change moves the peak [N] far, empty otherwise."""
    far = [neighbour for neighbour in near if neighbour.beyond_edge(peak)]
    if not far:
        return ""
    loads = [peak, *(neighbour.peak for neighbour in near)]
    told = "; ".join(f"{each.change}: {each.peak / 1e3:.2f} kN, {each.mode}" for each in far)
    return f"the peak stands on an edge: read it as {min(loads) / 1e3:.2f} to {max(loads) / 1e3:.2f} kN ({told})"


def _happened(event: Event) -> Happened:
    return Happened(
        name=event.name,
        load_kN=event.load / 1e3,
        displacement_mm=event.displacement * 1e3,
        x_mm=rounded(event.x * 1e3, 3),
        z_mm=rounded(event.z * 1e3, 3),
        s_mm=rounded(event.s * 1e3, 3),
        bearing_N_per_mm=rounded(event.bearing / 1e3, 2),
        moment_Nm=rounded(event.moment, 3),
        plastic_strain=rounded(event.plastic_strain, 6),
        overshoot=event.overshoot,
        found=event.found,
        held_node=event.held,
    )
