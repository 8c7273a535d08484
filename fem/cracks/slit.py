"""Sharp cracks along slit surfaces of the ice round a tube: what drives them, and what they do to the wall's rings.

The half model's ice, slit along one surface of a family (`geometry.slit_half_model`) and condensed once for the loads f
of all rings of the wall (`cracks.wall_loads`, `cracks.condensed_ice`). With v the jumps of a crack's open faces,
unilateral and with friction mu,

    S v - c f = forces of the faces,     motion of the rings = 2 (C f + c^T v)              (energies: the half model's)

and v = V f as long as no face changes its state (`cracks.friction.jumps_per_load`), so that the crack adds 2 c^T V to
the rings' flexibility. What drives it on is what its next ring of faces would release at the same loads,

    W = 1/2 sum over the ring of (f_holding + f_faces) . v,     drive = (W_n + W_t / r^2) / (G_c dA) >= 1: it opens

The first crack is at least 2 L long, L = (K_IC / sigma_t)^2 / pi (as in `cone.tilted`).
Two families: chips, which start in front, with friction and a fracture energy of sliding r^2 G_c; and cones from the
tip, all round, driven by opening alone and without friction.

Limits: straight surfaces; fronts are rings of the mesh, W a mean over one; one step of loading at each length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from ...geometry.layers import Resolution
from ...geometry.slit_half_model import ConeModel, ConeShape, build_cone_model
from ..case import Case
from ..errors import SolveError
from .condensed_ice import condense_ice
from .friction import Faces, jumps_per_load, solve_faces
from .wall_loads import SPACING, Rings, ring_loads

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
UNIT = 3e6  # N, of the loads in the condensed matrix: of the size that makes their block as large as the others
COARSE = Resolution(sectors=4, ring=0.005, mouth=0.010, tip=0.012, growth=1.3, deep=0.06)


@dataclass(frozen=True, eq=False)
class Slit:
    """One surface. S (3 k, 3 k), c (3 k, n), C (n, n) for n loads of 1 N; first : rings of the first crack, less one.

    fracture_energy : G_c [J/m^2].  sliding_ratio : r.  fans : half angles that a crack on it may have [rad].
    """

    kind: str
    cone: ConeModel
    S: Array
    c: Array
    C: Array
    friction: float
    sliding_ratio: float
    fracture_energy: float
    first: int
    fans: tuple[float, ...]

    @property
    def start(self) -> float:
        """Distance of the slit from the mouth along the wall [m]."""
        return self.cone.shape.start


def make_slit(
    case: Case,
    rings: Rings,
    kind: str,
    shape: ConeShape,
    size: Resolution = COARSE,
    *,
    friction: float = 0.0,
    sliding_ratio: float = inf,
    fans: Sequence[float] = (pi,),
) -> Slit:
    """Mesh and condense one surface; kind : "chip" or "cone".  size : of elements, but for the wall's layers.

    fans : half angles that a crack may have [rad], taken to edges of sectors.  By default a crack opens all round, is
    driven by opening alone and has no friction.
    Raises ValueError for what cannot be meshed, SolveError if it is too fine.
    """
    cone = build_cone_model(case.tube, case.placement, shape, 0.0, replace(size, deep=SPACING))
    loads = UNIT * ring_loads(cone.half, case.tube, case.placement, rings)
    found = condense_ice(cone, case.ice, loads)
    first = min(int(np.searchsorted(cone.lengths, 2 * case.ice.critical_distance)), cone.rings.size - 1)
    edges = tuple(sorted({cone.fan_edge(fan) for fan in fans}))
    c, C = found.c / UNIT, found.C / UNIT**2
    return Slit(kind, cone, found.S, c, C, friction, sliding_ratio, case.ice.fracture_energy, first, edges)


@dataclass(eq=False)
class Crack:
    """The crack on a slit as it grows. ring : of its front, 0: closed.  fan [rad].

    bore : loads of the rings as it started.  known : jumps found last at each length, to start from.
    tried : drive of a closed crack and the push then.
    """

    slit: Slit
    ring: int = 0
    fan: float = pi
    bore: Array = field(default_factory=lambda: np.zeros(0))
    known: dict[tuple[int, float], Array] = field(default_factory=dict)
    tried: dict[float, tuple[float, float]] = field(default_factory=dict)

    @property
    def next_ring(self) -> int:
        """The ring that would open next."""
        return self.ring + 1 if self.ring else self.slit.first + 1

    @property
    def through(self) -> bool:
        """Whether it has come as far as it can."""
        return self.ring == self.slit.cone.rings.size

    def _faces(self, f: Array, ring: int, fan: float) -> tuple[Faces, Mask]:
        """Faces of a crack to `ring` under ring loads f (n,), and its pairs."""
        slit, pairs = self.slit, self.slit.cone.opened(ring, fan)
        at = np.repeat(pairs, 3)
        near = self.known.get((ring, fan))
        found = solve_faces(slit.S[np.ix_(at, at)], slit.c[at] @ f, slit.friction, near)
        self.known[ring, fan] = found.jump
        return found, pairs

    def drive(self, f: Array, fan: float) -> float:
        """Drive of the next ring under ring loads f (n,), at its own fan or, while closed, another; 0 if not found."""
        slit, load = self.slit, self.slit.c @ f
        was = slit.cone.opened(self.ring, fan)
        try:
            if self.ring:
                before, _ = self._faces(f, self.ring, fan)
                load = load - slit.S[:, np.repeat(was, 3)] @ before.jump.ravel()
            faces, now = self._faces(f, self.next_ring, fan)
        except SolveError:
            return 0.0
        new = now & ~was
        W = (0.5 * (load.reshape(-1, 3)[new] + faces.force[new[now]]) * faces.jump[new[now]]).sum(axis=0)
        sectors = int(np.argmin(np.abs(slit.cone.edges - fan)))
        area = float(slit.cone.area[self.ring : self.next_ring, :sectors].sum())
        return float((W[0] + (W[1] + W[2]) / slit.sliding_ratio**2) / (slit.fracture_energy * area))

    def softening(self, f: Array) -> Array:
        """What the crack adds to the rings' flexibility (n, n) [m/N] under loads f (n,) [N].

        Raises SolveError as the faces.
        """
        slit = self.slit
        faces, pairs = self._faces(f, self.ring, self.fan)
        at = np.repeat(pairs, 3)
        c, S = slit.c[at], slit.S[np.ix_(at, at)]
        return np.asarray(2 * c.T @ jumps_per_load(S, c, faces, slit.friction))
