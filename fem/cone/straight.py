"""The cone of a tube pulled straight out: a crack that starts at a thread ring and finds its own way to the surface.

    crack length a (along the path), tip direction beta; at F = 1 N:  G(a), K_I(a), K_II(a)      [stress_intensity]
    load that holds the crack at a          F(a) = sqrt(G_c / G(a, 1 N)) = K_IC / K,  K^2 = E G/(1 - nu^2)      [N]
    next step                               beta + kink_angle(K_I, K_II)           largest hoop stress, K_II -> 0
    a step whose end would kink by more than SHARP is turned by the kink over GAIN and solved again (a long step
    reacts to more than its own turn; without this short cracks zigzag)
    stable while F rises with a;  peak = largest F;  then unstable

The first step is the crack of onset (`cone.first_crack`). Linear elasticity with unilateral contact is proportional to
the load, so one solve a length is all. Only the cone of the lowest ring frees the tube: its peak is the peak. A cone
of a higher ring that needs less comes out before, as a shallow chip, and leaves the threads below it holding.

Limits: one crack at a time, so what a chip or a crack that stops changes in the sharing of the load is left out; no
friction on steel; axisymmetric; brittle (no rate, no creep); path single-valued in r. The first crack decides too: one
of 12 mm at 57 deg instead of 3 mm at 17 deg lowers the peak by 8 %. Ice that lifts off rock below it is not looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import atan2, cos, inf, radians, sin, sqrt
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import Tube
from ...geometry.threaded_section import Column, build_section, tube_column
from ...materials.ice import Ice
from ...materials.metal import Metal
from ...materials.strength import fracture_energy
from ..cracks.stress_intensity import Intensity, Tip, intensity, kink_angle
from .first_crack import ConeOnset, cone_onset
from .threaded_pull import ConePull, pull_section

Array = NDArray[np.float64]
Elastic = tuple[float, float]
STEP = 0.08  # of the ring's depth, longest step of the crack; twice that past the peak
GROWTH = 0.5  # of the crack's length, longest step of a short one
TIP_ELEMENTS = 4  # across the last step, or the whole of a short crack
SHALLOW = 0.15  # of the ring's depth: a tip this near the surface is through
FALLEN = 0.8  # of the peak: below it nothing is left to learn
STEPS = 50
SHARP = 0.08  # rad
GAIN = 1.5
TURNS = 4  # of one step, at most
STEEP = radians(78.0)
SIZE = 0.0018  # m at the threads: default


@dataclass(frozen=True)
class ConeGrowth:
    """A crack from one ring's corner, (n,) lengths. SI.

    path : (2, n + 1) from the corner.  length, load (m, N), K_I, K_II (Pa m^0.5 at 1 N), G (J/m2 at 1 N),
    compliance (m/N), closed (share of the faces that touch).  shares : (n, rings) of the thrust.  surfaced : came out.
    """

    column: Column
    ring: int
    path: Array
    length: Array
    load: Array
    K_I: Array
    K_II: Array
    G: Array
    compliance: Array
    closed: Array
    shares: Array
    surfaced: bool

    @property
    def at_peak(self) -> int:
        """Index of the largest load."""
        return int(np.argmax(self.load))

    @property
    def peak(self) -> tuple[float, float]:
        """Largest load [N] and the length there [m], by a parabola through the three highest neighbours."""
        k = self.at_peak
        if not 0 < k < self.load.size - 1:
            return float(self.load[k]), float(self.length[k])
        fit = np.polyfit(self.length[k - 1 : k + 2] - self.length[k], self.load[k - 1 : k + 2], 2)
        at = -fit[1] / (2 * fit[0])
        return float(np.polyval(fit, at)), float(self.length[k] + at)

    @property
    def depth(self) -> float:
        """Depth of the cone's apex ring [m]."""
        return -float(self.path[1, 0])

    @property
    def breakout_radius(self) -> float:
        """Radius at the surface [m], the path extended in its last direction; inf if that does not rise."""
        run, rise = self.path[:, -1] - self.path[:, -2]
        return float(self.path[0, -1] - self.path[1, -1] * run / rise) if rise > 0 else inf

    @property
    def elevation(self) -> float:
        """Mean angle of the cone's side from the surface plane [rad]."""
        return atan2(self.depth, self.breakout_radius - float(self.path[0, 0]))


@dataclass(frozen=True)
class ConeSolution:
    """A straight pull. onset : of every candidate ring.  growth : the cone of the lowest, which frees the tube.

    candidates : load that pulls out the lowest ring's cone, and those of other rings that need no more [N]: they come
    out before and leave the threads below them holding.
    shares_start : (rings,) thrust shares of the uncracked ice.  seconds : wall clock.
    """

    onset: tuple[ConeOnset, ...]
    growth: ConeGrowth
    candidates: dict[int, float]
    shares_start: Array
    seconds: float

    @property
    def onset_load(self) -> float:
        """Least onset over the candidate rings [N]."""
        return min(each.load for each in self.onset)

    @property
    def peak_load(self) -> float:
        """Load that pulls the cone out [N]: the peak of its growth, or its onset if that is higher (shallow rings)."""
        return self.candidates[self.growth.ring]


def solve_cone(
    tube: Tube, embedment: float, ice: Ice, metal: Metal, size: float = SIZE, rings: Iterable[int] | None = None
) -> ConeSolution:
    """Straight pull of a tube upright in ice, `embedment` [m] deep; `size` [m] of the elements at the threads.

    rings : candidates, counted from the tip; None: the lowest, the middle and the top one.
    Raises ValueError for a placement that cannot be meshed, SolveError if a solve does not come out.
    """
    column = tube_column(tube, embedment)
    elastic = (ice.elastic.youngs_modulus, ice.elastic.poissons_ratio)
    steel = (metal.youngs_modulus, metal.poissons_ratio)
    return column_cone(column, elastic, steel, ice.tensile_strength, ice.toughness, size, rings)


def column_cone(
    column: Column,
    ice: Elastic,
    steel: Elastic,
    tensile_strength: float,
    toughness: float,
    size: float,
    rings: Iterable[int] | None = None,
) -> ConeSolution:
    """As `solve_cone`, of a column (a tube's or a stud's); ice, steel : E [Pa], nu; Pa; Pa m^0.5; m."""
    start = perf_counter()
    last = len(column.bottoms) - 1
    tried = sorted({0, last // 2, last} if rings is None else set(rings))
    onsets = [cone_onset(column, ring, ice, steel, tensile_strength, toughness, size) for ring in tried]
    growths: list[ConeGrowth] = []
    peaks: dict[int, float] = {}
    for onset in onsets:
        ceiling = max(peaks.values(), default=inf)  # of the lowest, the first
        growth = follow_cone(column, onset.ring, onset.direction, onset.length, ice, steel, toughness, size, ceiling)
        growths.append(growth)
        needed = max(growth.peak[0], onset.load)
        if needed <= ceiling:
            peaks[onset.ring] = needed
    whole = pull_section(build_section(column, 0, _corner(column, 0), size), ice, steel)
    return ConeSolution(tuple(onsets), growths[0], peaks, whole.shares, perf_counter() - start)


def _corner(column: Column, ring: int) -> Array:
    return np.array([[column.crest], [column.bearing_face(ring)]])


def follow_cone(
    column: Column,
    ring: int,
    direction: float,
    first: float,
    ice: Elastic,
    steel: Elastic,
    toughness: float,
    size: float,
    ceiling: float = inf,
    step: float = STEP,
) -> ConeGrowth:
    """Follow the crack from a ring's corner, its first piece `first` [m] long in `direction` [rad], to the surface.

    ceiling : give up above this load [N].  step : longest step over the ring's depth.
    Raises SolveError if a solve does not come out.
    """
    path, depth = _corner(column, ring), -column.bearing_face(ring)
    needed = fracture_energy(toughness, *ice)
    rows: list[tuple[float, ...]] = []
    shares, surfaced, last_step, length = [], False, first, 0.0
    while len(rows) < STEPS and _in_block(column, path, direction, last_step):
        pull, K, path, direction = _extend(column, ring, path, direction, last_step, ice, steel, size)
        length += last_step
        load = sqrt(needed / K.G) if K.G > 0 else inf
        rows.append((length, load, K.K_I, K.K_II, K.G, pull.compliance, float(pull.closed.mean())))
        shares.append(pull.shares)
        highest, below = max(row[1] for row in rows), -float(path[1, -1])
        surfaced = below < SHALLOW * depth
        if surfaced or load > ceiling or (load < FALLEN * highest and below < 0.5 * depth):
            break
        direction = _bounded(direction + kink_angle(K.K_I, K.K_II))
        last_step = min(GROWTH * length, step * depth * (2 if load < 0.98 * highest else 1))
        if direction > 0:
            last_step = min(last_step, 0.5 * below / sin(direction))
    lengths, loads, K_I, K_II, G, compliance, closed = np.array(rows).T
    found = (lengths, loads, K_I, K_II, G, compliance, closed, np.array(shares))
    return ConeGrowth(column, ring, path, *found, surfaced)


def straight_cone(
    column: Column,
    ring: int,
    elevation: float,
    ice: Elastic,
    steel: Elastic,
    toughness: float,
    size: float,
    shares: Iterable[float] = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7),
) -> tuple[Array, Array]:
    """Lengths [m] and loads [N] of a prescribed straight cone, `elevation` [rad] from the surface plane.

    shares : lengths over the way to the surface.  The load is sqrt(G_c/G), whatever the mode.
    """
    way = -column.bearing_face(ring) / sin(elevation)
    lengths, loads = np.array([share * way for share in shares]), []
    for length in lengths:
        path = _corner(column, ring) + np.outer([cos(elevation), sin(elevation)], [0.0, length])
        G = cone_tip(column, ring, path, min(length, 0.08 * way), ice, steel, size)[1].G
        loads.append(toughness * sqrt((1 - ice[1] ** 2) / (ice[0] * G)))
    return lengths, np.array(loads)


def _extend(
    column: Column, ring: int, path: Array, direction: float, step: float, ice: Elastic, steel: Elastic, size: float
) -> tuple[ConePull, Intensity, Array, float]:
    """Solve with one more step, turned until its end hardly kinks; the first step keeps its direction."""
    for turn in range(TURNS):
        longer = np.hstack([path, path[:, -1:] + step * np.array([[cos(direction)], [sin(direction)]])])
        pull, K = cone_tip(column, ring, longer, step, ice, steel, size)
        kink = kink_angle(K.K_I, K.K_II)
        turned = _bounded(direction + kink / GAIN)
        if path.shape[1] == 1 or abs(kink) < SHARP or turn == TURNS - 1 or turned == direction:
            break
        direction = turned
    return pull, K, longer, direction


def _bounded(direction: float) -> float:
    return float(np.clip(direction, -STEEP, STEEP))


def _in_block(column: Column, path: Array, direction: float, step: float) -> bool:
    r, z = path[:, -1] + step * np.array([cos(direction), sin(direction)])
    return bool(r < 0.7 * column.far and max(-column.embedment - 0.7 * column.far, column.bottom) < z < 0)


def cone_tip(
    column: Column, ring: int, path: Array, last_step: float, ice: Elastic, steel: Elastic, size: float
) -> tuple[ConePull, Intensity]:
    """Solve for 1 N with a given path (2, n) [m], and K and G at its tip.

    Elements there are `last_step` [m] / TIP_ELEMENTS.
    """
    below = -float(path[1, -1])
    tip_size = min(last_step / TIP_ELEMENTS, below / 6)
    pull = pull_section(build_section(column, ring, path, size, tip_size), ice, steel)
    run, rise = path[:, -1] - path[:, -2]
    tip = Tip((float(path[0, -1]), float(path[1, -1])), atan2(rise, run))
    return pull, intensity(pull.ice, pull.u_ice, tip, min(0.9 * last_step, 0.7 * below))
