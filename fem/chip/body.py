"""The ice in front of a tube, pushed on the wall of the hole, slit below the push: condensed once for every crack.

The body is the half model's ice without the tube (`geometry.slit_half_model`). The hole goes on below the push and is
free there, and so is the wall behind. From the surface down to the slit's start, the depth d along the axis [m], the
front half of the wall bears

    t(phi, f) = p(f) cos(phi) e  [Pa]       e : the wall's normal, into the ice (frictionless push), or the tube's axis

phi round the axis from the front, f the share of the way from the surface (0) to the slit (1). p is one of PROFILES.
A push along the normal results in a force square to the axis, the lateral force F; of the whole wall it is UNIT_PUSH,
as is that of the axial one. Both are linear loads, and all of them enter as unknowns. With the energy

    1/2 u^T K u - sum_j a_j b_j^T u + 1/2 D a^T a                                                        [J]

condensed onto the jumps v of the slit's faces and the a_j, the block between them is -c_j: one factorisation for
all loads. D only makes the matrix positive and falls out.

Limits: energies are the half model's, half of everything. Jumps of a pair run across the faces (upper less lower, > 0
apart), round the axis, along the generator; on the wall the normal is that of the next node outwards.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import ElementHex2

from ...geometry import Placement, Resolution, Tube
from ...geometry.slit_half_model import ConeModel, ConeShape, build_cone_model
from ...materials import Ice
from ..cracks.slit_faces import jump_matrix
from ..solid.elasticity import assemble_stiffness
from ..solid.solver import SolveError, choose_method, condense

Array = NDArray[np.float64]
Index = NDArray[np.int64]
UNIT_PUSH = 1e5  # N: of the size that makes the loads' block of the matrix as large as its others, within some orders
PROFILES: Mapping[str, Callable[[Array], Array]] = {
    "uniform": lambda f: np.ones_like(f),
    "falling": lambda f: 1.0 - f,
    "peaked": lambda f: np.exp(-5.0 * f),
    "lower half": lambda f: np.where(f > 0.5, 1.0, 0.0),
}
SPARE = (0.03, 1.0)  # the hole goes on below the push by this [m] or this share of the depth, whichever is more
GAUSS = 4


@dataclass(frozen=True)
class ChipBody:
    """cone : the slit mesh.  ice : its material.  unknowns : of the factorisation.

    S : (3 k, 3 k) [N/m] and c : (3 k, loads) [N] of the jumps of its k pairs; jumps that symmetry forbids stand apart.
    bonded : (loads,) energy of the half model under each load without a crack [J].
    """

    cone: ConeModel
    ice: Ice
    S: Array
    c: Array
    bonded: Array
    unknowns: int

    def load(self, profile: str = "uniform", axial: float = 0.0) -> Array:
        """c (3 k,) of a push with the lateral force UNIT_PUSH and `axial` times as much along the axis, outwards.

        Raises ValueError for an unknown profile.
        """
        if profile not in PROFILES:
            raise ValueError(f"profile = {profile!r}: must be one of {', '.join(PROFILES)}")
        at = 2 * list(PROFILES).index(profile)
        return np.asarray(self.c[:, at] + axial * self.c[:, at + 1])


def chip_body(
    tube: Tube, angle: float, ice: Ice, shape: ConeShape, size: Resolution, gone: Index | None = None
) -> ChipBody:
    """Mesh and condense the ice with a slit of this shape (module docstring).

    angle : of the placement [rad].  shape : its start is the depth d of the push.  gone : elements that are no longer
    there (what is left of a push on them pushes nothing).
    Raises ValueError for a shape or angle that cannot be meshed, SolveError if the mesh is too fine to factorise.
    """
    embedment = shape.start + max(SPARE[0], SPARE[1] * shape.start)
    plain = replace(tube, length=embedment, thread_length=0.0, eye=0.0)
    return condense_chip(build_cone_model(plain, Placement(angle, embedment), shape, 0.0, size), ice, gone)


def condense_chip(cone: ConeModel, ice: Ice, gone: Index | None = None) -> ChipBody:
    """The condensed body of a slit mesh; its tube is left out."""
    S, c, C, unknowns = condense_loads(cone, ice, _pushes(cone), gone)
    return ChipBody(cone, ice, S, c, 0.5 * np.diag(C), unknowns)


def condense_loads(
    cone: ConeModel, ice: Ice, loads: Array, gone: Index | None = None
) -> tuple[Array, Array, Array, int]:
    """S (3 k, 3 k) [N/m] of the jumps, c (3 k, n) [N] of loads (3 nodes, n) [N], C (n, n) [J], number of unknowns.

    C : of the loads alone, without jumps. Raises SolveError if the mesh is too fine to factorise.
    """
    half = cone.half
    elements = half.regions["ice"] if gone is None else np.setdiff1d(half.regions["ice"], gone)
    K = assemble_stiffness(half.mesh, [(elements, ice.elastic.tensor())])
    above, below = half.faces
    free = np.zeros((half.mesh.doflocs.shape[1], 3), bool)
    free[half.mesh.dofs.element_dofs[:, elements]] = True
    free[half.nodes["symmetry"], 1] = False  # a jump round the axis is one across the plane there
    free[half.nodes["far"]] = False
    slots = np.flatnonzero(free)
    T = jump_matrix(len(free), above, below, _frames(cone))[:, slots].tocsr()
    A, b = (T.T @ (K @ T)).tocsr(), T.T @ loads
    place = np.full(free.size, -1)
    place[3 * above[:, None] + np.arange(3)] = np.arange(3 * above.size).reshape(-1, 3)
    jumps, n = place[slots], b.shape[1]
    method = choose_method(slots.size)
    if method == "amg":
        raise SolveError(f"a chip with {slots.size} unknowns needs a direct solver: choose larger elements")
    D = float(A.diagonal().mean())
    pushed = sp.csr_matrix(b)
    whole = sp.bmat([[A, -pushed], [-pushed.T, D * sp.identity(n)]]).tocsr()
    kept = np.concatenate([jumps >= 0, np.ones(n, bool)])
    condensed = condense(whole, np.zeros(kept.size), kept, method)
    at, size = jumps[jumps >= 0], 3 * above.size
    S, c = np.zeros((size, size)), np.zeros((size, n))
    S[np.ix_(at, at)], c[at] = condensed.S[:-n, :-n], -condensed.S[:-n, -n:]
    apart = np.setdiff1d(np.arange(size), at)
    S[apart, apart] = np.diag(S)[at].mean()
    return S, c, D * np.eye(n) - condensed.S[-n:, -n:], slots.size


def along_front(cone: ConeModel) -> Array:
    """Unit vectors (k, 3) toward the front, square to the axis, along the faces: components in the pairs' frames."""
    parts = np.asarray(np.einsum("i,kic->kc", cone.half.frame[:, 0], _frames(cone)))
    parts[:, 0] = 0.0
    return parts


def _frames(cone: ConeModel) -> Array:
    """Frames (k, 3, 3) of the pairs: normal, round, along; on the wall those of the next node on the generator."""
    frames = np.moveaxis(cone.frames, -1, 0).copy()
    wall, off = np.flatnonzero(cone.on_wall), np.flatnonzero(~cone.on_wall)
    off = off[np.argsort(cone.share[off], kind="stable")]
    rows = np.abs(cone.azimuth[wall][:, None] - cone.azimuth[off]) < 1e-6
    frames[wall] = frames[off[np.argmax(rows, axis=1)]]
    return frames


def _pushes(cone: ConeModel) -> Array:
    """Nodal forces (3 nodes, loads) of every profile, normal and axial in turn [N]."""
    half = cone.half
    elements = half.beside[half.under + 1 :, 0].ravel()
    x, w = np.polynomial.legendre.leggauss(GAUSS)
    round_, up = (0.5 + 0.5 * v.ravel() for v in np.meshgrid(x, x))
    points, weight = np.stack([np.zeros_like(up), round_, up]), 0.25 * np.outer(w, w).ravel()
    mapping, element = half.mesh.mapping(), ElementHex2()
    side = mapping.DF(points, tind=elements)  # (3, 3, elements, points)
    area = np.linalg.norm(np.cross(side[:, 1], side[:, 2], axis=0), axis=0) * weight
    xi, eta, along = np.einsum("ic,iep->cep", half.frame, mapping.F(points, tind=elements))
    phi = np.arctan2(eta, xi)
    e_1, e_y, e_a = half.frame.T[:, :, None, None]
    normal, axis = np.cos(phi) * e_1 + np.sin(phi) * e_y, np.broadcast_to(e_a, (3, *phi.shape))
    share = _share(cone, phi, xi, along)
    value = np.stack([element.lbasis(points, i)[0] for i in range(27)])
    nodes = half.mesh.dofs.element_dofs[:, elements]
    columns = []
    for profile in PROFILES.values():
        pressed = np.maximum(np.cos(phi), 0.0) * profile(share) * area
        for direction, resultant in ((normal, pressed * np.cos(phi)), (axis, pressed)):
            b = np.zeros((half.mesh.doflocs.shape[1], 3))
            np.add.at(b, nodes, np.einsum("np,ep,iep->nei", value, pressed, direction))
            columns.append(0.5 * UNIT_PUSH / resultant.sum() * b.ravel())
    return np.stack(columns, axis=1)


def _share(cone: ConeModel, phi: Array, xi: Array, along: Array) -> Array:
    """Share of the way along the wall from the surface (0) to the slit (1)."""
    half = cone.half
    at = half.frame.T @ half.mesh.doflocs[:, half.faces[0][cone.on_wall]]
    azimuth = np.arctan2(at[1], at[0])
    order = np.argsort(azimuth)
    surface = -half.frame[2, 0] / half.frame[2, 2] * xi  # z = 0
    return np.asarray((surface - along) / (surface - np.interp(phi, azimuth[order], at[2][order])))
