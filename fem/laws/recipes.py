"""How each law is computed from its inputs: pure functions, so that a law can be computed again from what it names.

    law       inputs                                                     gives (`error` relative)       from
    cone      thread_length_mm, ice_E_GPa, ice_nu, metal_E_GPa, metal_nu   embedment_m, c               `cone_load`
    fronts    angle_deg, embedment_mm, ice_nu                              shape, weights               `cone.fronts`
    wall      angle_deg, ice_E_GPa, ice_nu, metal_E_GPa, metal_nu          kappa                        `wall`
    chip      angle_deg, friction, sliding_ratio, ice_nu                   depth_m, force_per_K         `chip.growth`
    path      angle_deg                                                    rise_deg                     `chip.path`
    crushing  confinement_slope, cap_over_compressive,
              tensile_over_compressive, face_friction                      reach_radii, factor          `crushing.disc`
    crushing_surface   angle_deg and those                                 factor                       `crushing.wedge`
    stamp     those                                                        factor                       `crushing.stamp`

All are of one tube (TUBE) and of ice with the strengths of the probe; a stiffness that does not count is ANY.

A law counts as long as the code does that its recipe rests on, followed from the recipe's own imports
(`studies.files.provenance`): so these stand inside, and a change of the chips' code voids chips alone. Tables of
materials are not among it: a recipe takes what it needs of them as inputs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import degrees, inf, radians
from typing import Any

from ...geometry.placement import Placement, Pull, Tube
from ...materials.ice import Ice
from ...materials.metal import Metal
from ...materials.tensor import Transverse
from ..case import Case

Inputs = Mapping[str, float]
Law = dict[str, Any]
Recipe = Callable[[Inputs], Law]
REFERENCE, STAND_OFF = 0.13, 0.01  # m in the ice and above it, of TUBE
TUBE = Tube(REFERENCE + STAND_OFF, 0.017, 0.0015, 0.065, 0.0025, 0.005, STAND_OFF, 10e3)
TENSILE, TOUGHNESS, COMPRESSIVE = 1e6, 1e5, 5e6  # Pa, Pa m^0.5, Pa, of the probe: L = 3 mm
ANY = {"ice_E_GPa": 8.0, "metal_E_GPa": 205.0, "metal_nu": 0.29}  # where ice alone counts, and its nu


def cone(inputs: Inputs) -> Law:
    """Of the threads alone, over K_IC, against embedment."""
    from .cone_load import cone_law

    tube = replace(TUBE, thread_length=inputs["thread_length_mm"] / 1e3)
    ice, metal = ((inputs[f"{of}_E_GPa"] * 1e9, inputs[f"{of}_nu"]) for of in ("ice", "metal"))
    law = cone_law(tube, ice, metal)
    return {"embedment_m": law.embedment.tolist(), "c": law.c.tolist(), "error": law.error}


def fronts(inputs: Inputs) -> Law:
    """g over its largest value, as text of four digits."""
    import numpy as np

    from ..cone.fronts import front_weights

    embedment = inputs["embedment_mm"] / 1e3
    tube = replace(TUBE, length=embedment + STAND_OFF, thread_length=embedment)
    g, error = front_weights(_case(inputs, tube, embedment))
    words = " ".join(f"{value:.4g}" for value in (g / np.abs(g).max()).flat)
    return {"shape": list(g.shape), "weights": words, "error": error}


def wall(inputs: Inputs) -> Law:
    """kappa on the quick mesh; the error is against the standard one."""
    from .wall import bearing_stiffness

    case = _case(inputs, TUBE, REFERENCE)
    kappa, finer = (bearing_stiffness(replace(case, level=level)) for level in ("quick", "standard"))
    return {"kappa": kappa, "error": abs(kappa / finer - 1)}


def chip(inputs: Inputs) -> Law:
    """F(d) over K_IC in front of a tube at an angle."""
    from ..chip.growth import chip_law

    angle, ratio = radians(inputs["angle_deg"]), inputs["sliding_ratio"]
    law = chip_law(TUBE, angle, _ice(inputs), inputs["friction"], sliding_ratio=ratio)
    per_K = law.force / TOUGHNESS
    return {"depth_m": law.depth.tolist(), "force_per_K": per_K.tolist(), "error": law.error}


def path(inputs: Inputs) -> Law:
    """Rise of a crack in front of a tube against the surface; error against longer steps, over a quarter turn."""
    from ..chip.path import STEP, HoleWall, follow_chip

    hole = HoleWall(radians(inputs["angle_deg"]), 0.04, (9e9, 0.3))  # of any depth and ice
    rise, other = (degrees(follow_chip(hole, step=step).rise) for step in (STEP, 1.5 * STEP))
    return {"rise_deg": rise, "error": abs(rise - other) / 90.0}


def crushing(inputs: Inputs) -> Law:
    """N of a tube in ice against its reach, both bounds and their mean."""
    from ..crushing.disc import crushing_table

    return crushing_table(inputs)


def crushing_surface(inputs: Inputs) -> Law:
    """N of a leaning wall at the surface."""
    from ..crushing.wedge import surface_factor

    return dict(surface_factor(inputs))


def stamp(inputs: Inputs) -> Law:
    """N of a flat stamp."""
    from ..crushing.stamp import stamp_factor

    return dict(stamp_factor(inputs))


RECIPES: Mapping[str, Recipe] = {
    "cone": cone,
    "fronts": fronts,
    "wall": wall,
    "chip": chip,
    "path": path,
    "crushing": crushing,
    "crushing_surface": crushing_surface,
    "stamp": stamp,
}


def _ice(inputs: Inputs) -> Ice:
    """The probe, as stiff as the inputs say."""
    stiffness = ANY | dict(inputs)
    return Ice(
        name="probe",
        fabric="isotropic",
        elastic=Transverse.isotropic(stiffness["ice_E_GPa"] * 1e9, stiffness["ice_nu"]),
        porosity=0.0,
        grain_size=0.003,
        tensile_strength=TENSILE,
        toughness=TOUGHNESS,
        compressive_strength=COMPRESSIVE,
        confinement_slope=3.0,
        deviator_cap=2.5 * COMPRESSIVE,
        pressure_slope=1.2,
        peak_pressure=3 * COMPRESSIVE,
    )


def _case(inputs: Inputs, tube: Tube, embedment: float) -> Case:
    """The tube in the probe, its metal elastic, pulled along the surface."""
    stiffness, ice = ANY | dict(inputs), _ice(inputs)
    metal = Metal("elastic", stiffness["metal_E_GPa"] * 1e9, stiffness["metal_nu"], inf, inf, 1.0, 1.0, 1.0)
    placement = Placement(radians(inputs["angle_deg"]), embedment)
    return Case(tube, placement, Pull(0.0), ice, metal, crust_ice=ice)
