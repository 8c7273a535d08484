"""Metals of the tube: isotropic elasticity."""

from __future__ import annotations

from dataclasses import dataclass

from .data_file import Value, read_values


@dataclass(frozen=True, slots=True)
class Metal:
    """Isotropic metal (Pa); `values` says where each number comes from."""

    name: str
    youngs_modulus: float
    poissons_ratio: float
    values: tuple[Value, ...] = ()


def metal_named(name: str) -> Metal:
    """Metal by name. Raises ValueError for an unknown name."""
    v = read_values("metals.toml", name)
    return Metal(name, v["E_GPa"].value * 1e9, v["nu"].value, tuple(v.values()))
