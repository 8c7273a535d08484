"""The pressure at which shut-in ice is crushed under the tube, its tip and its threads, from limit analysis.

    q = share sigma_c N,    R = depth / radius;    N: from N_0 on a line to N(3 radii), beyond N(R), never below N_0
    N_0(angle)    a leaning wall at the surface, plane section       `crushing.wedge`
    N(R)          a tube in ice that reaches R radii, a gap behind   `crushing.disc`     3 to 40, lines in log R
    N_stamp       a flat stamp: tip, faces of threads                `crushing.stamp`

sigma_c: uniaxial strength of the case's ice, at its temperature and loading time; share: `assumed.crushing_share`. How
far ice holds together round the tube is taken as the distance to the surface. N depends on the surface's confinement
slope, on cap and tensile strength over sigma_c and on friction of the steel: laws are kept at rounded ones. It is
Mohr-Coulomb's whatever the case's criterion; the parabola bears 1.7 to 0.8 times as much.

Limits: rigid-plastic, associated; a plane section at each depth: reach as depth is a judgement; no loss after the peak
and none with rate: the strength counts at the loading time, while the wall is strained at about 0.2 /s.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import Tube
from ...materials import Assumed, Ice

Array = NDArray[np.float64]
SLOPE_STEP, CAP_STEP, TENSILE, FRICTION = 1.0, 0.5, 0.2, 0.1  # of the laws that are kept
LEAST_SLOPE, LEAST_CAP = 1.0, 1.0
SURFACE_ANGLES = (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0)  # deg


@dataclass(frozen=True, slots=True)
class Crushing:
    """reach : (n,) radii, rising; factor : (n,) N.  angles : (a,) [rad]; surface : (a,) N_0.  stamp : N_stamp."""

    reach: Array
    factor: Array
    angles: Array
    surface: Array
    stamp: float

    def at(self, reach: Array, angle: float) -> Array:
        """N at depths over the radius, (m,), of a tube at an angle [rad]."""
        at_surface = float(np.interp(angle, self.angles, self.surface))
        first, lowest = self.reach[0], max(at_surface, self.factor[0])
        shallow = at_surface + (lowest - at_surface) * reach / first
        deep = np.interp(np.log(np.maximum(reach, first)), np.log(self.reach), self.factor)
        return np.where(reach < first, shallow, np.maximum(deep, at_surface))


def crushing_inputs(ice: Ice) -> Mapping[str, float]:
    """Rounded inputs of the laws for an ice."""
    cap = ice.deviator_cap / ice.compressive_strength
    return {
        "confinement_slope": max(SLOPE_STEP * round(ice.confinement_slope / SLOPE_STEP), LEAST_SLOPE),
        "cap_over_compressive": max(CAP_STEP * round(cap / CAP_STEP), LEAST_CAP),
        "tensile_over_compressive": TENSILE,
        "face_friction": FRICTION,
    }


def crushing_of(law: Callable[[str, Mapping[str, float]], Any], inputs: Mapping[str, float]) -> tuple[Crushing, float]:
    """Factors at these inputs, and their largest error.  law : gives a law by its name and inputs (`laws.recipes`)."""
    deep, stamp = (law(name, inputs) for name in ("crushing", "stamp"))
    at = [law("crushing_surface", {"angle_deg": angle_deg, **inputs}) for angle_deg in SURFACE_ANGLES]
    reach, factor = (np.array(deep[key]) for key in ("reach_radii", "factor"))
    surface = np.array([each["factor"] for each in at])
    found = Crushing(reach, factor, np.radians(SURFACE_ANGLES), surface, stamp["factor"])
    return found, max(each["error"] for each in (deep, stamp, *at))


def crushing_limit(tube: Tube, ice: Ice, assumed: Assumed, crushing: Crushing, depth: Array, angle: float) -> Array:
    """Largest force per length if no chip comes away, at depths (m,) under the surface [m]; angle [rad]; [N/m]."""
    pressure = assumed.crushing_share * ice.compressive_strength * crushing.at(depth / tube.radius, angle)
    return pressure * tube.outer_diameter


def stamp_pressure(ice: Ice, assumed: Assumed, crushing: Crushing) -> float:
    """Pressure under the tip and the faces of threads [Pa]."""
    return assumed.crushing_share * ice.compressive_strength * crushing.stamp
