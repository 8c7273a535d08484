"""Stress recovered from displacements: projected onto continuous shape functions within each material.

The field s* = sum_a phi_a s_a nearest to the stress s = C : eps(u) in the mean square over the material's volume,

    int phi_a (s* - s) dV = 0  for every node a:    M s = r,   M_ab = int phi_a phi_b dV,  r_a = int phi_a C : eps(u) dV

(global L2 projection, Oden & Brauchli, Int. J. Numer. Meth. Engng 3, 1971, from memory), with the quadrature of the
stiffness. The result is continuous, keeps the mean stress over any shape function, and converges with the square of
the element size, like the raw gradient (a check measures it). Values carried out from the 2 x 2 x 2 Gauss points and
averaged would overshoot more in the first ring of elements at a loaded mouth. Between nodes the element's own shape
functions interpolate. Components are ordered xx, yy, zz, yz, xz, xy [Pa].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import cg
from skfem import Basis, ElementHex2, MeshHex2

from .elasticity import displacement_gradient, scalar_basis, stress
from .solver import SolveError

Array = NDArray[np.float64]
PROJECTION_TOLERANCE = 1e-13
VOIGT = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))


@dataclass(frozen=True, slots=True)
class StressField:
    """elements : (m,) element indices.  nodal : (m, 27, 6) projected stress at each element's own nodes [Pa]."""

    elements: NDArray[np.int64]
    nodal: Array

    def on(self, elements: NDArray[np.int64], local: Array) -> Array:
        """Stress (e, p, 6) in elements (e,) of the mesh at local coordinates (3, p) of each [Pa]."""
        order = np.argsort(self.elements)
        row = order[np.searchsorted(self.elements, elements, sorter=order)]
        return np.einsum("ap,eac->epc", _shape(local), self.nodal[row], optimize=True)


def _shape(local: Array) -> Array:
    """Values (27, p) of the shape functions at local coordinates (3, p)."""
    element = ElementHex2()
    return np.stack([element.lbasis(local, i)[0] for i in range(27)])


def recover(mesh: MeshHex2, u: Array, regions: list[tuple[NDArray[np.int64], Array]]) -> StressField:
    """Stress field [Pa] over regions [(element indices, C), ...], projected within each region only; u (3 nodes,) [m].

    Raises SolveError if a projection does not come out.
    """
    rows, values = [], []
    for elements, C in regions:
        if elements.size == 0:
            continue
        basis = scalar_basis(mesh, elements)
        at_points = stress(C, displacement_gradient(basis, u))
        voigt = np.stack([at_points[..., i, j] for i, j in VOIGT], axis=-1)
        rows.append(elements)
        values.append(_project(basis, voigt))
    return StressField(np.concatenate(rows), np.concatenate(values))


def _project(basis: Basis, values: Array) -> Array:
    """Nodal values (m, 27, 6) whose field is nearest to values (m, points, 6), in the mean square over the volume."""
    phi = np.stack([np.asarray(shape[0])[0] for shape in basis.basis])  # (27, points), the same in every element
    moments = np.einsum("ap,epc,ep->eac", phi, values, basis.dx, optimize=True)
    blocks = np.einsum("ap,bp,ep->eab", phi, phi, basis.dx, optimize=True)
    used, dofs = np.unique(basis.element_dofs.T, return_inverse=True)
    dofs = dofs.reshape(-1, 27)
    at = (np.repeat(dofs, 27, axis=1).ravel(), np.tile(dofs, (1, 27)).ravel())
    mass = sp.coo_matrix((blocks.ravel(), at), shape=(used.size, used.size)).tocsr()
    right = np.zeros((used.size, 6))
    np.add.at(right, dofs, moments)
    scale = 1 / np.sqrt(mass.diagonal())
    scaled = mass.multiply(scale[:, None]).multiply(scale).tocsr()  # well conditioned whatever the elements' sizes
    found = np.empty_like(right)
    for c, column in enumerate((scale[:, None] * right).T):
        found[:, c], failed = cg(scaled, column, rtol=PROJECTION_TOLERANCE, maxiter=500)
        if failed:
            raise SolveError(f"stress recovery: the projection did not settle in {failed} steps")
    return (scale[:, None] * found)[dofs]


def tensor(voigt: Array) -> Array:
    """Symmetric tensors (..., 3, 3) of components (..., 6), both [Pa]."""
    out = np.empty((*voigt.shape[:-1], 3, 3))
    for c, (i, j) in enumerate(VOIGT):
        out[..., i, j] = out[..., j, i] = voigt[..., c]
    return out


def principal(voigt: Array) -> Array:
    """Principal stresses (..., 3) in rising order [Pa] of stresses (..., 6)."""
    return np.linalg.eigvalsh(tensor(voigt)).astype(np.float64)


def largest_direction(voigt: Array) -> Array:
    """Unit vector (..., 3) of the largest principal stress of components (..., 6) [Pa]; its sign has no meaning."""
    return np.linalg.eigh(tensor(voigt))[1][..., 2]
