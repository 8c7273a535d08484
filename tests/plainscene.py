"""A scene made by hand, for tests of what shows scenes: a round tube in half a block of ice, and its grid."""

from __future__ import annotations

import numpy as np

from icecone.studies.scene.parts import IceGrid, Part, Scene

RADIUS, LENGTH, STANDS = 8.5, 140.0, 10.0  # mm
HALF, DEEP = 100.0, 180.0


def plain_scene(angle_deg: float = 0.0) -> Scene:
    """The tube leaning by an angle; the ice does not care."""
    return Scene("a tube in ice", (tube(angle_deg), ice()), (), grid(), (1.0, 0.0, 0.0), (0.0, 0.0, STANDS))


def tube(angle_deg: float, rings: int = 57, sides: int = 32) -> Part:
    along = np.repeat(np.linspace(0.0, LENGTH, rings), sides)
    turn = np.tile(np.linspace(0.0, 2 * np.pi, sides, endpoint=False), rings)
    offset = RADIUS * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    sine, cosine = np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))
    up, front = STANDS - along, offset[:, 0]
    points = np.stack([up * sine + front * cosine, offset[:, 1], up * cosine - front * sine], axis=1)
    at = np.arange(rings - 1)[:, None] * sides + np.arange(sides)
    beside = np.arange(rings - 1)[:, None] * sides + (np.arange(sides) + 1) % sides
    triangles = np.concatenate(
        [
            np.stack(each, axis=-1).reshape(-1, 3)
            for each in ((at, beside, at + sides), (beside, beside + sides, at + sides))
        ]
    )
    return _part("tube", "the tube", points, triangles, "#8c9196", along=along, offset=offset)


def ice() -> Part:
    """The cut face y = 0, a hole in it, coloured by the failure index; the surface and the far sides."""
    x, z = np.linspace(-HALF, HALF, 81), np.linspace(-DEEP, 0.0, 73)
    points = np.array([(a, 0.0, b) for a in x for b in z])
    squares = [
        (i * 73 + k, (i + 1) * 73 + k, (i + 1) * 73 + k + 1, i * 73 + k + 1)
        for i in range(80)
        for k in range(72)
        if abs(x[i] + 1.25) > RADIUS + 2 or z[k] < -STANDS - LENGTH + 20
    ]
    face = [each for a, b, c, d in squares for each in ((a, b, c), (a, c, d))]
    corners = [(-HALF, 0, 0), (HALF, 0, 0), (HALF, HALF, 0), (-HALF, HALF, 0)]
    corners += [(a, b, -DEEP) for a, b, _ in corners]
    start = len(points)
    sides = [(0, 1, 2), (0, 2, 3), (3, 2, 6), (3, 6, 7), (0, 3, 7), (0, 7, 4), (1, 2, 6), (1, 6, 5)]
    points = np.concatenate([points, np.array(corners, dtype=float)])
    triangles = np.array([*face, *(tuple(start + each for each in side) for side in sides)])
    values = index(points)
    values[start:] = 0.0
    return _part("ice", "the ice, cut open", points, triangles, "#e3edf5", values=values)


def index(points: np.ndarray) -> np.ndarray:
    """A failure index that falls off from the front of the mouth."""
    return np.exp(-np.linalg.norm(points - [RADIUS, 0.0, 0.0], axis=-1) / 25.0)


def grid() -> IceGrid:
    spacing, shape = 4.0, (51, 25, 31)
    origin = (-HALF, 0.0, -30 * spacing)
    at = np.stack(
        np.meshgrid(*(o + spacing * np.arange(n) for o, n in zip(origin, shape, strict=True)), indexing="ij"), -1
    )
    solid = (np.hypot(at[..., 0], at[..., 1]) > RADIUS) & (at[..., 2] <= 0)
    return IceGrid(origin, (spacing,) * 3, np.round(255 * index(at)).astype(np.uint8), solid)


def _part(name: str, text: str, points: np.ndarray, triangles: np.ndarray, colour: str, **more: np.ndarray) -> Part:
    arrays = {key: np.asarray(value, np.float32) for key, value in more.items()}
    given = {"values": None, "along": None, "offset": None, **arrays}
    return Part(name, text, points.astype(np.float32), triangles.astype(np.int32), colour, 1.0, **given)
