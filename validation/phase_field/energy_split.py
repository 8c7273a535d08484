"""What broken material still holds: splits of the elastic energy for phase-field fracture, in principal strains.

    psi = lam/2 tr(eps)^2 + mu eps:eps = psi_0 + psi_1;      damage degrades psi_1 only                          [J/m3]
    sigma = P^T D e,   d sigma/d eps = P^T D P + (s_1 - s_2)/(2 (e_1 - e_2)) q q^T,   e = P eps, q eps = 0

psi_0 is a function of the principal strains e with stress D e, D (3, 3) constant by parts, so psi_0 = e.De/2:

no_tension   least psi(eps - c) over all crack strains c >= 0: broken material bears pressure along any axis, tension
             along none, as masonry does (Del Piero, Meccanica 24, 1989; Freddi & Royer-Carfagni, J. Mech. Phys. Solids
             58, 2010; both from memory). Struts live on: pressure along one axis, however high, breaks none.
spectral     lam/2 <-tr>^2 + mu sum <-e_i>^2 (Miehe, Hofacker, Welschinger, Comput. Methods Appl. Mech. Eng. 199, 2010,
             from memory): struts break at 1/(2 nu) times sigma_t or so
volumetric   K/2 <-tr>^2 (Amor, Marigo, Maurini, J. Mech. Phys. Solids 57, 2009, from memory): cracks slide freely, but
             struts break below 2 sigma_t
none         0: broken material holds nothing

Strains are ordered 11, 33 (hoop), 22, 2 x 12. Limit: the first two resist sliding along a broken band that cannot
dilate: right for rough crack faces, too stiff for smooth ones.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ...materials.tensor import lame

Array = NDArray[np.float64]


def _no_tension(e: Array, lam: Array, mu: Array) -> Array:
    """D (..., 3, 3) of masonry-like material at principal strains e (..., 3)."""
    order = np.argsort(e, axis=-1)
    low, mid, high = np.moveaxis(np.take_along_axis(e, order, axis=-1), -1, 0)
    nu, E = lam / (2 * (lam + mu)), mu * (3 * lam + 2 * mu) / (lam + mu)
    full = lam * (low + mid + high) + 2 * mu * high < 0
    two = ~full & (nu * low + mid < 0)
    one = ~full & ~two & (low < 0)
    D = np.zeros((*e.shape, 3))
    for i in range(3):
        for j in range(3):
            D[..., i, j] = full * (lam + 2 * mu * (i == j))
    plane = two * E / (1 - nu**2)
    D[..., 0, 0] += plane + one * E
    D[..., 1, 1] += plane
    D[..., 0, 1] += nu * plane
    D[..., 1, 0] += nu * plane
    back = np.argsort(order, axis=-1)
    D = np.take_along_axis(D, back[..., :, None], axis=-2)
    return np.take_along_axis(D, back[..., None, :], axis=-1)


def _spectral(e: Array, lam: Array, mu: Array) -> Array:
    shrinking = (e.sum(axis=-1) < 0) * lam
    return shrinking[..., None, None] * np.ones((3, 3)) + (2 * mu[..., None] * (e < 0))[..., None] * np.eye(3)


def _volumetric(e: Array, lam: Array, mu: Array) -> Array:
    return ((e.sum(axis=-1) < 0) * (lam + 2 * mu / 3))[..., None, None] * np.ones((3, 3))


def _none(e: Array, lam: Array, mu: Array) -> Array:
    return np.zeros((*e.shape, 3))


SPLITS: dict[str, Callable[[Array, Array, Array], Array]] = {
    "no_tension": _no_tension,
    "spectral": _spectral,
    "volumetric": _volumetric,
    "none": _none,
}


def regularisation_length(split: str, elastic: tuple[float, float], fracture_energy: float, strength: float) -> float:
    """ell [m] at which a bar of E [Pa], nu, energy G_c [J/m2] breaks at `strength` [Pa]: 2 psi_1 = 3 G_c/(8 ell)."""
    E, nu = elastic
    lam, mu = (np.array(value) for value in lame(E, nu))
    e = strength / E * np.array([1.0, -nu, -nu])
    held = e @ SPLITS[split](e, lam, mu) @ e
    return float(3 * fracture_energy / 8 / (strength**2 / E - held))


def principal_strains(eps: Array) -> tuple[Array, Array, Array]:
    """Principal strains e (..., 3) (two in the plane, hoop) and P (..., 3, 4), q (..., 4): e = P eps, q eps = 0."""
    angle = 0.5 * np.arctan2(eps[..., 3], eps[..., 0] - eps[..., 2])
    c, s = np.cos(angle), np.sin(angle)
    P, q = np.zeros((*eps.shape[:-1], 3, 4)), np.zeros(eps.shape)
    P[..., 0, 0] = P[..., 1, 2] = c * c
    P[..., 0, 2] = P[..., 1, 0] = s * s
    P[..., 0, 3], P[..., 1, 3], P[..., 2, 1] = c * s, -c * s, 1.0
    q[..., 0], q[..., 2], q[..., 3] = -2 * c * s, 2 * c * s, c * c - s * s
    return (P @ eps[..., None])[..., 0], P, q


def tangent(split: str, eps: Array, g: Array, lam: Array, mu: Array) -> Array:
    """d sigma/d eps (..., 4, 4), which times eps is sigma, at strains eps (..., 4); g (...): share of psi_1 left."""
    e, P, q = principal_strains(eps)
    whole = lam[..., None, None] + 2 * mu[..., None, None] * np.eye(3)
    D = g[..., None, None] * whole + (1 - g)[..., None, None] * SPLITS[split](e, lam, mu)
    s = (D @ e[..., None])[..., 0]
    apart = e[..., 0] - e[..., 1]
    near = np.abs(apart) <= 1e-9 * np.abs(e).max(axis=-1)
    shear = np.where(near, D[..., 0, 0] - D[..., 0, 1], (s[..., 0] - s[..., 1]) / np.where(near, 1.0, apart)) / 2
    return np.swapaxes(P, -1, -2) @ D @ P + shear[..., None, None] * q[..., :, None] * q[..., None, :]


def degraded_energy(split: str, eps: Array, lam: Array, mu: Array) -> Array:
    """psi_1 (...) [J/m3] at strains eps (..., 4)."""
    e, _, _ = principal_strains(eps)
    held = (e[..., None, :] @ SPLITS[split](e, lam, mu) @ e[..., None])[..., 0, 0]
    return np.asarray(0.5 * (lam * e.sum(axis=-1) ** 2 + 2 * mu * (e**2).sum(axis=-1) - held))
