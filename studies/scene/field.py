"""The failure index of the ice at the onset load, from fields.vtu: at any point, and on an even grid about the mouth.

Between nodes it is the mean of the NEAREST, weighted by 1 / distance^2; on the ice's surface and in the plane of the
pull, where colours are read, the mesh's own faces are sampled first (`figures.cuts`). 1: damage by the local criterion;
the onset itself takes averages over lines, so that some ice is beyond 1 by then.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, sin, tan
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from .ice import Block
from .parts import IceGrid
from .tube import Stand

Array = NDArray[np.float64]
NEAREST, MARGIN = 4, 10.0  # points; mm beside the block
SHAPE, ABOVE = (96, 40, 76), 3.0  # of the grid; mm over the surface
NEAR, ASIDE, UNDER = 55.0, 45.0, 85.0  # mm from the mouth, at most


def index_of(path: Path, onset_kN: float, block: Block) -> Callable[[Array], Array]:
    """The failure index at points (k, 3) [mm] at the onset load. Raises OSError if the file cannot be read."""
    from ..figures.cuts import cut, read_fields

    fields = read_fields(path)
    nodal = fields.data["criterion_index_per_kN"] * onset_kN
    nodes = np.unique(fields.hexahedra[fields.region != 2])
    points, values = [fields.points[nodes]], [nodal[nodes]]
    for axis in (1, 2):
        face = cut(fields, axis, ("ice", "crust"))
        points.append(np.insert(np.stack([face.x, face.y], axis=1), axis, 0.0, axis=1))
        values.append(face.sample(nodal))
    at, of = np.concatenate(points), np.concatenate(values)
    low = np.array([-block.left, 0.0, -block.deep]) - MARGIN
    high = np.array([block.right, block.wide, 0.0]) + MARGIN
    inside = np.all((at >= low) & (at <= high), axis=1)
    tree, of = cKDTree(at[inside]), of[inside]

    def index(where: Array) -> Array:
        far, which = tree.query(where, k=NEAREST, workers=-1)
        weight = 1 / np.maximum(far, 1e-3) ** 2
        return np.asarray((weight * of[which]).sum(axis=1) / weight.sum(axis=1))

    return index


def grid_of(at: Stand, block: Block, index: Callable[[Array], Array]) -> IceGrid:
    """The index about the mouth and the upper part of the tube."""
    low = np.array([-min(NEAR, block.left), 0.0, -min(UNDER, block.deep)])
    high = np.array([min(NEAR, block.right), min(ASIDE, block.wide), ABOVE])
    spacing = (high - low) / (np.array(SHAPE) - 1)
    places = low + spacing * np.moveaxis(np.indices(SHAPE), 0, -1)
    solid = is_ice(at, places)
    values = np.zeros(SHAPE, np.uint8)
    values[solid] = np.round(255 * np.clip(index(places[solid]), 0.0, 1.0)).astype(np.uint8)
    return IceGrid(tuple(low.tolist()), tuple(spacing.tolist()), values, solid)


def is_ice(at: Stand, places: Array) -> NDArray[np.bool_]:
    """Whether points (..., 3) [mm] lie in the ice: under the surface, and not in the hole."""
    x, y, z = np.moveaxis(places, -1, 0)
    front = (x - z * tan(at.angle)) * cos(at.angle)
    deep = -x * sin(at.angle) - z * cos(at.angle)
    hole = (np.hypot(front, y) < at.radius) & (deep < at.embedment)
    return np.asarray((z <= 0) & ~hole)
