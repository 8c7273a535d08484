"""Hand formulas for beams on springs and for single piles, plain functions in SI units.

A pile of diameter d, embedded over L [m], in a soil of E, nu, G = E / (2 (1 + nu)) [Pa]; the pull H [N] acts at a lever
above the surface. Winkler's k [N/m^2] is force per length and deflection. Forms by memory, except where a docstring
says otherwise.

Limits: `piles_lateral`, `piles_axial`, `winkler` and `broms` in `validation/checks/beam_and_pile/` hold them against
finite elements or against a limit analysis, and say how far they carry.
"""

from __future__ import annotations

from math import cos, cosh, exp, log, pi, sin, sqrt, tanh


def _positive(**lengths: float) -> None:
    for name, value in lengths.items():
        if not value > 0:
            raise ValueError(f"{name} = {value:g}: must be positive")


def winkler_wave(k: float, EI: float) -> float:
    """lambda = (k / (4 EI))^(1/4) [1/m]; k [N/m^2], EI [N m^2]. Hetenyi, Beams on Elastic Foundation, 1946."""
    _positive(k=k, EI=EI)
    return (k / (4 * EI)) ** 0.25


def infinite_beam(x: float, force: float, k: float, EI: float) -> float:
    """Deflection [m] at a distance x [m] from a force [N] on an infinite beam on springs. Hetenyi 1946."""
    lam = winkler_wave(k, EI)
    ax = lam * abs(x)
    return force * lam / (2 * k) * exp(-ax) * (cos(ax) + sin(ax))


def half_infinite_beam(x: float, force: float, moment: float, k: float, EI: float) -> tuple[float, float]:
    """Deflection [m] and slope [rad] at x [m] from the end, where force [N] and moment [N m] act. Hetenyi 1946.

    The moment bends the way the force does, as that of a force above the surface: M = H lever. The slope is positive
    where the deflection falls with x.
    """
    lam = winkler_wave(k, EI)
    ax, fall = lam * x, exp(-lam * x)
    y = 2 * lam / k * fall * (force * cos(ax) + lam * moment * (cos(ax) - sin(ax)))
    slope = 2 * lam**2 / k * fall * (force * (cos(ax) + sin(ax)) + 2 * lam * moment * cos(ax))
    return y, slope


def slipping_modulus(k: float, G: float) -> float:
    """Winkler's k [N/m^2] of a round pile that slips without friction round its girth, from that of a welded one.

    1 / k' = 1 / k + 1 / (8 pi G): a rigid disc with a line force P in a plane (plane strain). Both cases have
    Muskhelishvili's phi = -c ln z, psi = kappa c ln z + b / z^2, c = P / (2 pi (1 + kappa)); a welded disc has
    b = c a^2, one without shear b = -(kappa - 1) c a^2 / 2, and 2 G u_r differs by c (kappa + 1) / 2 = P / (4 pi).
    """
    _positive(k=k, G=G)
    return 1 / (1 / k + 1 / (8 * pi * G))


def randolph_head(force: float, moment: float, d: float, EI: float, G: float, nu: float) -> tuple[float, float]:
    """Deflection [m] and slope [rad] of the head of a flexible, welded pile under force [N] and moment [N m].

    With E_p = EI / (pi d^4 / 64), G* = G (1 + 3 nu / 4), critical length l_c = d (E_p / G*)^(2/7), even soil:
    u = (E_p / G*)^(1/7) / G* (0.27 H (l_c/2)^-1 + 0.3 M (l_c/2)^-2), slope the same with 0.3 H (l_c/2)^-2 and
    0.8 M (l_c/2)^-3. Fits to finite elements. Randolph, Geotechnique 31, 1981, p. 247; G* as in its notation.
    """
    _positive(d=d, EI=EI, G=G)
    half = 0.5 * critical_length(d, EI, G, nu)
    soft = G * (1 + 0.75 * nu)
    factor = (EI / (pi * d**4 / 64) / soft) ** (1 / 7) / soft
    deflection = factor * (0.27 * force / half + 0.3 * moment / half**2)
    return deflection, factor * (0.3 * force / half**2 + 0.8 * moment / half**3)


def critical_length(d: float, EI: float, G: float, nu: float) -> float:
    """Length [m] beyond which a pile's head does not feel its tip. Randolph 1981, even soil."""
    return d * (EI / (pi * d**4 / 64) / (G * (1 + 0.75 * nu))) ** (2 / 7)


def shaft_stiffness(length: float, d: float, EA: float, G: float, nu: float) -> tuple[float, float]:
    """Axial stiffness of a pile's head [N/m] and deflection of the tip over that of the head, the shaft alone.

    zeta = ln (r_m / r_0), r_m = 2.5 L (1 - nu), mu^2 = 2 pi G / (zeta EA): 2 pi L G / zeta tanh (mu L) / (mu L) and
    1 / cosh (mu L). Concentric cylinders of sheared soil. Randolph & Wroth, ASCE J. GED 104(GT12), 1978.
    """
    _positive(length=length, d=d, EA=EA, G=G)
    zeta = log(2.5 * length * (1 - nu) / (d / 2))
    mu_L = sqrt(2 * pi * G / (zeta * EA)) * length
    return 2 * pi * length * G / zeta * tanh(mu_L) / mu_L, 1 / cosh(mu_L)


def broms_short(bearing: float, d: float, length: float, lever: float) -> float:
    """Largest lateral pull [N] of a rigid free-headed pile in soil that bears `bearing` [Pa] over its whole length.

    It turns about a point: h = H / (bearing d) from h^2 + 2 h (L + 2 e) - L^2 = 0. Broms, ASCE J. SMFD 90(SM2),
    1964, in its uniform form, without his unloaded length of 1.5 d at the surface.
    """
    _positive(bearing=bearing, d=d, length=length)
    arm = length + 2 * lever
    return bearing * d * (sqrt(arm**2 + length**2) - arm)


def broms_long(bearing: float, d: float, lever: float, plastic_moment: float) -> float:
    """Largest lateral pull [N] of a free-headed pile that yields in bending [N m], in soil as in `broms_short`.

    The hinge is where the shear force vanishes, at h = H / (bearing d) below the surface:
    M_p = bearing d (h^2 / 2 + h e). Broms 1964.
    """
    _positive(bearing=bearing, d=d, plastic_moment=plastic_moment)
    return bearing * d * (sqrt(lever**2 + 2 * plastic_moment / (bearing * d)) - lever)


def broms(bearing: float, d: float, length: float, lever: float, plastic_moment: float) -> float:
    """The less of `broms_short` and `broms_long` [N]."""
    return min(broms_short(bearing, d, length, lever), broms_long(bearing, d, lever, plastic_moment))
