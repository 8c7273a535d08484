"""How good a mesh of 27-node hexahedra is; a tangled one is refused."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from skfem import MeshHex2
from skfem.quadrature import get_quadrature

from .errors import MeshError


@dataclass(frozen=True, slots=True)
class Quality:
    """smallest_scaled_jacobian : least over elements of (min det J / max det J) at the 27 Gauss points; 1 is a brick.

    smallest_angle_measure : least det J over the product of J's column lengths; 1 where edges are at right angles.
    largest_aspect : longest over shortest column of J.  elements, nodes : counts.
    """

    smallest_scaled_jacobian: float
    smallest_angle_measure: float
    largest_aspect: float
    elements: int
    nodes: int


def check_quality(mesh: MeshHex2, named: str) -> Quality:
    """Measure the mesh; `named` are the parameters that an error message repeats.

    Raises MeshError if an element is inside out at a Gauss point (of the rule that assembly uses).
    """
    points, _ = get_quadrature(mesh.refdom, 4)
    jacobian = mesh.mapping().DF(points)  # (3, 3, elements, points)
    det = (
        jacobian[0, 0] * (jacobian[1, 1] * jacobian[2, 2] - jacobian[1, 2] * jacobian[2, 1])
        - jacobian[0, 1] * (jacobian[1, 0] * jacobian[2, 2] - jacobian[1, 2] * jacobian[2, 0])
        + jacobian[0, 2] * (jacobian[1, 0] * jacobian[2, 1] - jacobian[1, 1] * jacobian[2, 0])
    )
    bad = int(np.sum(det.min(axis=1) <= 0))
    if bad:
        raise MeshError(f"the mesh is tangled in {bad} of {mesh.nelements} elements for {named}")
    columns = np.sqrt(np.sum(jacobian**2, axis=0))  # (3, elements, points)
    return Quality(
        smallest_scaled_jacobian=float((det.min(axis=1) / det.max(axis=1)).min()),
        smallest_angle_measure=float((det / np.prod(columns, axis=0)).min()),
        largest_aspect=float((columns.max(axis=0) / columns.min(axis=0)).max()),
        elements=int(mesh.nelements),
        nodes=int(mesh.doflocs.shape[1]),
    )
