"""Contact of the half model: its conditions at three placements, and its quadratic programme by another method.

    gap >= 0,   force >= 0,   gap . force = 0,   ice on tube + pull = 0             (Karush, Kuhn, Tucker; statics)

The first three are necessary and sufficient for a minimum of 1/2 g S g - c g over g >= 0, since S is positive
semidefinite (moving the tube off every pair costs nothing). Apart from that, the gaps of `solve_gaps` are put beside
those of L-BFGS-B (scipy: gradients projected on the bounds), from the same S and c of a half model. The energy is
1/2 g S g - c g [J], a minimum: an error of the gaps enters it squared, so the gaps are the sharper of the two.

Steel, E = 205 GPa, nu = 0.29; ice, E = 9.3 GPa, nu = 0.325 (handbook order, from memory; the conditions hold for any).
"""

from __future__ import annotations

from math import radians

import numpy as np
from scipy.optimize import minimize

from ....fem.errors import SolveError
from ....fem.solid.assembly import assemble_in
from ....fem.solid.condensation import condense
from ....fem.solid.contact import condition_figures, contact_unknowns, pair_frames, solve_contact, solve_gaps
from ....fem.solid.elasticity import Regions, spread_force
from ....fem.solid.solver import choose_method
from ....geometry.half_model import HalfModel, build_half_model
from ....geometry.layers import Level, Resolution
from ....geometry.placement import Placement, Pull, Tube, load_point
from ....materials.tensor import isotropic
from ...check import Check, Measured, Quantity
from ...models.bodies import Array

TUBE = Tube(0.13, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 1e4)
ICE, STEEL = (9.3e9, 0.325), (205e9, 0.29)
EMBEDMENT, FORCE = 0.12, 500.0  # m, N on the half model
PLACEMENTS = ((0.0, 0.0), (-15.0, 20.0), (10.0, 60.0))  # deg: placement angle, pull direction
COARSE = Resolution(sectors=4, ring=0.006, mouth=0.012, tip=0.015, growth=1.2, deep=0.06)


def _model(angle: float, direction: float, level: Level | Resolution) -> tuple[HalfModel, Regions, Array]:
    """Half model, its materials and the pull's nodal forces; angles in degrees."""
    placement = Placement(radians(angle), EMBEDMENT)
    model = build_half_model(TUBE, placement, level=level)
    regions = [(model.regions["ice"], isotropic(*ICE)), (model.regions["tube"], isotropic(*STEEL))]
    force = FORCE * Pull(radians(direction)).unit
    load = spread_force(model.mesh, model.regions["eye"], force, load_point(TUBE, placement))
    return model, regions, load


def _conditions(angle: float, direction: float) -> tuple[float, float, float, float, float]:
    """Tension, penetration, work of the gaps, lost force and moment (all relative).

    Raises SolveError if nearly all pairs are open, or closed: the conditions would say little.
    """
    model, regions, load = _model(angle, direction, "quick")
    found = solve_contact(model, regions, load)
    tension, penetration = condition_figures(found)
    work = abs(float(found.gap @ found.force)) / (0.5 * float(load @ found.u))
    x, pull = model.mesh.doflocs, load.reshape(-1, 3)
    on_tube = np.einsum("kdc,kc->kd", pair_frames(model), found.on_tube)
    lost = on_tube.sum(axis=0) + pull.sum(axis=0)
    at = np.concatenate([x[:, model.pairs[0]].T, x.T])
    moment = np.cross(at, np.concatenate([on_tube, pull])).sum(axis=0)[1]
    share = float(np.mean(found.gap > 1e-9 * found.gap.max()))
    if not 0.1 < share < 0.9:
        raise SolveError(f"contact: {share:.0%} of the pairs are open; must lie between 10 and 90 %")
    balance = float(np.abs(lost[[0, 2]]).max()) / FORCE
    return tension, penetration, work, balance, abs(float(moment)) / (FORCE * TUBE.length)


def measure_conditions() -> Measured:
    """The worst of three placements."""
    worst = np.array([_conditions(*placement) for placement in PLACEMENTS]).max(axis=0)
    names = (
        (
            "largest tension / largest pressing force",
            1e-10,
            "round-off of a dense solve (measured 1e-11): an active set ends exactly",
        ),
        (
            "largest penetration / largest gap",
            1e-10,
            "round-off of a dense solve (measured 1e-11): an active set ends exactly",
        ),
        ("gap . force / elastic energy", 2e-10, "one of the two is zero at each pair, to round-off (measured 2e-11)"),
        ("force lost between ice and tube / pull", 1e-7, "what `fem.solid.solver` allows a linear solve"),
        ("moment lost about the mouth / pull x length", 1e-7, "what `fem.solid.solver` allows a linear solve"),
    )
    return Measured(
        tuple(
            Quantity(name, "1", 0.0, [value], tolerance, because, (), 1.0)
            for (name, tolerance, because), value in zip(names, worst, strict=True)
        )
    )


def _other_method(S: Array, c: Array) -> Array:
    """The minimiser of 1/2 g S g - c g over g >= 0 by L-BFGS-B, unknowns scaled to a unit diagonal of S."""
    scale = 1 / np.sqrt(np.diag(S))
    S, c = S * np.outer(scale, scale), c * scale
    size = float(np.abs(c).max())
    options = {"maxiter": 20_000, "maxfun": 40_000, "maxcor": 60, "ftol": 0.0, "gtol": 1e-14}
    found = minimize(
        lambda z: (0.5 * z @ S @ z - c @ z / size, S @ z - c / size),
        np.zeros(c.size),
        jac=True,
        method="L-BFGS-B",
        bounds=[(0, None)] * c.size,
        options=options,
    )
    return np.asarray(found.x * size * scale)


def measure_programme() -> Measured:
    """Gaps and energy of one half model's programme by the active set and by L-BFGS-B."""
    model, regions, load = _model(*PLACEMENTS[1], COARSE)
    unknowns = contact_unknowns(model)
    A, b = assemble_in(model.mesh, regions, unknowns.T, unknowns.slots), unknowns.T.T @ load
    condensed = condense(A, b, unknowns.is_gap, choose_method(b.size))
    ours, other = solve_gaps(condensed.S, condensed.c)[0], _other_method(condensed.S, condensed.c)
    energy = [float(0.5 * g @ condensed.S @ g - condensed.c @ g) for g in (ours, other)]
    apart = float(np.abs(ours - other).max() / np.abs(other).max())
    widest = int(np.argmax(other))
    because = "measured 4e-9, where L-BFGS-B stops, with a margin of five"
    squared = "a minimum: the gaps' error enters squared; round-off is left"
    return Measured(
        (
            Quantity("energy", "mJ", energy[1] * 1e3, [energy[0] * 1e3], 1e-11, squared),
            Quantity("widest gap", "um", other[widest] * 1e6, [ours[widest] * 1e6], 2e-8, because),
            Quantity("largest difference of gaps / widest gap", "1", 0.0, [apart], 2e-8, because, (), 1.0),
        )
    )


CHECKS = (
    Check(
        name="contact_programme",
        group="contact",
        title="Gaps of a half model's contact: active set against L-BFGS-B",
        source="scipy.optimize.minimize, method L-BFGS-B, on the same quadratic programme",
        how="another code",
        part="geometry.half_model, fem.solid.solver (condensation), fem.solid.contact (solve_gaps)",
        measure=measure_programme,
    ),
    Check(
        name="complementarity",
        group="contact",
        title="No tension, no penetration, no work of contact, balance: half model at three placements",
        source="conditions of Karush, Kuhn and Tucker; statics",
        how="closed form",
        part="geometry.half_model, fem.solid.elasticity, fem.solid.solver, fem.solid.contact (solve_contact)",
        measure=measure_conditions,
        slow=True,
    ),
)
