"""A scene packed for the page: arrays as base64 of little-endian numbers, the ice's box as bytes, x running fastest."""

from __future__ import annotations

from base64 import b64encode
from math import atan2, degrees
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..outcome.data import Outcome

if TYPE_CHECKING:
    from ..scene.parts import IceGrid, Part, Scene


def packed(outcome: Outcome, fields: Path | None) -> dict[str, Any]:
    """The scene of an outcome for the viewer.  fields : its fields.vtu."""
    from ..scene import scene_of

    return pack(scene_of(outcome, fields))


def pack(scene: Scene) -> dict[str, Any]:
    """A scene as plain data."""
    return {
        "title": scene.title,
        "parts": [_part(part) for part in scene.parts],
        "grid": None if scene.grid is None else _grid(scene.grid),
        "pull": [float(each) for each in scene.pull],
        "at": [float(each) for each in scene.at],
        "rise": _rise(scene),
    }


def _rise(scene: Scene) -> float | None:
    """Rise of the floor of the ice that is gone, in the plane of the pull [deg]; None if none is."""
    chip = next((part for part in scene.parts if part.name == "chip"), None)
    if chip is None:
        return None
    x, y, z = chip.points.astype(float).T
    x, z = (of[np.abs(y) < 1e-3] for of in (x, z))
    if not len(z):
        return None
    low, high = int(np.argmin(z)), int(np.argmax(z))
    return round(degrees(atan2(z[high] - z[low], abs(x[high] - x[low]))), 1)


def _part(part: Part) -> dict[str, Any]:
    def floats(values: NDArray[Any] | None) -> str | None:
        return None if values is None else _base64(values, "<f4")

    return {
        "name": part.name,
        "text": part.text,
        "colour": part.colour,
        "opacity": float(part.opacity),
        "points": floats(part.points),
        "triangles": _base64(part.triangles, "<u4"),
        "values": floats(part.values),
        "along": floats(part.along),
        "offset": floats(part.offset),
    }


def _grid(grid: IceGrid) -> dict[str, Any]:
    """Two bytes a point, the failure index and whether there is ice."""
    solid = np.where(grid.solid, 255, 0).astype(np.uint8)
    both = np.stack([grid.values, solid], axis=-1).transpose(2, 1, 0, 3)
    return {
        "origin": [float(each) for each in grid.origin],
        "spacing": [float(each) for each in grid.spacing],
        "shape": list(grid.values.shape),
        "bytes": _base64(both, "u1"),
    }


def _base64(values: NDArray[Any], kind: str) -> str:
    return b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode()
