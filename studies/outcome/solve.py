"""One case solved: from flat user settings to the outcome that is written down, and the fields behind it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ...fem.onset.elastic import ElasticBody, ElasticSession
from ...fem.onset.solve import Solution, solve_onset
from ..case.file import Settings, to_case
from ..files.provenance import versions
from .cautions import CAUTION
from .data import LOADS, Outcome, known
from .models import Model, Say, load
from .onset import ice_used, metal_used, onset_result
from .own import Own

ENDS = ("goes", "stays")
NOT_SOLVED = (
    *("limit_kN", "limit_mode", *(f"{load}_{what}" for load in LOADS for what in ("kN", "mode", "at_mm"))),
    *("ended_by", "first_hinge_kN", "wrinkle_kN"),
    *("next_mode", "next_kN", "margin", "head_rotation_deg", "cone", "peak", "drawn"),
)  # unless the model says so


def solve_case(
    settings: Settings, model: Model, say: Say, own: Own | None = None, session: ElasticSession | None = None
) -> tuple[Outcome, Solution]:
    """`models.solve_settings`, by one of its models.

    What can be refused is tried first: the mesh, then a peak; the onset, which costs most, after them.
    """
    own = own or Own()
    case = own.put_into(to_case(settings))
    mesh = ElasticBody.of(case).mesh()
    found: dict[str, Any] = dict.fromkeys(NOT_SOLVED)
    if model.solve and model.first:
        found |= load(model.solve)(case, say, own)
    solution = solve_onset(case, session, mesh)
    if model.solve and not model.first:
        found |= load(model.solve)(case, say, own)
    size = (None, None) if solution.size_effect.volume is None else solution.size_effect.factors
    outcome = Outcome(
        **{"laws": {}, **found},
        onset_kN=solution.onset_load / 1e3,
        model=model.name,
        notes=(),
        onset=onset_result(solution),
        ice=ice_used(case.ice, case.assumed.sliding_ratio, size[0]),
        crust=ice_used(case.crust_ice, case.assumed.sliding_ratio, size[1]) if case.crust > 0 else None,
        metal=metal_used(case.metal),
        versions=versions(),
        caution=CAUTION,
        case=settings,
    )
    said = [f"{' and '.join(own.names())}: the user's own"] if own.names() else []
    return replace(outcome, notes=(*said, *notes(outcome))), solution


def band_words(band: Mapping[str, Mapping[str, float]]) -> str:
    """Between which loads the answer lies as ice goes or stays; empty where that is not known, or the same."""
    if len(band) < len(ENDS):
        return ""
    told = []
    for name in ("early", "peak"):
        goes, stays = (f"{band[end][name]:.3g}" for end in ENDS)
        if goes != stays:
            told.append(f"{LOADS[name]} {goes} kN if every chip comes out, {stays} if none does")
    return f"which ice goes is not settled by computation: {'; '.join(told)}" if told else ""


def notes(outcome: Outcome) -> list[str]:
    """What a reader must know of an outcome besides its numbers, a sentence each."""
    found = [] if outcome.peak is None or not outcome.peak.edge else [outcome.peak.edge]
    if outcome.peak is not None and outcome.peak.stop:
        beyond = f"beyond, the model follows it to {known(outcome.largest_kN):.3g} kN"
        found.append(f"still rising at the stop: {outcome.peak.stop}; {beyond}")
    if outcome.peak is not None and (words := band_words(outcome.peak.band)):
        found.append(words)
    if outcome.wrinkle_kN is not None:
        found.append(f"the wall of the tube wrinkles at {outcome.wrinkle_kN:.3g} kN; from there on it bears less")
    if (volume := outcome.onset.effective_volume_mm3) is not None:
        parts = {"ice": outcome.ice, "crust": outcome.crust}
        times = " and ".join(f"{part.size_factor:.3g} times in the {name}" for name, part in parts.items() if part)
        found.append(
            f"size effect: {volume:.3g} mm3 of ice under tension; in the onset its tensile strength counts {times}"
        )
    onset, largest = outcome.onset_kN, outcome.peak_kN
    if outcome.peak is not None and largest is not None and largest < onset:
        found.append(
            f"the peak, {largest:.3g} kN, lies below the onset of damage, {onset:.3g} kN: the beam on laws of the ice "
            "and the solid disagree here; trust neither"
        )
    if outcome.cone is not None and largest is not None and outcome.limit_mode != outcome.peak_mode:
        found.append(f"the cone does not come: {outcome.limit_mode} fails first at {outcome.limit_kN:.3g} kN")
    return found
