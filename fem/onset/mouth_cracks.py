"""Candidate cracks at the mouth in the half model: all of them from one factorisation, each a dense problem.

    split     in the plane of the pull, y = 0, in front of the tube or behind it: the half model's u_y = 0 is let go
              inside the front, u_y >= 0
    across    along the layer at the threads' upper end, if that lies near the mouth: the layer is slit open, free
              to slide; the ice above it lets go of the threads, which hold the ice below

The half model is condensed onto the contact gaps of the tube and the jumps of all candidates [m],

    Pi(v) = Pi_0 + 1/2 v^T S v - c^T v  [J],   gaps >= 0,  jumps across >= 0 inside a front, 0 outside it.

1/2 c^T v is the energy that contact and a crack release. c - S v at the jumps of the whole ice, over the area behind
each node, is its stress. Everything is proportional to the pull.

At the wall behind a crack across the tube each face has a gap of its own. Faces across the tube are kept apart along
its axis, also where the layers near the mouth turn away from square to it.

Limit: elements at the mouth are at most MOUTH L large whatever the level, L the critical distance (K_IC / sigma_t)^2 /
pi.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import ElementHex2

from ...geometry.half_model import Cut, HalfModel, build_half_model, ring_radii
from ...geometry.layers import LEVELS, THINNEST_ZONE, Resolution, to_block
from ...geometry.placement import load_point
from ..case import Case
from ..cracks.slit_faces import jump_matrix, release, swap_for_gaps
from ..errors import SolveError
from ..solid.assembly import assemble_in
from ..solid.condensation import condense
from ..solid.contact import contact_unknowns, pair_frames
from ..solid.elasticity import spread_force, tube_in_ice
from ..solid.solver import choose_method

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
UNIT_PULL = 1000.0  # N
MOUTH = 0.8  # largest element at the mouth over L
REACH = 4.0  # longest crack tried over L
DEPTH = 8.0  # depth of the wall looked at over L
WIDEST = (2.0, 4.0)  # the same at most, over the tube's radius


@dataclass(frozen=True, slots=True)
class Surface:
    """Faces that may crack: (rows, rings), rows along or round the wall, rings outwards.

    elements : (rows, rings) that the faces belong to.  nodes, weights : (rows, rings, 9), the area behind each [m^2].
    shares : energy of the whole ice over that of the half model, at the area of `weights`: 2 on the plane y = 0.
    usable : rows and rings that a crack may take; the first row may be any where `floating`.
    length : (rings,) outer ends from the wall.  extent : (rows + 1,) places along or round the wall [m].
    """

    kind: str
    elements: Index
    nodes: Index
    weights: Array
    usable: tuple[int, int]
    length: Array
    extent: Array
    shares: int = 2
    floating: bool = True

    def behind(self, size: int) -> Array:
        """Area behind each node of a mesh (size,) [m^2]."""
        return np.asarray(np.bincount(self.nodes.ravel(), self.weights.ravel(), size), float)

    def opened(self, first: int, last: int, rings: int) -> Index:
        """Nodes strictly inside the front of the crack over rows first..last and `rings` rings."""
        inside = np.zeros(self.nodes.shape[:2], bool)
        inside[first : last + 1, :rings] = True
        return np.setdiff1d(self.nodes[inside], self.nodes[~inside])


class Release:
    """A body condensed onto contact gaps (>= 0) and jumps, of which a crack lets some go; others are held at 0.

    S : (k, k) [N/m], c : (k,) [N], as `solid.condensation.Condensed`.  gaps : (m,) which of the k are gaps.
    """

    def __init__(self, S: Array, c: Array, gaps: Index) -> None:
        self._S, self._c, self._gaps, self._closed = S, c, gaps, np.isin(np.arange(c.size), gaps)

    def release(self, across: Index, free: Index | None = None, hung: Index | None = None) -> tuple[float, Array]:
        """Energy [J] released with jumps `across` >= 0 and `free` ones let go, and the forces (k,) that hold [N].

        hung : (2, m) jumps d and gaps g on the wall; d + g, the gap of the jump's far side, is >= 0 too.
        """
        S, c, free = self._S, self._c, np.zeros(0, int) if free is None else free
        bound = np.concatenate([self._gaps, across])
        if hung is not None and hung.size:
            S, c = swap_for_gaps(S, c, *hung)
            bound, free = np.concatenate([bound, hung[0]]), np.setdiff1d(free, hung[0])
        v, self._closed[bound] = release(S, c, bound, free, self._closed[bound])
        return 0.5 * float(c @ v), c - S @ v


class MouthCracks:
    """A case condensed for all candidates of the module docstring.

    surfaces : the candidates' faces.  visible : least length of a crack, L but no more than the tube's radius [m].
    size : of the mesh.  strength, fracture_energy : sigma_t [Pa] and G_c [J/m^2] of each element.  compliance : of the
    load point along the pull without a crack [m/N].
    Raises ValueError for a placement that cannot be meshed, SolveError if the mesh is too fine to factorise.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        ices = [case.ice, case.crust_ice] if case.crust else [case.ice]
        radius = case.tube.radius
        self.visible = min(radius, *(ice.critical_distance for ice in ices))
        level = LEVELS[case.level] if isinstance(case.level, str) else case.level
        largest = MOUTH * self.visible
        self.size: Resolution = replace(level, ring=min(level.ring, largest), mouth=min(level.mouth, largest))
        self._reach = min(REACH * self.visible, WIDEST[0] * radius)
        self._depth = min(DEPTH * self.visible, WIDEST[1] * radius)
        self.model = model = self._mesh()
        self.surfaces = self._surfaces()
        self._condense()
        self._none = self.release.release(np.zeros(0, int))
        strength, energy = np.empty(model.mesh.nelements), np.empty(model.mesh.nelements)
        for region, ice in (("ice", case.ice), ("crust", case.crust_ice)):
            strength[model.regions[region]] = ice.tensile_strength
            energy[model.regions[region]] = ice.fracture_energy
        self.strength, self.fracture_energy = strength, energy
        self.compliance = 4 * (self._bonded + self._none[0]) / UNIT_PULL**2

    def _mesh(self) -> HalfModel:
        """The half model, slit at the threads' upper end if that lies near the mouth."""
        case, size = self.case, self.size
        top = case.tube.thread_length - case.placement.embedment
        if not -self._depth < top < -THINNEST_ZONE:
            return build_half_model(case.tube, case.placement, case.crust, size)
        radii = ring_radii(case.tube, max(0.4, 4 * case.placement.embedment), size)[1:]
        within = max(2, int(np.searchsorted(radii, radii[0] + self._reach))) + 1
        cut = Cut(top, radii, radii[within], lambda x, layers: to_block(x, case.tube, case.placement, layers))
        model = build_half_model(case.tube, case.placement, case.crust, size, cut=cut)
        above, below = model.faces  # the threads hold the lower face at the wall
        pairs = model.pairs.copy()
        order = np.argsort(above)
        on_hole = np.isin(pairs[1], above)
        pairs[1, on_hole] = below[order][np.searchsorted(above[order], pairs[1, on_hole])]
        return replace(model, pairs=pairs)

    def _surfaces(self) -> list[Surface]:
        model = self.model
        sectors = model.beside.shape[2]
        r = np.hypot(*model.straight[:2])[model.mesh.dofs.element_dofs[:, model.beside[0, :, 0]]]
        length = r.max(axis=0) - r.min()
        s = model.straight[2][model.mesh.dofs.element_dofs[:, model.beside[::-1, 0, 0]]]
        depth = np.append(0.0, -s.min(axis=0))
        usable = (max(2, int((depth[1:] <= self._depth).sum())), max(2, int((length <= self._reach).sum())))
        self._lower = lower = np.arange(model.mesh.doflocs.shape[1])
        lower[model.faces[0]] = model.faces[1]
        found = []
        for kind, sector, side in (("split in front", 0, 0.0), ("split behind", sectors - 1, 1.0)):
            elements = model.beside[::-1, :, sector]
            nodes, weights = _faces(model, elements, 1, side)
            found.append(Surface(kind, elements, lower[nodes], weights, usable, length, depth))
        if model.under >= 0:
            around = self.case.tube.radius * np.linspace(0.0, np.pi, sectors + 1)
            usable = (sectors, usable[1])
            for kind, step in (("across in front", 1), ("across behind", -1)):
                elements = model.beside[model.under].T[::step]
                faces = _faces(model, elements, 2, 1.0)
                found.append(Surface(kind, elements, *faces, usable, length, around, shares=1, floating=False))
        return found

    def _condense(self) -> None:
        """S, c on gaps, u_y of the splits' nodes, and jumps of the slit (tables by lower node)."""
        case, model, lower = self.case, self.model, self._lower
        metal = (case.metal.youngs_modulus, case.metal.poissons_ratio)
        regions = tube_in_ice(model.regions, case.ice.elastic, case.crust_ice.elastic, metal)
        carrier = model.regions["eye" if case.placement.attachment == "eye" else "sling"]
        at = load_point(case.tube, case.placement)
        load = spread_force(model.mesh, carrier, 0.5 * UNIT_PULL * case.pull.unit, at)
        splits = [s.nodes[: s.usable[0], : s.usable[1]].ravel() for s in self.surfaces if s.floating]
        loose = np.unique(np.concatenate(splits))
        symmetry = np.setdiff1d(model.nodes["symmetry"], loose)
        unknowns = contact_unknowns(replace(model, nodes={**model.nodes, "symmetry": symmetry}))
        node, component = np.divmod(unknowns.slots, 3)
        split = (component == 1) & np.isin(node, loose)
        slit = np.isin(node, model.faces[0])
        behind = split & np.isin(node, model.pairs[1]) & (model.straight[0, node] < 0)  # there u_t = -u_y
        above, below = model.faces
        frames = pair_frames(replace(model, pairs=model.faces))
        jumps = jump_matrix(lower.size, above, below, frames)
        T = (jumps @ unknowns.T @ sp.diags_array(np.where(behind, -1.0, 1.0))).tocsr()
        A, b = assemble_in(model.mesh, regions, T, unknowns.slots), T.T @ load
        method = choose_method(b.size)
        if method == "multigrid":
            raise SolveError(f"mouth onset: {b.size} unknowns need a direct solver: choose a coarser level")
        kept = unknowns.is_gap | split | slit
        condensed = condense(A, b, kept, method)
        self._bonded = 0.5 * float(b @ condensed.expand(np.zeros(condensed.c.size)))
        place = np.cumsum(kept) - 1

        def table(which: Mask) -> Index:
            out = np.full(lower.size, -1)
            out[lower[node[which]]] = place[which]
            return out

        self._uy, self._gap = table(split), table(unknowns.is_gap)
        self._jump = np.stack([table(slit & (component == c)) for c in range(3)])
        self.release = Release(condensed.S, condensed.c, place[unknowns.is_gap])

    def stress(self, surface: Surface) -> Array:
        """sigma_n (rows, rings, 9) of the whole ice at UNIT_PULL on the usable faces [Pa]."""
        rows, rings = surface.usable
        nodes = surface.nodes[:rows, :rings]
        place = (self._uy if surface.floating else self._jump[2])[nodes]
        return np.asarray(np.where(place >= 0, self._none[1][place], np.nan) / surface.behind(self._uy.size)[nodes])

    def energy(self, surface: Surface, opened: Index) -> float:
        """Energy [J] that the half model at half of UNIT_PULL releases by a crack of these nodes."""
        if surface.floating:
            found = self.release.release(self._uy[opened])
        else:
            gaps = self._gap[opened]
            hung = np.stack([self._jump[0, opened], gaps])[:, gaps >= 0]
            free = self._jump[:2, opened].ravel()
            found = self.release.release(self._jump[2, opened], free[free >= 0], hung)
        return found[0] - self._none[0]


def face_weights(x: Array) -> Array:
    """Area behind each node (..., 9) [m^2] of faces with nodes x (..., 9, 3), in rows of three: int N_i dA."""
    t, w = np.polynomial.legendre.leggauss(3)
    t, w = 0.5 * (t + 1), 0.5 * w
    N = np.stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)])
    D = np.stack([4 * t - 3, 4 - 8 * t, 4 * t - 1])
    shape, du, dv = (np.einsum("ip,jq->ijpq", a, b).reshape(9, 9) for a, b in ((N, N), (D, N), (N, D)))
    normal = np.cross(np.einsum("...nc,np->...pc", x, du), np.einsum("...nc,np->...pc", x, dv))
    return np.asarray(np.einsum("np,...p->...n", shape, np.linalg.norm(normal, axis=-1) * np.outer(w, w).ravel()))


def _faces(model: HalfModel, elements: Index, axis: int, side: float) -> tuple[Index, Array]:
    """Nodes (rows, rings, 9) of the elements' faces where local coordinate `axis` is `side`, and the areas behind."""
    at = ElementHex2.doflocs
    on = np.flatnonzero(np.abs(at[:, axis] - side) < 1e-9)
    others = [c for c in range(3) if c != axis]
    on = on[np.lexsort((at[on, others[0]], at[on, others[1]]))]
    nodes = np.moveaxis(model.mesh.dofs.element_dofs[:, elements][on], 0, -1)
    return nodes, face_weights(model.mesh.doflocs.T[nodes])
