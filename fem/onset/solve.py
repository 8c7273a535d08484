"""One case solved: mesh, stiffness, contact, stress, onset, with every check on the way.

The pull is `UNIT_PULL`. Without initial gaps and friction everything is proportional to it: compliance, shares and
contact state hold at any load up to onset, and onset is the unit pull times the least load factor (`onset.criterion`).

Balance of the tube, with f_k the force of the ice on the tube at pair k [N]:  sum f_k + F = 0. Projected on the pull p,
the load splits into shares [-] that sum to one:

    front    - sum over xi > 0 of (f_k . n)(n . p) / F        bearing on the side of +x
    threads  - sum of (f_k . e_a)(e_a . p) / F                thrust of the threads
    back     - the same as front over xi <= 0                 bearing on the far side, negative with the pull

A share of the front above one is the lever: what the back adds, the front must carry too.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from ...geometry import HalfModel, build_half_model, load_point
from ...materials.tensor import isotropic
from ..case import Case
from ..solid.contact import ContactSolution, condition_figures, pair_frames, solve_contact
from ..solid.elasticity import assemble_stiffness, spread_force
from ..solid.solver import Method, SolveError
from ..solid.stress import StressField, principal, recover
from .criterion import Onset, find_onset, hole_lines

Array = NDArray[np.float64]
UNIT_PULL = 1000.0  # N
BALANCE_TOLERANCE = 1e-6
CONTACT_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Shares:
    """Parts of the pull carried by each bearing surface (module docstring); they sum to one."""

    front: float
    threads: float
    back: float


@dataclass(frozen=True, slots=True)
class Solution:
    """Everything about one solved case at UNIT_PULL, SI units.

    onset_load : N.  compliance : movement of the load point over the pull [m/N].
    mouth_stress : (2,) largest tension and largest compression (negative) at the mouth, averaged over the criterion's
    line, per unit of pull [Pa/N].  balance_error : largest relative error of force or moment.
    """

    case: Case
    model: HalfModel
    contact: ContactSolution
    stress: StressField
    onset: Onset
    onset_load: float
    compliance: float
    shares: Shares
    mouth_stress: Array
    balance_error: float
    seconds: float


def mesh_of(case: Case) -> HalfModel:
    """The half model of a case. Raises ValueError for a placement that cannot be meshed."""
    return build_half_model(case.tube, case.placement, case.crust, case.level)


def solve_onset(case: Case, method: Method | None = None, model: HalfModel | None = None) -> Solution:
    """Solve a case to the onset of failure.  model : `mesh_of` the case, if it is at hand.

    Raises ValueError for a placement that cannot be meshed, SolveError if a solve, the contact or a balance fails.
    """
    start = perf_counter()
    tube, placement = case.tube, case.placement
    model = model or mesh_of(case)
    regions = [
        (model.regions["ice"], case.ice.elastic.tensor()),
        (model.regions["crust"], case.crust_ice.elastic.tensor()),
        (model.regions["tube"], isotropic(case.metal.youngs_modulus, case.metal.poissons_ratio)),
    ]
    K = assemble_stiffness(model.mesh, regions)
    pull = UNIT_PULL * case.pull.unit
    carrier = model.regions["eye" if placement.attachment == "eye" else "sling"]
    at = load_point(tube, placement)
    load = spread_force(model.mesh, carrier, 0.5 * pull, at)
    contact = solve_contact(K, load, model, method)
    balance = _balance(model, K @ contact.u - load, contact, 0.5 * pull, at)
    _demand(contact, balance)
    field = recover(model.mesh, contact.u, regions)
    onset = find_onset(model, field, case.ice, case.crust_ice, case.assumed.sliding_ratio)
    return Solution(
        case=case,
        model=model,
        contact=contact,
        stress=field,
        onset=onset,
        onset_load=UNIT_PULL * onset.load_factor,
        compliance=2 * float(load @ contact.u) / UNIT_PULL**2,
        shares=_shares(model, contact, case.pull.unit),
        mouth_stress=_mouth_stress(model, field, case) / UNIT_PULL,
        balance_error=balance,
        seconds=perf_counter() - start,
    )


def _balance(model: HalfModel, residual: Array, contact: ContactSolution, pull: Array, at: Array) -> float:
    """Largest relative error of the block's and the tube's balance of force and of moment about the load point.

    residual : K u - load (3 nodes,), the force that supports and contact exert [N].
    """
    nodal = residual.reshape(-1, 3)
    x = model.mesh.doflocs.T - at
    far, tube = model.nodes["far"], model.pairs[0]
    scale = float(np.linalg.norm(pull))
    reach = float(np.linalg.norm(x[tube], axis=1).max())
    on_tube = np.einsum("kdc,kc->kd", pair_frames(model), contact.on_tube)
    errors = []
    for force, arm in ((nodal[far], x[far]), (on_tube, x[tube])):
        errors += [abs(force[:, c].sum() + pull[c]) / scale for c in (0, 2)]
        errors.append(abs((arm[:, 2] * force[:, 0] - arm[:, 0] * force[:, 2]).sum()) / (scale * reach))
    return float(max(errors))


def _demand(contact: ContactSolution, balance: float) -> None:
    """Raise SolveError unless balance and contact hold."""
    tension, penetration = condition_figures(contact)
    for name, value, allowed in (
        ("balance of load, reactions and contact", balance, BALANCE_TOLERANCE),
        ("tension in the contact", tension, CONTACT_TOLERANCE),
        ("penetration in the contact", penetration, CONTACT_TOLERANCE),
    ):
        if not value <= allowed:
            raise SolveError(f"{name}: relative error {value:.1e}, allowed {allowed:.0e}")


def _shares(model: HalfModel, contact: ContactSolution, direction: Array) -> Shares:
    along = np.einsum("kdc,d->kc", pair_frames(model), direction)
    parts = -contact.on_tube * along / (0.5 * UNIT_PULL)
    front = model.straight[0, model.pairs[0]] > 0
    return Shares(float(parts[front, 0].sum()), float(parts[:, 2].sum()), float(parts[~front, 0].sum()))


def _mouth_stress(model: HalfModel, field: StressField, case: Case) -> Array:
    """Largest and smallest principal stress of the line averages that start at the mouth [Pa]."""
    ice = case.crust_ice if model.regions["crust"].size else case.ice
    length = np.full((1, model.beside.shape[0]), 2 * ice.critical_distance)
    averaged, start, _ = hole_lines(model, field, length)
    at_mouth = principal(averaged[0, np.abs(start[:, 2]) < 1e-9])
    return np.array([at_mouth[:, 2].max(), at_mouth[:, 0].min()])
