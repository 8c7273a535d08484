"""Elasticity of bubbly ice: spheroidal pores, all along one axis, in a solid of any anisotropy.

    P_ijkl = 1/(4 pi) int_{|zeta|=1} sym[(xi . C . xi)^-1_ik xi_j xi_l] dS      xi = (zeta_1, zeta_2, zeta_3 / aspect)
    A      = [I + P : (C_i - C)]^-1                                          strain in a lone inclusion over the far one
    Mori-Tanaka        C* = C + f (C_i - C) : A : [(1 - f) I + f A]^-1                                         P in C
    self-consistent    C* = (sum_r f_r C_r : A_r) : (sum_r f_r A_r)^-1,  A_r = [I + P : (C_r - C*)]^-1        P in C*

P is Hill's polarization tensor [1/Pa] (Willis 1977; Mura, Micromechanics of Defects in Solids), sym over ij and kl,
xi . C . xi = C_ijkl xi_j xi_l. Both schemes agree to first order in f. Mori-Tanaka (1973; Benveniste 1987) keeps the
pores apart in a solid that carries through, and is Hashin & Shtrikman's (1963) upper bound for spherical pores in an
isotropic solid. The self-consistent scheme (Hill 1965, Budiansky 1965; Berryman's 1980 form) treats pores and solid
alike: stiffness vanishes at a porosity of 1/2; with flat or long pores nearly so in some direction long before (aspect
0.1, porosity 0.2: Young's modulus along the axis 1.4 % of the solid's). Sources of this paragraph: from memory.

Limits: empty pores of one shape, small to the body; no cracks (aspect 0.1 to 10), no water in the pores.
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil

import numpy as np
from numpy.typing import ArrayLike

from .data_file import read_numbers
from .tensor import Array, Transverse, frame_with, from_mandel, rotate, to_mandel

SCHEMES = ("mori_tanaka", "self_consistent")
POROSITY = (0.0, 0.45)
ASPECT = (0.1, 10.0)
Z = (0.0, 0.0, 1.0)
TOLERANCE, ITERATIONS = 1e-12, 2000  # of the self-consistent iteration
LOST = 1e-6  # share of the solid's stiffness taken for none


def hill_tensor(C: Array, aspect: float = 1.0, axis: ArrayLike = Z) -> Array:
    """Hill's tensor P (3, 3, 3, 3) [1/Pa] of a spheroid in a matrix C (3, 3, 3, 3) [Pa] (module docstring).

    aspect : length along `axis` over width, 0.1 to 10 (ValueError). Error below 1e-12 in an isotropic matrix and the
    ices here, below 1e-8 in one ten times stiffer one way than another.
    """
    _check("aspect", aspect, ASPECT)
    R = frame_with(axis)
    local = rotate(C, R.T)
    xi, weight = _directions(aspect, 5 if _same_all_round(local) else 65)
    pairs = (xi[:, :, None] * xi[:, None, :]).reshape(-1, 9)
    by_pair = local.transpose(0, 2, 1, 3).reshape(9, 9)  # C_ijkl as (ik, jl)
    flexibility = np.linalg.inv((pairs @ by_pair.T).reshape(-1, 3, 3)).reshape(-1, 9)
    P = ((flexibility * weight[:, None]).T @ pairs).reshape(3, 3, 3, 3).transpose(0, 2, 1, 3)
    P = (P + P.transpose(1, 0, 2, 3)) / 2
    P = (P + P.transpose(0, 1, 3, 2)) / 2
    return rotate((P + P.transpose(2, 3, 0, 1)) / 2, R)


@lru_cache(maxsize=64)
def _directions(aspect: float, azimuths: int) -> tuple[Array, Array]:
    """xi (m, 3) and weights (m,) of the mean over the half sphere zeta_3 > 0, the integrand being even.

    Gauss points in zeta_3, more the longer or flatter; equal azimuths, of which 5 are exact where C is the same all
    round the axis (harmonics up to 4).
    """
    cos, weight = np.polynomial.legendre.leggauss(2 * ceil(12 + 10 / min(aspect, 1 / aspect)))
    half = cos > 0
    cos, weight = np.repeat(cos[half], azimuths), np.repeat(weight[half], azimuths) / azimuths
    phi = np.tile(2 * np.pi * np.arange(azimuths) / azimuths, half.sum())
    sin = np.sqrt(1 - cos**2)
    return np.stack([sin * np.cos(phi), sin * np.sin(phi), cos / aspect], axis=1), weight


def _same_all_round(C: Array) -> bool:
    """Whether C is transversely isotropic about z: a turn by 1 rad, no part of a full one, leaves it."""
    turn = np.array([[np.cos(1), -np.sin(1), 0], [np.sin(1), np.cos(1), 0], [0, 0, 1]])
    return bool(np.abs(rotate(C, turn) - C).max() <= 1e-13 * np.abs(C).max())


def mori_tanaka(C: Array, inclusion: Array | None, fraction: float, aspect: float = 1.0, axis: ArrayLike = Z) -> Array:
    """Stiffness (3, 3, 3, 3) [Pa] of a matrix C with a volume fraction of spheroids, empty where `inclusion` is None.

    Raises ValueError unless 0 <= fraction < 1 and 0.1 <= aspect <= 10.
    """
    _check_fraction(fraction)
    one, m = np.eye(6), to_mandel(C)
    d = _mandel_or_void(inclusion) - m
    A = np.linalg.inv(one + to_mandel(hill_tensor(C, aspect, axis)) @ d)
    return _symmetric(m + fraction * d @ A @ np.linalg.inv((1 - fraction) * one + fraction * A))


def self_consistent(
    C: Array, inclusion: Array | None, fraction: float, aspect: float = 1.0, axis: ArrayLike = Z
) -> Array:
    """Self-consistent stiffness (3, 3, 3, 3) [Pa] of a matrix C with spheroids, empty where `inclusion` is None.

    Iterated until it changes by less than 1e-12 of itself. Raises ValueError if it does not settle, if the stiffness is
    lost (below 1e-6 of the matrix's), and unless 0 <= fraction < 1 and 0.1 <= aspect <= 10.
    """
    _check_fraction(fraction)
    one, phases = np.eye(6), (to_mandel(C), _mandel_or_void(inclusion))
    found = C
    for _ in range(ITERATIONS):
        P, m = to_mandel(hill_tensor(found, aspect, axis)), to_mandel(found)
        A, B = (
            share * np.linalg.inv(one + P @ (c - m)) for share, c in zip((1 - fraction, fraction), phases, strict=True)
        )
        new = _symmetric((phases[0] @ A + phases[1] @ B) @ np.linalg.inv(A + B))
        change = np.linalg.norm(new - found) / np.linalg.norm(new)
        found = new
        if change < TOLERANCE:
            return found
        if np.linalg.eigvalsh(to_mandel(found))[0] < LOST * np.linalg.eigvalsh(phases[0])[0]:
            raise ValueError(
                f"fraction = {fraction:g}: no stiffness is left at aspect {aspect:g} (self-consistent scheme)"
            )
    raise ValueError(f"fraction = {fraction:g}: the self-consistent iteration does not settle at aspect {aspect:g}")


def hashin_shtrikman(
    K0: float, G0: float, K1: float, G1: float, fraction: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """((K_low, K_high), (G_low, G_high)) [Pa] of two isotropic phases, the second (0 where empty) at a volume fraction.

    K = [sum f/(K_r + z)]^-1 - z with z = 4 G/3, G likewise with z = G (9 K + 8 G) / (6 (K + 2 G)), K and G of z the
    least or the greatest (Hashin & Shtrikman 1963, in Walpole's 1966 form; from memory). Raises ValueError unless
    0 <= fraction <= 1.
    """
    _check("fraction", fraction, (0.0, 1.0))
    K_bounds, G_bounds = [], []
    for pick in (min, max):
        K, G = pick(K0, K1), pick(G0, G1)
        K_bounds.append(_shifted_mean(K0, K1, fraction, 4 / 3 * G))
        G_bounds.append(_shifted_mean(G0, G1, fraction, G * (9 * K + 8 * G) / (6 * (K + 2 * G)) if G > 0 else 0.0))
    return (K_bounds[0], K_bounds[1]), (G_bounds[0], G_bounds[1])


def _shifted_mean(a: float, b: float, fraction: float, shift: float) -> float:
    """Harmonic mean of the values plus `shift`, less the shift; zero if a phase that is there has none."""
    parts = [(share, value + shift) for share, value in ((1 - fraction, a), (fraction, b)) if share > 0]
    if any(value == 0 for _, value in parts):
        return 0.0
    return 1 / sum(share / value for share, value in parts) - shift


def with_pores(solid: Transverse, porosity: float, aspect: float = 1.0, scheme: str = "mori_tanaka") -> Transverse:
    """Stiffness [Pa] of the solid with empty spheroids along its axis; of the solid itself at porosity 0.

    Raises ValueError unless 0 <= porosity <= 0.45, 0.1 <= aspect <= 10 and the scheme is one of SCHEMES, and if the
    self-consistent scheme leaves no stiffness.
    """
    _check("porosity", porosity, POROSITY)
    _check("aspect", aspect, ASPECT)
    if scheme not in SCHEMES:
        raise ValueError(f"scheme = {scheme!r}: must be one of {', '.join(SCHEMES)}")
    return solid if porosity == 0 else _porous(solid.pointing(Z), porosity, aspect, scheme).pointing(solid.axis)


@lru_cache(maxsize=1024)
def _porous(upright: Transverse, porosity: float, aspect: float, scheme: str) -> Transverse:
    law = mori_tanaka if scheme == "mori_tanaka" else self_consistent
    return Transverse.from_tensor(law(upright.tensor(), None, porosity, aspect, Z), Z)


def density(porosity: float) -> float:
    """(1 - porosity) times the density of pure ice [kg/m3]. Raises ValueError unless 0 <= porosity <= 0.45."""
    _check("porosity", porosity, POROSITY)
    return (1 - porosity) * read_numbers("crystal.toml", "pure_ice")["density_kg_per_m3"]


def _mandel_or_void(C: Array | None) -> Array:
    return np.zeros((6, 6)) if C is None else to_mandel(C)


def _symmetric(matrix: Array) -> Array:
    return from_mandel((matrix + matrix.T) / 2)


def _check(name: str, value: float, allowed: tuple[float, float]) -> None:
    if not allowed[0] <= value <= allowed[1]:
        raise ValueError(f"{name} = {value:g}: must lie between {allowed[0]:g} and {allowed[1]:g}")


def _check_fraction(fraction: float) -> None:
    if not 0 <= fraction < 1:
        raise ValueError(f"fraction = {fraction:g}: must be at least 0 and less than 1")
