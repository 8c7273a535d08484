"""Metals of the tube: isotropic elasticity, yield, ultimate strength. Hanger and sling: strengths that a case states.

Yield is the 0.2 % proof stress in tension; between it and the ultimate strength nothing is modelled here.
"""

from __future__ import annotations

from dataclasses import dataclass

from .data_file import Value, names, read_values


@dataclass(frozen=True, slots=True)
class Metal:
    """Isotropic metal (Pa, kg/m3); `values` says where each number comes from."""

    name: str
    youngs_modulus: float
    poissons_ratio: float
    yield_strength: float
    ultimate_strength: float
    density: float
    values: tuple[Value, ...] = ()

    def __post_init__(self) -> None:
        if not self.yield_strength <= self.ultimate_strength:
            raise ValueError(
                f"{self.name}: yield_MPa = {self.yield_strength / 1e6:g}: must be at most ultimate_MPa = "
                f"{self.ultimate_strength / 1e6:g}"
            )


def metal_names() -> list[str]:
    """Metals that a case may name."""
    return names("metals.toml")


def metal_named(name: str) -> Metal:
    """Metal by name. Raises ValueError for an unknown name."""
    if name not in metal_names():
        raise ValueError(f"metal = {name!r}: must be one of {', '.join(metal_names())}")
    values = [value for value in read_values("metals.toml", name).values() if isinstance(value, Value)]
    si = {value.name: value.si for value in values}
    return Metal(
        name, si["E_GPa"], si["nu"], si["yield_MPa"], si["ultimate_MPa"], si["density_kg_per_m3"], tuple(values)
    )
