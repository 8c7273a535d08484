"""A body of revolution on bilinear quadrilaterals (r, z) that breaks as a phase field: equilibrium at fixed damage a.

Or one in plane strain: (r, z) are Cartesian, there is no hoop strain, and 1 m stands for 2 pi r.

    min over u   int [g psi_1(eps) + psi_0(eps)] dV - f.u;      u_slave >= u_master at the gaps                    [J]
    g = sum N_i [(1 - RESIDUAL) (1 - a_i)^2 + RESIDUAL]

psi_0: what broken material still holds (`validation.phase_field.energy_split`). g is interpolated between the nodes'
values, which makes its part of the damage problem diagonal (`validation.phase_field.solve`). The energy is homogeneous
of degree two in (u, f), gaps included: one solve at F = 1 holds for all F, and Newton's step is u' = K(u)^-1 f; gaps
open and close in the same loop.

hybrid (Ambati, Gerasimov, De Lorenzis, Comput. Mech. 55, 2015, from memory): psi_1 drives damage as before, but the
forces are those of g psi, so that open faces slide freely. No split that holds pressure lets them: an opening (a, b)
across and along a band strains it by (a +- sqrt(a^2 + b^2))/2, so shortens it along one axis. It is right for cracks
that stay open; faces that are pressed go through each other, and no energy is minimised any more.

Limits: small strain, no friction, no initial gaps.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementQuad1, MeshQuad

from ...fem.errors import SolveError
from ...fem.solid.solver import Method, choose_method, make_solver
from ...materials.tensor import lame
from .energy_split import SPLITS, degraded_energy, tangent

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]
RESIDUAL = 1e-6  # share of the stiffness that wholly broken material keeps
NEWTON = 60
UNBALANCED = 1e-4  # of the load
FEW = 3000  # unknowns


@dataclass(frozen=True)
class DamageModel:
    """Elements, materials and joints. SI, whole turn (plane: 1 m).

    B (m, q, 4, 8) strains 11, 33 (hoop), 22, 2 x 12 of the cells' displacements; N (q, 4), dN (m, q, 2, 4) of damage;
    weight (m, q) volume.  lam, mu : (m,) Pa.  brittle : (m,) breaks.  load : (2 n,) at F = 1; dof = 2 node + component.
    fixed : (2 n,) bool.  gaps : (2, k) dofs (slave, master), u_slave >= u_master.  ell m, fracture_energy J/m2
    (corrected).
    """

    mesh: MeshQuad
    B: Array
    N: Array
    dN: Array
    weight: Array
    lam: Array
    mu: Array
    brittle: Mask
    load: Array
    fixed: Mask
    gaps: Indices
    ell: float
    fracture_energy: float
    split: str
    held: str

    @property
    def dofs(self) -> Indices:
        """(m, 8) displacement dofs of the cells."""
        t = self.mesh.t.T
        return np.stack([2 * t, 2 * t + 1], axis=2).reshape(len(t), 8)


def make_damage_model(
    mesh: MeshQuad,
    elastic: tuple[Array, Array],
    brittle: Mask,
    load: Array,
    fixed: Mask,
    ell: float,
    fracture_energy: float,
    size: float,
    split: str = "no_tension",
    gaps: Indices | None = None,
    plane: bool = False,
    hybrid: bool = False,
) -> DamageModel:
    """elastic : E [Pa] and nu of the cells.  size : element size at the crack, for the correction of G_c.

    plane : in plane strain, 1 m deep.  hybrid : broken material holds nothing, whatever the split (module docstring).

    Raises ValueError for an unknown split.
    """
    if split not in SPLITS:
        raise ValueError(f"split = {split!r}: must be one of {', '.join(SPLITS)}")
    basis = Basis(mesh, ElementQuad1(), intorder=2)
    at = np.asarray(basis.global_coordinates())
    N = np.stack([np.broadcast_to(np.asarray(f[0]), at.shape[1:])[0] for f in basis.basis], axis=-1)
    dN = np.stack([np.asarray(f[0].grad) for f in basis.basis], axis=-1).transpose(1, 2, 0, 3)
    B = np.zeros((*at.shape[1:], 4, 8))
    B[..., 0, 0::2] = B[..., 3, 1::2] = dN[..., 0, :]
    B[..., 2, 1::2] = B[..., 3, 0::2] = dN[..., 1, :]
    weight = np.asarray(basis.dx)
    if not plane:
        B[..., 1, 0::2] = N / at[0][..., None]
        weight = 2 * pi * at[0] * weight
    lam, mu = (np.array([lame(E, nu)[k] for E, nu in zip(*elastic, strict=True)]) for k in (0, 1))
    gaps = np.zeros((2, 0), np.int64) if gaps is None else gaps
    corrected = fracture_energy / (1 + 3 * size / (8 * ell))
    held = "none" if hybrid else split
    return DamageModel(mesh, B, N, dN, weight, lam, mu, brittle, load, fixed, gaps, ell, corrected, split, held)


def _strains(model: DamageModel, u: Array, cells: Mask) -> Array:
    return (model.B[cells] @ u[model.dofs[cells]][:, None, :, None])[..., 0]


def _constants(model: DamageModel, cells: Mask) -> tuple[Array, Array]:
    shape = (int(cells.sum()), model.N.shape[0])
    return np.broadcast_to(model.lam[cells, None], shape), np.broadcast_to(model.mu[cells, None], shape)


def driving_energy(model: DamageModel, u: Array) -> Array:
    """psi_1 (m', q) of the brittle cells [J/m3], u (2 n,) [m]."""
    return degraded_energy(model.split, _strains(model, u, model.brittle), *_constants(model, model.brittle))


class Stiffness:
    """Cells' stiffness matrices (m, 8, 8): constant in whole cells, at the strains of u in damaged ones."""

    def __init__(self, model: DamageModel) -> None:
        self.model = model
        everywhere = np.ones(model.lam.size, bool)
        eps = np.zeros((*model.weight.shape, 4))
        g = np.ones(model.weight.shape)
        self.whole = self._cells(everywhere, tangent("none", eps, g, *_constants(model, everywhere)))
        self.dofs = model.dofs

    def _cells(self, cells: Mask, D: Array) -> Array:
        B = self.model.B[cells]
        return (np.swapaxes(B, -1, -2) @ (self.model.weight[cells][..., None, None] * D) @ B).sum(axis=1)

    def at(self, u: Array, damage: Array) -> Array:
        """(m, 8, 8) at u (2 n,) and damage (n,)."""
        model = self.model
        a = damage[model.mesh.t.T]
        cells = model.brittle & (a.max(axis=1) > 0)
        g = RESIDUAL + (1 - RESIDUAL) * (1 - a[cells]) ** 2 @ model.N.T
        D = tangent(model.held, _strains(model, u, cells), g, *_constants(model, cells))
        K = self.whole.copy()
        K[cells] = self._cells(cells, D)
        return K

    def force(self, K: Array, u: Array) -> Array:
        """Inner forces (2 n,) of the cells' K."""
        f = (K @ u[self.dofs][..., None])[..., 0]
        return np.asarray(np.bincount(self.dofs.ravel(), f.ravel(), u.size), dtype=np.float64)


def _numbering(model: DamageModel, closed: Mask) -> Indices:
    """Unknown of each dof, -1 where fixed; slaves of closed gaps share their master's."""
    leader = np.arange(model.load.size)
    leader[model.gaps[0, closed]] = model.gaps[1, closed]
    own = (leader == np.arange(leader.size)) & ~model.fixed
    number = np.where(own, np.cumsum(own) - 1, -1)
    number[model.gaps[0, closed]] = number[model.gaps[1, closed]]
    return np.where(model.fixed, -1, number)


def _summed(number: Indices, f: Array, n: int) -> Array:
    return np.asarray(np.bincount(number[number >= 0], f[number >= 0], n), dtype=np.float64)


def cheapest(n: int) -> Method:
    """The cheapest method for n unknowns: MKL takes long to start for few."""
    return "splu" if n < FEW else choose_method(n)


def balance(stiffness: Stiffness, damage: Array, u: Array, closed: Mask) -> tuple[Array, Mask]:
    """u (2 n,) at F = 1 and closed gaps at fixed damage, from a guess.  Raises SolveError if Newton does not end."""
    model, dofs = stiffness.model, stiffness.dofs
    K = stiffness.at(u, damage)
    for _ in range(NEWTON):
        number = _numbering(model, closed)
        at = number[dofs]
        row, col = np.broadcast_to(at[:, :, None], K.shape), np.broadcast_to(at[:, None, :], K.shape)
        kept = (row >= 0) & (col >= 0)
        n = int(number.max()) + 1
        A = sp.coo_matrix((K[kept], (row[kept], col[kept])), shape=(n, n)).tocsr()
        b = _summed(number, model.load, n)
        v = np.append(make_solver(A, method=cheapest(n)).solve(b), 0.0)
        u = v[number]
        K = stiffness.at(u, damage)
        out = stiffness.force(K, u) - model.load
        slave, master = model.gaps
        new = np.where(closed, out[slave] > 0, u[slave] < u[master])
        left = _summed(number, out, n)
        if np.array_equal(new, closed) and np.linalg.norm(left) < UNBALANCED * np.linalg.norm(b):
            return u, closed
        closed = new
    raise SolveError(f"phase field: no equilibrium in {NEWTON} steps")


def equilibrium(model: DamageModel, damage: Array) -> Array:
    """u (2 n,) at F = 1 and fixed damage (n,).  Raises SolveError if Newton does not end."""
    closed = np.ones(model.gaps.shape[1], bool)
    return balance(Stiffness(model), damage, np.zeros(model.load.size), closed)[0]
