"""A plane section for limit analysis: triangles, which edges are pushed, held or carried on, and the face of the tool.

A grid of points becomes four triangles a cell, crossed, so that no direction of slip is barred. Far edges stand for the
body beyond: it carries bars along rays (an endless plane round a disc) or parallels (a half-plane) on from the edge,
each at its uniaxial strength at most, which no edge of theirs loads. Symmetry lies along x.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from ...geometry.o_grid import graded

Array = NDArray[np.float64]
Index = NDArray[np.int64]
GROWTH = 0.25  # of a cell's width over the distance from where cells are smallest
ON = 1e-9


@dataclass(frozen=True, slots=True)
class Face:
    """Between tool and body: |shear| <= adhesion - friction x (normal stress, tension positive), never above the ice's.

    opens : bears no tension.  bonded : only the body itself gives way.
    """

    friction: float = 0.0
    adhesion: float = 0.0
    opens: bool = True
    bonded: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A body in the plane and what holds and presses it; an edge that nothing names is free.

    tool, far, symmetry : edges of the mesh.  movement : direction of the tool (2,).
    bars : along what the body beyond bears, at both ends of the far edges (2, ends, edges).
    endless : beyond them it goes on; else only the bars do (an upper bound asks; a lower one takes bars in any case).
    outward : out of the body at points of the tool, (2, n) to (2, n), for an upper bound: a round tool has no corners
    to lock at; that of the straight edge if not given.
    """

    mesh: MeshTri
    tool: Index
    far: Index
    symmetry: Index
    movement: Array
    bars: Array
    face: Face
    endless: bool = True
    outward: Callable[[Array], Array] | None = None

    def lengths(self, edges: Index) -> Array:
        """Of edges (n,)."""
        first, second = self.mesh.p[:, self.mesh.facets[:, edges]].transpose(1, 0, 2)
        return np.linalg.norm(second - first, axis=0)

    def normals(self, edges: Index) -> Array:
        """Unit normals (n, 2) of edges out of the first triangle at each."""
        first, second = self.mesh.p[:, self.mesh.facets[:, edges]].transpose(1, 0, 2)
        along = (second - first) / np.linalg.norm(second - first, axis=0)
        normal = np.stack([along[1], -along[0]])
        inside = self.mesh.p[:, self.mesh.t[:, self.mesh.f2t[0, edges]]].mean(1) - first
        return (normal * -np.sign((normal * inside).sum(0))).T

    def gradients(self) -> tuple[Array, Array]:
        """Gradients (m, 3, 2) of the corners' hat functions and areas (m,)."""
        p = self.mesh.p[:, self.mesh.t].transpose(2, 1, 0)
        opposite = p[:, [2, 0, 1]] - p[:, [1, 2, 0]]
        twice = opposite[:, 0, 0] * opposite[:, 1, 1] - opposite[:, 0, 1] * opposite[:, 1, 0]
        return np.stack([-opposite[..., 1], opposite[..., 0]], -1) / twice[:, None, None], np.abs(twice) / 2


def crossed(x: Array, y: Array) -> MeshTri:
    """Triangles of a grid of points (rows, columns), four in each cell."""
    rows, columns = x.shape
    number = np.arange(rows * columns).reshape(rows, columns)
    corners = [part.ravel() for part in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])]
    points = np.stack([x.ravel(), y.ravel()])
    middle = np.mean([points[:, corner] for corner in corners], axis=0)
    centre = x.size + np.arange(middle.shape[1])
    triangles = np.hstack([np.stack([corners[i], corners[(i + 1) % 4], centre]) for i in range(4)])
    return MeshTri(np.hstack([points, middle]), triangles)


def widening(length: float, first: float) -> Array:
    """Places from 0 to a length, about `first` apart at 0 and wider with the distance."""
    return graded(length, first, length, GROWTH, length)


def boundary(mesh: MeshTri) -> tuple[Index, Array, Array]:
    """Outer edges, their middles and the centres of their triangles (2, edges)."""
    edges = mesh.boundary_facets()
    return edges, mesh.p[:, mesh.facets[:, edges]].mean(1), mesh.p[:, mesh.t[:, mesh.f2t[0, edges]]].mean(1)
