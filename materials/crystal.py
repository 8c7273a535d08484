"""Elasticity of pore-free ice: the single crystal at a temperature, averaged over the fabric of the polycrystal.

    c(T)  = c_cold + (c_warm - c_cold) (T - T_cold) / (T_warm - T_cold)    each constant [Pa]; T in deg C
    C_V   = sum_m w_m C(n_m)               Voigt: every grain strains alike
    C_R   = (sum_m w_m C(n_m)^-1)^-1       Reuss: every grain is stressed alike
    C_H   = (C_V + C_R) / 2                Hill: between the two, which bound the truth

The line runs through the two published rows of `data/crystal.toml` (Gammon et al. 1980 at -3, 1983 at -16 deg C) and
needs no other number. Outside them it extrapolates. From -40 to 0 deg C it differs by less than 1.1 % from the law of
one constant, C(T) = C(Tr) (1 - a T) / (1 - a Tr), a = 1.42e-3 per K (Gammon et al. 1983, from memory).

Fabrics about the columns, the z axis (names of Michel & Ramseier 1971, from memory; averages as by Nanthikesan & Shyam
Sunder 1994, Cold Reg. Sci. Technol. 22, 149-169): `isotropic` has c axes in all directions alike (granular ice),
`columnar_S1` c axes along the columns (the single crystal), `columnar_S2` c axes in all directions alike of the plane
square to the columns.

Limits: pure ice, small strains at the rate of sound (relaxed moduli of warm or slowly loaded ice are lower); a perfect
fabric without scatter about the ideal.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np

from .data_file import read_numbers
from .tensor import Array, Transverse, inverse

COLDEST_C, WARMEST_C = -40.0, 0.0
FABRICS = ("isotropic", "columnar_S1", "columnar_S2")
Z = (0.0, 0.0, 1.0)


def check_temperature(temperature_C: float) -> None:
    """Raise ValueError for a temperature [deg C] that is out of range or not a number."""
    if not COLDEST_C <= temperature_C <= WARMEST_C:
        raise ValueError(f"temperature_C = {temperature_C:g}: must lie between {COLDEST_C:g} and {WARMEST_C:g} deg C")


def crystal_at(temperature_C: float) -> Transverse:
    """Stiffness [Pa] of a single crystal of ice Ih at a temperature [deg C], c axis (0, 0, 1) (module docstring).

    Raises ValueError unless COLDEST_C <= temperature_C <= WARMEST_C.
    """
    check_temperature(temperature_C)
    cold, warm = (read_numbers("crystal.toml", row) for row in ("crystal_cold", "crystal_warm"))
    share = (temperature_C - cold["temperature_C"]) / (warm["temperature_C"] - cold["temperature_C"])
    names = ("c11_GPa", "c12_GPa", "c13_GPa", "c33_GPa", "c44_GPa")
    c11, c12, c13, c33, c44 = ((1 - share) * cold[name] + share * warm[name] for name in names)
    return Transverse(c11, c12, c13, c33, c44)


def c_axes(fabric: str) -> tuple[Array, Array]:
    """Directions (m, 3) of c axes and their weights (m,), columns along z, that average fourth-order tensors exactly.

    A grain's stiffness is a polynomial of degree 4 in its c axis: three Gauss points in cos(theta) times five azimuths
    are exact on the sphere, five azimuths over half a turn on the circle. Raises ValueError for an unknown fabric.
    """
    if fabric not in FABRICS:
        raise ValueError(f"fabric = {fabric!r}: must be one of {', '.join(FABRICS)}")
    if fabric == "columnar_S1":
        return np.array([Z]), np.ones(1)
    if fabric == "columnar_S2":
        phi = np.pi * np.arange(5) / 5
        return np.stack([np.cos(phi), np.sin(phi), np.zeros(5)], axis=1), np.full(5, 1 / 5)
    cos, weight = np.polynomial.legendre.leggauss(3)
    cos, phi = np.repeat(cos, 5), np.tile(2 * np.pi * np.arange(5) / 5, 3)
    sin = np.sqrt(1 - cos**2)
    return np.stack([sin * np.cos(phi), sin * np.sin(phi), cos], axis=1), np.repeat(weight / 10, 5)


def average(crystal: Transverse, fabric: str, scheme: Literal["voigt", "reuss", "hill"]) -> Transverse:
    """Stiffness [Pa] of a polycrystal of grains like `crystal`, the columns along z (module docstring).

    The axis of `crystal` does not matter. Raises ValueError for an unknown fabric or scheme.
    """
    if scheme not in ("voigt", "reuss", "hill"):
        raise ValueError(f"scheme = {scheme!r}: must be one of voigt, reuss, hill")
    directions, weights = c_axes(fabric)
    grains = crystal.along(directions)
    voigt = np.tensordot(weights, grains, 1)
    if scheme == "voigt":
        return Transverse.from_tensor(voigt, Z)
    reuss = inverse(np.tensordot(weights, inverse(grains), 1))
    return Transverse.from_tensor(reuss if scheme == "reuss" else (voigt + reuss) / 2, Z)


@lru_cache(maxsize=1024)
def solid_ice(temperature_C: float, fabric: str) -> Transverse:
    """Stiffness [Pa] of ice without pores at a temperature [deg C], columns along z: Hill's average over the fabric.

    Raises ValueError for a temperature out of range or an unknown fabric.
    """
    return average(crystal_at(temperature_C), fabric, "hill")
