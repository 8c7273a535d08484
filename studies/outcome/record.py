"""One case solved: from flat user settings to the record that is written down, and the fields behind it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from ...fem.onset.criterion import Onset
from ...fem.onset.solve import Solution, mesh_of, solve_onset
from ...fem.solid.stress import largest_direction
from ...materials import Ice
from ..case.file import Settings, to_case
from ..files.provenance import versions

CAUTION = (
    "Research and teaching only. Ice varies from place to place and hour to hour; never trust a life to an anchor on "
    "the strength of a number like this. Follow standards, makers' instructions, local codes and qualified practice. "
    "Onset is the first damage, not the peak load."
)
AT_MOUTH = 1e-4  # m


def solve_settings(
    settings: Settings, say: Callable[[str], None] = lambda text: None
) -> tuple[dict[str, Any], Solution]:
    """Solve the case that the settings describe; the record is plain JSON data in the users' units.

    What can be refused is tried first: the mesh, then the peak; the onset, which costs most, last.
    say : gets a line for each law of the ice that has to be computed first.
    Raises ValueError for a placement that cannot be meshed, fem.solid.solver.SolveError if a check fails.
    """
    case = to_case(settings)
    model = mesh_of(case)
    peak: dict[str, Any] = {}
    if settings["numerics.model"] == "peak":
        from .peak import peak_record

        peak = peak_record(case, say)
    solution = solve_onset(case, model=model)
    contact, quality, metal = solution.contact, solution.model.quality, solution.case.metal
    tension, compression = solution.mouth_stress * 1e-3
    ratio = case.assumed.sliding_ratio
    record: dict[str, Any] = {
        "onset_kN": solution.onset_load / 1e3,
        "onset_mode": solution.onset.mode,
        "onset_where_mm": [round(float(x) * 1e3, 3) + 0.0 for x in solution.onset.where],
        "onset_place": place_in_words(solution.onset, all_round=_straight(solution)),
        "onset_crack": crack_in_words(solution.onset),
        "onset_length_mm": solution.onset.length * 1e3,
        "compliance_mm_per_kN": solution.compliance * 1e6,
        "share_front": solution.shares.front,
        "share_threads": solution.shares.threads,
        "share_back_or_toe": solution.shares.back,
        "mouth_tension_MPa_per_kN": float(tension),
        "mouth_compression_MPa_per_kN": max(0.0, float(-compression)),
        "dofs": int(contact.u.size),
        "wall_s": round(solution.seconds, 3),
        "residual": contact.residual,
        "balance_error": solution.balance_error,
        "contact_iterations": contact.iterations,
        "solver": contact.method,
        "ice": ice_record(case.ice, ratio),
        "crust": ice_record(case.crust_ice, ratio) if solution.case.crust > 0 else None,
        "metal": {"kind": metal.name, "E_GPa": metal.youngs_modulus / 1e9, "nu": metal.poissons_ratio},
        "mesh_quality": {
            "elements": quality.elements,
            "smallest_scaled_jacobian": quality.smallest_scaled_jacobian,
            "smallest_angle_measure": quality.smallest_angle_measure,
            "largest_aspect": quality.largest_aspect,
        },
        "versions": versions(),
        "caution": CAUTION,
        "case": settings,
    }
    if settings["numerics.model"] == "cone":
        from .cone import cone_record

        record |= cone_record(solution.case)
    record |= peak
    record["notes"] = notes(record)
    return record, solution


def notes(record: dict[str, Any]) -> list[str]:
    """What a reader must know of an outcome besides its numbers, a sentence each."""
    if "peak" not in record:
        return []
    found = [record["peak"]["edge"]] if record["peak"]["edge"] else []
    onset, largest = record["onset_kN"], record["peak_kN"]
    if largest < onset:
        found.append(
            f"the peak, {largest:.3g} kN, lies below the onset of damage, {onset:.3g} kN: the beam on laws of the ice "
            "and the solid disagree here; trust neither"
        )
    return found


def ice_record(ice: Ice, sliding_ratio: float) -> dict[str, Any]:
    """The ice of a case as it entered, in the users' units; E, nu and G_c of the isotropic average."""
    constants = ice.elastic.constants
    return {
        "kind": ice.name,
        "fabric": ice.fabric,
        "porosity": ice.porosity,
        "grain_size_mm": ice.grain_size * 1e3,
        "E_GPa": ice.elastic.youngs_modulus / 1e9,
        "nu": ice.elastic.poissons_ratio,
        "tensile_MPa": ice.tensile_strength / 1e6,
        "K_IC_kPa_sqrt_m": ice.toughness / 1e3,
        "G_c_J_per_m2": ice.fracture_energy,
        "critical_distance_mm": ice.critical_distance * 1e3,
        "compressive_MPa": ice.compressive_strength / 1e6,
        "shear_distance_mm": ice.shear_distance(sliding_ratio) * 1e3,
        "criterion": ice.criterion,
        "confinement_slope": ice.confinement_slope,
        "deviator_cap_MPa": ice.deviator_cap / 1e6,
        "pressure_slope": ice.pressure_slope,
        "peak_pressure_MPa": ice.peak_pressure / 1e6,
        "stiffness_GPa": dict(zip(("c11", "c12", "c13", "c33", "c44"), (c / 1e9 for c in constants), strict=True)),
        "column_axis": None if ice.elastic.is_isotropic else list(ice.elastic.axis),
    }


def _straight(solution: Solution) -> bool:
    """Whether the pull runs along the axis of an upright tube, so that no side differs from another."""
    case = solution.case
    return abs(case.placement.angle) < 1e-9 and abs(case.pull.unit[0]) < 1e-9


def place_in_words(onset: Onset, all_round: bool = False) -> str:
    """Where the first damage is, in words: front is the side toward +x; `all_round` where no side differs."""
    turn = abs(float(np.degrees(onset.angle)))
    side = "in front of the tube" if turn < 45 else "behind the tube" if turn > 135 else "beside the tube"
    side = "all round the tube" if all_round else side
    depth = -float(onset.where[2])
    return f"at the mouth, {side}" if depth < AT_MOUTH else f"{depth * 1e3:.0f} mm below the surface, {side}"


def crack_in_words(onset: Onset) -> str:
    """Which crack the first damage would open, in words, from the direction of the largest principal stress."""
    if onset.mode == "crushing":
        return "none: the ice crushes"
    if onset.mode == "shear":
        return "slanting between the largest compression and the tension across it, sliding"
    x, y, z = np.abs(largest_direction(onset.averaged))
    if y > 0.9:
        return "in the plane of the pull, splitting the ice along it"
    if z > 0.9:
        return "parallel to the surface, lifting a flake"
    return "across the pull" if x > 0.9 else "slanting"
