"""Metals of the tube: isotropic elasticity, yield, linear hardening. Hanger and sling: strengths that a case states.

Yield sigma_y is the 0.2 % proof stress in tension. Beyond it the stress rises in a line to the ultimate strength
sigma_u at the uniform strain eps_u, the plastic strain at the largest load of a tension test, where a bar may neck:

    H = d sigma / d eps_p = (sigma_u - sigma_y) / eps_u [Pa] up to eps_p = eps_u;  0, the stress sigma_u, beyond

Stress is per first area, strain per first length. Real curves bend: between its ends the line is low. The strain limit
is the elongation at break. A bent wall does not neck as a bar does, so its outer fibre goes past eps_u. An elongation
averages over a gauge, neck and all: it lies between eps_u and what the metal bears at the break itself.

Limits: that the elongation bounds a bent tube is assumed; beyond eps_u the stress per first area neither falls, as in a
bar that necks, nor goes on rising, as the true stress does.
"""

from __future__ import annotations

from dataclasses import dataclass

from .data_file import Value, names, read_values


@dataclass(frozen=True, slots=True)
class Metal:
    """Isotropic metal (Pa, kg/m3); `values` says where each number comes from.

    uniform_strain : plastic strain at which hardening ends.  strain_limit : elongation at break; see above [-].
    Raises ValueError if the ultimate strength is below yield, or unless 0 < uniform strain <= strain limit.
    """

    name: str
    youngs_modulus: float
    poissons_ratio: float
    yield_strength: float
    ultimate_strength: float
    density: float
    uniform_strain: float
    strain_limit: float
    values: tuple[Value, ...] = ()

    def __post_init__(self) -> None:
        if not self.yield_strength <= self.ultimate_strength:
            raise ValueError(
                f"{self.name}: yield_MPa = {self.yield_strength / 1e6:g}: must be at most ultimate_MPa = "
                f"{self.ultimate_strength / 1e6:g}"
            )
        if not 0 < self.uniform_strain <= self.strain_limit:
            raise ValueError(
                f"{self.name}: uniform_strain = {self.uniform_strain:g}: must be above 0 and at most break_strain = "
                f"{self.strain_limit:g}"
            )

    @property
    def hardening_modulus(self) -> float:
        """H, the rise of the stress over the plastic strain up to the uniform strain [Pa]."""
        return (self.ultimate_strength - self.yield_strength) / self.uniform_strain


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
        name,
        si["E_GPa"],
        si["nu"],
        si["yield_MPa"],
        si["ultimate_MPa"],
        si["density_kg_per_m3"],
        si["uniform_strain"],
        si["break_strain"],
        tuple(values),
    )
