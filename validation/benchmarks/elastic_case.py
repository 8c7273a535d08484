"""The body that every code of `elastic_solve` solves: half models of one case at sizes of one family.

The tube is upright, driven flush and pulled along the surface. A size is the level "quick" with all its element sizes
(and their growth) divided by `finer`; the sectors, a multiple of four, follow as near as they can. Sizes of the family
therefore converge at one rate, and their answers have a Richardson limit.

    bonded    tube and ice are one body: every node of a contact pair is one node. Linear; each code solves exactly it.
    contact   the project's own case: gaps open, the shank slides (`fem.solid.contact`).

Limit: half models above some 100,000 unknowns are finer than any level of the project.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from resource import RUSAGE_SELF, getrusage
from sys import platform
from time import perf_counter

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex, MeshHex2

from icecone.fem.solid.elasticity import spread_force
from icecone.geometry.half_model import HalfModel, build_half_model
from icecone.geometry.layers import LEVELS, Level, Resolution
from icecone.geometry.placement import load_point
from icecone.materials.tensor import isotropic
from icecone.validation.models.half_model_case import PULL, SOUND, STEEL, TUBE, UPRIGHT

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Ints = NDArray[np.int64]
FINER = {"tiny": 0.5, "25k": 1.0, "90k": 1.5, "190k": 2.05, "400k": 2.74, "1M": 3.7}  # names: about the unknowns
CONSTANTS = {"ice": SOUND, "tube": STEEL}  # E [Pa], nu
GIGABYTE = 1024**3
RSS_UNIT = 1 if platform == "darwin" else 1024  # bytes, of ru_maxrss


@dataclass(frozen=True)
class Body:
    """A half model and its load, with nothing assembled.

    load : (3 nodes,) nodal forces of half the pull [N], of the model's nodes.
    one : (nodes,) the bonded body's node of each of the model's; its mesh is `bonded`.
    """

    model: HalfModel
    load: Array
    bonded: MeshHex2
    one: Ints

    def regions(self) -> list[tuple[Ints, Array]]:
        """Elements and stiffness of each solid, as `assemble_stiffness` takes them."""
        return [(self.model.regions[name], isotropic(*constants)) for name, constants in CONSTANTS.items()]

    def bonded_load(self) -> Array:
        """Nodal forces (3 nodes of `bonded`,) [N]."""
        out = np.zeros((self.bonded.doflocs.shape[1], 3))
        np.add.at(out, self.one, self.load.reshape(-1, 3))
        return out.ravel()

    def bonded_free(self) -> Mask:
        """Which components (3 nodes of `bonded`,) no support holds."""
        held = np.zeros((self.bonded.doflocs.shape[1], 3), bool)
        held[self.one[self.model.nodes["symmetry"]], 1] = True
        held[self.one[self.model.nodes["far"]]] = True
        return ~held.ravel()


def compliance(load: Array, u: Array) -> float:
    """Movement of the load point over the pull [m/N]; load and u of the same numbering."""
    return 2 * float(load @ u) / PULL**2


def resolution(size: str) -> Level | Resolution:
    """What makes a size: of the family, or a level of the project by its name."""
    if size not in FINER:
        return size  # type: ignore[return-value]
    quick, finer = LEVELS["quick"], FINER[size]
    sectors = 4 * max(1, round(quick.sectors * finer / 4))
    scaled = (each / finer for each in (quick.ring, quick.mouth, quick.tip, quick.growth, quick.deep))
    return Resolution(sectors, *scaled)


def make_body(size: str) -> Body:
    """The body of a size."""
    model = build_half_model(TUBE, UPRIGHT.placement, level=resolution(size))
    load = spread_force(model.mesh, model.regions["eye"], UPRIGHT.half_pull, load_point(TUBE, UPRIGHT.placement))
    mesh = model.mesh
    shared = np.arange(mesh.doflocs.shape[1])
    shared[model.pairs[1]] = model.pairs[0]
    used, t = np.unique(shared[mesh.t], return_inverse=True)
    corner = np.ascontiguousarray(mesh.doflocs[:, used]), np.ascontiguousarray(t.reshape(8, -1))
    flat = MeshHex2.from_mesh(MeshHex(*corner, sort_t=False, validate=False))
    one = np.empty(mesh.doflocs.shape[1], np.int64)
    one[mesh.dofs.element_dofs] = flat.dofs.element_dofs
    x = np.empty_like(flat.doflocs)
    x[:, one] = mesh.doflocs
    return Body(model, load, MeshHex2(x, flat.t, sort_t=False, validate=False), one)


def rigid_modes(x: Array) -> Array:
    """Translations and rotations (3 n, 6) of points (3, n) about their centroid, in lengths of the body."""
    y = x - x.mean(axis=1, keepdims=True)
    y = y / np.abs(y).max()
    modes = np.zeros((x.shape[1], 3, 6))
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        modes[:, i, i] = 1.0
        modes[:, j, 3 + i], modes[:, k, 3 + i] = -y[k], y[j]
    return modes.reshape(-1, 6)


def peak_memory() -> float:
    """Largest resident memory of this process so far [GB of 1024^3 bytes]."""
    return getrusage(RUSAGE_SELF).ru_maxrss * RSS_UNIT / GIGABYTE


@dataclass
class Stages:
    """Wall and processor seconds of the stages of one solve, in order."""

    wall: dict[str, float] = field(default_factory=dict)
    cpu: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def __call__(self, name: str) -> Iterator[None]:
        """Time what runs within, added to the stage of this name."""
        start, spent = perf_counter(), _processor()
        yield
        self.wall[name] = self.wall.get(name, 0.0) + perf_counter() - start
        self.cpu[name] = self.cpu.get(name, 0.0) + _processor() - spent


def _processor() -> float:
    used = getrusage(RUSAGE_SELF)
    return used.ru_utime + used.ru_stime
