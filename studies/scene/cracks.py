"""What breaks, as surfaces: the trench that chips leave, the crack of the last chip, a cone, and the front of each.

A cone that was computed is drawn as it was (`ConeResult.surface_mm`), its front where the crack ends. A pull's model
knows the load of its cone, not its shape: a straight cone from the tip at ELEVATION is drawn and said to be drawn,

    q(phi) = tan(ELEVATION + a cos phi),     W(phi) = D(phi) / (q - tan(a) cos phi)     (`geometry.slit_half_model`)

Of a family that was tried, the others are lines where they would come out, by the same formula with their tilt.
"""

from __future__ import annotations

from math import degrees, pi, radians, tan

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import facing
from ...geometry.slit_half_model import NARROWEST, STEEPEST, WIDEST
from ..case.file import to_case
from ..figures.style import CONE as CONE_COLOUR
from ..figures.style import FRONT, LINES, QUIET
from ..outcome.data import Outcome
from ..outcome.results import TiltedCone
from .ice import FAN, Block, Trench, carved, rays, surface_lines
from .parts import Part
from .surfaces import cord, joined, strip
from .tube import Stand

Array = NDArray[np.float64]
ELEVATION = radians(35.0)
AROUND, FRONTS = 48, 10
CORD = 0.7  # mm, radius of a front
FLATTEST, UNKNOWN = radians(5.0), radians(30.0)  # rise of a trench's floor, as drawn: least, and without a law


def trench_of(outcome: Outcome, along: float | None = None) -> Trench | None:
    """The trench so deep along the tube [mm], or as at the end of the pull; None if no ice has gone."""
    if along is None:
        along = max(map(max, outcome.peak.shapes.gone_mm), default=0.0) if outcome.peak else 0.0
    if along <= 0:
        return None
    case = to_case(outcome.case)
    placement, _, side = facing(case.placement, case.pull)
    depth = along * float(np.cos(placement.angle))
    rise = _rise(outcome, placement.angle, along * 1e-3)
    return Trench(depth, UNKNOWN if rise is None else max(rise, FLATTEST), side, rise is not None)


def _rise(outcome: Outcome, angle: float, trench: float) -> float | None:
    """Rise of the trench's floor by the law of chips [rad]; None if that is not kept: no picture computes one."""
    from ...fem.laws.gather import Laws
    from ..files.laws import kept_law, law_changed

    if not outcome.laws or law_changed(outcome.laws):
        return None
    chips = Laws(to_case(outcome.case), kept_law).chips()
    return float(chips.floor(np.array([trench]), 0.8 * trench, np.array([angle]))[0])


def trench_parts(at: Stand, block: Block, trench: Trench) -> list[Part]:
    """Ice that is gone, the crack along which the last of it left, and where that came out."""
    phi, _, _ = rays(at, block)
    rows = phi <= FAN if trench.side > 0 else phi >= pi - FAN
    half = surface_lines(at, block, trench)[rows]
    under = [line[line[:, 2] < -1e-6] for line in half]
    ends = np.array([_outcrop(line, row) for line, row in zip(half, under, strict=True) if len(row) > 1])
    if len(ends) < 3:
        return [carved(at, block, trench)]
    share = np.linspace(0.0, 1.0, FRONTS + 1)[:, None, None]
    walls = np.array([line[0] for line, row in zip(half, under, strict=True) if len(row) > 1])
    whole = [np.concatenate([each[::-1] * [1.0, -1.0, 1.0], each[1:]]) for each in (walls, ends)]
    points, triangles = strip(whole[0] + share * (whole[1] - whole[0]))
    said = f"The crack of the last chip: it rises by {degrees(trench.rise):.0f}° and comes out in front of the tube."
    chip = Part("chip", said, points.astype(np.float32), triangles, LINES[3], 0.75)
    found = [carved(at, block, trench), chip]
    out = bool(np.all(np.abs(whole[1][:, 2]) < 1e-6))
    return [*found, _front(whole[1], "Where the last chip came out of the surface.")] if out else found


def _outcrop(line: Array, under: Array) -> Array:
    """Where a line of the trench's floor comes to the surface, or to the end of the block."""
    if len(under) == len(line):
        return np.asarray(line[-1])
    a, b = under[0], under[-1]
    share = a[2] / (a[2] - b[2])
    out = a + share * (b - a)
    return np.array([out[0], out[1], 0.0])


def cone_parts(outcome: Outcome, at: Stand) -> list[Part]:
    """The cone and its front; none where no cone comes."""
    if outcome.cone is not None:
        cone = outcome.cone
        surface = np.array(cone.surface_mm)
        load = "no pull opens it" if outcome.peak_kN is None else f"it comes at {outcome.peak_kN:.1f} kN"
        said = f"The cone of ice: from {cone.start}, {cone.angle_deg:.0f}° to the surface; {load}."
        told = "Where the crack of the cone ends as it was followed."
    elif outcome.peak is not None and any(outcome.peak.shapes.cone):
        surface = drawn_cone(at)
        said = (
            f"A cone of ice comes: drawn straight from the tip at {degrees(ELEVATION):.0f}° to the surface; "
            "this model knows its load, not its shape."
        )
        told = "Where the drawn cone comes out."
    else:
        return []
    points, triangles = strip(surface)
    cone_part = Part("cone", said, points.astype(np.float32), triangles, CONE_COLOUR, 0.6)
    family = _tried(outcome.cone.tilted, at) if outcome.cone and outcome.cone.tilted else []
    return [cone_part, _front(surface[-1], told), *family]


def drawn_cone(at: Stand) -> Array:
    """A straight cone from the tip, (fronts, azimuths, 3) from the wall to the surface [mm]."""
    return straight_cone(at, at.embedment - 0.5 * at.pitch, ELEVATION, 0.0)


def straight_cone(at: Stand, start: float, elevation: float, tilt: float) -> Array:
    """A cone from `start` on the wall, along the tube [mm], (fronts, azimuths, 3); elevation, tilt [rad]."""
    phi = np.linspace(-pi, pi, AROUND + 1)
    q = np.tan(np.minimum(elevation + (at.angle + tilt) * np.cos(phi), STEEPEST))
    wall = np.stack([np.full_like(phi, at.standing + start), at.radius * np.cos(phi), at.radius * np.sin(phi)], axis=1)
    lean = tan(at.angle) * np.cos(phi)
    deep = start + at.radius * lean
    far = np.clip(deep / np.maximum(q - lean, 1e-6), NARROWEST * start, WIDEST * start)
    out = np.stack([wall[:, 0] - q * far, (at.radius + far) * np.cos(phi), (at.radius + far) * np.sin(phi)], axis=1)
    share = np.linspace(0.0, 1.0, FRONTS + 1)
    return np.stack([at.place(wall + each * (out - wall)) for each in share])


def _tried(tilted: TiltedCone, at: Stand) -> list[Part]:
    """Where the other cones of the family come out."""
    lines = [
        straight_cone(at, shape.start_mm, radians(shape.elevation_deg), radians(shape.tilt_deg))[-1]
        for shape in tilted.shapes
    ]
    if not lines:
        return []
    points, triangles = joined([cord(line, 0.6 * CORD, 5) for line in lines])
    said = f"Where each of the {len(lines)} cones that were tried would come out; the weakest is drawn whole."
    return [Part("front", said, points.astype(np.float32), triangles, QUIET, 0.8)]


def surface_reach(parts: list[Part]) -> float:
    """How far from the mouth these go along the surface [mm]; 0 if there are none."""
    return max((float(np.abs(part.points[:, :2]).max()) for part in parts), default=0.0)


def _front(line: Array, text: str) -> Part:
    points, triangles = cord(np.asarray(line, float), CORD, 6)
    return Part("front", text, points.astype(np.float32), triangles, FRONT)
