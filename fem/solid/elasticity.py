"""Small-strain linear elasticity on 27-node hexahedra: stiffness, loads and strains.

    find u:  int eps(v) : C : eps(u) dV = int v . f dV     for all v,       eps(u) = (grad u + grad u^T) / 2    [N m]

Fields are numbered node by node, dof = 3 node + component. `stiffness_form` is the isotropic form as scikit-fem reads
it; `element_stiffness` gives the same for any stiffness tensor C (3, 3, 3, 3) [Pa], constant over each region, from the
scalar products of shape-function gradients,

    K[(a, i), (b, j)] = sum_kl C_ikjl int d_k phi_a d_l phi_b dV,

in dense products instead of a call for each pair of the 81 dofs. `assembly` adds the elements up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementHex2, MeshHex2
from skfem.helpers import ddot, sym_grad, trace
from skfem.quadrature import get_quadrature

from ...materials.tensor import Transverse, isotropic

Array = NDArray[np.float64]
Regions = Sequence[tuple[NDArray[np.int64], Array]]  # (element indices, C (3, 3, 3, 3) [Pa]), disjoint
CHUNK = 128  # elements at a time: what fits a processor's cache
QUADRATURE = 4  # exact on a brick: 3 x 3 x 3 Gauss points


def tube_in_ice(
    named: Mapping[str, NDArray[np.int64]], ice: Transverse, crust: Transverse, metal: tuple[float, float]
) -> Regions:
    """Regions of a half model.  named : its elements by region.  metal : E [Pa], nu."""
    return [
        (named["ice"], ice.tensor()),
        (named["crust"], crust.tensor()),
        (named["tube"], isotropic(*metal)),
    ]


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


@cache
def quadrature() -> tuple[Array, Array]:
    """The stiffness's points (3, points) on the reference cube, and their weights (points,)."""
    X, W = get_quadrature(ElementHex2().refdom, QUADRATURE)
    return X, W


@cache
def _local_gradients() -> Array:
    """Gradients (3, 27, points) of the shape functions on the reference cube at those points."""
    return np.stack([ElementHex2().lbasis(quadrature()[0], i)[1] for i in range(27)], axis=1)


def shape_gradients(mesh: MeshHex2, elements: NDArray[np.int64]) -> tuple[Array, Array]:
    """Shape-function gradients (m, 3, 27, points) [1/m] and weights (m, points) [m^3] at the stiffness's points."""
    local, W = _local_gradients(), quadrature()[1]
    x = mesh.doflocs.T[mesh.dofs.element_dofs[:, elements].T]  # (m, 27, 3)
    points = W.size
    J = x.transpose(0, 2, 1) @ local.transpose(1, 0, 2).reshape(27, -1)  # d x_i / d xi_r as (i, (r, point))
    J = J.reshape(-1, 3, 3, points)
    cross = [np.cross(J[:, :, (r + 1) % 3], J[:, :, (r + 2) % 3], axis=1) for r in range(3)]  # rows of J^-1 times det
    det = np.einsum("mip,mip->mp", J[:, :, 0], cross[0])
    grad = np.zeros((len(x), 3, 27, points))
    for r in range(3):
        grad += (cross[r] / det[:, None])[:, :, None] * local[r]
    return grad, np.abs(det) * W


def element_stiffness(
    mesh: MeshHex2, elements: NDArray[np.int64], C: Array, order: NDArray[np.int64] | None = None
) -> Array:
    """Element matrices K[(a, i), (b, j)] of the module docstring as (m, 3, 3, 27, 27), i and j first [N/m].

    order : (m, 27) of the element's nodes, by default their own.
    """
    grad, weight = shape_gradients(mesh, elements)
    if order is not None:
        grad = np.take_along_axis(grad, order[:, None, :, None], axis=2)
    turned = np.ascontiguousarray(grad.transpose(0, 1, 3, 2))
    products = (grad * weight[:, None, None])[:, :, None] @ turned[:, None]  # (m, k, l, a, b)
    by_pair = C.transpose(0, 2, 1, 3).reshape(9, 9)  # C_ikjl as (i j, k l)
    return (by_pair @ products.reshape(-1, 9, 729)).reshape(-1, 3, 3, 27, 27)


def stresses_at(mesh: MeshHex2, regions: Regions, u: Array) -> Iterator[tuple[NDArray[np.int64], Array, Array, Array]]:
    """Stress of displacements u (3 nodes, k) [m] at the stiffness's points, some elements of one region at a time.

    Yields elements (m,), stress (m, k, 3, 3, points) [Pa], gradients (m, 3, 27, points) and weights (m, points).
    """
    nodal = u.reshape(-1, 3, u.shape[1])
    for elements, C in regions:
        by_pair = C.reshape(9, 9)  # (i j, l k), alike in l and k
        for start in range(0, elements.size, CHUNK):
            part = elements[start : start + CHUNK]
            grad, weight = shape_gradients(mesh, part)
            at = nodal[mesh.dofs.element_dofs[:, part].T]  # (m, 27, 3, k)
            moved = np.ascontiguousarray(at.transpose(0, 3, 2, 1)).reshape(len(part), -1, 27)
            change = moved @ grad.transpose(0, 2, 1, 3).reshape(len(part), 27, -1)  # d u_l / d x_k as ((load, l), ...)
            change = change.reshape(len(part), u.shape[1], 9, -1)
            yield part, (by_pair @ change).reshape(len(part), -1, 3, 3, weight.shape[1]), grad, weight


def nodal_forces(mesh: MeshHex2, regions: Regions, u: Array) -> Array:
    """K u (3 nodes, k) [N] of displacements u (3 nodes, k) [m], without K."""
    out = np.zeros((u.shape[0] // 3, u.shape[1] * 3))
    for elements, sigma, grad, weight in stresses_at(mesh, regions, u):
        m, points = weight.shape
        flux = (sigma * weight[:, None, None, None]).reshape(m, -1, 3 * points)  # ((load, i), (k, point))
        forces = grad.transpose(0, 2, 1, 3).reshape(m, 27, -1) @ flux.transpose(0, 2, 1)
        np.add.at(out, mesh.dofs.element_dofs[:, elements].T, forces)
    return out.reshape(-1, u.shape[1], 3).transpose(0, 2, 1).reshape(u.shape)


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
