"""What a scene is made of: plain frozen arrays, lengths in mm, loads in kN, turns in deg.

Part     a surface of triangles at rest; what moves with the tube also says where it stands along the tube's axis
Frame    the tube's axis at one state of the pull, with what bears on it
IceGrid  the failure index of the ice at the onset load on an even grid of its half y >= 0
Scene    all of them
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float32]
Array = NDArray[np.float64]
NAMES = ("tube", "threads", "hanger", "sling", "rope", "ice", "hole", "trench", "chip", "cone", "front")


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A surface. name : one of NAMES.  text : one plain sentence, what it shows.  colour : "#rrggbb".

    points : (n, 3) at rest.  triangles : (t, 3), seen from outside counter-clockwise where the surface is closed.
    values : (n,) failure index of the ice, 0 to 1: damage; None elsewhere.
    along : (n,) place along the tube's axis, from the head; None of what does not move with the tube.
    offset : (n, 2) from the axis, in the plane of the pull and across it.
    """

    name: str
    text: str
    points: Points
    triangles: NDArray[np.int32]
    colour: str
    opacity: float = 1.0
    values: Points | None = None
    along: Points | None = None
    offset: Points | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A state of the pull. event : what happened there, "" if nothing.

    s, x, z : (m,) nodes of the axis, head to tip: place along it, from the head, and where they are now.
    bearing : (m,) force of ice on tube [N per mm], front positive.  gone : (m,) depth of the trench along the tube at
    nodes above its floor, 0 elsewhere.  yielded : (m - 1,) whether a section has.  cone : whether it has come.
    held : node at which the rope holds the tube.
    """

    movement_mm: float
    load_kN: float
    head_rotation_deg: float
    event: str
    s: Array
    x: Array
    z: Array
    bearing: Array
    gone: Array
    yielded: NDArray[np.bool_]
    cone: bool
    held: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class IceGrid:
    """Failure index at the onset load at origin + (i, j, k) spacing, y >= 0: 0 to 255 for 0 to 1 and over.

    solid : False in the hole and above the ice.  Both (nx, ny, nz).
    """

    origin: tuple[float, float, float]
    spacing: tuple[float, float, float]
    values: NDArray[np.uint8]
    solid: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """A case in space.  pull : its unit vector.  at : where it enters, at rest."""

    title: str
    parts: tuple[Part, ...]
    frames: tuple[Frame, ...]
    grid: IceGrid | None
    pull: tuple[float, float, float]
    at: tuple[float, float, float]

    def part(self, name: str) -> Part | None:
        """The part of that name; None if there is none."""
        return next((part for part in self.parts if part.name == name), None)
