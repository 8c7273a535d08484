"""What a pull reads: four loads that no choice of where to stop counting moves, each with its place and its mode.

    first drop   the first largest load from which the load falls by DROP or more, as a load cell shows it; if it never
                 does, the largest
    early        the largest within one tube diameter of movement of the load point
    turned       the largest up to a turn of the head by TURNED
    largest      the largest that the model can follow: up to the end of the pull

Between two states the curve is a straight line. A load at the edge of its window that still rises there has no mode:
it is "not reached". DROP and TURNED are choices: a smaller fall hides in the noise of a load cell, and beyond 45 deg a
rope pulls more along the head than across it.

    bound [N]    no pull is larger than   sum of hypot(L, T + mu L) over the nodes + toe + floor      (ice and threads)
                 nor than                 A sigma_u                                                  (tube)

The first is equilibrium: bearing, at most L, is square to threads, at most T, and to friction of it; the toe and the
floor under the shank add their own. The second is what a section bears: the pull goes through the section below the
load point. The beam knows no limit in shear, so it must be asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import radians

import numpy as np
from numpy.typing import NDArray

from .cross_section import HollowSection
from .ice_springs import Springs
from .modes import UNENDED
from .shank import ShankLaws

Array = NDArray[np.float64]
DROP, TURNED = 0.05, radians(45.0)
SLACK = 1e-2  # of the bound: springs that hold a floating tube, events a little passed
ModeOf = Callable[[int], str]


@dataclass(frozen=True, slots=True)
class Reading:
    """A load of the pull [N], the movement of the load point there [m], and the mode."""

    load: float
    displacement: float
    mode: str


def first_drop(load: Array, displacement: Array, mode_of: ModeOf) -> Reading:
    """Of a curve, each (n,) [N], [m].  mode_of : a state's, by its number."""
    before = np.maximum.accumulate(load)
    fallen = np.flatnonzero((load <= (1 - DROP) * before) & (before > 0))
    last = int(fallen[0]) if len(fallen) else len(load)
    return _at(int(load[:last].argmax()), load, displacement, mode_of)


def largest_within(load: Array, displacement: Array, measure: Array, limit: float, mode_of: ModeOf) -> Reading:
    """The largest load before a measure (n,) of the curve first exceeds its limit; at the edge on the line to there."""
    beyond = np.flatnonzero(measure > limit)
    if not len(beyond):
        return _at(int(load.argmax()), load, displacement, mode_of)
    k = max(int(beyond[0]), 1)
    share = (limit - measure[k - 1]) / (measure[k] - measure[k - 1])
    edge, place = (float(of[k - 1] + share * (of[k] - of[k - 1])) for of in (load, displacement))
    inside = _at(int(load[:k].argmax()), load, displacement, mode_of)
    return Reading(edge, place, UNENDED) if edge > inside.load else inside


def _at(k: int, load: Array, displacement: Array, mode_of: ModeOf) -> Reading:
    return Reading(float(load[k]), float(displacement[k]), mode_of(k))


def ice_bound(springs: Springs, shank: ShankLaws) -> float:
    """Largest pull that ice and threads could balance [N] (module docstring)."""
    along = springs.thread_limit + springs.friction * springs.crushing
    return float(np.hypot(springs.crushing, along).sum() + shank.limit.sum()) + springs.toe_limit


def tube_bound(section: HollowSection) -> float:
    """Largest pull that a section of the tube could pass on [N] (module docstring)."""
    return (section.yield_strength + section.back_stress) * float(section.area.sum())


def most_borne(springs: Springs, shank: ShankLaws, section: HollowSection) -> float:
    """The pull [N] beyond which `refusal` says why it cannot be."""
    return (1 + SLACK) * min(ice_bound(springs, shank), tube_bound(section))


def refusal(load: float, springs: Springs, shank: ShankLaws, section: HollowSection) -> str:
    """Why a pull [N] cannot be; empty if it can."""
    for what, bound in (("ice and threads", ice_bound(springs, shank)), ("a section of the tube", tube_bound(section))):
        if load > (1 + SLACK) * bound:
            return f"a pull of {load / 1e3:.3g} kN is more than {what} can bear, {bound / 1e3:.3g} kN"
    return ""
