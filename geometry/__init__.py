"""What is placed and how it is meshed.

`placement` holds plain checked data (tube, placement, pull) and the signs; `o_grid` (across the axis), `layers` (along
it) and `half_model` build the mapped hexahedral half model with its regions, surfaces and contact pairs; `quality`
measures a mesh. Nothing here knows of forces or materials.
"""

from .half_model import Cut, HalfModel, build_half_model
from .layers import LEVELS, Level, Resolution
from .placement import Placement, Pull, Tube, facing, lever_arm, load_point, pressed_side, standing_out
from .quality import MeshError

__all__ = [
    "LEVELS",
    "Cut",
    "HalfModel",
    "Level",
    "MeshError",
    "Placement",
    "Pull",
    "Resolution",
    "Tube",
    "build_half_model",
    "facing",
    "lever_arm",
    "load_point",
    "pressed_side",
    "standing_out",
]
