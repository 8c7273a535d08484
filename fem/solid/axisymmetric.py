"""Small-strain linear elasticity on quadratic elements in (r, z): of revolution, for straight pulls, or plane strain.

    find (u_r, u_z):  int [lam tr(eps u) tr(eps v) + 2 mu eps(u) : eps(v)] 2 pi r dr dz = int v . t 2 pi r ds      [N m]
    eps_rr = du_r/dr,   eps_theta = u_r/r,   eps_zz = du_z/dz,   eps_rz = (du_r/dz + du_z/dr)/2                    [-]

The form is in any finite-element text (Zienkiewicz & Taylor, from memory). Forces are those of the whole turn; stresses
are ordered rr, theta, zz, rz. In plane strain (r, z) are Cartesian, eps_theta = 0, and 1 m stands for 2 pi r.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementQuad2, ElementTriP2, ElementVector, FacetBasis, LinearForm, MeshQuad, MeshTri

from ...materials.tensor import lame

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Body:
    """One material on quadratic elements: x (2, n) nodes (r, z) [m]; dofs (2, n) of u_r and u_z; K [N/m].

    constants : E [Pa], nu.
    """

    basis: Basis
    x: Array
    dofs: NDArray[np.int64]
    K: sp.csr_matrix
    constants: tuple[float, float]


def make_body(mesh: MeshQuad | MeshTri, constants: tuple[float, float], plane: bool = False) -> Body:
    """Assemble a body of E [Pa], nu on a mesh in (r, z): K = int B^T D B 2 pi r dr dz, one product an element.

    plane : in plane strain, 1 m deep. Faster than scikit-fem's assembly of the same form, equal to it within round-off.
    """
    element = ElementTriP2() if isinstance(mesh, MeshTri) else ElementQuad2()
    basis = Basis(mesh, ElementVector(element), intorder=5)
    lam, mu = lame(*constants)
    r = np.asarray(basis.global_coordinates())[0]
    B = np.stack([np.stack(ring_strains(basis.basis[i][0], r)) for i in range(basis.Nbfun)])  # (i, 4, elements, points)
    depth = 2 * pi * r
    if plane:
        B[:, 1], depth = 0.0, np.ones_like(r)
    D = lam * np.outer([1, 1, 1, 0], [1, 1, 1, 0]) + 2 * mu * np.diag([1, 1, 1, 2])
    weighted = np.einsum("ab,ibeq->iaeq", D, B, optimize=True) * (depth * basis.dx)
    left, right = (part.transpose(2, 0, 1, 3).reshape(r.shape[0], basis.Nbfun, -1) for part in (B, weighted))
    blocks = left @ right.transpose(0, 2, 1)
    dofs = basis.element_dofs.T
    at = (np.repeat(dofs, basis.Nbfun, axis=1).ravel(), np.tile(dofs, (1, basis.Nbfun)).ravel())
    K = sp.coo_matrix((blocks.ravel(), at), shape=(basis.N, basis.N)).tocsr()
    numbers = [each for each in (basis.nodal_dofs, basis.facet_dofs, basis.interior_dofs) if each.size]
    dofs = np.stack([np.concatenate([each[c] for each in numbers]) for c in (0, 1)])
    return Body(basis, basis.doflocs[:, dofs[0]], dofs, K, constants)


def ring_strains(u, r: Array) -> tuple[Array, Array, Array, Array]:  # type: ignore[no-untyped-def]
    """eps_rr, eps_theta, eps_zz, eps_rz [-] of a vector field in (r, z) [m]."""
    return u.grad[0, 0], u[0] / r, u.grad[1, 1], 0.5 * (u.grad[0, 1] + u.grad[1, 0])


def nodal_stress(body: Body, u: Array) -> tuple[Array, Array]:
    """Points (2, m) and stresses rr, theta, zz, rz (4, m) [Pa], projected (L2) onto quadratics."""
    lam, mu = lame(*body.constants)
    scalar = body.basis.with_element(ElementQuad2())
    field = body.basis.interpolate(u)
    eps = ring_strains(field, np.asarray(body.basis.global_coordinates())[0])
    trace = eps[0] + eps[1] + eps[2]
    sigma = [lam * trace * (c != 3) + 2 * mu * eps[c] for c in range(4)]
    return scalar.doflocs, np.stack([scalar.project(np.asarray(part)) for part in sigma])


def largest_principal(sigma: Array) -> Array:
    """Largest principal stress of axisymmetric stresses (4, m) [Pa]."""
    rr, tt, zz, rz = sigma
    return np.asarray(np.maximum(tt, 0.5 * (rr + zz) + np.hypot(0.5 * (rr - zz), rz)))


def end_force(body: Body, z: float) -> Array:
    """Nodal forces of 1 N along z, spread evenly over the body's face at z [m]."""
    facets = body.basis.mesh.facets_satisfying(lambda x: np.abs(x[1] - z) < 1e-9, boundaries_only=True)
    face = FacetBasis(body.basis.mesh, ElementVector(ElementQuad2()), facets=facets, intorder=5)
    load = LinearForm(lambda v, w: v[1] * 2 * pi * w.x[0]).assemble(face)
    return load / load.sum()
