"""A case in space: the tube as it stands, hanger or sling, ice with its hole, cracks, and the tube as it moves.

Plain arrays and nothing that draws, so that any renderer can take them: `scene_of` makes a `Scene` of an outcome,
`bend` puts a part where a frame of the pull has it. x points along the pull's plane, y across, z out of the ice, in mm.
"""

from .make import broken_ice, scene_of
from .moving import axis_at, bend
from .parts import Frame, IceGrid, Part, Scene

__all__ = ["Frame", "IceGrid", "Part", "Scene", "axis_at", "bend", "broken_ice", "scene_of"]
