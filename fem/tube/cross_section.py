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

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from ...materials import Assumed, Metal, default_assumed
from .strain_limit import StrainLimit, strain_limit

Array = NDArray[np.float64]
BANDS = 20


@dataclass(frozen=True, slots=True)
class HollowSection:
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
        return 4 / 3 * self.yield_strength * (self.radius**3 - self.bore**3)

    @property
    def ultimate_moment(self) -> float:
        """M_u = 4/3 sigma_u (R^3 - r^3) [N m], exact, without axial force: hardening has ended all over."""
        return (1 + self.back_stress / self.yield_strength) * self.plastic_moment

    @property
    def plastic_force(self) -> float:
        """N_p = sigma_y pi (R^2 - r^2) [N]."""
        return self.yield_strength * pi * (self.radius**2 - self.bore**2)


@dataclass(frozen=True, slots=True)
class SectionForces:
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


def respond(section: HollowSection, stretch: Array, curvature: Array, plastic: Array) -> SectionForces:
    """Forces [N, N m], consistent stiffness and new plastic strains [-] of e sections.

    stretch, curvature : (e,) Gamma [-], kappa [1/m].  plastic : (e, f) at the last equilibrium.
    """
    E, H = section.E, section.hardening
    strain = stretch[:, None] - curvature[:, None] * section.height
    trial = E * (strain - plastic)
    beyond = trial - _back_stress(section, plastic)
    flows = np.abs(beyond) > section.yield_strength
    if not flows.any():
        sums = trial @ section.weights[:, :2]
        stiffness = np.broadcast_to((E * section.weights.sum(axis=0))[:, None], (3, len(stretch)))
        return SectionForces(sums[:, 0], sums[:, 1], stiffness, plastic)
    reached = E * strain - np.copysign(section.yield_strength, beyond)  # E eps_p + X after the flow
    rises = H * np.abs(reached) < (E + H) * section.back_stress
    on_line, past = reached / (E + H), (reached - np.copysign(section.back_stress, reached)) / E
    new = np.where(flows, np.where(rises, on_line, past), plastic)
    sums = (E * (strain - new)) @ section.weights[:, :2]
    tangent = np.where(flows, np.where(rises, E * H / (E + H), 0.0), E)
    return SectionForces(sums[:, 0], sums[:, 1], (tangent @ section.weights).T, new)


def _back_stress(section: HollowSection, plastic: Array) -> Array:
    """X [Pa] of plastic strains."""
    return np.clip(section.hardening * plastic, -section.back_stress, section.back_stress)


def _locked_in(section: HollowSection, plastic: Array) -> Array:
    """int X d eps_p from 0 to plastic strains [J/m3]: half of X eps_p on the line, all of X from its end on."""
    back, size = np.abs(_back_stress(section, plastic)), np.abs(plastic)
    return back * size - (0.5 * back**2 / section.hardening if section.hardening > 0 else 0.0)


def stored_in_fibres(section: HollowSection, stretch: Array, curvature: Array, plastic: Array) -> Array:
    """Elastic energy of the fibres per length, (e,) [J/m]."""
    elastic = stretch[:, None] - curvature[:, None] * section.height - plastic
    return 0.5 * section.E * (elastic**2) @ section.area


def spent_in_fibres(section: HollowSection, before: Array, after: Array) -> Array:
    """Work done on plastic strain per length between two states of it, (e,) [J/m]: dissipated and locked in."""
    locked = _locked_in(section, after) - _locked_in(section, before)
    return (section.yield_strength * np.abs(after - before) + locked) @ section.area


def outer_strain(section: HollowSection, stretch: Array, curvature: Array) -> Array:
    """Largest |strain| [-] of the section, at one of its outer fibres, (e,)."""
    return np.abs(stretch) + section.radius * np.abs(curvature)
