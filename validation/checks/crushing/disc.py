"""Bounds of limit analysis for a disc pushed through endless Tresca material, against the exact slip-line solution.

    force / (c D) = 9.20117 smooth, 11.9400 rough

Lateral translation of a circular pile in cohesive soil: exact plasticity solution, Geotechnique, accepted 2026
(abstract seen, ora.ox.ac.uk). Randolph & Houlsby 1984, Geotechnique 34(4), 613-623 (abstract seen) have 6 + pi = 9.14
and 4 sqrt 2 + 2 pi = 11.94.

A smooth polygon turns the ice at its corners, so its numbers come down from above the circle's. Stress in the fans of a
rough disc turns within a few triangles: its lower bound is slow.
"""

from __future__ import annotations

from ....fem.crushing.disc import ROUGH, SMOOTH, disc_bounds
from ....fem.crushing.plane_strength import tresca
from ....fem.crushing.section import Face
from ...check import Check, Measured, Quantity

SECTORS = (8, 12, 18)
REACH = 6.0


def measure() -> Measured:
    """Smooth and rough, no gap."""
    because = "a bound of finite sectors; measured error with a margin of a third"
    sizes = [1 / sectors for sectors in SECTORS]
    out = []
    for name, face, exact, tolerances in (
        ("smooth", Face(opens=False), SMOOTH, (0.02, 0.02)),
        ("rough", Face(opens=False, adhesion=1.0), ROUGH, (0.15, 0.02)),
    ):
        found = [disc_bounds(sectors, face, tresca(1.0), tresca(1.0), REACH, True) for sectors in SECTORS]
        for place, side in enumerate(("lower", "upper")):
            ours = [2 * each[place].force for each in found]
            out.append(Quantity(f"{name} disc, {side} bound", "-", exact, ours, tolerances[place], because, sizes))
    return Measured(tuple(out))


CHECKS = (
    Check(
        name="crushing_disc",
        group="crushing",
        title="Rigid disc pushed through an endless Tresca plane, from both sides",
        source="Lateral translation of a circular pile in cohesive soil, Geotechnique, accepted 2026 (abstract seen)",
        how="published",
        part="fem.crushing.limit_analysis, fem.crushing.disc",
        measure=measure,
        slow=True,
    ),
)
