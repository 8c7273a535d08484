"""The chips that may come away in front of a pulled tube: surfaces of `fem.chip.growth` as slits of the second route.

Friction of the faces, the ratio of sliding's toughness, fans and element sizes are those of the first route's chips, so
that the two routes differ in how ice and tube meet, not in what a chip is.

Limits: those of `fem.cracks.slit`; depths and surfaces are few.
"""

from __future__ import annotations

from collections.abc import Sequence

from ...fem.case import Case
from ...fem.chip.growth import FANS, chip_shapes, mesh_size
from ...fem.cracks.slit import Slit, make_slit
from ...fem.cracks.wall_loads import Rings
from ...geometry.slit_half_model import ConeShape

DEPTHS = (0.01, 0.02, 0.04, 0.08)  # m
SURFACES = 2  # of each depth
DEEPEST = 0.7  # of the embedment, from which a chip starts at most


def chip_slits(case: Case, rings: Rings, depths: Sequence[float] = DEPTHS) -> list[Slit]:
    """Chips of a case from these depths [m]. Errors of `chip_slit`."""
    angle, deepest = case.placement.angle, DEEPEST * case.placement.embedment
    return [
        chip_slit(case, rings, shape)
        for depth in depths
        if depth < deepest
        for shape in chip_shapes(angle, depth)[:SURFACES]
    ]


def chip_slit(case: Case, rings: Rings, shape: ConeShape) -> Slit:
    """One chip. Raises ValueError for what cannot be meshed, SolveError if it is too fine."""
    size = mesh_size("quick", shape.start)
    friction, ratio = case.assumed.chip_friction, case.assumed.sliding_ratio
    return make_slit(case, rings, "chip", shape, size, friction=friction, sliding_ratio=ratio, fans=FANS)
