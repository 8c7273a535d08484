"""The tube of a pull as it moves on, at some of its states: axis, what bears on it, yielded metal, ice that is gone.

    chosen    the first, the last, the peak's and each event's state, and between them as many as MOST leaves room for,
              even along the curve: steps of   hypot(dU / max U, dF / max F)   are alike [-]

The load rises within a millimetre and the tube moves on for a hundred: states that are even along the movement alone
would show nothing of the rise. Nothing is worked out until it is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .events import Event, snapshot
from .modes import CONE
from .state import Equilibrium, TubeModel

Array = NDArray[np.float64]
MOST = 80
YIELDED = 1e-4  # plastic strain of a fibre from which its section counts as yielded [-]


@dataclass(frozen=True, slots=True)
class Shapes:
    """The tube at f states of a pull (SI units).

    step : (f,) numbers of the states.  x, z : (f, m) nodes, head to tip [m].  s : (m,) their places, 0: mouth [m].
    bearing : (f, m) as in `Event` [N/m].  yielded : (f, m - 1) sections.  gone : (f, m) depth of the trench along the
    tube, on the side that the pull presses, at nodes above its floor, 0 elsewhere [m].  cone : (f,) has it come.
    held : (f,) node at which the rope holds the tube.
    """

    step: NDArray[np.int64]
    x: Array
    z: Array
    s: Array
    bearing: Array
    yielded: NDArray[np.bool_]
    gone: Array
    cone: NDArray[np.bool_]
    held: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """States of a pull that are kept for its shapes.  step : their numbers.  cone_from : state from which there is one.

    side : -1 of a pull that is seen in its mirror image (`geometry.placement.facing`).
    """

    model: TubeModel
    step: NDArray[np.int64]
    states: tuple[Equilibrium, ...]
    cone_from: int
    side: int = 1

    @property
    def shapes(self) -> Shapes:
        """The tube at these states."""
        model = self.model
        seen = [snapshot(model, at, "") for at in self.states]
        s, trench = model.beam.s, np.array([at.ice.state.trench for at in self.states])[:, None]
        return Shapes(
            self.step,
            np.array([self.side * each.x for each in seen]),
            np.array([each.z for each in seen]),
            s,
            np.array([self.side * each.bearing for each in seen]),
            np.array([each.plastic_strain > YIELDED for each in seen]),
            np.where((s >= 0) & (s < trench), trench, 0.0),
            self.step >= self.cone_from,
            np.array([each.held for each in seen]),
        )


def frames(
    model: TubeModel,
    states: Sequence[Equilibrium],
    load: Array,
    displacement: Array,
    events: Sequence[Event],
) -> Frames:
    """Those of the states that are kept; load, displacement : (n,) theirs [N], [m].  events : with the peak."""
    came = {event.name: _state_of(event, load, displacement) for event in reversed(events)}
    step = chosen(load, displacement, sorted(set(came.values())))
    return Frames(model, step, tuple(states[k] for k in step), came.get(CONE, len(states)))


def _state_of(event: Event, load: Array, displacement: Array) -> int:
    """The state that the event was seen at: its load and movement are the event's."""
    off = np.abs(displacement - event.displacement) / max(float(displacement.max()), 1e-12)
    return int(np.argmin(off + np.abs(load - event.load) / max(float(load.max()), 1e-12)))


def chosen(load: Array, displacement: Array, must: Sequence[int], most: int = MOST) -> NDArray[np.int64]:
    """Numbers of `most` states at most, rising: first, last and `must`, the rest even along the curve."""
    sure = np.unique([0, len(load) - 1, *must])
    if len(load) <= most:
        return np.arange(len(load))
    way = np.hypot(*(np.diff(of) / max(float(np.abs(of).max()), 1e-300) for of in (displacement, load)))
    along = np.r_[0.0, np.cumsum(way)]
    even = np.searchsorted(along, np.linspace(0.0, along[-1], max(most - len(sure), 0)))
    return np.unique([*sure, *np.minimum(even, len(load) - 1)])
