"""A tube pulled sideways at the surface of a soft, even half-space, by the half model, against hand formulas.

The tube stands upright, threaded all along, its contact kept closed; its metal is as stiff as to bend like a solid
pile of E_p. `slipping` is the half model's own contact: tied across and along the axis, free to slip round it.
`welded` joins the two sides node by node, as Randolph's piles are. Slip softens the springs that a pile is on
by 1 / (8 pi G), in closed form (`fem.hand.slipping_modulus`).

Differences from the formulas: the bore is empty, the hole goes 6 mm below the tip (neither matters for a pile longer
than its critical length), the block ends at FAR, where it is held (-0.3 % against a block of 10 m). Randolph's forms
are fits to finite elements, remembered: u with a factor of two digits (0.27, so known to 2 %), the slope with one of
one digit (0.3, to 17 %).

Limits: ours falls with stiffness by a power of -0.16, the fit by -1/7; why the stiff pile lies 5.5 % low is not known.
The soft pile's active length is 4.6 d, no slender beam. At a given E an elastic pile's head hardly feels nu: this check
is no guard of nu. Of the slipping pile only the head is compared: below, an elastic half-space moves on beyond the
pile's reach, springs that know nothing of each other do not. Hetenyi's beam on Vesic's springs, k = 0.65 (E d^4 /
EI)^(1/12) E / (1 - nu^2), gives 2.2 to 2.6 times our deflection: it is no reference here.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np
import scipy.sparse as sp

from ....fem.hand import half_infinite_beam, randolph_head, slipping_modulus
from ....fem.solid.assembly import assemble_stiffness
from ....fem.solid.contact import solve_contact
from ....fem.solid.elasticity import spread_force
from ....geometry.half_model import HalfModel, build_half_model
from ....geometry.layers import LEVELS, Resolution
from ....geometry.placement import Placement, Tube, load_point
from ....materials.tensor import isotropic
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, solve_held

E, FORCE = 1e9, 1000.0  # Pa, N
D, WALL, EMBEDMENT, FAR = 0.017, 0.0015, 0.3, 4.0  # m
RATIOS = (100.0, 1000.0, 10000.0)  # E_p / E
COARSE = Resolution(sectors=4, ring=0.006, mouth=0.008, tip=0.010, growth=1.2, deep=0.040)
MEDIUM = Resolution(sectors=8, ring=0.0032, mouth=0.0030, tip=0.0050, growth=0.75, deep=0.030)
SIZES = (0.008, 0.0045, 0.0030)  # m, along the axis at the surface
DIGITS = "two digits of the fit's 0.27, 1.9 %, and 1 % of the mesh"
DEFLECTIONS = {  # E_p / E: least and most error, because
    100.0: (0.016, 0.076, f"soft end of the fit, l_c = 4.6 d: measured +4.6 %, round it {DIGITS}"),
    1000.0: (-0.03, 0.03, DIGITS),
    10000.0: (-0.085, -0.025, f"stiff end of the fit, measured -5.5 %, why is not known; round it {DIGITS}"),
}
ROTATIONS = {
    100.0: (
        -0.15,
        -0.06,
        "measured -10.5 % at the fit's soft end, half as much of margin; its 0.3 has one digit, 17 %",
    ),
    1000.0: (-0.03, 0.03, "measured +0.5 %, less than the one digit of the fit's 0.3 can tell: a guard against change"),
    10000.0: (-0.03, 0.03, "measured +1.5 %, a margin of two; the fit's 0.3 has one digit: a guard against change"),
}


def solid_inertia(d: float) -> float:
    """Second moment of a solid circle [m^4]."""
    return pi * d**4 / 64


def make_pile(embedment: float, level: Resolution, far: float = FAR) -> tuple[Tube, Placement, HalfModel]:
    """A tube upright in a block, threaded along all of its embedment."""
    tube = Tube(embedment + 0.010, D, WALL, embedment, 0.0, 0.005, 0.010, 1e4)
    placement = Placement(0.0, embedment, "tied_off")
    return tube, placement, build_half_model(tube, placement, level=level, far=far)


def solve_pile(pile: tuple[Tube, Placement, HalfModel], metal: float, nu: float, pull: Array, welded: bool) -> Array:
    """Displacement (nodes, 3) under `pull` (3,) [N] on the whole tube at the surface; metal's E [Pa], soil's nu."""
    tube, placement, model = pile
    solids = [(model.regions["ice"], isotropic(E, nu)), (model.regions["tube"], isotropic(metal, 0.3))]
    load = spread_force(model.mesh, model.regions["sling"], 0.5 * pull, load_point(tube, placement))
    if not welded:
        return solve_contact(model, solids, load, bonded=True).u.reshape(-1, 3)
    K = assemble_stiffness(model.mesh, solids)
    n = model.mesh.doflocs.shape[1]
    master = np.arange(n)
    master[model.pairs[1]] = model.pairs[0]
    dof = (3 * master[:, None] + np.arange(3)).ravel()
    join = sp.csr_matrix((np.ones(3 * n), (np.arange(3 * n), dof)), shape=(3 * n, 3 * n))
    fixed = np.zeros((n, 3), bool)
    fixed[model.nodes["symmetry"], 1] = True
    fixed[np.r_[model.nodes["far"], model.pairs[1]]] = True
    u = solve_held((join.T @ K @ join).tocsr(), join.T @ load, fixed.ravel())
    return np.asarray(join @ u).reshape(-1, 3)


def along_the_tube(model: HalfModel, u: Array, component: int) -> tuple[Array, Array]:
    """Depths (m,) [m] from the surface down and the mean displacement (m,) of the tube's outside there [m]."""
    tube = model.pairs[0]
    s, at = np.unique(np.round(model.straight[2, tube], 9), return_inverse=True)
    mean = np.bincount(at, u[tube, component]) / np.bincount(at)
    return -s[::-1], mean[::-1]


def _bent(ratio: float, nu: float, level: Resolution, welded: bool) -> tuple[Array, Array, float]:
    """Depths and deflection along the tube [m], rotation of its section at the surface [rad]."""
    pile = make_pile(EMBEDMENT, level)
    hollow = solid_inertia(D) - solid_inertia(D - 2 * WALL)
    u = solve_pile(pile, ratio * E * solid_inertia(D) / hollow, nu, np.array([FORCE, 0.0, 0.0]), welded)
    tube = pile[2].pairs[0]
    top = tube[np.abs(pile[2].straight[2, tube]) < 1e-9]
    x = pile[2].straight[0, top]
    z, y = along_the_tube(pile[2], u, 0)
    return z, y, -float(x @ u[top, 2] / (x @ x))


def _reference(ratio: float, nu: float) -> tuple[float, float, float, float]:
    """Randolph's deflection [m] and slope of a welded pile, Hetenyi's deflection of a slipping one, its k [N/m^2].

    The springs of the slipping pile are those that give Randolph's deflection, softened by the slip.
    """
    EI, G = ratio * E * solid_inertia(D), E / (2 * (1 + nu))
    deflection, slope = randolph_head(FORCE, 0.0, D, EI, G, nu)
    k = ((2 * FORCE / deflection) ** 4 / (4 * EI)) ** (1 / 3)  # of 2 H lambda / k, lambda^4 = k / (4 EI)
    k = slipping_modulus(k, G)
    return deflection, slope, half_infinite_beam(0.0, FORCE, 0.0, k, EI)[0], k


def measure_welded() -> Measured:
    """Head of a welded pile, for three stiffnesses and two of Poisson's ratios."""
    quantities = []
    for ratio in RATIOS:
        exact, slope = _reference(ratio, 0.3)[:2]
        _, y, ours = _bent(ratio, 0.3, LEVELS["quick"], True)
        for name, unit, reference, value, (least, most, because) in (
            ("deflection", "um", exact * 1e6, y[0] * 1e6, DEFLECTIONS[ratio]),
            ("rotation", "mrad", slope * 1e3, ours * 1e3, ROTATIONS[ratio]),
        ):
            name = f"{name}, E_p / E = {ratio:g}"
            quantities.append(Quantity(name, unit, reference, [value], most, because, least_error=least))
    exact, y = _reference(1000.0, 0.45)[0], _bent(1000.0, 0.45, LEVELS["quick"], True)[1]
    name, because = "deflection, E_p / E = 1000, nu = 0.45", f"{DIGITS}; G (1 + 3 nu / 4) takes nu out but for 2 %"
    quantities.append(Quantity(name, "um", exact * 1e6, [y[0] * 1e6], 0.03, because))
    return Measured(tuple(quantities))


def measure_slipping() -> Measured:
    """Head's deflection of a pile with the half model's own contact; the profile is drawn, not compared."""
    ratio = 1000.0
    _, _, exact, k = _reference(ratio, 0.3)
    profiles = [_bent(ratio, 0.3, level, False) for level in (COARSE, LEVELS["quick"], MEDIUM)]
    heads = [y[0] * 1e6 for _, y, _ in profiles]
    because = "two digits of the fit's 0.27, 1.9 %, and 1 % of the mesh; without slip it would be 11 % less"
    EI = ratio * E * solid_inertia(D)
    z, y, _ = profiles[-1]
    line = np.linspace(0.0, EMBEDMENT, 101)
    beam = [half_infinite_beam(float(x), FORCE, 0.0, k, EI)[0] * 1e6 for x in line]
    curve = Curve(
        "Tube pulled sideways: the head is compared; the profile of a beam on springs (line) is not followed below it",
        "depth [mm]",
        "deflection [um]",
        (line * 1e3, beam),
        (z[::4] * 1e3, y[::4] * 1e6),
    )
    return Measured((Quantity("deflection of the head", "um", exact * 1e6, heads, 0.03, because, SIZES),), (curve,))


def _names(values: Sequence[float]) -> str:
    return ", ".join(f"{value:g}" for value in values)


CHECKS = (
    Check(
        name="welded_pile",
        group="beam and pile",
        title=f"Head of a flexible pile pulled sideways in a half-space, E_p / E = {_names(RATIOS)}",
        source="Randolph, Geotechnique 31, 1981, p. 247: closed forms from memory, G* as in its list of symbols",
        how="from memory",
        part="geometry.build_half_model, fem.solid.elasticity, fem.solid.solver; sides joined by the check",
        measure=measure_welded,
        slow=True,
    ),
    Check(
        name="slipping_pile",
        group="beam and pile",
        title="Head deflection of a flexible pile pulled sideways that slips round its girth",
        source="Randolph 1981, slip of a disc in plane strain (derived in handformulas), Hetenyi 1946; from memory",
        how="from memory",
        part="geometry.build_half_model, fem.solid.elasticity, fem.solid.contact (bonded), fem.solid.solver",
        measure=measure_slipping,
        slow=True,
    ),
)
