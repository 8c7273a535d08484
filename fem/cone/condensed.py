"""A slit cone in the half model, condensed once: any crack on it then costs one dense solve.

The half model is condensed onto the contact gaps g of the tube and the opening d = u_above - u_below of every pair of
nodes on the cone's faces (`geometry.slit_half_model`) [m],

    Pi(g, d) = Pi_0 + 1/2 v^T S v - c^T v  [J],   v = (g, d),   g >= 0,  d . n >= 0,  tangential d free (no friction)

A crack frees some of the pairs and leaves all other d zero. Its free tangential openings are eliminated (dense
Cholesky); the rest is a bound-constrained quadratic programme (`solid.contact.solve_gaps`). Everything is proportional
to the pull.

At the wall the upper face hangs on the tube's threads and the lower one is free of them. There each face has a gap of
its own to the tube, and the faces are kept apart along the axis instead of along their normal.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import load_point
from ...geometry.slit_half_model import ConeModel, ConeShape, build_cone_model
from ..case import Case
from ..cracks.slit_faces import jump_matrix, release, swap_for_gaps
from ..errors import SolveError
from ..solid.assembly import assemble_in
from ..solid.condensation import condense
from ..solid.contact import contact_unknowns
from ..solid.elasticity import spread_force, tube_in_ice
from ..solid.solver import choose_method

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
UNIT_PULL = 1000.0  # N
SIMPSON = (1 / 6, 4 / 6, 1 / 6)


class CondensedCone:
    """A case condensed onto contact gaps and face openings of one cone (module docstring).

    threads_below : whether threads below the cone's start hold the ice below it.
    Raises ValueError for a shape or placement that cannot be meshed, SolveError if the mesh is too fine to factorise.
    """

    def __init__(self, case: Case, shape: ConeShape, threads_below: bool = True) -> None:
        self.case = case
        self.cone = cone = build_cone_model(case.tube, case.placement, shape, case.crust, case.level)
        half = cone.half
        if not threads_below:
            s = half.straight[2, half.pairs[0]]
            half = replace(half, threaded=half.threaded & (s > -shape.start - 1e-9))
        metal = (case.metal.youngs_modulus, case.metal.poissons_ratio)
        regions = tube_in_ice(half.regions, case.ice.elastic, case.crust_ice.elastic, metal)
        carrier = half.regions["eye" if case.placement.attachment == "eye" else "sling"]
        pull = 0.5 * UNIT_PULL * case.pull.unit
        load = spread_force(half.mesh, carrier, pull, load_point(case.tube, case.placement))
        unknowns = contact_unknowns(half)
        above, below = half.faces
        frames = -np.moveaxis(cone.frames, -1, 0)
        T = (jump_matrix(half.mesh.doflocs.shape[1], below, above, frames) @ unknowns.T).tocsr()
        A, b = assemble_in(half.mesh, regions, T, unknowns.slots), T.T @ load
        faces = np.full(T.shape[0], -1)
        faces[3 * below[:, None] + np.arange(3)] = np.arange(3 * cone.share.size).reshape(-1, 3)
        face = faces[unknowns.slots]
        kept = unknowns.is_gap | (face >= 0)
        method = choose_method(b.size)
        if method == "multigrid":
            raise SolveError(f"a cone with {b.size} unknowns needs a direct solver: choose a coarser level")
        condensed = condense(A, b, kept, method)
        self.S, self.c = condensed.S, condensed.c
        self.is_gap = unknowns.is_gap[kept]
        self.face, self.component = np.divmod(face[kept], 3)  # -1 at contact gaps
        gaps = np.full(half.mesh.doflocs.shape[1], -1)
        gaps[unknowns.slots[kept][self.is_gap] // 3] = np.flatnonzero(self.is_gap)
        self._upper_gap = gaps[above]  # (k,), -1 off the wall
        self._bonded = 0.5 * float(b @ condensed.expand(np.zeros(self.c.size)))
        self.unknowns = b.size

    def compliance(self) -> float:
        """Movement of the load point over the pull, without a crack [m/N]."""
        return self.compliance_with(self.released(np.zeros(self.cone.share.size, bool))[0])

    def compliance_with(self, energy: float) -> float:
        """The same where contact and crack have released `energy` [J] of the half model."""
        return 4 * (self._bonded + energy) / UNIT_PULL**2

    def system(self, is_open: Mask) -> tuple[Array, Array, Mask, Mask]:
        """S [N/m], c [N] with lower faces' gaps to the tube in place of radial jumps at the wall; openings.

        Gaps (masks).
        """
        radial = is_open & self.cone.on_hole[self.face] & (self.component == 2)
        S, c = swap_for_gaps(self.S, self.c, np.flatnonzero(radial), self._upper_gap[self.face[radial]])
        return S, c, is_open & (self.component == 0), self.is_gap | radial

    def released(self, opened: Mask) -> tuple[float, Array]:
        """Energy [J] that contact and a crack of the pairs `opened` (k,) release, and the openings d (k, 3) [m].

        Energies are the half model's at half of UNIT_PULL.
        """
        is_open = (self.face >= 0) & opened[self.face]
        S, c, across, gaps = self.system(is_open)
        v, _ = release(S, c, np.flatnonzero(gaps | across), np.flatnonzero(is_open & ~gaps & ~across))
        energy = 0.5 * float(c @ v)
        radial = gaps & (self.face >= 0)
        v[radial] -= v[self._upper_gap[self.face[radial]]]
        d, where = np.zeros((opened.size, 3)), self.face >= 0
        d[self.face[where], self.component[where]] = v[where]
        return energy, d


def tributary(cone: ConeModel) -> Array:
    """Area that stands behind each pair (k,) [m^2]: Simpson's weights of the elements' areas."""
    local = cone.half.mesh.dofs.element_dofs[:, cone.under.ravel()]
    straight = cone.half.straight[:, local]  # (3, 27, elements)
    top = np.abs(straight[2] - straight[2].max()) < 1e-9
    slot = np.full(cone.half.mesh.doflocs.shape[1], -1)
    slot[cone.half.faces[1]] = np.arange(cone.share.size)
    r, phi = np.hypot(*straight[:2]), np.arctan2(straight[1], straight[0])
    out = np.zeros(cone.share.size)
    for element, area in enumerate(cone.area.ravel()):
        at = np.flatnonzero(top[:, element])
        place = [np.searchsorted(np.unique(np.round(x[at, element], 9)), np.round(x[at, element], 9)) for x in (r, phi)]
        for node, i, j in zip(local[at, element], *place, strict=True):
            if slot[node] >= 0:
                out[slot[node]] += area * SIMPSON[i] * SIMPSON[j]
    return out
