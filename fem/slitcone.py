"""A slit cone in the half model, condensed once: what any crack on it does costs a dense solve.

The half model is condensed onto the contact gaps g of the tube and the opening d = u_above - u_below of every pair of
nodes on the cone's faces (`geometry.conefaces`),

    Pi(g, d) = Pi_0 + 1/2 v^T S v - c^T v,     v = (g, d),     g >= 0,  d . n >= 0,  tangential d free (no friction)

and a crack, some of the pairs, leaves all other d zero. Its free tangential openings are eliminated (dense Cholesky),
the rest is a bound-constrained quadratic programme (`contact.solve_gaps`). Everything is proportional to the pull.

At the wall the upper face hangs on the tube's threads, the lower one is free of them; there each face has a gap of its
own to the tube, and the faces are kept apart along the axis instead of along their normal.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import scipy.linalg as la
import scipy.sparse as sp
from numpy.typing import NDArray

from ..geometry import load_point
from ..geometry.conefaces import ConeModel, ConeShape, build_cone_model
from ..materials.tensor import isotropic
from .case import Case
from .contact import _unknowns, solve_gaps
from .elasticity import assemble_stiffness, spread_force
from .solver import SolveError, choose_method, condense

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
        K = assemble_stiffness(
            half.mesh,
            [
                (half.regions["ice"], case.ice.elastic.tensor()),
                (half.regions["crust"], case.crust_ice.elastic.tensor()),
                (half.regions["tube"], isotropic(case.metal.youngs_modulus, case.metal.poissons_ratio)),
            ],
        )
        carrier = half.regions["eye" if case.placement.attachment == "eye" else "sling"]
        pull = 0.5 * UNIT_PULL * case.pull.unit
        load = spread_force(half.mesh, carrier, pull, load_point(case.tube, case.placement))
        unknowns = _unknowns(half)
        T = (_opening(cone) @ unknowns.T).tocsr()
        A, b = (T.T @ (K @ T)).tocsr(), T.T @ load
        faces = np.full(K.shape[0], -1)
        faces[3 * cone.half.faces[1][:, None] + np.arange(3)] = np.arange(3 * cone.share.size).reshape(-1, 3)
        face = faces[unknowns.slots]
        kept = unknowns.is_gap | (face >= 0)
        method = choose_method(b.size)
        if method == "amg":
            raise SolveError(f"a cone with {b.size} unknowns needs a direct solver: choose a coarser level")
        condensed = condense(A, b, kept, method)
        self.S, self.c = condensed.S, condensed.c
        self.is_gap = unknowns.is_gap[kept]
        self.face, self.component = np.divmod(face[kept], 3)  # -1 at contact gaps
        self.node = unknowns.slots[kept] // 3
        self._bonded = 0.5 * float(b @ condensed.expand(np.zeros(self.c.size)))
        self.unknowns = b.size

    def compliance(self) -> float:
        """Displacement of the load point along the pull over the pull, without a crack [m/N]."""
        return self.compliance_with(self.released(np.zeros(self.cone.share.size, bool))[0])

    def compliance_with(self, energy: float) -> float:
        """The same where contact and crack have released `energy` [J] of the half model."""
        return 4 * (self._bonded + energy) / UNIT_PULL**2

    def released(self, opened: Mask) -> tuple[float, Array]:
        """Energy [J] that contact and a crack of the pairs `opened` (k,) release, and the openings d (k, 3) [m].

        Energies are the half model's at half of UNIT_PULL.
        """
        basis, bounded = self._basis(opened)
        S, c = basis.T @ (basis.T @ self.S).T, basis.T @ self.c
        free = ~bounded
        v = np.zeros(c.size)
        if free.any():
            L = la.cholesky(S[np.ix_(free, free)], lower=True)
            X = la.solve_triangular(L, S[np.ix_(free, bounded)], lower=True)
            y = la.solve_triangular(L, c[free], lower=True)
            v[bounded], *_ = solve_gaps(S[np.ix_(bounded, bounded)] - X.T @ X, c[bounded] - X.T @ y)
            v[free] = la.solve_triangular(L.T, y - X @ v[bounded])
        else:
            v, *_ = solve_gaps(S, c)
        d, where = np.zeros((opened.size, 3)), self.face >= 0
        d[self.face[where], self.component[where]] = (basis @ v)[where]
        return 0.5 * float(c @ v), d

    def _basis(self, opened: Mask) -> tuple[sp.csr_matrix, Mask]:
        """Kept unknowns from a crack's own (columns), and which of these must not be negative.

        On the wall the opening's radial part is the upper face's gap less the lower one's; the latter is the unknown.
        """
        n, cone = self.c.size, self.cone
        is_open = np.where(self.face >= 0, opened[self.face], True)
        radial = (self.face >= 0) & is_open & cone.on_wall[self.face] & (self.component == 2)
        basis = sp.eye_array(n, format="lil")
        gap_of = {node: i for i, node in enumerate(self.node) if self.is_gap[i]}
        for column in np.flatnonzero(radial):
            upper = gap_of[cone.half.faces[0, self.face[column]]]
            basis[column, column] = -1.0
            basis[column, upper] = 1.0
        bounded = self.is_gap | radial | ((self.face >= 0) & (self.component == 0))
        return basis.tocsr()[:, is_open], bounded[is_open]


def _opening(cone: ConeModel) -> sp.csr_matrix:
    """M (3 nodes, 3 nodes): u = M u' where u' holds, at lower face nodes, the opening d in the pair's frame.

    u_below = u_above - Q d, Q the frame's columns; u' = u everywhere else.
    """
    above, below = cone.half.faces
    n = 3 * cone.half.mesh.doflocs.shape[1]
    diagonal = np.ones(n)
    diagonal[3 * below[:, None] + np.arange(3)] = 0.0
    rows, columns, values = [], [], []
    for i in range(3):
        rows.append(3 * below + i)
        columns.append(3 * above + i)
        values.append(np.ones(below.size))
        for c in range(3):
            rows.append(3 * below + i)
            columns.append(3 * below + c)
            values.append(-cone.frames[i, c])
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return (sp.diags_array(diagonal) + sp.coo_matrix(entries, shape=(n, n))).tocsr()


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
