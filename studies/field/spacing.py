"""How far apart placements must be: where the ice of a pull breaks out, and which pairs and edges are too near.

    cone    R = CONE_OVER_DEPTH h,   h = embedment cos(angle)             depth of the tip                       [mm]
    chip    R = s (cos(angle) / tan(a) - sin(angle)),   s = FRONT embedment,   a = max(a(angle), FLAT)           [mm]
    apart   (1 + extra) (R_1 + R_2);   to an edge (1 + extra) R;   to the reaction anchor as to a tube of its own depth

A pull that draws the tube out along its axis, sin(angle + direction) > 0, may bring out a cone: the larger of the two
counts. One along the surface, upright or leaning away, opens none: chips alone (`fem.cone.tilted`).

Sources. Cone: computed, upright tubes pulled straight out, 40 to 250 mm in the ice, 10 to 24 mm thick: 2.6 to 2.8 of
the depth (`fem.cone.straight`); tilted cones of straight faces come out at 0.7 to 2.3. Chip: rise a of cracks in plane
sections (`fem.chip.path`), FLAT as the law of the trench has it where they dive, as which chips come out is not
settled. FRONT: assumed, the wall above the point that the tube turns about. EXTRA: assumed, no source.

Limits: a circle round the mouth, though chips come out in front alone; a crack that runs on along a layer is not in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import cos, hypot, radians, sin, tan
from typing import Any

import numpy as np

from ...fem.laws.gather import TURNS
from ...fem.laws.recipes import RECIPES
from ...fem.laws.trench import FLAT
from ..command.numbers import short
from ..files.laws import kept_law
from .rig_verdict import Finding, Rank, named_pulls, worst_first

Keep = Callable[[str, Mapping[str, float], Any], Mapping[str, Any]]
CONE_OVER_DEPTH = 2.8  # computed: the upper end
FRONT, EXTRA = 0.5, 0.25  # of the embedment; of the sum of radii: both assumed
ALONG = 1e-9


@dataclass(frozen=True, slots=True)
class Spot:
    """A placement and where it stands, None if that is not known (mm, deg).

    x_mm, y_mm : on the ice.  edge_mm, reaction_mm : to the nearest edge and to the reaction anchor.
    """

    id: str
    embedment_mm: float
    angle_deg: float
    direction_deg: float
    x_mm: float | None = None
    y_mm: float | None = None
    edge_mm: float | None = None
    reaction_mm: float | None = None


def tip_depth_mm(embedment_mm: float, angle_deg: float) -> float:
    """Depth of the tip under the surface [mm]; embedment along the axis [mm], angle [deg]. Geometry."""
    return embedment_mm * cos(radians(angle_deg))


def cone_radius_mm(depth_mm: float) -> float:
    """Where the cone of a tip at a depth [mm] comes out, from the axis [mm]: computed, the upper end."""
    return CONE_OVER_DEPTH * depth_mm


def chip_rise_deg(angle_deg: float, keep: Keep = kept_law) -> float:
    """Rise of a chip's crack against the surface [deg] at an angle [deg]; at least FLAT. Kept laws `path`."""
    rises = [keep("path", {"angle_deg": turn}, RECIPES["path"])["rise_deg"] for turn in TURNS]
    return float(max(np.interp(angle_deg, TURNS, rises), np.degrees(FLAT)))


def chip_radius_mm(embedment_mm: float, angle_deg: float, rise_deg: float) -> float:
    """Where a chip from the lower end of the front comes out, before the mouth [mm]; rise of its crack [deg]."""
    angle, s = radians(angle_deg), FRONT * embedment_mm
    return s * (cos(angle) / tan(radians(rise_deg)) - sin(angle))


def breakout_radius_mm(
    embedment_mm: float, angle_deg: float, direction_deg: float, rise_deg: float | None = None
) -> float:
    """Radius of the ice that a pull may bring out, from the mouth [mm].

    embedment [mm]; angle, direction of the pull [deg].  rise_deg : of chips, None for that of the kept laws.
    """
    rise = chip_rise_deg(angle_deg) if rise_deg is None else rise_deg
    chip = chip_radius_mm(embedment_mm, angle_deg, rise)
    drawn = sin(radians(angle_deg + direction_deg)) > ALONG
    return max(chip, cone_radius_mm(tip_depth_mm(embedment_mm, angle_deg))) if drawn else chip


def least_apart_mm(one_mm: float, other_mm: float = 0.0, extra: float = EXTRA) -> float:
    """Distance [mm] that keeps ice of two radii [mm] apart with an extra share; other 0: an edge."""
    return (1.0 + extra) * (one_mm + other_mm)


def spacing_findings(
    spots: Sequence[Spot], extra: float = EXTRA, reaction_depth_mm: float | None = None
) -> tuple[Finding, ...]:
    """Which pairs, edges and reaction anchors are too near, worst first; the widest radius if nothing is.

    extra : share that is added [-].  reaction_depth_mm : of the reaction anchor; None: as deep as the tube pulled.
    Raises ValueError if there is no spot or the extra share is negative.
    """
    if not spots or extra < 0:
        raise ValueError(f"spots, extra = {extra:g}: must be one spot at least, and an extra share of at least 0")
    radii = [breakout_radius_mm(each.embedment_mm, each.angle_deg, each.direction_deg) for each in spots]
    found = []
    for (spot, radius), (other, next_to) in combinations(zip(spots, radii, strict=True), 2):
        apart = _apart(spot, other)
        if apart is not None:
            who = f"P{named_pulls([spot.id, other.id])[1:].replace(', ', ' and ')}"
            found.append(_near(f"{who} are {short(apart, 4)} mm apart", apart, radius + next_to, extra))
    for spot, radius in zip(spots, radii, strict=True):
        is_at = f"P{named_pulls([spot.id])[1:]} is {{}} mm from"
        if spot.edge_mm is not None:
            words = f"{is_at.format(short(spot.edge_mm, 4))} an edge"
            found.append(_near(words, spot.edge_mm, radius, extra))
        if spot.reaction_mm is not None:
            own = tip_depth_mm(spot.embedment_mm, spot.angle_deg) if reaction_depth_mm is None else reaction_depth_mm
            words = f"{is_at.format(short(spot.reaction_mm, 4))} the reaction anchor"
            found.append(_near(words, spot.reaction_mm, radius + cone_radius_mm(own), extra))
    near = [each for each in found if each.rank != "enough"]
    return worst_first(near) if near else (_all_clear(spots, radii, extra, bool(found)),)


def _apart(spot: Spot, other: Spot) -> float | None:
    if spot.x_mm is None or spot.y_mm is None or other.x_mm is None or other.y_mm is None:
        return None
    return hypot(spot.x_mm - other.x_mm, spot.y_mm - other.y_mm)


def _near(stands: str, distance: float, radii: float, extra: float) -> Finding:
    """What a distance is worth against the sum of radii [mm].  stands : who is how far from what."""
    wanted = least_apart_mm(radii, extra=extra)
    rank: Rank = "short" if distance < radii else "mind" if distance < wanted else "enough"
    worth = "their broken ice may meet" if rank == "short" else "little is left for cracks that run on"
    more = f"{short(wanted)} mm with {100 * extra:.0f} % more"
    text = f"{stands}; the ice may break out over {short(radii)} mm, {more}: {worth}."
    return Finding(rank, radii / max(distance, 1e-9), text)


def _all_clear(spots: Sequence[Spot], radii: Sequence[float], extra: float, known: bool) -> Finding:
    """The widest radius, and the distance between two such tubes, where nothing is too near."""
    widest = int(np.argmax(radii))
    of, radius = named_pulls([spots[widest].id]), radii[widest]
    start = "All distances given are wide enough" if known else "No distances are given"
    apart, edge = (short(least_apart_mm(radius, other, extra)) for other in (radius, 0.0))
    out = f"the ice breaks out up to {short(radius)} mm from the mouth ({of})"
    return Finding("enough", 0.0, f"{start}: {out}; keep two such tubes {apart} mm apart, an edge {edge} mm off.")
