"""A crack in front of a tube that presses the ice near the surface: where it runs, and the load that drives it.

Plane strain, ice alone. A push P [N/m] along e_1, square to the wall of the hole, and `drag` times as much along the
wall, outwards (friction; negative if the wall slides in), act evenly on the uppermost `depth` d of the wall
(`geometry.wedge_section` has the frame). Faces of the crack touch without friction; n : from lower to upper face:

    gap  g = n . (u_above - u_below) >= 0,   pressing force lambda >= 0,   lambda g = 0          at every pair of nodes
    open answer u_0 = K^-1 f;   u = u_0 + K^-1 N lambda,   g = N^T u_0 + (N^T K^-1 N) lambda
    P / (K_IC sqrt(d)) = 1 / (sqrt(d) k(kink)),   k = hoop_intensity at kink_angle(K_I, K_II) for 1 N/m              [-]

N: unit forces that part the pairs; lambda: `cracks.slit_faces.release`. The crack runs where the hoop stress is
largest, once that reaches K_IC there (Erdogan & Sih 1963, from memory). The load depends on angle and path only; with
the wall free below neither E nor nu enters. Shut at the tip K_I is 0 and the crack turns by 70.5 deg. A step is turned,
by secants, until its end hardly kinks (K_II -> 0).

First crack: `first` d long, from the lower end of the strip. "energy": in the direction of the largest G; "opening":
in that of K_II = 0, open. A short first crack owes its load to its length, as length^-0.5.

Limits: plane (round a tube the load of a flat flake rises, `chip.growth`); pressure given and even, wall elsewhere free
or held, no friction on faces, one crack, no crushing, static. Known end: `validation/checks/fracture/chip_path.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, pi, radians, sin, sqrt, tan
from typing import Literal

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skfem import FacetBasis, LinearForm

from ...geometry.wedge_section import FAR, RINGS, ChipSection, chip_section, clearance, hole_point
from ..cracks.slit_faces import release
from ..cracks.stress_intensity import Intensity, Tip, hoop_intensity, intensity, kink_angle
from ..errors import SolveError
from ..solid.axisymmetric import Body, make_body
from ..solid.solver import make_solver

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
Ice = tuple[float, float]  # E [Pa], nu
Below = Literal["free", "held"]
Start = Literal["energy", "opening"]
Ending = Literal["surface", "wall", "ice"]
FIRST, STEP, GROWTH = 0.1, 0.12, 0.5  # of d: first crack, longest step; of the length: longest step of a short crack
SIZE = 0.1  # of d, elements at the strip
LONGEST = 5.0  # of d
TRIED = np.radians(np.arange(-75.0, 76.0, 15.0))  # first directions from e_1
REACH = 4.0  # tip elements in the domain integrals
SHARP = 0.03  # rad
GAIN = 1.5  # of a first turn: a long step reacts to more than its own turn
TURNS, MOST = 8, radians(40.0)  # of one step; of one turn
OUT = 1.5  # steps from the surface, or the wall, that it heads for: there
OVERLAP = 1e-6  # of the largest opening, allowed before faces are taken as touching
TOUCH = 1e-6  # of the tip's elements, nodes closer than this are one place


@dataclass(frozen=True, slots=True)
class HoleWall:
    """What is pushed.  angle : of the tube [rad].  depth : d [m].  ice : E [Pa], nu.

    below : the wall under the strip is free, or held against motion along e_1 (both ways).  drag : traction along the
    wall over the pressure, outwards.  size : of elements at the strip over d.  far : radius of the held arc over d.
    """

    angle: float
    depth: float
    ice: Ice
    below: Below = "free"
    drag: float = 0.0
    size: float = SIZE
    far: float = FAR


@dataclass(frozen=True)
class Pushed:
    """A crack under load.  u : (dofs,) [m].

    faces : (2, k) places of the face pairs [m].  opening : (k,) normal gap [m].  shut : (k,) pairs that touch.
    """

    section: ChipSection
    body: Body
    u: Array
    faces: Array
    opening: Array
    shut: Mask

    def intensity(self, added: Array | float = 0.0) -> Intensity:
        """K_I, K_II, G at the tip of u and a field `added` (dofs,) [m]; K_I = 0 where the faces touch at the tip."""
        tip = self.section.path[:, -1]
        run, rise = tip - self.section.path[:, -2]
        at = Tip((float(tip[0]), float(tip[1])), atan2(rise, run))
        found = intensity(self.body, self.u + added, at, REACH * self.section.tip_size, plane=True)
        nearest = int(np.argmin(np.hypot(*(self.faces - tip[:, None]))))
        return Intensity(0.0, found.K_II, found.G) if self.shut[nearest] else found


def push_hole(
    section: ChipSection, ice: Ice, below: Below = "free", drag: float = 0.0, load: Array | None = None
) -> Pushed:
    """Solve for 1 N/m on the strip, or for nodal forces `load` (dofs,) [N/m] of `make_body`'s order in its place.

    Raises SolveError if a solve does not come out.
    """
    body = make_body(section.mesh, ice, plane=True)
    load = strip_load(section, body, drag) if load is None else load
    arc = section.mesh.facets_satisfying(lambda x: np.hypot(*x) > 0.98 * section.far, boundaries_only=True)
    free = np.ones(load.size, bool)
    free[body.basis.get_dofs(arc).all()] = False
    solver = make_solver(body.K[free][:, free].tocsr())
    u = np.zeros(load.size)
    u[free] = solver.solve(load[free])
    pairs, apart = _face_pairs(section, body)
    k = pairs.shape[1]
    N = _forces(body, apart, pairs[0]) - _forces(body, apart, pairs[1])
    if below == "held":
        lower = np.setdiff1d(np.flatnonzero(_on_hole(section, body.x, section.depth) & free[body.dofs[0]]), pairs[0])
        N = sp.hstack([N, _forces(body, _push_direction(section.angle)[:, None] + np.zeros(lower.size), lower)]).tocsr()
    gap = N.T @ u
    shut = np.zeros(k, bool)
    if N.shape[1] > k or gap.min() < -OVERLAP * np.abs(gap).max():
        X = np.zeros(N.shape)
        X[free] = solver.solve(N[free].toarray())
        force, idle = release(N.T @ X, -gap, np.arange(k), np.arange(k, N.shape[1]))
        u, shut = u + X @ force, ~idle
    return Pushed(section, body, u, body.x[:, pairs[0]], (N.T @ u)[:k], shut)


def strip_load(section: ChipSection, body: Body, drag: float = 0.0) -> Array:
    """Nodal forces (dofs,) [N/m] of 1 N/m along e_1 and `drag` times as much along e_a, even over the strip."""
    depth = section.depth
    along = _push_direction(section.angle) - drag * hole_point(section.angle, 1.0)

    def on_strip(x: Array) -> Mask:
        return _on_hole(section, x, 0.0) & ~_on_hole(section, x, depth)

    strip = section.mesh.facets_satisfying(on_strip, boundaries_only=True)
    face = FacetBasis(section.mesh, body.basis.elem, facets=strip, intorder=4)
    return np.asarray(LinearForm(lambda v, w: (along[0] * v[0] + along[1] * v[1]) / depth).assemble(face))


def _push_direction(angle: float) -> Array:
    return np.array([cos(angle), -sin(angle)])


def _on_hole(section: ChipSection, x: Array, lowest: float) -> Mask:
    """Which points (2, ...) lie on the wall, farther down than `lowest` [m]."""
    near = TOUCH * section.tip_size
    down = np.tensordot(hole_point(section.angle, 1.0), x, axes=1)
    return np.asarray((np.abs(clearance(section.angle, x)[1]) < near) & (down > lowest + near))


def _face_pairs(section: ChipSection, body: Body) -> tuple[Index, Array]:
    """Nodes (2, k) of the upper and the lower face, and normals (2, k) upwards; at kinks the mean of both sides'."""
    upper, node = np.zeros(body.x.shape[1], bool), np.empty(body.K.shape[0], int)
    node[body.dofs] = np.arange(upper.size)
    upper[node[body.basis.element_dofs[:, section.above]]] = True
    near = TOUCH * section.tip_size
    pairs = cKDTree(body.x.T).query_pairs(near, output_type="ndarray").T
    pairs = np.where(upper[pairs[0]], pairs, pairs[::-1])
    start, run = section.path[:, :-1], np.diff(section.path, axis=1)
    length = np.hypot(*run)
    along = run / length
    off = body.x[:, pairs[0], None] - start[:, None]
    s = np.clip(np.einsum("ik,ijk->jk", along, off), 0, length)
    on = np.hypot(*(off - s * along[:, None])) < near
    normals = np.stack([-along[1], along[0]]) @ on.T
    return pairs, normals / np.hypot(*normals)


def _forces(body: Body, direction: Array, nodes: Index) -> sp.csr_matrix:
    """Unit forces (dofs, k) in directions (2, k) at nodes (k,)."""
    k = nodes.size
    at = (body.dofs[:, nodes].ravel(), np.tile(np.arange(k), 2))
    return sp.coo_matrix((direction.ravel(), at), shape=(body.K.shape[0], k)).tocsr()


def chip_tip(hole: HoleWall, path: Array) -> tuple[Pushed, Intensity]:
    """Solve for 1 N/m with the crack along `path` (2, n) [m], and K and G at its tip.

    Raises ValueError for a path that cannot be meshed, SolveError if a solve does not come out.
    """
    last = float(np.hypot(*(path[:, -1] - path[:, -2])))
    room = float(np.minimum(*clearance(hole.angle, path[:, -1])))
    tip_size = min(last, 0.9 * room) / RINGS
    section = chip_section(hole.angle, hole.depth, path, tip_size, hole.size * hole.depth, hole.far)
    pushed = push_hole(section, hole.ice, hole.below, hole.drag)
    return pushed, pushed.intensity()


def first_direction(hole: HoleWall, length: float, start: Start) -> float:
    """Direction [rad, from +x toward +z] of a first crack `length` [m] long from the lower end of the strip.

    Of TRIED directions, interpolated (module docstring).  Raises ValueError if none opens without sliding.
    """
    path = hole_point(hole.angle, hole.depth)[:, None]
    found = [chip_tip(hole, _longer(path, turn - hole.angle, length))[1] for turn in TRIED]
    K_I, K_II = (np.array([getattr(each, name) for each in found]) for name in ("K_I", "K_II"))
    if start == "opening":
        zero = np.flatnonzero((K_II[:-1] < 0) & (K_II[1:] >= 0) & (K_I[:-1] > 0) & (K_I[1:] > 0))
        if not zero.size:
            raise ValueError(f"start = opening: no crack opens without sliding at {np.degrees(hole.angle):.0f} deg")
        k = zero[0]
        return float(TRIED[k] - K_II[k] * (TRIED[k + 1] - TRIED[k]) / (K_II[k + 1] - K_II[k])) - hole.angle
    G = K_I**2 + K_II**2
    k = int(np.clip(G.argmax(), 1, G.size - 2))
    a, b, _ = np.polyfit(TRIED[k - 1 : k + 2], G[k - 1 : k + 2], 2)
    return float(np.clip(-b / (2 * a), TRIED[0], TRIED[-1])) - hole.angle


def _longer(path: Array, direction: float, step: float) -> Array:
    return np.hstack([path, path[:, -1:] + step * np.array([[cos(direction)], [sin(direction)]])])


@dataclass(frozen=True)
class ChipPath:
    """A crack followed, (n,) lengths. SI, rad.

    path : (2, n + 1) from the wall [m].  length : of the crack [m].  K_I, K_II : of 1 N/m [Pa m^0.5].  coefficient :
    P/(K_IC sqrt(d)) that drives it on [-].  shut : share of the face pairs that touch.  ending : at the surface, at the
    wall, or, longest or too steep, in the ice.  outcrop : x at which it comes out [m].
    """

    hole: HoleWall
    path: Array
    length: Array
    K_I: Array
    K_II: Array
    coefficient: Array
    shut: Array
    ending: Ending
    outcrop: float | None

    @property
    def directions(self) -> Array:
        """Direction of each piece of the path [rad], from +x toward +z."""
        run, rise = np.diff(self.path, axis=1)
        return np.asarray(np.arctan2(rise, run))

    @property
    def rise(self) -> float:
        """Rise against the surface, from the start to where it comes out, or has been followed to [rad]."""
        x, z = self.path[:, -1] if self.outcrop is None else (self.outcrop, 0.0)
        return atan2(float(z - self.path[1, 0]), float(x - self.path[0, 0]))

    def load(self, toughness: float) -> Array:
        """P [N/m] that drives the crack on; toughness : K_IC [Pa m^0.5]."""
        return self.coefficient * toughness * sqrt(self.hole.depth)


def follow_chip(
    hole: HoleWall, start: Start | float = "energy", first: float = FIRST, step: float = STEP, longest: float = LONGEST
) -> ChipPath:
    """Follow a crack from the lower end of the strip until it comes out, meets the wall or is `longest` d long.

    start : rule for the first direction, or that direction [rad].  first, step : first crack, longest step, over d.
    Raises ValueError if a path cannot be meshed or no first crack opens, SolveError if a solve does not come out.
    """
    d = hole.depth
    direction = first_direction(hole, first * d, start) if isinstance(start, str) else start
    path, rows, length, last = hole_point(hole.angle, d)[:, None], [], 0.0, first * d
    ending: Ending = "ice"
    outcrop = None
    while length < longest * d:
        path, pushed, K, kink = _extend(hole, path, direction, last)
        length += last
        needed = 1 / (hoop_intensity(K.K_I, K.K_II, kink) * sqrt(d))
        rows.append((length, K.K_I, K.K_II, needed, float(pushed.shut.mean())))
        run, rise = path[:, -1] - path[:, -2]
        direction = atan2(rise, run) + kink
        last = min(GROWTH * length, step * d)
        low, front = (float(each) for each in clearance(hole.angle, path[:, -1]))
        if low < OUT * last and 0 < direction < pi:
            ending, outcrop = "surface", float(path[0, -1]) + low / tan(direction)
            break
        if front < OUT * last and cos(direction + hole.angle) < 0:
            ending = "wall"
            break
    lengths, K_I, K_II, coefficient, shut = np.array(rows).T
    return ChipPath(hole, path, lengths, K_I, K_II, coefficient, shut, ending, outcrop)


def _extend(hole: HoleWall, path: Array, direction: float, step: float) -> tuple[Array, Pushed, Intensity, float]:
    """The path with one more step, turned until its end hardly kinks; the first keeps its direction."""
    tried: list[tuple[float, float]] = []
    for _ in range(TURNS):
        longer = _longer(path, direction, step)
        pushed, K = chip_tip(hole, longer)
        kink = kink_angle(K.K_I, K.K_II)
        if path.shape[1] == 1 or abs(kink) < SHARP:
            return longer, pushed, K, kink
        turn = kink / GAIN
        if tried and kink != tried[-1][1]:
            turn = -kink * (direction - tried[-1][0]) / (kink - tried[-1][1])
        tried.append((direction, kink))
        direction += float(np.clip(turn, -MOST, MOST))
    raise SolveError(f"chip: a step of {step} m at {longer[:, -1]} m found no direction in {TURNS} turns")
