"""A wall that leans, pushed into ice under a free surface: what a face of length d bears over sigma_c d, against angle.

    N = F / (sigma_c d),    F normal to the wall, which moves across itself                      plane strain
    smooth, theta >= 0, no cap      N = (k exp(2 theta tan phi) - 1) / (k - 1)        slip lines; 1 upright (Rankine)
    theta : from the surface normal, positive if the head leans toward the push; sin phi = (k - 1) / (k + 1)

The wall is a slit from the mouth to its toe; the ice behind it is free. The grid is sheared with the wall and finest at
it. Far edges hand bars along the surface and downwards on to a half-plane.

The closed form is a fan at the mouth between bars along the surface and ice pressed across the wall (slope bearing
capacity of weightless soil, from memory). Upper bounds lie above it by the slip line that no edge of the grid follows.

Limits: a wall without ends; a tube's ice also shears at its sides. In the same section a chip (`fem.chip`) takes some
K_IC d^0.5, so beyond a d of the order of (K_IC / sigma_c)^2, about a millimetre, chips come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, radians, sin, tan

import numpy as np
from skfem import MeshTri

from ...geometry.o_grid import graded
from .disc import between
from .limit_analysis import lower_bound, upper_bound
from .plane_strength import strengths_of
from .section import GROWTH, ON, Face, Index, Section, boundary, crossed, widening

CELLS, FAR = 6, 8.0  # a length of the wall; in lengths of it


def surface_factor(inputs: Mapping[str, float]) -> dict[str, float]:
    """N [-] of a wall at an angle, from both sides; error is half of what lies between, relative.

    inputs : angle_deg, face_friction (steel on ice) and those of `plane_strength.strengths_of`.
    Raises ValueError for strengths that no surface takes, SolveError if no solution is found.
    """
    inside, outside = strengths_of(inputs)
    section = wall_section(radians(inputs["angle_deg"]), CELLS, Face(friction=inputs["face_friction"]))
    return between(lower_bound(section, inside).force, upper_bound(section, outside).force)


def wall_section(angle: float, cells: int, face: Face) -> Section:
    """Half-plane y < 0 with a wall of length 1 from the origin down, pushed to the right; angle [rad]."""
    mesh = _slit_grid(angle, cells)
    edges, middle, inside = boundary(mesh)
    lean = middle[0] - middle[1] * tan(angle)
    on_wall = np.abs(lean) < ON
    front = on_wall & (inside[0] > inside[1] * tan(angle))
    beyond = ~on_wall & (np.abs(middle[1]) > ON)
    low = middle[1, beyond] < mesh.p[1].min() + ON
    side = np.sign(lean[beyond])
    bars = np.where(low, [[0.0], [-1.0]], np.stack([side, np.zeros_like(side)]))
    return Section(
        mesh=mesh,
        tool=edges[front],
        far=edges[beyond],
        symmetry=edges[:0],
        movement=np.array([cos(angle), -sin(angle)]),
        bars=bars[:, None].repeat(2, 1),
        face=face,
    )


def _slit_grid(angle: float, cells: int) -> MeshTri:
    """The grid, its points along the wall doubled from the mouth to the toe."""
    first = 1 / cells
    wall, away = graded(1.0, first, first, GROWTH, 1.0), widening(FAR / 2, first)
    along = np.concatenate([wall, 1 + away[1:]])
    across = np.concatenate([-away[:0:-1], widening(FAR, first)])
    y = -cos(angle) * along[:, None] + np.zeros_like(across)
    mesh = crossed(across + y * tan(angle), y)
    split: Index = np.arange(wall.size - 1) * across.size + away.size - 1
    number = np.arange(mesh.nvertices)
    number[split] = mesh.nvertices + np.arange(split.size)
    triangles = mesh.t.copy()
    middle = mesh.p[:, triangles].mean(1)
    right = middle[0] > middle[1] * tan(angle)
    triangles[:, right] = number[triangles[:, right]]
    return MeshTri(np.hstack([mesh.p, mesh.p[:, split]]), triangles, sort_t=False)
