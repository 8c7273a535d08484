"""A tube deep in ice, pushed sideways: a rigid disc in a plane with a gap behind it, and what it bears over sigma_c.

    N = q / sigma_c,     q = force per length / diameter                                        plane strain
    endless plane        N = 9.2012 (smooth) to 11.94 (rough) times cap / (2 sigma_c)
    ice that reaches R radii, beyond it bars along rays alone:    bounds of `limit_analysis` on a polar grid

In an endless rigid-plastic plane the ice shuts itself in: pressure rises until the cap rules everywhere, the gap does
not matter, and a face with any friction is as good as rough. So the numbers are those of a disc in Tresca material with
the cap: 9.20117 and 11.9400 (Lateral translation of a circular pile in cohesive soil: exact plasticity solution,
Geotechnique, accepted 2026, abstract seen; 9.14 in Randolph & Houlsby 1984, Geotechnique 34(4), abstract seen, is low).

Ice that is cracked along rays beyond R, or that ends there, holds less pressure; then the uniaxial strength counts too.
A lower bound's polygon lies inside the circle; an upper one's outside, with the circle's normals, so a smooth disc's
upper bound is one up to what the polygon differs by.

Limits: plane strain, so no flow towards the surface (`wedge`); rigid-plastic: neither elastic give, which feeds less
pressure than an endless rigid plane, nor brittle loss after the peak; associated flow.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, pi

import numpy as np

from .limit_analysis import Bound, lower_bound, upper_bound
from .plane_strength import PlaneStrength, strengths_of
from .section import Array, Face, Section, crossed

SMOOTH, ROUGH = 9.20117, 11.9400  # force over shear strength and diameter, endless Tresca (module docstring)
REACHES = (3.0, 5.0, 10.0, 20.0, 40.0)  # radii
SECTORS = 12  # of the half circle
STRETCH = 1.25  # of a ring's width over its mean arc


def crushing_factor(inputs: Mapping[str, float]) -> dict[str, float]:
    """N [-] of ice that reaches `reach_radii`, from both sides; error is half of what lies between, relative.

    inputs : face_friction (steel on ice), reach_radii and those of `plane_strength.strengths_of` (all -).
    Raises ValueError for strengths that no surface takes, SolveError if no solution is found.
    """
    face, strengths = Face(friction=inputs["face_friction"]), strengths_of(inputs)
    low, high = (2 * bound.force for bound in disc_bounds(SECTORS, face, *strengths, inputs["reach_radii"], False))
    return between(low, high)


def crushing_table(inputs: Mapping[str, float]) -> dict[str, list[float] | float]:
    """The same at REACHES; inputs as there, without reach_radii."""
    found = [crushing_factor({**inputs, "reach_radii": reach}) for reach in REACHES]
    lists = {name: [each[name] for each in found] for name in ("factor_low", "factor_high", "factor")}
    return {"reach_radii": list(REACHES), **lists, "error": max(each["error"] for each in found)}


def endless_factor(cap_over_compressive: float, rough: bool) -> float:
    """N [-] of endless ice with a cap on the stress difference (module docstring)."""
    return (ROUGH if rough else SMOOTH) * cap_over_compressive / 2


def between(low: float, high: float) -> dict[str, float]:
    """Two bounds as a law: their mean, and half of their difference over it."""
    return {
        "factor_low": low,
        "factor_high": high,
        "factor": (low + high) / 2,
        "error": (high - low) / (high + low),
    }


def disc_bounds(
    sectors: int, face: Face, inside: PlaneStrength, outside: PlaneStrength, reach: float, endless: bool
) -> tuple[Bound, Bound]:
    """Both bounds of half of a disc of diameter 1; strengths for the lower and the upper one."""
    return (
        lower_bound(disc_section(sectors, face, False, reach, endless), inside),
        upper_bound(disc_section(sectors, face, True, reach, endless), outside),
    )


def disc_section(sectors: int, face: Face, outside: bool, reach: float = 20.0, endless: bool = True) -> Section:
    """Upper half of a plane round a disc of diameter 1 that is pushed along x.

    outside : the polygon lies about the circle.  reach : of the grid, in radii.
    """
    step = pi / sectors
    rings = max(4, round(float(np.log(reach)) / step / STRETCH))
    radius = 0.5 * reach ** (np.arange(rings + 1) / rings) / (cos(step / 2) if outside else 1.0)
    angle = np.linspace(0.0, pi, sectors + 1)
    mesh = crossed(radius[:, None] * np.cos(angle), radius[:, None] * np.sin(angle))
    edges = mesh.boundary_facets()
    ends = mesh.p[:, mesh.facets[:, edges]]
    axis = np.abs(ends[1]).max(0) < 1e-9
    near = np.hypot(*ends).max(0) < (radius[0] + radius[-1]) / 2
    far = edges[~axis & ~near]
    return Section(
        mesh=mesh,
        tool=edges[~axis & near],
        far=far,
        symmetry=edges[axis],
        movement=np.array([1.0, 0.0]),
        bars=mesh.p[:, mesh.facets[:, far]],
        face=face,
        endless=endless,
        outward=_inward if outside else None,
    )


def _inward(at: Array) -> Array:
    return -at / np.hypot(*at)
