"""What can happen to a tube that is pulled out of ice, how far off each event is, and the mode at the peak in words.

    bearing at its limit   k w = limit at a first node;    threads at their limit   the same along the axis
    ice in front gone      a trench as deep as the tube is thick
    first yield            E (|Gamma| + R |kappa|) = sigma_y at a first section's outer fibre
    hinge                  |M| = M_p cos(pi N / (2 N_p)) at a first section: the plastic moment that the axial force
                           leaves a thin round tube (at M = 0: yielding all over, N = N_p)
    wall wrinkles          a first section's wall is pressed to its buckling strain: from there on it bears less
    strain limit           a first section's wall breaks: the metal's end (both: `tube.strain_limit`)
    cone                   the loads on the wall of the hole drive a crack from the tip all the way
    toe                    the push of the tip is at its limit;   out of the ice   the tip is
    head in the ice        where the rope holds it, a diameter under what it meets
    stop: ...              head turned, or load point moved, as far as the peak is counted (`geometry.placement.Pull`)
    sling slides           friction on the shank does not hold it (`tube.sling`); sling at the hanger, sling at the ice

The mode says what is at its limit as the load peaks, the first that holds: tube bends (the wall breaks); not reached (a
stop); sling slides (and it does not come to as much again); cone (the threads pull with what it bears, or within 1 % of
it); threads stripped (half of them, by strength, have slipped); lever-out (no hinge; bearing has been at its limit over
half of the depth, or ice is gone); rope (a hinge, and the tube at the mouth carries more than 0.7 of the load along its
axis); tube bends (a hinge); threads stripped (they pull with 0.95 of their limits or more); not reached (still rising).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled, within
from .cone_fronts import FrontTable, cone_demand
from .cross_section import HollowSection, plastic_force, plastic_moment
from .ice_forces import IceState
from .ice_springs import Springs, bearing_limit, cone_bears
from .modes import CONE, LEVER_OUT, ROPE, SLING_SLIDES, THREADS, TUBE_BENDS, UNENDED
from .shank import floor_depth
from .sling import past_friction, wants
from .state import Equilibrium, Parts, TubeModel, unpack

Array = NDArray[np.float64]
Found = Literal["located", "jump", "hop"]
Stops = tuple[float, float, float]
OUT, DEEP, WRINKLES, STRAIN_LIMIT = "out of the ice", "head in the ice", "wall wrinkles", "strain limit"
HEAD_TURNED, LOAD_POINT_MOVED = "stop: head turned", "stop: load point moved"
EVENTS = (
    "bearing at its limit",
    "ice in front gone",
    "first yield",
    "hinge",
    WRINKLES,
    STRAIN_LIMIT,
    "threads at their limit",
    CONE,
    "toe at its limit",
    HEAD_TURNED,
    LOAD_POINT_MOVED,
    OUT,
    DEEP,
    SLING_SLIDES,
)
STOPS = (HEAD_TURNED, LOAD_POINT_MOVED)
ALONG, AT_LIMIT = 0.7, 0.95
GONE = 0.1  # of the radius: a trench that counts


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at a load [N] and a movement of the load point [m], and the tube then.

    x, z : (m,) nodes, head to tip [m].  s : (m,) their places along the axis [m].  bearing : (m,) force of the tube on
    the ice per length along its front normal [N/m].  moment : (e,) [N m].  plastic_strain : (e,) largest of a section.
    held : the node at which the rope holds the tube.
    overshoot : how far past the event the state is, in `measures`.  found : "located", within the tolerance; "jump",
    within a billionth of a step, at a jump of the measure; "hop", as a sling went from one node to the next.
    """

    name: str
    load: float
    displacement: float
    s: Array
    x: Array
    z: Array
    bearing: Array
    moment: Array
    plastic_strain: Array
    held: int
    overshoot: float = 0.0
    found: Found = "located"


def measures(model: TubeModel, at: Equilibrium) -> Array:
    """How far each of EVENTS is, (14,) [-]: negative before, zero or positive from then on, smooth in between."""
    return measured(model.parts, stops(model), at.flat)


def stops(model: TubeModel) -> Stops:
    """Turn [rad], movement [m], friction of a sling on the tube."""
    return float(model.turn), float(model.movement), float(model.friction)


@compiled
def measured(parts: Parts, stops: Stops, flat: Array) -> Array:
    """`measures` of the array of a state."""
    at = unpack(parts, flat)
    q, displacement, beam, ice = at.q, at.displacement, at.beam, at.ice
    tube, section, springs, shank, _, _, held, _ = parts
    state, radius, share, bearing, pulled = ice.state, section.radius, ice.share, ice.bearing, ice.threads
    m, trench, w, u, cone = len(state.w), state.trench, state.w, state.u, state.cone
    limit = bearing_limit(springs, q[len(q) - m :, 2].copy(), state)
    k, thread_k, thread_limit, depth = springs.k, springs.thread_k, springs.thread_limit, springs.depth
    front, back, threads, pushes, pulls = np.empty(m), np.empty(m), np.empty(m), np.empty(m), np.empty(m)
    for i in range(m):
        front[i], back[i] = k[i] * w[i] - limit[0, i], -k[i] * w[i] - limit[1, i]
        threads[i] = thread_k[i] * abs(u[i] - cone) - thread_limit[i] if thread_k[i] > 0 else -np.inf
        pushes[i], pulls[i] = share[i] * bearing[i], share[i] * pulled[i]
    most = max(limit.max(), 1e-9)
    x, z = q[held, 0] - tube.s[held] * np.sin(tube.angle), q[held, 1] - tube.s[held] * np.cos(tube.angle)
    found = np.empty(len(EVENTS))
    found[0] = max(_relative(front, limit[0], most), _relative(back, limit[1], most))
    found[1] = 0.5 * trench / radius - 1
    found[2], found[3], found[4], found[5] = _of_sections(section, beam.strain, beam.section.force, beam.section.moment)
    found[6] = _relative(threads, thread_limit, max(thread_limit.max(), 1e-9))
    found[7] = demanded(springs.alone, springs.fronts, springs.edges, trench, pushes, pulls) - 1
    found[8] = (-springs.toe_k * u[-1] - springs.toe_limit) / max(springs.toe_limit, 1e-3)
    found[9], found[10] = abs(q[0, 2]) / stops[0] - 1, displacement / stops[1] - 1
    found[11] = -(depth[-1] + q[-1, 1]) / depth[-1]
    found[12] = (-z - floor_depth(shank.tangent, trench, x)) / radius - 2  # under what the held node meets
    found[13] = past_friction(parts, stops[2], q)[0]
    return found


@within
def _of_sections(section: HollowSection, strain: Array, N: Array, M: Array) -> tuple[float, float, float, float]:
    """How far yield, hinge, wrinkle and the strain limit are [-]."""
    yields, spare, pressed = 0.0, -np.inf, -np.inf
    radius, full_force, full_moment = section.radius, plastic_force(section), plastic_moment(section)
    for i in range(len(N)):
        stretch, bent = strain[0, i], radius * abs(strain[2, i])
        yields, pressed = max(yields, abs(stretch) + bent), max(pressed, bent - stretch)
        spare = max(spare, abs(M[i]) / full_moment - np.cos(0.5 * pi * min(abs(N[i]) / full_force, 1.0)))
    limit, first = section.limit, section.yield_strength / section.E
    return yields / first - 1, spare, pressed / limit.buckling - 1, yields / limit.elongation - 1


@within
def _relative(excess: Array, limit: Array, largest: float) -> float:
    """Largest excess over its limit, -1 for none; limits near zero count as a thousandth of the largest."""
    found = -np.inf
    for i in range(len(excess)):
        found = max(found, excess[i] / max(limit[i], 1e-3 * largest))
    return found if np.isfinite(found) else -1.0


def cone_load(springs: Springs, ice: IceState) -> float:
    """Pull of the threads [N] at which a whole cone would come if all loads grew alike; inf if nothing drives it."""
    threads = ice.share * ice.threads
    bearing = ice.share * ice.bearing
    demand = demanded(springs.alone, springs.fronts, springs.edges, ice.state.trench, bearing, threads)
    return float(threads.sum()) / demand if demand > 0 else np.inf


@compiled
def demanded(alone: float, fronts: FrontTable, edges: Array, trench: float, bearing: Array, threads: Array) -> float:
    """Demand (`cone_fronts.cone_demand`) of a cone whose front half comes out of the trench's floor: it needs less."""
    deep = edges[-1]
    left = 0.5 * (1 + (max(deep - trench, 0.0) / deep) ** 1.5)
    return cone_demand(alone, fronts, bearing, threads) / left


def snapshot(model: TubeModel, at: Equilibrium, name: str, overshoot: float = 0.0, found: Found = "located") -> Event:
    """The tube as it is now, under a name; units as in `Event`: [N], [m]."""
    beam, ice, first = model.beam, at.ice, model.first
    half = 0.5 * np.r_[0.0, beam.length[first:], 0.0]
    bearing = np.zeros(len(beam.s))
    bearing[first:] = ice.share * ice.bearing / (half[1:] + half[:-1])
    plastic = np.abs(at.beam.section.plastic).max(axis=1)
    x, z = (-beam.s * direction + at.q[:, c] for c, direction in enumerate((np.sin(beam.angle), np.cos(beam.angle))))
    moment = at.beam.section.moment.copy()
    return Event(name, at.load, at.displacement, beam.s, x, z, bearing, moment, plastic, at.held, overshoot, found)


def mode_at(model: TubeModel, at: Equilibrium, hinge: bool) -> str:
    """The mode in words (module docstring) as the load peaks, not at a stop.  hinge : whether there is one by then."""
    springs, state = model.springs, at.ice.state
    slipped = springs.thread_limit[state.worn > 0].sum() / max(float(springs.thread_limit.sum()), 1e-300)
    inside = at.ice.share > 0
    crushed = (state.crushed > 0).any(axis=0) & inside
    axial = at.beam.section.force[min(model.first, len(at.beam.section.force) - 1)]
    if float(model.section.limit.used(at.beam.strain[0], at.beam.strain[2])[0].max()) >= 1:
        return TUBE_BENDS
    if wants(model, at)[0] >= 0:
        return SLING_SLIDES
    if at.ice.pull >= 0.99 * cone_bears(springs, state.cone) > 0:
        return CONE
    if slipped >= 0.5:
        return THREADS
    gone = state.trench > GONE * model.section.radius
    if not hinge and (gone or crushed.sum() >= 0.5 * inside.sum()):
        return LEVER_OUT
    if hinge:
        return ROPE if axial > ALONG * at.load else TUBE_BENDS
    if at.ice.pull >= AT_LIMIT * float(springs.thread_limit.sum()) > 0:
        return THREADS
    return UNENDED
