"""A steel column with bearing rings pulled straight out of ice that breaks as a phase field: the cone's second route.

The section is that of `geometry.threaded_section` (the same `Column`, the same supports and loads as
`fem.cone.threaded_pull`), on a plain grid of rectangles that knows no crack: `size` wherever a cone may run, coarser
outside.

    rings' upper faces  u_z(ice) >= u_z(steel)       cylinder, crests  u_r(ice) >= u_r(steel)       lower faces apart

No friction. Steel is elastic and whole.

Limits: threads finer than ell are smeared: whether the ice between rings strips is not resolved and rests on the split
(under `volumetric` a stud shears out a plug at an eighth of the cone's load). Radial cracks cannot part in a body of
revolution: hoop tension round the mouth damages a whole cone of ice there, which in the end joins the threads' damage
and cuts the peak. Elements of ell/2 pull the crack toward grid lines by a few degrees, those of ell/3 hardly.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, degrees, nan, pi

import numpy as np
from numpy.typing import NDArray
from skfem import ElementQuad1, FacetBasis, LinearForm, MeshQuad

from ...fem.errors import SolveError
from ...geometry.o_grid import graded
from ...geometry.threaded_section import Column
from .model import DamageModel, make_damage_model
from .solve import DamageState, follow_damage

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
REACH = 1.4  # fine grid to this radius, in depths of the lowest bearing face; ice outside it does not break
BELOW = 2.5  # fine grid to this far below the tip, in ell
GROWTH = 0.3
BROKEN = 0.8  # damage of a crack's middle, at least
WINDOW = 1.5  # ell, the path turns no more than this between two columns of nodes


def _grid(column: Column, size: float, ell: float, reach: float) -> tuple[Array, Array]:
    """Grid lines r and z [m] that hold all edges of column and hole."""

    def pieces(marks: list[float]) -> Array:
        steps = ((a, b, max(1, round((b - a) / size))) for a, b in pairwise(marks))
        return np.concatenate([*(np.linspace(a, b, n + 1)[:-1] for a, b, n in steps), marks[-1:]])

    def onward(start: float, end: float) -> Array:
        return start + graded(end - start, size, end - start, GROWTH, end - start)[1:]

    faces = {edge for low in column.bottoms for edge in (low, low + column.thickness)}
    tip, floor = -column.embedment, _floor(column, ell)
    marks = {floor, tip - column.hole, tip, 0.0, column.stub} | faces
    near_r = pieces(sorted({0.0, column.radius - column.wall, column.radius, column.crest, reach}))
    near_z = pieces(sorted(marks))
    return np.append(near_r, onward(reach, column.far)), np.concatenate([-onward(-floor, column.far)[::-1], near_z])


def _floor(column: Column, ell: float) -> float:
    """Height [m] down to which the grid is fine."""
    return -column.embedment - max(column.hole, BELOW * ell)


def pull_model(
    column: Column,
    ice: tuple[float, float],
    steel: tuple[float, float],
    fracture_energy: float,
    ell: float,
    size: float,
    split: str = "no_tension",
) -> DamageModel:
    """Model for 1 N at the column's head.

    ice, steel : E [Pa], nu.  fracture_energy : G_c [J/m2] of ice.  ell, size : m.
    """
    r, z = _grid(column, size, ell, REACH * -column.bearing_face(0))
    plain = MeshQuad.init_tensor(r, z)
    at_r, at_z = plain.p[:, plain.t].mean(axis=1)
    tip = -column.embedment
    low = np.array(column.bottoms)[:, None]
    ring = ((at_z > low) & (at_z < low + column.thickness)).any(axis=0) & (at_r > column.radius) & (at_r < column.crest)
    inside = (at_r < column.radius) & (at_z > tip - column.hole)
    is_steel = ring | (inside & (at_z > tip) & (at_r > column.radius - column.wall))
    is_ice = ~inside & ~ring & (at_z < 0)
    count = plain.p.shape[1]
    t = np.concatenate([plain.t[:, is_steel], plain.t[:, is_ice] + count], axis=1)
    used, t = np.unique(t, return_inverse=True)
    mesh = MeshQuad(np.ascontiguousarray(np.tile(plain.p, 2)[:, used]), np.ascontiguousarray(t.reshape(4, -1)))
    ice_cell = np.arange(mesh.t.shape[1]) >= is_steel.sum()
    at_r, at_z = mesh.p[:, mesh.t].mean(axis=1)
    brittle = ice_cell & (at_r < REACH * -column.bearing_face(0)) & (at_z > _floor(column, ell))
    _, ours, theirs = np.intersect1d(used[used >= count] - count, used[used < count], return_indices=True)
    slave, master = ours + int((used < count).sum()), theirs
    of_steel = used < count
    elastic = np.where(ice_cell, np.reshape(ice, (2, 1)), np.reshape(steel, (2, 1)))
    return make_damage_model(
        mesh,
        (elastic[0], elastic[1]),
        brittle,
        _head_load(mesh, column),
        _supports(mesh, column, of_steel),
        ell,
        fracture_energy,
        size,
        split,
        _gaps(column, mesh.p, slave, master),
    )


def _head_load(mesh: MeshQuad, column: Column) -> Array:
    top = mesh.facets_satisfying(lambda x: np.abs(x[1] - column.stub) < 1e-9, boundaries_only=True)
    face = FacetBasis(mesh, ElementQuad1(), facets=top)
    along_z = LinearForm(lambda v, w: v * 2 * pi * w.x[0]).assemble(face)
    return np.stack([np.zeros_like(along_z), along_z / along_z.sum()], axis=1).ravel()


def _supports(mesh: MeshQuad, column: Column, of_steel: Mask) -> Mask:
    r, z = mesh.p
    held = ~of_steel & ((r > column.far - 1e-9) | (z < -column.far + 1e-9))
    return np.stack([held | (r < 1e-12), held], axis=1).ravel()


def _gaps(column: Column, p: Array, slave: NDArray[np.int64], master: NDArray[np.int64]) -> NDArray[np.int64]:
    """Dofs (2, k) of ice and steel with u(ice) >= u(steel)."""
    r, z = p[:, slave]
    tops = np.array([column.bearing_face(ring) for ring in range(len(column.bottoms))])
    bears = np.abs(z[:, None] - tops).min(axis=1) < 1e-9
    side = (np.abs(r - column.radius) < 1e-9) | (np.abs(r - column.crest) < 1e-9)
    pairs = np.stack([slave, master])
    return np.concatenate([2 * pairs[:, bears] + 1, 2 * pairs[:, side]], axis=1)


@dataclass(frozen=True)
class DamagePull:
    """A pull followed by dissipation, (n,) states. SI.

    load N, displacement of the head m, dissipated J, stored J (elastic).  at_peak : damage (nodes,) at the largest
    load; at_end : of the last state.
    """

    column: Column
    model: DamageModel
    load: Array
    displacement: Array
    dissipated: Array
    stored: Array
    at_peak: Array
    at_end: Array

    @property
    def peak(self) -> float:
        """Largest load [N]."""
        return float(self.load.max())

    def path(self, damage: Array | None = None) -> Array:
        """Middle of the lowest ring's cone (2, n) [m], from its corner outwards, at the peak by default."""
        return cone_path(self.column, self.model, self.at_peak if damage is None else damage)

    @property
    def elevation(self) -> float:
        """Of that path's chord from the surface plane [deg]; nan if there is none."""
        return chord(self.path())


def chord(path: Array) -> float:
    """Elevation [deg] of a path's end (2, n) seen from its start; nan if it has no length."""
    run, rise = path[:, -1] - path[:, 0]
    return degrees(atan2(rise, run)) if run > 0 else nan


def cone_path(column: Column, model: DamageModel, damage: Array) -> Array:
    """Middle of the band of damage (2, n) [m] that starts at the lowest ring's corner, column by column outwards.

    It ends where the largest damage near the last point falls below BROKEN.
    """
    corner = np.array([column.crest, column.bearing_face(0)])
    r, z = model.mesh.p
    points = [corner]
    for at in np.unique(r[r > column.crest + 1e-9]):
        near = np.flatnonzero((r == at) & (np.abs(z - points[-1][1]) < WINDOW * model.ell))
        broken = near[damage[near] > BROKEN]
        if not broken.size:
            break
        points.append(np.array([at, np.average(z[broken], weights=damage[broken] - BROKEN)]))
    return np.stack(points, axis=1)


def pull_out(column: Column, model: DamageModel, amount: float, fallen: float = 0.9, most: int = 200) -> DamagePull:
    """Follow the pull until the load has fallen to `fallen` of its largest; each state dissipates `amount` [J] more.

    Raises SolveError if a solve does not come out or `most` states do not reach the end.
    """
    states: list[DamageState] = []
    for state in follow_damage(model, amount):
        states.append(state)
        peak = max(states, key=lambda each: each.load)
        if cone_path(column, model, state.damage)[0, -1] > -REACH * column.bearing_face(0) - 2 * model.ell:
            raise SolveError("phase field: the cone has come to the end of the fine grid")
        if state.load < fallen * peak.load:
            break
        if len(states) == most:
            raise SolveError(f"phase field: load not fallen to {fallen:g} of its peak in {most} states")
    load = np.array([each.load for each in states])
    return DamagePull(
        column,
        model,
        load,
        load * np.array([model.load @ each.u for each in states]),
        np.array([each.dissipated for each in states]),
        np.array([each.stored for each in states]),
        peak.damage,
        states[-1].damage,
    )
