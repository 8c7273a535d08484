"""A scene as plain arrays: parts of triangles, moments of a pull, a box of the ice with its failure index.

x along the pull, y across, z out of the ice [mm].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A surface at rest. text : what it shows.  values : failure index of the ice, 1: damage.

    along : of what moves with the tube, place along its axis [mm from the head]; offset : in the plane of the pull and
    across, from the axis [mm].
    """

    name: str
    text: str
    points: NDArray[np.float32]
    triangles: NDArray[np.int32]
    colour: str
    opacity: float
    values: NDArray[np.float32] | None
    along: NDArray[np.float32] | None
    offset: NDArray[np.float32] | None


@dataclass(frozen=True, slots=True, eq=False)
class IceGrid:
    """A box of the ice. values : (nx, ny, nz) failure index at the onset, 0 to 255 for 0 to 1.  solid : of ice."""

    origin: tuple[float, float, float]
    spacing: tuple[float, float, float]
    values: NDArray[np.uint8]
    solid: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A moment of the pull: the axis and what acts on it."""

    movement_mm: float
    load_kN: float
    head_rotation_deg: float
    event: str
    s: NDArray[np.float64]
    x: NDArray[np.float64]
    z: NDArray[np.float64]
    bearing: NDArray[np.float64]
    gone: NDArray[np.float64]
    yielded: NDArray[np.float64]
    cone: bool


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All of it. at : where the pull enters; pull : its direction, of length one."""

    title: str
    parts: tuple[Part, ...]
    frames: tuple[Frame, ...]
    grid: IceGrid | None
    pull: tuple[float, float, float]
    at: tuple[float, float, float]
