"""The tube in the ice, and a state of it: as named parts, and as the one array in which a march keeps it.

    flat = [ numbers | q | viscous | strain | N, M | plastic | the nodes in the ice | those above ]

Named parts are views of the array. Compiled code that hands on many arrays is slow to compile and slow to call: one
array is neither.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...materials import Assumed, default_assumed
from ..compiled import compiled, within
from .beam import Beam, BeamForces
from .cross_section import HollowSection
from .ice_forces import IceState
from .ice_springs import Springs, SpringState
from .shank import ShankForces, ShankLaws, ShankState

Array = NDArray[np.float64]
LOAD, MOVED, ITERATIONS, HELD, TRENCH, CONE, TOE_SLIP, TOE, PULL, NUMBERS = range(10)
OF_A_NODE = 14  # numbers of a node in the ice


class Parts(NamedTuple):
    """Of a `TubeModel`, what one step takes."""

    beam: Beam
    section: HollowSection
    springs: Springs
    shank: ShankLaws
    pull: Array
    gripped: Array
    held: int
    tied: int


@dataclass(frozen=True, slots=True, eq=False)
class TubeModel:
    """Beam, section and springs, and how the rope pulls.

    pull : (2,) p.  gripped : (nodes in the ice,) share of the threads at each.  shank : ice under the nodes above the
    mouth.  held : the node at which the rope holds the tube.  tied : the node at which it did at first.
    friction : of a sling on the tube; inf: it does not slide.
    assumed : where a pull ends.  movement [m], turn [rad] : its stops (`geometry.placement.Pull`); inf: none.
    """

    beam: Beam
    section: HollowSection
    springs: Springs
    pull: Array
    gripped: Array
    shank: ShankLaws
    held: int = 0
    tied: int = 0
    friction: float = np.inf
    assumed: Assumed = field(default_factory=default_assumed)
    movement: float = np.inf
    turn: float = np.inf

    @property
    def first(self) -> int:
        """The node at the mouth."""
        return len(self.beam.s) - len(self.springs.k)

    @property
    def parts(self) -> Parts:
        """What one step takes."""
        laws = self.beam, self.section, self.springs, self.shank
        return Parts(*laws, self.pull, self.gripped, self.held, self.tied)


class SectionState(NamedTuple):
    """As in `cross_section.SectionForces`."""

    force: Array
    moment: Array
    plastic: Array


class BeamState(NamedTuple):
    """As in `beam.BeamForces`."""

    strain: Array
    section: SectionState


class Equilibrium(NamedTuple):
    """q (m, 3) [m, m, rad], load [N], movement of the load point [m] (`equilibrium.drawn`), forces of beam and ice.

    The forces carry their memory.  iterations : taken.  viscous : (m, 2) force against motion, [N]; zero but while
    settling.  held : `TubeModel.held`.  flat : the array that all of it is a view of.
    """

    q: Array
    load: float
    displacement: float
    beam: BeamState
    ice: IceState
    shank: ShankState
    iterations: int
    viscous: Array
    held: int
    flat: Array


@compiled
def pack(
    q: Array,
    load: float,
    displacement: float,
    beam: BeamForces,
    ice: IceState,
    shank: ShankForces,
    viscous: Array,
    trench: float,
    iterations: int,
    held: int,
) -> Array:
    """The array of a state, all but the trench [m] as in `Equilibrium`."""
    state, section, m, n, first = ice.state, beam.section, len(q), len(ice.share), len(shank.force)
    e, fibres = section.plastic.shape
    flat = np.empty(NUMBERS + 5 * m + 5 * e + e * fibres + OF_A_NODE * n + 2 * first)
    flat[LOAD], flat[MOVED], flat[ITERATIONS], flat[HELD] = load, displacement, iterations, held
    flat[TRENCH], flat[CONE], flat[TOE_SLIP], flat[TOE], flat[PULL] = trench, state.cone, state.toe, ice.toe, ice.pull
    a = NUMBERS
    a = _put(flat, _put(flat, _put(flat, a, q.ravel()), viscous.ravel()), beam.strain.ravel())
    a = _put(flat, _put(flat, _put(flat, a, section.force), section.moment), section.plastic.ravel())
    a = _put(flat, _put(flat, _put(flat, a, ice.share), ice.bearing), ice.limit.ravel())
    a = _put(flat, _put(flat, _put(flat, a, ice.threads), ice.drag), state.w)
    a = _put(flat, _put(flat, _put(flat, a, state.crushed.ravel()), state.u), state.slip)
    a = _put(flat, _put(flat, _put(flat, a, state.worn), state.rubbed), state.bore)
    _put(flat, _put(flat, a, shank.force), shank.crushed)
    return flat


@within
def _put(flat: Array, start: int, values: Array) -> int:
    """Write values (k,) into an array from a place on; where the next begin."""
    for i in range(len(values)):
        flat[start + i] = values[i]
    return start + len(values)


@compiled
def unpack(parts: Parts, flat: Array) -> Equilibrium:
    """The named parts of an array that `pack` made."""
    m, n, fibres = len(parts.beam.s), len(parts.gripped), len(parts.section.area)
    e, first, a = m - 1, m - n, NUMBERS + 5 * m
    b = a + 5 * e
    c = b + e * fibres
    d = c + OF_A_NODE * n
    strain, sections = flat[a : a + 3 * e].reshape(3, e), flat[a + 3 * e : b].reshape(2, e)
    nodes, above = flat[c:d].reshape(OF_A_NODE, n), flat[d : d + 2 * first].reshape(2, first)
    beam = BeamState(strain, SectionState(sections[0], sections[1], flat[b:c].reshape(e, fibres)))
    moved = nodes[6], nodes[7:9], flat[TRENCH], nodes[9], nodes[10], nodes[11]
    state = SpringState(*moved, flat[CONE], flat[TOE_SLIP], nodes[12], nodes[13])
    ice = IceState(nodes[0], nodes[1], nodes[2:4], nodes[4], flat[TOE], nodes[5], flat[PULL], state)
    given = motions(parts, flat), flat[LOAD], flat[MOVED], beam, ice, ShankState(above[0], above[1])
    viscous = flat[NUMBERS + 3 * m : a].reshape(m, 2)
    return Equilibrium(*given, int(flat[ITERATIONS]), viscous, int(flat[HELD]), flat)


@within
def motions(parts: Parts, flat: Array) -> Array:
    """q (m, 3) of a state."""
    m = len(parts.beam.s)
    return flat[NUMBERS : NUMBERS + 3 * m].reshape(m, 3)
