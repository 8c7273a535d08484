"""The mesh of a half model in NGSolve (Schoeberl, ngsolve.org), and what our nodal values are in its basis.

Corners and hexahedra go to Netgen; the curved 27-node map is NGSolve's deformation, a displacement of order 2 of that
mesh. NGSolve's basis is hierarchical: with V_pa = value of its a-th shape function at our p-th local node, a field with
values w at an element's nodes has the coefficients V^-1 w there, so the map is ours to round-off.

A contact pair is one vertex here: the cylinder is a surface inside the mesh, with a field on either side of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import netgen.meshing as netgen
import ngsolve as ng
import numpy as np
import scipy.sparse as sp
from skfem import ElementHex2

from ...geometry.half_model import HalfModel
from .bodies import Array, Mask
from .half_model_case import Setting, ours

# Netgen's element: corners, and sides by corner
CORNERS = ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))
SIDES = ((0, 1, 2, 3), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))
PLACES = ElementHex2.doflocs  # (27, 3) local coordinates of our nodes
STEEL_SOLIDS = "tube|eye"
SURFACES = ("far", "symmetry", "plain", "threads")


@dataclass(frozen=True)
class Part:
    """Scalar fields of order 2 over some of the solids, and our nodal values of them.

    where : NGSolve's names of the solids.  to_dofs : (dofs, nodes) coefficients of nodal values; rows of dofs without
    an element are empty.  from_dofs : (nodes, dofs) nodal values; rows of nodes elsewhere are empty.
    """

    where: str
    to_dofs: sp.csr_matrix
    from_dofs: sp.csr_matrix


@dataclass(frozen=True)
class Translated:
    """mesh : NGSolve's.  whole, ice, tube : its parts.  bend : its deformation, which it does not keep alive itself."""

    mesh: Any
    whole: Part
    ice: Part
    tube: Part
    bend: Any


@cache
def translate(setting: Setting) -> Translated:
    """The setting's mesh in NGSolve."""
    return translate_model(ours(setting).model, tuple(setting.constants))


def translate_model(model: HalfModel, solids: tuple[str, ...]) -> Translated:
    """A half model's mesh in NGSolve, with these of its regions as solids; "tube" is one of them."""
    names = (*solids, "eye")
    dofs, x = model.mesh.dofs.element_dofs, model.mesh.doflocs
    shared = np.arange(x.shape[1])
    shared[model.pairs[1]] = model.pairs[0]
    corner = shared[dofs[[int(np.flatnonzero((PLACES[:8] == c).all(axis=1))[0]) for c in CORNERS]]]
    steel = np.isin(np.arange(model.mesh.nelements), model.regions["tube"])
    solid = np.zeros(model.mesh.nelements, int)
    for number, name in enumerate(names, start=1):
        solid[model.regions[name]] = number
    mesh = _mesh(x, corner, solid, names, _surfaces(model, shared, corner, steel))
    ices = "|".join(name for name in solids if name != "tube")
    whole = _part(mesh, dofs, steel | True, f"{ices}|{STEEL_SOLIDS}")
    bend = ng.GridFunction(ng.VectorH1(mesh, order=2))
    place = whole.to_dofs @ x.T
    place[: mesh.nv] = 0.0  # vertices, the first dofs, stay where they are
    for c in range(3):
        bend.components[c].vec.FV().NumPy()[:] = place[:, c]
    mesh.SetDeformation(bend)
    return Translated(mesh, whole, _part(mesh, dofs, ~steel, ices), _part(mesh, dofs, steel, STEEL_SOLIDS), bend)


def _part(mesh: Any, dofs: Array, chosen: Mask, where: str) -> Part:
    """The part that consists of the chosen elements; dofs (27, elements) our nodes of each."""
    space = ng.H1(mesh, order=2, definedon=where)
    elements = [ng.ElementId(ng.VOL, int(e)) for e in np.flatnonzero(chosen)]
    value = np.array([space.GetFE(elements[0]).CalcShape(*p) for p in PLACES])  # (27, 27)
    # the same in every element: shape functions of order 2 are even along edges and faces, orientation is of no account
    number, nodes = np.array([space.GetDofNrs(e) for e in elements]).T, dofs[:, chosen]
    shape = (space.ndof, int(dofs.max()) + 1)
    to_dofs = _scatter(number, nodes, np.linalg.inv(value), shape)
    return Part(where, to_dofs, _scatter(nodes, number, value, shape[::-1]))


def _scatter(rows: Array, columns: Array, block: Array, shape: tuple[int, int]) -> sp.csr_matrix:
    """Sparse matrix whose rows (27, m) hold the dense block's (27, 27); a row met again is the same row."""
    _, first = np.unique(rows.T.ravel(), return_index=True)
    element, place = np.divmod(first, rows.shape[0])
    at = np.repeat(rows[place, element], rows.shape[0])
    return sp.csr_matrix((block[place].ravel(), (at, columns[:, element].T.ravel())), shape=shape)


def _surfaces(model: HalfModel, shared: Array, corner: Array, steel: Mask) -> dict[str, Array]:
    """Corners (4, m) of the faces of each of SURFACES, in `shared` node numbers."""
    faces = np.concatenate([corner[list(side)] for side in SIDES], axis=1)
    owner = np.tile(np.arange(corner.shape[1]), len(SIDES))
    _, first, key, count = np.unique(
        np.sort(faces, axis=0), axis=1, return_index=True, return_inverse=True, return_counts=True
    )
    steel_sides = np.bincount(key.ravel(), weights=steel[owner])
    outer, joint = count == 1, (count == 2) & (steel_sides == 1)
    named: dict[str, Array] = {}
    for name in SURFACES:
        nodes = shared[model.pairs[1][model.threaded]] if name in ("plain", "threads") else shared[model.nodes[name]]
        inside = np.isin(faces[:, first], nodes).all(axis=0)
        which = {"plain": joint & ~inside, "threads": joint & inside}.get(name, outer & inside)
        named[name] = faces[:, first[which]]
    return named


def _mesh(x: Array, corner: Array, solid: Array, names: tuple[str, ...], surfaces: dict[str, Array]) -> Any:
    """NGSolve mesh of hexahedra (8, m) with named solids and surfaces."""
    raw = netgen.Mesh(dim=3)
    point = {int(i): raw.Add(netgen.MeshPoint(netgen.Pnt(*x[:, i]))) for i in np.unique(corner)}
    for number, name in enumerate(surfaces, start=1):
        raw.Add(netgen.FaceDescriptor(surfnr=number, domin=1, domout=0, bc=number))
        raw.SetBCName(number - 1, name)
        for face in surfaces[name].T:
            raw.Add(netgen.Element2D(number, [point[int(i)] for i in face]))
    for element, number in zip(corner.T, solid, strict=True):
        raw.Add(netgen.Element3D(int(number), [point[int(i)] for i in element]))
    for number, name in enumerate(names, start=1):
        raw.SetMaterial(number, name)
    return ng.Mesh(raw)


def largest_misplacement(setting: Setting) -> float:
    """Largest distance between a node of ours and NGSolve's image of its local coordinates [m]."""
    mesh = ours(setting).model.mesh
    theirs = at_points(translate(setting).mesh, ng.CF((ng.x, ng.y, ng.z)), PLACES)
    return float(np.abs(theirs - mesh.doflocs[:, mesh.dofs.element_dofs].T).max())


def at_points(mesh: Any, field: Any, local: Array) -> Array:
    """Values (elements, points, ...) of a field at local coordinates (points, 3) of every element."""
    rule = ng.IntegrationRule([tuple(p) for p in local], [1.0] * len(local))
    places = mesh.MapToAllElements({ng.HEX: rule}, ng.VOL)
    return np.reshape(field(places), (mesh.ne, len(local), -1))
