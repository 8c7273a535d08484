"""A pin that just fits a hole in a large plate, pushed sideways: plane strain, no friction, no clearance.

Pin and plate of one material. With the pressure p = sum p_n cos(n phi) on the arc |phi| < e of a hole of radius R,
Michell's terms give the radial displacement of hole and pin, and their difference, the gap:

    gap = 2 (1 - nu^2) R / E [p_0 + sum_(n>1) 2 n p_n / (n^2 - 1) cos(n phi) - d cos(phi)]                        [m]
    (1 / pi) PV int p(psi) cot((phi - psi) / 2) dpsi = p_0 phi + 2 p_1 sin(phi),    p_1 = Q / (pi R),
    p = p_1 [2 w / (1 + t^2) + atanh(w) / (b^2 (1 + b^2))],      b^4 = 1 - ln(1 + b^2) / 2:   e = 84.8 deg        [Pa]

d: the pin's shift against the plate (the force, which sits in n = 1, bends neither). The second line is gap + gap'' = 0
on the arc, the third its solution that vanishes at both ends, t = tan(phi / 2), b = tan(e / 2), w = sqrt((b^2 - t^2) /
(1 + b^2)), e from p_0 and p_1 being p's own. It is Persson's pressure (1964) at zero clearance, as remembered; here it
is derived again, and the series shows the gap to vanish on the arc and to open beyond it. Arc and pressure in
proportion to the load depend on no constant of the material; the opening at the back does.

Ours is the half model's own section (`geometry.o_grid`) in one layer, its curved elements, pairs and `solve_contact`;
u_z is left out. The plate ends, held, at 400 R, which takes some 4 (R / far)^2 from the opening.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import atan, atanh, degrees, log, pi, sqrt

import numpy as np
from scipy.optimize import brentq
from skfem import MeshHex, MeshHex2

from ....fem.solid.contact import ContactSolution, solve_contact
from ....fem.solid.elasticity import spread_force
from ....geometry.half_model import HalfModel, curved_nodes, hexahedra
from ....geometry.o_grid import graded, half_disc
from ....geometry.quality import check_quality
from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array
from .hertz import nodal_pressure

E, NU = 9.3e9, 0.325  # Pa, -
RADIUS, HEIGHT, FAR = 0.0085, 0.004, 3.4  # m
FORCE = 1e3 * HEIGHT  # N on the whole pin: 1 N/mm
SECTORS = (12, 24, 48)  # over 180 degrees


@dataclass(frozen=True, slots=True)
class _Exact:
    """semi_angle [rad]; peak pressure [Pa]; opening at the back [m]; mean_square of the angle under the pressure."""

    semi_angle: float
    peak: float
    opening: float
    mean_square: float
    phi: Array
    pressure: Array


@cache
def exact(terms: int = 1500) -> _Exact:
    """Persson's solution at zero clearance (module docstring); the opening from `terms` of the series."""
    b = float(brentq(lambda b: b**4 - 1 + 0.5 * log(1 + b * b), 0.5, 1.5, xtol=1e-15))
    p_1 = FORCE / HEIGHT / (pi * RADIUS)
    share = 1 / (b * b * (1 + b * b))  # p_0 / p_1
    s = (np.arange(4000) + 0.5) / 4000 * 0.5 * pi
    phi = 2 * atan(b) * np.sin(s)  # clusters where p falls like a root
    weight = 2 * atan(b) * np.cos(s) * 0.5 * pi / 4000
    t = np.tan(0.5 * phi)
    w = np.sqrt((b * b - t * t) / (1 + b * b))
    p = p_1 * (2 * w / (1 + t * t) + share * np.arctanh(w))
    n = np.arange(2, terms)
    p_n = 2 / pi * np.cos(np.outer(n, phi)) @ (p * weight)
    series = 2 * n / (n * n - 1) * p_n
    gap = 2 * p_1 * share + float(series @ (1.0 + (-1.0) ** n))  # d from gap(0) = 0
    return _Exact(
        semi_angle=2 * atan(b),
        peak=p_1 * (2 * b / sqrt(1 + b * b) + share * atanh(b / sqrt(1 + b * b))),
        opening=2 * (1 - NU**2) * RADIUS / E * gap,
        mean_square=float(p @ (weight * phi**2) / (p @ weight)),
        phi=phi,
        pressure=p,
    )


def _model(sectors: int) -> HalfModel:
    """One layer of the half model's section: a solid pin (`tube`) in a plate (`ice`), with the contact pairs."""
    size = RADIUS * pi / sectors
    inside = 0.4 * RADIUS + graded(0.6 * RADIUS, 1.5 * size, size, 0.6, RADIUS)
    outside = RADIUS + graded(FAR - RADIUS, size, FAR, 9.6 / sectors, FAR)
    section = half_disc(np.concatenate([inside, outside[1:]]), sectors)
    plate = section.inner_radius > 0.999 * RADIUS
    parts = [hexahedra(section, which, 0, 1) for which in (plate, ~plate)]
    parts[1][0][:] += 2 * section.points.shape[1]  # the pin's nodes are its own
    vertices, quad, _ = (np.concatenate(part, axis=-1) for part in zip(*parts, strict=True))
    used, vertices = np.unique(vertices, return_inverse=True)
    vertices = np.ascontiguousarray(vertices.reshape(8, -1))
    layer, point = np.divmod(used % (2 * section.points.shape[1]), section.points.shape[1])
    corners = np.ascontiguousarray(np.vstack([section.points[:, point], layer * HEIGHT]))
    mesh = MeshHex2.from_mesh(MeshHex(corners, vertices, sort_t=False, validate=False))
    x = curved_nodes(mesh, vertices, corners, section.ring[quad])
    mesh = MeshHex2(x, mesh.t, sort_t=False, validate=False)
    pin = np.arange(plate.sum(), quad.size)
    r, on_pin = np.hypot(x[0], x[1]), np.zeros(x.shape[1], bool)
    on_pin[mesh.dofs.element_dofs[:, pin]] = True
    pairs = []
    for side in (on_pin, ~on_pin):
        nodes = np.flatnonzero(side & (np.abs(r - RADIUS) < 1e-9))
        angle = np.arctan2(x[1, nodes], x[0, nodes])
        pairs.append(nodes[np.lexsort((np.round(angle, 9), np.round(x[2, nodes], 9)))])
    return HalfModel(
        mesh=mesh,
        straight=x,
        regions={"ice": np.arange(plate.sum()), "tube": pin},
        nodes={
            "symmetry": np.flatnonzero(np.abs(x[1]) < 1e-9),
            "far": np.flatnonzero(r > FAR - 1e-9),
            "level": np.arange(r.size),
        },
        pairs=np.stack(pairs),
        threaded=np.zeros(pairs[0].size, bool),
        beside=np.zeros((0, 0, 0), np.int64),
        frame=np.eye(3),
        quality=check_quality(mesh, f"pin in a hole, {sectors} sectors"),
    )


def solved(sectors: int) -> tuple[HalfModel, ContactSolution]:
    """Model and contact, with u_z = 0 everywhere."""
    model = _model(sectors)
    regions = [(model.regions[name], isotropic(E, NU)) for name in ("ice", "tube")]
    force = np.array([0.5 * FORCE, 0.0, 0.0])
    load = spread_force(model.mesh, model.regions["tube"], force, np.array([0.0, 0.0, 0.5 * HEIGHT]))
    return model, solve_contact(model, regions, load)


def _found(sectors: int) -> tuple[Array, Array, Array]:
    """Numbers in the order of `measure`; angles of the nodes [rad] and the pressure there [Pa]."""
    model, found = solved(sectors)
    x = model.mesh.doflocs[:, model.pairs[1]]
    angles = np.linspace(0, pi, 2 * sectors + 1)
    place = np.rint(np.arctan2(x[1], x[0]) / angles[1]).astype(int)
    force = np.bincount(place, weights=found.force) / HEIGHT
    gap = np.bincount(place, weights=found.gap) / 3  # three nodes through the thickness
    pressure = nodal_pressure(force, RADIUS * angles)
    last = int(np.flatnonzero(force > 0).max())
    square = pressure**2
    at = slice(last - 5, last - 1)  # p^2 is linear in phi where p falls like a root
    slope, level = np.polyfit(angles[at], square[at], 1)
    return (
        np.array([-level / slope, float(force @ angles**2 / force.sum()), pressure[0], gap[-1]]),
        angles,
        pressure,
    )


def measure() -> Measured:
    """Arc, pressure and opening."""
    found = [_found(sectors) for sectors in SECTORS]
    angle, spread, peak, opening = np.stack([numbers for numbers, _, _ in found]).T
    truth, sizes = exact(), [1 / sectors for sectors in SECTORS]
    _, at, pressure = found[-1]
    where = "found where p^2, fitted over four nodes, falls to zero; the nodes lie 1.9 deg apart"
    fell = "measured error of the finest mesh, with a margin of three; the arc's end lies between nodes"
    far = "measured 5e-5, with a margin of three; 2e-5 of it is the plate's end, so that no rate shows"
    return Measured(
        (
            Quantity("semi-angle of contact", "deg", degrees(truth.semi_angle), np.degrees(angle), 0.008, where, sizes),
            Quantity("mean square angle under the pressure", "rad2", truth.mean_square, spread, 1e-3, fell, sizes),
            Quantity("largest pressure", "kPa", truth.peak / 1e3, peak / 1e3, 2.5e-3, fell, sizes, None, 1.5),
            Quantity("opening at the back", "nm", truth.opening * 1e9, opening * 1e9, 1.5e-4, far, sizes),
        ),
        (
            Curve(
                "Pressure round the hole, 1 N/mm",
                "angle from the push [deg]",
                "pressure [kPa]",
                (np.degrees(truth.phi[::40]), truth.pressure[::40] / 1e3),
                (np.degrees(at), pressure / 1e3),
            ),
        ),
    )


CHECKS = (
    Check(
        name="pin",
        group="contact",
        title="Pin that just fits a hole, pushed sideways: contact arc and pressure",
        source="Persson, On the stress distribution of cylindrical elastic bodies in contact, thesis, Chalmers, 1964, "
        "zero clearance, from memory; derived again in the check's file",
        how="closed form",
        part="geometry.o_grid, curved elements of geometry.half_model, fem.solid.elasticity, fem.solid.contact "
        "(solve_contact)",
        measure=measure,
        slow=True,
    ),
)
