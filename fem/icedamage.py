"""A solid of 8-node hexahedra that breaks as a phase field (AT1) and goes on bearing pressure.

The energy is that of `phasefield` and `energysplit` (no_tension by default), in three dimensions:

    E(u, a) = int [g psi_1(eps) + psi_0(eps)] + 3 G_c/8 [a/ell + ell |grad a|^2] dV,   g: mean of the nodes' (1 - a)^2

Strain, and with it the split, is taken at an element's middle; the stiffness C(eps) that comes of it holds for all of
the element (2 x 2 x 2 points). C(eps) eps is the stress, so that the forces of `Solid.stiffness` at u are exact where
u does not change any more: one such step and one minimisation over a are taken in turn.

    C = P^T D P + sum over pairs i < j of G_ij q_ij q_ij^T,    e_i = P_i eps principal,   q_ij eps = 2 v_i.eps.v_j = 0
    G_ij = (s_i - s_j) / (2 (e_i - e_j))

ell may change from element to element (it follows the size of the mesh); on elements of size h a crack costs
G_c (1 + 3 h/(8 ell)), by which G_c is divided, as in `phasefieldmodel`. Voigt's order: 11, 22, 33, 2 x 23, 13, 12.

A band resists sliding as long as it cannot dilate (`energysplit`), and so holds a cone whose faces slide. An element
that has broken (mean damage above BROKEN) therefore keeps the normal n of its crack, the axis of its largest strain
then, and holds what smooth faces hold: no shear on them, pressure across them where they touch, all else as whole ice
(after Steinke & Kaliske, Comput. Mech. 63, 2019, from memory): `cracked_stiffness`.

Round a tube, on affordable elements, it breaks the ice everywhere instead of along a surface (`crackpull`): a reference
for bodies with one crack.

Limits: damaged ice that has not broken still resists sliding; a crack's normal does not turn; no friction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from .energysplit import SPLITS
from .phasefield import minimise_bounded
from .phasefieldmodel import RESIDUAL

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]
PAIRS = ((1, 2), (0, 2), (0, 1))  # as 23, 13, 12 in Voigt's order
TRACE = np.array([1.0, 1.0, 1.0, 0.0, 0.0, 0.0])
BROKEN = 0.9  # mean damage of an element from which on its crack has a direction
CORNER = np.array([[1, 1, 1], [1, 1, 0], [1, 0, 1], [0, 1, 1], [1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0, 0]])


@dataclass(frozen=True, slots=True)
class Material:
    """Of each element, (m,): lam, mu [Pa]; G_c as it is used [J/m2]; ell [m]; whether it can break."""

    lam: Array
    mu: Array
    toughness: Array
    ell: Array
    brittle: Mask


def corrected(toughness: Array, size: Array | float, ell: Array) -> Array:
    """G_c that makes a crack on elements of `size` cost `toughness` [J/m2]."""
    return toughness / (1 + 3 * size / (8 * ell))


def _gradients(points: Array, t: Indices, at: Array) -> tuple[Array, Array]:
    """Gradients of the shape functions (m, q, 3, 8) and volumes det J (m, q) at local points (3, q)."""
    x = at.T[:, None, :]  # (q, 1, 3)
    sign = 2.0 * CORNER - 1
    parts = np.where(CORNER == 1, x, 1 - x)  # (q, 8, 3)
    local = np.stack([sign[:, k] * parts[:, :, (k + 1) % 3] * parts[:, :, (k + 2) % 3] for k in range(3)], axis=1)
    corners = points[:, t].transpose(2, 1, 0)  # (m, 8, 3)
    J = local[None] @ corners[:, None]  # (m, q, 3 local, 3)
    dN = np.linalg.solve(J, np.broadcast_to(local, (len(corners), *local.shape)))
    return np.asarray(dN, np.float64), np.asarray(np.abs(np.linalg.det(J)), np.float64)


def _strain_matrix(dN: Array) -> Array:
    """B (m, q, 6, 24) of gradients (m, q, 3, 8); dof = 3 node + component."""
    B = np.zeros((*dN.shape[:2], 6, 24))
    for row in range(3):
        B[:, :, row, row::3] = dN[:, :, row]
    for row, (i, j) in enumerate(PAIRS, 3):
        B[:, :, row, i::3], B[:, :, row, j::3] = dN[:, :, j], dN[:, :, i]
    return B


def _principal(eps: Array) -> tuple[Array, Array, Array]:
    """Principal strains (m, 3), P (m, 3, 6) and q (m, 3, 6) of PAIRS, for strains (m, 6)."""
    tensor = np.empty((len(eps), 3, 3))
    for i in range(3):
        tensor[:, i, i] = eps[:, i]
    for row, (i, j) in enumerate(PAIRS, 3):
        tensor[:, i, j] = tensor[:, j, i] = 0.5 * eps[:, row]
    e, v = np.linalg.eigh(tensor)
    v = v.transpose(0, 2, 1)  # rows: directions

    def rows(a: Array, b: Array) -> Array:
        mixed = [a[..., i] * b[..., j] + a[..., j] * b[..., i] for i, j in PAIRS]
        return np.stack([a[..., 0] * b[..., 0], a[..., 1] * b[..., 1], a[..., 2] * b[..., 2], *mixed], axis=-1)

    P = rows(v, v)
    P[..., 3:] *= 0.5
    i, j = np.array(PAIRS).T
    q = rows(v[:, i], v[:, j])
    q[..., :3] *= 2
    return e, P, q


def cracked_stiffness(eps: Array, normal: Array, lam: Array, mu: Array) -> Array:
    """C (m, 6, 6) across a crack of fixed normal (m, 3) at strains eps (m, 6): smooth faces that touch or stand apart.

    The crack takes up the strains n n, n s, n t that free its faces: of shear always, of the normal stress where open.
    """
    t = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal), axis=1)])
    t /= np.linalg.norm(t, axis=1, keepdims=True)
    s = np.cross(normal, t)
    A = np.stack([_voigt(normal, other) for other in (normal, s, t)], axis=2)  # (m, 6, 3)
    C = lam[:, None, None] * np.outer(TRACE, TRACE) + mu[:, None, None] * np.diag(2 * TRACE + 1 - TRACE)
    K, right = A.transpose(0, 2, 1) @ C @ A, A.transpose(0, 2, 1) @ C
    opening = np.linalg.solve(K, right @ eps[:, :, None])[:, 0, 0]
    free = C - right.transpose(0, 2, 1) @ np.linalg.solve(K, right)
    slide = C - right[:, 1:].transpose(0, 2, 1) @ np.linalg.solve(K[:, 1:, 1:], right[:, 1:])
    return np.where((opening > 0)[:, None, None], free, slide)


def _voigt(a: Array, b: Array) -> Array:
    """The strain (m, 6) of an opening along b (m, 3) over a plane of normal a (m, 3)."""
    mixed = [a[:, i] * b[:, j] + a[:, j] * b[:, i] for i, j in PAIRS]
    return np.stack([*(a[:, i] * b[:, i] for i in range(3)), *mixed], axis=1)


def split_stiffness(split: str, eps: Array, g: Array, lam: Array, mu: Array) -> tuple[Array, Array]:
    """C (m, 6, 6) at strains eps (m, 6), and psi_1 (m,) [J/m3]; g (m,): share of psi_1 left."""
    e, P, q = _principal(eps)
    held = SPLITS[split](e, lam, mu)
    whole = lam[:, None, None] + 2 * mu[:, None, None] * np.eye(3)
    psi = 0.5 * (e[:, None] @ (whole - held) @ e[:, :, None])[:, 0, 0]
    D = g[:, None, None] * whole + (1 - g)[:, None, None] * held
    s = (D @ e[:, :, None])[:, :, 0]
    i, j = np.array(PAIRS).T
    apart = e[:, i] - e[:, j]
    near = np.abs(apart) <= 1e-9 * np.abs(e).max(axis=1, keepdims=True)
    shear = np.where(near, D[:, i, i] - D[:, i, j], (s[:, i] - s[:, j]) / np.where(near, 1.0, apart)) / 2
    C = P.transpose(0, 2, 1) @ D @ P + q.transpose(0, 2, 1) @ (shear[:, :, None] * q)
    return C, psi


class Solid:
    """Hexahedra with their materials; matrices of both problems over fixed places in memory.

    points : (3, n) [m].  t : (8, m) corners in scikit-fem's order.
    """

    def __init__(self, points: Array, t: Indices, material: Material, split: str = "no_tension") -> None:
        self.points, self.t, self.material, self.split = points, t, material, split
        self.n = points.shape[1]
        gauss, weights = np.array([0.5 - 12**-0.5, 0.5 + 12**-0.5]), 0.125
        at = np.stack(np.meshgrid(gauss, gauss, gauss, indexing="ij")).reshape(3, 8)
        dN, det = _gradients(points, t, at)
        self.B, self.weight = _strain_matrix(dN), det * weights
        self.volume = self.weight.sum(axis=1)
        middle, _ = _gradients(points, t, np.full((3, 1), 0.5))
        self.middle = _strain_matrix(middle)[:, 0]
        nodes = t.T.astype(np.int64)
        self.dofs = (3 * nodes[:, :, None] + np.arange(3)).reshape(len(nodes), 24)
        self.whole = self._cells(np.ones(len(nodes), bool), self._undamaged())
        self.normal = np.full((len(nodes), 3), np.nan)
        self._damage_matrices(dN)

    def keep_directions(self, u: Array, damage: Array) -> None:
        """Give elements that have just broken the normal of their crack: the axis of the largest strain at u (3 n,)."""
        new = self.material.brittle & (damage[self.t].mean(axis=0) > BROKEN) & np.isnan(self.normal[:, 0])
        if new.any():
            _, P, _ = _principal(self.strain(u)[new])
            axis = P[:, 2]  # the largest's v v^T, shears halved twice
            tensor = np.empty((int(new.sum()), 3, 3))
            for i in range(3):
                tensor[:, i, i] = axis[:, i]
            for row, (i, j) in enumerate(PAIRS, 3):
                tensor[:, i, j] = tensor[:, j, i] = axis[:, row]
            self.normal[new] = np.linalg.eigh(tensor)[1][:, :, 2]

    def _undamaged(self) -> Array:
        lam, mu = self.material.lam, self.material.mu
        C = np.zeros((lam.size, 6, 6))
        C[:, :3, :3] = lam[:, None, None]
        C[:, range(6), range(6)] += np.where(np.arange(6) < 3, 2.0, 1.0) * mu[:, None]
        return C

    def _cells(self, cells: Mask, C: Array) -> Array:
        B = self.B[cells]
        weighted = (self.weight[cells][..., None, None] * (C[:, None] @ B)).reshape(len(B), 48, 24)
        return B.reshape(len(B), 48, 24).transpose(0, 2, 1) @ weighted

    def _damage_matrices(self, dN: Array) -> None:
        own, brittle = self.material, self.material.brittle
        nodes, dN, w = self.t.T[brittle], dN[brittle], self.weight[brittle]
        scale = 3 * own.toughness[brittle] / 8
        gradient = (2 * scale * own.ell[brittle])[:, None, None] * np.einsum("eq,eqka,eqkb->eab", w, dN, dN)
        row, col = np.broadcast_to(nodes[:, :, None], gradient.shape), np.broadcast_to(nodes[:, None], gradient.shape)
        self.gradient = sp.coo_matrix((gradient.ravel(), (row.ravel(), col.ravel())), (self.n, self.n)).tocsr()
        self._brittle_nodes = nodes
        self.onset = self._spread(scale / own.ell[brittle] * self.volume[brittle])

    def _spread(self, of_cells: Array) -> Array:
        """An eighth of each brittle cell's number at each of its nodes, (n,)."""
        parts = np.bincount(self._brittle_nodes.ravel(), np.repeat(of_cells / 8, 8), self.n)
        return np.asarray(parts, np.float64)

    def left(self, damage: Array) -> Array:
        """g (m,) of damage (n,)."""
        return RESIDUAL + (1 - RESIDUAL) * ((1 - damage) ** 2)[self.t].mean(axis=0)

    def strain(self, u: Array) -> Array:
        """Strains (m, 6) at the middles, u (3 n,)."""
        return (self.middle @ u[self.dofs][:, :, None])[:, :, 0]

    def cells(self, u: Array, damage: Array) -> Array:
        """Elements' stiffness matrices (m, 24, 24) at u (3 n,) and damage (n,)."""
        hurt = self.material.brittle & (damage[self.t].max(axis=0) > 0)
        K = self.whole.copy()
        eps, lam, mu = self.strain(u)[hurt], self.material.lam[hurt], self.material.mu[hurt]
        left = self.left(damage)[hurt]
        C, _ = split_stiffness(self.split, eps, left, lam, mu)
        directed = ~np.isnan(self.normal[hurt, 0])
        if directed.any():
            crack = cracked_stiffness(eps[directed], self.normal[hurt][directed], lam[directed], mu[directed])
            C[directed] = crack + RESIDUAL * self._undamaged()[hurt][directed]
        K[hurt] = self._cells(hurt, C)
        return K

    def driving_energy(self, u: Array) -> Array:
        """psi_1 (m',) of the brittle elements at u (3 n,) [J/m3]."""
        at = self.material.brittle
        lam, mu = self.material.lam[at], self.material.mu[at]
        return split_stiffness(self.split, self.strain(u)[at], np.ones(lam.size), lam, mu)[1]

    def break_further(self, u: Array, before: Array) -> Array:
        """Damage (n,) that minimises the energy at u (3 n,), nowhere less than `before` (n,)."""
        drive = self._spread(2 * (1 - RESIDUAL) * self.driving_energy(u) * self.volume[self.material.brittle])
        H = (self.gradient + sp.diags_array(drive)).tocsr()
        return minimise_bounded(H, drive - self.onset, before, before)

    def dissipated(self, damage: Array) -> float:
        """Energy of the damage (n,) [J]."""
        return float(self.onset @ damage + 0.5 * damage @ (self.gradient @ damage))
