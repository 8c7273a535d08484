"""What a user hands in besides settings: an ice, a metal, a failure surface, laws of the ice of their own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

from ...fem.case import Case
from ...fem.laws.ice_laws import IceLaws
from ...materials import Ice, Metal
from ...materials.surface import Surface

Laws = Callable[[IceLaws], IceLaws]
KEYWORDS = {"surface": "criterion"}  # of fields that a user knows by another word


@dataclass(frozen=True, slots=True)
class Own:
    """Each in place of what the settings name; None: as they say.

    surface : failure surface of the ice below the crust, for the onset.  laws : gets the laws of the ice, SI units, and
    returns changed ones, before the pull.
    """

    ice: Ice | None = None
    crust: Ice | None = None
    metal: Metal | None = None
    surface: Surface | None = None
    laws: Laws | None = None

    def names(self) -> tuple[str, ...]:
        """What there is, by its keyword."""
        there = (field.name for field in fields(self) if getattr(self, field.name) is not None)
        return tuple(KEYWORDS.get(name, name) for name in there)

    def put_into(self, case: Case) -> Case:
        """The case with what there is in its place."""
        ice = self.ice or case.ice
        ice = replace(ice, own_surface=self.surface) if self.surface else ice
        return replace(case, ice=ice, crust_ice=self.crust or case.crust_ice, metal=self.metal or case.metal)

    def change(self, laws: IceLaws) -> IceLaws:
        """The laws as the pull meets them."""
        return laws if self.laws is None else self.laws(laws)
