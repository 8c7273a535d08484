"""Small-strain linear elasticity on 27-node hexahedra: stiffness, loads and strains.

    find u:  int eps(v) : C : eps(u) dV = int v . f dV     for all v,       eps(u) = (grad u + grad u^T) / 2    [N m]

Fields are numbered node by node, dof = 3 node + component. `stiffness_form` is the isotropic form as scikit-fem reads
it; `assemble_stiffness` gives the same matrix for any stiffness tensor C (3, 3, 3, 3) [Pa], constant over each region,
from the scalar products of shape-function gradients,

    K[(a, i), (b, j)] = sum_kl C_ikjl int d_k phi_a d_l phi_b dV,

one dense product an element instead of a call for each pair of the 81 dofs (`validation/benchmarks/elastic_solve.py`).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementHex2, MeshHex2
from skfem.helpers import ddot, sym_grad, trace

Array = NDArray[np.float64]
CHUNK = 512  # elements assembled at a time (bounds memory to about 0.1 GB)
QUADRATURE = 4  # exact on a brick: 3 x 3 x 3 Gauss points


@BilinearForm
def stiffness_form(u, v, w):  # type: ignore[no-untyped-def]
    """a(u, v) = int lam tr eps(u) tr eps(v) + 2 mu eps(u) : eps(v) dV   [N m]"""
    return w.lam * trace(sym_grad(u)) * trace(sym_grad(v)) + 2.0 * w.mu * ddot(sym_grad(u), sym_grad(v))


def scalar_basis(mesh: MeshHex2, elements: NDArray[np.int64] | None = None, intorder: int = QUADRATURE) -> Basis:
    """Triquadratic scalar basis whose dofs are the nodes of the mesh."""
    return Basis(mesh, ElementHex2(), elements=elements, intorder=intorder)


def gradients(basis: Basis) -> tuple[Array, Array]:
    """Shape-function gradients (elements, 27, 3, points) [1/m] and weights det J w (elements, points) [m^3]."""
    grad = np.stack([phi[0].grad for phi in basis.basis])  # (27, 3, elements, points)
    return np.ascontiguousarray(grad.transpose(2, 0, 1, 3)), basis.dx


def assemble_stiffness(mesh: MeshHex2, regions: Iterable[tuple[NDArray[np.int64], Array]]) -> sp.csr_matrix:
    """Stiffness matrix (3 nodes, 3 nodes) [N/m] of disjoint regions [(element indices, C (3, 3, 3, 3) [Pa]), ...]."""
    n = mesh.doflocs.shape[1]
    keys, blocks = [], []
    for elements, C in regions:
        by_pair = C.transpose(1, 3, 0, 2).reshape(9, 9)  # C_ikjl as (k l, i j)
        for at in range(0, len(elements), CHUNK):
            basis = scalar_basis(mesh, elements[at : at + CHUNK])
            grad, dx = gradients(basis)
            m, nodes = grad.shape[0], grad.shape[1]
            rows = grad.reshape(m, nodes * 3, -1)
            products = (rows * dx[:, None, :]) @ rows.transpose(0, 2, 1)
            products = products.reshape(m, nodes, 3, nodes, 3).transpose(0, 1, 3, 2, 4).reshape(-1, 9)
            blocks.append(products @ by_pair)
            dofs = basis.element_dofs.T.astype(np.int64)  # (m, 27)
            keys.append((dofs[:, :, None] * n + dofs[:, None, :]).ravel())
    return _sum_blocks(np.concatenate(keys), np.concatenate(blocks), n)


def _sum_blocks(keys: NDArray[np.int64], blocks: Array, n: int) -> sp.csr_matrix:
    """Add up 3 x 3 blocks (m, 9) with the same key = row * n + column."""
    unique, place = np.unique(keys, return_inverse=True)
    data = np.stack([np.bincount(place, weights=blocks[:, c]) for c in range(9)], axis=1).reshape(-1, 3, 3)
    row, column = np.divmod(unique, n)
    indptr = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=n))])
    return sp.bsr_matrix((data, column.astype(np.int32), indptr.astype(np.int32)), shape=(3 * n, 3 * n)).tocsr()


def spread_force(mesh: MeshHex2, elements: NDArray[np.int64], force: Array, point: Array) -> Array:
    """Nodal forces (3 nodes,) [N] of a body force f = a + b x (x - point) over `elements`.

    Its resultant is `force` [N] and its moment about `point` [m] is zero: the force's line of action passes through
    the point wherever the elements lie. Force and point in the plane y = 0; the elements are the half y >= 0.
    """
    basis = scalar_basis(mesh, elements)
    x, dx = np.asarray(basis.global_coordinates()), basis.dx
    arm = x - point[:, None, None]
    one = np.ones_like(arm[0])
    zero = np.zeros_like(one)
    fields = np.stack([[one, zero, zero], [zero, zero, one], [arm[2], zero, -arm[0]]])  # unit x, z; turning about y
    moment = arm[2] * fields[:, 0] - arm[0] * fields[:, 2]
    resultants = np.stack([(fields[:, 0] * dx).sum((1, 2)), (fields[:, 2] * dx).sum((1, 2)), (moment * dx).sum((1, 2))])
    f = np.tensordot(np.linalg.solve(resultants, [force[0], force[2], 0.0]), fields, 1)
    phi = np.stack([np.asarray(value[0]) for value in basis.basis])  # (27, elements or 1, points)
    nodal = np.einsum("aep,iep,ep->aei", np.broadcast_to(phi, (27, *dx.shape)), f, dx)
    out = np.zeros((mesh.doflocs.shape[1], 3))
    np.add.at(out, basis.element_dofs, nodal)
    return out.ravel()


def displacement_gradient(basis: Basis, u: Array) -> Array:
    """grad u = d u_i / d x_k [-] at the basis's points, shape (elements, points, 3, 3); u (3 nodes,) [m]."""
    grad, _ = gradients(basis)
    return np.einsum("eakp,eai->epik", grad, u.reshape(-1, 3)[basis.element_dofs.T])


def stress(C: Array, grad_u: Array) -> Array:
    """Cauchy stress sigma = C : eps [Pa] for displacement gradients (..., 3, 3)."""
    return np.einsum("ijkl,...kl->...ij", C, grad_u)
