"""A pull as what a page draws of it: the placement, the tube at some moments, the curve, as short plain numbers.

A moment is a step whose shape is kept (`outcome.peak.shapes`).
x along the pull, z out of the ice [mm], from the head to the tip; bearing: force of ice on tube, front positive [N/mm].
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot, radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...fem.tube.modes import in_order, mode_named
from ...geometry.placement import Placement, Pull, pressed_side
from ..outcome.data import Outcome, known
from ..outcome.results import PeakResult

MOST_POINTS = 240  # of a curve
GLYPHS = {"v": "▼", "o": "●", "s": "■", "D": "◆", "P": "✚", "h": "⬢", "x": "✕", ">": "▶", "<": "◀", "^": "▲", "X": "✖"}
Plain = dict[str, Any]
Array = NDArray[np.float64]


def placement(case: Mapping[str, Any]) -> Plain:
    """What is drawn of a case besides the tube's shape (mm, deg).  side : 1 if the pull presses its own side, or -1."""
    stands = Placement(
        radians(case["placement.angle_deg"]), 1e-3 * case["placement.embedment_mm"], case["placement.attachment"]
    )
    return {
        "side": pressed_side(stands, Pull(radians(case["pull.direction_deg"]))),
        "angle": case["placement.angle_deg"],
        "depth": case["placement.embedment_mm"],
        "length": case["tube.length_mm"],
        "od": case["tube.od_mm"],
        "thread": case["tube.thread_length_mm"],
        "pitch": case["tube.thread_pitch_mm"],
        "height": case["tube.thread_height_mm"],
        "tied": case["placement.attachment"] != "eye",
        "sling": case["placement.sling_height_mm"],
        "pull": case["pull.direction_deg"],
        "crust": case["ice.crust_mm"],
    }


def moments(outcome: Outcome, named: bool = False) -> list[Plain]:
    """The tube at rest and at the moments that are kept, in order of the movement; none of a model without a pull.

    named : those alone at which something happens; the limit is one.
    """
    if outcome.peak is None:
        return []
    return _of_shapes(outcome, outcome.peak, named)


def at_rest(outcome: Outcome, s: Array | None = None) -> Plain:
    """The tube before it is pulled.  s : places along its axis, 0 at the mouth [mm]."""
    placed = placement(outcome.case)
    if s is None:
        s = np.linspace(placed["depth"] - placed["length"], placed["depth"], 57)
    angle = np.radians(placed["angle"])
    found = _moment(0.0, 0.0, 0.0, "at rest", -s * np.sin(angle), -s * np.cos(angle), s, np.zeros(len(s)))
    return {**found, "yielded": [0] * (len(s) - 1), "held": int(np.argmin(np.abs(s - _held(placed))))}


def _held(placed: Plain) -> float:
    """Place at which the rope holds the tube, 0 at the mouth [mm]."""
    return -float(placed["sling"]) if placed["tied"] else float(placed["depth"] - placed["length"])


def _of_shapes(outcome: Outcome, peak: PeakResult, named: bool) -> list[Plain]:
    shapes = peak.shapes
    names = _names(outcome, peak, shapes.step)
    found = []
    for at, step in enumerate(shapes.step):
        if named and at not in names:
            continue
        there = peak.displacement_mm[step], peak.load_kN[step], peak.head_rotation_deg[step]
        x, z, bearing = (np.array(of[at]) for of in (shapes.x_mm, shapes.z_mm, shapes.bearing_N_per_mm))
        moment = _moment(*there, ", ".join(names.get(at, ())), x, z, np.array(shapes.s_mm), bearing)
        found.append(
            {
                **moment,
                "gone": [_short(each, 1) for each in shapes.gone_mm[at]],
                "yielded": [int(each) for each in shapes.yielded[at]],
                "cone": bool(shapes.cone[at]),
                "held": int(shapes.held_node[at]),
            }
        )
    return found


def _names(outcome: Outcome, peak: PeakResult, steps: Sequence[int]) -> dict[int, list[str]]:
    """What happens at each kept step: an event belongs to the nearest on the curve."""
    moved, loads = ([of[step] for step in steps] for of in (peak.displacement_mm, peak.load_kN))
    far, most = max(*moved, 1e-9), max(*loads, 1e-9)
    found: dict[int, list[str]] = {}
    for event in peak.events:
        off = [
            hypot((a - event.displacement_mm) / far, (b - event.load_kN) / most)
            for a, b in zip(moved, loads, strict=True)
        ]
        found.setdefault(off.index(min(off)), []).append(event.name)
    limit = next((at for at, load in enumerate(loads) if load >= known(outcome.limit_kN)), None)
    if limit is not None:
        found.setdefault(limit, ["limit"])
    found.setdefault(0, ["at rest"])
    return found


def _moment(mm: float, kN: float, turn: float, event: str, x: Any, z: Any, s: Any, bearing: Any) -> Plain:
    return {
        "mm": _short(mm, 2),
        "kN": _short(kN, 3),
        "turn": _short(turn, 1),
        "event": event,
        "x": [_short(each, 2) for each in x],
        "z": [_short(each, 2) for each in z],
        "s": [_short(each, 2) for each in s],
        "bearing": [_short(each, 1) for each in bearing],
        "gone": [],
        "cone": False,
    }


def start_at(outcome: Outcome, found: Sequence[Plain]) -> int:
    """The moment to begin with: the one nearest to the limit."""
    if not found:
        return 0
    peak = outcome.the_peak
    limit = known(outcome.limit_kN)
    reached = next((mm for mm, load in zip(peak.displacement_mm, peak.load_kN, strict=True) if load >= limit), None)
    mm = known(outcome.peak_at_mm) if reached is None else reached
    return min(range(len(found)), key=lambda at: abs(found[at]["mm"] - mm))


def curve(outcome: Outcome, most: int = MOST_POINTS) -> Plain:
    """Load [kN] and turn of the head [deg] against the movement [mm], at so many points; events on it."""
    if outcome.peak is None:
        return {"mm": [], "kN": [], "turn": [], "events": []}
    peak = outcome.peak
    step = -(-len(peak.load_kN) // most)
    at = sorted({*range(0, len(peak.load_kN), step), int(np.argmax(peak.load_kN)), len(peak.load_kN) - 1})
    events = [
        {"name": event.name, "mm": _short(event.displacement_mm, 2), "kN": _short(event.load_kN, 3)}
        for event in peak.events
    ]
    return {
        "mm": [_short(peak.displacement_mm[k], 3) for k in at],
        "kN": [_short(peak.load_kN[k], 3) for k in at],
        "turn": [_short(peak.head_rotation_deg[k], 2) for k in at],
        "events": events,
    }


def mode_looks(names: set[str]) -> dict[str, dict[str, str]]:
    """Words, colours and glyph of each mode."""
    found = {}
    for name in in_order(names):
        mode = mode_named(name)
        glyph = GLYPHS.get(mode.marker, "✖")
        found[name] = {"words": mode.words, "colour": mode.colour, "pale": mode.pale, "glyph": glyph}
    return found


def _short(value: float, digits: int) -> float:
    return round(float(value), digits) + 0.0
