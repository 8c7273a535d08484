"""What drives a cone from the tip under any loads along the wall of the hole: weight functions of its front.

For straight cones from the tip (`tip_cones`) in the half model's ice, slit and condensed, with all faces
free and loads f_j of rings of the wall (front, back, threads: `cracks.wall_loads`), the stress intensity of opening at
the azimuth phi of a front is linear in the loads (Bueckner; Rice, weight functions, from memory),

    K(phi, f) = sum_j g_j(phi) f_j,        drive = mean over the front of [K]_+^2                 (units of K_IC)
    demand(f) = largest over cones of the least over lengths of sqrt(drive)                       [-], linear in size

A front is driven on if the drive is 1 or more: opening alone; shut faces bear but do not open. g comes from what the
next ring of faces would release. With holding forces P_j and jumps V_j at the nodes of one azimuth, the energy sum
P V / 2 is nearly a square (g f)^2: its largest eigenvector gives g, towards opening; the next RANK - 1 are what the
first crack, of several rows of nodes, has besides, and count where the first opens. Round the axis g is kept as
HARMONICS cosines. At a demand of 1 a crack from the tip runs all the way with the loads as they are (`cone.demand`).

Limits: faces that shut away from the front do not prop it open (in `cracks.slit` they do; the error is kept with the
law); the ice is whole but for the crack, no chips have gone; the crack does not give way while it grows; loads act
along the wall as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf, pi, radians

import numpy as np
import scipy.linalg as la
from numpy.typing import NDArray

from ...geometry.slit_half_model import STEEPEST, ConeShape
from ..case import Case
from ..cracks.slit import Crack, Slit, make_slit
from ..cracks.wall_loads import Rings
from .demand import CONES, HARMONICS, NODES, RANK, RINGS, ConeFronts

Array = NDArray[np.float64]
ELEVATIONS = (radians(25), radians(35), radians(45))
TURNING, UPPER = (1.8, 0.65), 2 / 3  # pushes in front and behind over the threads' pull; share of the wall of the first


def tip_cones(case: Case) -> list[ConeShape]:
    """Full cones from the tip; tilts of 15 deg to either side never were weaker (ten cases)."""
    shapes = (ConeShape(case.placement.embedment, elevation) for elevation in ELEVATIONS)
    return [shape for shape in shapes if shape.elevation + abs(case.placement.angle) <= STEEPEST]


def least_load(slits: Sequence[Slit], f: Array) -> float:
    """How many times the ring loads f (n,) the weakest of these cones bears; inf where they draw none."""
    found = []
    for slit in slits:
        crack, needed = Crack(slit), 0.0
        while not crack.through:
            drive = crack.drive(f, pi)
            needed = max(needed, drive**-0.5 if drive > 0 else inf)
            crack.ring = crack.next_ring
        found.append(needed)
    return float(min(found))


def front_weights(case: Case) -> tuple[Array, float]:
    """g (CONES, len(RINGS), RANK, HARMONICS, 3, NODES) [1/N] of the case's tube and angle, threads to be anywhere.

    With the relative error of the demand, over that of the threads alone, against `cracks.slit`, whose faces shut: for
    a tube that turns to the front or back and presses both sides (TURNING).
    Raises ValueError for what cannot be meshed, SolveError if a solve fails.
    """
    found = np.zeros((CONES, len(RINGS), RANK, HARMONICS, 3, NODES))
    below = case.placement.embedment
    s = np.linspace(0.0, below, NODES)
    width = np.full(NODES, s[1])
    width[[0, -1]] *= 0.5
    rings = Rings(s, np.repeat(np.arange(3), NODES), np.tile(np.arange(NODES), 3), np.tile(width, 3))
    case = replace(case, tube=replace(case.tube, thread_length=below))
    slits = [make_slit(case, rings, "cone", shape) for shape in tip_cones(case)[:CONES]]
    for number, slit in enumerate(slits):
        for place, ring in enumerate(RINGS):
            found[number, place] = _front(slit, ring).reshape(RANK, HARMONICS, 3, NODES)
    return found, _error(slits, ConeFronts(found[None], np.ones(1)))


def _error(slits: list[Slit], law: ConeFronts) -> float:
    """The error that `front_weights` gives."""
    place = np.linspace(0.0, 1.0, NODES)
    shapes = np.array([np.sqrt(place) * (place < UPPER), 1.0 * (place > UPPER), np.ones(NODES)])
    shapes[2, [0, -1]] = 0.5
    shapes /= shapes.sum(axis=1, keepdims=True)
    threads, turning = (1e3 * np.array([[front], [back], [1.0]]) * shapes for front, back in ((0.0, 0.0), TURNING))
    demand = law.demand(place)
    ratios = [demand(f) * least_load(slits, f.ravel()) for f in (threads, turning, turning[[1, 0, 2]])]
    return float(max(abs(ratio / ratios[0] - 1) for ratio in ratios[1:]))


def _front(slit: Slit, number: int) -> Array:
    """Cosines of g (RANK, HARMONICS, loads) as the crack of this number from the first, or the last, comes about."""
    after = min(slit.first + number, slit.cone.rings.size)
    before = 0 if number == 1 else after - 1
    was, now = slit.cone.opened(before, pi), slit.cone.opened(after, pi)
    new = now & ~was
    hold = slit.c - slit.S @ _jumps(slit, was)
    P, V = hold[::3], _jumps(slit, now)[::3]
    azimuth = np.round(slit.cone.azimuth, 6)
    places = np.unique(azimuth[new])
    g = np.zeros((RANK, places.size, P.shape[1]))
    for i, phi in enumerate(places):
        here = new & (azimuth == phi)
        g[:, i] = _squares(P[here], V[here], g[:, i - 1])
    weight = _simpson(places)
    g /= np.sqrt(weight * slit.fracture_energy * float(slit.cone.area[before:after].sum()))[:, None]
    root, cosines = np.sqrt(weight)[:, None], np.cos(np.outer(places, np.arange(HARMONICS)))
    return np.stack([la.lstsq(root * cosines, root * each)[0] for each in g])


def _jumps(slit: Slit, pairs: NDArray[np.bool_]) -> Array:
    """Jumps (3 k, loads) of free faces that are open at these pairs."""
    out, at = np.zeros_like(slit.c), np.repeat(pairs, 3)
    if at.any():
        out[at] = la.solve(slit.S[np.ix_(at, at)], slit.c[at], assume_a="pos")
    return out


def _simpson(places: Array) -> Array:
    """Shares of the half circle that belong to corners and middles of quadratic elements, (a,) for sorted azimuths."""
    weight = np.zeros(places.size)
    for i in range(0, places.size - 1, 2):
        weight[i : i + 3] += (places[i + 2] - places[i]) / 6 * np.array([1.0, 4.0, 1.0])
    return weight / weight.sum()


def _squares(P: Array, V: Array, beside: Array) -> Array:
    """g (RANK, loads) of the best sum of g g^T for the energy sum P V / 2, nodes in rows, the largest first.

    The first points to jumps that open, the others as those `beside` (RANK, loads) do.
    """
    w, U = np.linalg.eigh(0.25 * (P.T @ V + V.T @ P))
    g = (np.sqrt(np.maximum(w, 0.0)) * U)[:, ::-1][:, :RANK].T
    way = np.r_[V.sum(axis=0) @ g[0], np.vecdot(g, beside)[1:]]
    return np.asarray(np.where(way < 0, -1.0, 1.0)[:, None] * g)
