"""A sling round the bare shank of a tube: held by friction, or sliding toward the hanger or down to the ice.

The rope pulls with F along p on a ring of textile that lies round the tube. The axis there points along a, the front
normal along n. By Coulomb's law, with no belt friction of several turns,

    slides toward the head   if  p . a >  mu |p . n|:     tan of the rope's angle from the tube's normal > mu
    slides toward the ice    if  p . a < -mu |p . n|
    work on a slide   1/2 F_0 p . (way after) + 1/2 F_1 p . (way before)   [J]      F_0, F_1: load before and after

whatever F is. A slide goes from one node of the beam to the next, each with an equilibrium of its own; F falls as its
lever arm grows. The load point goes on by p . dx, dx the way from one node to the other: a slide takes in rope. It ends
if the tube has turned back enough, at the hanger (then the pull is one at the eye), or at the last node that is not
under the surface. Above the sling the tube bears nothing and is straight. The work of a slide is what the rope does
beyond the work on the tube; it counts as friction. Past the limit it is more than mu |p . n| F: the rest is what a
sling that slips and is caught loses.

mu: polyamide, polyester or polyethylene on smooth steel 0.1 to 0.3 (from memory; wet or iced: not known; assumed).
Limits: places are nodes (one element apart); no girth hitch that tightens, no thickness of sling, no slack.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..compiled import compiled
from .beam import Beam
from .state import Equilibrium, Parts, TubeModel

Array = NDArray[np.float64]
UP, DOWN = -1, 1  # to the next node toward the head, toward the tip
AT_HANGER, AT_ICE = "sling at the hanger", "sling at the ice"
SURFACE = 1e-9  # m, by which a node at the surface may lie under it


def wants(model: TubeModel, at: Equilibrium) -> tuple[float, int]:
    """How far the sling is past its limit of friction, |p . a| - mu |p . n| [-], and which way; -1 if it cannot go.

    It ends at a node of the tube: node 0 at the hanger, the last that is not under the ice below.
    """
    return past_friction(model.parts, model.friction, at.q)


@compiled
def past_friction(parts: Parts, friction: float, q: Array) -> tuple[float, int]:
    """`wants` of a tube that lies in q (m, 3)."""
    beam, pull, held = parts.beam, parts.pull, parts.held
    angle = beam.angle + q[held, 2]
    along = pull[0] * np.sin(angle) + pull[1] * np.cos(angle)
    across = abs(pull[0] * np.cos(angle) - pull[1] * np.sin(angle))
    way = UP if along > 0 else DOWN
    if friction == np.inf or (way == UP and held == 0) or (way == DOWN and at_the_ice(beam, held, q)):
        return -1.0, way
    return abs(along) - friction * across, way


@compiled
def at_the_ice(beam: Beam, held: int, q: Array) -> bool:
    """Whether the next node toward the tip lies under the surface, or is none."""
    s, below = beam.s, held + 1
    return below >= len(q) or -s[below] * np.cos(beam.angle) + q[below, 1] < -SURFACE


def stopped(model: TubeModel, at: Equilibrium) -> str:
    """The event of a sling that can go no further, at the hanger or at the ice; empty elsewhere."""
    if model.held == 0:
        return AT_HANGER
    return AT_ICE if at_the_ice(model.beam, model.held, at.q) else ""
