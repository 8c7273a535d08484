"""A failure surface as plane strain sees it: r below a concave curve of s, held as straight lines.

    s = (sigma_x + sigma_y) / 2, tension positive      r = radius of Mohr's circle, (s1 - s3) / 2
    r <= a_i - b_i s       for every line i                                            all in units of sigma_c

    Mohr-Coulomb   (k + 1) r + (k - 1) s <= sigma_c          cap   r <= cap / 2        tension   s + r <= sigma_t
    parabola       3 r^2 + (s - z)^2 <= Q(p)^2,   Q = c + b p - b p^2 / (2 p_peak),   p = -(2 s + z) / 3

The stress z across the plane is whatever lets r be largest, as the associated flow rule has it in plane strain (Hill
1950, from memory). Lines are exact for Mohr-Coulomb, whose z lies between the others. The parabola lies between chords
(for a lower bound) and tangents (for an upper one).

Limits: isotropic; rigid-plastic, so strain softening and cracks do not count.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from ...materials.surface import MohrCoulomb, Parabolic

Array = NDArray[np.float64]
LINES = 12  # of a parabola
PROBE = 1e6  # Pa, sigma_c where laws know ratios alone
SAMPLES, ZOOMS = 60, 6  # stresses across the plane that are tried, each time between the best one's neighbours


@dataclass(frozen=True, slots=True)
class PlaneStrength:
    """Lines r <= intercept - slope s, in a unit of stress of the caller's.

    intercept, slope : (n,). Raises ValueError if the ice has no strength at s = 0.
    """

    intercept: Array
    slope: Array

    def __post_init__(self) -> None:
        if self.intercept.min() <= 0:
            raise ValueError(f"intercept = {self.intercept.min():g}: must be positive")

    def uniaxial(self) -> tuple[float, float]:
        """Largest compression and tension of a bar [the caller's unit], both positive; inf if nothing bounds it."""
        pressed, pulled = ((2 * self.intercept, 1 + sign * self.slope) for sign in (-1, 1))
        return tuple(  # type: ignore[return-value]
            float(min((a / b for a, b in zip(*each, strict=True) if b > 1e-12), default=inf))
            for each in (pressed, pulled)
        )


def tresca(shear_strength: float) -> PlaneStrength:
    """A material that bears the same shear at any pressure."""
    return PlaneStrength(np.array([shear_strength]), np.zeros(1))


def mohr_coulomb(slope: float, cap: float = inf, tension: float = inf) -> PlaneStrength:
    """Mohr-Coulomb with sigma_c = 1, capped and cut off; cap and tension in units of sigma_c."""
    lines = [(1 / (slope + 1), (slope - 1) / (slope + 1)), (cap / 2, 0.0), (tension, 1.0)]
    intercept, fall = np.array([line for line in lines if line[0] < inf]).T
    return PlaneStrength(intercept, fall)


def parabola(surface: Parabolic, outside: bool) -> PlaneStrength:
    """Tangents (outside) or chords of the parabola and its cut-off of tension, in units of sigma_c."""
    unit = surface.compressive_strength
    c, b, peak = surface.cohesion / unit, surface.pressure_slope, surface.peak_pressure / unit
    tension = surface.tensile_strength / unit
    lowest = -surface.closing_pressure / unit if b else -4 * peak
    s = lowest + (tension - lowest) * (1 - np.cos(np.linspace(0.0, np.pi, LINES + 1))) / 2
    below, above = np.full(s.size, lowest), np.full(s.size, tension)
    for _ in range(ZOOMS):
        z = np.linspace(below, above, SAMPLES)
        p = -(2 * s + z) / 3
        Q = c + b * p - b * p**2 / (2 * peak)
        square = np.where(Q > 0, (Q**2 - (s - z) ** 2) / 3, -1.0)
        best = square.argmax(axis=0), np.arange(s.size)
        step = (above - below) / (SAMPLES - 1)
        below, above = np.maximum(z[best] - step, lowest), np.minimum(z[best] + step, tension)
    r = np.sqrt(np.maximum(square[best], 0.0))
    if outside:
        kept = square[best] > (0.05 * r.max()) ** 2
        rise = -2 / 3 * Q[best] * b * (1 - p[best] / peak) - (s - z[best])
        slope = -(rise / (3 * np.where(kept, r, 1.0)))[kept]
        intercept = r[kept] + slope * s[kept]
    else:
        slope = -np.diff(r) / np.diff(s)
        intercept = r[:-1] + slope * s[:-1]
    return PlaneStrength(np.append(intercept, tension), np.append(slope, 1.0))


def in_plane(surface: MohrCoulomb | Parabolic, outside: bool) -> PlaneStrength:
    """A failure surface in plane strain, in units of sigma_c; outside : for an upper bound."""
    if isinstance(surface, Parabolic):
        return parabola(surface, outside)
    unit = surface.compressive_strength
    return mohr_coulomb(surface.confinement_slope, surface.deviator_cap / unit, surface.tensile_strength / unit)


def strengths_of(inputs: Mapping[str, float]) -> tuple[PlaneStrength, PlaneStrength]:
    """For a lower and an upper bound, in units of sigma_c, of a law's inputs (all -).

    inputs : tensile_over_compressive; with confinement_slope and cap_over_compressive Mohr-Coulomb, with pressure_slope
    and peak_over_compressive the parabola. Raises ValueError for numbers that no surface takes.
    """
    tension = PROBE * inputs["tensile_over_compressive"]
    surface: MohrCoulomb | Parabolic
    if "peak_over_compressive" in inputs:
        surface = Parabolic(tension, PROBE, inputs["pressure_slope"], PROBE * inputs["peak_over_compressive"])
    else:
        surface = MohrCoulomb(tension, PROBE, inputs["confinement_slope"], PROBE * inputs["cap_over_compressive"])
    return in_plane(surface, False), in_plane(surface, True)


def strength_inputs(surface: MohrCoulomb | Parabolic) -> dict[str, float]:
    """What `strengths_of` asks of a surface."""
    unit = surface.compressive_strength
    if isinstance(surface, Parabolic):
        own = {"pressure_slope": surface.pressure_slope, "peak_over_compressive": surface.peak_pressure / unit}
    else:
        own = {"confinement_slope": surface.confinement_slope, "cap_over_compressive": surface.deviator_cap / unit}
    return {"tensile_over_compressive": surface.tensile_strength / unit, **own}
