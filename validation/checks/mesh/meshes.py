"""How far the reported quantities of the standard case are from those of an infinitely fine mesh.

A family of meshes refined alike everywhere (n = 8, 12, 16, 20 sectors over 180 degrees, every size of `standard` times
12 / n; the last is finer than `fine` in every size) gives values f_n of each quantity. Richardson's extrapolation of
the last three takes rate p and limit f:

    (f_b - f_a) / (f_c - f_b) = (a^-p - b^-p) / (b^-p - c^-p),
    f = f_c + (f_c - f_b) c^-p / (b^-p - c^-p)                                       (a, b, c) = (12, 16, 20)

if the three approach a limit in order and p comes out between P_LEAST and P_MOST. Otherwise (values that swing, or
have settled to their last digits) the finest member stands for f, and the quantity says so. The same extrapolation from
(8, 12, 16) measures how well f is known. Each level's error against f must be what the README states (`stated`) to a
unit of its last digit or a tenth of it. The levels are no members of the family, `standard` apart.

Limits: one case (tube upright, flush, pulled along the surface); others are worse if the upper end of the threads
lies within some 10 mm of the surface: the axial stress is singular there. Shares swing, since contact ends at a node
and nodes move with n. The block's own size is part of the model, not of the mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import brentq

from ....fem.case import Case
from ....fem.onset.solve import Solution, solve_onset
from ....geometry.layers import LEVELS, Level, Resolution
from ....geometry.placement import Placement, Pull, Tube
from ....materials import ice_named, metal_named
from ...check import Check, Measured, Quantity
from ...models.bodies import Array

FAMILY = (8, 12, 16, 20)
SHOWN: tuple[Level, ...] = ("quick", "standard", "fine")
P_LEAST, P_MOST = 0.7, 6.0
SETTLED = 1e-5  # of the value: below, differences are not those of the mesh


@dataclass(frozen=True, slots=True)
class Reported:
    """A reported quantity. stated : its errors at quick, standard and fine as the README has them, per cent or points.

    known : how far limits from the last and the first three of the family may differ.
    scale : what errors are relative to; None for the value itself.
    """

    name: str
    unit: str
    stated: tuple[str, str, str]
    known: float
    scale: float | None = None

    def band(self, at: int) -> tuple[float, float]:
        """Least and largest error at a level for which the stated one is true."""
        stated = self.stated[at]
        value, digits = float(stated), len(stated.partition(".")[2])
        slack = max(10.0**-digits, 0.1 * abs(value))
        return (value - slack) / 100, (value + slack) / 100


REPORTED = (
    Reported("onset", "kN", ("-1.8", "-0.6", "-0.2"), 0.006),
    Reported("compliance", "um/kN", ("-0.56", "-0.11", "-0.08"), 0.001),
    Reported("share of the front", "-", ("-0.5", "+0.1", "+0.3"), 0.005, 1.0),
    Reported("share of the back", "-", ("+0.5", "-0.1", "-0.3"), 0.005, 1.0),
    Reported("tension at the mouth", "MPa/kN", ("+4.8", "+1.4", "+0.3"), 0.003),
    Reported("compression at the mouth", "MPa/kN", ("-0.5", "+0.1", "+0.2"), 0.001),
)


def standard_case(level: Level | Resolution = "standard") -> Case:
    """The case of the defaults: a tube of 140 mm, 130 mm in sound ice, upright, pulled along the surface at the eye."""
    tube = Tube(0.14, 0.017, 0.0015, 0.065, 0.0025, 0.005, eye=0.01, hanger_strength=1e4)
    ice, crust = ice_named("sound_glacier", -5.0), ice_named("sun_crust", -5.0)
    metal = metal_named("chromoly_steel")
    return Case(tube, Placement(0.0, 0.13, sling_strength=22e3), Pull(0.0), ice, metal, crust, level=level)


def values(solution: Solution) -> Array:
    """The quantities of REPORTED, in their order and units."""
    tension, compression = solution.mouth_stress * 1e-3
    return np.array(
        [
            solution.onset_load / 1e3,
            solution.compliance * 1e9,
            solution.shares.front,
            solution.shares.back,
            tension,
            -compression,
        ]
    )


def resolution(n: int) -> Resolution:
    """The family's member with n sectors over 180 degrees."""
    base, f = LEVELS["standard"], LEVELS["standard"].sectors / n
    return Resolution(n, *(f * size for size in (base.ring, base.mouth, base.tip, base.growth, base.deep)))


def extrapolate(counts: Sequence[int], found: Sequence[float]) -> tuple[float, float | None]:
    """Richardson's limit and rate of three values; the last value and None if they have no common rate."""
    h = 1.0 / np.asarray(counts, dtype=float)
    first, second = found[1] - found[0], found[2] - found[1]

    def ratio(p: float) -> float:
        return float((h[0] ** p - h[1] ** p) / (h[1] ** p - h[2] ** p))

    settled = abs(second) <= SETTLED * abs(found[2])
    if settled or first * second <= 0 or not ratio(P_LEAST) < first / second < ratio(P_MOST):
        return found[2], None
    p = float(brentq(lambda q: ratio(q) - first / second, P_LEAST, P_MOST))
    return float(found[2] + second * h[2] ** p / (h[1] ** p - h[2] ** p)), p


@cache
def convergence() -> tuple[Array, Array]:
    """Values (members, quantities) of the family and (levels, quantities) of the levels."""
    members = {n: values(solve_onset(standard_case(resolution(n)))) for n in FAMILY}
    levels = {level: values(solve_onset(standard_case(level))) for level in SHOWN}
    return np.array([members[n] for n in FAMILY]), np.array([levels[level] for level in SHOWN])


def measure() -> Measured:
    """Each reported quantity over the family and at the levels against its limit, and how well that is known."""
    family, levels = convergence()
    found = []
    for at, what in enumerate(REPORTED):
        column = family[:, at].tolist()
        limit, p = extrapolate(FAMILY[1:], column[1:])
        before, _ = extrapolate(FAMILY[:-1], column[:-1])
        kind = "no limit: n = 20" if p is None else f"limit, rate {p:.1f}"
        sizes = [1 / n for n in FAMILY]
        because = "measured with a margin: a guard against change"
        name = f"{what.name} over the family, n = 8, 12, 16, 20 ({kind})"
        found.append(Quantity(name, what.unit, limit, column, 1.5 * what.known, because, sizes, what.scale))
        because = "how well the limit is known, measured with a margin"
        name = f"{what.name}: limit of n = 8, 12, 16 against that of n = 12, 16, 20"
        found.append(Quantity(name, what.unit, limit, [before], what.known, because, scale=what.scale))
        for level, value, row in zip(SHOWN, levels[:, at], range(3), strict=True):
            least, most = what.band(row)
            because = "the error that the README states, to a unit of its last digit or a tenth"
            name = f"{what.name} at {level}"
            found.append(Quantity(name, what.unit, limit, [value], most, because, (), what.scale, None, least))
    return Measured(tuple(found))


CHECKS = (
    Check(
        name="mesh_convergence",
        group="mesh",
        title="Reported quantities of the standard case on other meshes, extrapolated where they settle",
        source="Richardson's extrapolation over meshes refined alike (Roache 1998, Verification and Validation in"
        " Computational Science and Engineering, from memory); the limit is our own",
        how="own extrapolation",
        part="the whole of `icecone solve`: geometry, fem",
        measure=measure,
        slow=True,
    ),
)
