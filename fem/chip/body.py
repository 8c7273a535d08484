"""The ice in front of a tube, pushed on the wall of the hole, slit below the push: condensed once for every crack.

The body is the half model's ice without the tube (`geometry.slit_half_model`). The hole goes on below the push and is
free there, and so is the wall behind. From the surface down to the slit's start, the depth d along the axis [m], the
front half of the wall bears

    t(phi, f) = p(f) cos(phi) e  [Pa]       e : the wall's normal, into the ice (frictionless push), or the tube's axis

phi round the axis from the front, f the share of the way from the surface (0) to the slit (1). p is one of PROFILES.
A push along the normal results in a force square to the axis, the lateral force F; of the whole wall it is UNIT_PUSH,
as is that of the axial one. `cracks.condensed_ice` condenses loads and jumps.

Limits: energies are the half model's, half of everything. Jumps of a pair run across the faces (upper less lower, > 0
apart), round the axis, along the generator; on the wall the normal is that of the next node outwards.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ...geometry.layers import Resolution
from ...geometry.placement import Placement, Tube
from ...geometry.slit_half_model import ConeModel, ConeShape, build_cone_model
from ...materials import Ice
from ..cracks.condensed_ice import condense_ice, face_frames
from ..cracks.wall_loads import HolePoints, hole_points

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
    found = condense_ice(cone, ice, chip_pushes(cone), gone)
    return ChipBody(cone, ice, found.S, found.c, 0.5 * np.diag(found.C), found.unknowns)


def along_front(cone: ConeModel) -> Array:
    """Components (k, 3) along the faces of the direction toward the front, square to the axis, in the pairs' frames."""
    parts = np.asarray(np.einsum("i,kic->kc", cone.half.frame[:, 0], face_frames(cone)))
    parts[:, 0] = 0.0
    return parts


def chip_pushes(cone: ConeModel) -> Array:
    """Nodal forces (3 nodes, loads) of every profile, normal and axial in turn [N]."""
    half = cone.half
    at = hole_points(half, half.beside[half.under + 1 :, 0].ravel())
    share = _share(cone, at)
    columns = []
    for profile in PROFILES.values():
        pressed = np.maximum(np.cos(at.phi), 0.0) * profile(share) * at.area
        for direction, resultant in ((at.radial, pressed * np.cos(at.phi)), (at.axis, pressed)):
            b = np.zeros((half.mesh.doflocs.shape[1], 3))
            np.add.at(b, at.nodes, at.forces(pressed, direction))
            columns.append(0.5 * UNIT_PUSH / resultant.sum() * b.ravel())
    return np.stack(columns, axis=1)


def _share(cone: ConeModel, at: HolePoints) -> Array:
    """Share of the way along the wall from the surface (0) to the slit (1)."""
    half = cone.half
    xi, eta, along = half.frame.T @ half.mesh.doflocs[:, half.faces[0][cone.on_hole]]
    azimuth = np.arctan2(eta, xi)
    order = np.argsort(azimuth)
    surface = -half.frame[2, 0] / half.frame[2, 2] * at.xi  # z = 0
    return np.asarray((surface - at.along) / (surface - np.interp(at.phi, azimuth[order], along[order])))
