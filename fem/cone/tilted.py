"""A cone as a crack under an inclined or shear pull: energy release over a family of tilted cones, and the peak.

For one cone surface (`geometry.slit_half_model`), condensed once (`cone.condensed`), crack i lies inside one ring of
the mesh and one sector. With E_i = Pi_0 - min Pi at the pull F_1 and half areas and half energies alike,

    G_i = (E_i - E_(i-1)) / (A_i - A_(i-1))            mean over the ring just opened                   [J/m^2]
    F_i = F_1 sqrt(sum G_c dA / (E_i - E_(i-1)))       pull at which that ring opens, G_c = K_IC^2 / E'     [N]
    m_i = G_I / G,   G_I : G_II : G_III = mean over the front of d_n^2 : d_s^2 : (1 - nu) d_t^2
    total F_i: all modes drive the crack, the least it can need;      opening F_i / sqrt(m_i): only opening drives it

(E' = E / (1 - nu^2); G_c of the crust for faces in the crust; d the opening at the nodes next to the front, across,
along and round it: the near field of a crack, Irwin.) The peak of a shape is the largest of its loads, the peak of a
placement the least over shapes. A crack that may choose its path keeps to pure opening, where the two loads agree. Off
that path the total load is too low (steep cones slide) and the opening load too high: the least *opening* peak over a
family estimates from above, for paths as straight as these. The first crack is at least 2 L long, L = (K_IC /
sigma_t)^2 / pi, and needs its energy alone.

Limits: no curved or kinked paths; one G for the whole front (a real one runs ahead where G is larger); no friction of
shut faces. Crushing, bending and stripping are rivals, not parts. `from_start` and `rising` mark peaks that are bounds.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from math import pi, radians
from time import perf_counter

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...geometry.slit_half_model import STEEPEST, ConeModel, ConeShape
from ..case import Case
from ..errors import SolveError
from .condensed import UNIT_PULL, CondensedCone, tributary

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TiltedGrowth:
    """One shape from the smallest crack to the largest; the first ring starts at the wall.

    share : (m,) of the way to the surface, middle of each ring.  area : (m,) of the crack to the ring's end [m^2].
    release : (m,) G at UNIT_PULL over the ring [J/m^2].  mode : (m,) m_i at the end of the ring.
    load : (m,) pull at which the ring opens by all modes [N].
    shut : (m,) share of the crack's area that is pressed shut.  compliance : (m,) of the load point [m/N].
    surface : (m + 1, k, 3) points of the crack's fronts from the wall out, at k azimuths from -fan to fan [m].
    """

    shape: ConeShape
    share: Array
    area: Array
    release: Array
    mode: Array
    load: Array
    shut: Array
    compliance: Array
    surface: Array

    @property
    def opening_load(self) -> Array:
        """Pull (m,) at which the ring opens if only opening drives it [N]; inf if the front is shut."""
        with np.errstate(divide="ignore"):
            return np.asarray(self.load / np.sqrt(self.mode))

    @property
    def at(self) -> int:
        """Ring of the largest opening load."""
        return int(np.argmax(self.opening_load))

    @property
    def peak(self) -> float:
        """Largest opening load [N]."""
        return float(self.opening_load.max())

    @property
    def least(self) -> float:
        """Largest total load [N]: what the shape needs at least."""
        return float(self.load.max())

    @property
    def from_start(self) -> bool:
        """The peak is the first ring's: it owes its value to the length of the first crack."""
        return self.at == 0

    @property
    def rising(self) -> bool:
        """The peak is the last ring's: a bound from below for its shape."""
        return self.at == self.load.size - 1


@dataclass(frozen=True, slots=True)
class TiltedCone:
    """All shapes of one case.  best : the one with the least peak.  compliance : without a crack [m/N]."""

    case: Case
    shapes: tuple[TiltedGrowth, ...]
    compliance: float
    seconds: float

    @property
    def best(self) -> TiltedGrowth:
        """The shape with the least peak."""
        return min(self.shapes, key=lambda growth: growth.peak)

    @property
    def peak(self) -> float:
        """Peak of the placement over the shapes tried [N]."""
        return self.best.peak

    def by_start(self) -> dict[float, TiltedGrowth]:
        """The shape with the least peak for each depth of start [m].

        Starts are not comparable: under shear the shallower the start the lower the peak, without end. Those are chips,
        which come out in front and leave the rest of the tube holding. A cone that ends the placement starts at threads
        or tip.
        """
        ordered = sorted(self.shapes, key=lambda growth: (growth.shape.start, -growth.peak))
        return {growth.shape.start: growth for growth in ordered}


def default_shapes(case: Case) -> tuple[ConeShape, ...]:
    """Full cones from tip and middle of the threads, elevations and tilts round the usual that mesh.

    Half ones (`ConeShape.fan`) never were the weakest: -20, 0, +20 deg in shear, upright at 45 deg and straight out.
    """
    tip = case.placement.embedment
    middle = max(tip - 0.5 * case.tube.thread_length, 0.5 * tip)
    surfaces = [(tip, 35, 0), (tip, 45, 0), (tip, 35, 15), (tip, 35, -15), (middle, 35, 0), (middle, 25, 0)]
    shapes = (ConeShape(start, radians(elevation), radians(tilt)) for start, elevation, tilt in surfaces)
    return tuple(s for s in shapes if s.elevation + abs(case.placement.angle + s.tilt) <= STEEPEST)


def solve_tilted_cone(case: Case, shapes: Iterable[ConeShape] | None = None, threads_below: bool = True) -> TiltedCone:
    """Peak of a placement over a family of tilted cones (module docstring).

    shapes : `default_shapes` by default; those that differ in their fan alone share one factorisation.
    threads_below : whether threads below the cone's start hold the ice below it.
    Raises ValueError for a shape or placement that cannot be meshed, SolveError if a solve or the contact fails.
    """
    start = perf_counter()
    tried = list(default_shapes(case) if shapes is None else shapes)
    if not tried:
        raise ValueError("shapes = (): at least one shape of a cone is needed")
    found: list[TiltedGrowth] = []
    for _, alike in groupby(tried, key=lambda shape: replace(shape, fan=pi)):
        group = list(alike)
        body = CondensedCone(case, group[0], threads_below)
        found += [open_cone(body, shape.fan) for shape in group]
    return TiltedCone(case, tuple(found), body.compliance(), perf_counter() - start)


def open_cone(body: CondensedCone, fan: float = pi) -> TiltedGrowth:
    """Open a cone ring by ring inside the sector edge closest to `fan` [rad].

    Raises SolveError if the contact fails or a larger crack releases no more energy.
    """
    cone, case = body.cone, body.case
    fan = cone.fan_edge(fan)
    sectors = int(np.argmin(np.abs(cone.edges - fan)))
    first = min(int(np.searchsorted(cone.lengths, 2 * case.ice.critical_distance)), cone.rings.size - 1)
    energy, shut, mode, behind = [body.released(cone.opened(0, fan))[0]], [], [], tributary(cone)
    for ring in range(first + 1, cone.rings.size + 1):
        opened = cone.opened(ring, fan)
        released, d = body.released(opened)
        energy.append(released)
        shut.append(float(behind[opened & (d[:, 0] <= 0)].sum() / behind[opened].sum()))
        front = opened & (cone.share > cone.share[opened].max() - 1e-9)
        modes = behind[front] @ (d[front] ** 2 * [1.0, 1 - case.ice.elastic.poissons_ratio, 1.0])
        mode.append(float(modes[0] / modes.sum()))
    gained = np.diff(energy)
    if not np.all(gained > 0):
        raise SolveError(f"cone: a larger crack must release more energy, gained {gained.min():.2e} J")
    starts = np.r_[0, first + 1 : cone.rings.size]  # rows of elements that open together
    area = np.add.reduceat(cone.area[:, :sectors].sum(axis=1), starts)
    needed = np.add.reduceat((_fracture_energy(cone, case) * cone.area)[:, :sectors].sum(axis=1), starts)
    edges = np.concatenate([[0.0], cone.rings[first:]])
    return TiltedGrowth(
        shape=replace(cone.shape, fan=fan),
        share=0.5 * (edges[1:] + edges[:-1]),
        area=2 * np.cumsum(area),
        release=gained / area,
        mode=np.array(mode),
        load=UNIT_PULL * np.sqrt(needed / gained),
        shut=np.array(shut),
        compliance=np.array([body.compliance_with(e) for e in energy[1:]]),
        surface=_surface(cone, edges, cone.edges[: sectors + 1]),
    )


def _surface(cone: ConeModel, shares: Array, azimuths: Array) -> Array:
    """Points (shares, 2 azimuths - 1, 3) of the cone [m], the half y < 0 by its mirror image."""
    wanted = np.stack(np.meshgrid(shares, azimuths, indexing="ij"), axis=-1)
    node = cKDTree(np.stack([cone.share, cone.azimuth], axis=1)).query(wanted)[1]
    half = cone.half.mesh.doflocs[:, cone.half.faces[0]].T[node]
    return np.concatenate([half[:, :0:-1] * [1.0, -1.0, 1.0], half], axis=1)


def _fracture_energy(cone: ConeModel, case: Case) -> Array:
    """G_c at the elements of the faces (rings, sectors) [J/m^2]."""
    return np.where(cone.depth < case.crust, case.crust_ice.fracture_energy, case.ice.fracture_energy)
