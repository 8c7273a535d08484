"""A small picture of one ice or one metal (`icecone materials NAME --plot FILE`)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...materials import COLDEST_C, WARMEST_C, Ice, ice_named, ice_names, metal_named, metal_names
from ...materials.crystal import solid_ice
from ...materials.data_file import read_numbers
from ...materials.draws import spreads_of
from ...materials.tensor import directional_youngs_modulus
from ..case.toml import CaseError
from ..files.answer import listed, recover
from ..files.lock import only_run
from ..outcome.cautions import NEVER, STARTING_POINTS
from ..words.materials import ASSUMED, LAWS
from .style import (
    COMPRESSIVE,
    FRONT,
    INK,
    PALER,
    QUIET_INK,
    README,
    SOLID,
    TENSILE,
    TOUGHNESS,
    in_our_look,
    save,
    wrapped,
)

STRENGTHS: tuple[tuple[str, str, str, dict[str, Any]], ...] = (  # toughness may coincide with tension: thin over broad
    ("tensile", "tensile_strength", "tensile strength", {"color": TENSILE, "lw": 3.5}),
    ("toughness", "toughness", "toughness K_IC", {"color": TOUGHNESS, "ls": "-."}),
    ("compressive", "compressive_strength", "compressive strength", {"color": COMPRESSIVE}),
)
WORDS = {"mohr_coulomb": "Mohr-Coulomb with a bound", "parabolic": "parabolic"}


def plot_material(name: str, temperature_C: float, load_time: float, plot: str) -> None:
    """Draw an ice or a metal into the file that a user names. Raises CaseError if that cannot be."""
    path = Path(plot)
    if name in (*LAWS, ASSUMED):
        raise CaseError(f"--plot = {plot!r}: {name} has no picture: name one ice or metal")
    if path.suffix.lower() != ".png" or path.is_dir():
        raise CaseError(f"--plot = {plot!r}: must be the name of a .png file")
    try:
        with only_run(path.parent):
            recover(path.parent)
            if path.name in listed(path.parent):
                raise CaseError(f"--plot = {plot!r}: must not be a file of the answer in that folder")
            material_figure(name, temperature_C, load_time, path)
    except OSError as error:
        raise CaseError(f"--plot = {plot!r}: must be a file that can be written: {error.strerror or error}") from None


def material_figure(name: str, temperature_C: float, load_time: float, path: Path) -> None:
    """Draw an ice (stiffness by direction, strengths by temperature, failure surfaces, spread) or a metal."""
    figure = _ice_figure(name, temperature_C, load_time) if name in ice_names() else _metal_figure(name)
    note = f"{STARTING_POINTS}{'; ice varies from place to place' if name in ice_names() else ''}. {NEVER}"
    figure.supxlabel(wrapped(note, figure, 8), fontsize=8, color=QUIET_INK)
    save(figure, path)


@in_our_look
def _ice_figure(name: str, temperature_C: float, load_time: float) -> Figure:
    ice = ice_named(name, temperature_C, load_time)
    figure = Figure(figsize=(README, 8.6), layout="constrained")
    title = f"{name} at {temperature_C:g} °C, loaded to failure in {load_time:g} s".replace(" -", " −")
    figure.suptitle(title, fontsize=13)
    _stiffness(figure.add_subplot(2, 2, 1, projection="polar"), ice, temperature_C)
    _by_temperature(figure.add_subplot(2, 2, 2), name, load_time, temperature_C)
    _surfaces(figure.add_subplot(2, 2, 3), name, temperature_C, load_time)
    _spread(figure.add_subplot(2, 2, 4), ice)
    return figure


def _stiffness(axes: Axes, ice: Ice, temperature_C: float) -> None:
    """Young's modulus against the direction, from the columns (up)."""
    angle = np.linspace(0, 2 * np.pi, 361)
    n = np.stack([np.sin(angle), np.zeros_like(angle), np.cos(angle)], axis=1)
    solid = solid_ice(temperature_C, "isotropic").tensor()
    this = ice.elastic.pointing((0.0, 0.0, 1.0)).tensor()
    axes.plot(angle, directional_youngs_modulus(solid, n) / 1e9, ":", color=SOLID, label="solid, isotropic")
    axes.plot(angle, directional_youngs_modulus(this, n) / 1e9, color=INK, label="this ice")
    axes.set_theta_zero_location("N")  # type: ignore[attr-defined]
    axes.set_ylim(0, 12)
    axes.set_yticks([3, 6, 9])
    axes.set_xticks(
        np.radians([0, 90, 180, 270]), ["along the\ncolumns" if not ice.elastic.is_isotropic else "", "", "", ""]
    )
    axes.set_title("Young's modulus by direction [GPa]", fontsize=10)
    axes.legend(fontsize=8.5, loc="upper center", bbox_to_anchor=(0.5, -0.06), ncols=2, frameon=False)


def _by_temperature(axes: Axes, name: str, load_time: float, temperature_C: float) -> None:
    """Stiffness and strengths against temperature, over their values in this state."""
    coldest = read_numbers("laws.toml", "compression")["source_coldest_C"]
    degrees = np.union1d(np.linspace(COLDEST_C, WARMEST_C, 81), [coldest])
    ices = [ice_named(name, float(T), load_time) for T in degrees]
    now = ice_named(name, temperature_C, load_time)
    axes.plot(
        degrees,
        [ice.elastic.youngs_modulus / now.elastic.youngs_modulus for ice in ices],
        color=INK,
        label="Young's modulus",
    )
    for quantity, attribute, label, style in STRENGTHS:
        ratio = np.array([getattr(ice, attribute) / getattr(now, attribute) for ice in ices])
        known = degrees >= (coldest if quantity == "compressive" else COLDEST_C)
        axes.plot(degrees[known], ratio[known], label=label, **style)
        if not known.all():
            beyond = degrees <= coldest
            axes.plot(degrees[beyond], ratio[beyond], label="dashed: extrapolated", ls="--", **style)
    axes.axvline(temperature_C, color=PALER, lw=0.8, ls="--")
    axes.set(
        xlabel="temperature [°C]", ylabel=f"over its value at {temperature_C:g} °C".replace("-", "−"), ylim=(0, None)
    )
    axes.set_title("what cold and warmth do (by the laws)", fontsize=10)
    _plain(axes)


def _surfaces(axes: Axes, name: str, temperature_C: float, load_time: float) -> None:
    """Both failure surfaces under confinement."""
    ices = {criterion: ice_named(name, temperature_C, load_time, criterion=criterion) for criterion in WORDS}
    ice = ices["mohr_coulomb"]
    pressure = np.linspace(-ice.tensile_strength, 1.2 * max(ice.peak_pressure, ice.deviator_cap), 2000)
    for (criterion, words), style in zip(WORDS.items(), ("-", "--"), strict=True):
        axes.plot(
            pressure / 1e6, ices[criterion].surface.envelope(pressure) / 1e6, style, color=COMPRESSIVE, label=words
        )
    stress = ice.surface.envelope(pressure)
    cut_off = np.flatnonzero(stress >= 3 * (pressure + ice.tensile_strength) * (1 - 1e-9))[-1]
    kink = (pressure[cut_off] / 1e6, stress[cut_off] / 1e6)
    arrow = {"arrowstyle": "-", "lw": 0.7, "shrinkB": 2}
    words = "tension cut-off: left of\nthis kink the ice breaks\nin tension"
    axes.annotate(words, kink, (0.3, 0.12), textcoords="axes fraction", fontsize=8.5, arrowprops=arrow)
    axes.plot(ice.compressive_strength / 3e6, ice.compressive_strength / 1e6, "ko", ms=5, label="uniaxial compression")
    axes.set(xlabel="mean pressure [MPa]", ylabel="stress difference at failure [MPa]", ylim=(0, None))
    axes.set_title("strength under confinement", fontsize=10)
    _plain(axes)


def _spread(axes: Axes, ice: Ice) -> None:
    """Cumulative distribution of each strength over its mean."""
    spreads = spreads_of(ice)
    ratio = np.linspace(0.0, 2.0, 201)
    for quantity, attribute, label, style in STRENGTHS:
        spread = spreads[quantity]
        axes.plot(
            ratio,
            100 * spread.cdf(ratio * getattr(ice, attribute)),
            label=f"{label}: {spread.distribution}, sd {100 * spread.cov:.0f} %",
            **style,
        )
    axes.set(xlabel="strength over its mean", ylabel="share of tests below [%]", xlim=(0, 2), ylim=(0, 100))
    axes.set_title("spread of repeated tests on one ice", fontsize=10)
    _plain(axes)


@in_our_look
def _metal_figure(name: str) -> Figure:
    """Stress against strain up to yield, this metal among the others; the ultimate strength as a mark."""
    figure = Figure(figsize=(7.0, 5.0), layout="constrained")
    axes = figure.subplots()
    highest = max(metal_named(each).ultimate_strength for each in metal_names()) / 1e6
    for other in metal_names():
        metal = metal_named(other)
        colour, width = (FRONT, 2.2) if other == name else (PALER, 1.2)
        at_yield = 100 * metal.yield_strength / metal.youngs_modulus
        axes.plot([0, at_yield], [0, metal.yield_strength / 1e6], "o-", color=colour, lw=width, ms=4)
        axes.plot([at_yield, 1.2], [metal.yield_strength / 1e6] * 2, ":", color=colour, lw=width)
        axes.text(1.2, metal.yield_strength / 1e6, f" {other}", color=colour, va="center", fontsize=9)
    metal = metal_named(name)
    ultimate = metal.ultimate_strength / 1e6
    axes.plot([0, 1.2], [ultimate] * 2, color=FRONT, lw=0.8, ls="--")
    axes.text(0.01, ultimate, f" ultimate: {ultimate:g} MPa", color=FRONT, va="bottom", fontsize=8.5)
    axes.set(xlabel="strain [%]", ylabel="stress [MPa]", xlim=(0, 1.6), ylim=(0, 1.12 * highest))
    axes.set_title(f"{name}: elastic up to yield (dotted; only peaks go beyond it)", fontsize=10)
    axes.spines[["top", "right"]].set_visible(False)
    return figure


def _plain(axes: Axes) -> None:
    axes.grid(alpha=0.25)
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(fontsize=8.5, loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=2, frameon=False)
