"""A family of onsets by one session against the same one by one: what shared factors and analyses save.

    python validation/benchmarks/family.py [level] [angles]        (by default standard, -20 to 20 deg in seven)

Every angle is pulled at the eye and tied off, in four directions. Prints processor seconds and their ratio, and how far
the loads are apart. With numbers behind, the angles in degrees: `family.py standard -20 10`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import product
from math import radians
from time import process_time

from icecone.fem.case import Case
from icecone.fem.onset.elastic import ElasticSession
from icecone.fem.onset.solve import Solution, solve_onset
from icecone.geometry.placement import Placement, Pull
from icecone.validation.checks.mesh.meshes import standard_case

ANGLES = (-20.0, -12.0, -6.0, 0.0, 6.0, 12.0, 20.0)  # deg
DIRECTIONS = (0.0, 20.0, 45.0, 90.0)  # deg
EMBEDMENT = 0.09  # m


def cases(level: str, angles: list[float]) -> list[Case]:
    """The family, angle by angle."""
    found = []
    for angle, attachment, direction in product(angles, ("eye", "tied_off"), DIRECTIONS):
        placement = Placement(radians(angle), EMBEDMENT, attachment)  # type: ignore[arg-type]
        found.append(replace(standard_case(level), placement=placement, pull=Pull(radians(direction))))  # type: ignore[arg-type]
    return found


def timed(family: list[Case], session: Callable[[], ElasticSession]) -> tuple[float, list[Solution]]:
    """Processor seconds and answers, each case in a session that it is given."""
    start = process_time()
    found = [solve_onset(case, session()) for case in family]
    return process_time() - start, found


def main(level: str = "standard", *angles: str) -> None:
    """Time both ways and print the comparison."""
    family = cases(level, [float(angle) for angle in angles] or list(ANGLES))
    solve_onset(family[0], ElasticSession())  # libraries are loaded
    shared = ElasticSession()
    together, ours = timed(family, lambda: shared)
    alone, theirs = timed(family, ElasticSession)
    apart = max(abs(a.onset_load / b.onset_load - 1) for a, b in zip(ours, theirs, strict=True))
    print(f"{level}: {len(family)} onsets, one by one {alone:.1f} s, by a session {together:.1f} s, ", end="")
    print(f"ratio {together / alone:.2f}; loads apart by {apart:.0e}")


if __name__ == "__main__":
    main(*sys.argv[1:])
