"""A placement as a small side view: ice, tube at its angle and depth, where the pull enters, its arrow, the angle.

Plain shapes in mm of paper, x to the right, y upwards, the pull to the right; PDF and page draw the same ones. All
placements of a sheet have one scale, so that they compare: the largest at which each tube, with its arrow and its arc,
stays MARGIN inside a sketch of WIDE by HIGH. Lengths of tubes are true to it; a tube is drawn THIN at least.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import cos, degrees, pi, radians, sin
from typing import Literal

from ..figures.style import ICE, INK, PULL, STEEL

Point = tuple[float, float]
Kind = Literal["polygon", "line", "dashes", "text"]
WIDE, HIGH, MARGIN = 33.0, 36.0, 2.0  # mm of paper
ARROW, HEAD, ARC, DASHES, THIN = 10.5, 3.2, 8.5, 10.5, 1.7  # mm of paper
RING, ROUND = 1.7, 20  # mm, radius of the eye; pieces of a circle


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a sketch needs of a placement; direction_deg of the pull from the surface (mm, deg)."""

    angle_deg: float
    depth_mm: float
    length_mm: float
    od_mm: float
    tied_off: bool
    sling_height_mm: float
    direction_deg: float

    def along(self, s: float) -> Point:
        """Unit vector of the axis times s [mm]: s above the ice is positive."""
        angle = radians(self.angle_deg)
        return s * sin(angle), s * cos(angle)

    @property
    def above_mm(self) -> float:
        """Length of tube above the ice [mm]."""
        return max(self.length_mm - self.depth_mm, 0.0)

    @property
    def held_mm(self) -> float:
        """Height along the tube at which the pull enters [mm]."""
        return self.sling_height_mm if self.tied_off else self.above_mm

    @property
    def pull(self) -> Point:
        """Unit vector of the pull [-]."""
        return cos(radians(self.direction_deg)), sin(radians(self.direction_deg))


@dataclass(frozen=True, slots=True)
class Shape:
    """kind; points [mm of paper]; fill, stroke : colours, "" for none; width of the line [mm]; words of a text."""

    kind: Kind
    points: tuple[Point, ...]
    fill: str = ""
    stroke: str = ""
    width: float = 0.0
    words: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """scale : mm of paper per mm.  ground : height of the ice's surface in the sketch [mm of paper]."""

    scale: float
    ground: float


def common_frame(placements: Sequence[Drawn]) -> Frame:
    """The scale at which all placements fit. Raises ValueError if there is none."""
    if not placements:
        raise ValueError("placements: must hold one at least")
    down = max(each.along(each.depth_mm)[1] for each in placements)
    high, half = HIGH - 2 * MARGIN, 0.5 * WIDE - MARGIN
    scales = [(high - DASHES) / down]
    for each in placements:
        (x, z), (run, rise) = each.along(each.held_mm), each.pull
        ends = [each.along(s) for s in (each.above_mm, -each.depth_mm)]
        scales += [(high - ARROW * max(rise, 0.0)) / (down + z), (high - RING) / (down + max(ends[0][1], 1.0))]
        scales += [half / max(abs(end), 1.0) for end, _ in ends]
        scales += [(half - ARROW * run) / x] if x > 0 and run > 0 else []
    return Frame(min(scales), MARGIN + min(scales) * down)


def sketch(placed: Drawn, frame: Frame) -> tuple[Shape, ...]:
    """The shapes of a placement, from the back to the front."""
    mouth = (0.5 * WIDE, frame.ground)

    def at(s: float, off: float = 0.0) -> Point:
        x, y = placed.along(s * frame.scale)
        across = placed.along(off)
        return mouth[0] + x + across[1], mouth[1] + y - across[0]

    half = max(0.5 * placed.od_mm * frame.scale, 0.5 * THIN)
    body = tuple(at(*corner) for corner in _corners(-placed.depth_mm, placed.above_mm, half))
    ice = ((0.0, 0.0), (WIDE, 0.0), (WIDE, mouth[1]), (0.0, mouth[1]))
    run, up = placed.along(DASHES)
    ends = {(mouth[0], mouth[1] + DASHES), (mouth[0] + run, mouth[1] + up)}
    held = at(placed.held_mm)
    return (
        Shape("polygon", ice, fill=ICE),
        Shape("line", ((0.0, mouth[1]), (WIDE, mouth[1])), stroke=INK, width=0.35),
        *(Shape("dashes", (mouth, end), stroke=INK, width=0.2) for end in sorted(ends)),
        Shape("polygon", body, fill=STEEL, stroke=INK, width=0.2),
        *_angle(placed, mouth),
        *_held(placed, held, at, half, frame),
        *_arrow(held, placed.pull),
    )


def _corners(low: float, high: float, half: float) -> tuple[Point, ...]:
    return (low, -half), (high, -half), (high, half), (low, half)


def _circle(centre: Point, radius: float, start: float = 0.0, end: float = 2 * pi) -> tuple[Point, ...]:
    turns = [start + (end - start) * k / ROUND for k in range(ROUND + 1)]
    return tuple((centre[0] + radius * cos(t), centre[1] + radius * sin(t)) for t in turns)


def _angle(placed: Drawn, mouth: Point) -> tuple[Shape, ...]:
    """The arc from the surface's normal to the axis with the angle, on the side away from the pull."""
    axis = 0.5 * pi - radians(placed.angle_deg)
    arc = _circle(mouth, ARC, 0.5 * pi, axis) if placed.angle_deg else ()
    words = f"{degrees(0.5 * pi - axis):+.3g}°".replace("-", "−") if placed.angle_deg else "0°"
    drawn = (Shape("line", arc, stroke=INK, width=0.45),) if arc else ()
    return (*drawn, Shape("text", ((mouth[0] - ARC - 3.0, mouth[1] + 4.5),), words=words))


def _held(
    placed: Drawn, held: Point, at: Callable[[float, float], Point], half: float, frame: Frame
) -> tuple[Shape, ...]:
    """Where the pull enters: a ring at the head, or a band round the shank."""
    if not placed.tied_off:
        return (Shape("polygon", _circle(held, RING), fill="white", stroke=INK, width=0.5),)
    thick = 0.9 / frame.scale
    band = _corners(placed.sling_height_mm, placed.sling_height_mm + thick, half + 0.7)
    return (Shape("polygon", tuple(at(*corner) for corner in band), fill=INK, stroke=INK, width=0.5),)


def _arrow(start: Point, pull: Point) -> tuple[Shape, ...]:
    run, rise = pull
    tip = start[0] + ARROW * run, start[1] + ARROW * rise
    neck = tip[0] - HEAD * run, tip[1] - HEAD * rise
    side = 0.45 * HEAD
    head = (tip, (neck[0] - side * rise, neck[1] + side * run), (neck[0] + side * rise, neck[1] - side * run))
    return Shape("line", (start, neck), stroke=PULL, width=0.9), Shape("polygon", head, fill=PULL)
