"""Ice as the solver needs it: isotropic elasticity at a temperature, and the strengths that end it.

    E(T) = E(Tr) (1 - a T) / (1 - a Tr),    T in deg C, a = 1.42e-3 per K       (Gammon et al. 1983, from memory)
    L    = (K_IC / sigma_t)^2 / pi                                              critical distance [m]
    q_c(p) = min(a_c + b p, cap),  a_c = sigma_c (1 - b / 3)                    deviator strength under pressure p [Pa]

so that q_c meets the uniaxial compressive strength sigma_c at p = sigma_c / 3. Strengths do not vary with temperature
or rate here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from .data_file import Value, names, read_tables, read_values

COLDEST_C, WARMEST_C = -40.0, 0.0


@dataclass(frozen=True, slots=True)
class Ice:
    """Isotropic ice (Pa, Pa m^0.5); `values` says where each number comes from."""

    name: str
    youngs_modulus: float
    poissons_ratio: float
    tensile_strength: float
    toughness: float
    compressive_strength: float
    pressure_slope: float
    deviator_cap: float
    values: tuple[Value, ...] = ()

    @property
    def critical_distance(self) -> float:
        """L = (K_IC / sigma_t)^2 / pi [m]."""
        return (self.toughness / self.tensile_strength) ** 2 / pi

    @property
    def cohesion(self) -> float:
        """a_c, the deviator strength without pressure [Pa]."""
        return self.compressive_strength * (1 - self.pressure_slope / 3)


def ice_names() -> list[str]:
    """Kinds of ice that a case may name."""
    return names("ices.toml")


def modulus_at(modulus: float, temperature_C: float) -> float:
    """Elastic modulus at a temperature from its value at the table's reference temperature (module docstring) [Pa]."""
    law = read_tables("ices.toml")["elasticity"]
    a, reference = law["temperature_factor_per_K"], law["reference_C"]
    return modulus * (1 - a * temperature_C) / (1 - a * reference)


def ice_named(kind: str, temperature_C: float) -> Ice:
    """Ice of a kind at a temperature. Raises ValueError for an unknown kind or a temperature out of range."""
    if not COLDEST_C <= temperature_C <= WARMEST_C:
        raise ValueError(f"temperature_C = {temperature_C:g}: must lie between {COLDEST_C:g} and {WARMEST_C:g}")
    v = read_values("ices.toml", kind)
    return Ice(
        name=kind,
        youngs_modulus=modulus_at(v["E_GPa"].value * 1e9, temperature_C),
        poissons_ratio=v["nu"].value,
        tensile_strength=v["tensile_MPa"].value * 1e6,
        toughness=v["K_IC_kPa_sqrt_m"].value * 1e3,
        compressive_strength=v["compressive_MPa"].value * 1e6,
        pressure_slope=v["pressure_slope"].value,
        deviator_cap=v["deviator_cap_MPa"].value * 1e6,
        values=tuple(v.values()),
    )
