"""Broms' formulas for the largest lateral pull against a limit analysis.

Neither is finite elements: this checks the hand formulas (`fem.hand`) that stand beside a peak. Lower bound by linear
programming, n equal pieces of the embedded length, soil force p_j in each [N/m]:

    max H   with   V(z) = H - int p dz,  M(z) = H (e + z) - int p (z - s) ds,   V(L) = M(L) = 0,
            |p_j| <= bearing d,   |M| <= M_p at both ends and at the middle of each piece.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import linprog

from ....fem.hand import broms_long, broms_short
from ...check import Check, Measured, Quantity

BEARING, D, LENGTH = 20e6, 0.017, 0.130  # Pa, m, m
LEVERS = (0.0, 0.025)  # m
COUNTS = (10, 40, 160)  # an edge near the hinge by chance makes a mesh better than its size: no rate is demanded
STRONG, WEAK = 1e4, 300.0  # N m: never yields, yields before the soil does


def limit_load(lever: float, plastic_moment: float, n: int) -> float:
    """Largest H [N] with n pieces."""
    most = BEARING * D
    edges = np.linspace(0.0, LENGTH, n + 1)
    at = np.linspace(0.0, LENGTH, 2 * n + 1)[:, None]
    low, high = np.minimum(edges[:-1], at), np.minimum(edges[1:], at)  # the part of each piece above `at`
    force = high - low
    moment = force * (at - 0.5 * (low + high))
    bending = np.hstack([lever + at, -moment])  # M at `at` from (H, p)
    balance = np.vstack([np.r_[1.0, -force[-1]], bending[-1]])
    found = linprog(
        np.r_[-1.0, np.zeros(n)],
        A_ub=np.vstack([bending, -bending]),
        b_ub=np.full(2 * len(at), plastic_moment),
        A_eq=balance,
        b_eq=[0.0, 0.0],
        bounds=[(0, None)] + [(-most, most)] * n,
    )
    if found.status != 0:
        raise RuntimeError(f"linear programme: {found.message}")
    return float(-found.fun)


def measure() -> Measured:
    """Short and long piles, with and without a lever."""
    because = "pieces of a length: L^2 / n^2 at the point of turning or at the hinge, margin of three"
    quantities = []
    for lever in LEVERS:
        for name, moment, exact in (
            ("soil gives way", STRONG, broms_short(BEARING, D, LENGTH, lever)),
            ("tube yields", WEAK, broms_long(BEARING, D, lever, WEAK)),
        ):
            ours = [limit_load(lever, moment, n) / 1e3 for n in COUNTS]
            title = f"{name}, lever {lever * 1e3:g} mm"
            sizes = [1 / n for n in COUNTS]
            quantities.append(Quantity(title, "kN", exact / 1e3, ours, 2e-4, because, sizes))
    return Measured(tuple(quantities))


CHECKS = (
    Check(
        name="broms",
        group="beam and pile",
        title="Largest lateral pull of a short and a long pile: hand formula against a limit analysis",
        source="Broms, ASCE J. SMFD 90(SM2), 1964, uniform bearing from the surface down, from memory",
        how="closed form",
        part="fem.hand only, no finite elements",
        measure=measure,
    ),
)
