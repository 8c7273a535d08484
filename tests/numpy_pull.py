"""The kernels of a pull as vectorised NumPy, as they were before they were compiled: what the loops are held to.

Names and units are those of `fem.laws.trench` and `fem.tube`.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from icecone.fem.cone.demand import ConeFronts
from icecone.fem.laws.trench import FIRM, FLAT, HALVINGS, LEANS, ROUND_OFF, SHARES, STEEPEST, ChipTable
from icecone.fem.tube.beam import Beam, BeamForces, directions
from icecone.fem.tube.cone_fronts import LEAST_CONE
from icecone.fem.tube.cross_section import HollowSection, SectionForces, outer_strain
from icecone.fem.tube.ice_forces import IceState, SpringForces
from icecone.fem.tube.ice_springs import LARGEST_CHIP, Bearing, Springs, SpringState
from icecone.fem.tube.shank import ShankForces, ShankLaws
from icecone.fem.tube.state import Equilibrium, TubeModel

Array = NDArray[np.float64]


def floors(chips: ChipTable) -> Array:
    """b (SHARES, LEANS) at shares t / s and angles: the least that meets tan b = t / s tan(b + a) [rad]."""
    share, angle = SHARES[:, None], LEANS[None, :]
    low, high = np.zeros((len(SHARES), len(LEANS))), np.full((len(SHARES), len(LEANS)), STEEPEST)
    for _ in range(HALVINGS):
        b = 0.5 * (low + high)
        own = np.clip(b + np.maximum(rises(chips, angle + b), 0.0), 0.0, STEEPEST)
        over = b >= np.arctan(share * np.tan(own)) - ROUND_OFF  # at the floor all b beyond the border would do
        low, high = np.where(over, low, b), np.where(over, b, high)
    return np.where(share > 0, 0.5 * (low + high), 0.0)


def start(chips: ChipTable, depth: Array, angle: Array) -> Array:
    """f at depths [m] and angles [rad], each (m,), on lines; the end values of the angles hold beyond [m^1.5]."""
    last = len(chips.angles) - 1
    i = np.clip(np.searchsorted(chips.angles, angle) - 1, 0, max(last - 1, 0))
    j = np.minimum(i + 1, last)
    p = np.clip((angle - chips.angles[i]) / np.maximum(chips.angles[j] - chips.angles[i], 1e-12), 0.0, 1.0)
    x = np.maximum(depth, 0.0) / chips.step
    k = np.minimum(x.astype(int), chips.force.shape[1] - 2)
    r = x - k
    low, high = ((1 - r) * chips.force[at, k] + r * chips.force[at, k + 1] for at in (i, j))
    return np.asarray((1 - p) * low + p * high)


def rises(chips: ChipTable, angle: Array) -> Array:
    """a at angles [rad]."""
    return np.interp(angle, chips.turns, chips.rise)


def floor(chips: ChipTable, s: Array, trench: float, angle: Array) -> Array:
    """b for chips from depths s (m,) over a trench [m], of axes at `angle` (m,) from the surface's normal [rad]."""
    if trench <= 0:
        return np.zeros_like(s)
    r = np.clip(trench / np.maximum(s, 1e-9), 0.0, 1.0) * (len(SHARES) - 1)
    x = (np.clip(angle, LEANS[0], LEANS[-1]) - LEANS[0]) / (LEANS[1] - LEANS[0])
    i, j = np.minimum(r.astype(int), len(SHARES) - 2), np.minimum(x.astype(int), len(LEANS) - 2)
    p, q = r - i, x - j
    table = floors(chips)
    low, high = ((1 - q) * table[at, j] + q * table[at, j + 1] for at in (i, i + 1))
    return np.asarray((1 - p) * low + p * high)


def next_chips(chips: ChipTable, edges: Array, trench: float, angle: Array) -> tuple[Array, Array]:
    """F_next / K_IC between edges (m + 1,) of m pieces of the wall [m^1.5], and which share of a chip from each
    comes out [-]."""
    middle = 0.5 * (edges[1:] + edges[:-1])
    leaning = angle + floor(chips, middle, trench, angle)
    force = start(chips, edges[1:] - trench, leaning) - start(chips, edges[:-1] - trench, leaning)
    return force, np.clip(rises(chips, leaning - chips.shift) / FLAT, 0.0, 1.0)


def respond(section: HollowSection, stretch: Array, curvature: Array, plastic: Array) -> SectionForces:
    """Forces [N, N m], consistent stiffness and new plastic strains [-] of e sections.

    stretch, curvature : (e,) Gamma [-], kappa [1/m].  plastic : (e, f) at the last equilibrium.
    """
    E, H = section.E, section.hardening
    strain = stretch[:, None] - curvature[:, None] * section.height
    trial = E * (strain - plastic)
    beyond = trial - _back_stress(section, plastic)
    flows = np.abs(beyond) > section.yield_strength
    if not flows.any():
        sums = trial @ section.weights[:, :2]
        stiffness = np.broadcast_to((E * section.weights.sum(axis=0))[:, None], (3, len(stretch)))
        return SectionForces(sums[:, 0], sums[:, 1], stiffness, plastic)
    reached = E * strain - np.copysign(section.yield_strength, beyond)  # E eps_p + X after the flow
    rises = H * np.abs(reached) < (E + H) * section.back_stress
    on_line, past = reached / (E + H), (reached - np.copysign(section.back_stress, reached)) / E
    new = np.where(flows, np.where(rises, on_line, past), plastic)
    sums = (E * (strain - new)) @ section.weights[:, :2]
    tangent = np.where(flows, np.where(rises, E * H / (E + H), 0.0), E)
    return SectionForces(sums[:, 0], sums[:, 1], (tangent @ section.weights).T, new)


def _back_stress(section: HollowSection, plastic: Array) -> Array:
    """X [Pa] of plastic strains."""
    return np.clip(section.hardening * plastic, -section.back_stress, section.back_stress)


def _locked_in(section: HollowSection, plastic: Array) -> Array:
    """int X d eps_p from 0 to plastic strains [J/m3]: half of X eps_p on the line, all of X from its end on."""
    back, size = np.abs(_back_stress(section, plastic)), np.abs(plastic)
    return back * size - (0.5 * back**2 / section.hardening if section.hardening > 0 else 0.0)


def stored_in_fibres(section: HollowSection, stretch: Array, curvature: Array, plastic: Array) -> Array:
    """Elastic energy of the fibres per length, (e,) [J/m]."""
    elastic = stretch[:, None] - curvature[:, None] * section.height - plastic
    return 0.5 * section.E * (elastic**2) @ section.area


def spent_in_fibres(section: HollowSection, before: Array, after: Array) -> Array:
    """Work done on plastic strain per length between two states of it, (e,) [J/m]: dissipated and locked in."""
    locked = _locked_in(section, after) - _locked_in(section, before)
    return (section.yield_strength * np.abs(after - before) + locked) @ section.area


def beam_strains(beam: Beam, q: Array) -> tuple[Array, Array, Array]:
    """Gamma [-], gamma [-], kappa [1/m] (3, e) at mid-element for q (m, 3) [m, m, rad], and a, n (e, 2) there."""
    turn = 0.5 * (q[:-1, 2] + q[1:, 2])
    a, n = directions(beam.angle + turn)
    change = (q[:-1, :2] - q[1:, :2]) / beam.length[:, None]
    # r = a_0 + change; a_0 . a - 1 = cos(turn) - 1 and a_0 . n = -sin(turn), written so that nothing cancels
    gamma_1 = np.vecdot(change, a) - 2 * np.sin(0.5 * turn) ** 2
    gamma_2 = np.vecdot(change, n) - np.sin(turn)
    kappa = (q[:-1, 2] - q[1:, 2]) / beam.length
    return np.array([gamma_1, gamma_2, kappa]), a, n


def resist(beam: Beam, section: HollowSection, q: Array, plastic: Array) -> BeamForces:
    """Nodal forces [N, N, N m] with which the beam resists q (m, 3) [m, m, rad], and their exact derivative.

    plastic : (e, f) plastic strain of the fibres at the last equilibrium [-].
    """
    strain, a, n = beam_strains(beam, q)
    found = respond(section, strain[0], strain[2], plastic)
    shear = section.shear_stiffness * strain[1]
    e, h = len(beam.length), beam.length
    B = np.zeros((e, 3, 6))
    B[:, 0, :2], B[:, 0, 3:5] = a, -a
    B[:, 1, :2], B[:, 1, 3:5] = n, -n
    B[:, :2] /= h[:, None, None]
    stretch, slide = 1 + strain[0], strain[1]
    B[:, 0, 2] = B[:, 0, 5] = 0.5 * slide
    B[:, 1, 2] = B[:, 1, 5] = -0.5 * stretch
    B[:, 2, 2], B[:, 2, 5] = 1 / h, -1 / h
    C = np.zeros((e, 3, 3))
    C[:, 0, 0], C[:, 2, 2] = found.stiffness[0], found.stiffness[2]
    C[:, 0, 2] = C[:, 2, 0] = found.stiffness[1]
    C[:, 1, 1] = section.shear_stiffness
    K = B.transpose(0, 2, 1) @ (h[:, None, None] * C) @ B
    _add_geometric(K, found.force, shear, a, n, stretch, slide, h)
    stress = np.stack([found.force, shear, found.moment], axis=1) * h[:, None]
    nodal = np.matmul(stress[:, None, :], B)[:, 0]
    force = np.zeros((e + 1, 3))
    force[:-1] += nodal[:, :3]
    force[1:] += nodal[:, 3:]
    whole = np.zeros((3 * e + 3, 3 * e + 3))
    for i in range(e):
        whole[3 * i : 3 * i + 6, 3 * i : 3 * i + 6] += K[i]
    return BeamForces(force, whole, strain, shear, found)


def _add_geometric(K: Array, N: Array, V: Array, a: Array, n: Array, stretch: Array, slide: Array, h: Array) -> None:
    """Add N d2 Gamma + V d2 gamma to K (e, 6, 6): by position and turn N n - V a, by turns -N (1 + Gamma) - V gamma."""
    half = -0.125 * h * (N * stretch + V * slide)
    mixed = 0.5 * (N[:, None] * n - V[:, None] * a)
    column = np.column_stack([mixed, half, -mixed, half])
    for turn in (2, 5):  # where two turns meet, half comes from the row and half from the column
        K[:, :, turn] += column
        K[:, turn, :] += column


def bearing_limit(springs: Springs, turn: Array, state: SpringState) -> Array:
    """L (2, m) [N], front and back, at nodes turned by `turn` (m,) [rad], over the state's trench."""
    limit = np.stack([springs.crushing * remains(springs, state.trench), springs.crushing])
    if len(springs.chips.angles):
        chip, _ = next_chips(springs.chips, springs.edges, state.trench, springs.angle + turn)
        limit[0] = np.minimum(limit[0], springs.toughness * chip)
        whole = np.cumsum(springs.toughness * next_chips(springs.chips, springs.edges, 0.0, -springs.angle - turn)[0])
        above = np.r_[0.0, np.cumsum(np.maximum(-state.bore, 0.0))[:-1]]
        limit[1] = np.minimum(limit[1], np.maximum(whole - above, 0.0))
    return limit


def remains(springs: Springs, trench: float) -> Array:
    """Share of each node's length that lies under the trench, (m,)."""
    edges = springs.edges
    return np.clip((edges[1:] - trench) / np.diff(edges), 0.0, 1.0)


def deepened(springs: Springs, turn: Array, old: SpringState, new: SpringState) -> float:
    """The trench [m] after a step in which nodes in front were crushed on, LARGEST_CHIP more at most."""
    trench, edges = old.trench, springs.edges
    moved = new.crushed[0] - old.crushed[0]
    top = int(np.searchsorted(edges[1:], trench + 1e-9, side="right"))
    if not len(springs.chips.angles) or top >= len(moved) or moved[top] <= 0:
        return trench
    still = np.flatnonzero(moved[top:] <= 0)
    end = top + (int(still[0]) if still.size else len(moved) - top)
    chip, out = next_chips(springs.chips, edges, trench, springs.angle + turn)
    push, crush = (float(each[top:end].sum()) for each in (springs.toughness * chip, springs.crushing))
    crush -= springs.crushing[top] * (trench - edges[top]) / (edges[top + 1] - edges[top])
    leaves = float(out[end - 1]) * min(max(1 - (push / crush - 1) / FIRM, 0.0), 1.0)
    more = (edges[end] - trench) * leaves * moved[top] / springs.spall
    return float(trench + min(more, edges[end] - trench, LARGEST_CHIP))


def bear(springs: Springs, limit: Array, w: Array, old: SpringState) -> Bearing:
    """What the ice on both sides does at penetrations w (m,) [m]; limit : L (2, m) [N]."""
    k, crushed = springs.k, old.crushed
    trial = k * (np.array([w, -w]) - crushed)
    gives, touches = trial > limit, trial > 0
    untouched = ~touches.any(axis=0) & (trial == 0).all(axis=0)  # first touch from either side is as stiff as contact
    crushed = crushed + np.where(gives, (trial - limit) / k, 0.0)
    force = np.where(gives, limit, np.maximum(trial, 0.0))
    slope = np.where(gives, 0.0, np.where(touches, k, 0.0))
    slope = np.where(untouched, k, slope[0] + slope[1])
    return Bearing(force[0] - force[1], slope, crushed, limit)


def grip(springs: Springs, v: Array, slip: Array, worn: Array) -> tuple[Array, Array, Array, Array]:
    """Threads' force (m,) [N], its slope by v, new slip and wear, for motions v (m,) [m] against the ice."""
    k, fall = springs.thread_k, springs.thread_fall
    trial = k * (v - slip)
    over = np.abs(trial) - np.maximum(springs.thread_limit - fall * worn, 0.0)
    gives = over > 0
    if not gives.any():
        return trial, k, slip, worn
    free = np.where(k > fall, k - fall, 1.0)
    step = np.where(gives, over / free, 0.0)
    soft = springs.thread_limit - fall * (worn + step) > 0
    step = np.where(soft | ~gives, step, np.abs(trial) / np.where(k > 0, k, 1.0))
    step = np.copysign(step, trial)
    slope = np.where(gives, np.where(soft, -k * fall / free, 0.0), k)
    return k * (v - slip - step), slope, slip + step, worn + np.abs(step)


def rub(springs: Springs, u: Array, old: SpringState) -> tuple[Array, Array, Array]:
    """Friction along the axis (m,) [N], its slope by u, and how far each node has rubbed, at motions u (m,) [m]."""
    most, k = springs.friction * np.abs(old.bore), springs.rub_k
    trial = k * (u - old.rubbed)
    slides = np.abs(trial) > most
    force = np.clip(trial, -most, most)
    rubbed = np.where(slides, u - np.divide(force, k, out=np.zeros_like(k), where=k > 0), old.rubbed)
    return force, np.where(slides, 0.0, k), rubbed


def spring_forces(springs: Springs, q0: Array, q: Array, old: SpringState, limits: Array, cone: float) -> SpringForces:
    """Forces [N], derivatives and new memory as the m nodes move from q0 to q, each (m, 3) [m, m, rad].

    limits : what bounds the bearing.  cone : its motion.
    """
    a, n = directions(springs.angle + q[:, 2])
    a_mid, n_mid = directions(springs.angle + 0.5 * (q0[:, 2] + q[:, 2]))
    moved = q[:, :2] - q0[:, :2]
    along, across = np.vecdot(moved, a_mid), np.vecdot(moved, n_mid)
    w, u = old.w + across, old.u + along
    t = np.clip((springs.depth + q[:, 1]) / springs.fade, 0.0, 1.0)
    chi, chi_z = 1 - t * t * (3 - 2 * t), -6 * t * (1 - t) / springs.fade
    borne = bear(springs, limits, w, old)
    bearing, k_w = borne.force, borne.slope
    pull = float(chi @ grip(springs, u - old.cone, old.slip, old.worn)[0])
    threads, k_u, slip, worn = grip(springs, u - cone, old.slip, old.worn)
    trial = springs.toe_k * (-u[-1] - old.toe)
    toe, k_toe = float(np.clip(trial, 0.0, springs.toe_limit)), springs.toe_k * (0 < trial <= springs.toe_limit)
    toe_slip = old.toe + max(trial - springs.toe_limit, 0.0) / springs.toe_k
    drag, k_drag, rubbed = rub(springs, u, old)
    axial, k_a = threads + drag, k_u + k_drag
    axial[-1] -= toe
    k_a[-1] += k_toe
    by_share = chi_z[:, None] * (bearing[:, None] * n + axial[:, None] * a)
    hold = springs.hold
    lateral, axial = chi * bearing + hold * w, chi * axial + hold * u
    k_n, k_a = (chi * k_w + hold)[:, None], (chi * k_a + hold)[:, None]
    block = np.empty((len(w), 2, 3))
    block[:, :, :2] = (k_n * n)[:, :, None] * n_mid[:, None] + (k_a * a)[:, :, None] * a_mid[:, None]
    block[:, :, 1] += by_share
    turned_n, turned_a = axial - 0.5 * k_n[:, 0] * along, 0.5 * k_a[:, 0] * across - lateral
    block[:, :, 2] = turned_n[:, None] * n + turned_a[:, None] * a
    by_cone, of_cone = np.zeros((len(w), 2)), np.zeros((len(w), 3))
    if cone > old.cone:
        by_u = chi * k_u
        g = by_u[:, None] * np.column_stack([a_mid, 0.5 * across])
        g[:, 1] += threads * chi_z
        by_cone, of_cone = by_u[:, None] * a, g / _cone_stiffness(springs, float(by_u.sum()), cone)
    state = SpringState(w, borne.crushed, old.trench, u, slip, worn, cone, toe_slip, rubbed, bearing)
    return SpringForces(
        lateral[:, None] * n + axial[:, None] * a,
        block,
        cone > old.cone,
        by_cone,
        of_cone,
        IceState(chi, bearing, borne.limit, threads, toe, drag, pull, state),
    )


def _cone_stiffness(springs: Springs, threads: float, cone: float) -> float:
    """d(T - allowed)/d(-c) [N/m]; never less than a billionth of the threads' own."""
    falls = springs.cone_fall if springs.cone - springs.cone_fall * cone > 0 else 0.0
    return max(threads - falls, 1e-9 * float(springs.thread_k.sum()))


def _energies(springs: Springs, at: IceState) -> Array:
    """Energy of bearing, threads and friction at each node as if wholly in the ice, (3, m) [J]."""
    k = springs.thread_k
    grip = np.divide(at.threads**2, k, out=np.zeros_like(k), where=k > 0)
    drag = np.divide(at.drag**2, springs.rub_k, out=np.zeros_like(k), where=springs.rub_k > 0)
    return 0.5 * np.stack([at.bearing**2 / springs.k, grip, drag])


def stored_in_ice(springs: Springs, at: IceState) -> float:
    """Elastic energy of the ice's springs [J], with what holds a floating tube."""
    held = springs.hold @ (at.state.w**2 + at.state.u**2)
    toe = at.share[-1] * at.toe**2 / springs.toe_k
    return float((_energies(springs, at) @ at.share).sum() + 0.5 * (held + toe))


def spent_in_ice(springs: Springs, before: IceState, after: IceState) -> Array:
    """Work lost in one step by crushing (with the toe's), threads, cone and friction (4,) [J], each from its own law.

    A node that leaves the ice leaves behind what its springs had stored.
    """
    old, new = before.state, after.state
    share, left = 0.5 * (before.share + after.share), before.share - after.share
    grips = 0.5 * sum(np.maximum(springs.thread_limit - springs.thread_fall * each.worn, 0.0) for each in (old, new))
    lost = np.zeros(4)
    lost[0] = share @ (after.limit * (new.crushed - old.crushed)).sum(axis=0)
    lost[0] += springs.toe_limit * (new.toe - old.toe) * share[-1]
    lost[1] = share @ (grips * (new.worn - old.worn))
    lost[2] = 0.5 * (before.share @ before.threads + after.share @ after.threads) * (new.cone - old.cone)
    lost[3] = share @ (springs.friction * np.abs(old.bore) * np.abs(new.rubbed - old.rubbed))
    lost[[0, 1, 3]] += 0.5 * (_energies(springs, before) + _energies(springs, after)) @ left
    return lost


def floor_depth(tangent: float, trench: float, x: Array) -> Array:
    """-z_f at places x in front of the mouth, over a trench, all [m]."""
    return np.maximum(trench - np.maximum(x, 0.0) * tangent, 0.0)


def shank_forces(laws: ShankLaws, q: Array, trench: float, crushed: Array) -> ShankForces:
    """What the ice bears under nodes moved by q (n, 3) [m, m, rad] over a trench [m], crushed (n,) before [m]."""
    x = laws.x + q[:, 0]
    over = floor_depth(laws.tangent, trench, x)
    trial = laws.k * (-over - laws.z - q[:, 1] - crushed)
    gives = trial > laws.limit
    force = np.clip(trial, 0.0, laws.limit)
    held = np.where((trial > 0) & ~gives, laws.k, 0.0)
    by_x = -held * laws.tangent * ((over > 0) & (x > 0))
    more = np.where(gives, (trial - laws.limit) / np.where(laws.k > 0, laws.k, 1.0), 0.0)
    return ShankForces(force, np.column_stack([by_x, held]), crushed + more)


def measures(model: TubeModel, at: Equilibrium, fronts: ConeFronts | None) -> Array:
    """How far each of EVENTS is, but for the sling's, (13,) [-]: negative before."""
    section, springs, ice = model.section, model.springs, at.ice
    strain = float(outer_strain(section, at.beam.strain[0], at.beam.strain[2]).max())
    drawn, pressed = section.limit.used(at.beam.strain[0], at.beam.strain[2]).max(axis=1).tolist()
    axial = np.minimum(np.abs(at.beam.section.force) / section.plastic_force, 1.0)
    spare = np.abs(at.beam.section.moment) / section.plastic_moment - np.cos(0.5 * pi * axial)
    limit = bearing_limit(springs, at.q[model.first :, 2], ice.state)
    bearing = springs.k * np.stack([ice.state.w, -ice.state.w]) - limit
    threads = springs.thread_k * np.abs(ice.state.u - ice.state.cone) - springs.thread_limit
    toe = -springs.toe_k * ice.state.u[-1] - springs.toe_limit
    tip = springs.depth[-1] + at.q[-1, 1]
    return np.array(
        [
            _relative(bearing, limit),
            0.5 * ice.state.trench / section.radius - 1,
            section.E * strain / section.yield_strength - 1,
            spare.max(),
            pressed - 1,
            drawn - 1,
            _relative(threads[springs.thread_k > 0], springs.thread_limit[springs.thread_k > 0]),
            _cone_demand(springs, ice, fronts) - 1,
            toe / max(springs.toe_limit, 1e-3),
            abs(at.q[0, 2]) / model.turn - 1,
            at.displacement / model.movement - 1,
            -tip / springs.depth[-1],
            _under(model, at) / model.section.radius - 2,
        ]
    )


def _cone_demand(springs: Springs, ice: IceState, fronts: ConeFronts | None) -> float:
    """Demand of a cone whose front half comes out of the trench's floor: it needs less."""
    deep = springs.edges[-1]
    left = 0.5 * (1 + (max(deep - ice.state.trench, 0.0) / deep) ** 1.5)
    bearing, threads = ice.share * ice.bearing, ice.share * ice.threads
    if threads.sum() <= 0 or not np.isfinite(springs.alone):
        return 0.0
    if fronts is None:
        return float(threads.sum()) / max(springs.alone, LEAST_CONE) / left
    loads = np.stack([np.maximum(bearing, 0.0), np.maximum(-bearing, 0.0), threads]) / max(springs.alone, LEAST_CONE)
    return fronts.demand(springs.depth / springs.depth[-1])(loads) / left


def _under(model: TubeModel, at: Equilibrium) -> float:
    """How far the node that the rope holds lies under the ice that it meets [m]."""
    beam, held = model.beam, model.held
    x = -beam.s[held] * np.sin(beam.angle) + at.q[held, 0]
    z = -beam.s[held] * np.cos(beam.angle) + at.q[held, 1]
    return float(-z - floor_depth(model.shank.tangent, at.ice.state.trench, x))


def _relative(excess: Array, limit: Array) -> float:
    """Largest excess over its limit; limits near zero count as a thousandth of the largest."""
    if excess.size == 0:
        return -1.0
    return float((excess / np.maximum(limit, 1e-3 * max(float(limit.max()), 1e-9))).max())


def book(model: TubeModel, old: Equilibrium, new: Equilibrium) -> Array:
    """What one step adds to the energies, in the order of ENERGIES but for a sling's [J]."""
    h, section = model.beam.length, model.section
    elastic = 0.0
    for at, sign in ((new, 1.0), (old, -1.0)):
        strain, plastic = at.beam.strain, at.beam.section.plastic
        fibres = stored_in_fibres(section, strain[0], strain[2], plastic)
        tube = float(h @ (fibres + 0.5 * section.shear_stiffness * strain[1] ** 2))
        elastic += sign * (
            tube + stored_in_ice(model.springs, at.ice) + float(0.5 * (at.shank.force**2 / model.shank.k).sum())
        )
    plastic = h @ spent_in_fibres(section, old.beam.section.plastic, new.beam.section.plastic)
    moved = new.q[:, :2] - old.q[:, :2]
    viscous = 0.5 * ((old.viscous + new.viscous) * moved).sum()
    work = 0.5 * (old.load + new.load) * (new.displacement - old.displacement)
    crushing, threads, cone, friction = spent_in_ice(model.springs, old.ice, new.ice)
    crushing += float(model.shank.limit @ (new.shank.crushed - old.shank.crushed))
    return np.array([work, elastic, plastic, crushing, threads, cone, friction, viscous])
