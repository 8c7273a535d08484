"""The ice as the tube feels it, along its length: stiffness and limits, what is left after them, plain data.

s is the distance along the axis from the mouth of the hole into the ice [m]. The laws are lines between their samples
and hold their end values beyond. `tube.pull` says how each acts:

    bearing     p = min(k w, L (1 - D)) [N/m], each side of the tube on its own. L goes with the angle of the push there
                and then: that of the axis as it lies, the other way round behind the tube. D is the share of the ice
                that is gone: over a crushing motion `spall` at the limit it grows to 1 - stays, also by angle; on the
                side that the pull presses at the mouth only, since what comes loose there has the surface above it
    threads     an axial force per length up to `thread_limit` either way, then to zero over `thread_softening`
    cone        comes when threads and walls as they push drive a crack from the tip all the way (`ConeFronts`; threads
                alone, evenly, with `cone_load`); then what the threads pull falls to zero over `cone_softening`
    toe         the tip pushes on ice below it, up to `toe_limit`

Limit: a law that falls faster than its spring unloads would snap inside a single spring, with no answer on the way. It
falls at most STEEPEST times as fast as the spring unloads (`tube.ice_springs`), so within a ninth of the motion that
loaded it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf, isnan

import numpy as np
from numpy.typing import NDArray

from ..cone.fronts import ConeFronts

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a law comes from. how : "computed", "published" or "assumed".  error : of the computation, relative."""

    law: str
    how: str
    error: float | None = None


@dataclass(frozen=True, slots=True)
class IceLaws:
    """Laws of one ice round one tube at one angle (SI units).

    s : (m,) samples, rising [m].  stiffness : (m,) k, lateral force per length and displacement [N/m^2].
    angles : (a,) of the axis from the surface's normal, rising, positive if it leans toward the push [rad]; laws are
    lines between them and hold their end values beyond.
    limit : (a, m) L, largest bearing per length [N/m].  stays : (a, m) share of it that ice bears which has come loose
    on the side that the pull presses at the mouth.
    spall : crushing motion until loose ice is gone [m].
    thread_stiffness [N/m^2], thread_limit [N/m], thread_softening [m]; cone_load N_0 [N], inf: none;
    cone_softening [m].  fronts : None if nothing but the threads drives the cone.
    toe_stiffness [N/m], toe_limit [N].
    Raises ValueError naming the field that is out of range.
    """

    s: Array
    stiffness: Array
    angles: Array
    limit: Array
    stays: Array
    spall: float
    thread_stiffness: float
    thread_limit: float
    thread_softening: float
    cone_load: float
    cone_softening: float
    toe_stiffness: float
    toe_limit: float
    fronts: ConeFronts | None = None
    origins: tuple[Origin, ...] = ()

    def __post_init__(self) -> None:
        self._check_arrays()
        self._check_numbers()

    def _check_arrays(self) -> None:
        m, a = len(self.s), len(self.angles)
        shapes = {"s": (m,), "stiffness": (m,), "angles": (a,), "limit": (a, m), "stays": (a, m)}
        for name, shape in shapes.items():
            values = np.array(getattr(self, name), float)
            if values.shape != shape or m < 2 or a < 1:
                raise ValueError(f"{name}: must have shape {shape}, with two s and one angle at least")
            if not np.all(np.isfinite(values)) or (name not in ("s", "angles") and np.any(values < 0)):
                raise ValueError(f"{name}: must be finite and not negative")
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        for name in ("s", "angles"):
            if np.any(np.diff(getattr(self, name)) <= 0):
                raise ValueError(f"{name}: must rise")
        if np.any(self.stiffness <= 0):
            raise ValueError("stiffness: must be positive")
        if np.any(self.stays > 1):
            raise ValueError("stays: must not exceed 1")

    def _check_numbers(self) -> None:
        finite = ("thread_stiffness", "thread_limit", "toe_stiffness", "toe_limit")
        positive = ("spall", "thread_stiffness", "thread_softening", "cone_softening", "toe_stiffness")
        for field in fields(self):
            value = getattr(self, field.name)
            if not isinstance(value, float | int):
                continue
            if isnan(value) or value < 0 or (field.name in positive and value == 0):
                raise ValueError(f"{field.name} = {value:g}: must be {'positive' if value == 0 else 'at least 0'}")
            if field.name in finite and value == inf:
                raise ValueError(f"{field.name} = inf: must be finite")

    def limit_at(self, angle: float) -> Array:
        """L (m,) for an axis at an angle [rad], [N/m]."""
        return np.array([np.interp(angle, self.angles, column) for column in self.limit.T])
