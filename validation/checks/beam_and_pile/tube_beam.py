"""The tube as a beam in ice, against closed forms: elastica, plastic hinge, beam on springs, rigid pile, straight pull.

Elastica: a cantilever (EI, L) bent by a force P at its free end that keeps its direction, a = P L^2 / EI and the
modulus k of the elliptic integrals, sin phi = 1 / (k sqrt 2):

    sqrt a = K(k) - F(k, phi),   deflection / L = 1 - 2 (E(k) - E(k, phi)) / sqrt a

(Bisshopp & Drucker, Q. Appl. Math. 3, 1945; no stretch, no shear: 2,000 radii of length leave 1e-5 of them.)

Beam on springs: Hetenyi's beam with shear, free at both ends, force and moment at one; y = (w, psi, M, Q),

    w' = psi + Q / kGA,   psi' = M / EI,   M' = -Q,   Q' = k w,     Q(0) = -P, M(0) = P lever, M(L) = Q(L) = 0

solved by the exponential of its matrix. Hinge: M_p = 4/3 sigma_y (R^3 - r^3) in the middle of the last
element of a cantilever, which is half an element short of the clamp. Rigid pile: `fem.hand.broms_short`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf, pi, sqrt

import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

from ....fem.hand import broms_short
from ....fem.laws.ice_laws import IceLaws
from ....fem.tube.beam import Beam, dense, make_beam, resist
from ....fem.tube.cross_section import HollowSection, hollow_section, respond
from ....fem.tube.equilibrium import find, unloaded
from ....fem.tube.pull import TubePull, make_tube_model, solve_pull
from ....geometry.placement import Placement, Pull, Tube
from ....materials import Metal, metal_named
from ...check import Check, Measured, Quantity
from ...models.bodies import Array

RADIUS, BORE = 0.0085, 0.0070  # m
STEEL = metal_named("chromoly_steel")
RIGID = replace(STEEL, youngs_modulus=1e13, yield_strength=1e13, ultimate_strength=1e13)
ELASTIC = replace(STEEL, yield_strength=1e13, ultimate_strength=1e13)
PERFECT = replace(STEEL, ultimate_strength=STEEL.yield_strength)
STIFF = replace(PERFECT, youngs_modulus=20 * STEEL.youngs_modulus, ultimate_strength=1.0001 * STEEL.yield_strength)
STIFF = replace(STIFF, uniform_strain=10 * STIFF.yield_strength / STIFF.youngs_modulus)  # H = E / 100,000, small slopes
LEVERS = (0.0, 0.02)  # m


def bend(beam: Beam, section: HollowSection, tips: Array) -> Array:
    """Force (n,) [N] across the head of a cantilever clamped at its tip, for displacements (n,) [m] of the head.

    Dense Newton's method on the head's displacement, the force as an unknown. Raises RuntimeError if it does not
    converge.
    """
    m = len(beam.s)
    q, load, plastic, loads = np.zeros((m, 3)), 0.0, np.zeros((m - 1, len(section.area))), []
    free, push = np.arange(3 * m - 3), np.eye(3 * m - 3)[0]
    for tip in tips:
        for _ in range(60):
            found = resist(beam, section, q, plastic)
            rest = np.append(load * push - found.force.ravel()[free], tip - q[0, 0])
            if np.abs(rest[:-1]).max() < 1e-7 * max(abs(load), 1e-3) and abs(rest[-1]) < 1e-14:
                break
            K = dense(found.band, 3 * m)[np.ix_(free, free)]
            step = np.linalg.solve(np.block([[K, -push[:, None]], [push[None], np.zeros((1, 1))]]), rest)
            q.ravel()[free] += step[:-1]
            load += float(step[-1])
        else:
            raise RuntimeError(f"cantilever: no equilibrium at {tip:g} m")
        plastic = found.section.plastic
        loads.append(load)
    return np.array(loads)


def elastica(a: float) -> float:
    """Deflection over length of the elastica at a = P L^2 / EI (module docstring)."""

    def short(m: float) -> float:
        return float(ellipk(m) - ellipkinc(np.arcsin(1 / sqrt(2 * m)), m)) - sqrt(a)

    m = brentq(short, 0.5 + 1e-12, 1 - 1e-12, xtol=1e-15)
    return 1 - 2 * float(ellipe(m) - ellipeinc(np.arcsin(1 / sqrt(2 * m)), m)) / sqrt(a)


def elastica_load(n: int, a: float) -> float:
    """a = P L^2 / EI of n elements at the deflection that the elastica has at a."""
    length = 2000 * RADIUS
    section = hollow_section(RADIUS, BORE, ELASTIC)
    tips = length * elastica(a) * np.linspace(0, 1, 13)[1:]
    EI = section.E * float(section.weights[:, 2].sum())
    return float(bend(make_beam(np.linspace(-length, 0, n + 1), 0.0), section, tips)[-1]) * length**2 / EI


def hinge_moment(n: int) -> float:
    """Moment [N m] in the hinge of a cantilever of 0.2 m, n elements, bent four times as far as at first yield."""
    length, section = 0.2, hollow_section(RADIUS, BORE, STIFF, 40)
    yields = section.yield_strength * length**2 / (3 * section.E * RADIUS)
    beam = make_beam(np.linspace(-length, 0, n + 1), 0.0)
    return float(bend(beam, section, yields * np.linspace(0, 4, 41)[1:])[-1]) * (length - 0.5 * float(beam.length[-1]))


def ice(limit: float = 1e12, threads: float = 0.0, cone: float = inf, k: float = 1e10, length: float = 0.5) -> IceLaws:
    """Even ice of bearing limit [N/m], threads' limit [N/m], cone [N]; whatever is not asked for is out of the way."""
    s = np.linspace(0, length, 3)
    even = np.full(3, limit)
    return IceLaws(s, np.full(3, k), even, np.ones(3), inf, 1e10, threads, inf, cone, 0.01, 1e9, 0.0)


def tube_of(length: float, radius: float = RADIUS, wall: float = RADIUS - BORE, threads: float = 0.065) -> Tube:
    """A tube whose threads reach over `threads` [m]."""
    return Tube(length, 2 * radius, wall, min(threads, length), 0.0025, 0.005, 0.0, 1e4)


def on_springs(n: int, lever: float, embedment: float, k: float) -> float:
    """Displacement of the mouth per load [m/N], n elements in the ice; threads hold the tube along its axis."""
    tube, laws = tube_of(embedment + lever), ice(threads=1e12, k=k)
    model = make_tube_model(tube, Placement(0.0, embedment), Pull(0.0), laws, ELASTIC, embedment / n)
    start = unloaded(model)
    found = find(model, start, 1e-9, start.q, 0.0)
    if found is None:
        raise RuntimeError("no equilibrium")
    return float(found.q[model.first, 0]) / found.load


def hetenyi(lever: float, embedment: float, k: float) -> float:
    """The same in closed form (module docstring)."""
    section = hollow_section(RADIUS, BORE, ELASTIC)
    EI, GA = section.E * float(section.weights[:, 2].sum()), section.shear_stiffness
    A = np.array([[0, 1, 0, 1 / GA], [0, 0, 1 / EI, 0], [0, 0, 0, -1], [k, 0, 0, 0]])
    over = expm(A * embedment)
    start = np.array([0, 0, lever, -1.0])
    w_psi = np.linalg.solve(over[2:, :2], -over[2:] @ start)
    return float(abs(w_psi[0]))


@cache
def pile(lever: float, element: float) -> TubePull:
    """A rigid tube, 0.13 m in ice of 20 MPa, pulled by at most 2 mm; no threads."""
    tube, laws = tube_of(0.13 + lever), ice(20e6 * 2 * RADIUS, threads=1e6, k=1e11)
    return solve_pull(tube, Placement(0.0, 0.13), Pull(0.0), laws, RIGID, element, largest_displacement=2e-3)


def straight(cone: float, threads: float, metal: Metal) -> float:
    """Peak [N] of a straight pull, 0.13 m in ice, `threads` [N] over 0.065 m."""
    laws = ice(threads=threads / 0.065, cone=cone)
    found = solve_pull(tube_of(0.14), Placement(0.0, 0.13), Pull(pi / 2), laws, metal, largest_displacement=2e-3)
    return found.peak


def measure_elastica() -> Measured:
    """Force at three deflections of the elastica."""
    counts = (20, 40, 80)
    because = "second order in the element; shear and stretch, left out by the elastica, are 1e-5"
    return Measured(
        tuple(
            Quantity(
                f"P L^2 / EI where the elastica has {a:g}",
                "-",
                a,
                [elastica_load(n, a) for n in counts],
                1e-3,
                because,
                [1 / n for n in counts],
                None,
                1.8,
            )
            for a in (1.0, 4.0, 10.0)
        )
    )


def measure_hinge() -> Measured:
    """Force of a plastic hinge."""
    exact = 4 / 3 * STEEL.yield_strength * (RADIUS**3 - BORE**3)
    because = "40 bands 0.1 %, the core not yet plastic and a trace of hardening less"
    return Measured((Quantity("moment in the hinge", "N m", exact, [hinge_moment(20)], 2e-3, because),))


def hardened_moment(bands: int) -> float:
    """Moment [N m] of the section bent until hardening has ended all over."""
    section = hollow_section(RADIUS, BORE, STEEL, bands)
    return float(respond(section, np.zeros(1), np.array([1e4]), np.zeros((1, bands))).moment[0])


def measure_hardened() -> Measured:
    """Moment that hardening ends at."""
    exact, counts = 4 / 3 * STEEL.ultimate_strength * (RADIUS**3 - BORE**3), (10, 20, 40)
    found, because = [hardened_moment(n) for n in counts], "second order in the bands, 0.1 % with 40"
    sizes = [1 / n for n in counts]
    return Measured((Quantity("ultimate moment", "N m", exact, found, 2e-3, because, sizes, None, 1.7),))


def measure_in_ice() -> Measured:
    """Beam on springs, rigid pile, straight pull."""
    quantities = []
    for lever in LEVERS:
        exact, counts = 1e9 * hetenyi(lever, 0.15, 1e10), (15, 30, 60)
        found = [1e9 * on_springs(n, lever, 0.15, 1e10) for n in counts]
        because, sizes = "second order in the element, 2.5 mm", [1 / n for n in counts]
        title = f"on springs, lever {lever * 1e3:g} mm: mouth"
        quantities.append(Quantity(title, "um/kN", exact, found, 1e-2, because, sizes, None, 1.8))
    for lever in LEVERS:
        exact = broms_short(20e6, 2 * RADIUS, 0.13, lever)
        sizes = [0.005, 0.0025]
        title = f"rigid pile, lever {lever * 1e3:g} mm"
        because = "springs at nodes: the point of turning falls between two; 2 mm are 0.03 rad"
        found = [pile(lever, size).peak for size in sizes]
        quantities.append(Quantity(title, "N", exact, found, 2e-3, because, sizes))
    because = "equilibrium; an event is found within 1e-3 of its step, and springs hold a floating tube with 1e-5"
    yields = STEEL.yield_strength * pi * (RADIUS**2 - BORE**2)
    for title, cone, threads, exact in (
        ("cone", 13e3, 20e3, 13e3),
        ("threads", 30e3, 20e3, 20e3),
        ("yield", 90e3, 80e3, yields),
    ):
        found = [straight(cone, threads, PERFECT)]
        quantities.append(Quantity(f"straight pull, {title}", "N", exact, found, 2e-5, because))
    return Measured(tuple(quantities))


CHECKS = (
    Check(
        name="tube_elastica",
        group="beam and pile",
        title="Large deflection of a cantilever",
        source="Bisshopp & Drucker, Q. Appl. Math. 3, 1945 (form from memory; evaluated by elliptic integrals)",
        how="closed form",
        part="fem.tube.beam, fem.tube.cross_section",
        measure=measure_elastica,
    ),
    Check(
        name="tube_hinge",
        group="beam and pile",
        title="Plastic hinge of a hollow tube",
        source="plastic moment of a hollow circle, 4/3 sigma_y (R^3 - r^3), by integration",
        how="closed form",
        part="fem.tube.beam, fem.tube.cross_section",
        measure=measure_hinge,
    ),
    Check(
        name="tube_hardened",
        group="beam and pile",
        title="Moment at which a hollow tube no longer hardens",
        source="4/3 sigma_u (R^3 - r^3), by integration",
        how="closed form",
        part="fem.tube.cross_section",
        measure=measure_hardened,
    ),
    Check(
        name="tube_in_ice",
        group="beam and pile",
        title="Tube in ice: beam on springs with shear, rigid pile, straight pull",
        source="Hetenyi, Beams on Elastic Foundation, 1946 (with shear, derived); Broms, ASCE J. SMFD 90(SM2), 1964",
        how="closed form",
        part="fem.tube.beam, fem.tube.ice_springs, fem.tube.equilibrium, fem.tube.pull",
        measure=measure_in_ice,
    ),
)
