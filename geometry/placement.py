"""What is placed, how it sits and how it is pulled: plain checked data in SI units (m, rad, N).

The surface of the ice is the plane z = 0 with the ice below it (z < 0). The pull lies in the plane y = 0 and
points toward +x. The tube's axis lies in the same plane and meets the surface at the origin.

    axis (tip to head)   e_a = ( sin(angle), 0, cos(angle))    positive angle: the head leans toward the pull
    front of the tube    e_1 = ( cos(angle), 0, -sin(angle))   normal to the axis, on the side of +x
    pull                 p   = ( cos(direction), 0, sin(direction))   0: shear along the surface, pi/2: straight out
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, inf, pi, radians, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Attachment = Literal["eye", "tied_off"]
ANGLE_LIMIT = pi / 4
SHORTEST_EMBEDMENT = 0.030
STOP_MOVEMENT_MM, STOP_TURN_DEG = 150.0, 60.0
ALONG, ROUNDED = 1e-12, 12  # share of the pull across the axis that is none; digits


def _check(name: str, value: float, low: float, high: float) -> None:
    """One line that names field, value and range; the user's units are the case file's business."""
    if not low <= value <= high:
        raise ValueError(f"{name} = {value:g}: must lie between {low:g} and {high:g}")


@dataclass(frozen=True, slots=True)
class Tube:
    """The hollow threaded steel body (lengths in m, hanger strength in N).

    length : tip to hanger eye.  outer_diameter, wall : of the plain body.
    thread_length : threaded part, measured from the tip.  thread_height, thread_pitch : of the thread.
    eye : height of the hanger eye above the ice when the tube is driven flush, along the axis.
    """

    length: float
    outer_diameter: float
    wall: float
    thread_length: float
    thread_height: float
    thread_pitch: float
    eye: float
    hanger_strength: float

    def __post_init__(self) -> None:
        _check("tube.length [m]", self.length, 0.04, 0.5)
        _check("tube.outer_diameter [m]", self.outer_diameter, 0.005, 0.05)
        _check("tube.wall [m]", self.wall, 2e-4, 0.45 * self.outer_diameter)
        _check("tube.thread_length [m]", self.thread_length, 0.0, self.length)
        _check("tube.thread_height [m]", self.thread_height, 0.0, self.outer_diameter)
        _check("tube.thread_pitch [m]", self.thread_pitch, 1e-4, 0.05)
        _check("tube.eye [m]", self.eye, 0.0, 0.5 * self.length)
        _check("tube.hanger_strength [N]", self.hanger_strength, 0.0, 1e6)

    @property
    def radius(self) -> float:
        """Outer radius of the plain body [m]."""
        return 0.5 * self.outer_diameter

    @property
    def bore(self) -> float:
        """Inner radius [m]."""
        return self.radius - self.wall

    @property
    def flush_embedment(self) -> float:
        """Embedment of the tube driven flush [m]: its length less the hanger's stand-off."""
        return self.length - self.eye


@dataclass(frozen=True, slots=True)
class Placement:
    """How the tube sits: angle from the surface normal [rad], embedment along the axis [m], where the force enters.

    Positive angle: the head leans toward the pull. `eye`: at the head, a lever arm above the ice.
    `tied_off`: a sling round the bare shank, `sling_height` above the ice along the axis [m]; at 0 no lever arm.
    sling_friction : Coulomb's coefficient of sling on shank; inf: a hitch that does not slide.
    sling_strength : of the sling [N]; inf if not stated.
    """

    angle: float
    embedment: float
    attachment: Attachment = "eye"
    sling_strength: float = inf
    sling_height: float = 0.0
    sling_friction: float = inf

    def __post_init__(self) -> None:
        _check("placement.angle [rad]", self.angle, -ANGLE_LIMIT - 1e-12, ANGLE_LIMIT + 1e-12)
        _check("placement.embedment [m]", self.embedment, SHORTEST_EMBEDMENT - 1e-12, 0.5)
        if self.attachment not in ("eye", "tied_off"):
            raise ValueError(f"placement.attachment = {self.attachment!r}: must be 'eye' or 'tied_off'")
        if not self.sling_strength >= 0:
            raise ValueError(f"placement.sling_strength [N] = {self.sling_strength:g}: must not be negative")
        _check("placement.sling_height [m]", self.sling_height, 0.0, 0.5 if self.attachment == "tied_off" else 0.0)
        if not self.sling_friction >= 0:
            raise ValueError(f"placement.sling_friction = {self.sling_friction:g}: must not be negative")

    @property
    def axis(self) -> NDArray[np.float64]:
        """Unit vector along the axis from tip to head, shape (3,)."""
        return np.array([sin(self.angle), 0.0, cos(self.angle)])

    @property
    def front(self) -> NDArray[np.float64]:
        """Unit vector normal to the axis on the +x side, shape (3,)."""
        return np.array([cos(self.angle), 0.0, -sin(self.angle)])


@dataclass(frozen=True, slots=True)
class Pull:
    """Direction of the force [rad] from the surface plane: 0 is shear, pi/2 is tension along the outward normal.

    movement : of the load point [m], and turn : of the head [rad], up to which the peak is counted: its stops.
    """

    direction: float
    movement: float = STOP_MOVEMENT_MM * 1e-3
    turn: float = radians(STOP_TURN_DEG)

    def __post_init__(self) -> None:
        _check("pull.direction [rad]", self.direction, -1e-12, pi + 1e-12)
        _check("pull.movement [m]", self.movement, 1e-3, 0.25)
        _check("pull.turn [rad]", self.turn, radians(1.0), pi + 1e-12)

    @property
    def unit(self) -> NDArray[np.float64]:
        """Unit vector of the force, shape (3,)."""
        return np.array([cos(self.direction), 0.0, sin(self.direction)])


def pressed_side(placement: Placement, pull: Pull) -> int:
    """The side of the tube whose wall the pull presses at the mouth: 1 for the side of +x, -1 for the other.

    A pull along the axis presses neither; it counts as 1.
    """
    return 1 if float(pull.unit @ placement.front) > -ALONG else -1


def facing(placement: Placement, pull: Pull) -> tuple[Placement, Pull, int]:
    """A placement and pull whose front the pull presses at the mouth: these and 1, or their mirror image and -1.

    A case and its image come out alike to the last digit, the direction to ROUNDED digits of a right angle: at a fork
    of the path round-off must not choose.
    """
    side = pressed_side(placement, pull)
    out = round(1 - pull.direction / (0.5 * pi), ROUNDED)  # of a right angle from the normal, toward +x
    seen = replace(pull, direction=0.5 * pi * (1 - side * out))
    return replace(placement, angle=side * placement.angle), seen, side


def standing_out(tube: Tube, placement: Placement) -> float:
    """Length of the tube above the ice, along the axis [m]: the lever arm of a pull at the eye.

    Raises ValueError if the embedment is longer than the tube.
    """
    if placement.embedment > tube.length + 1e-12:
        raise ValueError(
            f"placement.embedment [m] = {placement.embedment:g}: must not exceed tube.length = {tube.length:g}"
        )
    return tube.length - placement.embedment


def lever_arm(tube: Tube, placement: Placement) -> float:
    """Height above the ice at which the pull enters, along the axis [m]: of the eye, or of the sling as it is tied.

    Raises ValueError as `standing_out` does, and for a sling above the eye.
    """
    most = standing_out(tube, placement)
    if placement.attachment == "eye":
        return most
    _check("placement.sling_height [m]", placement.sling_height, 0.0, most + 1e-12)
    return placement.sling_height


def load_point(tube: Tube, placement: Placement) -> NDArray[np.float64]:
    """Where the line of action of the force meets the axis [m], shape (3,).

    The half model spreads the load of a sling over the tube's band at the mouth, with this line of action: shares and
    onset are those of the lever arm; its compliance leaves out that the shank bends between mouth and sling.
    """
    return lever_arm(tube, placement) * placement.axis
