"""What drives a load: each uncertain input to the low and the high end of its range, all else as it is.

Ranges are those of the tables: of the case's kind of ice and metal, and of what is assumed. A range is what an input
may well have, not a spread of measurements; the inputs are moved one at a time.

Limits: chips are computed at two frictions of their faces alone, so that one goes to 0.3 only; with the compressive
strength goes the deviator cap, in proportion.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from ...materials import assumptions
from ...materials.data_file import read_tables
from ..case.file import Settings, settings_from
from ..case.words import ASSUMED_SHORT
from ..outcome.cautions import CAUTION, PULL_CAUTION
from ..outcome.data import LOADS
from ..outcome.models import STUDIES, load
from .parts import OTHER_FRICTION, Loads, read_loads

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ANGLES = (0.0, -20.0)  # deg
_ENDS = ("low", "high")
LOADS_SHOWN = ("early", "peak")


@dataclass(frozen=True, slots=True)
class Driver:
    """An input with its ends: what it is called, the ends in words, and the settings at each."""

    name: str
    ends: tuple[str, str]
    settings: tuple[Settings, Settings]


@dataclass(frozen=True, slots=True)
class Tornado:
    """Loads [kN] by angle [deg]: as it is, and of each driver at its low and high end; nan where not solved."""

    case: Settings
    drivers: tuple[Driver, ...]
    base: Mapping[float, Loads]
    moved: Mapping[float, Mapping[str, tuple[Loads, Loads]]]

    def ordered(self, angle: float, name: str) -> list[tuple[Driver, float, float]]:
        """The drivers with a load at both ends [kN], the widest last; a load not solved is as it is."""
        base = self.base[angle][name]
        found = []
        for driver in self.drivers:
            low, high = (end[name] if isfinite(end[name]) else base for end in self.moved[angle][driver.name])
            found.append((driver, low, high))
        return sorted(found, key=lambda each: max(*each[1:], base) - min(*each[1:], base))

    def table(self) -> str:
        """Markdown: each load at the ends of each input."""
        columns = [(angle, name) for angle in self.base for name in LOADS_SHOWN]
        heads = ["input", "low to high", *(f"{LOADS[name]} at {angle:g}°, kN" for angle, name in columns)]
        base = [f"{self.base[angle][name]:.2f}" for angle, name in columns]
        lines = [heads, ["---"] * len(heads), ["as it is", "", *base]]
        for driver in self.drivers:
            row = [driver.name, " to ".join(driver.ends)]
            for angle, name in columns:
                row.append(" to ".join(f"{end[name]:.2f}" for end in self.moved[angle][driver.name]))
            lines.append(row)
        return "\n".join(f"| {' | '.join(line)} |" for line in lines) + f"\n\n{PULL_CAUTION}\n{CAUTION}\n"

    def plot(self, path: str | Path | None = None) -> Figure:
        """A panel for each angle and load, the widest bar on top; path : of a PNG file to be written too."""
        drawn: Figure = load(f"{STUDIES}.figures.tornado:tornado_figure")(self, None if path is None else Path(path))
        return drawn


def drivers_of(settings: Settings) -> tuple[Driver, ...]:
    """The inputs that are moved, with the ranges of the case's ice and metal and of what is assumed."""
    ice = read_tables("ices.toml")[str(settings["ice.kind"])]
    metal = read_tables("metals.toml")[str(settings["tube.metal"])]
    found = [_of_table(ice, "ice", "K_IC_kPa_sqrt_m", "fracture toughness K_IC [kPa m^0.5]")]
    found.append(_of_table(ice, "ice", "compressive_MPa", "compressive strength [MPa]"))
    for name, words in ASSUMED_SHORT.items():
        number = assumptions()[name].number
        found.append(_driver(words, f"assumed.{name}", number.low, number.high))
    yields, holds = (metal[name] for name in ("yield_MPa", "ultimate_MPa"))
    tempers: list[Settings] = [{"tube.yield_MPa": yields[end], "tube.ultimate_MPa": holds[end]} for end in _ENDS]
    ends = (f"{yields['low']:g}", f"{yields['high']:g}")
    found.append(Driver("yield strength of the tube, with its ultimate [MPa]", ends, (tempers[0], tempers[1])))
    friction = assumptions()["chip_friction"].number.value
    found.append(_driver("friction of the chips' faces", "assumed.chip_friction", OTHER_FRICTION, friction))
    return tuple(found)


def _driver(words: str, key: str, low: float, high: float) -> Driver:
    return Driver(words, (f"{low:g}", f"{high:g}"), ({key: low}, {key: high}))


def _of_table(table: Mapping[str, Mapping[str, float]], of: str, name: str, words: str) -> Driver:
    return _driver(words, f"{of}.{name}", *(table[name][end] for end in _ENDS))


def tornado(settings: Settings, angles: Sequence[float] = ANGLES) -> Tornado:
    """Pull the case at each angle [deg] as it is and with each input at both ends of its range.

    Raises CaseError for an angle out of range, SolveError if a law of the ice does not come out.
    """
    drivers = drivers_of(settings)
    base: dict[float, Loads] = {}
    moved: dict[float, dict[str, tuple[Loads, Loads]]] = {}
    for angle in angles:
        at = settings_from({**settings, "placement.angle_deg": angle})
        base[angle] = read_loads(at, LOADS_SHOWN)
        moved[angle] = {}
        for driver in drivers:
            low, high = (read_loads(settings_from({**at, **each}), LOADS_SHOWN) for each in driver.settings)
            moved[angle][driver.name] = (low, high)
    return Tornado(dict(settings), drivers, base, moved)
