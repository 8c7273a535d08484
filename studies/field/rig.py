"""The hauling rig of a day of pulls: its file, what each part of it must bear, and what is short.

    h = F / (n eta)                    pull on the hauling rope for a load F on the tube                         [kN]
    persons = ceil(h / H)              H: steady pull of one person                                               [-]
    F, h, 2 h, F + h                   load line; hauling rope; a pulley of it; reaction anchor                  [kN]
    stretch = F L / (EA)               of the loaded strand between tube and reaction anchor                      [m]
    W = F^2 L / (2 EA),  v = sqrt(2 W / m)      energy in it at the peak; most speed of a loose mass  [J, m/s]

n: ideal mechanical advantage, eta: efficiency of the whole. The reaction anchor holds F (n - 1)/n if people haul toward
the tube's side, F (n + 1)/n if they haul the other way; here F + h, the unfavourable one with friction. A rope is a
spring of one stiffness, slings stretch as the rope does, nothing is lost as it flies back: W and v are upper bounds.

Source: statics of a tackle and a linear spring. Defaults are from memory or common practice, and say so: state your
own. Limits: no shock, no knots, no wear; strengths are as stated by makers, never proved here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..case.keys import Key
from ..case.overrides import parse_overrides
from ..case.toml import CaseError, TomlFile, did_you_mean, read_toml, shown
from ..command.plain_text import one_line

SEES = {
    "load": "the load on the tube",
    "rope": "the hauling rope",
    "pulley": "two strands of the hauling rope",
    "reaction": "load and hauling rope together",
}
LEAST_KN, MOST_KN, MOST_LINKS, LONGEST_NAME = 0.1, 1000.0, 30, 40

RIG_KEYS: dict[str, Key] = {
    key.name: key
    for key in (
        Key("rig.advantage", 9.0, "", "ideal mechanical advantage of the hauling system", 1.0, 100.0),
        Key("rig.efficiency", 0.6, "", "of the whole hauling system; with pulleys 0.6, from memory", 0.05, 1.0),
        Key("rig.person_kN", 0.4, "kN", "steady pull of one person on dry ground; common practice", 0.05, 2.0),
        Key("rig.people", 4.0, "", "people who haul, a whole number", 1.0, 50.0),
        Key("rig.cell_kN", 20.0, "kN", "load at which the load cell ends", 0.5, 500.0),
        Key("rig.cell_error_percent", 1.0, "percent", "error of the load cell, of its full scale", 0.0, 20.0),
        Key("rig.strand_mm", 300.0, "mm", "how far the rig can still move the load point", 1.0, 100000.0),
        Key("rig.rope_length_m", 3.0, "m", "loaded strand from tube to reaction anchor, slings counted", 0.1, 200.0),
        Key(
            "rig.rope_stiffness_kN",
            100.0,
            "kN",
            "EA, load per unit strain, of that strand at the peak; low-stretch rope: 100, from memory; a rope that "
            "stretches more stores more",
            1.0,
            50000.0,
        ),
        Key("rig.loose_mass_kg", 0.5, "kg", "what flies if a link parts: load cell and connectors", 0.01, 100.0),
        Key("rig.reaction_kN", 20.0, "kN", "what the reaction anchor is said to hold", 0.1, 10000.0),
        Key("rig.reaction_distance_mm", 3000.0, "mm", "tube to reaction anchor, along the ice", 1.0, 100000.0),
        Key("rig.edge_distance_mm", 2000.0, "mm", "tube to the nearest edge or crack of the ice", 1.0, 100000.0),
        Key("rig.pull_rate_mm_per_s", 2.0, "mm/s", "speed of the loaded strand's far end", 0.001, 10000.0),
    )
}
LINK_KEYS: dict[str, str] = {
    "name": "what it is called",
    "strength_kN": f"strength as its maker states it: a number between {LEAST_KN:g} and {MOST_KN:g} kN",
    "sees": "; ".join(f'"{name}": {words}' for name, words in SEES.items()),
}


@dataclass(frozen=True, slots=True)
class Link:
    """A part of the rig.  strength_kN : as its maker states it.  sees : which load, one of SEES."""

    name: str
    strength_kN: float
    sees: str = "load"


USUAL_LINKS = (
    Link("sling", 22.0),
    Link("connector", 22.0),
    Link("pulley", 20.0, "pulley"),
    Link("hauling rope", 18.0, "rope"),
)


@dataclass(frozen=True, slots=True)
class Rig:
    """A hauling rig; each field is a key of [rig] (`RIG_KEYS`), its unit the end of its name."""

    advantage: float
    efficiency: float
    person_kN: float
    people: int
    cell_kN: float
    cell_error_percent: float
    strand_mm: float
    rope_length_m: float
    rope_stiffness_kN: float
    loose_mass_kg: float
    reaction_kN: float
    reaction_distance_mm: float
    edge_distance_mm: float
    pull_rate_mm_per_s: float
    links: tuple[Link, ...] = USUAL_LINKS


def read_rig(path: Path | None = None, overrides: Sequence[str] = ()) -> Rig:
    """The rig of a TOML file, or the usual one, with `rig.KEY=VALUE` overrides.

    Raises CaseError: one line with file, line, key, value and what is allowed.
    """
    file = read_toml(path) if path is not None else TomlFile(Path("rig"), "", {})
    tables = file.data
    for table in tables:
        if table != "rig":
            raise CaseError(f"{file.where(table)}[{table}]: unknown table: must be [rig]")
    content = tables.get("rig", {})
    if not isinstance(content, Mapping):
        raise CaseError(f"{file.where('rig')}rig = {shown(content)}: must be a table, written [rig]")
    given = {f"rig.{name}": value for name, value in content.items() if name != "links"}
    changed = parse_overrides(overrides)

    def origin(key: str) -> str:
        return "--set " if key in changed else file.where(*key.split(".", 1))

    given |= changed
    for name, value in given.items():
        if name not in RIG_KEYS:
            hint = did_you_mean(name, {key: key for key in RIG_KEYS})
            known = ", ".join([*RIG_KEYS, "rig.links"])
            raise CaseError(f"{origin(name)}{name} = {shown(value)}: unknown key: must be one of {known}{hint}")
    numbers = {name: _number(name, given.get(name, key.default), origin) for name, key in RIG_KEYS.items()}
    people = numbers.pop("rig.people")
    if people != int(people):
        raise CaseError(f"{origin('rig.people')}rig.people = {shown(people)}: must be a whole number")
    links = _links(content["links"], file) if "links" in content else USUAL_LINKS
    fields = {name.removeprefix("rig."): value for name, value in numbers.items()}
    return Rig(people=int(people), links=links, **fields)


def _number(name: str, value: Any, origin: Any) -> float:
    key = RIG_KEYS[name]
    if isinstance(value, int | float) and not isinstance(value, bool):
        low, high = key.low or 0.0, key.high or math.inf
        if low <= value <= high:
            return float(value)
    raise CaseError(f"{origin(name)}{name} = {shown(value)}: {key.allowed()}")


def _links(content: Any, file: TomlFile) -> tuple[Link, ...]:
    """The links of [[rig.links]], in order."""
    place = file.where("rig", "links")
    if not isinstance(content, list) or not 1 <= len(content) <= MOST_LINKS:
        wanted = f"must be 1 to {MOST_LINKS} tables, each written [[rig.links]]"
        raise CaseError(f"{place}rig.links = {shown(content)}: {wanted}")
    return tuple(_link(each, f"{place}rig.links[{number}]") for number, each in enumerate(content, 1))


def _link(content: Any, place: str) -> Link:
    if not isinstance(content, Mapping):
        raise CaseError(f"{place} = {shown(content)}: must be a table, written [[rig.links]]")
    for key, value in content.items():
        if key not in LINK_KEYS:
            hint = did_you_mean(key, {name: name for name in LINK_KEYS})
            raise CaseError(f"{place}.{key} = {shown(value)}: unknown key: must be one of {', '.join(LINK_KEYS)}{hint}")
    name, strength, sees = content.get("name"), content.get("strength_kN"), content.get("sees", "load")
    if not isinstance(name, str) or not 1 <= len(one_line(name)) <= LONGEST_NAME:
        raise CaseError(f"{place}.name = {shown(name)}: must be a text of 1 to {LONGEST_NAME} characters")
    if not isinstance(strength, int | float) or isinstance(strength, bool) or not LEAST_KN <= strength <= MOST_KN:
        allowed = f"must be a number between {LEAST_KN:g} and {MOST_KN:g} kN"
        raise CaseError(f"{place}.strength_kN = {shown(strength)}: {allowed}")
    if sees not in SEES:
        words = ", ".join(f'"{word}"' for word in SEES)
        raise CaseError(f"{place}.sees = {shown(sees)}: must be one of {words}")
    return Link(one_line(name), float(strength), sees)


def rig_example() -> str:
    """A rig file with every key at its default, its meaning and range beside it; it reads as the usual rig."""
    lines = ["# An invented hauling rig. Every key may be left out; the values are the defaults.", "", "[rig]"]
    for name, key in RIG_KEYS.items():
        allowed = key.allowed().removeprefix("must be ")
        lines += [f"# {key.help}", f"# {allowed}", f"{name.removeprefix('rig.')} = {key.default:g}"]
    lines += ["", "# Links of the rig, each a table:", *(f"# {name}: {words}" for name, words in LINK_KEYS.items())]
    lines.append("# The strengths below are from memory: write those that stand on your own gear.")
    for link in USUAL_LINKS:
        lines += ["", "[[rig.links]]", f'name = "{link.name}"', f"strength_kN = {link.strength_kN:g}"]
        lines.append(f'sees = "{link.sees}"')
    return "\n".join(lines) + "\n"


def haul_force_kN(rig: Rig, load_kN: float) -> float:
    """Pull on the hauling rope, h = F / (n eta) [kN], for a load on the tube [kN]. Statics of a tackle."""
    return load_kN / (rig.advantage * rig.efficiency)


def people_needed(rig: Rig, load_kN: float) -> int:
    """Persons who pull steadily that a load [kN] asks for; 0 for none."""
    return max(math.ceil(haul_force_kN(rig, load_kN) / rig.person_kN - 1e-9), 0)


def reaction_demand_kN(rig: Rig, load_kN: float) -> float:
    """What the reaction anchor must hold, F + h [kN]: people who haul away from it; F (n + 1)/n without friction."""
    return load_kN + haul_force_kN(rig, load_kN)


def seen_kN(rig: Rig, sees: str, load_kN: float) -> float:
    """What a link bears that `sees` one of SEES, at a load on the tube [kN]. A pulley: 2 h, strands side by side."""
    haul = haul_force_kN(rig, load_kN)
    return {"load": load_kN, "rope": haul, "pulley": 2.0 * haul, "reaction": load_kN + haul}[sees]


def stretch_mm(rig: Rig, load_kN: float) -> float:
    """Stretch of the loaded strand, F L / EA [mm], at a load [kN]. A linear spring."""
    return 1e3 * load_kN * rig.rope_length_m / rig.rope_stiffness_kN


def stored_energy_J(rig: Rig, load_kN: float) -> float:
    """Energy in rope and slings, F^2 L / (2 EA) [J], at a load [kN]; an upper bound of what can fly."""
    return 1e3 * load_kN**2 * rig.rope_length_m / (2.0 * rig.rope_stiffness_kN)


def loose_speed_m_per_s(rig: Rig, load_kN: float) -> float:
    """Speed sqrt(2 W / m) [m/s] of the loose mass if it took up all energy at a load [kN]: an upper bound."""
    return math.sqrt(2.0 * stored_energy_J(rig, load_kN) / rig.loose_mass_kg)


def strand_needed_mm(rig: Rig, load_kN: float, movement_mm: float) -> float:
    """Strand that a pull takes [mm]: movement of the load point [mm] and the stretch at that load [kN]."""
    return movement_mm + stretch_mm(rig, load_kN)


def time_to_peak_s(rig: Rig, load_kN: float, movement_mm: float) -> float:
    """Time until the peak [s] at the steady rate of the far end; movement of the load point [mm], load [kN]."""
    return strand_needed_mm(rig, load_kN, movement_mm) / rig.pull_rate_mm_per_s


def cell_error_share(rig: Rig, load_kN: float) -> float:
    """Error of the load cell over a load [kN], dimensionless: percent of full scale over the load; inf at no load."""
    return 0.01 * rig.cell_error_percent * rig.cell_kN / load_kN if load_kN > 0 else math.inf
