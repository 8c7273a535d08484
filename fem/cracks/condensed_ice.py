"""The half model's ice with a slit, without the tube, condensed onto the slit's jumps for many loads at once.

Loads b_j of the wall of the hole are linear, and all of them enter as unknowns a_j: with the energy

    1/2 u^T K u - sum_j a_j b_j^T u + 1/2 D a^T a

condensed onto the jumps v of the slit's faces and the a_j, the block between them is -c_j: one factorisation for all
loads. D is there for a positive matrix alone and falls out. Half of everything: energies are the half model's,

    E(v, a) = 1/2 v^T S v - a^T c^T v - 1/2 a^T C a                                                             [J]

Jumps of a pair: across the faces (upper less lower, > 0 apart), round the axis, along the generator. On the wall the
faces' normal is that of the next node outwards on the generator.

Limits: direct solvers only, so meshes of moderate size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from ...geometry.slit_half_model import ConeModel
from ...materials import Ice
from ..errors import SolveError
from ..solid.assembly import assemble_in
from ..solid.condensation import condense
from ..solid.solver import choose_method
from .slit_faces import jump_matrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class CondensedIce:
    """S : (3 k, 3 k) [N/m] of the jumps of k pairs, c : (3 k, n) of n loads, C : (n, n) of the loads without jumps.

    Jumps that symmetry forbids stand apart in S.  unknowns : of the factorisation.
    """

    S: Array
    c: Array
    C: Array
    unknowns: int


def condense_ice(cone: ConeModel, ice: Ice, loads: Array, gone: Index | None = None) -> CondensedIce:
    """Condense the ice of a slit mesh for nodal forces `loads` (3 nodes, n) [N].  gone : elements no longer there.

    Raises SolveError if the mesh is too fine to factorise.
    """
    half = cone.half
    elements = half.regions["ice"] if gone is None else np.setdiff1d(half.regions["ice"], gone)
    above, below = half.faces
    free = np.zeros((half.mesh.doflocs.shape[1], 3), bool)
    free[half.mesh.dofs.element_dofs[:, elements]] = True
    free[half.nodes["symmetry"], 1] = False  # a jump round the axis is one across the plane there
    free[half.nodes["far"]] = False
    slots = np.flatnonzero(free)
    T = jump_matrix(len(free), above, below, face_frames(cone))[:, slots].tocsr()
    A, b = assemble_in(half.mesh, [(elements, ice.elastic.tensor())], T, slots), T.T @ loads
    place = np.full(free.size, -1)
    place[3 * above[:, None] + np.arange(3)] = np.arange(3 * above.size).reshape(-1, 3)
    jumps, n = place[slots], b.shape[1]
    method = choose_method(slots.size)
    if method == "multigrid":
        raise SolveError(f"a slit with {slots.size} unknowns needs a direct solver: choose larger elements")
    D = float(A.diagonal().mean())
    pushed = sp.csr_matrix(b)
    whole = sp.bmat([[A, -pushed], [None, D * sp.identity(n)]]).tocsr()
    kept = np.concatenate([jumps >= 0, np.ones(n, bool)])
    condensed = condense(whole, np.zeros(kept.size), kept, method)
    at, size = jumps[jumps >= 0], 3 * above.size
    S, c = np.zeros((size, size)), np.zeros((size, n))
    S[np.ix_(at, at)], c[at] = condensed.S[:-n, :-n], -condensed.S[:-n, -n:]
    apart = np.setdiff1d(np.arange(size), at)
    S[apart, apart] = np.diag(S)[at].mean()
    return CondensedIce(S, c, D * np.eye(n) - condensed.S[-n:, -n:], slots.size)


def face_frames(cone: ConeModel) -> Array:
    """Frames (k, 3, 3) of the pairs: normal, round, along; on the wall those of the next node on the generator."""
    frames = np.moveaxis(cone.frames, -1, 0).copy()
    hole, off = np.flatnonzero(cone.on_hole), np.flatnonzero(~cone.on_hole)
    off = off[np.argsort(cone.share[off], kind="stable")]
    rows = np.abs(cone.azimuth[hole][:, None] - cone.azimuth[off]) < 1e-6
    frames[hole] = frames[off[np.argmax(rows, axis=1)]]
    return frames
