"""What drives a cone, as the pull asks for it at each state: `cone.demand` on plain arrays.

    K(phi) = sum g(phi) f / N_0,    drive = mean of K^2 where K opens,    demand = largest over cones of
    the least over lengths of sqrt(drive), for each of the neighbouring laws by its share                   [-]

Loads at the nodes come onto the law's own hats first, so a demand costs no more for a finer beam.
"""

from __future__ import annotations

from math import prod
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import within
from ..cone.demand import AZIMUTHS, ConeFronts

Array = NDArray[np.float64]
LEAST_CONE = 1e-3  # N


class FrontTable(NamedTuple):
    """weights : (laws, cones, lengths, squares, cosines, loads) g [-].  hats : (n, m), of the law's places at nodes.

    round : (cosines, azimuths).  share : (laws,); none where nothing but the threads drives a cone.
    """

    weights: Array
    hats: Array
    round: Array
    share: Array


def front_table(fronts: ConeFronts | None, place: Array) -> FrontTable:
    """For loads at `place` (m,), shares of the embedment."""
    if fronts is None:
        return FrontTable(np.zeros((0, 0, 0, 0, 0, 0)), np.zeros((0, 0)), np.zeros((0, 0)), np.zeros(0))
    shape, n = fronts.weights.shape[:5], fronts.weights.shape[-1]
    hats = np.maximum(1 - np.abs(np.clip(place, 0.0, 1.0) * (n - 1) - np.arange(n)[:, None]), 0.0)
    azimuth = np.pi * (np.arange(AZIMUTHS) + 0.5) / AZIMUTHS
    weights = np.array(fronts.weights, float).reshape(*shape, prod(fronts.weights.shape[5:]))
    return FrontTable(weights, hats, np.cos(np.outer(np.arange(shape[4]), azimuth)), np.array(fronts.share, float))


@within
def cone_demand(alone: float, fronts: FrontTable, bearing: Array, threads: Array) -> float:
    """How far the loads on the wall (m,) and of the threads (m,) [N] are on their way to the cone: 1, it comes.

    Nothing if the threads do not pull: no cone hangs on them.
    """
    pull = threads.sum()
    if pull <= 0 or not np.isfinite(alone):
        return 0.0
    if len(fronts.share) == 0:
        return pull / max(alone, LEAST_CONE)
    return front_demand(fronts, bearing, threads) / max(alone, LEAST_CONE)


@within
def front_demand(fronts: FrontTable, bearing: Array, threads: Array) -> float:
    """Demand times N_0 [N] of loads on the wall and of the threads, (m,) [N]."""
    weights, hats, round_, share = fronts
    n, m = hats.shape
    loads, demand = np.zeros(3 * n), 0.0
    for i in range(n):
        for j in range(m):
            hat = hats[i, j]
            loads[i] += hat * max(bearing[j], 0.0)
            loads[n + i] += hat * max(-bearing[j], 0.0)
            loads[2 * n + i] += hat * threads[j]
    for law in range(len(share)):
        largest = 0.0
        for cone in range(weights.shape[1]):
            least = np.inf  # the least driven length holds a cone
            for length in range(weights.shape[2]):
                least = min(least, _drive(weights[law, cone, length], round_, loads))
                if least <= largest:
                    break
            largest = max(largest, least)
        demand += share[law] * np.sqrt(largest)
    return demand


@within
def _drive(weights: Array, round_: Array, loads: Array) -> float:
    """Mean over the azimuths of the squares (squares, cosines, loads) where the first opens [N^2]."""
    squares, cosines, n = weights.shape
    azimuths, total = round_.shape[1], 0.0
    g, K = np.zeros((squares, cosines)), np.zeros((squares, azimuths))
    for s in range(squares):
        for c in range(cosines):
            for i in range(n):
                g[s, c] += weights[s, c, i] * loads[i]
            for a in range(azimuths):
                K[s, a] += g[s, c] * round_[c, a]
    for a in range(azimuths):
        if K[0, a] > 0:
            for s in range(squares):
                total += K[s, a] ** 2
    return total / azimuths
