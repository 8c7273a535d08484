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
from scipy.sparse.linalg import LinearOperator, cg
from skfem import ElementHex2, MeshHex2

from ..errors import SolveError
from .elasticity import CHUNK, Regions, quadrature, shape_gradients, stresses_at
from .solver import Solver, choose_method, make_solver

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
        return shape_values(local).T @ self.at(elements)

    def at(self, elements: NDArray[np.int64]) -> Array:
        """Values (e, 27, 6) at the nodes of elements (e,) of the mesh [Pa]."""
        order = np.argsort(self.elements)
        return self.nodal[order[np.searchsorted(self.elements, elements, sorter=order)]]


def shape_values(local: Array) -> Array:
    """Values (27, p) of the shape functions at local coordinates (3, p)."""
    element = ElementHex2()
    return np.stack([element.lbasis(local, i)[0] for i in range(27)])


class Recovery:
    """The projection for a mesh and its regions [(element indices, C), ...], each on its own: for any displacements."""

    def __init__(self, mesh: MeshHex2, regions: Regions) -> None:
        self._mesh = mesh
        self._parts = [(region, _Mass(mesh, region[0])) for region in regions if region[0].size]

    def fields(self, u: Array) -> list[StressField]:
        """The stress fields [Pa] of displacements u (3 nodes, k) [m], a column each.

        Raises SolveError if a projection does not come out.
        """
        elements = np.concatenate([region[0] for region, _ in self._parts])
        nodal = [mass.project(self._moments(region, u)) for region, mass in self._parts]
        return [StressField(elements, np.concatenate([part[k] for part in nodal])) for k in range(u.shape[1])]

    def _moments(self, region: tuple[NDArray[np.int64], Array], u: Array) -> Array:
        """int phi_a s dV (m, k, 27, 6) of each element."""
        phi, found = _at_points(), []
        for _, sigma, _, weight in stresses_at(self._mesh, [region], u):
            voigt = np.stack([sigma[:, :, i, j] for i, j in VOIGT], axis=-1)  # (m, k, points, 6)
            found.append((phi * weight[:, None, None, :]) @ voigt)
        return np.concatenate(found)


class _Mass:
    """M of the elements of one region, scaled to a unit diagonal: well conditioned whatever the elements' sizes."""

    def __init__(self, mesh: MeshHex2, elements: NDArray[np.int64]) -> None:
        phi, blocks = _at_points(), []
        for start in range(0, elements.size, CHUNK):
            _, weight = shape_gradients(mesh, elements[start : start + CHUNK])
            blocks.append((phi * weight[:, None, :]) @ phi.T)
        used, dofs = np.unique(mesh.dofs.element_dofs[:, elements].T, return_inverse=True)
        self._dofs = dofs = dofs.reshape(-1, 27)
        at = (np.repeat(dofs, 27, axis=1).ravel(), np.tile(dofs, (1, 27)).ravel())
        mass = sp.coo_matrix((np.concatenate(blocks).ravel(), at), shape=(used.size, used.size)).tocsr()
        self._scale = 1 / np.sqrt(mass.diagonal())
        self._mass = mass.multiply(self._scale[:, None]).multiply(self._scale).tocsr()
        self._solver: Solver | None = None

    def project(self, moments: Array) -> Array:
        """Nodal values (k, m, 27, 6) of moments (m, k, 27, 6)."""
        m, k = moments.shape[:2]
        right = np.zeros((self._scale.size, 6 * k))
        np.add.at(right, self._dofs, moments.transpose(0, 2, 1, 3).reshape(m, 27, -1))
        right *= self._scale[:, None]
        values = (self._scale[:, None] * self._solve(right))[self._dofs]
        return values.reshape(m, 27, k, 6).transpose(2, 0, 1, 3)

    def _solve(self, right: Array) -> Array:
        """M^-1 right (nodes, columns): by MKL's factor, else by conjugate gradients, all columns in one run."""
        if choose_method(len(right)) == "pardiso":
            self._solver = self._solver or make_solver(self._mass, method="pardiso")
            return self._solver.solve(right)
        size = np.linalg.norm(right, axis=0)
        size[size == 0] = 1.0
        shape = right.shape
        times = LinearOperator((right.size,) * 2, lambda x: (self._mass @ x.reshape(shape)).ravel(), dtype=float)
        found, failed = cg(times, (right / size).ravel(), rtol=PROJECTION_TOLERANCE, maxiter=500)
        if failed:
            raise SolveError(f"stress recovery: the projection did not settle in {failed} steps")
        return size * found.reshape(shape)


def recover(mesh: MeshHex2, u: Array, regions: Regions) -> StressField:
    """`Recovery.fields` of one u (3 nodes,) [m]."""
    return Recovery(mesh, regions).fields(u[:, None])[0]


def _at_points() -> Array:
    """Values (27, points) of the shape functions at the stiffness's points."""
    return shape_values(quadrature()[0])


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
