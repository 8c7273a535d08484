"""The tube of a scene as it moves: frames from an outcome's shapes, and where a part stands in one.

    x(t) = x_i + r (x_{i+1} - x_i),   r = (t - s_i) / (s_{i+1} - s_i)        t along the axis, s_i <= t <= s_{i+1}
    point = (x, 0, z) + o_1 n + o_2 (0, 1, 0),    n = (a_z, 0, -a_x),   a: from tip to head, between the nodes' own

Beyond its ends the axis goes on straight. The direction at a node is that between its neighbours; between nodes it is
turned evenly. A rope hangs at the node that it holds; a sling goes with that node.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..outcome.data import Outcome
from ..outcome.results import Shapes
from .parts import Frame, Part
from .tube import Stand

Array = NDArray[np.float64]


def frames_of(outcome: Outcome) -> tuple[Frame, ...]:
    """The frames of a pull; of another model the tube at rest alone."""
    at = Stand.of(outcome.case)
    if outcome.peak is None:
        return (_rest(at),)
    peak, shapes = outcome.peak, outcome.peak.shapes
    moved, load = np.array(peak.displacement_mm), np.array(peak.load_kN)
    names = _names(outcome, shapes)
    return tuple(
        Frame(
            movement_mm=float(moved[step]),
            load_kN=float(load[step]),
            head_rotation_deg=peak.head_rotation_deg[step],
            event="; ".join(names.get(k, ())),
            s=np.array(shapes.s_mm) + at.standing,
            x=np.array(shapes.x_mm[k]),
            z=np.array(shapes.z_mm[k]),
            bearing=np.array(shapes.bearing_N_per_mm[k]),
            gone=np.array(shapes.gone_mm[k]),
            yielded=np.array(shapes.yielded[k], dtype=bool),
            cone=shapes.cone[k],
            held=shapes.held_node[k],
        )
        for k, step in enumerate(shapes.step)
    )


def _rest(at: Stand) -> Frame:
    s = np.linspace(at.load_along, at.length, 57)
    x, _, z = at.place(np.stack([s, 0 * s, 0 * s], axis=1)).T
    none = np.zeros_like(s)
    return Frame(0.0, 0.0, 0.0, "", s, x, z, none, none, np.zeros(len(s) - 1, bool), False)


def _names(outcome: Outcome, shapes: Shapes) -> dict[int, list[str]]:
    """What happened at each frame: an event belongs to the frame nearest to it on the curve."""
    peak = outcome.the_peak
    moved, load = (np.array(of)[list(shapes.step)] for of in (peak.displacement_mm, peak.load_kN))
    far, most = max(max(peak.displacement_mm), 1e-9), max(max(peak.load_kN), 1e-9)
    found: dict[int, list[str]] = {}
    for event in peak.events:
        off = np.hypot((moved - event.displacement_mm) / far, (load - event.load_kN) / most)
        found.setdefault(int(np.argmin(off)), []).append(event.name)
    return found


def axis_at(frame: Frame, along: NDArray[np.floating]) -> tuple[Array, Array]:
    """Places (n, 2) of the axis at `along` (n,), and its direction from tip to head (n, 2), both in x and z."""
    s, nodes, t = frame.s, np.stack([frame.x, frame.z], axis=1), np.asarray(along, float)
    i = np.clip(np.searchsorted(s, t, side="right") - 1, 0, len(s) - 2)
    r = ((t - s[i]) / (s[i + 1] - s[i]))[:, None]
    up = np.empty_like(nodes)
    up[0], up[-1], up[1:-1] = nodes[0] - nodes[1], nodes[-2] - nodes[-1], nodes[:-2] - nodes[2:]
    up /= np.linalg.norm(up, axis=1)[:, None]
    inside = np.clip(r, 0.0, 1.0)
    direction = up[i] + inside * (up[i + 1] - up[i])
    return nodes[i] + r * (nodes[i + 1] - nodes[i]), direction / np.linalg.norm(direction, axis=1)[:, None]


def bend(part: Part, frame: Frame) -> NDArray[np.float64]:
    """Points (n, 3) of a part where the frame has it; what does not move with the tube as it is."""
    points = np.asarray(part.points, float)
    if part.name == "rope":
        return points - points[0] + np.array([frame.x[frame.held], 0.0, frame.z[frame.held]])
    if part.along is None or part.offset is None:
        return points
    along = np.asarray(part.along, float)
    if part.name == "sling":
        along = along - 0.5 * (along.min() + along.max()) + frame.s[frame.held]
    place, up = axis_at(frame, along)
    front, across = np.asarray(part.offset, float).T
    return np.stack([place[:, 0] + front * up[:, 1], across, place[:, 1] - front * up[:, 0]], axis=1)
