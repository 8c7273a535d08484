"""A second method for the crack in front of a pressed wall: a phase field, which is not told where to run.

Body, push and first crack are those of `fem.chip.path` (plane strain, P even over the wall's uppermost `depth` d, wall
free below); all else differs. Damage minimises the energy of `validation.phase_field.solve` (AT1) on a mesh that knows
no path (`validation.phase_field.even_wedge`):

    u, a   minimise   int [g psi_1 + psi_0] + 3 G_c/8 [a/ell + ell |grad a|^2] dV - P f.u,    G_c = K_IC^2 (1 - nu^2)/E
    reach   distance of the farthest node with damage above BROKEN from the strip's lower end                   [m]
    path    middle of what is damaged above BROKEN, ring by ring of two elements round that end
    surface the crack is out when its tip is nearer than CLEAR ell to the surface and rises; the rest is drawn straight

The answer is in proportion to K_IC; no E enters, nu does only through the split. P is what makes each step dissipate
AMOUNT d G_c more, so that the load may fall as it likes: even pressure stays even, which a pushed rigid strip would
not. The first crack is a row of cells left out, just below the strip. The faces open and slide at once, so the forces
are those of the `hybrid` of `validation.phase_field.model`; the split's own hold the chip back.

Limits: as `fem.chip.path`; open cracks; ice nearer to the wall than most of the first crack cannot break; the tip's
place is known to ell or so; a band 4 ell wide softens a thin chip, whose load is low. With the volumetric split's psi_1
ice breaks by pressure elsewhere first.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, nan, sin, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from skfem import MeshQuad

from ...fem.chip.path import HoleWall
from ...geometry.wedge_section import clearance, hole_point
from .even_wedge import even_wedge
from .model import DamageModel, make_damage_model
from .solve import follow_damage

Array = NDArray[np.float64]
Ending = Literal["surface", "ice"]
TOUGHNESS = 1e5  # Pa m^0.5, to which loads are in proportion
AMOUNT = 0.1  # of d G_c, dissipated in a step
NOTCH = 1.0  # elements from the strip's end down to the first crack's line
SOUND = 0.8  # of the first crack's distance from the wall: ice that cannot break
BROKEN = 0.9
CLEAR, FREE = 2.0, 5.0  # of ell: as far as a band of damage reaches; where it does not feel the surface
LEVEL = 6  # rings of the path that give its way to the surface


@dataclass(frozen=True, slots=True)
class Smear:
    """ell : over d.  fine : elements to ell.  reach : ahead and deep, over d, of the part that can break.

    split : of `validation.phase_field.energy_split`.  hybrid : as `make_damage_model`'s.  seed : of the mesh.
    """

    ell: float = 0.1
    fine: float = 2.0
    reach: tuple[float, float] = (3.5, 2.5)
    split: str = "no_tension"
    hybrid: bool = True
    seed: int = 0


@dataclass(frozen=True)
class ChipField:
    """A crack that found its way, (n,) steps. SI, rad.

    mesh, damage : (nodes,) at the end.  reach : of the crack from the strip's lower end.  below : its tip's depth under
    the surface.  coefficient : P/(K_IC sqrt(d)).  dissipated : over d G_c, beyond the first crack's.  path : (2, k).
    ending : out of the surface, or still in the ice, left there.  outcrop : x at which it comes out.
    """

    hole: HoleWall
    smear: Smear
    mesh: MeshQuad
    damage: Array
    reach: Array
    below: Array
    coefficient: Array
    dissipated: Array
    path: Array
    ending: Ending
    outcrop: float | None

    @property
    def cost(self) -> float:
        """Energy of a length of crack over G_c [-]: least squares over the steps FREE ell and more below the surface.

        NaN if there are less than two.
        """
        free = self.below > FREE * self.smear.ell * self.hole.depth
        if free.sum() < 2:
            return nan
        return float(np.polyfit(self.reach[free] / self.hole.depth, self.dissipated[free], 1)[0])


def field_model(hole: HoleWall, smear: Smear, first: float, direction: float) -> DamageModel:
    """The wedge as a phase field under 1 N/m on the strip, without the cells of a first crack (`chip_field`).

    Raises ValueError for a wall that is held below, an unknown split and what cannot be meshed.
    """
    if hole.below != "free":
        raise ValueError(f"below = {hole.below!r}: must be 'free'")
    d, (E, nu) = hole.depth, hole.ice
    ell, (ahead, deep) = smear.ell * d, (each * d for each in smear.reach)
    size = ell / smear.fine
    whole = even_wedge(hole.angle, d, size, (ahead, deep), smear.seed)
    start = hole_point(hole.angle, d + NOTCH * size)
    mesh = _notched(whole, start, first * d, direction)
    sound = SOUND * clearance(hole.angle, start + first * d * np.array([cos(direction), sin(direction)]))[1]
    x, middle = mesh.p, mesh.p[:, mesh.t].mean(axis=1)
    down = np.hypot(*x)
    strip = np.flatnonzero((np.abs(clearance(hole.angle, x)[1]) < 1e-6 * size) & (down < d + 1e-6 * size))
    strip = strip[np.argsort(down[strip])]
    share = np.convolve(np.diff(down[strip]), [0.5, 0.5]) / d
    load = np.zeros((x.shape[1], 2))
    load[strip] = share[:, None] * np.array([cos(hole.angle), -sin(hole.angle)])
    held = np.repeat(down > 0.98 * down.max(), 2)
    brittle = (middle[0] < ahead) & (middle[1] > -deep) & (clearance(hole.angle, middle)[1] > sound)
    even = np.ones(mesh.t.shape[1])
    fracture_energy = TOUGHNESS**2 * (1 - nu**2) / E
    ice, split = (E * even, nu * even), smear.split
    return make_damage_model(
        mesh, ice, brittle, load.ravel(), held, ell, fracture_energy, size, split, plane=True, hybrid=smear.hybrid
    )


def _notched(mesh: MeshQuad, start: Array, length: float, direction: float) -> MeshQuad:
    """The mesh without the cells that a line of `length` [m] from `start` (2,) on the wall runs through."""
    c, s = cos(direction), sin(direction)
    along, across = np.array([[c, s], [-s, c]]) @ (mesh.p - start[:, None])
    sides = np.sign(across)[mesh.t]
    through = (sides.min(axis=0) < 0) & (sides.max(axis=0) > 0) & (along[mesh.t].mean(axis=0) < length)
    nodes, t = np.unique(mesh.t[:, ~through], return_inverse=True)
    return MeshQuad(np.ascontiguousarray(mesh.p[:, nodes]), np.ascontiguousarray(t.reshape(4, -1)))


def chip_field(hole: HoleWall, first: float, direction: float, smear: Smear, longest: float) -> ChipField:
    """Let a crack grow from one `first` d long, `direction` [rad], until it is out or reaches `longest` d.

    Raises ValueError as `field_model` does, SolveError if a solve does not come out.
    """
    d = hole.depth
    model = field_model(hole, smear, first, direction)
    end = hole_point(hole.angle, d)[:, None]
    away = np.hypot(*(model.mesh.p - end))
    rows: list[tuple[float, float, float]] = []
    ending: Ending = "ice"
    outcrop = None
    for state in follow_damage(model, AMOUNT * d * TOUGHNESS**2 * (1 - hole.ice[1] ** 2) / hole.ice[0]):
        damage = state.damage
        if damage.max() <= BROKEN:
            continue
        path = _middle(model.mesh.p, damage, away, 2 * model.ell / smear.fine)
        reach = float(away[damage > BROKEN].max())
        rows.append((reach, -float(path[1, -1]), state.load / (TOUGHNESS * sqrt(d))))
        run, rise = path[:, -1] - path[:, -min(LEVEL, path.shape[1])]
        if rows[-1][1] < CLEAR * model.ell and rise > 0:
            ending, outcrop = "surface", float(path[0, -1] - path[1, -1] * run / rise)
        if outcrop is not None or reach > longest * d:
            break
    reaches, below, coefficient = np.array(rows).T
    dissipated = np.asarray(AMOUNT * np.arange(1, 1 + len(rows)), np.float64)
    return ChipField(hole, smear, model.mesh, damage, reaches, below, coefficient, dissipated, path, ending, outcrop)


def _middle(x: Array, damage: Array, away: Array, width: float) -> Array:
    """The path (2, k): in each ring of `width` [m] that holds nodes above BROKEN, their mean."""
    broken = damage > BROKEN
    ring = (away[broken] / width).astype(int)
    count = np.bincount(ring)
    sums = np.stack([np.bincount(ring, each) for each in x[:, broken]])
    return np.asarray(sums[:, count > 0] / count[count > 0])
