"""A half model's contact by an interior-point method, in all unknowns, on FElupe's stiffness.

    min 1/2 u^T K u - f^T u,   n . (u_ice - u_tube) >= 0 at every pair,   e_a . (u_ice - u_tube) = 0 on the threads

with K and f of tube and ice apart (`validation/models/felupe_model.py`): nothing of `fem.solid.contact` enters, neither
its unknowns nor its condensation nor its active set. The multipliers of the inequalities are the forces of the pairs.
Unknowns are scaled to a unit diagonal of K, constraints to unit rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from ....fem.solid.contact import condition_figures
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, Mask
from ...models.half_model_case import AWAY, PULL, Setting, apart, our_contact, ours, shares

TOLERANCE = 1e-12  # of the duality gap
FEASIBLE = 1e-10  # relative, of either problem
ON_PLANE = 1e-9  # m


@dataclass(frozen=True, slots=True)
class Optimum:
    """u : (3 nodes,) displacement [m].  force, thrust : (k,) of tube on ice at each pair [N].  gap : (k,) [m]."""

    u: Array
    force: Array
    thrust: Array
    gap: Array


def _jump(setting: Setting, directions: Array, which: Mask, nodes: int) -> sp.csr_matrix:
    """Rows d . (u_ice - u_tube) of the chosen pairs; directions (k, 3)."""
    tube, ice = ours(setting).model.pairs[:, which]
    row = np.repeat(np.arange(tube.size), 3)
    at = np.concatenate([(3 * side[:, None] + np.arange(3)).ravel() for side in (ice, tube)])
    values = directions[which].ravel()
    entries = (np.concatenate([values, -values]), (np.tile(row, 2), at))
    return sp.csr_matrix(entries, shape=(tube.size, 3 * nodes))


def optimum(setting: Setting) -> Optimum:
    """Clarabel's minimiser. Raises RuntimeError unless it reports a solution."""
    import clarabel

    from ...models.felupe_model import assemble

    given, made = ours(setting), assemble(setting)
    model, axis, free = given.model, setting.placement.axis, np.flatnonzero(~given.held)
    place = model.mesh.doflocs[:, model.pairs[0]].T
    radial = place - np.outer(place @ axis, axis)
    radial /= np.linalg.norm(radial, axis=1)[:, None]
    every, n = np.ones(model.threaded.size, bool), model.mesh.doflocs.shape[1]
    gaps = _jump(setting, radial, every, n)
    slips = _jump(setting, np.tile(axis, (every.size, 1)), model.threaded, n)

    K, f = made.K[free][:, free], made.load[free]
    unit = sp.diags_array(1 / np.sqrt(K.diagonal()))
    scale = float(np.abs(unit @ f).max())
    rows = sp.vstack([slips[:, free], -gaps[:, free]]) @ unit
    length = 1 / np.sqrt(np.asarray(rows.multiply(rows).sum(axis=1)).ravel())
    settings = clarabel.DefaultSettings()
    settings.verbose, settings.direct_solve_method = False, "faer"
    settings.tol_gap_rel, settings.tol_gap_abs, settings.tol_feas = TOLERANCE, 1e-14, FEASIBLE
    cones = [clarabel.ZeroConeT(slips.shape[0]), clarabel.NonnegativeConeT(every.size)]
    P, A = sp.triu(unit @ K @ unit).tocsc(), (sp.diags_array(length) @ rows).tocsc()
    found = clarabel.DefaultSolver(P, -(unit @ f) / scale, A, np.zeros(A.shape[0]), cones, settings).solve()
    if str(found.status) != "Solved":
        raise RuntimeError(f"Clarabel: {found.status}")
    u = np.zeros(3 * n)
    u[free] = scale * (unit @ np.array(found.x))
    multiplier = scale * length * np.array(found.z)
    thrust = np.zeros(every.size)
    thrust[model.threaded] = -multiplier[: slips.shape[0]]
    return Optimum(u, multiplier[slips.shape[0] :], thrust, gaps @ u)


def measure() -> Measured:
    """Compliance, shares, active set, gaps, forces."""
    setting = AWAY
    given, our, other = ours(setting), our_contact(setting), optimum(setting)
    C = 2 * float(given.load @ other.u) / PULL**2
    energy = [0.5 * float(u @ (given.K @ u)) - float(given.load @ u) for u in (our.u, other.u)]
    shut = [int(np.sum(a.force / a.force.max() > a.gap / a.gap.max())) for a in (our, other)]
    because = "where the interior point stops (duality gap 1e-12); measured 4e-8 in forces, less elsewhere"
    squared = "a minimum: the error of the displacement enters squared"
    thrust = -our.on_tube[:, 2]
    both = [shares(setting, our.force, thrust), shares(setting, other.force, other.thrust)]
    tension, penetration = condition_figures(our)

    def difference(name: str, a: Array, b: Array) -> Quantity:
        return Quantity(f"{name}: largest difference / largest value", "1", 0.0, [apart(a, b)], 2e-7, because, (), 1.0)

    found = (
        Quantity("potential energy", "mJ", energy[1] * 1e3, [energy[0] * 1e3], 1e-11, squared),
        Quantity("compliance", "um/kN", C * 1e9, [given.compliance(our.u) * 1e9], 1e-9, because),
        *(
            Quantity(f"share of the {name}", "1", float(b), [float(a)], 1e-8, because, (), 1.0)
            for name, a, b in zip(("front", "threads", "back"), *both, strict=True)
        ),
        Quantity("pairs that press", "1", shut[1], [shut[0]], 0.0, "the active set of the same programme"),
        difference("displacement", our.u, other.u),
        difference("gap", our.gap, other.gap),
        difference("force of a pair", our.force, other.force),
        difference("thrust of a pair", thrust, other.thrust),
        Quantity("tension, penetration of ours", "1", 0.0, [tension + penetration], 1e-9, "round-off", (), 1.0),
    )
    xi, eta, s = given.model.straight[:, given.model.pairs[0]]
    rear = (np.abs(eta) < ON_PLANE) & (xi < 0)
    depth = -s[rear] * 1e3
    curve = Curve(
        "Gap behind the tube, leaning away",
        "depth along the axis [mm]",
        "gap [um/kN]",
        (depth, other.gap[rear] / PULL * 1e9),
        (depth, our.gap[rear] / PULL * 1e9),
    )
    return Measured(found, (curve,))


CHECKS = (
    Check(
        name="clarabel",
        group="codes",
        title=f"Half model with contact, {AWAY.words}: interior point in all unknowns, FElupe's stiffness",
        source="Clarabel (Goulart & Chen, clarabel.org), version 0.11, on the quadratic programme of FElupe's matrix",
        how="another code",
        part="geometry.half_model, fem.solid.elasticity, fem.solid.solver (condensation), fem.solid.contact "
        "(solve_contact)",
        measure=measure,
        slow=True,
        needs=("clarabel", "felupe"),
    ),
)
