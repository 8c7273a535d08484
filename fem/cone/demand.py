"""How near a cone from the tip is under loads on the wall, by the weight functions of its fronts (`cone.fronts`).

    K(phi, f) = sum_j g_j(phi) f_j,        drive = mean over the front of [K]_+^2                 (units of K_IC)
    demand(f) = largest over cones of the least over lengths of sqrt(drive)                       [-], linear in size

At a demand of 1 a crack from the tip runs all the way with the loads as they are.

Limits: those of `cone.fronts`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
NODES, HARMONICS, RANK = 9, 4, 2  # of the wall; cosines round the axis; squares of a front's energy
RINGS = (1, 2, 3, 4, 5, 7, 9, 12)  # of a cone: the cracks that are looked at, from the first
CONES = 3  # of a law, at most
AZIMUTHS = 64  # at which a front is looked at: the more, the less the demand jumps where one begins to open


@dataclass(frozen=True, slots=True)
class ConeFronts:
    """What drives a cone from the tip: weight functions of its fronts (`front_weights`), of k neighbouring laws.

    weights (k, cones, lengths, squares, cosines, 3, n) : g, for loads that are hats on n even steps from the mouth to
    the tip, in front, behind, of the threads, over the threads' load N_0 alone.  share (k,) of each law.
    A cone that a law has not is zero at all lengths.
    """

    weights: Array
    share: Array

    def demand(self, place: Array) -> Callable[[Array], float]:
        """Gives the demand of loads (3, m) over N_0 that act at `place` (m,), shares of the embedment; 1: it comes."""
        n, cosines = self.weights.shape[-1], self.weights.shape[4]
        hats = np.maximum(1 - np.abs(np.clip(place, 0.0, 1.0) * (n - 1) - np.arange(n)[:, None]), 0.0)
        azimuth = np.pi * (np.arange(AZIMUTHS) + 0.5) / AZIMUTHS
        round_ = np.cos(np.outer(np.arange(cosines), azimuth))
        shape = self.weights.shape[:5]
        g = (self.weights @ hats).reshape(prod(shape), -1)

        def of(loads: Array) -> float:
            K = (g @ loads.ravel()).reshape(shape) @ round_
            drive = np.where(K[:, :, :, 0] > 0, (K * K).sum(axis=3), 0.0).mean(axis=3)
            return float(self.share @ np.sqrt(drive.min(axis=2).max(axis=1)))  # the least driven length holds a cone

        return of

    def scaled(self, threads: Array) -> ConeFronts:
        """The same with a demand of 1, in each law, under loads (n,) of the threads alone."""
        loads, place = np.zeros((3, threads.size)), np.linspace(0.0, 1.0, threads.size)
        loads[2] = threads
        one = [ConeFronts(law[None], np.ones(1)).demand(place)(loads) for law in self.weights]
        return ConeFronts(self.weights / np.array(one).reshape(-1, *[1] * 6), self.share)
