"""The load at which a straight pull takes a cone out, against embedment.

    N_0(h) = c(h) K_IC h^1.5             cone of the lowest ring (`cone.straight`), h the embedment     [N]

By linear elastic fracture mechanics N_0 / K_IC depends on geometry and on ratios of stiffness alone. So one law serves
all ices of a stiffness: c, dimensionless, is kept. Between embedments c is straight in log h. `cone.fronts` says what
pushes of the wall add to N_0 or take from it; its rival is `laws.threads`.

Limits: those of `cone.straight`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import Tube

if TYPE_CHECKING:
    from ..cone.straight import Elastic

Array = NDArray[np.float64]
EMBEDMENTS = (0.04, 0.055, 0.075, 0.1, 0.13, 0.17, 0.22)  # m
SIZE = 0.0024  # of the elements at the threads [m]
PROBE_STRENGTH, PROBE_TOUGHNESS = 1e6, 1e5  # Pa, Pa m^0.5: c depends on neither, but where the first crack decides


@dataclass(frozen=True, slots=True)
class ConeLaw:
    """embedment (m,) [m] and c (m,) [-] of N_0 = c K_IC h^1.5.

    error : largest of c left out and interpolated, relative.
    """

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

    Raises ValueError for a tube that cannot be meshed, SolveError if a solve does not come out.
    """
    from ...geometry.threaded_section import tube_column
    from ..cone.straight import column_cone

    found = []
    for embedment in embedments:
        column = tube_column(tube, embedment)
        cone = column_cone(column, ice, metal, PROBE_STRENGTH, PROBE_TOUGHNESS, size, rings=(0,))
        found.append(cone.growth.peak[0] / (PROBE_TOUGHNESS * embedment**1.5))
        progress()
    h, c = np.array(embedments), np.array(found)
    without = [np.interp(np.log(h[i]), np.log(np.delete(h, i)), np.delete(c, i)) for i in range(1, h.size - 1)]
    return ConeLaw(h, c, float(np.abs(without / c[1:-1] - 1).max(initial=0.0)))
