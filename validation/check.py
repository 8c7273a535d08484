"""What a check is: numbers of ours, at rising resolution, beside a reference and its source; and when it passes.

    error_i = (ours_i - reference) / scale                    scale = |reference|, or stated if that is zero
    rate    = log |error_(n-1) / error_n| / log (size_(n-1) / size_n)      of the last two sizes

A quantity passes if |error| at the finest size is within its tolerance (or, if a least error is stated too, the
signed error between the two) and, if a least rate is stated, the errors fall from size to size with one sign and the
observed rate reaches it; errors below ROUND_OFF have no rate and need none. A check passes if all of its quantities do.
A tolerance comes with its reason: what the discretisation leaves, how well the reference itself is known, or, where
neither is known, that it is the measured error with a margin: a guard against change, which proves no more.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from itertools import pairwise
from math import isfinite, log
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Numbers = Sequence[float] | NDArray[np.float64]
Group = Literal["elasticity", "contact", "beam and pile", "threads", "ice", "crushing", "fracture", "codes", "mesh"]
How = Literal["closed form", "published", "from memory", "another code", "own extrapolation"]
ROUND_OFF = 1e-9


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number of ours beside its reference, both in `unit`.

    sizes : element sizes, or numbers in proportion to them, coarse to fine; empty if there is no mesh.
    ours : a number for each size (one if there is no mesh).  tolerance : allowed |error| of the last.
    because : why that tolerance.  scale : what errors are relative to, |reference| by default.
    least_rate : least observed rate; None if the reference is not the limit of refinement.
    least_error : least signed error, for a difference that is there and must not vanish unseen; -tolerance by default.
    Raises ValueError if lengths differ, a number is not finite or an error would be relative to zero.
    """

    name: str
    unit: str
    reference: float
    ours: Numbers
    tolerance: float
    because: str
    sizes: Numbers = ()
    scale: float | None = None
    least_rate: float | None = None
    least_error: float | None = None

    def __post_init__(self) -> None:
        for name in ("ours", "sizes"):
            object.__setattr__(self, name, tuple(float(value) for value in getattr(self, name)))
        if len(self.ours) != max(1, len(self.sizes)):
            raise ValueError(f"{self.name}: {len(self.ours)} numbers for {len(self.sizes)} sizes")
        if not all(isfinite(value) for value in (self.reference, self.tolerance, *self.ours, *self.sizes)):
            raise ValueError(f"{self.name}: a number is not finite")
        if self.tolerance < (0 if self.least_error is None else self.least_error) or not self.because.strip():
            raise ValueError(f"{self.name}: a tolerance needs a reason and must not be below zero, or the least error")
        if self.relative_to == 0:
            raise ValueError(f"{self.name}: reference 0 needs a scale")
        if any(a <= b for a, b in pairwise(self.sizes)):
            raise ValueError(f"{self.name}: sizes = {self.sizes}: must fall")

    @property
    def relative_to(self) -> float:
        """What errors are relative to."""
        return abs(self.reference) if self.scale is None else abs(self.scale)

    @property
    def errors(self) -> tuple[float, ...]:
        """Signed errors, coarse to fine."""
        return tuple((value - self.reference) / self.relative_to for value in self.ours)

    @property
    def rate(self) -> float | None:
        """Observed rate of the last two sizes; None if there are not two, or the error is round-off."""
        if len(self.sizes) < 2 or abs(self.errors[-1]) < ROUND_OFF or self.errors[-2] == 0:
            return None
        return log(abs(self.errors[-2] / self.errors[-1])) / log(self.sizes[-2] / self.sizes[-1])

    @property
    def passed(self) -> bool:
        """Whether error and rate are as demanded."""
        least = -self.tolerance if self.least_error is None else self.least_error
        if not least <= self.errors[-1] <= self.tolerance:
            return False
        if self.least_rate is None or self.rate is None:
            return True
        return self.rate >= self.least_rate and self._errors_fall

    @property
    def _errors_fall(self) -> bool:
        """Whether each error is smaller than the one before and has its sign, round-off apart."""
        seen = [error for error in self.errors if abs(error) >= ROUND_OFF]
        return all(abs(b) < abs(a) and a * b > 0 for a, b in pairwise(seen))


@dataclass(frozen=True, slots=True)
class Curve:
    """A profile to be drawn: the reference as a line, ours as points.  x, y : names with units."""

    title: str
    x: str
    y: str
    reference: tuple[Numbers, Numbers]
    ours: tuple[Numbers, Numbers]

    def __post_init__(self) -> None:
        for name in ("reference", "ours"):
            pair = tuple(tuple(float(value) for value in axis) for axis in getattr(self, name))
            object.__setattr__(self, name, pair)


@dataclass(frozen=True, slots=True)
class Measured:
    """What a check found."""

    quantities: tuple[Quantity, ...]
    curves: tuple[Curve, ...] = field(default=())

    @property
    def passed(self) -> bool:
        """Whether there are quantities and every one passes."""
        return bool(self.quantities) and all(quantity.passed for quantity in self.quantities)

    def to_plain(self) -> dict[str, Any]:
        """As plain data, for a file."""
        return asdict(self)


def measured_from(plain: Mapping[str, Any]) -> Measured:
    """The inverse of `Measured.to_plain`, from data as JSON gives them back."""

    quantities = tuple(Quantity(**item) for item in plain["quantities"])
    return Measured(quantities, tuple(Curve(**item) for item in plain["curves"]))


@dataclass(frozen=True, slots=True)
class Check:
    """A check: `measure` does the work.

    name : as typed, lower case with underscores.  title : what is checked, one line.  source : author, work, place in
    it; how it is known (`how`) stands beside it.  part : which parts of the toolkit it runs through.  slow : more than
    about two seconds.  needs : packages of the `reference` extra without which it cannot run.
    """

    name: str
    group: Group
    title: str
    source: str
    how: How
    part: str
    measure: Callable[[], Measured]
    slow: bool = False
    needs: tuple[str, ...] = ()
