"""The tube at rest: a hollow body with its bore, its thread as a real helix, a plain hanger, a sling, and the rope.

Along the axis t = 0 at the head (the eye) and t = length at the tip; off it by o_1 along the front normal and o_2
across. With the placement angle a, the mouth at the origin and standing = length - embedment,

    point(t, o) = -(t - standing) (sin a, 0, cos a) + o_1 (cos a, 0, -sin a) + o_2 (0, 1, 0)                 [mm]
    thread      t(phi) = length - base/2 - pitch phi / 2 pi,   right-handed; it runs out at both ends

The hanger is a plain ring round the head, made up: the case states its strength, not its shape. So are the thread's
flanks, of which the case states height and pitch.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import cos, pi, radians, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..figures.style import INK, PULL, SOLID, STEEL
from .parts import Part
from .surfaces import Piece, Triangles, hollow, joined, strip, volume

Array = NDArray[np.float64]
STEPS, SIDES = 1000, (10, 28)  # of a thread in all; of one of its turns: the more turns, the fewer
AROUND, STATION = 40, 4.0  # sides of a circle; mm along the axis
BASE, CREST, SUNK = 0.6, 0.15, 0.2  # of the thread: widths over the pitch; mm below the wall
TURNS_IN, TURNS_OUT = 0.6, 0.4  # turns over which it runs out at the tip and at its upper end
RING_HEIGHT, RING_WIDTH = 6.0, 6.0  # mm, of the hanger
SLING, ROPE = 2.5, 1.6  # mm, radii of their cords
ROPE_LENGTH, HEAD = 55.0, 11.0  # mm, with its arrow's head


@dataclass(frozen=True, slots=True)
class Stand:
    """How the tube of a case stands; lengths in mm, angles in rad. load_along : of the pull, from the head."""

    length: float
    embedment: float
    radius: float
    bore: float
    pitch: float
    height: float
    threaded: float
    angle: float
    direction: float
    tied: bool
    load_along: float

    @classmethod
    def of(cls, case: Mapping[str, Any]) -> Stand:
        """That of settings."""
        radius, tied = 0.5 * case["tube.od_mm"], case["placement.attachment"] == "tied_off"
        standing = case["tube.length_mm"] - case["placement.embedment_mm"]
        return cls(
            length=case["tube.length_mm"],
            embedment=case["placement.embedment_mm"],
            radius=radius,
            bore=radius - case["tube.wall_mm"],
            pitch=case["tube.thread_pitch_mm"],
            height=case["tube.thread_height_mm"],
            threaded=case["tube.thread_length_mm"],
            angle=radians(case["placement.angle_deg"]),
            direction=radians(case["pull.direction_deg"]),
            tied=tied,
            load_along=standing - case["placement.sling_height_mm"] if tied else 0.0,
        )

    @property
    def standing(self) -> float:
        """Length above the ice."""
        return self.length - self.embedment

    @property
    def axis(self) -> Array:
        """Unit vector from tip to head."""
        return np.array([sin(self.angle), 0.0, cos(self.angle)])

    @property
    def front(self) -> Array:
        """Unit vector square to the axis, on the side of +x."""
        return np.array([cos(self.angle), 0.0, -sin(self.angle)])

    @property
    def pull(self) -> Array:
        """Unit vector of the force."""
        return np.array([cos(self.direction), 0.0, sin(self.direction)])

    def place(self, local: Array) -> Array:
        """Points (n, 3) of places (n, 3) along the axis and off it in two directions."""
        across = np.array([0.0, 1.0, 0.0])
        t, front, side = np.asarray(local, float).T
        return -np.outer(t - self.standing, self.axis) + np.outer(front, self.front) + np.outer(side, across)

    def part(self, name: str, text: str, piece: Piece, colour: str, opacity: float = 1.0) -> Part:
        """A part that moves with the tube, of places along and off the axis."""
        local, triangles = piece
        offset, along = local[:, 1:].astype(np.float32), local[:, 0].astype(np.float32)
        points = self.place(local).astype(np.float32)
        return Part(name, text, points, triangles, colour, opacity, None, along, offset)


def tube_parts(case: Mapping[str, Any]) -> list[Part]:
    """Tube, threads, hanger, the sling if there is one, and the rope."""
    at = Stand.of(case)
    wall, pitch = case["tube.wall_mm"], case["tube.thread_pitch_mm"]
    body = f"The tube: {at.length:g} mm long, {2 * at.radius:g} mm wide, its wall {wall:g} mm thick."
    thread = f"The thread: {at.threaded:g} mm from the tip up, a turn every {pitch:g} mm, {at.height:g} mm high."
    ring = f"The hanger, a made-up ring; stated to hold {case['tube.hanger_kN']:g} kN."
    found = [
        at.part("tube", body, wall_of(at.radius, at.bore, at.length), STEEL),
        at.part("threads", thread, helix(at), SOLID),
        at.part("hanger", ring, _ring(at), INK),
    ]
    if at.tied:
        words = f"The sling round the shank, {at.standing - at.load_along:g} mm above the ice along the tube."
        found.append(at.part("sling", words, _sling(at), PULL))
    return [*found, _rope(at)]


def wall_of(radius: float, bore: float, length: float, around: int = AROUND) -> Piece:
    """The hollow body between both ends: places along and off the axis (n, 3)."""
    t = np.linspace(0.0, length, max(round(length / STATION), 2) + 1)
    outer, inner = np.stack([t, np.full_like(t, radius)], axis=1), np.stack([t, np.full_like(t, bore)], axis=1)
    phi = np.linspace(0.0, 2 * pi, around + 1)
    sides = [_turned(outer, phi), _turned(inner[::-1], phi)]
    ends = [_turned(np.array([inner[0], outer[0]]), phi), _turned(np.array([outer[-1], inner[-1]]), phi)]
    points, triangles = joined([*sides, *ends])
    return points, _outward(points, triangles)


def _turned(line: Array, phi: Array) -> Piece:
    t, r = line.T
    out = np.broadcast_to(t[:, None], (len(t), len(phi))), np.outer(r, np.cos(phi)), np.outer(r, np.sin(phi))
    return strip(np.stack(out, axis=-1))


def _outward(points: Array, triangles: Triangles) -> Triangles:
    """As seen from outside. Along, front, across is a left-handed frame: `along` runs against the axis."""
    a, b, c = np.moveaxis(points[triangles], 1, 0)
    return triangles if float(np.einsum("ij,ij->", a, np.cross(b, c))) < 0 else triangles[:, ::-1]


def helix(at: Stand, around: int | None = None) -> Piece:
    """The thread: places along and off the axis (n, 3), closed; empty if it is shorter than its own foot."""
    base, crest = BASE * at.pitch, CREST * at.pitch
    turns = (at.threaded - base) / at.pitch
    if turns <= 0:
        return np.zeros((0, 3)), np.zeros((0, 3), np.int32)
    around = around or int(np.clip(STEPS / turns, *SIDES))
    turned = np.append(np.arange(0.0, turns - 1e-6, 1 / around), turns)
    middle = at.length - 0.5 * base - at.pitch * turned
    full = np.clip(np.minimum(turned / TURNS_IN, (turns - turned) / TURNS_OUT), 0.04, 1.0)
    foot, top = np.full_like(turned, at.radius - SUNK), at.radius + at.height * full
    corners = [(0.5 * base, foot), (0.5 * crest, top), (-0.5 * crest, top), (-0.5 * base, foot)]
    edges = [
        np.stack([middle + shift, r * np.cos(2 * pi * turned), r * np.sin(2 * pi * turned)], axis=1)
        for shift, r in corners
    ]
    sides = [strip(np.stack([edges[k], edges[(k + 1) % 4]])) for k in range(4)]
    caps = [
        (np.array([edge[end] for edge in edges]), np.array(order, np.int32))
        for end, order in ((0, [[0, 3, 2], [0, 2, 1]]), (-1, [[0, 1, 2], [0, 2, 3]]))
    ]
    points, triangles = joined([*sides, *caps])
    return points, _outward(points, triangles)


def _ring(at: Stand) -> Piece:
    low, high = -0.5 * RING_HEIGHT, 0.5 * RING_HEIGHT
    inner, outer, bevel = at.radius, at.radius + RING_WIDTH, 1.2
    section = [(low, inner), (low, outer - bevel), (low + bevel, outer), (high - bevel, outer)]
    section += [(high, outer - bevel), (high, inner), (low, inner)]
    points, triangles = hollow(np.array(section), AROUND)
    return points, _outward(points, triangles)


def _sling(at: Stand) -> Piece:
    phi = np.linspace(0.0, 2 * pi, 13)
    section = np.stack([at.load_along + SLING * np.cos(phi), at.radius + SLING + SLING * np.sin(phi)], axis=1)
    points, triangles = _turned(section, np.linspace(0.0, 2 * pi, AROUND + 1))
    return points, _outward(points, triangles)


def _rope(at: Stand) -> Part:
    """From where the pull enters, along it, with a head; its first point is there."""
    start = at.place(np.array([[at.load_along, 0.0, 0.0]]))[0]
    way, across = at.pull, np.array([-at.pull[2], 0.0, at.pull[0]])
    phi = np.linspace(0.0, 2 * pi, 25)
    outline = [
        (0.0, 0.0),
        (0.0, ROPE),
        (ROPE_LENGTH - HEAD, ROPE),
        (ROPE_LENGTH - HEAD, 2.6 * ROPE),
        (ROPE_LENGTH, 0.0),
    ]
    pieces = []
    for side in pairwise(outline):
        t, r = np.array(side).T
        flat = r[:, None, None] * (np.cos(phi)[:, None] * across + np.sin(phi)[:, None] * np.array([0.0, 1.0, 0.0]))
        pieces.append(strip(start + t[:, None, None] * way + flat))
    points, triangles = joined(pieces)
    triangles = triangles if volume(points, triangles) > 0 else triangles[:, ::-1]
    whole = np.concatenate([start[None], points]).astype(np.float32)
    return Part("rope", "The rope: it pulls this way.", whole, triangles + np.int32(1), PULL)
