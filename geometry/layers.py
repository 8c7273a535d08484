"""Layers of the mapped mesh along the tube's axis: where they lie, and how they turn from the axis to the surface.

In straight coordinates (xi toward the front, eta out of the symmetry plane, s along the axis, 0 at the mouth) a layer
is a plane s = constant. In the block it is sheared, so that the one at s = 0 lies in the surface z = 0:

    x = (s + tan(angle) xi g) e_a + xi e_1 + eta e_y,                                                    [m]
    g = w(s)                                  for r <= r_a,                                              [-]
    g = (w(s) r_a + r - r_a) / r              for r > r_a.

w = 1 through the crust. It falls linearly to 0 at the upper end of the threads, and is 0 below and at the head. So
layers are normal to the axis round the threads and the tip, and parallel to the surface at the mouth and everywhere
far away. The crust's lower face is a layer of w = 1.

Limit: if the angle is too steep for that fall, w reaches 0 deeper; the tip of a short, steep tube is then cut slightly
askew.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import cos, tan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .o_grid import graded
from .placement import Placement, Tube, standing_out

Level = Literal["quick", "standard", "fine"]
HOLE_BELOW_TIP = 0.006  # m
SHORTEST_STUB = 0.002  # m, the mesh's tube stands out at least this far
TURN_RADIUS = 1.6  # r_a over the tube's radius
THINNEST_ZONE = 0.0015  # m, zones thinner than this are merged with their neighbour
SLING_WIDTH = 0.004  # m, band of the shank that carries a tied-off pull
EYE_WIDTH = 0.45  # band at the head that carries a pull at the eye, over the tube's radius


@dataclass(frozen=True, slots=True)
class Resolution:
    """Element sizes [m] (and `sectors` over 180 degrees) that make a level.

    ring : radial size of the first ring of ice.  mouth, tip : along the axis at those places (tip: at zone ends too).
    growth : largest change of size per unit of distance.  deep : largest size along the axis beside the tube.
    """

    sectors: int
    ring: float
    mouth: float
    tip: float
    growth: float
    deep: float


LEVELS: dict[Level, Resolution] = {
    "quick": Resolution(sectors=8, ring=0.0040, mouth=0.0045, tip=0.0060, growth=0.9, deep=0.030),
    "standard": Resolution(sectors=12, ring=0.0025, mouth=0.0016, tip=0.0035, growth=0.6, deep=0.020),
    "fine": Resolution(sectors=16, ring=0.0016, mouth=0.0013, tip=0.0035, growth=0.55, deep=0.016),
}


@dataclass(frozen=True, slots=True)
class Layers:
    """Layer boundaries s [m] from the bottom of the block to the head, and the indices of those that matter."""

    s: NDArray[np.float64]
    hole: int
    tip: int
    crust: int
    mouth: int
    sling: int
    eye: int
    cut: int


def _marks(tube: Tube, placement: Placement, crust: float, cut: float | None = None) -> tuple[list[float], list[float]]:
    """Boundaries between tip and mouth: for an upright tube (they set the number of layers) and as they are.

    Only the crust's face moves with the angle. The upper end of the threads is a boundary unless it is close to
    another one (or would cross the crust's face): then the nearest nodes decide what is threaded. So is the cut's
    place, if there is one; close to another boundary it is that one.
    """
    tip, slant = -placement.embedment, 1 / cos(placement.angle)
    upright, true = [tip, 0.0], [tip, 0.0]
    if crust > 0:
        upright.insert(1, -crust)
        true.insert(1, -crust * slant)
    thread_top = tube.thread_length - placement.embedment
    at = int(np.searchsorted(upright, thread_top))
    clear = min(abs(thread_top - mark) for mark in upright + true) > THINNEST_ZONE
    if clear and tip < thread_top < 0.0 and at == int(np.searchsorted(true, thread_top)):
        upright.insert(at, thread_top)
        true.insert(at, thread_top)
    if cut is not None and min(abs(cut - mark) for mark in true) > THINNEST_ZONE:
        at = int(np.searchsorted(true, cut))
        upright.insert(at, cut if at == len(true) - 1 else float(np.interp(cut, true, upright)))
        true.insert(at, cut)
    return upright, true


def stack_layers(
    tube: Tube, placement: Placement, crust: float, far: float, size: Resolution, cut: float | None = None
) -> Layers:
    """Layer boundaries [m] from the bottom of the block, `far` below the hole, to the head; one of them at s = cut.

    crust, far, cut : m.
    """
    upright, true = _marks(tube, placement, crust, cut)
    tip, hole = true[0], true[0] - HOLE_BELOW_TIP
    stub = max(standing_out(tube, placement), SHORTEST_STUB)
    pieces = [
        hole - graded(far, size.tip, far, size.growth, far)[::-1],
        hole + graded(HOLE_BELOW_TIP, size.tip, size.tip, size.growth, size.deep),
    ]
    for low, high, below, above in zip(upright[:-1], upright[1:], true[:-1], true[1:], strict=True):
        last = size.mouth if high == 0.0 else size.tip
        points = graded(high - low, size.tip, last, size.growth, size.deep)
        pieces.append(below + points * (above - below) / (high - low))
    sling, eye = min(SLING_WIDTH, stub / 2), stub - min(EYE_WIDTH * tube.radius, stub / 2)
    eye = eye if eye - sling > THINNEST_ZONE else sling  # no sliver between the bands of a short stub
    marks = np.unique([0.0, sling, eye, stub])
    for low, high in pairwise(marks):
        pieces.append(low + graded(high - low, size.tip, size.tip, size.growth, size.deep))
    s = np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])

    def index(mark: float) -> int:
        return int(np.argmin(np.abs(s - mark)))

    face = -crust / cos(placement.angle)
    return Layers(s, index(hole), index(tip), index(face), index(0.0), index(sling), index(eye), index(cut or 0.0))


def _turn(tube: Tube, placement: Placement, layers: Layers) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Table (s, w) of how far the layers have turned from normal-to-axis (0) to surface-parallel (1)."""
    slope = abs(tan(placement.angle))
    face = layers.s[layers.crust]
    thread_top = min(face, tube.thread_length - placement.embedment)
    turned = min(thread_top, face - 2.2 * TURN_RADIUS * tube.radius * slope)
    head = max(layers.s[-1], 1.6 * tube.radius * slope)
    return np.array([turned, face, 0.0, head]), np.array([0.0, 1.0, 1.0, 0.0])


def to_block(straight: NDArray[np.float64], tube: Tube, placement: Placement, layers: Layers) -> NDArray[np.float64]:
    """The shear of the module docstring: straight coordinates (3, n) to the block's x, y, z (3, n) [m]."""
    xi, eta, s = straight
    table_s, table_w = _turn(tube, placement, layers)
    w = np.interp(s, table_s + np.array([0.0, 0.0, 1e-12, 2e-12]), table_w)
    r = np.hypot(xi, eta)
    r_a = TURN_RADIUS * tube.radius
    g = np.where(r <= r_a, w, (w * r_a + r - r_a) / np.maximum(r, r_a))
    along = s + tan(placement.angle) * xi * g
    y = np.array([0.0, 1.0, 0.0])
    return np.outer(placement.axis, along) + np.outer(placement.front, xi) + np.outer(y, eta)
