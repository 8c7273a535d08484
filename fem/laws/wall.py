"""What the wall of the hole bears sideways: stiffness from the half model, and its limit where no chip comes away.

    stiffness   p = k w        k = kappa E,   p force per length, w movement of the tube's axis across itself   [N/m^2]
    crushing    p = q d        q = indentation factor x sigma_c, d the outer diameter                          [N/m]

kappa is the mean over the pushed part of the front wall of one rung-1 solution (contact, threads, bending and all) of
the flush tube pulled along the surface: sum p w / sum w^2 E. It hardly depends on diameter, metal or ice, much on the
angle: the wedge of ice in front is thinner where the head leans away (-30 to +30 deg by 10: 0.44, 0.57, 0.73, 0.90,
1.09, 1.28, 1.47). With the depth it is nearly even, but for the first few millimetres, which give way more.

q is that of a stamp pressed into ice (the factor, its range and source: `data/assumed.toml`). Near the surface chips
come first (`chip.growth`).

Toe: a stamp of the tube's annulus, limit q A; stiffness of a rigid disc on a half-space, 4 G r / (1 - nu).
Threads along the axis: k = 2 pi G / zeta, zeta = ln(2.5 h (1 - nu) / r): Randolph & Wroth, J. Geotech. Eng. Div. ASCE
104, 1978 (from memory; `validation/checks/beam_and_pile/piles_axial.py` holds the half model against it).
"""

from __future__ import annotations

from dataclasses import replace
from math import log, pi

import numpy as np

from ...geometry.placement import Placement, Pull, Tube
from ...materials import Assumed, Ice
from ..case import Case
from ..onset.solve import solve_onset
from ..solid.contact import pair_frames


def bearing_stiffness(case: Case) -> float:
    """kappa = k / E of the case's tube, ice and angle (module docstring).

    Raises ValueError for a placement that cannot be meshed, SolveError if a check fails.
    """
    flush = Placement(case.placement.angle, case.tube.flush_embedment)
    found = solve_onset(replace(case, placement=flush, pull=Pull(0.0), crust=0.0))
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


def crushing_limit(tube: Tube, ice: Ice, assumed: Assumed) -> float:
    """Largest force per length where no chip comes away [N/m]."""
    return assumed.indentation_factor * ice.compressive_strength * tube.outer_diameter


def toe(tube: Tube, ice: Ice, assumed: Assumed) -> tuple[float, float]:
    """Stiffness [N/m] and limit [N] of the tip pushed along the axis into the ice."""
    stiffness = 4 * _shear_modulus(ice) * tube.radius / (1 - ice.elastic.poissons_ratio)
    pressure = assumed.indentation_factor * ice.compressive_strength
    return stiffness, pressure * pi * (tube.radius**2 - tube.bore**2)


def thread_stiffness(tube: Tube, embedment: float, ice: Ice) -> float:
    """Axial force per length and movement along the axis [N/m^2]."""
    zeta = log(2.5 * embedment * (1 - ice.elastic.poissons_ratio) / tube.radius)
    return 2 * pi * _shear_modulus(ice) / zeta


def _shear_modulus(ice: Ice) -> float:
    return 0.5 * ice.elastic.youngs_modulus / (1 + ice.elastic.poissons_ratio)
