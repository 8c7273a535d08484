"""How far the reported quantities of the standard case are from those of an infinitely fine mesh.

A family of meshes refined alike everywhere (n = 8, 12, 16 sectors over 180 degrees, every size of `standard` times
12 / n) gives three values f_n of each quantity, from which Richardson's extrapolation takes rate p and limit f:

    (f_12 - f_8) / (f_16 - f_12) = (8^-p - 12^-p) / (12^-p - 16^-p),
    f = f_16 + (f_16 - f_12) 16^-p / (12^-p - 16^-p)

where the three approach a limit in order and p comes out between P_LEAST and P_MOST; elsewhere (values that swing, or
have settled to their last digits) f is the finest value and the quantity says so: that is no limit, and the finest
member is not finer than `fine` in every size (wall 1.9 against 1.6 mm). The levels that users choose are
then held against f. The three levels are not members of the family: their sizes near the mouth, at the threads' end
and far out stand in other proportions.

Limits: one case (tube upright, flush, pulled along the surface); others are worse where the upper end of the threads
lies within some 10 mm of the surface: the axial stress is singular there (README). The block's own size is part of the
model, not of the mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import brentq

from ...fem.case import Case
from ...fem.onset import Solution, solve_onset
from ...geometry import Level, Placement, Pull, Resolution, Tube
from ...geometry.layers import LEVELS
from ...materials import ice_named, metal_named
from ..bodies import Array
from ..check import Check, Measured, Quantity

FAMILY = (8, 12, 16)
SHOWN: tuple[Level, ...] = ("quick", "standard", "fine")
P_LEAST, P_MOST = 0.7, 6.0
SETTLED = 1e-5  # of the value: below, differences are not those of the mesh


@dataclass(frozen=True, slots=True)
class Reported:
    """A reported quantity. allowed : largest error at `standard` and at `fine`, a guard against change.

    scale : what errors are relative to; None for the value itself.
    """

    name: str
    unit: str
    allowed: tuple[float, float]
    scale: float | None = None


REPORTED = (
    Reported("onset", "kN", (0.013, 0.008)),
    Reported("compliance", "um/kN", (0.002, 0.002)),
    Reported("share of the front", "-", (0.006, 0.006), 1.0),
    Reported("share of the back", "-", (0.006, 0.006), 1.0),
    Reported("tension at the mouth", "MPa/kN", (0.03, 0.015)),
    Reported("compression at the mouth", "MPa/kN", (0.004, 0.004)),
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
    return Resolution(n, *(f * size for size in (base.wall, base.mouth, base.tip, base.growth, base.deep)))


def extrapolate(counts: Sequence[int], found: Sequence[float]) -> tuple[float, float | None]:
    """Richardson's limit and rate of three values; the last value and None where they have no common rate."""
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
    """Values (3, quantities) of the family and of the levels."""
    members = {n: values(solve_onset(standard_case(resolution(n)))) for n in FAMILY if n != LEVELS["standard"].sectors}
    levels = {level: values(solve_onset(standard_case(level))) for level in SHOWN}
    members[LEVELS["standard"].sectors] = levels["standard"]
    return np.array([members[n] for n in FAMILY]), np.array([levels[level] for level in SHOWN])


def measure() -> Measured:
    """Each reported quantity at the levels against its limit."""
    family, levels = convergence()
    found = []
    for at, (what, (at_standard, at_fine)) in enumerate((r, r.allowed) for r in REPORTED):
        limit, p = extrapolate(FAMILY, list(family[:, at]))
        kind = "finest of the family" if p is None else f"extrapolated with rate {p:.1f}"
        because = "a bound somewhat above the difference measured, a guard against change"
        sizes = [LEVELS[level].wall * 1e3 for level in SHOWN]
        name = f"{what.name} at quick, standard, fine ({kind})"
        found.append(Quantity(name, what.unit, limit, levels[:, at], at_fine, because, sizes, what.scale))
        name = f"{what.name} at standard"
        found.append(Quantity(name, what.unit, limit, [levels[1, at]], at_standard, because, scale=what.scale))
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
