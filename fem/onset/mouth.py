"""Onset at the mouth by the coupled criterion, with the energy that real candidate cracks release in the half model.

A crack of finite size appears at the least pull F [N] at which both hold (Leguillon, Eur. J. Mech. A 21, 2002; with the
mean stress: Cornetti, Pugno, Carpinteri & Taylor, Eng. Fract. Mech. 73, 2006; both from memory):

    strength   F mean(sigma_n / sigma_t) >= 1 over the crack ("average"), or at each node of it ("pointwise")
    energy     F^2 (E(A) - E(0)) >= int_A G_c dA            G_c = K_IC^2 (1 - nu^2) / E

sigma_n of the whole ice and E(A), the energy that contact and a crack A release, are those at 1 N. Candidates
(`onset.mouth_cracks`) are splits in the plane of the pull, and cracks across the tube at the upper end of the threads.
Each starts at the wall of the hole, is a long outwards (whole rings of the mesh) and b along the wall (whole layers) or
round it (whole sectors), so its area is exact. Between sizes both loads lie on straight lines in log a and log b;
max(strength, energy) is made least over (a, b). Cracks are at least L = (K_IC / sigma_t)^2 / pi long in both
directions: smaller ones cannot be told from the grain of ice. The load of a crack across the tube goes about with the
root of that length.

Limits: opening only; ice that slides under pressure (shear onset) stays with `onset.criterion`. Fronts are rectangles
in the mesh's layers: a rounded one needs a little less. Splits and slits that cross are not tried, nor inclined cracks:
frustums from tip and threads need 7 times the load or more; at threads 15 mm deep one that dips needs 0.8 of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from time import perf_counter
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from ..case import Case
from .mouth_cracks import UNIT_PULL, MouthCracks, Surface

Array = NDArray[np.float64]
Strength = Literal["average", "pointwise"]
FRONT = 0.074  # of an element: nodes let go up to its end release the energy of a front this much short of it
FINE = 41  # sizes tried in each direction between the mesh's


@dataclass(frozen=True, slots=True)
class Loads:
    """Cracks of one surface that start in the same row.  strength, energy : (rows, rings) loads [N]."""

    surface: Surface
    first: int
    strength: Array
    energy: Array

    @property
    def size(self) -> tuple[Array, Array]:
        """b (rows,) and a (rings,) [m]."""
        extent = self.surface.extent[self.first : self.first + len(self.strength) + 1]
        return extent[1:] - extent[0], self.surface.length[: self.strength.shape[1]]

    @property
    def effective(self) -> tuple[Array, Array]:
        """b and a of the fronts whose energy the mesh gives: FRONT of the last element back [m].

        On 27-node elements of size h the energy of a released crack is that of a crack whose front lies FRONT h inside,
        whatever the crack (edge crack and penny against their closed forms, h from a/2 to a/8: 0.072 to 0.081). The
        error at the front goes with h K^2 / E': it is a shift of the front.
        """
        return tuple(size - FRONT * np.diff(size, prepend=0.0) for size in self.size)  # type: ignore[return-value]

    def least(self, shortest: float = 0.0) -> tuple[float, float, float]:
        """Least load [N] over a, b >= shortest (by default the least of the mesh), and a and b [m] of it."""
        fine = [np.geomspace(min(max(shortest, size[0]), size[-1]), size[-1], FINE) for size in self.effective]
        at = np.log(np.stack(np.meshgrid(*fine, indexing="ij"), axis=-1))
        needed = np.maximum(_between(self.size, self.strength, at), _between(self.effective, self.energy, at))
        b, a = np.unravel_index(int(np.argmin(needed)), needed.shape)
        return float(needed[b, a]), float(fine[1][a]), float(fine[0][b])


def _between(sizes: tuple[Array, Array], loads: Array, at: Array) -> Array:
    """Loads (rows, rings) at sizes (rows,), (rings,) on straight lines in logarithms, at log sizes (..., 2)."""
    rate, ends = np.log(np.minimum(loads, 1e30)), []
    for axis, size in enumerate(sizes):
        rate = np.repeat(rate, 2, axis) if size.size == 1 else rate
        ends.append(np.log([size[0], 2 * size[0]] if size.size == 1 else size))
    inside = np.clip(at, [end[0] for end in ends], [end[-1] for end in ends])
    return np.asarray(np.exp(RegularGridInterpolator(ends, rate)(inside)))


@dataclass(frozen=True, slots=True)
class MouthOnset:
    """load : pull at which the crack appears [N].  kind : `split in front`, `split behind`, `across in front`, ...

    length : a, outwards from the wall; extent : b, along or round it [m].  start : where b begins, along the wall from
    the mouth downwards or round it from the front or from behind [m].  tried : the least load of every kind [N].
    """

    load: float
    kind: str
    length: float
    extent: float
    start: float
    tried: dict[str, float]
    seconds: float


def crack_loads(
    cracks: MouthCracks, surface: Surface, strength: Strength = "average", below: float = np.inf
) -> Iterator[Loads]:
    """Loads of all cracks of a surface, start by start; starts that strength alone puts at `below` [N] are left out."""
    rows, rings = surface.usable
    weights = surface.weights[:rows, :rings]
    share = cracks.stress(surface) / cracks.strength[surface.elements[:rows, :rings]][..., None]
    needed = weights.sum(axis=2) * cracks.fracture_energy[surface.elements[:rows, :rings]]
    for first in range(rows if surface.floating else 1):
        index = share[first:]
        if strength == "average":
            total = (index * weights[first:]).sum(axis=2).cumsum(axis=0).cumsum(axis=1)
            index = total / weights[first:].sum(axis=2).cumsum(axis=0).cumsum(axis=1)
        else:
            index = np.minimum.accumulate(np.minimum.accumulate(index.min(axis=2), axis=0), axis=1)
        with np.errstate(divide="ignore"):
            by_strength = np.where(index > 0, UNIT_PULL / index, np.inf)
        if by_strength.min() >= below:
            continue
        by_energy = np.full(by_strength.shape, np.inf)
        found = Loads(surface, first, by_strength, by_energy)
        b, a = (short / whole for short, whole in zip(found.effective, found.size, strict=True))
        for row, ring in np.ndindex(by_strength.shape):
            opened = surface.opened(first, first + row, ring + 1)
            released = cracks.energy(surface, opened)
            if released > 0:
                work = needed[first : first + row + 1, : ring + 1].sum() * a[ring] * b[row]
                by_energy[row, ring] = UNIT_PULL * np.sqrt(work / (surface.shares * released))
        yield found


def solve_mouth_onset(case: Case, strength: Strength = "average") -> MouthOnset:
    """Onset [N] of a crack at the mouth or at the threads' upper end near it, by opening (module docstring).

    "average" is the usual choice: one mean over the crack goes with one energy of it. "pointwise" asks for the stress
    at the crack's far corner, whose shape the mesh has chosen. In the cases tried energy decides with either. Raises
    ValueError for a placement that cannot be meshed or in which nothing opens, SolveError if a solve fails.
    """
    start = perf_counter()
    cracks = MouthCracks(case)
    tried: dict[str, float] = {}
    best = MouthOnset(np.inf, "", 0.0, 0.0, 0.0, tried, 0.0)
    for surface in cracks.surfaces:
        tried[surface.kind] = np.inf
        for loads in crack_loads(cracks, surface, strength, best.load):
            load, length, extent = loads.least(cracks.visible)
            tried[surface.kind] = min(tried[surface.kind], load)
            if load < best.load:
                best = MouthOnset(load, surface.kind, length, extent, surface.extent[loads.first], tried, 0.0)
    if not np.isfinite(best.load):
        raise ValueError("mouth onset: no candidate has tension across it and releases energy")
    return replace(best, seconds=perf_counter() - start)
