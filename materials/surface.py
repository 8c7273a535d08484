"""Multi-axial failure of ice: the load factor t at which t times a stress fails, in tension and in crushing.

Principal stresses come in rising order, tension positive [Pa]; below, s1 >= s2 >= s3 are compression positive,
q = von Mises stress, p = (s1 + s2 + s3) / 3. Both surfaces meet sigma_c exactly and cut off the largest tension:

    tension (Rankine)         t = sigma_t / -s3                                              if s3 < 0
    Mohr-Coulomb, capped      s1 - k s3 = sigma_c   or   s1 - s3 = cap        k = (1 + sin phi) / (1 - sin phi)
    parabolic, closing        q = c + b p - b p^2 / (2 p_peak)        c = sigma_c (1 - b / 3 + b sigma_c / (18 p_peak))
    its load factor           A t^2 + B t = c,     A = b p^2 / (2 p_peak) >= 0,     B = q - b p,     c > 0

Mohr-Coulomb (Coulomb 1776, Mohr 1900, from memory) takes no account of s2. The cap is the plastic bound: under high
confinement ice flows. The parabola follows Fish & Zaretsky 1997, *Ice strength as a function of hydrostatic pressure
and temperature*, CRREL Report 97-6 (abstract seen; the equation from memory, there in terms of the shear stress); the
teardrop of Nadreau & Michel is akin (from memory). b = 0 is von Mises.

Limits: isotropic; no rate (the strengths carry it); proportional loading. The surface met first tells tension from
crushing. The shear surfaces are not bent back in tension: if sigma_t > sigma_c / k (Mohr-Coulomb), or if the parabola
is that steep, a bar in tension fails by them, below sigma_t. The closing pressure follows from p_peak, not from the
phase diagram.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import asin, isfinite
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
SURFACES = ("mohr_coulomb", "parabolic")
ROUNDING = 1e-9  # relative, where two strengths scaled together are compared


@dataclass(frozen=True, slots=True)
class MohrCoulomb:
    """Mohr-Coulomb with tension cut-off and cap on the stress difference; it never fails by pressure alone.

    tensile_strength, compressive_strength : uniaxial [Pa].  confinement_slope : k, d s1 / d s3 on failure, at least 1.
    deviator_cap : largest s1 - s3 [Pa], at least the compressive strength.
    """

    tensile_strength: float
    compressive_strength: float
    confinement_slope: float
    deviator_cap: float

    def __post_init__(self) -> None:
        _check_positive(self)
        if self.confinement_slope < 1:
            raise ValueError(f"confinement_slope = {self.confinement_slope:g}: must be at least 1")
        _check_least("deviator_cap", self.deviator_cap, self.compressive_strength)

    @property
    def friction_angle(self) -> float:
        """phi [rad], from sin phi = (k - 1) / (k + 1)."""
        return asin((self.confinement_slope - 1) / (self.confinement_slope + 1))

    def load_factors(self, principal: ArrayLike) -> tuple[Array, Array]:
        """Load factors (...) for tension and for crushing of principal stresses (..., 3) [Pa]; inf if never.

        Raises ValueError if the stresses are not in rising order.
        """
        rising = _checked(principal)
        s1, s3 = -rising[..., 0], -rising[..., 2]
        sheared = _factor(self.compressive_strength, s1 - self.confinement_slope * s3)
        return _factor(self.tensile_strength, -s3), np.minimum(sheared, _factor(self.deviator_cap, s1 - s3))

    def envelope(self, pressure: ArrayLike) -> Array:
        """Largest q (n,) [Pa] in triaxial compression (s2 = s3) at mean pressures (n,) [Pa]; nan if none holds."""
        p, k = np.asarray(pressure, dtype=np.float64), self.confinement_slope
        sheared = 3 * (self.compressive_strength + (k - 1) * p) / (k + 2)
        return _within_tension(np.minimum(sheared, self.deviator_cap), p, self.tensile_strength)


@dataclass(frozen=True, slots=True)
class Parabolic:
    """Parabola of q over p, largest at p_peak, that closes at high pressure; with tension cut-off.

    tensile_strength, compressive_strength : uniaxial [Pa].  pressure_slope : b, d q / d p at p = 0, not negative.
    peak_pressure : p of the largest q [Pa], at least a third of the compressive strength, where uniaxial compression
    lies. The slope must leave c > 0.
    """

    tensile_strength: float
    compressive_strength: float
    pressure_slope: float
    peak_pressure: float

    def __post_init__(self) -> None:
        _check_positive(self, but=("pressure_slope",))
        _check_least("peak_pressure", self.peak_pressure, self.compressive_strength / 3)
        steepest = 18 * self.peak_pressure / (6 * self.peak_pressure - self.compressive_strength)
        if not 0 <= self.pressure_slope < steepest:
            raise ValueError(f"pressure_slope = {self.pressure_slope:g}: must be at least 0 and below {steepest:.6g}")

    @property
    def cohesion(self) -> float:
        """c: q without mean pressure [Pa]."""
        sigma_c, b = self.compressive_strength, self.pressure_slope
        return sigma_c * (1 - b / 3 + b * sigma_c / (18 * self.peak_pressure))

    @property
    def closing_pressure(self) -> float:
        """p_peak (1 + sqrt(1 + 2 c / (b p_peak))): mean pressure that fails by itself, q = 0 [Pa]; inf for b = 0."""
        if self.pressure_slope == 0:
            return float("inf")
        rise = 2 * self.cohesion / (self.pressure_slope * self.peak_pressure)
        return self.peak_pressure * (1 + float(np.sqrt(1 + rise)))

    def load_factors(self, principal: ArrayLike) -> tuple[Array, Array]:
        """Load factors (...) for tension and for crushing of principal stresses (..., 3) [Pa]; inf if never.

        The quadratic has one positive root (none if A = B = 0), taken in the form that does not cancel.
        Raises ValueError if the stresses are not in rising order.
        """
        rising = _checked(principal)
        size = np.abs(rising).max(axis=-1)  # the quadratic in units of the stress's size: no overflow, no underflow
        unit = rising / np.where(size == 0, 1.0, size)[..., None]
        p, c = -unit.mean(axis=-1), self.cohesion
        q = np.sqrt(0.5 * ((unit - np.roll(unit, 1, axis=-1)) ** 2).sum(axis=-1))
        A = self.pressure_slope * p**2 / (2 * self.peak_pressure)
        B = q - self.pressure_slope * p
        root = np.sqrt(B**2 + 4 * A * c)
        falling = B < 0  # only with A > 0
        t = np.where(falling, (root - B) / np.where(falling, 2 * A, 1.0), _factor(2 * c, root + B))
        with np.errstate(over="ignore"):
            crushing = t / np.where(size == 0, 1.0, size)
        return _factor(self.tensile_strength, rising[..., 2]), crushing

    def envelope(self, pressure: ArrayLike) -> Array:
        """Largest q (n,) [Pa] in triaxial compression (s2 = s3) at mean pressures (n,) [Pa]; nan if none holds."""
        p = np.asarray(pressure, dtype=np.float64)
        q = self.cohesion + self.pressure_slope * p * (1 - p / (2 * self.peak_pressure))
        return _within_tension(q, p, self.tensile_strength)


@runtime_checkable
class Surface(Protocol):
    """A failure surface: what the onset asks of MohrCoulomb, Parabolic or one of a user's own."""

    def load_factors(self, principal: ArrayLike) -> tuple[Array, Array]:
        """Load factors (...) for tension and for crushing of principal stresses (..., 3), rising [Pa]; inf: never."""
        ...

    def envelope(self, pressure: ArrayLike) -> Array:
        """Largest von Mises stress (n,) [Pa] in triaxial compression at mean pressures (n,) [Pa]; nan: none holds."""
        ...


def check_criterion(criterion: str) -> None:
    """Raise ValueError, one line, for a word that names no surface."""
    if criterion not in SURFACES:
        raise ValueError(f"criterion = {criterion!r}: must be one of {', '.join(SURFACES)}")


def _factor(strength: float, stress: Array) -> Array:
    """strength / stress if the stress is positive, inf otherwise; nan stays nan."""
    out = np.full(stress.shape, np.inf)
    with np.errstate(over="ignore"):
        return np.divide(strength, stress, out=out, where=~(stress <= 0))


def _within_tension(q: Array, p: Array, tensile_strength: float) -> Array:
    """q held to the tension cut-off -s3 = q/3 - p <= sigma_t; nan where even q = 0 fails."""
    q = np.minimum(q, 3 * (p + tensile_strength))
    return np.where(q < 0, np.nan, q)


def _checked(principal: ArrayLike) -> Array:
    """Principal stresses (..., 3) as floats. Raises ValueError for another shape or order."""
    rising = np.asarray(principal, dtype=np.float64)
    if rising.ndim == 0 or rising.shape[-1] != 3:
        raise ValueError(f"principal.shape = {rising.shape}: must end in 3")
    if (np.diff(rising, axis=-1) < 0).any():
        raise ValueError("principal: must be in rising order, tension positive")
    return rising


def _check_positive(surface: MohrCoulomb | Parabolic, but: tuple[str, ...] = ()) -> None:
    for field in fields(surface):
        value = getattr(surface, field.name)
        if not isfinite(value) or (value <= 0 and field.name not in but):
            raise ValueError(f"{field.name} = {value:g}: must be {'' if field.name in but else 'positive and '}finite")


def _check_least(name: str, value: float, least: float) -> None:
    if value < least * (1 - ROUNDING):
        raise ValueError(
            f"{name} = {value / 1e6:g} MPa: must be at least {least / 1e6:.4g} MPa at this compressive strength"
        )
