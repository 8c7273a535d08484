"""Chips in front of a tube: the largest push on the wall of the hole down to a depth, over a family of chips.

A chip is a cone's slit surface (`geometry.slit_half_model`) from the depth d on, opened ring by ring inside a fan. A
pressure cos phi on the front half of the wall above it pushes (`chip.body`); its faces are unilateral and have the
friction mu (`cracks.friction`). With jumps v and the forces f = S v - c of the faces (those that hold an unopened
ring too), before (1) and after (2) a ring opens,

    W = 1/2 sum over the ring of (f_2 - f_1) . v_2                                   released [J], half the chip's
    F = F_1 sqrt(G_c dA / (W_n + W_t / r^2)),   G_c = K_IC^2 / E',  r = K_IIc / K_IC      lateral force then [N]
    peak of a chip = largest F over its rings;   F_chip(d) = least peak over the family, cumulative from the surface

W_n is the part across the faces, W_t that along them. r = 1: all modes with the mode-I toughness, the least; r = inf:
opening alone. W is what the forces of the ring do beyond friction's own work (`open_chip`). The first crack is at
least 2 L long, L = (K_IC / sigma_t)^2 / pi; if F falls from there on (`from_start`), the peak is owed to that length.

Limits: straight generators, plane sides of a fan; W is the mean over a ring; one step of loading at each length (no
history of sliding); small displacements; no crushing, no tube: the pressure is prescribed (`chip.body.PROFILES`) and
the wall below d is free. F / (K_IC d^1.5) depends on angle, mu, r, nu and the ratios of d to diameter and L, on the
mesh by 1 to 2 %, on the profile by a factor: a push that falls to nothing at d bears twice as much, one on the lower
half 0.7.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import pi, radians

import numpy as np
from numpy.typing import NDArray

from ...geometry.layers import Level, Resolution
from ...geometry.placement import Tube
from ...geometry.slit_half_model import CONE_LEVELS, STEEPEST, ConeShape
from ...materials import Ice
from ..cracks.friction import solve_faces
from ..cracks.slit import COARSE
from .body import UNIT_PUSH, ChipBody, chip_body

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
DEPTHS = (0.01, 0.02, 0.04, 0.08)  # m
SURFACES = ((40, 0), (40, 10), (50, 10), (50, 20), (30, 0))  # elevation, tilt beyond the usual one [deg]
LEANING = ((40, 20), (30, 10))  # the same where the head leans so far away that none of those can be meshed
TILT = (-20.0, -0.5)  # usual tilt [deg]: this and this times the placement angle; shallow in front, steep behind
FANS = (pi / 4, pi / 2, 3 * pi / 4, pi)
MESHED = 0.04  # depth from which a level's own sizes hold [m]
SIZES: Mapping[Level, Resolution] = {
    "quick": COARSE,
    "standard": CONE_LEVELS["quick"][0],
    "fine": CONE_LEVELS["standard"][0],
}
FINER = 0.7  # sizes of the mesh that gives the error, over the level's


@dataclass(frozen=True, slots=True)
class ChipGrowth:
    """One chip from the smallest crack to the largest under UNIT_PUSH; the first ring starts at the wall.

    length : (m,) from the wall to the front, mean round the axis [m].  area : (m,) of each ring [m^2], half the chip's.
    opening, sliding : (m,) energy that the ring releases across the faces and along them [J], half the chip's.
    shut : (m,) share of the crack's node pairs that are pressed shut.  fracture_energy : G_c [J/m^2].
    """

    shape: ConeShape
    friction: float
    length: Array
    area: Array
    opening: Array
    sliding: Array
    shut: Array
    fracture_energy: float

    def load(self, sliding_ratio: float = 1.0) -> Array:
        """Lateral force (m,) at which each ring opens [N]; inf if it releases nothing."""
        released = self.opening + self.sliding / sliding_ratio**2
        with np.errstate(divide="ignore"):
            return np.asarray(UNIT_PUSH * np.sqrt(self.fracture_energy * self.area / np.maximum(released, 0.0)))

    def peak(self, sliding_ratio: float = 1.0) -> float:
        """Largest of the loads [N]."""
        return float(self.load(sliding_ratio).max())


def open_chip(body: ChipBody, load: Array, friction: float, fan: float = pi) -> ChipGrowth:
    """Open a chip ring by ring inside the sector edge closest to `fan` [rad].

    load : (3 k,) of the body's jumps, as `ChipBody.load` gives it [N].
    Released is the area above the friction level (Palmer & Rice 1973, Proc. R. Soc. A 332, from memory): the loss of
    potential energy less the work of friction, by trapezoids. With Pi = 1/2 v S v - c v and v_1 = 0 on the ring,

        Pi_1 - Pi_2 = -1/2 sum over all of (f_1 + f_2) . (v_2 - v_1)
                    = -1/2 sum over faces open before of (f_1 + f_2) . (v_2 - v_1) - sum over the ring of f_2 . v_2 + W,

    and the first two sums are the work of friction on faces open before and on the ring.
    Raises SolveError if no state of the faces is found.
    """
    cone, ice = body.cone, body.ice
    fan = cone.fan_edge(fan)
    sectors = int(np.argmin(np.abs(cone.edges - fan)))
    first = min(int(np.searchsorted(cone.lengths, 2 * ice.critical_distance)), cone.rings.size - 1)
    v, was = np.zeros((cone.share.size, 3)), np.zeros(cone.share.size, bool)
    parts, shut = [], []
    for ring in range(first + 1, cone.rings.size + 1):
        opened = cone.opened(ring, fan)
        at, new = np.repeat(opened, 3), opened & ~was
        holding = (load - body.S[:, at] @ v.ravel()[at]).reshape(-1, 3)
        faces = solve_faces(body.S[np.ix_(at, at)], load[at], friction)
        force = np.zeros_like(v)
        v[opened], force[opened] = faces.jump, faces.force
        parts.append((0.5 * (holding + force) * v)[new].sum(axis=0))
        shut.append(float(1 - faces.apart.mean()))
        was = opened
    across, *along = np.array(parts).T
    starts = np.r_[0, first + 1 : cone.rings.size]  # rows of elements that open together
    area = np.add.reduceat(cone.area[:, :sectors].sum(axis=1), starts)
    shape = replace(cone.shape, fan=fan)
    return ChipGrowth(
        shape, friction, cone.lengths[first:], area, across, sum(along), np.array(shut), ice.fracture_energy
    )


@dataclass(frozen=True, slots=True)
class ChipLaw:
    """Largest push on the wall from the surface to a depth before a chip comes away (module docstring).

    angle [rad], friction, sliding_ratio : what it holds for.  depth : (m,) increasing [m].  force : (m,) F_chip [N].
    kappa : (m,) F_chip / (K_IC d^1.5) [-].  shape : (m,) the chip that comes away.  length : (m,) of its crack then
    [m]. from_start, rising : (m,) whether that is its first crack, or its last, where the load is only a bound. error :
    of the mesh at the middle depth, relative.
    """

    angle: float
    friction: float
    sliding_ratio: float
    depth: Array
    force: Array
    kappa: Array
    shape: tuple[ConeShape, ...]
    length: Array
    from_start: Mask
    rising: Mask
    error: float


def chip_law(
    tube: Tube,
    angle: float,
    ice: Ice,
    friction: float,
    depths: Sequence[float] = DEPTHS,
    level: Level = "quick",
    sliding_ratio: float = 1.0,
) -> ChipLaw:
    """F_chip over the depths for one placement angle [rad] (module docstring).

    Raises ValueError for fewer than two depths or such that do not increase, or an angle that cannot be meshed,
    SolveError if a solve fails.
    """
    if len(depths) < 2 or any(a >= b for a, b in pairwise(depths)):
        raise ValueError(f"depths [m] = {tuple(depths)}: must be two or more and increase")
    ratio = sliding_ratio
    best = [
        min(_chips(tube, angle, ice, friction, depth, level), key=lambda chip: chip.peak(ratio)) for depth in depths
    ]
    loads = [chip.load(ratio) for chip in best]
    force, at = np.array([load.max() for load in loads]), [int(np.argmax(load)) for load in loads]
    middle = len(depths) // 2
    shape = best[middle].shape
    finer = chip_body(tube, angle, ice, replace(shape, fan=pi), mesh_size(level, shape.start, FINER))
    again = open_chip(finer, finer.load(), friction, shape.fan).peak(ratio)
    return ChipLaw(
        angle=angle,
        friction=friction,
        sliding_ratio=ratio,
        depth=np.array(depths),
        force=force,
        kappa=force / (ice.toughness * np.array(depths) ** 1.5),
        shape=tuple(chip.shape for chip in best),
        length=np.array([chip.length[i] for chip, i in zip(best, at, strict=True)]),
        from_start=np.array([i == 0 for i in at]),
        rising=np.array([i == load.size - 1 for i, load in zip(at, loads, strict=True)]),
        error=abs(float(force[middle]) / again - 1),
    )


def chip_shapes(angle: float, depth: float) -> list[ConeShape]:
    """Surfaces of SURFACES that can be meshed at this angle [rad], from this depth [m]; of LEANING where none can.

    Raises ValueError for an angle at which no surface can be meshed.
    """
    usual = radians(TILT[0]) + TILT[1] * angle
    for surfaces in (SURFACES, LEANING):
        shapes = [ConeShape(depth, radians(elevation), usual + radians(beyond)) for elevation, beyond in surfaces]
        shapes = [shape for shape in shapes if shape.elevation + abs(angle + shape.tilt) <= STEEPEST]
        if shapes:
            return shapes
    raise ValueError(f"placement.angle [rad] = {angle:.4g}: too steep for a chip's surface")


def mesh_size(level: Level, depth: float, factor: float = 1.0) -> Resolution:
    """Element sizes for a push down to `depth` [m]: a level's, in proportion to depths below MESHED."""
    size, scale = SIZES[level], factor * min(depth / MESHED, 1.0)
    return replace(size, ring=scale * size.ring, mouth=scale * size.mouth, tip=scale * size.tip)


def _chips(tube: Tube, angle: float, ice: Ice, friction: float, depth: float, level: Level) -> Iterator[ChipGrowth]:
    """All chips of one depth."""
    for shape in chip_shapes(angle, depth):
        body = chip_body(tube, angle, ice, shape, mesh_size(level, depth))
        for fan in FANS:
            yield open_chip(body, body.load(), friction, fan)
