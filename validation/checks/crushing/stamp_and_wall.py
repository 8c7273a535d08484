"""Bounds of limit analysis for a stamp and for walls under a free surface, against closed forms of plasticity.

    stamp, Tresca            (2 + pi) c                                       Prandtl 1920
    stamp, Mohr-Coulomb      (k exp(pi tan phi) - 1) / (k - 1) sigma_c        the same, weightless; k = 2 here
    stamp, von Mises         (2 + pi) / sqrt 3 sigma_c = 2.97 sigma_c         Michel & Blanchet 1983, below
    upright wall             sigma_c d, passive earth pressure                Rankine 1857
    wall that leans          (k exp(2 theta tan phi) - 1) / (k - 1) sigma_c d         fan at the mouth; k = 3

Michel & Blanchet, Ann. Glaciol. 4, 180-187 (abstract seen): the coefficient of plasticity, 2.97, seems to apply to ice
under indenters less than five times as wide as it is thick, at 0.017 to 0.34 /s. The others are from memory;
sin phi = (k - 1) / (k + 1). The lower bound lies below, the upper one above, and both come closer with the cells: the
fan at the stamp's edge and the slip line from the wall's toe cross the grid.
"""

from __future__ import annotations

from collections.abc import Callable
from math import asin, exp, pi, radians, tan

from ....fem.crushing.limit_analysis import lower_bound, upper_bound
from ....fem.crushing.plane_strength import PlaneStrength, in_plane, mohr_coulomb, tresca
from ....fem.crushing.section import Face, Section
from ....fem.crushing.stamp import stamp_section
from ....fem.crushing.wedge import wall_section
from ....materials.surface import Parabolic
from ...check import Check, Measured, Quantity

STAMP_CELLS, WALL_CELLS = (2, 4, 8), (2, 4, 6)  # a half width; a length of the wall
LEAN = 20.0  # deg
TOUGH = 10.0  # tensile strength over sigma_c that never counts


def _fan(slope: float, turn: float) -> float:
    """Pressure over sigma_c with principal stresses that turn by an angle [rad] in between."""
    return (slope * exp(2 * turn * tan(asin((slope - 1) / (slope + 1)))) - 1) / (slope - 1)


def _both(
    name: str,
    exact: float,
    strength: PlaneStrength,
    section: Callable[[int], Section],
    cells: tuple[int, ...],
    tolerances: tuple[float, float],
) -> list[Quantity]:
    """A lower and an upper bound beside the exact number."""
    because = "a bound of finite cells; measured error with a margin of a third"
    sizes = [1 / number for number in cells]
    found = [[bound(section(number), strength).force for number in cells] for bound in (lower_bound, upper_bound)]
    names = (f"{name}, lower bound", f"{name}, upper bound")
    return [
        Quantity(each, "-", exact, ours, tolerance, because, sizes)
        for each, ours, tolerance in zip(names, found, tolerances, strict=True)
    ]


def measure() -> Measured:
    """Five closed forms between their bounds."""
    return Measured(
        (
            *_both(
                "stamp, Tresca", 2 + pi, tresca(1.0), lambda n: stamp_section(n, Face(), 5.0), STAMP_CELLS, (0.03, 0.01)
            ),
            *_both(
                "stamp, von Mises, over sigma_c",
                2.97,
                in_plane(Parabolic(TOUGH, 1.0, 0.0, 1.0), outside=True),
                lambda n: stamp_section(n, Face(), 5.0),
                STAMP_CELLS,
                (0.03, 0.01),
            ),
            *_both(
                "stamp, k = 2",
                _fan(2.0, pi / 2),
                mohr_coulomb(2.0),
                lambda n: stamp_section(n, Face(), 8.0),
                STAMP_CELLS,
                (0.05, 0.01),
            ),
            *_both(
                "upright wall", 1.0, mohr_coulomb(3.0), lambda n: wall_section(0.0, n, Face()), WALL_CELLS, (1e-5, 0.06)
            ),
            *_both(
                f"wall at {LEAN:g} deg",
                _fan(3.0, radians(LEAN)),
                mohr_coulomb(3.0),
                lambda n: wall_section(radians(LEAN), n, Face()),
                WALL_CELLS,
                (0.03, 0.06),
            ),
        )
    )


CHECKS = (
    Check(
        name="crushing_stamp_and_wall",
        group="crushing",
        title="Stamp on a half-plane and walls under its surface, rigid-plastic, from both sides",
        source="2.97: Michel & Blanchet 1983, Ann. Glaciol. 4 (abstract seen); Prandtl, Rankine, fans from memory",
        how="from memory",
        part="fem.crushing.limit_analysis, fem.crushing.plane_strength, fem.crushing.stamp, fem.crushing.wedge",
        measure=measure,
        slow=True,
    ),
)
