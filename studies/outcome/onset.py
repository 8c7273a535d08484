"""The onset of a case as it is written down: the first damage in numbers and words, the ice and metal that entered."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...fem.onset.criterion import Onset
from ...fem.onset.solve import Solution
from ...fem.solid.stress import largest_direction
from ...materials import Ice, Metal
from .results import IceUsed, MetalUsed, OnsetResult, Point

NOISE = 1e-12  # of a share of the pull: less is round-off
AT_MOUTH = 1e-4  # m


def onset_result(solution: Solution) -> OnsetResult:
    """The first damage of a solved case, in the users' units."""
    contact, quality = solution.contact, solution.model.quality
    tension, compression = solution.mouth_stress * 1e-3
    volume = solution.size_effect.volume
    x, y, z = (round(float(each) * 1e3, 3) + 0.0 for each in solution.onset.where)
    return OnsetResult(
        mode=solution.onset.mode,
        where_mm=(x, y, z),
        place=place_in_words(solution.onset, all_round=_straight(solution)),
        crack=crack_in_words(solution.onset),
        length_mm=solution.onset.length * 1e3,
        compliance_mm_per_kN=solution.compliance * 1e6,
        share_front=_share(solution.shares.front),
        share_threads=_share(solution.shares.threads),
        share_back_or_toe=_share(solution.shares.back),
        mouth_tension_MPa_per_kN=float(tension),
        mouth_compression_MPa_per_kN=max(0.0, float(-compression)),
        effective_volume_mm3=None if volume is None else volume * 1e9,
        dofs=int(contact.u.size),
        wall_s=round(solution.seconds, 3),
        residual=contact.residual,
        balance_error=solution.balance_error,
        contact_iterations=contact.iterations,
        solver=contact.method,
        mesh_quality={
            "elements": quality.elements,
            "smallest_scaled_jacobian": quality.smallest_scaled_jacobian,
            "smallest_angle_measure": quality.smallest_angle_measure,
            "largest_aspect": quality.largest_aspect,
        },
    )


def _share(value: float) -> float:
    """Without the noise of round-off where there is none: 0, not 5e-17."""
    return value if abs(value) > NOISE else 0.0


def metal_used(metal: Metal) -> MetalUsed:
    """The metal of a case as it entered, in the users' units."""
    return MetalUsed(metal.name, metal.youngs_modulus / 1e9, metal.poissons_ratio)


def ice_used(ice: Ice, sliding_ratio: float, size_factor: float | None = None) -> IceUsed:
    """The ice of a case as it entered, in the users' units; E, nu and G_c of the isotropic average."""
    constants = ice.elastic.constants
    return IceUsed(
        kind=ice.name,
        fabric=ice.fabric,
        porosity=ice.porosity,
        grain_size_mm=ice.grain_size * 1e3,
        E_GPa=ice.elastic.youngs_modulus / 1e9,
        nu=ice.elastic.poissons_ratio,
        tensile_MPa=ice.tensile_strength / 1e6,
        K_IC_kPa_sqrt_m=ice.toughness / 1e3,
        G_c_J_per_m2=ice.fracture_energy,
        critical_distance_mm=ice.critical_distance * 1e3,
        compressive_MPa=ice.compressive_strength / 1e6,
        shear_distance_mm=ice.shear_distance(sliding_ratio) * 1e3,
        criterion=ice.criterion,
        confinement_slope=ice.confinement_slope,
        deviator_cap_MPa=ice.deviator_cap / 1e6,
        pressure_slope=ice.pressure_slope,
        peak_pressure_MPa=ice.peak_pressure / 1e6,
        stiffness_GPa=dict(zip(("c11", "c12", "c13", "c33", "c44"), (c / 1e9 for c in constants), strict=True)),
        column_axis=None if ice.elastic.is_isotropic else _point(ice.elastic.axis),
        size_factor=size_factor,
    )


def _point(axis: Sequence[float]) -> Point:
    x, y, z = axis
    return (x, y, z)


def _straight(solution: Solution) -> bool:
    """Whether the pull runs along the axis of an upright tube, so that no side differs from another."""
    case = solution.case
    return abs(case.placement.angle) < 1e-9 and abs(case.pull.unit[0]) < 1e-9


def place_in_words(onset: Onset, all_round: bool = False) -> str:
    """Where the first damage is, in words: front is the side toward +x; `all_round` if no side differs."""
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
