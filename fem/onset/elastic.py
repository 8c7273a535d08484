"""The elastic field of a pull: mesh, stiffness, contact, stress, with every check on the way. No strength enters.

The pull is `UNIT_PULL`. Without initial gaps and friction everything is proportional to it: compliance, shares and
contact state hold at any load up to the onset.

Balance of the tube, with f_k the force of the ice on the tube at pair k [N]:  sum f_k + F = 0. Projected on the pull p,
the load splits into shares [-] that sum to one:

    front    - sum over xi > 0 of (f_k . n)(n . p) / F        bearing on the side of +x
    threads  - sum of (f_k . e_a)(e_a . p) / F                thrust of the threads
    back     - the same as front over xi <= 0                 bearing on the far side, negative with the pull

A share of the front above one is the lever: what the back adds, the front must carry too.

A field is a function of its `ElasticBody` alone, so cases that differ in strengths only have the same one; and bodies
share work (`ElasticSession`). A process keeps the last field and the session that made it (`kept_field`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from math import inf
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from ...geometry.half_model import HalfModel, build_half_model
from ...geometry.layers import Level, Resolution
from ...geometry.placement import Placement, Pull, Tube, load_point
from ...materials.tensor import Transverse
from ..case import Case
from ..errors import SolveError
from ..solid.contact import ContactSolution, ContactSystem, condition_figures, pair_frames
from ..solid.elasticity import spread_force, tube_in_ice
from ..solid.solver import Method
from ..solid.stress import Recovery, StressField
from .wall_lines import WallGeometry, WallLines

Array = NDArray[np.float64]
UNIT_PULL = 1000.0  # N
BALANCE_TOLERANCE = 1e-6
CONTACT_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class ElasticBody:
    """All that decides the field of a case; strengths of ice, hanger and sling are left out.

    crust : thickness [m].  metal : E [Pa] and nu [-].
    """

    tube: Tube
    placement: Placement
    pull: Pull
    ice: Transverse
    crust_ice: Transverse
    metal: tuple[float, float]
    crust: float
    level: Level | Resolution

    @classmethod
    def of(cls, case: Case) -> ElasticBody:
        """The body of a case; the stiffness of a crust that is not there is that of the ice."""
        return cls(
            tube=replace(case.tube, hanger_strength=0.0),
            placement=replace(case.placement, sling_strength=inf, sling_friction=inf),
            pull=Pull(case.pull.direction),
            ice=case.ice.elastic,
            crust_ice=case.crust_ice.elastic if case.crust else case.ice.elastic,
            metal=(case.metal.youngs_modulus, case.metal.poissons_ratio),
            crust=case.crust,
            level=case.level,
        )

    def mesh(self) -> HalfModel:
        """Its half model. Raises ValueError for a placement that cannot be meshed."""
        return build_half_model(self.tube, self.placement, self.crust, self.level)


@dataclass(frozen=True, slots=True)
class Shares:
    """Parts of the pull carried by each bearing surface (module docstring); they sum to one."""

    front: float
    threads: float
    back: float


@dataclass(frozen=True, slots=True)
class ElasticField:
    """A solved body at UNIT_PULL, SI units.  lines : its stress along the lines of the onset.

    compliance : movement of the load point over the pull [m/N].  balance_error : largest relative error of force or
    moment.  seconds : that it took.
    """

    model: HalfModel
    contact: ContactSolution
    stress: StressField
    lines: WallLines
    compliance: float
    shares: Shares
    balance_error: float
    seconds: float


class ElasticSession:
    """Solves bodies one after another and keeps what the next may share with the last.

    Bodies that differ in the pull's direction, the attachment or the sling's height only have one factor; those that
    differ in angle or stiffness too, one analysis of its pattern. A session holds a factor: some 1 GB at the level
    "standard".
    """

    def __init__(self, method: Method | None = None) -> None:
        self._method = method
        self._held: _Held | None = None

    def fields(self, bodies: Sequence[ElasticBody], model: HalfModel | None = None) -> list[ElasticField]:
        """The elastic fields of bodies that share a factor (`shape_of`).  model : their mesh, if it is at hand.

        Raises ValueError for a placement that cannot be meshed or bodies that share none, SolveError if a solve, the
        contact or a balance fails.
        """
        start = perf_counter()
        shape, *others = {shape_of(body) for body in bodies}
        if others:
            raise ValueError("elastic session: the bodies do not share a factor")
        held = self._hold(shape, model)
        model = held.system.model
        loads = np.stack([_load(model, body) for body in bodies], axis=1)
        contacts = held.system.solve(loads)
        u = np.stack([contact.u for contact in contacts], axis=1)
        balances = [_balance(model, contact, body) for body, contact in zip(bodies, contacts, strict=True)]
        for contact, balance in zip(contacts, balances, strict=True):
            _demand(contact, balance)
        stresses = held.recovery.fields(u)
        seconds = (perf_counter() - start) / len(bodies)
        return [
            ElasticField(
                model=model,
                contact=contact,
                stress=stresses[k],
                lines=WallLines(model, stresses[k], held.walls),
                compliance=2 * float(loads[:, k] @ contact.u) / UNIT_PULL**2,
                shares=_shares(model, contact, body.pull.unit),
                balance_error=balances[k],
                seconds=seconds,
            )
            for k, (body, contact) in enumerate(zip(bodies, contacts, strict=True))
        ]

    def _hold(self, shape: ElasticBody, model: HalfModel | None) -> _Held:
        if self._held is None or shape != self._held.shape:
            before, self._held = self._held, None  # what fails below leaves nothing half done behind
            model = model or shape.mesh()
            regions = tube_in_ice(model.regions, shape.ice, shape.crust_ice, shape.metal)
            system = ContactSystem(model, regions, self._method, before.system if before else None)
            self._held = _Held(shape, system, Recovery(model.mesh, regions), WallGeometry(model))
        return self._held


@dataclass(frozen=True, slots=True)
class _Held:
    """What all loads on a body share."""

    shape: ElasticBody
    system: ContactSystem
    recovery: Recovery
    walls: WallGeometry


def shape_of(body: ElasticBody) -> ElasticBody:
    """The body that stands for all with its factor: pulled at the eye along the surface."""
    placement = Placement(body.placement.angle, body.placement.embedment)
    return replace(body, placement=placement, pull=Pull(0.0))


def solve_field(body: ElasticBody, method: Method | None = None, model: HalfModel | None = None) -> ElasticField:
    """`ElasticSession.fields` of one body."""
    return ElasticSession(method).fields([body], model)[0]


@lru_cache(maxsize=1)
def kept_field(body: ElasticBody) -> ElasticField:
    """`solve_field`, the last one and its session kept: what it hands out is shared and must not be written to."""
    return _kept_session().fields([body])[0]


@cache
def _kept_session() -> ElasticSession:
    return ElasticSession()


def _load(model: HalfModel, body: ElasticBody) -> Array:
    """Nodal forces (3 nodes,) of half of UNIT_PULL on the half model [N]."""
    carrier = model.regions["eye" if body.placement.attachment == "eye" else "sling"]
    pull = 0.5 * UNIT_PULL * body.pull.unit
    return spread_force(model.mesh, carrier, pull, load_point(body.tube, body.placement))


def _balance(model: HalfModel, contact: ContactSolution, body: ElasticBody) -> float:
    """Largest relative error of the block's and the tube's balance of force and of moment about the load point."""
    nodal = contact.reaction.reshape(-1, 3)
    pull, at = 0.5 * UNIT_PULL * body.pull.unit, load_point(body.tube, body.placement)
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
