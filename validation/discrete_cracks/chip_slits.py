"""The chips that may come away in front of a pulled tube, or behind it: surfaces of `fem.chip.growth` as slits.

Friction of the faces, the ratio of sliding's toughness, fans and element sizes are those of the first route's chips, so
that the two routes differ in how ice and tube meet, not in what a chip is. Chips behind the tube, whose lower end is
pressed back, are those of the case turned round: meshes in the mirrored placement, with the loads of front and back
exchanged.

A slit can be condensed again with ice that is gone (`condensed_again`): chips that slid out, and, of a crack that is
through, the thin rest above its last ring.

Limits: those of `fem.cracks.slit`; depths and surfaces are few.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.chip.growth import FANS, chip_shapes, mesh_size
from ...fem.cracks.condensed_ice import condense_ice
from ...fem.cracks.slit import UNIT, Slit, make_slit
from ...fem.cracks.wall_loads import BACK, FRONT, THREADS, Rings, ring_loads
from ...geometry.slit_half_model import ConeShape

DEPTHS = (0.01, 0.02, 0.03, 0.04, 0.06, 0.08)  # m, in front
DEEPEST = 0.7  # of the embedment, from which a chip in front starts at most
BEHIND = (0.75, 0.95)  # of the embedment, from which chips behind start
SURFACES = 2  # of each depth
IN_FRONT, IN_BACK = "chip", "chip behind"


def chip_slits(
    case: Case, rings: Rings, depths: Sequence[float] = DEPTHS, behind: Sequence[float] = BEHIND
) -> list[Slit]:
    """Chips of a case from these depths [m] in front and these shares of the embedment behind.

    Errors of `chip_slit`.
    """
    angle, below = case.placement.angle, case.placement.embedment
    found = [(IN_FRONT, angle, depth) for depth in depths if depth < DEEPEST * below]
    found += [(IN_BACK, -angle, share * below) for share in behind]
    return [
        chip_slit(case, rings, shape, kind)
        for kind, seen, depth in found
        for shape in chip_shapes(seen, depth)[:SURFACES]
    ]


def chip_slit(case: Case, rings: Rings, shape: ConeShape, kind: str = IN_FRONT) -> Slit:
    """One chip; kind : IN_FRONT or IN_BACK.

    Raises ValueError for what cannot be meshed, SolveError if it is too fine.
    """
    size = mesh_size("quick", shape.start)
    friction, ratio = case.assumed.chip_friction, case.assumed.sliding_ratio
    side = side_of(kind)
    seen = turned(case, side)
    slit = make_slit(seen, rings, kind, shape, size, friction=friction, sliding_ratio=ratio, fans=FANS)
    order = exchanged(rings, side)
    return replace(slit, c=slit.c[:, order], C=slit.C[np.ix_(order, order)])


def side_of(kind: str) -> int:
    """1 for cracks whose mesh is the case's own, -1 for those of the case turned round."""
    return -1 if kind == IN_BACK else 1


def turned(case: Case, side: int) -> Case:
    """The case as the side sees it: its mirror image for -1."""
    return replace(case, placement=replace(case.placement, angle=side * case.placement.angle))


def exchanged(rings: Rings, side: int) -> NDArray[np.int64]:
    """Which load of the side's mesh each of the case's is: front and back exchanged for -1."""
    other = {FRONT: BACK, BACK: FRONT, THREADS: THREADS}
    at = {(int(kind), int(node)): i for i, (kind, node) in enumerate(zip(rings.kind, rings.node, strict=True))}
    pairs = zip(rings.kind, rings.node, strict=True)
    return np.array([at[int(kind) if side > 0 else other[int(kind)], int(node)] for kind, node in pairs])


def condensed_again(case: Case, rings: Rings, slit: Slit, gone: NDArray[np.int64]) -> Slit:
    """The slit in ice without some elements of its mesh. Raises SolveError as `condense_ice`."""
    side = side_of(slit.kind)
    loads = UNIT * ring_loads(slit.cone.half, case.tube, turned(case, side).placement, rings)
    found, order = condense_ice(slit.cone, case.ice, loads, gone), exchanged(rings, side)
    return replace(slit, S=found.S, c=found.c[:, order] / UNIT, C=found.C[np.ix_(order, order)] / UNIT**2)
