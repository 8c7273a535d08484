"""What holds the threads: the cone's pull-out load against embedment, and its rival.

    cone       N_0(h) = c(h) K_IC h^1.5             the lowest ring's cone, path found (`cone`), h the embedment   [N]
    threads    t = min(tau pi d_c, q A_t / pitch)   per length of thread                                         [N/m]

Linear elastic fracture mechanics makes N_0 / K_IC a matter of geometry and of the ratios of stiffness alone, so one
law serves all ices of a stiffness: c, dimensionless, is kept. Interpolated between embedments c is straight in log h.

What the wall's pushes take from N_0, or add to it, is `cone.fronts`' matter.

The rival, stripping: the ice between the crests shears along the cylinder of diameter d_c over the crests, or is
crushed under the faces. Shut in between steel and block it cannot widen: it bears a share of the deviator cap in shear,
tau = cap / 2 unless said otherwise, not the cohesion of free ice (for sound glacier ice 6.6 instead of 1.5 MPa), and
q = indentation factor x sigma_c under the faces of area A_t a turn. Both are assumptions of `data/assumed.toml`.

Limits: those of `cone.straight`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import Tube
from ...geometry.threaded_section import tube_column
from ...materials import Assumed, Ice
from ..cone.straight import Elastic, column_cone

Array = NDArray[np.float64]
EMBEDMENTS = (0.04, 0.055, 0.075, 0.1, 0.13, 0.17, 0.22)  # m
SIZE = 0.0024  # of the elements at the threads [m]
PROBE_STRENGTH, PROBE_TOUGHNESS = 1e6, 1e5  # Pa, Pa m^0.5: c depends on neither, but where the first crack decides


@dataclass(frozen=True, slots=True)
class ConeLaw:
    """embedment (m,) [m] and c (m,) of N_0 = c K_IC h^1.5.  error : largest of c where left out, relative."""

    embedment: Array
    c: Array
    error: float

    def load(self, embedment: float, toughness: float) -> float:
        """Axial load [N] that pulls the cone out; outside the table c is that of its end."""
        c = float(np.interp(np.log(embedment), np.log(self.embedment), self.c))
        return c * toughness * embedment**1.5


def cone_law(
    tube: Tube,
    ice: Elastic,
    metal: Elastic,
    embedments: Sequence[float] = EMBEDMENTS,
    size: float = SIZE,
    progress: Callable[[], None] = lambda: None,
) -> ConeLaw:
    """c at each embedment [m]; ice, metal : E [Pa], nu.  progress : called after each.

    Raises ValueError for a tube that cannot be meshed, SolveError where a solve does not come out.
    """
    found = []
    for embedment in embedments:
        column = tube_column(tube, embedment)
        cone = column_cone(column, ice, metal, PROBE_STRENGTH, PROBE_TOUGHNESS, size, rings=(0,))
        found.append(cone.growth.peak[0] / (PROBE_TOUGHNESS * embedment**1.5))
        progress()
    h, c = np.array(embedments), np.array(found)
    without = [np.interp(np.log(h[i]), np.log(np.delete(h, i)), np.delete(c, i)) for i in range(1, h.size - 1)]
    return ConeLaw(h, c, float(np.abs(without / c[1:-1] - 1).max(initial=0.0)))


def thread_limit(tube: Tube, ice: Ice, assumed: Assumed) -> float:
    """Axial force per length at which the threads strip [N/m], and never less than 0 (module docstring)."""
    crest = tube.radius + tube.thread_height
    cylinder = assumed.thread_shear_share * ice.deviator_cap * 2 * pi * crest
    pressure = assumed.indentation_factor * ice.compressive_strength
    faces = pressure * pi * (crest**2 - tube.radius**2) / tube.thread_pitch
    return min(cylinder, faces)
