"""A steel nut on its bolt: how much of the pull the threads take, of which the first takes about a third.

A bolt with six 60-degree threads in its nut (10 mm, pitch 1.5 mm; basic profile, no clearance, threads as closed
rings), of revolution (`fem.axisymmetric`): the bearing flanks can push and not pull, without friction, and go through
`fem.contact.solve_gaps` (here all of them press, so opening is not tried); the other flanks are apart. The seat holds
the nut along the axis and lets it spread.

The reference is a table handed on without size of nut, friction or fit, so the tolerance is wide. A first thread with
34 % carries twice the mean of six, which Sopwith's abstract (greatest intensity, at the seat, two to four times the
mean or more) allows but does not confirm.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt, tan

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skfem import MeshQuad

from ...fem.axisymmetric import Body, end_force, make_body
from ...fem.contact import solve_gaps
from ...fem.solver import choose_method, condense
from ..bodies import Array, Mask
from ..check import Check, Curve, Measured, Quantity

STEEL = (205e9, 0.29)  # Pa, -
PITCH, MAJOR, PITCH_RADIUS, MINOR, OUTSIDE, SEAT = 0.0015, 0.005, 0.004513, 0.004188, 0.008, 0.0055  # m
THREADS, SHANK, LEAD = 6, 0.010, 0.0009  # -, m of free bolt below the seat, m from the seat to the first thread
SLOPE = tan(pi / 6)  # of the flanks
ACROSS = (2, 4, 8)  # elements along half a pitch
QUOTED = (0.34, 0.23, 0.16, 0.11, 0.09, 0.07)  # from the seat


def bolt_width(r: Array) -> Array:
    """Thickness of the bolt's thread along the axis at radius r [m]; the nut's takes the rest of the pitch."""
    return np.asarray(0.5 * PITCH - 2 * SLOPE * (np.clip(r, MINOR, MAJOR) - PITCH_RADIUS))


def _nut_bodies(across: int) -> tuple[Body, Body]:
    """Bolt and nut on one grid of (r, t) that is moved to (r, z); nodes of their own where they meet.

    t : -2 to -1 the free bolt, up to 0 the nut's lead, then 1 for each thread, the nut's first, to 2 THREADS; 1 beyond.
    """
    h = 0.5 * PITCH / across

    def lines(*marks: tuple[float, float, float]) -> Array:
        parts = [np.linspace(a, b, max(2, round((b - a) / size)) + 1)[1:] for a, b, size in marks]
        return np.concatenate([[marks[0][0]], *parts])

    radii = lines((0.0, MINOR, 1.5 * h), (MINOR, MAJOR, h), (MAJOR, SEAT, h), (SEAT, OUTSIDE, 1.5 * h))
    heights = lines(
        (-2.0, -1.0, 2 * h / SHANK),
        (-1.0, 0.0, h / LEAD),
        (0.0, 2.0 * THREADS, 1 / across),
        (2.0 * THREADS, 2.0 * THREADS + 1, 1 / across),
    )
    mesh = MeshQuad.init_tensor(radii, heights)
    r, t = mesh.p
    bolt = bolt_width(r)
    turn = np.clip(np.floor(0.5 * t + 1e-12), 0, THREADS - 1)
    part = t - 2 * turn
    start = 0.25 * PITCH - 0.5 * (PITCH - bolt)
    on_nut, on_bolt = (turn + 0.25) * PITCH + (PITCH - bolt) * (part - 0.5), (turn + 0.75) * PITCH + bolt * (part - 1.5)
    z = np.select(
        [t < -1, t < 0, t > 2 * THREADS, part < 1],
        [
            -LEAD + (t + 1) * SHANK,
            start + t * (start + LEAD),
            THREADS * PITCH + start + (t - 2 * THREADS) * PITCH,
            on_nut,
        ],
        on_bolt,
    )
    at_r, at_t = mesh.p[:, mesh.t].mean(axis=1)
    along, second = (at_t > 0) & (at_t < 2 * THREADS), np.mod(at_t, 2) > 1
    tooth = (at_r > MINOR) & (at_r < MAJOR) & along
    moved = MeshQuad(np.stack([r, z]), mesh.t)
    steel = (at_r < MINOR) | (tooth & second), (tooth & ~second) | ((at_r > MAJOR) & (at_t > -1) & (at_t < 2 * THREADS))
    first, other = (make_body(moved.restrict(np.flatnonzero(which)), STEEL) for which in steel)
    return first, other


@dataclass(frozen=True, slots=True)
class _Flanks:
    bolt: NDArray[np.int64]  # (2, k) dofs u_r, u_z on the bearing flanks
    nut: NDArray[np.int64]  # (2, k), in the numbering of both bodies
    thread: NDArray[np.int64]  # (k,) from the seat


def _flanks(bolt: Body, nut: Body) -> _Flanks:
    distance, match = cKDTree(nut.x.T).query(bolt.x.T)
    at = np.flatnonzero(distance < 1e-9)
    r, z = bolt.x[:, at]
    off = np.abs(z - (np.arange(THREADS)[:, None] + 0.75) * PITCH + 0.5 * bolt_width(r))
    on = (off.min(axis=0) < 1e-9) & (r > MINOR - 1e-9)
    return _Flanks(bolt.dofs[:, at[on]], bolt.K.shape[0] + nut.dofs[:, match[at[on]]], off[:, on].argmin(axis=0))


def _nut_reduction(bolt: Body, nut: Body, flanks: _Flanks) -> tuple[sp.csr_matrix, Mask]:
    """u = T v with flanks' displacements along and across them, gaps and supports built in; which of v are gaps."""
    n = bolt.K.shape[0]
    total = n + nut.K.shape[0]
    (b_r, b_z), (n_r, n_z) = flanks.bolt, flanks.nut
    along, across = (sqrt(0.75), 0.5), (-0.5, sqrt(0.75))  # (r, z), across from nut to bolt
    T = sp.eye_array(total, format="lil")
    for r, z, u, v in ((b_r, b_z, b_r, b_z), (n_r, n_z, n_r, n_z)):
        T[r, u], T[z, u], T[r, v], T[z, v] = along[0], along[1], across[0], across[1]
    T[b_r, n_z], T[b_z, n_z] = across  # the bolt's motion across the flank is the nut's and the gap
    free, is_gap = np.ones(total, bool), np.zeros(total, bool)
    free[bolt.dofs[0, bolt.x[0] < 1e-9]] = False
    free[n + nut.dofs[1, (np.abs(nut.x[1] + LEAD) < 1e-9) & (nut.x[0] > SEAT - 1e-9)]] = False
    is_gap[b_z] = True
    return T.tocsr()[:, free], is_gap[free]


def nut_shares(across: int) -> tuple[float, ...]:
    """Shares of the threads from the seat, for `across` elements along half a pitch."""
    bolt, nut = _nut_bodies(across)
    flanks = _flanks(bolt, nut)
    T, is_gap = _nut_reduction(bolt, nut, flanks)
    K = sp.block_diag([bolt.K, nut.K], format="csr")
    load = np.concatenate([-end_force(bolt, -LEAD - SHANK), np.zeros(nut.K.shape[0])])
    A, b = (T.T @ (K @ T)).tocsr(), T.T @ load
    condensed = condense(A, b, is_gap, choose_method(b.size))
    u = T @ condensed.expand(solve_gaps(condensed.S, condensed.c)[0])
    force = (K @ u)[flanks.bolt[1]]  # of the nut on the bolt, upwards
    return tuple(np.bincount(flanks.thread, weights=force, minlength=THREADS).tolist())


def measure_nut() -> Measured:
    """Share of the first thread and of the first three."""
    found = np.array([nut_shares(across) for across in ACROSS])
    sizes = [1 / across for across in ACROSS]
    known = "the table is quoted without size of nut, friction or fit: a third of the pull, give or take a tenth of it"
    three = "as above, and the table is at odds with itself: 34, 23, 16 beside running sums of 34, 55, 71 %"
    number = np.arange(1.0, THREADS + 1)
    exact = "equilibrium; what `fem.solver` allows a linear solve"
    return Measured(
        (
            Quantity("share of all six", "%", 100.0, 100 * found.sum(axis=1), 1e-7, exact, sizes),
            Quantity("share of the first thread", "%", 100 * QUOTED[0], 100 * found[:, 0], 0.1, known, sizes),
            Quantity(
                "share of the first three",
                "%",
                100 * sum(QUOTED[:3]),
                100 * found[:, :3].sum(axis=1),
                0.1,
                three,
                sizes,
            ),
        ),
        (
            Curve(
                "Threads of a 10 mm nut",
                "thread from the seat",
                "share of the pull [%]",
                (number, 100 * np.array(QUOTED)),
                (number, 100 * found[-1]),
            ),
        ),
    )


CHECKS = (
    Check(
        name="nut",
        group="threads",
        title="Share of the first thread of a nut: a third",
        source="shares of six threads as handed on in notes on nuts and bolts (web, 2009 and 2016, no author; no size "
        "given); Sopwith 1948 (abstract): at the seat two to four times the mean or more",
        how="from memory",
        part="fem.axisymmetric, fem.contact (solve_gaps), fem.solver (condensation)",
        measure=measure_nut,
        slow=True,
    ),
)
