"""A steel nut on its bolt, for plausibility: how the threads share the pull, and what physics demands of the shares.

A bolt with six 60-degree threads in its nut (10 mm, pitch 1.5 mm; basic profile, no clearance, threads as closed
rings), of revolution (`fem.solid.axisymmetric`): the bearing flanks can push and not pull, without friction, and go
through `fem.solid.contact.solve_gaps` (here all of them press, so opening is not tried); the other flanks are apart.
The seat holds the nut along the axis and lets it spread. The bolt's core goes on a pitch beyond the nut, or (`flush`)
ends with it.

Demanded: all of the pull is handed over; every thread pushes; shares fall away from the seat; the intensity, force per
length of thread, is greatest at the seat and two to four times the mean (Sopwith's abstract: "two to four or more").
A share is a mean over a pitch, no intensity. With the law of `checks/threads/thread_load.py`,

    q / mean = c cosh(c x / L) / sinh(c)                                                                 [-]

the n - 1 threads away from the seat take sinh(c (n - 1) / n) / sinh(c), which gives c; at the seat q / mean = c /
tanh(c).

Limits: no agreement is claimed with the one table at hand (34, 23, 16, 11, 9, 7 %): it has no author, size, friction or
fit; the curves show it. That our first thread takes 34 % is the choice of the nut (30 to 36 % with lead and outside).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import pi, sinh, sqrt, tan, tanh

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.spatial import cKDTree
from skfem import MeshQuad

from ....fem.solid.axisymmetric import Body, end_force, make_body
from ....fem.solid.condensation import condense
from ....fem.solid.contact import solve_gaps
from ....fem.solid.solver import choose_method
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, Mask

STEEL = (205e9, 0.29)  # Pa, -
PITCH, MAJOR, PITCH_RADIUS, MINOR, OUTSIDE, SEAT = 0.0015, 0.005, 0.004513, 0.004188, 0.008, 0.0055  # m
THREADS, SHANK, LEAD = 6, 0.010, 0.0009  # -, m of free bolt below the seat, m from the seat to the first thread
SLOPE = tan(pi / 6)  # of the flanks
ACROSS = (2, 4, 8)  # elements along half a pitch
TABLE = (0.34, 0.23, 0.16, 0.11, 0.09, 0.07)  # from the seat; no author, drawn and not asserted


def bolt_width(r: Array) -> Array:
    """Thickness of the bolt's thread along the axis at radius r [m]; the nut's takes the rest of the pitch."""
    return np.asarray(0.5 * PITCH - 2 * SLOPE * (np.clip(r, MINOR, MAJOR) - PITCH_RADIUS))


def _nut_bodies(across: int, flush: bool) -> tuple[Body, Body]:
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
    core = (at_r < MINOR) & (at_t < 2 * THREADS + (0 if flush else 1))
    steel = core | (tooth & second), (tooth & ~second) | ((at_r > MAJOR) & (at_t > -1) & (at_t < 2 * THREADS))
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


@cache
def nut_shares(across: int, flush: bool = False) -> tuple[float, ...]:
    """Shares of the threads from the seat, for `across` elements along half a pitch; flush : bolt ends with the nut."""
    bolt, nut = _nut_bodies(across, flush)
    flanks = _flanks(bolt, nut)
    T, is_gap = _nut_reduction(bolt, nut, flanks)
    K = sp.block_diag([bolt.K, nut.K], format="csr")
    load = np.concatenate([-end_force(bolt, -LEAD - SHANK), np.zeros(nut.K.shape[0])])
    A, b = sp.triu(T.T @ (K @ T), format="csr"), T.T @ load
    condensed = condense(A, b, is_gap, choose_method(b.size))
    u = T @ condensed.expand(solve_gaps(condensed.S, condensed.c)[0])
    force = (K @ u)[flanks.bolt[1]]  # of the nut on the bolt, upwards
    return tuple(np.bincount(flanks.thread, weights=force, minlength=THREADS).tolist())


def intensity_at_seat(first: float, threads: int) -> float:
    """Intensity at the seat over the mean [-] of the law (module docstring), from the first thread's share.

    Raises ValueError unless the share lies above the mean, 1 / threads, and below 1.
    """
    if not 1 / threads < first < 1:
        raise ValueError(f"first = {first:g}: must lie between {1 / threads:g} and 1")
    rest = 1 - 1 / threads
    c = float(brentq(lambda c: sinh(c * rest) / sinh(c) - (1 - first), 1e-3, 200.0))
    return c / tanh(c)


def _falls(shares: Array) -> Array:
    """Largest share (meshes,) over that of the thread next to it on the side of the seat, of (meshes, threads)."""
    return np.asarray((shares[:, 1:] / shares[:, :-1]).max(axis=1))


def measure_nut() -> Measured:
    """What equilibrium, contact and the law of threads demand of the shares."""
    beyond, flush = (np.array([nut_shares(across, ends) for across in ACROSS]) for ends in (False, True))
    sizes = [1 / across for across in ACROSS]
    exact = "equilibrium; what `fem.solid.solver` allows a linear solve"
    falls = "below 1: shares fall away from the seat; above 0: every thread pushes. A bound, no value"
    seat = "two to four times the mean as in Sopwith's abstract (it allows more): first share 29 to 49 %. No value"
    intensity = [intensity_at_seat(first, THREADS) for first in beyond[:, 0]]
    five, six = "a share / the one nearer the seat, first five", "the same of all six, bolt flush"
    rows = (
        Quantity("share of all six", "%", 100.0, 100 * beyond.sum(axis=1), 1e-7, exact, sizes),
        Quantity(f"plausibility: {five}", "-", 1.0, _falls(beyond[:, :-1]), 0.0, falls, sizes, least_error=-1.0),
        Quantity(f"plausibility: {six}", "-", 1.0, _falls(flush), 0.0, falls, sizes, least_error=-1.0),
        Quantity(
            "plausibility: intensity at the seat / mean, by the law",
            "-",
            2.0,
            intensity,
            1.0,
            seat,
            sizes,
            least_error=0.0,
        ),
    )
    number = np.arange(1.0, THREADS + 1)
    drawn = (("a pitch beyond it", beyond[-1]), ("flush with it", flush[-1]))
    return Measured(
        rows,
        tuple(
            Curve(
                f"Threads of a 10 mm nut, bolt ending {where} (line: a table without author)",
                "thread from the seat [-]",
                "share of the pull [%]",
                (number, 100 * np.array(TABLE)),
                (number, 100 * ours),
            )
            for where, ours in drawn
        ),
    )


CHECKS = (
    Check(
        name="nut",
        group="threads",
        title="Plausibility of a nut: shares of six threads, the greatest at the seat",
        source="equilibrium and contact; Sopwith, The Distribution of Load in Screw Threads, Proc. IMechE 159, 1948, "
        "abstract (seen): greatest intensity at the seat, two to four or more times the mean. The table in the curves "
        "has no author (web notes, 2009 and 2016); nothing is held against it",
        how="published",
        part="fem.solid.axisymmetric, fem.solid.contact (solve_gaps), fem.solid.solver (condensation)",
        measure=measure_nut,
        slow=True,
    ),
)
