"""The shank and the eye on the ice that they meet as the tube lies down: a floor that bears upwards.

Nodes above the mouth bear on the surface in front, or on the floor of the trench (`laws.trench`), a line that rises at
`rise` from its bottom under the mouth. With z the height of a node and x its way in front of the mouth [m],

    d = z_f(x) - z,    z_f = -max(t - max(x, 0) tan(rise), 0)         how deep it has been pressed in                [m]
    F = k (d - g) if that is positive, at most the node's crushing limit; then g grows                   upwards     [N]

k and the limit are the wall's at the mouth. So the eye, and with it hanger or sling, bears like a piece of shank.

Limits: no friction; the hanger is as wide as the tube; ice beside the trench is not met.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled
from ..laws.ice_laws import IceLaws
from .beam import Beam

Array = NDArray[np.float64]
LEAST_RISE = np.radians(10.0)  # of a trench's floor


class ShankLaws(NamedTuple):
    """Of the n nodes above the mouth. k : (n,) [N/m].  limit : (n,) [N].  x, z : (n,) before loading [m].
    tangent : of the floor's rise [-].
    """

    k: Array
    limit: Array
    x: Array
    z: Array
    tangent: float


class ShankForces(NamedTuple):
    """force : (n,) upwards [N].  slope : (n, 2) of -force by x and z [N/m].  crushed : (n,) g [m]."""

    force: Array
    slope: Array
    crushed: Array


class ShankState(NamedTuple):
    """What a state keeps of these."""

    force: Array
    crushed: Array


def shank_laws(beam: Beam, laws: IceLaws) -> ShankLaws:
    """Of the nodes of a beam above the mouth, on the ice's laws there."""
    s = beam.s[beam.s < 0]
    width = np.diff(np.r_[s[:1], 0.5 * (s[1:] + s[:-1]), 0.5 * s[-1:]])
    rise = 0.0 if laws.chips is None else max(float(laws.chips.rises(np.array(beam.angle))), LEAST_RISE)
    x, z = -s * np.sin(beam.angle), -s * np.cos(beam.angle)
    return ShankLaws(laws.stiffness[0] * width, laws.crushing[0] * width, x, z, float(np.tan(rise)))


@compiled
def floor_depth(tangent: float, trench: float, x: float) -> float:
    """-z_f at a place x in front of the mouth, over a trench, all [m]."""
    return max(trench - max(x, 0.0) * tangent, 0.0)


@compiled
def shank_forces(laws: ShankLaws, q: Array, trench: float, crushed: Array) -> ShankForces:
    """What the ice bears under nodes moved by q (n, 3) [m, m, rad] over a trench [m], crushed (n,) before [m]."""
    ks, limits, xs, zs, tangent = laws
    n = len(ks)
    force, slope, new = np.zeros(n), np.zeros((n, 2)), crushed.copy()
    for i in range(n):
        x, k, limit = xs[i] + q[i, 0], ks[i], limits[i]
        over = floor_depth(tangent, trench, x)
        trial = k * (-over - zs[i] - q[i, 1] - crushed[i])
        if trial > limit:
            force[i] = limit
            new[i] += (trial - limit) / (k if k > 0 else 1.0)
        elif trial > 0:
            force[i], slope[i, 1] = trial, k
            if over > 0 and x > 0:
                slope[i, 0] = -k * tangent
    return ShankForces(force, slope, new)


@compiled
def shank_stored(laws: ShankLaws, at: ShankState) -> float:
    """Elastic energy of the ice under the shank [J]."""
    stored = 0.0
    for i in range(len(laws.k)):
        stored += 0.5 * at.force[i] ** 2 / laws.k[i]
    return stored


@compiled
def shank_spent(laws: ShankLaws, before: ShankState, after: ShankState) -> float:
    """Work on crushing under the shank in a step [J]."""
    spent = 0.0
    for i in range(len(laws.k)):
        spent += laws.limit[i] * (after.crushed[i] - before.crushed[i])
    return spent
