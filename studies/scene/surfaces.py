"""Surfaces of triangles: strips between lines of points, pieces put together, and the volume that they enclose.

    volume = 1/6 sum over triangles of p_0 . (p_1 x p_2)      of a closed surface, positive if it is seen from outside

Edges that are to look sharp have points of their own on either side: strips do not share them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Triangles = NDArray[np.int32]
Piece = tuple[Array, Triangles]


def strip(lines: Array) -> Piece:
    """A surface through (k, m, c) points, m along each of k lines; its outside: from line to line x along a line."""
    k, m, _ = lines.shape
    at = np.arange(k * m).reshape(k, m)
    a, b, c, d = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
    triangles = np.concatenate([np.stack([a, b, c], axis=-1), np.stack([a, c, d], axis=-1)], axis=0)
    return lines.reshape(k * m, -1), triangles.reshape(-1, 3).astype(np.int32)


def joined(pieces: Sequence[Piece]) -> Piece:
    """Pieces as one."""
    starts = np.cumsum([0, *(len(points) for points, _ in pieces[:-1])])
    triangles = [each + start for (_, each), start in zip(pieces, starts, strict=True)]
    return np.concatenate([points for points, _ in pieces]), np.concatenate(triangles).astype(np.int32)


def volume(points: NDArray[np.floating], triangles: Triangles) -> float:
    """What a closed surface encloses, in the cube of its points' unit."""
    a, b, c = np.moveaxis(np.asarray(points, float)[triangles], 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def flipped(piece: Piece) -> Piece:
    """Seen from the other side."""
    return piece[0], piece[1][:, ::-1]


def cord(line: Array, radius: float, around: int = 8) -> Piece:
    """A closed round cord (k, 3) of a radius along a line of points, its ends flat."""
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    helper = np.eye(3)[int(np.argmin(np.abs(along).max(axis=0)))]
    u = np.cross(along, helper)
    u /= np.linalg.norm(u, axis=1)[:, None]
    v = np.cross(along, u)
    phi = np.linspace(0.0, 2 * np.pi, around + 1)
    rings = line[:, None] + radius * (np.cos(phi)[:, None] * u[:, None] + np.sin(phi)[:, None] * v[:, None])
    ends = [strip(np.stack([np.broadcast_to(line[k], rings[k].shape), rings[k]])) for k in (0, -1)]
    found = joined([strip(rings), ends[0], flipped(ends[1])])
    return found if volume(*found) > 0 else flipped(found)


def hollow(profile: Array, around: int) -> Piece:
    """A ring whose section (k, 2) along and out from the axis is turned round it; points (n, 3): along, two offsets.

    profile : a closed line, its last point the first again; each side of it has points of its own.
    """
    phi = np.linspace(0.0, 2 * np.pi, around + 1)
    sides = []
    for start, end in pairwise(profile):
        at = np.stack([start, end])
        lines = np.stack(
            [
                np.broadcast_to(at[:, :1], (2, around + 1)),
                at[:, 1:] * np.cos(phi),
                at[:, 1:] * np.sin(phi),
            ],
            axis=-1,
        )
        sides.append(strip(lines))
    found = joined(sides)
    return found if volume(*found) > 0 else flipped(found)
