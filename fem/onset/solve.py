"""One case solved to its onset: the elastic field (`onset.elastic`), and the load at which it first fails.

Onset is the unit pull times the least load factor of the field (`onset.criterion`).
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from ...geometry.half_model import HalfModel
from ...materials.weakest_link import weakest_link
from ..case import Case
from ..solid.contact import ContactSolution
from ..solid.stress import StressField, principal
from .criterion import Onset, find_onset
from .elastic import UNIT_PULL, ElasticBody, ElasticField, ElasticSession, Shares
from .size_effect import AS_STATED, SizeEffect, raised_strength
from .wall_lines import WallLines

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Solution:
    """Everything about one solved case at UNIT_PULL, SI units; the field's parts as in `elastic.ElasticField`.

    onset_load : N.  mouth_stress : (2,) largest tension and largest compression (negative) at the mouth, averaged over
    the criterion's line without a size effect, per unit of pull [Pa/N].  seconds : of field and onset.
    """

    case: Case
    model: HalfModel
    contact: ContactSolution
    stress: StressField
    onset: Onset
    onset_load: float
    compliance: float
    shares: Shares
    size_effect: SizeEffect
    mouth_stress: Array
    balance_error: float
    seconds: float


def solve_onset(case: Case, session: ElasticSession | None = None, model: HalfModel | None = None) -> Solution:
    """Solve a case to the onset of failure.  session : shares work with cases before.  model : the mesh, if at hand.

    Raises ValueError for a placement that cannot be meshed, SolveError if a solve, the contact or a balance fails.
    """
    return onset_in((session or ElasticSession()).fields([ElasticBody.of(case)], model)[0], case)


def onset_in(field: ElasticField, case: Case) -> Solution:
    """The onset of a case whose elastic field is known: strengths alone enter anew."""
    start = perf_counter()
    stressed = (field.lines, case.ice, case.crust_ice, case.assumed.sliding_ratio)
    size = raised_strength(*stressed, weakest_link()) if case.size_effect == "weakest_link" else AS_STATED
    onset = find_onset(*stressed, size.factors)
    mouth = _mouth_stress(field.lines, case) / UNIT_PULL
    return Solution(
        case=case,
        model=field.model,
        contact=field.contact,
        stress=field.stress,
        onset=onset,
        onset_load=UNIT_PULL * onset.load_factor,
        compliance=field.compliance,
        shares=field.shares,
        size_effect=size,
        mouth_stress=mouth,
        balance_error=field.balance_error,
        seconds=field.seconds + perf_counter() - start,
    )


def _mouth_stress(lines: WallLines, case: Case) -> Array:
    """Largest and smallest principal stress of the line averages that start at the mouth [Pa]."""
    ice = case.crust_ice if lines.model.regions["crust"].size else case.ice
    top = len(lines.model.beside) - 1
    averaged = lines.in_layer(top, np.array([2 * ice.critical_distance]))[0]
    at_mouth = principal(averaged[np.abs(lines.start[-len(averaged) :, 2]) < 1e-9])
    return np.array([at_mouth[:, 2].max(), at_mouth[:, 0].min()])
