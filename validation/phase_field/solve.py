"""Variational phase-field fracture (AT1) of a body of revolution, followed by the energy it dissipates.

    E(u, a) = int [g psi_1(eps) + psi_0(eps)] + 3 G_c/8 [a/ell + ell |grad a|^2] dV - F f.u                      [J]
    g = (1 - a)^2 (and a residual, `validation.phase_field.model`),      a >= a_before: a crack never heals

psi_0: what broken material still holds (`validation.phase_field.energy_split`). AT1 (Pham, Amor, Marigo, Maurini, Int.
J. Damage Mech. 20, 2011, from memory) has an elastic limit; AT2 has none and would soften all ice near the threads
before a cone begins. Damage starts where 2 psi_1 = 3 G_c/(8 ell): a bar breaks at sigma_t if ell =
`regularisation_length`, for nu = 0 3/8 (K_IC/sigma_t)^2. A crack's band ends 2 ell from its middle, a = (1 - x/(2
ell))^2. On elements of size h it dissipates G_c (1 + 3 h/(8 ell)) (Bourdin, Francfort, Marigo, J. Elasticity 91, 2008,
from memory): `make_damage_model` divides G_c by that (and so lowers the strength by its root).

At fixed damage displacements are proportional to F (`validation.phase_field.model`). So the path is followed by
dissipation: F is what makes the next damage dissipate a set amount more, whether the load rises, falls or snaps back. u
and (F, a) are solved in turn until a settles (alternate minimisation, over-relaxed); a by a primal-dual active set on
its bounds.

Limits: quasi-static, dry, one fracture energy; what is smaller than ell is smeared.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from ...fem.errors import SolveError
from ...fem.solid.solver import make_solver
from .model import RESIDUAL, DamageModel, Stiffness, balance, cheapest, driving_energy

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
ROUNDS = 300  # of alternate minimisation a step
SETTLED = 5e-3  # largest change of damage in the last round
RELAXED = 1.5  # times the change of damage in a round
BOUNDS = 100  # steps of the active set
ROUND_OFF = 1e-12  # of damage, leaves a bound's state as it is
LEAST = 1e-3  # of the set dissipation, how closely it is met
TRIALS = 80  # of the load


@dataclass(frozen=True)
class DamageState:
    """load F [N]; u (2 n,) at F = 1 [m/N]; damage (n,); closed (k,) gaps; dissipated [J].

    stored : elastic energy at F [J].  rounds : of alternate minimisation.
    """

    load: float
    u: Array
    damage: Array
    closed: Mask
    dissipated: float
    stored: float
    rounds: int


def minimise_bounded(H: sp.csr_matrix, b: Array, before: Array, guess: Array) -> Array:
    """argmin a.Ha/2 - b.a over before <= a <= 1 by a primal-dual active set, from a guess."""
    a, scale = guess.copy(), H.diagonal()
    used = scale > 0
    scale = np.where(used, scale, 1.0)
    low = used & (a <= before)
    high = used & (a >= 1) & ~low
    for _ in range(BOUNDS):
        free = used & ~low & ~high
        a = np.where(low, before, np.where(high, 1.0, a))
        if free.any():
            rest = np.where(free, 0.0, a)
            a[free] = make_solver(H[free][:, free].tocsr(), method=cheapest(int(free.sum()))).solve(
                (b - H @ rest)[free]
            )
        push = np.where(free, 0.0, b - H @ a)  # positive where damage would grow
        below, above = (before - a) - push / scale, (a - 1) + push / scale
        new_low = used & (below > np.where(low, -ROUND_OFF, ROUND_OFF))
        new_high = used & (above > np.where(high, -ROUND_OFF, ROUND_OFF)) & ~new_low
        if np.array_equal(new_low, low) and np.array_equal(new_high, high):
            return a
        low, high = new_low, new_high
    raise SolveError(f"phase field: bounds of damage not settled in {BOUNDS} steps")


class _Damage:
    """Matrices of the damage problem over the brittle cells; dissipation [J]."""

    def __init__(self, model: DamageModel) -> None:
        self.model, self.n = model, model.mesh.p.shape[1]
        self.t = model.mesh.t.T[model.brittle]
        w, dN, scale = model.weight[model.brittle], model.dN[model.brittle], 3 * model.fracture_energy / 8
        self.weight = w
        gradient = 2 * scale * model.ell * (w[..., None, None] * (np.swapaxes(dN, -1, -2) @ dN)).sum(axis=1)
        self.gradient = self.matrix(gradient)
        self.onset = self.vector(w * scale / model.ell)

    def matrix(self, K: Array) -> sp.csr_matrix:
        """Sum (n, n) of the cells' matrices K (m, 4, 4)."""
        shape = (len(self.t), 4, 4)
        row, col = np.broadcast_to(self.t[:, :, None], shape), np.broadcast_to(self.t[:, None, :], shape)
        return sp.coo_matrix((K.ravel(), (row.ravel(), col.ravel())), shape=(self.n, self.n)).tocsr()

    def vector(self, density: Array) -> Array:
        """Sum (n,) of a density (m, q) at the cells' points times the shape functions there."""
        parts = density @ self.model.N
        return np.asarray(np.bincount(self.t.ravel(), parts.ravel(), self.n), dtype=np.float64)

    def dissipated(self, a: Array) -> float:
        """Energy [J] that damage a (n,) has dissipated."""
        return float(self.onset @ a + 0.5 * a @ (self.gradient @ a))

    def drive(self, psi: Array) -> Array:
        """int 2 psi_1 N (n,) at F = 1: both diagonal and right-hand side, g being interpolated between nodes."""
        return self.vector(2 * (1 - RESIDUAL) * self.weight * psi)


def follow_damage(model: DamageModel, amount: float, damage: Array | None = None) -> Iterator[DamageState]:
    """States of the path, each dissipating `amount` [J] more than the last, without end.

    damage : (n,) at the start, 0 by default: 1 along a notch, whose band of damage is completed first.
    Raises SolveError if a solve does not come out.
    """
    stiffness, breaking = Stiffness(model), _Damage(model)
    before = np.zeros(model.mesh.p.shape[1])
    if damage is not None:
        before = minimise_bounded(breaking.gradient, -breaking.onset, damage, damage)
    closed = np.ones(model.gaps.shape[1], bool)
    u, closed = balance(stiffness, before, np.zeros(model.load.size), closed)
    load, a = 0.0, before
    while True:
        goal = breaking.dissipated(before) + amount
        for rounds in count(1):
            if rounds > ROUNDS:
                raise SolveError(f"phase field: damage not settled in {ROUNDS} rounds")
            last = a
            load, a = _load_for(breaking, driving_energy(model, u), goal, before, a, load)
            settled = np.abs(a - last).max() < SETTLED
            if not settled:
                a = np.clip(last + RELAXED * (a - last), before, 1.0)
            u, closed = balance(stiffness, a, u, closed)
            if settled:
                break
        before = a
        yield DamageState(load, u, a, closed, breaking.dissipated(a), 0.5 * load**2 * float(model.load @ u), rounds)


def _load_for(
    breaking: _Damage, psi: Array, goal: float, before: Array, guess: Array, load: float
) -> tuple[float, Array]:
    """F and damage at fixed u (at F = 1) that dissipate `goal` [J] in all: bisection and secant on F."""
    drive = breaking.drive(psi)
    least = LEAST * (goal - breaking.dissipated(before))

    def solve(F: float, guess: Array) -> tuple[Array, float]:
        H = (breaking.gradient + sp.diags_array(F**2 * drive)).tocsr()
        a = minimise_bounded(H, F**2 * drive - breaking.onset, before, guess)
        return a, breaking.dissipated(a) - goal

    F = (
        load
        if load > 0
        else float(np.sqrt(3 * breaking.model.fracture_energy / (8 * breaking.model.ell) / (2 * psi.max())))
    )
    a, miss = solve(F, guess)
    low, high = (F, None) if miss < 0 else (0.0, F)
    at_low, at_high = (miss, miss) if miss < 0 else (breaking.dissipated(before) - goal, miss)
    for _ in range(TRIALS):
        if abs(miss) < least:
            return F, a
        if high is None:
            F *= 1.1
        else:
            share = at_low / (at_low - at_high)
            F = low + (high - low) * min(max(share, 0.1), 0.9)
        a, miss = solve(F, a)
        if miss < 0:
            low, at_low = F, miss
        else:
            high, at_high = F, miss
    raise SolveError("phase field: no load dissipates the set amount")
