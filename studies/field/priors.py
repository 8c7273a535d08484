"""Priors of a fit as tables: the value of a key over the share of all that lies below it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .pulls import Array


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a key before. shares (n,) : rising, in 0..1 [-].  values (n,) : in the unit of the key.

    Raises ValueError unless both rise.
    """

    key: str
    shares: Array
    values: Array

    def __post_init__(self) -> None:
        if self.shares.shape != self.values.shape or np.any(np.diff(self.shares) <= 0):
            raise ValueError(f"{self.key}: shares: must rise, and be as many as the values")
        if np.any(np.diff(self.values) < 0):
            raise ValueError(f"{self.key}: values: must not fall as the share rises")

    def at(self, share: Array) -> Array:
        """Values below which these shares [-] of the prior lie, in the unit of the key."""
        return np.interp(share, self.shares, self.values)
