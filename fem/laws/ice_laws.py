"""The ice as the tube feels it, along its length: stiffness and limits, plain data.

s is the distance along the axis from the mouth of the hole into the ice [m]. The laws are lines between their samples
and hold their end values beyond. `tube.pull` says how each acts:

    bearing     p = min(k w, L) [N/m], each side of the tube on its own. L is crushing or, if that is less, what starts
                a chip (`laws.trench`), by the angle of the axis as it lies. Chips that come out leave a trench
    threads     an axial force per length up to `thread_limit` either way, then to zero over `thread_softening`
    cone        comes when threads and walls as they push drive a crack from the tip all the way (`ConeFronts`; threads
                alone, evenly, with `cone_load`); then what the threads pull falls to zero over `cone_softening`
    toe         the tip pushes on ice below it, up to `toe_limit`
    friction    of steel on ice along the wall, of what it bears

Limit: threads or a cone that fall faster than their springs unload would snap inside a single spring, with no answer on
the way. They fall at most STEEPEST times as fast as the spring unloads (`tube.ice_springs`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf, isnan

import numpy as np
from numpy.typing import NDArray

from ..cone.demand import ConeFronts
from .trench import Chips

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
    crushing : (m,) largest bearing per length without chips [N/m].  toughness : (m,) K_IC, of chips [Pa m^0.5].
    spall : crushing motion until loose ice is gone [m].  chips : None if none comes.  friction : of steel on ice.
    thread_stiffness [N/m^2], thread_limit [N/m], thread_softening [m]; cone_load N_0 [N], inf: none;
    cone_softening [m].  fronts : None if nothing but the threads drives the cone.
    toe_stiffness [N/m], toe_limit [N].
    Raises ValueError naming the field that is out of range.
    """

    s: Array
    stiffness: Array
    crushing: Array
    toughness: Array
    spall: float
    thread_stiffness: float
    thread_limit: float
    thread_softening: float
    cone_load: float
    cone_softening: float
    toe_stiffness: float
    toe_limit: float
    chips: Chips | None = None
    friction: float = 0.0
    fronts: ConeFronts | None = None
    origins: tuple[Origin, ...] = ()

    def __post_init__(self) -> None:
        self._check_arrays()
        self._check_numbers()

    def _check_arrays(self) -> None:
        m = len(self.s)
        shapes = {"s": (m,), "stiffness": (m,), "crushing": (m,), "toughness": (m,)}
        for name, shape in shapes.items():
            values = np.array(getattr(self, name), float)
            if values.shape != shape or m < 2:
                raise ValueError(f"{name}: must have shape {shape}, with two at least")
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
        """L (m,) for an axis at an angle [rad] before anything has gone, [N/m]."""
        if self.chips is None:
            return self.crushing
        edges = np.r_[self.s[0], 0.5 * (self.s[1:] + self.s[:-1]), self.s[-1]]
        at = np.full(self.s.shape, angle)
        chip = self.toughness * self.chips.next(edges, 0.0, at)[0] / np.diff(edges)
        return np.minimum(self.crushing, chip)
