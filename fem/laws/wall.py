"""How the wall of the hole gives sideways: stiffness from the half model.

    stiffness   p = k w        k = kappa E,   p force per length, w movement of the tube's axis across itself   [N/m^2]
    kappa       sum p w / (E sum w^2)          over the pushed part of the front wall of one half model             [-]

The half model is that of the flush tube pulled along the surface (contact, threads, bending and all). kappa hardly
depends on diameter, metal or ice, much on the angle: the wedge of ice in front is thinner if the head leans away.

Limits: near the surface chips come first (`chip.growth`). kappa is one number over the depth; the first few millimetres
give way more.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...geometry.placement import Placement, Pull
from ..case import Case
from ..onset.elastic import ElasticBody, solve_field
from ..solid.contact import pair_frames


def bearing_stiffness(case: Case) -> float:
    """kappa = k / E [-] of the case's tube, ice and angle (module docstring).

    Raises ValueError for a placement that cannot be meshed, SolveError if a check fails.
    """
    flush = Placement(case.placement.angle, case.tube.flush_embedment)
    found = solve_field(ElasticBody.of(replace(case, placement=flush, pull=Pull(0.0), crust=0.0)))
    model, contact = found.model, found.contact
    front = case.placement.front
    at = model.straight[2, model.pairs[0]]
    layer, place = np.unique(at.round(9), return_inverse=True)
    across = pair_frames(model)[:, :, 0] @ front
    force = 2 * np.bincount(place, -contact.on_tube[:, 0] * across)  # both halves
    moved = np.bincount(place, contact.u.reshape(-1, 3)[model.pairs[0]] @ front) / np.bincount(place)
    pushed = moved > 0
    length = np.gradient(layer)
    length[[0, -1]] *= 0.5
    work = float((force * moved)[pushed].sum())
    return work / float((moved**2 * length)[pushed].sum()) / case.ice.elastic.youngs_modulus
