"""Flat cuts of a fields file for drawing: the symmetry plane y = 0 and the ice's surface z = 0, as triangles."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import meshio
import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2

from ...fem.onset.fields import REGIONS, vtk_order

Array = NDArray[np.float64]
_REFERENCE_FACES = ((0, 0.0), (0, 1.0), (1, 0.0), (1, 1.0), (2, 0.0), (2, 1.0))
TOLERANCE_MM = 1e-6
FINER = 4


@dataclass(frozen=True)
class Fields:
    """points : (n, 3) [mm].  hexahedra : (m, 27) nodes, scikit-fem's order.  region : (m,).

    data : name -> field at the nodes, per kN of pull.
    """

    points: Array
    hexahedra: NDArray[np.int64]
    region: NDArray[np.int64]
    data: dict[str, Array]


def read_fields(path: Path) -> Fields:
    """Read a fields.vtu. Raises OSError or meshio.ReadError if it cannot be read."""
    mesh = meshio.read(path)
    cells = mesh.cells_dict["hexahedron27"]
    hexahedra = np.empty_like(cells)
    hexahedra[:, vtk_order()] = cells
    return Fields(mesh.points, hexahedra, np.asarray(mesh.cell_data["region"][0]), dict(mesh.point_data))


@dataclass(frozen=True)
class Cut:
    """Quadratic faces of elements, drawn as `FINER` x `FINER` squares each, so that curves stay curves.

    x, y : (p,) drawing coordinates [mm].  triangles : (t, 3).  faces : (f, 9) nodes.  weights : (p / f, 9).
    """

    x: Array
    y: Array
    triangles: NDArray[np.int64]
    faces: NDArray[np.int64]
    weights: Array

    def sample(self, nodal: Array) -> Array:
        """Values (p,) of a field given at all nodes (n,)."""
        return (nodal[self.faces] @ self.weights.T).ravel()

    def sample_rows(self, nodal: Array) -> Array:
        """Values (p, k) of fields given at all nodes (n, k)."""
        return np.stack([self.sample(column) for column in nodal.T], axis=1)


def cut(fields: Fields, axis: int, regions: tuple[str, ...]) -> Cut:
    """Element faces of these regions in the plane y = 0 (axis 1; drawn x, z) or z = 0 (axis 2; drawn x, y)."""
    chosen = fields.hexahedra[np.isin(fields.region, [REGIONS[name] for name in regions])]
    place = ElementHex2.doflocs
    found = []
    for direction, side in _REFERENCE_FACES:
        others = [d for d in range(3) if d != direction]
        on_face = np.flatnonzero(np.isclose(place[:, direction], side))
        grid = on_face[np.lexsort((place[on_face, others[0]], place[on_face, others[1]]))]
        in_plane = np.all(np.abs(fields.points[chosen[:, grid], axis]) < TOLERANCE_MM, axis=1)
        found.append(chosen[in_plane][:, grid])
    faces = np.concatenate(found)
    along = np.linspace(0.0, 1.0, FINER + 1)
    quadratic = np.stack([(2 * along - 1) * (along - 1), 4 * along * (1 - along), along * (2 * along - 1)], axis=1)
    weights = np.kron(quadratic, quadratic).astype(np.float64)
    corner = (np.arange(FINER)[:, None] * (FINER + 1) + np.arange(FINER)).ravel()
    a, b, c, d = corner, corner + 1, corner + FINER + 2, corner + FINER + 1
    pattern = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    triangles = (np.arange(len(faces))[:, None, None] * len(weights) + pattern).reshape(-1, 3)
    x, y = (
        (fields.points[faces][:, :, coordinate] @ weights.T).ravel() for coordinate in range(3) if coordinate != axis
    )
    return Cut(x, y, triangles, faces, weights)
