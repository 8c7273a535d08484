"""What the interface model of the threads costs against resolved thread rings, for a tube pulled straight out.

`geometry/half_model.py` has no thread rings. Here both models are solved in the axisymmetric setting, where the rings
can be afforded (`fem/solid/axisymmetric.py`):

`rings`      steel rings r in (R, R + height), one in the middle of each pitch, in ice that is cut to their shape. On
             each ring's upper face u_z of steel and ice are equal (no friction there); on the cylinder between rings
             and on the crests the gap u_r(ice) - u_r(steel) >= 0 opens freely; lower faces are apart.
`interface`  no rings; u_z equal on r = R over the threaded length; gap >= 0 on the whole cylinder.

Both: plain shank with gap >= 0 and nothing along it; hole 6 mm deeper than the tip; outer face and bottom held.
Tube: steel, E = 205 GPa, nu = 0.29; ice: E = 9.3 GPa, nu = 0.325 (values for this comparison; handbook order, from
memory).

Limits: small strain, elastic, rectangular closed rings (the lead angle, about pitch/(2 pi R) = 5 deg, is left out),
straight pull (an inclined one also presses rings sideways). The stress at the rings' corners is singular and is not
compared; at set distances outside the crests it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skfem import MeshQuad

from ....fem.solid.axisymmetric import Body, end_force, largest_principal, make_body, nodal_stress
from ....fem.solid.condensation import condense
from ....fem.solid.contact import solve_gaps
from ....fem.solid.solver import choose_method
from ....geometry.layers import HOLE_BELOW_TIP
from ....geometry.o_grid import graded
from ...check import Check, Curve, Measured, Quantity

Array = NDArray[np.float64]
Band = tuple[float, float]
STEEL = (205e9, 0.29)  # Pa, -
ICE = (9.3e9, 0.325)
RADIUS, WALL, EMBEDMENT, STUB = 0.0085, 0.0015, 0.130, 0.010  # m
THREADED, HEIGHT, PITCH, THICKNESS = 0.065, 0.0025, 0.005, 0.0015
FAR = 0.52  # m, four embedments as in the half model
OFFSETS = (0.0016, 0.0032)  # m outside the crests, where stresses are compared
SIZES = (0.0012, 0.0006, 0.0003)  # m, at the threads; the check runs the interface on the first two


@dataclass(frozen=True, slots=True)
class ThreadAnswer:
    """A straight pull with one model of the threads, all for F = 1 N.

    compliance : u_z of the head [m/N].  thread_compliance : u_z of the tube at the upper end of the threads [m/N].
    upper_fifth, lower_fifth : share of the thrust in the fifths of the threaded length nearest the head and the tip.
    principal : largest principal stress in the ice at each of OFFSETS outside the crests' radius [Pa/N].
    depth : where along the axis each of these is [m], negative.
    thrust : axial force handed over at the threads [N/N], 1 in equilibrium.
    least : smallest thrust of a ring, or of the interface's nodes, over the mean; negative would be a face that pulls.
    overlap : largest overlap of the rings' lower faces with the ice over the head's displacement; 0 if they open.
    shares : of the thrust, pitch by pitch from the tip.
    """

    compliance: float
    thread_compliance: float
    upper_fifth: float
    lower_fifth: float
    principal: tuple[float, float]
    depth: tuple[float, float]
    thrust: float
    least: float
    overlap: float
    shares: tuple[float, ...]


Value = Callable[[ThreadAnswer], float]


@dataclass(frozen=True, slots=True)
class ThreadInterfaceError:
    """Both answers on meshes of the same element size [m]; the relative errors compare interface with rings."""

    rings: ThreadAnswer
    interface: ThreadAnswer
    size: float

    @property
    def compliance(self) -> float:
        """Relative error of the head's compliance."""
        return self.interface.compliance / self.rings.compliance - 1

    @property
    def thread_compliance(self) -> float:
        """Relative error of the compliance at the threads' upper end."""
        return self.interface.thread_compliance / self.rings.thread_compliance - 1

    @property
    def principal(self) -> tuple[float, float]:
        """Relative errors of the largest principal stress at the two distances."""
        near, further = (a / b - 1 for a, b in zip(self.interface.principal, self.rings.principal, strict=True))
        return near, further


def _grid(size: float) -> tuple[Array, Array]:
    """Grid lines r and z [m] that hold all edges of tube, rings, hole and offsets; `size` near the threads."""

    def pieces(marks: list[float]) -> Array:
        steps = ((a, b, max(1, round((b - a) / size))) for a, b in pairwise(marks))
        return np.concatenate([*(np.linspace(a, b, n + 1)[:-1] for a, b, n in steps), marks[-1:]])

    crest = RADIUS + HEIGHT
    near_r = pieces([0.0, RADIUS - WALL, RADIUS, crest, *(crest + offset for offset in OFFSETS)])
    r = np.concatenate([near_r, near_r[-1] + graded(FAR - near_r[-1], size * 1.5, FAR, 0.35, FAR)[1:]])
    ring_edges = [edge for low in _ring_bottoms() for edge in (low, low + THICKNESS)]
    thread_top = -EMBEDMENT + THREADED
    near_z = pieces([-EMBEDMENT - HOLE_BELOW_TIP, -EMBEDMENT, *ring_edges, thread_top])
    below = near_z[0] - graded(FAR, size * 1.5, FAR, 0.35, FAR)[:0:-1]
    shank = thread_top + graded(-thread_top, size, size * 3, 0.35, 0.01)[1:]
    return r, np.concatenate([below, near_z, shank, pieces([0.0, STUB])[1:]])


def _ring_bottoms() -> Array:
    first = -EMBEDMENT + 0.5 * (PITCH - THICKNESS)
    return np.array([first + PITCH * ring for ring in range(round(THREADED / PITCH))])


def _bodies(size: float, rings: bool) -> tuple[Body, Body]:
    """Steel and ice on the grid, with nodes of their own where they meet."""
    r, z = _grid(size)
    mesh = MeshQuad.init_tensor(r, z)
    at_r, at_z = mesh.p[:, mesh.t].mean(axis=1)
    inside = (at_r < RADIUS) & (at_z > -EMBEDMENT - HOLE_BELOW_TIP)
    ring = np.zeros(at_r.size, bool)
    if rings:
        for low in _ring_bottoms():
            ring |= (at_r > RADIUS) & (at_r < RADIUS + HEIGHT) & (at_z > low) & (at_z < low + THICKNESS)
    steel = (inside & (at_r > RADIUS - WALL) & (at_z > -EMBEDMENT)) | ring
    ice = ~inside & ~ring & (at_z < 0)
    return make_body(mesh.restrict(np.flatnonzero(steel)), STEEL), make_body(mesh.restrict(np.flatnonzero(ice)), ICE)


@dataclass(frozen=True)
class _Joint:
    """Pairs (steel node, ice node) (2, k); tied : equal u_z.  gap : u_r(ice) >= u_r(steel)."""

    pairs: NDArray[np.int64]
    tied: NDArray[np.bool_]
    gap: NDArray[np.bool_]


def _join(steel: Body, ice: Body, rings: bool) -> _Joint:
    distance, match = cKDTree(ice.x.T).query(steel.x.T)
    pairs = np.stack([np.flatnonzero(distance < 1e-9), match[distance < 1e-9]])
    r, z = steel.x[:, pairs[0]]
    on_cylinder, on_crest = np.abs(r - RADIUS) < 1e-9, np.abs(r - RADIUS - HEIGHT) < 1e-9
    if not rings:
        return _Joint(pairs, z < -EMBEDMENT + THREADED + 1e-9, on_cylinder)
    tops = _ring_bottoms() + THICKNESS
    return _Joint(pairs, np.abs(z[:, None] - tops).min(axis=1) < 1e-9, on_cylinder | on_crest)


@cache
def pull(size: float, rings: bool) -> ThreadAnswer:
    """Solve one model for a pull of 1 N at the head, with elements of about `size` [m] at the threads.

    Raises SolveError if the linear solve or the contact does not come out.
    """
    steel, ice = _bodies(size, rings)
    joint = _join(steel, ice, rings)
    n = steel.K.shape[0]
    K = sp.block_diag([steel.K, ice.K], format="csr")
    load = np.concatenate([end_force(steel, STUB), np.zeros(ice.K.shape[0])])
    T, is_gap = _reduction(steel, ice, joint)
    A, b = sp.triu(T.T @ (K @ T), format="csr"), T.T @ load
    condensed = condense(A, b, is_gap, choose_method(b.size))
    u = T @ condensed.expand(solve_gaps(condensed.S, condensed.c)[0])

    thrust = (K @ u)[n + ice.dofs[1][joint.pairs[1][joint.tied]]]  # tube on ice, upwards
    z = steel.x[1, joint.pairs[0][joint.tied]]
    passed = _passed(z, thrust, rings)
    edges = np.linspace(0, 1, passed.size)
    each = np.bincount(np.floor((z + EMBEDMENT) / PITCH).astype(int), weights=thrust) if rings else thrust
    at_top = np.argmin(np.hypot(steel.x[0] - RADIUS, steel.x[1] + EMBEDMENT - THREADED))
    (near, near_at), (further, further_at) = _highest(ice, u[n:])
    return ThreadAnswer(
        compliance=float(load @ u),
        thread_compliance=float(u[steel.dofs[1, at_top]]),
        upper_fifth=float(1 - np.interp(0.8, edges, passed)),
        lower_fifth=float(np.interp(0.2, edges, passed)),
        principal=(near, further),
        depth=(near_at, further_at),
        thrust=float(thrust.sum()),
        least=float(each.min() / each.mean()),
        overlap=_overlap(steel, ice, u, joint) / float(load @ u) if rings else 0.0,
        shares=tuple(np.diff(passed).tolist()),
    )


def _highest(ice: Body, u: Array) -> list[tuple[float, float]]:
    """Largest principal stress [Pa] on the lines at OFFSETS outside the crests, and its z [m]."""
    points, sigma = nodal_stress(ice, u)
    found = []
    for offset in OFFSETS:
        line = np.flatnonzero(np.abs(points[0] - RADIUS - HEIGHT - offset) < 1e-9)
        highest = largest_principal(sigma[:, line])
        at = int(np.argmax(highest))
        found.append((float(highest[at]), float(points[1, line[at]])))
    return found


def _overlap(steel: Body, ice: Body, u: Array, joint: _Joint) -> float:
    """Largest overlap [m] of the rings' lower faces, which the model leaves apart."""
    below = np.abs(steel.x[1, joint.pairs[0]][:, None] - _ring_bottoms()).min(axis=1) < 1e-9
    down = joint.pairs[:, below & (steel.x[0, joint.pairs[0]] > RADIUS + 1e-9)]
    return float(max(0.0, np.max(u[steel.K.shape[0] + ice.dofs[1, down[1]]] - u[steel.dofs[1, down[0]]])))


def _reduction(steel: Body, ice: Body, joint: _Joint) -> tuple[sp.csr_matrix, NDArray[np.bool_]]:
    """u = T v with ties, gaps and supports built in, and which of v are gaps."""
    n, total = steel.K.shape[0], steel.K.shape[0] + ice.K.shape[0]
    slave_z, master_z = n + ice.dofs[1, joint.pairs[1][joint.tied]], steel.dofs[1, joint.pairs[0][joint.tied]]
    gap, beside = n + ice.dofs[0, joint.pairs[1][joint.gap]], steel.dofs[0, joint.pairs[0][joint.gap]]
    T = sp.eye_array(total, format="lil")  # columns of slaves are dropped below
    T[slave_z, master_z] = T[gap, beside] = 1.0
    r, z = ice.x
    held = (r > FAR - 1e-9) | (z < z.min() + 1e-9)
    free, is_gap = np.ones(total, bool), np.zeros(total, bool)
    free[slave_z] = False
    free[n + ice.dofs[:, held].ravel()] = False
    free[n + ice.dofs[0, r < 1e-9]] = False
    is_gap[gap] = True
    return T.tocsr()[:, free], is_gap[free]


def _passed(z: Array, thrust: Array, rings: bool) -> Array:
    """Share of the thrust handed over below each edge of a pitch, from the tip (0) to the threads' upper end (1).

    A ring's thrust counts over its pitch as a whole; the interface's is cut at the edges.
    """
    place = (z + EMBEDMENT) / PITCH  # in pitches from the tip
    edges = np.arange(round(THREADED / PITCH) + 1)
    if rings:
        passed = np.array([thrust[place < edge].sum() for edge in edges])
    else:
        order = np.argsort(place)
        passed = np.interp(edges, place[order], np.cumsum(thrust[order]) - 0.5 * thrust[order])
        passed[0], passed[-1] = 0.0, thrust.sum()
    return np.asarray(passed / passed[-1])


def thread_interface_error(size: float = 0.0006) -> ThreadInterfaceError:
    """Straight pull with resolved rings and with the interface, elements of about `size` [m] at the threads."""
    return ThreadInterfaceError(pull(size, rings=True), pull(size, rings=False), size)


def settled(values: tuple[float, float, float]) -> float:
    """Where three numbers, each closer to the next by the same ratio, end up (Aitken)."""
    first, second, third = values
    return third - (third - second) ** 2 / (third - 2 * second + first)


def _compared(name: str, unit: str, value: Value, band: Band, because: str, scale: float | None = None) -> Quantity:
    """The interface on the coarser SIZES against the rings, extrapolated: no limit of refinement, so no rate.

    band : least and most signed error. One without zero is a known defect: it must neither grow nor vanish unseen.
    """
    first, second, third = (value(pull(size, rings=True)) for size in SIZES)
    ours = [value(pull(size, rings=False)) for size in SIZES[:2]]
    limit = settled((first, second, third))
    return Quantity(name, unit, limit, ours, band[1], because, SIZES[:2], scale, least_error=band[0])


def measure() -> Measured:
    """Interface against rings; the rings' numbers extrapolated over SIZES."""
    rings, ours = (100 * np.asarray(pull(*which).shares) for which in ((SIZES[2], True), (SIZES[1], False)))
    middle = np.asarray((np.arange(rings.size) + 0.5) * PITCH * 1e3, dtype=np.float64)
    axes = "distance from the tip [mm]", "share of the pull [%]"
    tension, crests = "largest tension", "outside the crests"
    head = "defect: a tied cylinder gives less than rings in ice; measured -1.7 %, margin 0.7 and 1.3 points"
    top_end = "compliance at the threads' upper end"
    top = "defect: the same without the give of stub and shank; measured -7 %, margin of 3 points"
    upper = "defect: a stiffer joint hands over more near the head; measured +4.8 points, margin 1.2 and 1.8 points"
    lower = "no defect to speak of: measured +0.2 points, with a margin of three"
    near = "defect: so near, single rings show and the interface smears them; measured -20 %, margin of 10 points"
    further = "defect: single rings no longer show, the greater thrust above does; measured +4.7 %, margin of 3 points"
    return Measured(
        (
            _compared("compliance of the head", "um/kN", lambda a: a.compliance * 1e9, (-0.03, -0.01), head),
            _compared(top_end, "um/kN", lambda a: a.thread_compliance * 1e9, (-0.10, -0.04), top),
            _compared("share of the upper fifth", "-", lambda a: a.upper_fifth, (0.03, 0.06), upper, 1.0),
            _compared("share of the lower fifth", "-", lambda a: a.lower_fifth, (-0.005, 0.005), lower, 1.0),
            _compared(f"{tension} 1.6 mm {crests}", "kPa/kN", lambda a: a.principal[0], (-0.30, -0.10), near),
            _compared(f"{tension} 3.2 mm {crests}", "kPa/kN", lambda a: a.principal[1], (0.02, 0.08), further),
        ),
        (Curve("Thrust handed over in each pitch", *axes, (middle, rings), (middle, ours)),),
    )


CHECKS = (
    Check(
        name="thread_interface",
        group="threads",
        title="Threads as an interface against resolved rings, straight pull",
        source="`validation/checks/threads/thread_rings.py`: rings on elements of 1.2, 0.6 and 0.3 mm, extrapolated "
        "(Aitken)",
        how="own extrapolation",
        part="fem.solid.axisymmetric, fem.solid.contact (solve_gaps), fem.solid.solver (condensation)",
        measure=measure,
        slow=True,
    ),
)
