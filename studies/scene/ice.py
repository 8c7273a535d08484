"""The ice as the half y >= 0 of a block: its cut face, its surface and the hole in it, with or without a trench.

A trench is a notch in front of the tube, of depth T at the wall. Along a ray from the wall at the azimuth psi from the
side that the pull presses, at the distance d from the hole's edge,

    z(d, psi) = -max(T cos(pi psi / 2 FAN) - d / (1 / tan b - lean cos psi), 0),     lean: tan of the angle, that side

b: rise of its floor against the surface (`fem.laws.trench`). FAN is drawn, not computed: the law has no width.
The block is mapped: each point of surface, cut face and wall of the hole has its place on a ray, so that it closes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, pi, radians, sin, tan

import numpy as np
from numpy.typing import NDArray

from ..figures.style import BAR, ICE
from .parts import Part
from .surfaces import Piece, flipped, joined, strip
from .tube import Stand

Array = NDArray[np.float64]
Values = Callable[[Array], Array]
FAN = radians(75.0)
AROUND, OUT, DOWN, BELOW = 40, 26, 30, 8  # pieces round the hole, along a ray, down the wall, under the hole
FIRST = 0.02  # share of a ray that its first piece takes


@dataclass(frozen=True, slots=True)
class Trench:
    """depth : at the wall, under the surface [mm].  rise : b [rad].  side : 1 in front, -1 behind (the side of -x).

    by_law : whether the rise is that of the law of chips.
    """

    depth: float
    rise: float
    side: int = 1
    by_law: bool = False


@dataclass(frozen=True, slots=True)
class Block:
    """left, right, wide, deep : how far the block goes from the mouth, in -x, +x, y and -z [mm]."""

    left: float
    right: float
    wide: float
    deep: float


def block_for(at: Stand, reach: float = 0.0) -> Block:
    """A block about the tube, and as far as a crack reaches [mm]."""
    tip = at.embedment * sin(at.angle)
    side = max(55.0, 0.6 * at.embedment, 1.12 * reach)
    return Block(side + max(tip, 0.0), side + max(-tip, 0.0), max(50.0, 0.5 * side), 1.18 * at.embedment + 12.0)


def rays(at: Stand, block: Block) -> tuple[Array, Array, Array]:
    """Azimuths (n,) from +x to -x in the surface, and where a ray leaves the hole and the block (n, 2)."""
    corners = [np.arctan2(block.wide, block.right), np.arctan2(block.wide, -block.left)]
    phi = np.unique(np.r_[np.linspace(0.0, pi, AROUND + 1), corners])
    unit = np.stack([np.cos(phi), np.sin(phi)], axis=1)
    hole = 1 / np.hypot(unit[:, 0] * cos(at.angle) / at.radius, unit[:, 1] / at.radius)
    ahead = np.where(unit[:, 0] > 0, block.right, block.left) / np.maximum(np.abs(unit[:, 0]), 1e-9)
    out = np.minimum(ahead, block.wide / np.maximum(unit[:, 1], 1e-9))
    unit[np.abs(unit) < 1e-12] = 0.0
    return phi, hole[:, None] * unit, out[:, None] * unit


def floor(at: Stand, trench: Trench | None, phi: Array, away: Array) -> Array:
    """Height z [mm] of the surface at a distance `away` from the hole along a ray at phi."""
    if trench is None or trench.depth <= 0:
        return np.zeros(np.broadcast_shapes(phi.shape, away.shape))
    psi = phi if trench.side > 0 else pi - phi
    at_wall = trench.depth * np.where(psi < FAN, np.cos(np.minimum(0.5 * pi * psi / FAN, 0.5 * pi)), 0.0)
    run = np.maximum(1 / tan(trench.rise) - trench.side * tan(at.angle) * np.cos(psi), 0.2)
    return -np.maximum(at_wall - away / run, 0.0)


def surface_lines(at: Stand, block: Block, trench: Trench | None) -> Array:
    """Points (rays, OUT + 1, 3) of the surface, from the hole out; at the hole they lie on its wall."""
    phi, inner, outer = rays(at, block)
    u = np.linspace(0.0, 1.0, OUT + 1)
    share = FIRST * OUT * u + (1 - FIRST * OUT) * u**3 if FIRST * OUT < 1 else u
    flat = inner[:, None] + share[:, None] * (outer - inner)[:, None]
    away = np.linalg.norm(flat - inner[:, None], axis=2)
    z = floor(at, trench, phi[:, None], away)
    flat[..., 0] = np.clip(flat[..., 0] + z * tan(at.angle), -block.left, block.right)
    return np.concatenate([flat, z[..., None]], axis=2)


def _end(at: Stand, flat: Array) -> Array:
    """Where the generators of the hole through points of its edge (n, 2) end: level with the tip, (n, 3)."""
    front = flat[:, 0] * cos(at.angle)
    return -at.embedment * at.axis + np.outer(front, at.front) + np.outer(flat[:, 1], [0.0, 1.0, 0.0])


def ice_parts(
    at: Stand, block: Block, trench: Trench | None = None, values: Values | None = None, words: str = ""
) -> tuple[Part, Part]:
    """The ice and the hole.  values : failure index at points (n, 3) [mm].  words : what the colour shows."""
    _, inner, _ = rays(at, block)
    top, ends = surface_lines(at, block, trench), _end(at, inner)
    right, left = (_cut_side(top[k], ends[k]) for k in (0, -1))
    under = _under(at, right[-1], left[-1], block)
    rim = top[:, -1]
    floor_of = np.concatenate([rim[:, :2], np.full((len(rim), 1), -block.deep)], axis=1)
    middle = np.broadcast_to(np.array([0.0, 0.0, -block.deep]), rim.shape)
    pieces = [flipped(strip(top)), strip(right), flipped(strip(left)), under]
    pieces += [strip(np.stack([rim, floor_of])), strip(np.stack([floor_of, middle]))]
    points, triangles = joined(pieces)
    shown = None if values is None else np.clip(values(points), 0.0, 1.0).astype(np.float32)
    said = f"The ice, cut open in the plane of the pull{words}."
    ice = Part("ice", said, points.astype(np.float32), triangles, ICE, 1.0, shown)
    share = np.linspace(0.0, 1.0, DOWN + 1)[:, None, None]
    wall = strip(top[None, :, 0] + share * (ends - top[:, 0])[None])
    bottom = strip(np.stack([ends, np.broadcast_to(-at.embedment * at.axis, ends.shape)]))
    points, triangles = joined([flipped(wall), flipped(bottom)])
    return ice, Part("hole", "The hole that the tube stands in.", points.astype(np.float32), triangles, BAR)


def _cut_side(line: Array, end: Array) -> Array:
    """The cut face beside the hole: (DOWN + 1, OUT + 1, 3), from the surface down to the level of the hole's end."""
    below = np.stack([end[0] + (line[:, 0] - line[0, 0]) / (line[-1, 0] - line[0, 0]) * (line[-1, 0] - end[0])], axis=1)
    low = np.concatenate([below, 0 * below, np.full_like(below, end[2])], axis=1)
    down = np.linspace(0.0, 1.0, DOWN + 1) ** 1.6
    return line + down[:, None, None] * (low - line)


def _under(at: Stand, right: Array, left: Array, block: Block) -> Piece:
    """The cut face under the hole, between the lines where both sides of it end."""
    middle = -at.embedment * at.axis
    line = np.concatenate([left[::-1], middle[None], right])
    low = np.stack([line[:, 0], line[:, 1], np.full(len(line), -block.deep)], axis=1)
    share = np.linspace(0.0, 1.0, BELOW + 1)[:, None, None]
    return strip(line + share * (low - line))


def carved(at: Stand, block: Block, trench: Trench) -> Part:
    """Ice that has gone, as a body on both sides of the plane of the pull."""
    phi, _, _ = rays(at, block)
    rows = phi <= FAN if trench.side > 0 else phi >= pi - FAN
    low, high = (surface_lines(at, block, each)[rows] for each in (trench, None))
    sides = [strip(np.stack([high[:, k], low[:, k]])) for k in (0, -1)]
    points, triangles = joined([strip(low), flipped(strip(high)), flipped(sides[0]), sides[1]])
    mirrored = (points * np.array([1.0, -1.0, 1.0]), triangles[:, ::-1])
    points, triangles = joined([(points, triangles), mirrored])
    known = "as the law of chips has it; its width is drawn" if trench.by_law else "as drawn, like its width"
    words = (
        f"Ice that is gone: down to {trench.depth:.0f} mm, its floor rising by {np.degrees(trench.rise):.0f}° "
        f"{known}, not computed."
    )
    return Part("trench", words, points.astype(np.float32), triangles, BAR, 0.55)
