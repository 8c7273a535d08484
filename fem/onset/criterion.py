"""Onset: the load at which the ice first fails, by a length and not by a maximum.

A raw maximum of the stress at the mouth of the hole and at the ends of contact grows with refinement. Here stresses are
averaged over lines of length 2 a that start at the wall of the hole and run radially into the ice,

    s(phi, s, a) = 1/(2 a) int_0^{2 a} sigma(r = radius + x) dx                                            [Pa]
    t = min_{a <= L} sqrt(L/a) f(s(a)),       f: load factor of a surface of `materials.surface` for s      [-]
        tension    f: the stress meets the tension cut-off            L = (K_IC / sigma_t)^2 / pi           [m]
        shear      f: it meets the surface for compression,           L = (r K_IC / c)^2 / pi
                   with tension across (largest principal > 0)        c = sigma_c / (2 sqrt k), r K_IC: sliding crack
        crushing   the same, pressed from all sides

A place (phi, s) fails if, for some a, the line reaches the strength on average and a crack along it gets the energy
that it needs (finite fracture mechanics in its average form: Cornetti, Pugno, Carpinteri & Taylor 2006, Eng. Fract.
Mech. 73, from memory; energy by the stress intensity s sqrt(pi a) of a crack under the mean stress). Onset is the least
t over the hole; the criterion index is 1/t at a point. It is first damage, not the peak.

Limits: lines run radially in the mesh's layers (along the surface at the mouth, square to the axis below) whatever way
a crack would turn; leaning away by 20 deg, lines square to the wall give about 1.5 times the onset in tension. A line
uses L and strength of the ice it starts in, all along. The bottom of the hole is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...materials import Ice
from ..solid.stress import principal
from .wall_lines import WallLines, ring_bounds

Array = NDArray[np.float64]
Mode = Literal["tension", "shear", "crushing"]
Raised = tuple[float, float]
SHARES = np.geomspace(0.03, 1.0, 16)  # a / L tried; the least t lies at 1 or is flat
AS_TESTED = (1.0, 1.0)  # tensile strength of ice and crust over their own
LONGEST_IN_RADII = 4.0  # a tried at most, where L is longer: the stress has died away before


@dataclass(frozen=True, slots=True)
class Onset:
    """load_factor : pull at onset over the pull of the stress field.  where : its place on the wall, (3,) [m].

    angle : round the axis from the front [rad].  averaged : (6,) stress averaged over the line there [Pa].
    length : of that line, 2 a [m].
    """

    load_factor: float
    mode: Mode
    where: Array
    angle: float
    averaged: Array
    length: float


def load_factors(averaged: Array, ice: Ice) -> tuple[Array, Array]:
    """Load factors [-] for tension and for shear or crushing of stresses (..., 6) [Pa]; inf if it never fails."""
    return ice.surface.load_factors(principal(averaged))


def criterion_index(stress: Array, ice: Ice) -> Array:
    """1 / load factor (...,) [-] of stresses (..., 6) [Pa]: 1 if the ice fails under the present pull."""
    tension, crushing = load_factors(stress, ice)
    return 1.0 / np.minimum(tension, crushing)


def line_lengths(tried: Array) -> Array:
    """Lengths 2 a (..., shares, n) of the lines, a = SHARES times the longest a tried (..., n) [m]."""
    return 2 * SHARES[:, None] * tried[..., None, :]


def factors_by_length(averaged: Array, longest: Array, tried: Array, ice: Ice, raised: float = 1.0) -> Array:
    """sqrt(L/a) f(s(a)) of the module docstring: (2, shares, n), tension first; the onset of a line is the least.

    Beyond a = L strength alone decides, and its load factor grows with a as the stress dies away. If the stress falls
    slowly, the least is at a = L: the line method of critical distances (Taylor 2007, *The Theory of Critical
    Distances*, from memory). The least over a keeps an ice of lower strength or toughness from failing later. averaged
    : (2, shares, n, 6) means over `line_lengths(tried)` [Pa].  longest : (2, n), L of either surface [m]. tried : (2,
    n) the longest a tried [m], at most L.  raised : tensile strength over the ice's own [-], of which L is too.
    """
    factors = np.stack([load_factors(averaged[i], ice)[i] for i in range(2)])
    factors[0] *= raised
    return factors * np.sqrt((longest / tried)[:, None] / SHARES[:, None])


@dataclass(frozen=True, slots=True)
class HoleFactors:
    """Load factors of all lines round the hole, tension first, and the lines.

    factors : (2, shares, n).  averaged : (2, shares, n, 6) [Pa].  lengths : (2, shares, n) [m].  start : (n, 3) [m].
    angle : (n,) [rad].  in_crust : (n,) bool, whether a line starts in the crust.
    """

    factors: Array
    averaged: Array
    lengths: Array
    start: Array
    angle: Array
    in_crust: NDArray[np.bool_]


def hole_factors(
    lines: WallLines, ice: Ice, crust_ice: Ice, sliding_ratio: float, raised: Raised = AS_TESTED
) -> HoleFactors:
    """The load factors of the module docstring round the hole; arguments as of `find_onset`."""
    model = lines.model
    crusted = np.isin(model.beside[:, 0, 0], model.regions["crust"])
    own = [
        (each.critical_distance / k**2, each.shear_distance(sliding_ratio))
        for each, k in zip((ice, crust_ice), raised, strict=True)
    ]
    longest = np.stack([np.where(crusted, of_crust, of_ice) for of_ice, of_crust in zip(*own, strict=True)])
    tried = np.minimum(longest, LONGEST_IN_RADII * ring_bounds(model)[0][0])
    lengths = line_lengths(tried)  # (2 surfaces, shares, layers)
    averaged, start = lines.averages(lengths.reshape(-1, len(crusted))), lines.start
    averaged = averaged.reshape(2, len(SHARES), len(start), 6)
    layer = np.repeat(np.arange(len(crusted)), len(start) // len(crusted))
    in_crust, factors = crusted[layer], np.empty(averaged.shape[:3])
    for material, k, where in ((ice, raised[0], ~in_crust), (crust_ice, raised[1], in_crust)):
        at = layer[where]
        factors[..., where] = factors_by_length(averaged[:, :, where], longest[:, at], tried[:, at], material, k)
    return HoleFactors(factors, averaged, lengths[..., layer], start, lines.angle, in_crust)


def find_onset(lines: WallLines, ice: Ice, crust_ice: Ice, sliding_ratio: float, raised: Raised = AS_TESTED) -> Onset:
    """The first failure round the hole under proportional loading (module docstring); the lines' field holds unit pull.

    sliding_ratio : r of the module docstring.  raised : tensile strength of ice and crust over their own
    (`onset.size_effect`).
    Raises ValueError if nothing would ever fail (a zero stress field).
    """
    found = hole_factors(lines, ice, crust_ice, sliding_ratio, raised)
    surface, share, place = np.unravel_index(int(np.argmin(found.factors)), found.factors.shape)
    factor, averaged = float(found.factors[surface, share, place]), found.averaged[surface, share, place]
    if not np.isfinite(factor):
        raise ValueError("onset: no stress anywhere that would fail")
    return Onset(
        load_factor=factor,
        mode="tension" if surface == 0 else "crushing" if principal(averaged)[2] <= 0 else "shear",
        where=found.start[place],
        angle=float(found.angle[place]),
        averaged=averaged,
        length=float(found.lengths[surface, share, place]),
    )
