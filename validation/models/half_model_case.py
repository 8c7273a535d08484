"""The half models that other codes solve too: settings and our own answers, the same for every code.

Placements of one tube in three ices, so that what one lacks another has: upright in even ice, pulled along the surface;
leaning away from the pull, under a crust, pulled half upwards; leaning toward it in columnar ice. The upper end of the
threads is a layer of every mesh, so that whole faces are threaded or plain.

`glued` joins tube and ice in every component at every pair: linear, without contact, for a check of everything else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import cos, radians, sin
from types import MappingProxyType

import numpy as np
import scipy.sparse as sp

from ...fem.solid.assembly import assemble_stiffness
from ...fem.solid.contact import ContactSolution, pair_frames, solve_contact
from ...fem.solid.elasticity import displacement_gradient, scalar_basis, spread_force, stress
from ...fem.solid.stress import VOIGT
from ...geometry.half_model import HalfModel, build_half_model
from ...geometry.layers import Level, Resolution
from ...geometry.placement import Placement, Pull, Tube, load_point
from ...materials import tensor
from .bodies import Array, Mask, Regions, solve_held

PULL = 1000.0  # N, half of it on the half model
TUBE = Tube(
    length=0.130,
    outer_diameter=0.017,
    wall=0.0015,
    thread_length=0.065,
    thread_height=0.0025,
    thread_pitch=0.005,
    eye=0.010,
    hanger_strength=1e4,
)
STEEL, SOUND, SOFT = (205e9, 0.29), (9.3e9, 0.325), (4.0e9, 0.30)  # Pa, -


@dataclass(frozen=True, slots=True)
class Columns:
    """Ice of parallel columns: constants [Pa], and the columns' axis, `tilt_deg` from z toward x."""

    c11: float
    c12: float
    c13: float
    c33: float
    c44: float
    tilt_deg: float

    @property
    def axis(self) -> Array:
        """Unit vector along the columns, shape (3,)."""
        return np.array([sin(radians(self.tilt_deg)), 0.0, cos(radians(self.tilt_deg))])


@dataclass(frozen=True, slots=True)
class Setting:
    """A placement, its pull and its mesh. Angles in degrees, crust in m. columns : instead of SOUND ice."""

    word: str
    words: str
    angle_deg: float
    direction_deg: float
    crust: float
    level: Level | Resolution = "quick"
    columns: Columns | None = None

    @property
    def placement(self) -> Placement:
        """Driven flush, pulled at the eye."""
        return Placement(radians(self.angle_deg), TUBE.flush_embedment)

    @property
    def half_pull(self) -> Array:
        """Force on the half model [N], shape (3,)."""
        return 0.5 * PULL * Pull(radians(self.direction_deg)).unit

    @property
    def constants(self) -> Mapping[str, tuple[float, float]]:
        """E [Pa] and nu of each solid of the mesh, as a code takes them that does not know our tensors.

        The ice of `columns` has none: its entry is not to be used.
        """
        solids = {"ice": SOUND, "tube": STEEL} | ({"crust": SOFT} if self.crust else {})
        return MappingProxyType(solids)


UPRIGHT = Setting("upright", "upright, pulled along the surface", 0.0, 0.0, 0.0)
AWAY = Setting("away", "leaning away by 20 deg under a crust, pulled 30 deg upwards", -20.0, 30.0, 0.015)

TILTED = Columns(13.9e9, 7.1e9, 5.8e9, 15.0e9, 3.0e9, 50.0)  # about those of one crystal
COLUMNAR = Setting("columnar", "leaning toward by 15 deg in tilted columns", 15.0, 0.0, 0.0, columns=TILTED)


@dataclass(frozen=True, slots=True)
class Ours:
    """Our half model of a setting: mesh, materials, stiffness (tube and ice not joined) and nodal forces."""

    model: HalfModel
    regions: Regions
    K: sp.csr_matrix
    load: Array

    def compliance(self, u: Array) -> float:
        """Movement of the load point over the pull [m/N], of a field u (3 nodes,)."""
        return 2 * float(self.load @ u) / PULL**2

    @property
    def held(self) -> Mask:
        """Which of the 3 nodes components the supports hold: everything far away, y in the plane of symmetry."""
        fixed = np.zeros((self.model.mesh.doflocs.shape[1], 3), bool)
        fixed[self.model.nodes["symmetry"], 1] = True
        fixed[self.model.nodes["far"]] = True
        return fixed.ravel()


@cache
def ours(setting: Setting) -> Ours:
    """Mesh, stiffness and load of a setting."""
    model = build_half_model(TUBE, setting.placement, setting.crust, setting.level)
    tensors = {name: tensor.isotropic(*values) for name, values in setting.constants.items()}
    if c := setting.columns:
        tensors["ice"] = tensor.Transverse(c.c11, c.c12, c.c13, c.c33, c.c44, tuple(c.axis)).tensor()
    regions = [(model.regions[name], C) for name, C in tensors.items()]
    load = spread_force(model.mesh, model.regions["eye"], setting.half_pull, load_point(TUBE, setting.placement))
    return Ours(model, regions, assemble_stiffness(model.mesh, regions), load)


@cache
def our_contact(setting: Setting) -> ContactSolution:
    """Our answer with unilateral contact."""
    given = ours(setting)
    return solve_contact(given.model, given.regions, given.load)


@cache
def our_glued(setting: Setting) -> Array:
    """Our displacement (3 nodes,) [m] with every pair joined in all components."""
    given = ours(setting)
    join = joined(given.model)
    used = np.flatnonzero(np.diff(join.tocsc().indptr))
    join, held = join[:, used], given.held[used]
    v = solve_held((join.T @ given.K @ join).tocsr(), join.T @ given.load, held)
    return np.asarray(join @ v)


def gauss_stress(setting: Setting, u: Array) -> Array:
    """Our stress (elements, 27, 6: xx, yy, zz, yz, xz, xy) [Pa] at the Gauss points of the stiffness."""
    given = ours(setting)
    out = np.zeros((given.model.mesh.nelements, 27, 6))
    for elements, C in given.regions:
        tensors = stress(C, displacement_gradient(scalar_basis(given.model.mesh, elements), u))
        out[elements] = np.stack([tensors[..., i, j] for i, j in VOIGT], axis=-1)
    return out


def joined(model: HalfModel) -> sp.csr_matrix:
    """Matrix (3 n, 3 n) that gives an ice node of a pair its tube node's displacement; the ice's columns are empty."""
    n = model.mesh.doflocs.shape[1]
    master = np.arange(n)
    master[model.pairs[1]] = model.pairs[0]
    columns = (3 * master[:, None] + np.arange(3)).ravel()
    return sp.csr_matrix((np.ones(3 * n), (np.arange(3 * n), columns)), shape=(3 * n, 3 * n))


def shares(setting: Setting, pressing: Array, thrust: Array) -> Array:
    """Front, threads, back (`fem.onset.elastic`): parts of the pull of nodal forces of tube on ice at our pairs.

    pressing : (k,) along the normal out of the tube [N]; thrust : (k,) along the axis toward the head [N].
    """
    model = ours(setting).model
    along = np.einsum("kdc,d->kc", pair_frames(model), Pull(radians(setting.direction_deg)).unit)
    front = model.straight[0, model.pairs[0]] > 0
    normal, axial = pressing * along[:, 0], thrust * along[:, 2]
    return np.array([normal[front].sum(), axial.sum(), normal[~front].sum()]) / (0.5 * PULL)


def apart(a: Array, b: Array) -> float:
    """Largest difference over the largest value of b."""
    return float(np.abs(a - b).max() / np.abs(b).max())
