"""Small solids for checks, through the toolkit's own assembly, solver and stress recovery.

A body is a block of 27-node hexahedra moved into shape node by node (curved elements), with tractions on its faces and
displacements prescribed at its nodes. Fields are (3 nodes,), dof = 3 node + component, as in `fem.solid.elasticity`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import ElementHex2, FacetBasis, LinearForm, MeshHex, MeshHex2

from ...fem.solid.assembly import assemble_stiffness
from ...fem.solid.solver import make_solver
from ...fem.solid.stress import recover

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Where = Callable[[Array], Mask]
Regions = Sequence[tuple[NDArray[np.int64], Array]]


def block(lines: Sequence[Array], shape: Callable[[Array], Array] | None = None) -> MeshHex2:
    """Bricks between the grid lines of x, y and z; `shape` moves all nodes (3, n) -> (3, n)."""
    mesh = MeshHex2.from_mesh(MeshHex.init_tensor(*lines))
    return mesh if shape is None else MeshHex2(shape(mesh.doflocs), mesh.t, sort_t=False, validate=False)


def everywhere(mesh: MeshHex2, C: Array) -> list[tuple[NDArray[np.int64], Array]]:
    """One material over the whole mesh, as `assemble_stiffness` and `recover` take it."""
    return [(np.arange(mesh.nelements), C)]


def facets_where(mesh: MeshHex2, where: Where) -> NDArray[np.int64]:
    """Boundary faces all of whose corners satisfy `where`; x (3, corners)."""
    corner = where(mesh.doflocs[:, : mesh.p.shape[1]])
    boundary = mesh.boundary_facets()
    return boundary[corner[mesh.facets[:, boundary]].all(axis=0)]


def traction(mesh: MeshHex2, where: Where, t: Callable[[Array, Array], Array], intorder: int = 6) -> Array:
    """Nodal forces (3 nodes,) [N] of a traction t(x, n) [Pa] on the boundary faces whose corners satisfy `where`.

    x, n : (3, faces, points), place and outward normal; t returns the same shape.
    """
    facets = facets_where(mesh, where)
    face = FacetBasis(mesh, ElementHex2(), facets=facets, intorder=intorder)
    stretch = np.asarray(t(np.asarray(face.global_coordinates()), np.asarray(face.normals)))
    out = np.zeros((mesh.doflocs.shape[1], 3))
    for c in range(3):
        out[:, c] = LinearForm(lambda v, w: w.t * v).assemble(face, t=stretch[c])
    return out.ravel()


def pressure(p: float) -> Callable[[Array, Array], Array]:
    """Traction of a pressure [Pa], for `traction`."""
    return lambda x, n: -p * n


def held(mesh: MeshHex2, *supports: tuple[Where, Sequence[int]]) -> Mask:
    """Which of the 3 nodes components are prescribed: [(where, components), ...]; `where` sees all nodes."""
    fixed = np.zeros((mesh.doflocs.shape[1], 3), bool)
    for where, components in supports:
        fixed[np.ix_(where(mesh.doflocs), np.asarray(components))] = True
    return fixed.ravel()


def quarter_supports(mesh: MeshHex2, height: float) -> Mask:
    """Supports of a quarter x, y >= 0 in plane strain, 0 <= z <= height [m]: symmetry, and both ends held along z."""
    return held(
        mesh,
        (lambda x: np.abs(x[0]) < 1e-9, [0]),
        (lambda x: np.abs(x[1]) < 1e-9, [1]),
        (lambda x: np.abs(x[2] * (x[2] - height)) < 1e-12, [2]),
    )


def solve_body(mesh: MeshHex2, regions: Regions, load: Array, fixed: Mask, value: Array | float = 0.0) -> Array:
    """Displacement (3 nodes,) [m] under nodal forces, with u = value where fixed."""
    return solve_held(assemble_stiffness(mesh, regions), load, fixed, value)


def solve_held(K: sp.csr_matrix, load: Array, fixed: Mask, value: Array | float = 0.0) -> Array:
    """Solve K u = load with u = value where fixed."""
    u = np.where(fixed, value, 0.0)
    free = ~fixed
    if free.any():
        u[free] = make_solver(K[free][:, free].tocsr()).solve((load - K @ u)[free])
    return u


def nearest_node(mesh: MeshHex2, point: Sequence[float]) -> int:
    """The node nearest to a point [m]."""
    return int(np.argmin(np.linalg.norm(mesh.doflocs - np.asarray(point)[:, None], axis=0)))


def stress_at(mesh: MeshHex2, u: Array, regions: Regions, nodes: Sequence[int] | NDArray[np.int64]) -> Array:
    """Recovered stress (k, 6: xx, yy, zz, yz, xz, xy) [Pa] at nodes, averaged over the materials that meet there."""
    found = recover(mesh, u, list(regions))
    total, count = np.zeros((mesh.doflocs.shape[1], 6)), np.zeros(mesh.doflocs.shape[1])
    dofs = mesh.dofs.element_dofs[:, found.elements].T
    np.add.at(total, dofs, found.nodal)
    np.add.at(count, dofs, 1.0)
    return total[nodes] / count[nodes][:, None]
