"""A case: what is placed, in what, pulled how, solved how finely. Plain immutable data in SI units."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..geometry.layers import Level, Resolution
from ..geometry.placement import Placement, Pull, Tube
from ..materials import SIZE_EFFECTS, Assumed, Ice, Metal, check_size_effect, default_assumed


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that decides an outcome. crust : thickness of the layer of `crust_ice` at the surface [m].

    size_effect : on the tensile strength of the onset, of SIZE_EFFECTS; ValueError for another word.
    """

    tube: Tube
    placement: Placement
    pull: Pull
    ice: Ice
    metal: Metal
    crust_ice: Ice
    crust: float = 0.0
    level: Level | Resolution = "standard"
    assumed: Assumed = field(default_factory=default_assumed)
    size_effect: str = SIZE_EFFECTS[0]

    def __post_init__(self) -> None:
        check_size_effect(self.size_effect)
