"""Stress recovered from displacements: Gauss-point values carried to the nodes and averaged within each material.

In a 27-node hexahedron the stresses at the 2 x 2 x 2 Gauss points are the most accurate (Zienkiewicz & Zhu, Int. J.
Numer. Meth. Engng 33, 1992, from memory): the trilinear field through them is evaluated at the 27 nodes and averaged
over the elements of the same material that share the node. The result is continuous and converges with the square of
the element size, like the raw gradient (a test measures it); it is not superconvergent. Between nodes the element's
own shape functions interpolate. Components are ordered xx, yy, zz, yz, xz, xy [Pa].

Limit: in the first ring of elements at a loaded mouth the stress falls more steeply than a trilinear field can follow;
the fit overshoots at the ring's outer edge (a thin red arc in front of steep or short tubes on the pictures, which
moves inwards as the mesh is refined). Averages over the criterion's line are within the error stated in the README.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2, MeshHex2

from .elasticity import displacement_gradient, scalar_basis, stress

Array = NDArray[np.float64]
VOIGT = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))


@dataclass(frozen=True, slots=True)
class StressField:
    """elements : (m,) element indices.  nodal : (m, 27, 6) averaged stress at each element's own nodes [Pa]."""

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
    """Stress field over regions [(element indices, C), ...], averaged within each region only; u (3 nodes,)."""
    rows, values = [], []
    for elements, C in regions:
        if elements.size == 0:
            continue
        basis = scalar_basis(mesh, elements, intorder=3)  # 2 x 2 x 2 points
        at_gauss = stress(C, displacement_gradient(basis, u))
        voigt = np.stack([at_gauss[..., i, j] for i, j in VOIGT], axis=-1)
        extrapolate = np.linalg.solve(_trilinear(basis.X), _trilinear(ElementHex2.doflocs.T)).T
        at_nodes = np.einsum("ng,egc->enc", extrapolate, voigt)
        dofs = basis.element_dofs.T
        total = np.zeros((mesh.doflocs.shape[1], 6))
        np.add.at(total, dofs, at_nodes)
        count = np.bincount(dofs.ravel(), minlength=mesh.doflocs.shape[1])
        rows.append(elements)
        values.append((total / np.maximum(count, 1)[:, None])[dofs])
    return StressField(np.concatenate(rows), np.concatenate(values))


def _trilinear(X: Array) -> Array:
    """Trilinear monomials (8, p) at X (3, p)."""
    x, y, z = X
    return np.stack([np.ones_like(x), x, y, z, x * y, y * z, x * z, x * y * z])


def tensor(voigt: Array) -> Array:
    """Symmetric tensors (..., 3, 3) of components (..., 6)."""
    out = np.empty((*voigt.shape[:-1], 3, 3))
    for c, (i, j) in enumerate(VOIGT):
        out[..., i, j] = out[..., j, i] = voigt[..., c]
    return out


def principal(voigt: Array) -> Array:
    """Principal stresses (..., 3) in rising order [Pa] of stresses (..., 6)."""
    return np.linalg.eigvalsh(tensor(voigt)).astype(np.float64)


def largest_direction(voigt: Array) -> Array:
    """Unit vector (..., 3) of the largest principal stress; its sign has no meaning."""
    return np.linalg.eigh(tensor(voigt))[1][..., 2]


def von_mises(voigt: Array) -> Array:
    """Von Mises stress (...) [Pa]."""
    xx, yy, zz, yz, xz, xy = np.moveaxis(voigt, -1, 0)
    return np.sqrt(0.5 * ((xx - yy) ** 2 + (yy - zz) ** 2 + (zz - xx) ** 2) + 3 * (yz**2 + xz**2 + xy**2))
