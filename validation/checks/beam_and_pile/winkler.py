"""A wide beam on a thin soft layer that lies on rigid ground: Hetenyi's beam, its springs the layer's own stiffness.

Plane strain (one element wide, held across): a beam E, nu of height H on a layer E_s, nu_s of thickness T much softer
than the beam. If the deflection changes over lengths 1 / lambda much greater than T, the layer is squeezed without
spreading, and each of its columns is a spring:

    k / b = E_s (1 - nu_s) / ((1 + nu_s) (1 - 2 nu_s) T) [N/m^3],   EI / b = E H^3 / (12 (1 - nu^2)) [N m]

Of an infinite beam (a plane of symmetry under the force) and of a half-infinite one (force at its free end) the
deflection under the force is P lambda / (2 k) and 2 P lambda / k. What the limit leaves out: the beam's shear,
about E' H^2 lambda^2 / (6 kappa G), the layer's, about lambda^2 T^2 G_s / (3 M_s), both of order 1e-3 here.
"""

from __future__ import annotations

import numpy as np

from ....fem.hand import half_infinite_beam, infinite_beam, winkler_wave
from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, block, held, nearest_node, solve_body, traction

BEAM, LAYER = (205e9, 0.29), (2e5, 0.3)  # E [Pa], nu
H, T, WIDE = 0.005, 0.005, 0.005  # m
LINE = 1e4  # N/m, on the whole width of the infinite beam, per unit width
K = LAYER[0] * (1 - LAYER[1]) / ((1 + LAYER[1]) * (1 - 2 * LAYER[1]) * T)  # N/m^3
EI = BEAM[0] * H**3 / (12 * (1 - BEAM[1] ** 2))  # N m
WAVE = winkler_wave(K, EI)  # 1/m
LENGTH = 8 / WAVE  # m
COUNTS = (12, 48)  # elements along
BECAUSE = "shear of beam and layer, left out by the limit of thin layers: 0.1 %; a margin of two"


def _deflection(n: int, free_end: bool) -> tuple[Array, Array]:
    """Places x (m,) along the beam and its deflection (m,) [m] at mid-height, n elements along."""
    x = LENGTH * np.linspace(0.0, 1.0, n + 1) ** 1.5
    mesh = block([x, np.array([0.0, WIDE]), np.array([-T, -0.5 * T, 0.0, H])])
    middle = mesh.p[2, mesh.t].mean(axis=0)
    beam, layer = np.flatnonzero(middle > 0), np.flatnonzero(middle < 0)
    force = LINE if free_end else 0.5 * LINE
    load = traction(
        mesh,
        lambda x: (x[0] < 1e-12) & (x[2] > -1e-12),
        lambda x, n: np.stack([0 * x[0], 0 * x[0], np.full_like(x[0], -force / H)]),
    )
    supports = [
        (lambda x: x[2] < -T + 1e-12, [0, 1, 2]),
        (lambda x: np.abs(x[1] * (x[1] - WIDE)) < 1e-12, [1]),
    ]
    top = -1e-12 if free_end else np.inf  # under a free end a smooth wall confines the layer
    supports.append((lambda x: (x[0] < 1e-12) & (x[2] < top), [0]))
    regions = [(beam, isotropic(*BEAM)), (layer, isotropic(*LAYER))]
    u = solve_body(mesh, regions, load, held(mesh, *supports))
    nodes = [nearest_node(mesh, (float(at), 0.0, 0.5 * H)) for at in x]
    return x, -u[2::3][nodes]


def measure() -> Measured:
    """Deflection under the force and a wave's part away."""
    sizes = tuple(1 / n for n in COUNTS)
    whole = [_deflection(n, False) for n in COUNTS]
    half = [_deflection(n, True) for n in COUNTS]
    line = np.linspace(0.0, LENGTH, 121)
    curve = Curve(
        "Half-infinite beam on a thin layer, force at its end",
        "distance [mm]",
        "deflection [mm]",
        (line * 1e3, [half_infinite_beam(float(x), LINE, 0.0, K, EI)[0] * 1e3 for x in line]),
        (half[-1][0] * 1e3, half[-1][1] * 1e3),
    )
    under = infinite_beam(0.0, LINE, K, EI), half_infinite_beam(0.0, LINE, 0.0, K, EI)[0]
    ours = [[y[0] * 1e3 for _, y in found] for found in (whole, half)]
    names = "infinite beam, under the force", "half-infinite beam, at the end"
    quantities = [
        Quantity(name, "mm", exact * 1e3, found, 2e-3, BECAUSE, sizes)
        for name, exact, found in zip(names, under, ours, strict=True)
    ]
    return Measured(tuple(quantities), (curve,))


CHECKS = (
    Check(
        name="beam_on_layer",
        group="beam and pile",
        title="Beam on a thin soft layer as a beam on springs",
        source="Hetenyi, Beams on Elastic Foundation, 1946, infinite and half-infinite beam, from memory",
        how="closed form",
        part="fem.solid.elasticity, fem.solid.solver; 27-node hexahedra of two materials",
        measure=measure,
    ),
)
