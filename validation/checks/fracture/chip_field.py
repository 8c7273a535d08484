"""The crack in front of a pressed wall by two methods: followed as a sharp crack, and found by a phase field.

Both start from the same first crack, half a loaded depth long, which opens without sliding. `fem/chip/path.py` turns a
sharp crack until K_II vanishes; `validation/phase_field/chip.py` lets damage find its way on a mesh that knows no path.
They share the body and the even push, and nothing of the fracture but G_c.

    way    largest distance from the middle of the damage to the sharp path, both up to a distance from the strip's end
    load   P/(K_IC sqrt(d)) where both tips are 1 d away from the strip's end, the field's over the root of what a
           crack costs on its mesh (in G_c)

Limit: the load of a chip that comes out is not judged. At -20 deg it is 10 % low: the chip is thin, and a band as wide
as 4 ell softens it.
"""

from __future__ import annotations

from functools import cache
from math import radians

import numpy as np
from numpy.typing import NDArray

from ....fem.chip.path import ChipPath, HoleWall, follow_chip
from ....geometry.wedge_section import hole_point
from ...check import Check, Measured, Quantity
from ...phase_field.chip import ChipField, Smear, chip_field

Array = NDArray[np.float64]
ICE = (9e9, 0.3)  # Pa, -
DEPTH = 0.02  # m
FIRST = 0.5  # of d
REACH = {-20.0: (2.8, 1.4), 0.0: (2.0, 2.2), 10.0: (1.8, 2.7)}  # ahead and deep, over d
LONGEST = 1.5  # of d, of cracks that do not come out


@cache
def both(degrees: float) -> tuple[ChipField, ChipPath]:
    """The crack at an angle [deg] of REACH by both methods, to the surface or LONGEST."""
    hole = HoleWall(radians(degrees), DEPTH, ICE)
    out = degrees < 0
    growth = follow_chip(hole, "opening", first=FIRST, longest=4.0 if out else 2.0)
    smear = Smear(fine=3.0, reach=REACH[degrees])
    return chip_field(hole, FIRST, float(growth.directions[0]), smear, 3.0 if out else LONGEST), growth


def away(path: Array, hole: HoleWall) -> Array:
    """Distances (n,) of points (2, n) from the strip's lower end, over d."""
    return np.asarray(np.hypot(*(path - hole_point(hole.angle, hole.depth)[:, None])) / hole.depth)


def apart(field: ChipField, growth: ChipPath, within: float) -> float:
    """Largest distance over d, beyond the first crack and `within` d of the strip's end, at equal distance from it."""
    r = np.linspace(away(field.path[:, :1], field.hole)[0], within, 21)
    ways = [
        np.stack([np.interp(r, away(each.path, each.hole), line) for line in each.path]) for each in (field, growth)
    ]
    return float(np.hypot(*(ways[0] - ways[1])).max() / growth.hole.depth)


def load_at(field: ChipField, growth: ChipPath, reach: float) -> tuple[float, float]:
    """P/(K_IC sqrt(d)) of both with the tip `reach` d from the strip's end, the field's over the root of its cost."""
    ours = np.interp(reach, field.reach / growth.hole.depth, field.coefficient) / np.sqrt(field.cost)
    return float(ours), float(np.interp(reach, away(growth.path[:, 1:], growth.hole), growth.coefficient))


def measure() -> Measured:
    """Way and load by both methods of cracks that come out, run on below the surface and dive."""
    found = []
    for degrees in REACH:
        field, growth = both(degrees)
        name, gap = f"at {degrees:g} deg: ", apart(field, growth, LONGEST)
        band = "asked: a tenth of the loaded depth, as ell is"
        found.append(Quantity(f"{name}ways apart, over d", "-", 0.0, [gap], 0.1, band, (), 1.0))
        if degrees >= 0:
            ours, sharp = load_at(field, growth, 1.0)
            found.append(Quantity(f"{name}P/(K_IC d^0.5)", "-", sharp, [ours], 0.1, "asked: 10 %"))
        if growth.outcrop is not None:
            out = (field.outcrop or 0.0) / DEPTH
            found.append(Quantity(f"{name}outcrop over d", "-", growth.outcrop / DEPTH, [out], 0.1, "asked: 10 %"))
    return Measured(tuple(found))


CHECKS = (
    Check(
        name="chip_field",
        group="fracture",
        title="Crack in front of a pressed wall: way and load by a phase field against the followed path",
        source="`fem/chip/path.py`: one sharp crack turned until K_II vanishes",
        how="own extrapolation",
        part="validation.phase_field.chip, validation.phase_field.even_wedge, validation.phase_field.solve, "
        "fem.chip.path",
        measure=measure,
        slow=True,
    ),
)
