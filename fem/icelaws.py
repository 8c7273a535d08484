"""The ice as the tube feels it, along its length: stiffness and limits, what is left after them, plain data.

s is the distance along the axis from the mouth of the hole into the ice [m]; the laws are lines between their samples
and hold their end values beyond. They are handed to `tubepull`, which says how each acts:

    bearing     p = min(k w, limit) per length, each side of the tube on its own; over a crushing motion `softening`
                past the limit it falls in a line to the residual (residual = limit: it stays)
    threads     an axial force per length up to `thread_limit` either way, then to zero over `thread_softening`
    cone        the threads' whole pull stops at `cone_load` and falls to zero over `cone_softening`
    toe         the tip pushes on ice below it, up to `toe_limit`

A limit that falls faster than its spring unloads has no answer (a snap inside a single spring) and is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf, isnan

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class IceLaws:
    """Laws of one ice round one tube at one angle (SI units).

    s : (m,) samples, rising [m].  stiffness : (m,) k, lateral force per length and displacement [N/m^2].
    front_limit, back_limit : (m,) largest bearing per length as the tube pushes the ice toward +x, toward -x [N/m].
    front_residual, back_residual : (m,) bearing left after the ice there has gone [N/m].
    softening : crushing motion from limit to residual [m]; inf: never.
    thread_stiffness [N/m^2], thread_limit [N/m], thread_softening [m]; cone_load [N], inf: none; cone_softening [m].
    toe_stiffness [N/m], toe_limit [N].
    Raises ValueError naming the field that is out of range.
    """

    s: Array
    stiffness: Array
    front_limit: Array
    back_limit: Array
    front_residual: Array
    back_residual: Array
    softening: float
    thread_stiffness: float
    thread_limit: float
    thread_softening: float
    cone_load: float
    cone_softening: float
    toe_stiffness: float
    toe_limit: float

    def __post_init__(self) -> None:
        self._check_arrays()
        self._check_numbers()
        for side in ("front", "back"):
            limit, residual = getattr(self, f"{side}_limit"), getattr(self, f"{side}_residual")
            if np.any(residual > limit):
                raise ValueError(f"{side}_residual: must not exceed {side}_limit")
            if np.any(limit - residual >= self.stiffness * self.softening):
                raise ValueError(f"softening = {self.softening:g}: {side}_limit falls faster than stiffness unloads")
        if self.thread_limit >= self.thread_stiffness * self.thread_softening:
            raise ValueError(
                f"thread_softening = {self.thread_softening:g}: must exceed thread_limit / thread_stiffness"
            )

    def _check_arrays(self) -> None:
        names = ("s", "stiffness", "front_limit", "back_limit", "front_residual", "back_residual")
        for name in names:
            values = np.array(getattr(self, name), float)
            if values.shape != (len(self.s),) or len(values) < 2:
                raise ValueError(f"{name}: must be a row of as many numbers as s, two at least")
            if not np.all(np.isfinite(values)) or (name != "s" and np.any(values < 0)):
                raise ValueError(f"{name}: must be finite and not negative")
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        if np.any(np.diff(self.s) <= 0):
            raise ValueError("s: must rise")
        if np.any(self.stiffness <= 0):
            raise ValueError("stiffness: must be positive")

    def _check_numbers(self) -> None:
        finite = ("thread_stiffness", "thread_limit", "toe_stiffness", "toe_limit")
        positive = ("softening", "thread_stiffness", "thread_softening", "cone_softening", "toe_stiffness")
        for field in fields(self):
            value = getattr(self, field.name)
            if not isinstance(value, float | int):
                continue
            if isnan(value) or value < 0 or (field.name in positive and value == 0):
                raise ValueError(f"{field.name} = {value:g}: must be {'positive' if value == 0 else 'at least 0'}")
            if field.name in finite and value == inf:
                raise ValueError(f"{field.name} = inf: must be finite")
