"""A flat stamp pressed into the surface of ice, in plane strain: what a long edge bears over sigma_c.

    N = q / sigma_c
    Tresca               N = (2 + pi) / 2                                               (Prandtl 1920, from memory)
    Mohr-Coulomb         N = (k exp(pi tan phi) - 1) / (k - 1)      sin phi = (k - 1) / (k + 1)   (the same, weightless)
    with a cap           between the two, at most (2 + pi) / 2 times cap / sigma_c:      bounds of `limit_analysis`

Half of the section is meshed, the surface upright, the stamp pushed along x. The grid is finest at its edge.

Limits: plane strain; chips beside the stamp are not looked for.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .disc import between
from .limit_analysis import lower_bound, upper_bound
from .plane_strength import strengths_of
from .section import ON, Face, Section, boundary, crossed, widening

CELLS, FAR = 8, 10.0  # a half width of the stamp; in half widths


def stamp_factor(inputs: Mapping[str, float]) -> dict[str, float]:
    """N [-] of a stamp, from both sides; error is half of what lies between, relative.

    inputs : face_friction (steel on ice) and those of `plane_strength.strengths_of`.
    Raises ValueError for strengths that no surface takes, SolveError if no solution is found.
    """
    inside, outside = strengths_of(inputs)
    section = stamp_section(CELLS, Face(friction=inputs["face_friction"]))
    return between(lower_bound(section, inside).force, upper_bound(section, outside).force)


def stamp_section(cells: int, face: Face, far: float = FAR) -> Section:
    """Quarter-plane x, y > 0 whose edge x = 0 is pressed by a stamp over 0 < y < 1 and free beyond."""
    x = widening(far, 1 / cells)
    y = np.concatenate([1 - widening(1.0, 1 / cells)[::-1], 1 + x[1:]])
    mesh = crossed(x[:, None] + np.zeros_like(y), np.zeros_like(x)[:, None] + y)
    edges, middle, _ = boundary(mesh)
    surface, axis = middle[0] < ON, middle[1] < ON
    beyond = ~surface & ~axis
    deep = middle[0, beyond] > far - ON
    bars = np.where(deep, [[1.0], [0.0]], [[0.0], [1.0]])
    return Section(
        mesh=mesh,
        tool=edges[surface & (middle[1] < 1)],
        far=edges[beyond],
        symmetry=edges[axis],
        movement=np.array([1.0, 0.0]),
        bars=bars[:, None].repeat(2, 1),
        face=face,
    )
