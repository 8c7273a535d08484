"""The shank and the eye on the ice that they meet as the tube lies down: a floor that bears upwards.

Nodes above the mouth bear on the surface in front, or on the floor of the trench (`laws.trench`), a line that rises at
`rise` from its bottom under the mouth. With z the height of a node and x its way in front of the mouth [m],

    d = z_f(x) - z,    z_f = -max(t - max(x, 0) tan(rise), 0)         how deep it has been pressed in                [m]
    F = k (d - g) if that is positive, at most the node's crushing limit; then g grows                   upwards     [N]

k and the limit are the wall's at the mouth. So the eye, and with it hanger or sling, bears like a piece of shank.

Limits: no friction; the hanger is as wide as the tube; ice beside the trench is not met.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..laws.ice_laws import IceLaws
from .beam import Beam, node_places

Array = NDArray[np.float64]
LEAST_RISE = np.radians(10.0)  # of a trench's floor


@dataclass(frozen=True, slots=True)
class ShankLaws:
    """Of the n nodes above the mouth. k : (n,) [N/m].  limit : (n,) [N].  x, z : (n,) before loading [m].
    tangent : of the floor's rise [-].  place : (2 n,) where derivatives of the upward force go in the beam's flat
    banded matrix.
    """

    k: Array
    limit: Array
    x: Array
    z: Array
    tangent: float
    place: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class ShankForces:
    """force : (n,) upwards [N].  slope : (n, 2) of -force by x and z [N/m].  crushed : (n,) g [m]."""

    force: Array
    slope: Array
    crushed: Array


def shank_laws(beam: Beam, laws: IceLaws) -> ShankLaws:
    """Of the nodes of a beam above the mouth, on the ice's laws there."""
    s = beam.s[beam.s < 0]
    width = np.diff(np.r_[s[:1], 0.5 * (s[1:] + s[:-1]), 0.5 * s[-1:]])
    rise = 0.0 if laws.chips is None else max(float(laws.chips.rises(np.array(beam.angle))), LEAST_RISE)
    place = node_places(len(beam.s))[: len(s), 1, :2].ravel()
    x, z = -s * np.sin(beam.angle), -s * np.cos(beam.angle)
    return ShankLaws(laws.stiffness[0] * width, laws.crushing[0] * width, x, z, float(np.tan(rise)), place)


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


def shank_stored(laws: ShankLaws, at: ShankForces) -> float:
    """Elastic energy of the ice under the shank [J]."""
    return float(0.5 * (at.force**2 / laws.k).sum()) if at.force.size else 0.0


def shank_spent(laws: ShankLaws, before: ShankForces, after: ShankForces) -> float:
    """Work on crushing under the shank in a step [J]."""
    return float((laws.limit * (after.crushed - before.crushed)).sum())
