"""A crack in front of a pushed tube, followed ring by ring round the tube as its surface turns.

The push of `fem.chip.body` acts on the wall down to d; faces are unilateral with friction. The crack is open to the
front's ring inside a fan. What drives it on is read in the plane of the pull, twice: from the jump v of the faces
one ring, h, behind the front, and from the forces f that hold the next ring shut, less those of the faces; A its area:

    K_v = E' / 8 sqrt(2 pi / h) v,    K_f = 4 sqrt(h / (2 pi)) (f_edge + f_middle / sqrt 2) / A              [Pa m^0.5]
    K = (K_v + K_f) / 2               across the last ring K_I, along it K_II;   K_v K_f / E' : energy to close the ring
    F / K_IC = push / hoop(K_I, K_II, kink)       kink, hoop : of the largest hoop stress (`cracks.stress_intensity`)
    direction of the next ring = direction + relax kink

Only the direction in the plane of the pull is followed. The first FIRST_RINGS take, of TRIED directions, that of most
energy, K_I^2 + K_II^2. Choices, all arguments: the back's direction, which counts most, relax, the rings.

It comes out where it is OUT d under the surface, dives where it is DEEP d under it, stops where nothing drives it.

Limits: the front is at one distance from the wall all round and opens as one; one step of loading at each length;
pressure given, no tube, no crushing. K against a closed form: `tests/validation/test_turning_chip.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, isfinite, pi, sin, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...fem.chip.body import UNIT_PUSH, condense_chip
from ...fem.chip.growth import mesh_size
from ...fem.cracks.condensed_ice import face_frames
from ...fem.cracks.friction import solve_faces
from ...fem.cracks.stress_intensity import hoop_intensity, kink_angle
from ...geometry.placement import Tube
from ...geometry.slit_half_model import ConeModel
from ...materials import Ice
from .surface import DOWN, ring_marks, turning_slit, turning_surface

Array = NDArray[np.float64]
Ending = Literal["comes out", "dives", "stops", "followed"]
STEP, LONGEST = 0.16, 4.0  # of d: a ring, the first is half as wide; end of the last ring
FIRST_RINGS, SPARE_RINGS = 2, 4  # without a kink; at the end, between the last front and the mesh beyond
TRIED = np.radians(np.arange(-75.0, 60.0, 15.0))
RELAX = 0.4
OUT, DEEP = 0.25, 5.0  # of d under the surface
STEEPEST_OUT = 1.15  # rad, of a generator against the plane square to the axis
AHEAD = (-0.5, 0.3)  # rad, directions of rings that are not there yet: only the mesh knows them
NODES_SHARE = 6  # of a quadratic side: the share of its end node is one part of these
END = 1.0  # of d, the last piece of the path


@dataclass(frozen=True, slots=True)
class FrontRead:
    """What drives the front in the plane of the pull under UNIT_PUSH.  K_I, K_II [Pa m^0.5]. apart : share of pairs."""

    K_I: float
    K_II: float
    apart: float

    @property
    def kink(self) -> float:
        """[rad], positive upwards; 0 where nothing is driven."""
        return kink_angle(self.K_I, self.K_II) if self.K_I > 0 or self.K_II != 0 else 0.0

    @property
    def load(self) -> float:
        """F / K_IC [m^1.5]; inf where nothing is driven."""
        hoop = hoop_intensity(self.K_I, self.K_II, self.kink)
        return UNIT_PUSH / hoop if hoop > 0 else float("inf")


@dataclass(frozen=True, slots=True, eq=False)
class TurningChip:
    """A crack followed, (n,) fronts. SI, rad.

    path : (2, n + 2) in the plane of the pull, x from the wall, z from the surface [m]; the first front is its third
    point.  direction : of the piece that ends at each front, against the surface.  kink : there.  load : F/K_IC that
    drives it on [m^1.5].  apart : share of the face pairs.
    """

    angle: float
    depth: float
    friction: float
    fan: float
    path: Array
    direction: Array
    kink: Array
    load: Array
    apart: Array
    ending: Ending

    @property
    def end(self) -> float:
        """Direction of the last END d of its path [rad]."""
        way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.path, axis=1)))])
        x, z = (float(each[-1] - np.interp(way[-1] - END * self.depth, way, each)) for each in self.path)
        return atan2(z, x)


def front_intensity(
    cone: ConeModel, ring: int, jump: Array, force: Array, ice: Ice, direction: float
) -> tuple[float, float]:
    """K_I, K_II [Pa m^0.5] of a front in the plane of the pull, K_I = 0 where it is shut.

    ring : of the front, from 1.  jump, force : (k, 3) of all pairs [m], [N], as `cracks.friction` has them.
    direction : of the rings on both sides of the front against the surface.
    """
    middle = np.flatnonzero(np.abs(cone.azimuth) < 1e-6)
    marks = np.concatenate([[0.0], cone.rings])[ring - 1 : ring + 2]
    places = np.array([marks[0], marks[:2].mean(), marks[1], marks[1:].mean(), marks[2]])
    at = middle[np.argmin(np.abs(cone.share[middle] - places[:, None]), axis=1)]
    x = cone.half.mesh.doflocs[:, cone.half.faces[0][at]]
    frames, behind, ahead = face_frames(cone), at[:2], at[2:4]
    across, along = np.array([[-sin(direction), 0.0, cos(direction)], [cos(direction), 0.0, sin(direction)]])
    parted = np.einsum("kij,kj->ki", frames[behind], jump[behind])
    own, next_ = (np.einsum("kij,kj->ki", frames[rows], force[rows]) for rows in (behind, ahead))
    widths = np.linalg.norm(x[:, [2, 4]] - x[:, [0, 2]], axis=0)
    radius = cone.half.straight[0, cone.half.faces[0][at[2]]]
    area = cone.edges[1] * radius / NODES_SHARE * sqrt(widths[0] * widths[1])
    per_jump = ice.toughness**2 / ice.fracture_energy / 8 * sqrt(2 * pi / widths[0])
    per_force = 4 / (area * sqrt(2 * pi / widths[0]))
    pull = (own - next_) * np.array([[1.0], [sqrt(0.5)]])
    K_I, K_II = (0.5 * float(per_jump * (parted[0] @ e) + per_force * (pull.sum(axis=0) @ e)) for e in (across, along))
    return max(K_I, 0.0) if jump[behind[0], 0] > 0 else 0.0, K_II


@dataclass(frozen=True, eq=False)
class _Follower:
    """What stays the same from ring to ring."""

    tube: Tube
    ice: Ice
    angle: float
    depth: float
    friction: float
    fan: float
    back: float
    marks: Array

    @property
    def steepest(self) -> tuple[float, float]:
        """Least and largest direction that can be meshed [rad]."""
        return -DOWN - self.angle + 0.02, STEEPEST_OUT - self.angle

    def step(self, directions: Sequence[float]) -> tuple[FrontRead, Array]:
        """What drives the front after these rings, and its path (2, rings + 1) in the plane of the pull [m]."""
        ring = len(directions)
        front = [*directions, directions[-1], float(np.clip(directions[-1], *AHEAD))]
        surface = turning_surface(self.tube, self.angle, self.depth, self.marks, front, self.back)
        cone = turning_slit(surface, mesh_size("quick", self.depth), ring + 2)
        body = condense_chip(cone, self.ice)
        opened = cone.opened(ring, cone.fan_edge(self.fan))
        at = np.repeat(opened, 3)
        faces = solve_faces(body.S[np.ix_(at, at)], body.load()[at], self.friction)
        jump = np.zeros((opened.size, 3))
        jump[opened] = faces.jump
        force = (body.S[:, at] @ faces.jump.ravel() - body.load()).reshape(-1, 3)
        K_I, K_II = front_intensity(cone, ring, jump, force, self.ice, directions[-1])
        ends = np.concatenate([[0.0], cone.rings[:ring]])
        middle = np.flatnonzero(np.abs(cone.azimuth) < 1e-6)
        on = middle[np.argmin(np.abs(cone.share[middle] - ends[:, None]), axis=1)]
        x = cone.half.mesh.doflocs[:, cone.half.faces[0][on]]
        return FrontRead(K_I, K_II, float(faces.apart.mean())), np.stack([x[0] - x[0, 0], x[2]])

    def first(self) -> float:
        """The direction in which the first rings are driven most [rad]."""
        low, high = self.steepest
        tried = [float(each) for each in TRIED if low < each < high]
        found = [self.step([each] * FIRST_RINGS)[0] for each in tried]
        return tried[int(np.argmax([each.K_I**2 + each.K_II**2 for each in found]))]


def follow_turning_chip(
    tube: Tube,
    ice: Ice,
    angle: float,
    depth: float,
    friction: float,
    fan: float = pi,
    back: float = 0.0,
    step: float = STEP,
    relax: float = RELAX,
    longest: float = LONGEST,
    first: float | None = None,
    say: Callable[[str], None] = lambda words: None,
) -> TurningChip:
    """Follow a crack from `depth` [m] down the wall of a tube at `angle` [rad].

    fan : half angle that is open, from the front; back : rise behind; first : direction of the first rings [rad], by
    default found.  step, longest : over d.  relax : share of a kink that a ring turns.  say : gets a line a ring.
    Raises ValueError or MeshError for what cannot be meshed, SolveError if a solve does not come out.
    """
    marks = ring_marks(longest * depth, 0.5 * step * depth, step * depth)
    follower = _Follower(tube, ice, angle, depth, friction, fan, back, marks)
    directions = [follower.first() if first is None else first] * FIRST_RINGS
    ending: Ending = "followed"
    reads: list[FrontRead] = []
    while True:
        read, path = follower.step(directions)
        reads.append(read)
        x, z = path[:, -1] / depth
        say(f"{x:.2f} d out, {-z:.2f} d deep, rises {degrees(directions[-1]):.0f} deg, {read.load:.3g} m^1.5")
        if -z < OUT or -z > DEEP:
            ending = "comes out" if -z < OUT else "dives"
            break
        if not isfinite(read.load):
            ending = "stops"
            break
        if len(directions) == marks.size - SPARE_RINGS:
            break
        directions.append(float(np.clip(directions[-1] + relax * read.kink, *follower.steepest)))
    direction = np.array(directions)[FIRST_RINGS - 1 :]
    kink, load, apart = (np.array([getattr(each, name) for each in reads]) for name in ("kink", "load", "apart"))
    return TurningChip(angle, depth, friction, fan, path, direction, kink, load, apart, ending)
