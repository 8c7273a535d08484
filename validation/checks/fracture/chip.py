"""Chips in front of a tube: friction on shut faces against a sheared penny, the load against that of an edge chip.

A penny-shaped crack of radius a in a large body, pressed shut by p and sheared by t, with Coulomb friction mu: what
friction leaves, t - mu p, drives it as t would without (t alone: Kassir & Sih 1966, from memory),

    K_II = 4 t cos w sqrt(a/pi) / (2 - nu),  K_III = 4 (1 - nu) t sin w sqrt(a/pi) / (2 - nu)
    mean of G round the front = 8 (1 - nu^2) (t - mu p)^2 a / (pi E (2 - nu))

A chip from the square edge of a brittle body under a force on one face at the distance h from the edge needs

    F = 9.3 K_IC h^1.5          (Chai & Lawn 2007, Acta Mater. 55, 2555-2561: constant from memory)

There the force is a point's; here a tube pushes from the surface down to d, its force at d/2 in the mean.
"""

from __future__ import annotations

from math import pi, radians

import numpy as np

from ....fem.chip.body import ChipBody, along_front, chip_body
from ....fem.chip.growth import mesh_size, open_chip
from ....fem.cone.condensed import tributary
from ....geometry.layers import Resolution
from ....geometry.placement import Tube
from ....geometry.slit_half_model import ConeShape
from ....materials import ice_named
from ...check import Check, Measured, Quantity

TUBE = Tube(0.14, 0.017, 0.0015, 0.065, 0.0025, 0.005, eye=0.01, hanger_strength=1e4)
THIN = Tube(0.31, 0.005, 0.001, 0.02, 0.001, 0.005, eye=0.01, hanger_strength=1e4)
PENNY = ConeShape(0.25, 0.0)  # m, rad: flat and deep
PRESSED = 1e5  # Pa
REACH = 0.03  # m, radius of the crack looked at: 12 of the thin tube's
TIPS = (0.012, 0.008, 0.004)  # m, elements beside the crack
FRICTIONS = (0.0, 0.3, 0.7)
EDGE = 9.3
DEPTH = 0.04  # m


def _ratio(body: ChipBody, shear: float, friction: float) -> float:
    """Released energy over the closed form's at REACH; over that of the shear alone where all sticks."""
    push = shear * along_front(body.cone) - np.array([1.0, 0.0, 0.0])
    growth = open_chip(body, (PRESSED * tributary(body.cone)[:, None] * push).ravel(), friction)
    outer = np.sqrt(2 * np.cumsum(growth.area) / pi + THIN.radius**2)
    inner = np.concatenate([[THIN.radius], outer[:-1]])
    a = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2)  # mean over the ring's area
    E, nu = body.ice.elastic.youngs_modulus, body.ice.elastic.poissons_ratio
    left = PRESSED * (shear - friction if shear > friction else shear)
    exact = 8 * (1 - nu**2) * left**2 * a / (pi * E * (2 - nu))
    at = int(np.argmin(np.abs(a - REACH)))
    return float(growth.sliding[at] / growth.area[at] / exact[at])


def measure_penny() -> Measured:
    """Sheared by as much as it is pressed, for three frictions; then sheared by less than friction bears."""
    ice, bodies = ice_named("sound_glacier", -5.0), []
    for tip in TIPS:
        size = Resolution(sectors=4, ring=0.003, mouth=0.03, tip=tip, growth=0.8, deep=0.08)
        bodies.append(chip_body(THIN, 0.0, ice, PENNY, size))
    ratios = [[_ratio(body, 1.0, friction) for body in bodies] for friction in FRICTIONS]
    rings = "rings a fifth of the radius wide and the tube's hole: measured 1.6 %, with a margin"
    alike = "friction takes its share exactly: what mesh and hole miss is one for all frictions"
    held = "shear 0.4 p under friction 0.5 p slides nowhere"
    found = [
        Quantity(f"mean G at friction {friction:g}", "-", 1.0, ratio, 0.025, rings, TIPS)
        for friction, ratio in zip(FRICTIONS, ratios, strict=True)
    ]
    found += [
        Quantity(f"friction {friction:g} over none", "-", 1.0, [ratio[-1] / ratios[0][-1]], 2e-3, alike)
        for friction, ratio in list(zip(FRICTIONS, ratios, strict=True))[1:]
    ]
    found.append(Quantity("below friction", "of t alone", 0.0, [_ratio(bodies[-1], 0.4, 0.5)], 1e-3, held, scale=1.0))
    return Measured(tuple(found))


def measure_edge() -> Measured:
    """Upright tube pushed along the surface: chips in front of it (fan 90 deg), rising by 30 and by 40 deg."""
    because = "a point there, a tube from the surface down here: the same order is all that can be asked"
    ice, found = ice_named("sound_glacier", -5.0), []
    for elevation in (30.0, 40.0):
        shape = ConeShape(DEPTH, radians(elevation))
        body = chip_body(TUBE, 0.0, ice, shape, mesh_size("quick", DEPTH))
        for friction in (0.0, 0.5):
            peak = open_chip(body, body.load(), friction, radians(90)).peak()
            name = f"F / (K_IC d^1.5), {elevation:.0f} deg, friction {friction:g}"
            found.append(Quantity(name, "-", EDGE, [peak / (ice.toughness * DEPTH**1.5)], 0.5, because))
    return Measured(tuple(found))


CHECKS = (
    Check(
        name="penny_with_friction",
        group="fracture",
        title="A penny-shaped crack pressed shut and sheared: energy release with friction on its faces",
        source="Kassir & Sih 1966, J. Appl. Mech. 33 (shear), with the shear less the friction; from memory",
        how="closed form",
        part="fem.cracks.friction, fem.chip.body, fem.chip.growth, geometry.slit_half_model",
        measure=measure_penny,
        slow=True,
    ),
    Check(
        name="edge_chip",
        group="fracture",
        title="A chip in front of an upright tube against one from a square edge",
        source="Chai & Lawn 2007, Acta Mater. 55, 2555-2561: 9.3 K_IC h^1.5, constant from memory",
        how="from memory",
        part="fem.cracks.friction, fem.chip.body, fem.chip.growth, geometry.slit_half_model",
        measure=measure_edge,
        slow=True,
    ),
)
