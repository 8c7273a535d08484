"""How a pull is shared along a thread: a chain of springs, and two bars with a soft layer.

Chain. n threads of stiffness k, a pitch P apart, join a bolt (EA_b, pulled) and a nut (EA_n, pushed against its seat);
thread 1 is the free end's, thread n the seat's. Their forces f_i = k d_i follow from (with s = P/EA_b + P/EA_n)

    d_(i+1) - 2 d_i + d_(i-1) = k s d_i,   d_0 = d_1:     f_i / F = 2 sinh(m/2) cosh(m (i - 1/2)) / sinh(m n),
    2 sinh(m/2) = sqrt(k s);        n -> oo at m n = c:   f / (F / L) = c cosh(c x / L) / sinh(c).

It is the law of Maduschka, Goodier and Sopwith (from memory; here by insertion). `chain` solves the springs through
`fem.solid.solver`. The continuum is also that of a bar r < a in a tube b < r < c, joined by a layer of shear modulus
G = e E / 2, which is solved in `fem.solid.axisymmetric` with u_r = 0 and nu = 0: with k = 2 pi G / ln(b/a) along the
axis,

    d(L) = F c / (k L tanh(c)),   d(0) = F c / (k L sinh(c)),   c = L sqrt(k / EA_b + k / EA_n),     to O(e).

Limit: no model of the tube in ice. Fitted to resolved rings (`checks/threads/thread_rings.py`) it gives the uppermost
pitch 15 % of the pull instead of 28 %: springs that know nothing of each other are a poor ice.
"""

from __future__ import annotations

from math import asinh, cosh, log, pi, sinh, sqrt, tanh

import numpy as np
import scipy.sparse as sp
from skfem import MeshQuad

from ....fem.solid.axisymmetric import end_force, make_body
from ....fem.solid.solver import make_solver
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, solve_held
from .thread_rings import STEEL

SPREAD = 2.5  # c of chain and layer
BAR, LAYER, TUBE = 0.004, 0.0044, 0.008  # m, outer radii a, b, c
SOFT = (1 / 200, 1 / 800, 1 / 3200)  # e


def chain(n: int, k: float, bolt: float, nut: float) -> Array:
    """Forces (n,) of the threads from the free end, for a pull of 1.

    k : stiffness of a thread; bolt, nut : EA / P of a pitch of each [N/m].
    """
    along = sp.diags_array([np.r_[1.0, np.full(n - 2, 2.0), 1.0], -np.ones(n - 1), -np.ones(n - 1)], offsets=[0, 1, -1])
    eye = sp.eye_array(n)
    K = sp.block_array([[bolt * along + k * eye, -k * eye], [-k * eye, nut * along + k * eye]]).tocsr()
    load = np.zeros(2 * n)
    load[n - 1] = 1.0
    d = np.zeros(2 * n)
    d[:-1] = make_solver(K[:-1, :-1].tocsr()).solve(load[:-1])  # the nut sits on its seat at thread n
    return np.asarray(k * (d[:n] - d[n:]))


def chain_law(n: int, k: float, bolt: float, nut: float) -> Array:
    """The same by the closed form."""
    m = 2 * asinh(0.5 * sqrt(k / bolt + k / nut))
    return np.array([2 * sinh(m / 2) * cosh(m * (i - 0.5)) / sinh(m * n) for i in range(1, n + 1)])


def measure_chain() -> Measured:
    """Chain of six threads against the discrete law; longer and longer chains against its continuum."""
    bolt, nut, k = 2.0, 5.0, 0.6
    ours, law = chain(6, k, bolt, nut), chain_law(6, k, bolt, nut)
    counts = (10, 20, 40)
    fine = [chain(n, SPREAD**2 / n**2, 2.0, 2.0) for n in counts]  # k s n^2 = c^2
    fifth = [float(forces[-n // 5 :].sum()) for n, forces in zip(counts, fine, strict=True)]
    end = [float(n * forces[-1]) for n, forces in zip(counts, fine, strict=True)]
    sizes = [1 / n for n in counts]
    exact = "round-off of a direct solve"
    first, second = "rate 1: the last thread averages over 1/n", "rate 2 of central differences, with a margin of two"
    place = np.linspace(0, 1, 50)
    return Measured(
        (
            Quantity("share of the thread at the seat, six threads", "1", float(law[-1]), [ours[-1]], 1e-10, exact),
            Quantity("share of the thread at the free end", "1", float(law[0]), [ours[0]], 1e-10, exact),
            Quantity(
                "share of the upper fifth",
                "1",
                1 - sinh(0.8 * SPREAD) / sinh(SPREAD),
                fifth,
                1e-3,
                second,
                sizes,
                None,
                1.9,
            ),
            Quantity("intensity at the seat / mean", "1", SPREAD / np.tanh(SPREAD), end, 0.06, first, sizes, None, 0.9),
        ),
        (
            Curve(
                "Chain of 20 threads",
                "distance from the free end / length",
                "intensity / mean",
                (place, SPREAD * np.cosh(SPREAD * place) / sinh(SPREAD)),
                ((np.arange(20) + 0.5) / 20, 20 * fine[1]),
            ),
        ),
    )


def layered(soft: float) -> tuple[float, float]:
    """d(L) and d(0) of the two bars over the closed form, for a layer of modulus `soft` E."""
    E = STEEL[0]
    k = pi * soft * E / log(LAYER / BAR)
    yields = 1 / (E * pi * BAR**2) + 1 / (E * pi * (TUBE**2 - LAYER**2))
    length = SPREAD / sqrt(k * yields)
    z = np.linspace(0.0, length, 33)
    radii = (np.linspace(0.0, BAR, 5), np.linspace(BAR, LAYER, 3), np.linspace(LAYER, TUBE, 5))
    bodies = [
        make_body(MeshQuad.init_tensor(r, z), (modulus, 0.0))
        for r, modulus in zip(radii, (E, soft * E, E), strict=True)
    ]
    x = np.concatenate([body.x for body in bodies], axis=1)
    places, node = np.unique(np.round(x * 1e9).astype(np.int64), axis=1, return_inverse=True)
    starts = np.cumsum([0, *(body.K.shape[0] for body in bodies)])
    along = np.concatenate([start + body.dofs[1] for start, body in zip(starts, bodies, strict=False)])
    join = sp.csr_matrix((np.ones(node.size), (along, node.ravel())), shape=(starts[-1], places.shape[1]))
    K = (join.T @ sp.block_diag([body.K for body in bodies], format="csr") @ join).tocsr()

    def mean(which: int, at: float) -> Array:
        """What takes the mean u_z of a body's end from the joined unknowns; also 1 N spread over that end."""
        nodal = np.zeros(starts[-1])
        nodal[starts[which] : starts[which + 1]] = end_force(bodies[which], at)
        return np.asarray(join.T @ nodal)

    seat = (places[1] == round(length * 1e9)) & (places[0] >= round(LAYER * 1e9))
    u = solve_held(K, mean(0, length), seat)
    d = [float((mean(0, at) - mean(2, at)) @ u) for at in (length, 0.0)]
    law = SPREAD / (k * length)
    return d[0] / (law / tanh(SPREAD)), d[1] / (law / sinh(SPREAD))


def measure_layer() -> Measured:
    """Relative displacement at the seat and at the free end, for a softer and softer layer."""
    found = np.array([layered(soft) for soft in SOFT])
    because = "the law lacks terms of order e, the bars' own shear (measured, with a margin of two): rate 1 in e"
    return Measured(
        (
            Quantity("slip at the seat / closed form", "1", 1.0, found[:, 0], 2e-3, because, SOFT, None, 0.95),
            Quantity("slip at the free end / closed form", "1", 1.0, found[:, 1], 6e-3, because, SOFT, None, 0.95),
        )
    )


CHECKS = (
    Check(
        name="thread_chain",
        group="threads",
        title="Chain of springs: share of each thread, and its continuum",
        source="law of Maduschka, Goodier (1940) and Sopwith (Proc. IMechE 159, 1948), from memory; shown by insertion",
        how="closed form",
        part="fem.solid.solver",
        measure=measure_chain,
    ),
    Check(
        name="thread_layer",
        group="threads",
        title="Two bars joined by a soft layer: the law of threads in a continuum",
        source="the same law; the stiffness of the layer is that of telescopic shear (by hand: 2 pi r tau = force)",
        how="closed form",
        part="fem.solid.axisymmetric, fem.solid.solver",
        measure=measure_layer,
    ),
)
