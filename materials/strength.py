"""How the strengths of ice move with temperature, loading time, grain size and porosity, away from a stated value.

A named ice states its strengths at the reference temperature Tr and loading time tr, its own porosity phi and grain
size d. A law only moves them, each factor one at the stated conditions:

    tension      sigma_t ~ max(s_n + k_n d^-1/2, k_p d^-1/2) (1 - phi)^a w(T)
    toughness    K_IC    ~ (1 - phi)^a w(T) Kdot^-n                Kdot = stated K_IC / t, between two published ends
    compression  sigma_c ~ (1 - phi)^a exp(A / T) min(edot, edot_b)^n      edot = strain at failure / t, T in kelvin
    energy       G_c = K_IC^2 (1 - nu^2) / E                                           plane strain (Irwin)    [J/m2]
    w(T) = 1 below a temperature Tw, from there falling linearly to 1 - loss at 0 deg C

Tension: cracks nucleate at s_n + k_n d^-1/2 and run at k_p d^-1/2; the greater decides (Currier & Schulson 1982;
Schulson et al. 1984). Toughness falls with the rate (Weber & Nixon 1996) and with porosity (Fischer et al. 1995).
Compression rises with the rate up to edot_b (Cole 1987) and with cold (Jones 2007). Constants: `data/laws.toml`.

Limits: one loading time t from nothing to failure stands for all rates; loadings faster than a second are beyond the
sources (compression rises again above 0.1 /s: not modelled); dry laboratory ice; factors multiply; porosity at most
0.45; no direction (stated values of columnar ice are those across its columns; it is stronger along them).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from .data_file import read_numbers

SHORTEST_S, LONGEST_S = 0.01, 3600.0
ZERO_C_IN_K = 273.15
SIZE_EFFECTS = ("none", "weakest_link")  # on the tensile strength of an onset (`weakest_link`)


@dataclass(frozen=True, slots=True)
class State:
    """What the laws depend on. temperature : deg C.  load_time : from nothing to failure [s].  grain_size : m."""

    temperature: float
    load_time: float
    porosity: float
    grain_size: float


def reference_state(porosity: float, grain_size: float) -> State:
    """The state (deg C, s, -, m) at which strengths are stated, with the ice's own porosity [-] and grain size [m]."""
    law = read_numbers("laws.toml", "reference")
    return State(law["temperature_C"], law["load_time_s"], porosity, grain_size)


def tensile_factor(state: State, stated: State) -> float:
    """Tensile strength at `state` over that at `stated` [-]."""
    return _tension(state) / _tension(stated)


def compressive_factor(state: State, stated: State) -> float:
    """Uniaxial compressive strength at `state` over that at `stated` [-]."""
    return _compression(state) / _compression(stated)


def toughness_factor(state: State, stated: State, toughness: float) -> float:
    """K_IC at `state` over that at `stated`; `toughness` at `stated` [Pa m^0.5] turns loading times into rates."""
    return _toughness(state, toughness) / _toughness(stated, toughness)


def tensile_of_grain_size(grain_size: float) -> float:
    """Tensile strength [Pa] of dense ice of a grain size [m] at the reference temperature (module docstring)."""
    law = read_numbers("laws.toml", "tension")
    root = grain_size**-0.5
    return max(law["nucleation_MPa"] + law["nucleation_MPa_sqrt_m"] * root, law["propagation_MPa_sqrt_m"] * root)


def fracture_energy(toughness: float, youngs_modulus: float, poissons_ratio: float) -> float:
    """G_c = K_IC^2 (1 - nu^2) / E in plane strain [J/m2]."""
    return toughness**2 * (1 - poissons_ratio**2) / youngs_modulus


def _tension(state: State) -> float:
    law = read_numbers("laws.toml", "tension")
    return tensile_of_grain_size(state.grain_size) * _dense(law, state) * _near_melting(law, state)


def _compression(state: State) -> float:
    law = read_numbers("laws.toml", "compression")
    rate = min(law["failure_strain"] / state.load_time, law["brittle_rate_per_s"])
    cold = exp(law["activation_K"] / (state.temperature + ZERO_C_IN_K))
    return rate ** law["rate_exponent"] * cold * _dense(law, state)


def _toughness(state: State, toughness: float) -> float:
    law = read_numbers("laws.toml", "toughness")
    slowest, fastest = law["slowest_kPa_sqrt_m_per_s"], law["fastest_kPa_sqrt_m_per_s"]
    rate = min(max(toughness / state.load_time, slowest), fastest)
    return rate ** -law["rate_exponent"] * _dense(law, state) * _near_melting(law, state)


def _dense(law: dict[str, float], state: State) -> float:
    """(1 - phi)^a."""
    return (1 - state.porosity) ** law["porosity_exponent"]


def _near_melting(law: dict[str, float], state: State) -> float:
    """w(T)."""
    soft = law["soft_above_C"]
    return 1 - law["loss_at_melting"] * max(0.0, (state.temperature - soft) / -soft)


def check_size_effect(word: str) -> None:
    """Raise ValueError, one line, for a word that names no size effect."""
    if word not in SIZE_EFFECTS:
        raise ValueError(f"size_effect = {word!r}: must be one of {', '.join(SIZE_EFFECTS)}")
