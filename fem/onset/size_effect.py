"""Size effect on the onset: the tensile strength counts by the volume under tension, k times that of the tests.

    k   = (V_0 / V_e)^(1/m), bounded          one k for a load; each ice has its own bound (`materials.weakest_link`)
    V_e = 2 sum_q min(i_q / i*, 1)^m dV_q     over the quadrature points of all ice of the half model            [m3]
    i   = 1 / load factor of tension there    i* = max k / t(k),  t(k): onset in tension of a line (`onset.criterion`)

i* is the index that counts against strength at the onset: that of the mean over a line, at strength k sigma_t and
its length L / k^2. So k and V_e hold together, and k is found by a root.

The criterion has two conditions. Strength takes the size effect: flaws that start a crack lie at random. The energy of
the crack takes none: K_IC is no weakest link here. So L = (K_IC / (k sigma_t))^2 / pi shortens as k grows, and where
energy decides k moves nothing. Shear and crushing keep their surface, and with it bound a raised tension.

Nothing counts twice. A peak of stress shorter than the line is the criterion's: inside it, where i > i*, ice counts as
stressed by i*, as in a nonlocal Weibull theory (Bazant & Xi 1991, from memory). V_e counts how much ice is about that
stressed. So V_e has a limit at a singular edge as the mesh is refined, whatever m.

Limits: one stress a place; a strength that a case states is that of the tests' volume; cracks of `onset.mouth`, cones
and chips take no size effect, energy decides there.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from ...geometry.half_model import HalfModel
from ...materials import Ice
from ...materials.spread import effective_volume
from ...materials.weakest_link import WeakestLink, largest_factor
from ..solid.elasticity import scalar_basis
from ..solid.stress import StressField
from .criterion import AS_TESTED, Raised, hole_factors, load_factors
from .wall_lines import WallLines

Array = NDArray[np.float64]
TOLERANCE = 1e-5  # of k, relative


@dataclass(frozen=True, slots=True)
class SizeEffect:
    """volume : V_e [m3], None where the size does not count.  factors : k of the ice and of the crust [-]."""

    volume: float | None
    factors: Raised


AS_STATED = SizeEffect(None, AS_TESTED)


def tension_index(model: HalfModel, field: StressField, ice: Ice, crust_ice: Ice) -> tuple[Array, Array]:
    """Index i (n,) [-] at the quadrature points of all ice of the half model, and their volumes (n,) [m3]."""
    found, volumes = [np.zeros(0)], [np.zeros(0)]
    for region, own in (("ice", ice), ("crust", crust_ice)):
        elements = model.regions[region]
        if elements.size:
            basis = scalar_basis(model.mesh, elements)
            tension, _ = load_factors(field.on(elements, basis.X), own)
            found.append(1 / tension.ravel())
            volumes.append(basis.dx.ravel())
    return np.concatenate(found), np.concatenate(volumes)


def stressed_volume(index: Array, volume: Array, counts: float, modulus: float) -> float:
    """V_e [m3] of both halves where the index `counts` decides; index, volume (n,) as of `tension_index`."""
    return 2 * effective_volume(index, volume, modulus, counts)


def raised_strength(lines: WallLines, ice: Ice, crust_ice: Ice, sliding_ratio: float, law: WeakestLink) -> SizeEffect:
    """The factors of the module docstring; the lines' field holds unit pull."""
    model, field = lines.model, lines.field
    index, volume = tension_index(model, field, ice, crust_ice)
    bounds = (largest_factor(ice), largest_factor(crust_ice))
    high = max(bounds) if model.regions["crust"].size else bounds[0]

    def bounded(k: float) -> Raised:
        return min(k, bounds[0]), min(k, bounds[1])

    def stressed(k: float) -> float:
        places = hole_factors(lines, ice, crust_ice, sliding_ratio, bounded(k))
        raised = np.where(places.in_crust, *reversed(bounded(k)))
        return stressed_volume(index, volume, float((raised / places.factors[0].min(axis=0)).max()), law.modulus)

    def excess(log_k: float) -> float:
        return log(law.factor(stressed(exp(log_k)))) - log_k

    least = min(high, law.factor(2 * float(volume.sum()))) * (1 - 1e-9)
    if index.max() == 0 or excess(log(high)) >= 0:
        return SizeEffect(stressed(high), bounded(high))
    k = exp(float(brentq(excess, log(least), log(high), xtol=TOLERANCE)))
    return SizeEffect(stressed(k), bounded(k))
