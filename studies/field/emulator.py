"""Log peaks between the points of a design, and how far they are off there.

    f(u) = c + sum_i a_i |u - u_i|         radial basis functions of kernel r, one for each row             (scipy)
    e_i  = a_i / (A^-1)_ii                 what leaving point i out misses there     (Rippa 1999, from memory)
    error(u)^2 = FLOOR^2 + (sum_i w_i e_i^2 + WHOLE mean e^2) / (sum_i w_i + WHOLE)
    w_i  = exp(-|u - u_i|^2 / 2 r^2),      r = REACH m^(-1/k), of m points in the cube of k priors

Peaks jump where another mode gives way, so the error is that of the neighbourhood: small on a smooth side, large by a
jump. Tried on real pulls at eight placements, against constant, linear and quadratic fits, thin plates and cubics: this
kernel is as good as any and never overshoots; the local error is worth a third to two thirds of a nat a point.

Shares u of the priors and logs of loads in kN: all without unit [-].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator
from scipy.spatial.distance import cdist

from .pulls import Array, Flags

Places = NDArray[np.intp]

REACH, WHOLE, FLOOR = 0.7, 0.1, 0.005
FEWEST_SOLVED = 0.5  # share of the points
KERNEL = "linear"


@dataclass(frozen=True, slots=True)
class Emulator:
    """A design with its log peaks [-]. points (m, k); log_peaks (m, rows), NaN where a pull was not solved.

    Raises ValueError, one line, for arrays that do not match, a point that stands twice, or a row of which fewer than
    half of the pulls were solved.
    """

    points: Array
    log_peaks: Array

    def __post_init__(self) -> None:
        m, k = self.points.shape
        if self.log_peaks.shape[:1] != (m,) or self.log_peaks.ndim != 2:
            raise ValueError(f"log_peaks of shape {self.log_peaks.shape}: must be ({m}, rows)")
        if len(np.unique(self.points, axis=0)) < m or m < k + 3:
            raise ValueError(f"points = {m}: must be {k + 3} or more, each once")
        solved = np.isfinite(self.log_peaks).mean(0)
        if np.any(solved < FEWEST_SOLVED):
            row = int(np.argmin(solved))
            raise ValueError(f"row {row + 1}: {solved[row]:.0%} of its pulls were solved: must be half of them")

    def at(self, shares: Array) -> tuple[Array, Array]:
        """Log peaks (n, rows) and their errors (n, rows) [-] at shares (n, k) of the priors."""
        peaks, errors = np.empty((2, len(shares), self.log_peaks.shape[1]))
        for solved, rows in self._groups():
            points, known = self.points[solved], self.log_peaks[np.ix_(solved, rows)]
            peaks[:, rows] = RBFInterpolator(points, known, kernel=KERNEL)(shares)
            inner = _inner(points)
            square = _left_out(points, known)[inner] ** 2
            reach = REACH * len(points) ** (-1 / points.shape[1])
            weight = np.exp(-0.5 * (cdist(shares, points[inner]) / reach) ** 2)
            near = (weight @ square + WHOLE * square.mean(0)) / (weight.sum(1, keepdims=True) + WHOLE)
            errors[:, rows] = np.sqrt(FLOOR**2 + near)
        return peaks, errors

    def left_out(self) -> Array:
        """What leaving a point out misses there (m, rows) [-], NaN where it was not solved, or is a corner."""
        found = np.full(self.log_peaks.shape, np.nan)
        for solved, rows in self._groups():
            inner = _inner(self.points[solved])
            misses = _left_out(self.points[solved], self.log_peaks[np.ix_(solved, rows)])
            found[np.ix_(solved[inner], rows)] = misses[inner]
        return found

    def _groups(self) -> list[tuple[Places, Places]]:
        """Numbers of the points that are solved, and of the rows that have them in common."""
        masks, of = np.unique(np.isfinite(self.log_peaks), axis=1, return_inverse=True)
        of = of.ravel()
        return [(np.flatnonzero(mask), np.flatnonzero(of == group)) for group, mask in enumerate(masks.T)]


def _inner(points: Array) -> Flags:
    """All but the corners: to leave one of these out is to extrapolate, which the grid never does."""
    corner = (points == points.min(0)) | (points == points.max(0))
    return np.asarray(~corner.all(1))


def _left_out(points: Array, known: Array) -> Array:
    """e of each point and row, from the inverse of the system of all."""
    m = len(points)
    system = np.ones((m + 1, m + 1))
    system[:m, :m], system[m, m] = -cdist(points, points), 0.0
    inverse = np.linalg.inv(system)
    return np.asarray((inverse[:m, :m] @ known) / np.diag(inverse)[:m, None])
