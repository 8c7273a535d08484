"""One measured pull and what was predicted of it: plain data that every statistic of a day of pulls reads.

A pull that ended otherwise (torn hanger, full load cell, movement ran out) held at least its load: a bound from below.
Rows of one placement are replicates: the same tube, angle and depth, pulled again in new ice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Measured:
    """A row of a day's table.

    load_kN : the measured peak, or with is_bound what it is at least.  error : standard deviation of the measurement
    of the load's logarithm [-].  draws_kN (n,) : predicted peaks by draws of what is not known, NaN where one was not
    solved.  prediction_kN : without draws.  Modes are words, "" if not known.
    Raises ValueError, one line, for a load or an error that can be none, or where no draw was solved.
    """

    id: str
    placement: str
    load_kN: float
    is_bound: bool
    error: float
    draws_kN: Array
    prediction_kN: float
    mode_predicted: str
    mode_seen: str
    flag: str

    def __post_init__(self) -> None:
        if not 0 < self.load_kN < np.inf:
            raise ValueError(f"{self.id}: load_kN = {self.load_kN:g}: must be more than 0")
        if not 0 <= self.error < np.inf:
            raise ValueError(f"{self.id}: error = {self.error:g}: must be 0 or more")
        if not np.any(np.isfinite(self.draws_kN)):
            raise ValueError(f"{self.id}: draws_kN: must hold one solved draw or more")

    def predicted(self, share: float) -> float:
        """Load below which a share [-] of the draws lies [kN]."""
        return float(np.nanquantile(self.draws_kN, share))


def logs(rows: Sequence[Measured]) -> Array:
    """Logarithms of the measured loads or bounds (rows,), of loads in kN."""
    return np.log([row.load_kN for row in rows])


def bounds(rows: Sequence[Measured]) -> Flags:
    """Which rows (rows,) are bounds."""
    return np.array([row.is_bound for row in rows], dtype=bool)


def by_placement(placements: Sequence[str]) -> dict[str, list[int]]:
    """Numbers of the rows of each placement, in the order in which they come."""
    found: dict[str, list[int]] = {}
    for number, placement in enumerate(placements):
        found.setdefault(placement, []).append(number)
    return found
