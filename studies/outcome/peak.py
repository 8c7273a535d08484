"""The peak of a case, as it is written down: load, mode, rivals, the curve, the tube at the events, hand formulas.

The tube is a beam on laws of the ice that finite elements supply (`fem.tube.peak`). Beside it stands what hand formulas
give (`outcome.hand`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from math import degrees, isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.laws.gather import peak_laws
from ...fem.laws.ice_laws import IceLaws
from ...fem.tube.band import ends
from ...fem.tube.edges import Neighbour, is_far, neighbours
from ...fem.tube.events import HEAD_TURNED, LOAD_POINT_MOVED
from ...fem.tube.peak import Peak, solve_peak
from ...fem.tube.pull import ENERGIES, Event
from ...fem.tube.readings import Reading
from ...fem.tube.shapes import Frames
from ...geometry.errors import MeshError
from ..files.laws import UsedLaws
from .cautions import PULL_CAUTION
from .data import LOADS
from .hand import hand_loads, hand_warning
from .own import Own
from .reading import pull_read
from .results import Happened, LawOrigin, LawsUsed, NearCase, PeakResult, Rival, Shapes

Array = NDArray[np.float64]


def peak_found(case: Case, say: Callable[[str], None] = lambda text: None, own: Own | None = None) -> dict[str, Any]:
    """Solve for the peak; fields of the outcome.  say : gets a line for each law that is computed.

    own : changes the laws of the ice before the pull.
    Raises MeshError for a placement that cannot be meshed, fem.errors.SolveError if a solve does not come out.
    """
    laws = UsedLaws(say)
    try:
        found = solve_peak(case, (own or Own()).change(peak_laws(case, laws)))
    except ValueError as error:
        raise MeshError(f"no peak for this placement: {error}") from None
    following = found.next
    return {
        **pull_read(found),
        "next_mode": following[0] if following else None,
        "next_kN": following[1] / 1e3 if following else None,
        "margin": found.margin if isfinite(found.margin) else None,
        "laws": laws.digests,
        "peak": _result(case, found),
    }


def stop_in_words(case: Case, stop: str) -> str:
    """At which stop a peak still rises; empty if at none.  stop : the event's name."""
    how_far = {
        HEAD_TURNED: f"{degrees(case.pull.turn):.4g} deg",
        LOAD_POINT_MOVED: f"{1e3 * case.pull.movement:.4g} mm",
    }
    return f"{stop.removeprefix('stop: ')} by {how_far[stop]}" if stop else ""


def _result(case: Case, found: Peak) -> PeakResult:
    pull, hand = found.pull, hand_loads(case, found.laws)
    near = neighbours(case, found.laws)
    return PeakResult(
        rivals=tuple(Rival(mode, load / 1e3) for mode, load in found.rivals),
        others_above_kN=None if found.above is None else found.above / 1e3,
        stop=stop_in_words(case, pull.stop),
        cone_kN=pull.cone_load / 1e3 if isfinite(pull.cone_load) else None,
        hand_kN={name: load / 1e3 for name, load in hand.items()},
        hand_warning=hand_warning(pull.peak, hand),
        energy_imbalance=pull.imbalance,
        event_overshoot=pull.overshoot,
        neighbours=tuple(_near(each) for each in near),
        edge=edge_in_words(pull.readings, near),
        band={end: _loads(readings) for end, readings in ends(case, found.laws).items()},
        displacement_mm=rounded(pull.displacement * 1e3, 4),
        load_kN=rounded(pull.load / 1e3, 5),
        head_rotation_deg=rounded(np.degrees(pull.head_rotation), 3),
        energies_J=dict(zip(ENERGIES, pull.energies[-1].tolist(), strict=True)),
        events=tuple(_happened(event) for event in pull.events),
        shapes=_shapes(pull.frames),
        laws=_laws_used(case, found.laws),
        caution=PULL_CAUTION,
    )


def rounded(values: Array, digits: int) -> tuple[float, ...]:
    """The numbers with so many digits after the point."""
    return tuple(values.round(digits).tolist())


def _shapes(frames: Frames) -> Shapes:
    found = frames.shapes
    x, z, bearing, gone = (
        tuple(rounded(each, digits) for each in of)
        for of, digits in (
            (found.x * 1e3, 3),
            (found.z * 1e3, 3),
            (found.bearing / 1e3, 1),
            (found.gone * 1e3, 1),
        )
    )
    yielded = tuple(tuple(each) for each in found.yielded.astype(int).tolist())
    step, cone, held = (tuple(of.tolist()) for of in (found.step, found.cone, found.held))
    return Shapes(step, x, z, rounded(found.s * 1e3, 3), bearing, yielded, gone, cone, held)


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


def _near(neighbour: Neighbour) -> NearCase:
    modes = {name: each.mode for name, each in neighbour.readings.items()}
    return NearCase(neighbour.change, _loads(neighbour.readings), modes)


def _loads(readings: Mapping[str, Reading]) -> dict[str, float]:
    return {name: each.load / 1e3 for name, each in readings.items()}


def edge_in_words(own: Mapping[str, Reading], near: Sequence[Neighbour]) -> str:
    """A line if a small change moves a load far, with both for each such load; empty otherwise."""
    told = []
    for name, reading in own.items():
        far = [each for each in near if is_far(each.readings[name].load, reading.load)]
        if not far:
            continue
        other = max(far, key=lambda each: abs(each.readings[name].load - reading.load))
        there = other.readings[name]
        both = f"{reading.load / 1e3:.2f} kN, {reading.mode}, or {there.load / 1e3:.2f} kN, {there.mode}"
        told.append(f"{LOADS[name]} {both} ({other.change})")
    return f"on an edge: {'; '.join(told)}" if told else ""


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
