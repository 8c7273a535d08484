"""Ice as the solver needs it: stiffness, strengths, toughness and failure surface at a temperature and a loading time.

    stiffness    crystal(T) -> average over the fabric -> pores -> columns turned          (`crystal`, `porosity`)
    strengths    stated value x laws of temperature, loading time, grain size, porosity    (`strength`)
    L = (K_IC / sigma_t)^2 / pi                       critical distance, of tension; of shear with r K_IC and c  [m]

A kind of ice is a table of `data/ices.toml`. A case may override any of its entries. An overridden porosity or grain
size moves the strengths by the laws. An overridden strength is the strength in the case: no law moves it. `E_GPa` and
`nu` make the stiffness isotropic and as given, whatever the temperature and the pores.

Limits: the stiffness is that of small fast strains (sound); slow loading of warm ice gives less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import pi, sqrt
from typing import Any

from .crystal import FABRICS, check_temperature, solid_ice
from .data_file import Value, Word, factor, names, read_values
from .porosity import ASPECT, POROSITY, SCHEMES, with_pores
from .strength import (
    LONGEST_S,
    SHORTEST_S,
    State,
    compressive_factor,
    fracture_energy,
    reference_state,
    tensile_factor,
    toughness_factor,
)
from .surface import SURFACES, MohrCoulomb, Parabolic, Surface, check_criterion
from .tensor import Transverse

Vector = tuple[float, float, float]
# What a case may override, with what is possible at all; FABRICS and SCHEMES are words.
OVERRIDES: dict[str, tuple[float, float]] = {
    "porosity": POROSITY,
    "bubble_aspect": ASPECT,
    "grain_size_mm": (0.2, 100.0),
    "E_GPa": (0.1, 12.0),
    "nu": (0.0, 0.45),
    "tensile_MPa": (0.02, 10.0),
    "K_IC_kPa_sqrt_m": (2.0, 500.0),
    "compressive_MPa": (0.1, 100.0),
    "confinement_slope": (1.0, 10.0),
    "deviator_cap_MPa": (0.1, 300.0),
    "pressure_slope": (0.0, 2.0),
    "peak_pressure_MPa": (0.1, 300.0),
}


@dataclass(frozen=True, slots=True)
class Ice:
    """Ice in a state (Pa, Pa m^0.5, m); `values` says what was stated and where each number comes from.

    elastic : stiffness, the axis along the columns.  deviator_cap, confinement_slope : of the Mohr-Coulomb surface.
    peak_pressure, pressure_slope : of the parabolic one.  criterion : which of the two; ValueError for another word.
    own_surface : a failure surface in place of both.
    """

    name: str
    fabric: str
    elastic: Transverse
    porosity: float
    grain_size: float
    tensile_strength: float
    toughness: float
    compressive_strength: float
    confinement_slope: float
    deviator_cap: float
    pressure_slope: float
    peak_pressure: float
    criterion: str = SURFACES[0]
    values: tuple[Value | Word, ...] = ()
    own_surface: Surface | None = None

    def __post_init__(self) -> None:
        check_criterion(self.criterion)

    @property
    def critical_distance(self) -> float:
        """L = (K_IC / sigma_t)^2 / pi [m]."""
        return (self.toughness / self.tensile_strength) ** 2 / pi

    def shear_distance(self, sliding_ratio: float) -> float:
        """(r K_IC / c)^2 / pi [m], c = sigma_c / (2 sqrt k) the Mohr-Coulomb cohesion, r K_IC of a sliding crack."""
        cohesion = self.compressive_strength / (2 * sqrt(self._slope))
        return (sliding_ratio * self.toughness / cohesion) ** 2 / pi

    @property
    def fracture_energy(self) -> float:
        """G_c in plane strain [J/m2]; columnar ice takes its isotropic average."""
        return fracture_energy(self.toughness, self.elastic.youngs_modulus, self.elastic.poissons_ratio)

    @property
    def _slope(self) -> float:
        """k, never so steep that the shear surface cuts the tensile strength: slow ice hardly feels pressure."""
        return max(1.0, min(self.confinement_slope, self.compressive_strength / self.tensile_strength))

    @property
    def surface(self) -> Surface:
        """The multi-axial failure surface. Raises ValueError if the strengths do not go together."""
        if self.own_surface is not None:
            return self.own_surface
        if self.criterion == "parabolic":
            return Parabolic(self.tensile_strength, self.compressive_strength, self.pressure_slope, self.peak_pressure)
        return MohrCoulomb(self.tensile_strength, self.compressive_strength, self._slope, self.deviator_cap)

    def with_strengths(self, tensile: float, toughness: float, compressive: float) -> Ice:
        """The same ice with other strengths [Pa, Pa m^0.5, Pa]; cap and peak pressure go with the compressive one."""
        scale = compressive / self.compressive_strength
        return replace(
            self,
            tensile_strength=tensile,
            toughness=toughness,
            compressive_strength=compressive,
            deviator_cap=self.deviator_cap * scale,
            peak_pressure=self.peak_pressure * scale,
        )


def ice_names() -> list[str]:
    """Kinds of ice that a case may name."""
    return names("ices.toml")


def ice_named(
    kind: str,
    temperature_C: float,
    load_time: float | None = None,
    columns: Vector = (0.0, 0.0, 1.0),
    criterion: str = SURFACES[0],
    overrides: Mapping[str, float | str] | None = None,
) -> Ice:
    """Ice of a kind at a temperature [deg C], loaded to failure in `load_time` [s] (None: the reference time).

    columns : direction along the columns; it does not matter for isotropic ice.  overrides : entries of the table of
    the kind in their own units, and E_GPa, nu. Raises ValueError, one line, for an entry that is unknown or out of
    range and for entries that do not go together.
    """
    numbers, words, stated = _resolved(kind, temperature_C, load_time, criterion, overrides or {})
    return Ice(
        name=kind,
        fabric=words["fabric"],
        elastic=_stiffness(numbers, words, temperature_C, columns),
        porosity=numbers["porosity"],
        grain_size=numbers["grain_size_mm"],
        tensile_strength=numbers["tensile_MPa"],
        toughness=numbers["K_IC_kPa_sqrt_m"],
        compressive_strength=numbers["compressive_MPa"],
        confinement_slope=numbers["confinement_slope"],
        deviator_cap=numbers["deviator_cap_MPa"],
        pressure_slope=numbers["pressure_slope"],
        peak_pressure=numbers["peak_pressure_MPa"],
        criterion=criterion,
        values=tuple(stated.values()),
    )


def check_ice(
    kind: str, temperature_C: float, load_time: float | None = None, overrides: Mapping[str, float | str] | None = None
) -> None:
    """Raise ValueError as `ice_named` would, without computing the stiffness; temperature [deg C], load_time [s]."""
    _resolved(kind, temperature_C, load_time, SURFACES[0], overrides or {})


def _resolved(
    kind: str, temperature_C: float, load_time: float | None, criterion: str, given: Mapping[str, float | str]
) -> tuple[dict[str, float], dict[str, str], dict[str, Value | Word]]:
    """Numbers (SI) and words of an ice in its state, by the names of the table, and the table's entries."""
    if kind not in ice_names():
        raise ValueError(f"kind = {kind!r}: must be one of {', '.join(ice_names())}")
    check_temperature(temperature_C)
    check_criterion(criterion)
    _check_overrides(given)
    stated = read_values("ices.toml", kind)
    of_kind = {name: value.si for name, value in stated.items() if isinstance(value, Value)}
    words = {name: value.word for name, value in stated.items() if isinstance(value, Word)}
    was = reference_state(of_kind["porosity"], of_kind["grain_size_mm"])
    numbers = of_kind | {name: value * factor(name) for name, value in given.items() if not isinstance(value, str)}
    words |= {name: value for name, value in given.items() if isinstance(value, str)}
    time = was.load_time if load_time is None else _checked_time(load_time)
    _move(numbers, of_kind, given, State(temperature_C, time, numbers["porosity"], numbers["grain_size_mm"]), was)
    _check_together(numbers, words)
    return numbers, words, stated


def _move(
    numbers: dict[str, float], stated: Mapping[str, float], given: Mapping[str, Any], now: State, was: State
) -> None:
    """Move stated strengths to the state of the case, in place; what is given stays as given.

    The deviator cap and the peak pressure keep their ratio to the compressive strength.
    """
    laws = {
        "tensile_MPa": tensile_factor(now, was),
        "K_IC_kPa_sqrt_m": toughness_factor(now, was, stated["K_IC_kPa_sqrt_m"]),
        "compressive_MPa": compressive_factor(now, was),
    }
    for name, law in laws.items():
        if name not in given:
            numbers[name] *= law
    for name in ("deviator_cap_MPa", "peak_pressure_MPa"):
        if name not in given:
            numbers[name] *= numbers["compressive_MPa"] / stated["compressive_MPa"]


def _stiffness(
    numbers: Mapping[str, float], words: Mapping[str, str], temperature_C: float, columns: Vector
) -> Transverse:
    porous = with_pores(
        solid_ice(temperature_C, words["fabric"]).pointing(columns),
        numbers["porosity"],
        numbers["bubble_aspect"],
        words["pore_scheme"],
    )
    if "E_GPa" not in numbers and "nu" not in numbers:
        return porous
    return Transverse.isotropic(numbers.get("E_GPa", porous.youngs_modulus), numbers.get("nu", porous.poissons_ratio))


def _check_overrides(given: Mapping[str, float | str]) -> None:
    words = {"fabric": FABRICS, "pore_scheme": SCHEMES}
    for name, value in given.items():
        if name in words:
            if value not in words[name]:
                raise ValueError(f"{name} = {value!r}: must be one of {', '.join(words[name])}")
        elif name not in OVERRIDES:
            raise ValueError(f"{name} = {_shown(value)}: must be one of {', '.join((*OVERRIDES, *words))}")
        elif isinstance(value, str) or not OVERRIDES[name][0] <= value <= OVERRIDES[name][1]:
            low, high = OVERRIDES[name]
            raise ValueError(f"{name} = {_shown(value)}: must lie between {low:g} and {high:g}")


def _check_together(numbers: Mapping[str, float], words: Mapping[str, str]) -> None:
    """What one number or word demands of another."""
    for name in ("E_GPa", "nu"):
        if name in numbers and words["fabric"] != FABRICS[0]:
            raise ValueError(
                f"{name} = {numbers[name] / factor(name):g}: must be left out where the fabric is {words['fabric']}; "
                f"with fabric = {FABRICS[0]!r} it may stand"
            )
    if words["pore_scheme"] == "self_consistent" and numbers["bubble_aspect"] != 1:
        raise ValueError(
            f"bubble_aspect = {numbers['bubble_aspect']:g}: must be 1 where pore_scheme is self_consistent: long or "
            "flat pores would leave no stiffness"
        )
    compressive = numbers["compressive_MPa"]
    for name, least in (("deviator_cap_MPa", compressive), ("peak_pressure_MPa", compressive / 3)):
        if numbers[name] < least:
            raise ValueError(
                f"{name} = {numbers[name] / 1e6:g}: must be at least {least / 1e6:.4g} MPa where the compressive "
                f"strength is {compressive / 1e6:.4g} MPa"
            )


def _shown(value: float | str) -> str:
    return repr(value) if isinstance(value, str) else f"{value:g}"


def _checked_time(load_time: float) -> float:
    if not SHORTEST_S <= load_time <= LONGEST_S:
        raise ValueError(f"load_time_s = {load_time:g}: must lie between {SHORTEST_S:g} and {LONGEST_S:g} s")
    return load_time
