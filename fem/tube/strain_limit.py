"""How far the wall of a tube may be strained: to the elongation of its metal, or until it wrinkles in bending.

With the stretch Gamma of the axis and the curvature kappa a wall at +-R is stretched and pressed at most by

    drawn or pressed  |Gamma| + R |kappa| = share x elongation at break                 the wall breaks
    pressed           R |kappa| - Gamma   = factor x 0.5 t / D                          it wrinkles

t wall, D = 2 R. 0.5 t / D: P. E. Murphey & C. G. Langner 1985, and the limit of API RP 1111 without its factor of 2
(both from memory). Over it, at t / D = 0.09:  0.94 A. M. Gresnigt 1986, 0.5 t/D - 0.0025;  1.38 DNV-OS-F101 for bending
that is imposed, 0.78 (t/D - 0.01);  2.8 D. R. Sherman 1976, 16 (t/D)^2 (all from memory);  0.88 to 1.75 plastic shells,
0.2 to 0.4 of wall over mean radius (Reddy 1979, in Y. Bai, Marine Structural Design, eq. 9.35: seen).

Limits: the tests behind these are of pipes of D / t from about 20 up (from memory): at 8 to 18 they are carried on
beyond. A thick tube goes oval before it wrinkles; a hole holds it round, which lets it bend further. A wrinkle does
not tear the wall: the pull goes on, and this one does not know by how much less moment. No pressure, no thread.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...materials import Assumed, Metal

Array = NDArray[np.float64]
WRINKLE = 0.5  # critical strain over t / D


class StrainLimit(NamedTuple):
    """Strains [-] at an outer fibre of radius [m]: where it breaks, drawn or pressed; where it wrinkles, pressed."""

    radius: float
    elongation: float
    buckling: float

    def used(self, stretch: Array, curvature: Array) -> Array:
        """Share of its limits that each of e sections has used, (2, e) [-]: of the elongation, of the buckling strain.

        stretch, curvature : (e,) Gamma [-], kappa [1/m].
        """
        bent = self.radius * np.abs(curvature)
        return np.stack([(np.abs(stretch) + bent) / self.elongation, (bent - stretch) / self.buckling])


def buckling_strain(diameter: float, wall: float) -> float:
    """Largest pressed strain [-] of a round tube in bending as its wall wrinkles; lengths [m], source as above."""
    return WRINKLE * wall / diameter


def strain_limit(radius: float, bore: float, metal: Metal, assumed: Assumed) -> StrainLimit:
    """The limits of a tube of a metal, radius and bore [m], with the share and the factor that a case assumes."""
    wrinkles = assumed.buckling_factor * buckling_strain(2 * radius, radius - bore)
    return StrainLimit(radius, assumed.strain_limit_share * metal.strain_limit, wrinkles)
