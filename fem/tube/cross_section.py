"""The tube's section as fibres: elastic-plastic along the axis, elastic in shear.

Hollow circle, outer radius R, bore r [m]; fibres are bands over the height y (along the front normal n of
`geometry.placement`, positive toward the pull). With the stretch Gamma of the axis, the shear gamma and the curvature
kappa = d(rotation)/d(axis) [1/m] (positive: the head turns on toward the pull),

    eps(y) = Gamma - y kappa,   N = int sigma dA,   M = -int sigma y dA,   V = kappa_s G A gamma
    sigma = E (eps - eps_p),   X = H eps_p within +-(sigma_u - sigma_y),   |sigma - X| <= sigma_y
    work on plastic strain     sigma_y |d eps_p| + X d eps_p

Kinematic hardening that ends at sigma_u: a tube that bends first and is drawn straight later yields back early
(Bauschinger). The back stress X is a function of the one memory, eps_p: the return is closed and what is locked in,
int X d eps_p, comes back. A band has its exact area and sits at its own radius of gyration: area and second moment are
exact for any number of bands; the moments M_p, M_u = 4/3 (sigma_y, sigma_u) (R^3 - r^3) come out high by less than
0.5 % with 20 bands. First yield is taken at the true outer fibres y = +-R. kappa_s: Cowper, J. Appl. Mech. 33, 1966.

Limits: strains of the wall about 0.1, stress per first area; threads add nothing; no ovalling, no wrinkle, no fracture
(`strain_limit` judges); bent back from beyond its end, X first stays at it. Cowper from memory.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...materials import Assumed, Metal, default_assumed
from ..compiled import compiled, within
from .strain_limit import StrainLimit, strain_limit

Array = NDArray[np.float64]
BANDS = 20


class HollowSection(NamedTuple):
    """A hollow circular section of one metal (SI units).

    height : (f,) of the fibres [m].  area : (f,) [m^2].  weights : (f, 3), area times 1, -y, y^2.
    E, hardening, yield_strength, back_stress [Pa]; back_stress : the most that X comes to, sigma_u - sigma_y.
    shear_stiffness : kappa_s G A [N].  limit : strains where counting stops.
    """

    radius: float
    bore: float
    height: Array
    area: Array
    weights: Array
    E: float
    hardening: float
    yield_strength: float
    back_stress: float
    shear_stiffness: float
    limit: StrainLimit

    @property
    def plastic_moment(self) -> float:
        """M_p = 4/3 sigma_y (R^3 - r^3) [N m], exact, without hardening or axial force."""
        return plastic_moment(self)

    @property
    def ultimate_moment(self) -> float:
        """M_u = 4/3 sigma_u (R^3 - r^3) [N m], exact, without axial force: hardening has ended all over."""
        return (1 + self.back_stress / self.yield_strength) * self.plastic_moment

    @property
    def plastic_force(self) -> float:
        """N_p = sigma_y pi (R^2 - r^2) [N]."""
        return plastic_force(self)


@compiled
def plastic_moment(section: HollowSection) -> float:
    """M_p [N m], `HollowSection.plastic_moment`."""
    return 4 / 3 * section.yield_strength * (section.radius**3 - section.bore**3)


@compiled
def plastic_force(section: HollowSection) -> float:
    """N_p [N], `HollowSection.plastic_force`."""
    return section.yield_strength * pi * (section.radius**2 - section.bore**2)


class SectionForces(NamedTuple):
    """What `respond` gives for e sections.

    force, moment : (e,) N [N], M [N m].  stiffness : (3, e), dN/dGamma, dN/dkappa = dM/dGamma, dM/dkappa.
    plastic : (e, f) plastic strain of the fibres, the only memory.
    """

    force: Array
    moment: Array
    stiffness: Array
    plastic: Array


def shear_coefficient(nu: float, m: float) -> float:
    """Cowper's kappa_s [-] of a hollow circle, m = bore / outer radius."""
    ring = (1 + m**2) ** 2
    return 6 * (1 + nu) * ring / ((7 + 6 * nu) * ring + (20 + 12 * nu) * m**2)


def _disc(y: Array, radius: float) -> tuple[Array, Array]:
    """Area [m^2] and second moment [m^4] of a disc below the heights y [m]."""
    t = np.clip(y / radius, -1.0, 1.0)
    root = np.sqrt(1 - t * t)
    angle = np.arcsin(t) + pi / 2
    return radius**2 * (angle + t * root), radius**4 / 4 * (angle - t * root * (1 - 2 * t * t))


def hollow_section(
    radius: float, bore: float, metal: Metal, bands: int = BANDS, assumed: Assumed | None = None
) -> HollowSection:
    """The section of outer radius and bore [m], its bands equal in angle seen from the centre.

    assumed : of its strain limit; those of the file if None.
    Raises ValueError unless 0 <= bore < radius and the number of bands is even (no band may straddle y = 0).
    """
    if not 0 <= bore < radius:
        raise ValueError(f"bore = {bore:g}: must lie between 0 and the radius, {radius:g}")
    if bands < 2 or bands % 2:
        raise ValueError(f"bands = {bands}: must be even and at least 2")
    edges = radius * np.sin(np.linspace(-pi / 2, pi / 2, bands + 1))
    outer, inner = _disc(edges, radius), _disc(edges, bore) if bore else (0 * edges, 0 * edges)
    area, second = (np.diff(whole - hole) for whole, hole in zip(outer, inner, strict=True))
    height = np.sign(edges[:-1] + edges[1:]) * np.sqrt(second / area)
    G = metal.youngs_modulus / (2 * (1 + metal.poissons_ratio))
    return HollowSection(
        radius,
        bore,
        height,
        area,
        np.column_stack([area, -area * height, area * height**2]),
        metal.youngs_modulus,
        metal.hardening_modulus,
        metal.yield_strength,
        metal.ultimate_strength - metal.yield_strength,
        shear_coefficient(metal.poissons_ratio, bore / radius) * G * float(area.sum()),
        strain_limit(radius, bore, metal, assumed or default_assumed()),
    )


@compiled
def respond(section: HollowSection, stretch: Array, curvature: Array, plastic: Array) -> SectionForces:
    """Forces [N, N m], consistent stiffness and new plastic strains [-] of e sections.

    stretch, curvature : (e,) Gamma [-], kappa [1/m].  plastic : (e, f) at the last equilibrium.
    """
    E, H, most, first = section.E, section.hardening, section.back_stress, section.yield_strength
    height, weights = section.height, section.weights
    e, fibres = plastic.shape
    force, moment, stiffness, new = np.empty(e), np.empty(e), np.empty((3, e)), plastic.copy()
    for i in range(e):
        N, M, by_stretch, mixed, by_turn = 0.0, 0.0, 0.0, 0.0, 0.0
        for j in range(fibres):
            was = plastic[i, j]
            strain = stretch[i] - curvature[i] * height[j]
            stress, tangent = E * (strain - was), E
            beyond = stress - min(max(H * was, -most), most)
            if abs(beyond) > first:
                reached = E * strain - np.copysign(first, beyond)  # E eps_p + X after the flow
                if H * abs(reached) < (E + H) * most:
                    now, tangent = reached / (E + H), E * H / (E + H)
                else:
                    now, tangent = (reached - np.copysign(most, reached)) / E, 0.0
                new[i, j], stress = now, E * (strain - now)
            N += stress * weights[j, 0]
            M += stress * weights[j, 1]
            by_stretch += tangent * weights[j, 0]
            mixed += tangent * weights[j, 1]
            by_turn += tangent * weights[j, 2]
        force[i], moment[i] = N, M
        stiffness[0, i], stiffness[1, i], stiffness[2, i] = by_stretch, mixed, by_turn
    return SectionForces(force, moment, stiffness, new)


@within
def _locked_in(H: float, most: float, plastic: float) -> float:
    """int X d eps_p from 0 to a plastic strain [J/m3]: half of X eps_p on the line, all of X from its end on."""
    back = min(H * abs(plastic), most)
    return back * abs(plastic) - (0.5 * back**2 / H if H > 0 else 0.0)


@compiled
def stored_in_fibres(section: HollowSection, stretch: Array, curvature: Array, plastic: Array) -> Array:
    """Elastic energy of the fibres per length, (e,) [J/m]."""
    E, height, area, found = section.E, section.height, section.area, np.zeros(len(stretch))
    for i in range(len(stretch)):
        for j in range(len(area)):
            elastic = stretch[i] - curvature[i] * height[j] - plastic[i, j]
            found[i] += 0.5 * E * elastic**2 * area[j]
    return found


@compiled
def spent_in_fibres(section: HollowSection, before: Array, after: Array) -> Array:
    """Work done on plastic strain per length between two states of it, (e,) [J/m]: dissipated and locked in."""
    H, most, first, area = section.hardening, section.back_stress, section.yield_strength, section.area
    found = np.zeros(len(before))
    for i in range(len(before)):
        for j in range(len(area)):
            was, now = before[i, j], after[i, j]
            if was != now:
                locked = _locked_in(H, most, now) - _locked_in(H, most, was)
                found[i] += (first * abs(now - was) + locked) * area[j]
    return found


def outer_strain(section: HollowSection, stretch: Array, curvature: Array) -> Array:
    """Largest |strain| [-] of the section, at one of its outer fibres, (e,)."""
    return np.abs(stretch) + section.radius * np.abs(curvature)
