"""What `icecone materials` shows: every ice and metal in a table, one of them value by value, each with its source.

Stated values hold at the reference temperature and loading time of the laws; "in this state" is what a case gets.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..materials import Ice, ice_named, ice_names, metal_names
from ..materials.data_file import Value, Word, read_tables, read_values, unit_of
from ..materials.porosity import density
from .keys import UNITS
from .tomlfile import CaseError, did_you_mean

LAWS = {"laws": "laws.toml", "crystal": "crystal.toml"}
SHOWN = {**UNITS, "kg_per_m3": "kg/m3", "per_K": "1/K", "per_s": "1/s", "kPa_sqrt_m_per_s": "kPa m^0.5/s"}
SHOWN["MPa_sqrt_m"] = "MPa m^0.5"
ALONG_AND_ACROSS = ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


@dataclass(frozen=True, slots=True)
class Page:
    """A table with its title, column names and rows of text, and lines of text below it."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    below: tuple[str, ...] = ()


def find_material(name: str) -> str:
    """The name, if there is a material (or a set of laws) of that name. Raises CaseError."""
    known = [*ice_names(), *metal_names(), *LAWS]
    if name in known:
        return name
    hint = did_you_mean(name, {one: one for one in known})
    raise CaseError(f"material = {name!r}: must be one of {', '.join(known)}{hint}")


def pages(name: str | None, temperature_C: float, load_time: float) -> list[Page]:
    """The overview, or the page of one material. Raises CaseError for its name, ValueError for the state."""
    return overview(temperature_C, load_time) if name is None else [one(find_material(name), temperature_C, load_time)]


def overview(temperature_C: float, load_time: float) -> list[Page]:
    """All ices in this state, all metals, and the sources by number."""
    sources: dict[str, int] = {}

    def cited(number: float, values: dict[str, Value | Word], name: str) -> str:
        return f"{_short(number)} [{_number(sources, values[name])}]"

    ices = []
    for kind in ice_names():
        ice, stated = ice_named(kind, temperature_C, load_time), read_values("ices.toml", kind)
        ices.append(
            (
                kind,
                _title("ices.toml", kind),
                f"{ice.fabric} [{_number(sources, stated['fabric'])}]",
                cited(ice.porosity, stated, "porosity"),
                f"{ice.elastic.youngs_modulus / 1e9:.3g}",
                cited(ice.tensile_strength / 1e6, stated, "tensile_MPa"),
                cited(ice.toughness / 1e3, stated, "K_IC_kPa_sqrt_m"),
                cited(ice.compressive_strength / 1e6, stated, "compressive_MPa"),
            )
        )
    metals = []
    for name in metal_names():
        values, cells = read_values("metals.toml", name), [name, _title("metals.toml", name)]
        for entry in ("E_GPa", "nu", "yield_MPa", "ultimate_MPa"):
            value = values[entry]
            assert isinstance(value, Value)
            cells.append(cited(value.value, values, entry))
        metals.append(tuple(cells))
    where = f"at {temperature_C:g} deg C, loaded to failure in {load_time:g} s"
    return [
        Page(
            f"Ices {where}",
            ("name", "what", "fabric", "porosity", "E (GPa)", "tension (MPa)", "K_IC (kPa m^0.5)", "compression (MPa)"),
            tuple(ices),
            ("E follows from crystal, fabric, temperature and pores: `icecone materials crystal`.",),
        ),
        Page(
            "Metals of the tube",
            ("name", "what", "E (GPa)", "nu", "yield (MPa)", "ultimate (MPa)"),
            tuple(metals),
            ("Hanger and sling are strengths that a case states: tube.hanger_kN, placement.sling_kN.",),
        ),
        Page("Sources of the stated values", ("no.", "how known: source"), _sources(sources)),
    ]


def one(name: str, temperature_C: float, load_time: float) -> Page:
    """One ice, metal or set of laws, value by value."""
    if name in LAWS:
        return _laws(name)
    file = "ices.toml" if name in ice_names() else "metals.toml"
    stated = read_values(file, name)
    if name in metal_names():
        rows = tuple(_row(value) for value in stated.values())
        return Page(f"{name}: {_title(file, name)}", ("quantity", "value", "range", "how known", "source"), rows)
    ice = ice_named(name, temperature_C, load_time)
    now = _in_state(ice)
    rows = tuple(_row(value, now.get(key, "")) for key, value in stated.items())
    rows += tuple((words, "", "", number, "follows", why) for words, number, why in _follows(ice))
    below = (f"In this state: {temperature_C:g} deg C, loaded to failure in {load_time:g} s.", _override(name))
    columns = ("quantity", "stated", "range", "in this state", "how known", "source")
    return Page(f"{name}: {_title(file, name)}", columns, rows, below)


def _override(kind: str) -> str:
    return f'In a case: [ice] kind = "{kind}"; any entry may stand beside it, for example tensile_MPa = 0.8.'


def _in_state(ice: Ice) -> dict[str, str]:
    return {
        "tensile_MPa": _short(ice.tensile_strength / 1e6),
        "K_IC_kPa_sqrt_m": _short(ice.toughness / 1e3),
        "compressive_MPa": _short(ice.compressive_strength / 1e6),
        "deviator_cap_MPa": _short(ice.deviator_cap / 1e6),
        "peak_pressure_MPa": _short(ice.peak_pressure / 1e6),
    }


def _follows(ice: Ice) -> list[tuple[str, str, str]]:
    """What follows from the entries: words, number with unit, from what."""
    from ..materials.tensor import directional_youngs_modulus

    along, across = directional_youngs_modulus(ice.elastic.pointing((0, 0, 1)).tensor(), ALONG_AND_ACROSS)
    elastic = "crystal, fabric, temperature, pores"
    rows = [
        ("Young's modulus", f"{ice.elastic.youngs_modulus / 1e9:.3g} GPa", f"{elastic}; isotropic average"),
        ("Poisson's ratio", f"{ice.elastic.poissons_ratio:.3g}", f"{elastic}; isotropic average"),
        ("density", f"{density(ice.porosity):.4g} kg/m3", "pores"),
        ("fracture energy G_c", f"{ice.fracture_energy:.3g} J/m2", "K_IC^2 (1 - nu^2) / E"),
        ("critical distance", f"{ice.critical_distance * 1e3:.3g} mm", "(K_IC / tension)^2 / pi"),
    ]
    if not ice.elastic.is_isotropic:
        rows[1:1] = [
            ("Young's modulus along the columns", f"{along / 1e9:.3g} GPa", elastic),
            ("Young's modulus across the columns", f"{across / 1e9:.3g} GPa", elastic),
        ]
    return rows


def _laws(name: str) -> Page:
    rows = []
    for table in read_tables(LAWS[name]):
        rows += [(table, *_row(value)) for value in read_values(LAWS[name], table).values()]
    columns = ("table", "constant", "value", "range", "how known", "source")
    words = "laws and spread of the strengths" if name == "laws" else "the single crystal of ice"
    return Page(f"{name}: {words}", columns, tuple(rows))


def _row(value: Value | Word, now: str | None = None) -> tuple[str, ...]:
    """Cells of one entry; `now` adds a cell for the state."""
    if isinstance(value, Word):
        cells: tuple[str, ...] = (value.name, value.word, "")
    else:
        unit = unit_of(value.name)
        words = f" {SHOWN.get(unit, unit)}" if unit else ""
        name = value.name.removesuffix(f"_{unit}") if unit else value.name
        cells = (name, f"{_short(value.value)}{words}", f"{_short(value.low)} to {_short(value.high)}")
    return (*cells, now, value.how, value.source) if now is not None else (*cells, value.how, value.source)


def _short(number: float) -> str:
    return f"{number:.3g}" if number < 1000 else f"{number:.4g}"


def _title(file: str, name: str) -> str:
    return str(read_tables(file)[name]["title"])


def _number(sources: dict[str, int], value: Value | Word) -> int:
    return sources.setdefault(f"{value.how}: {value.source}", len(sources) + 1)


def _sources(sources: dict[str, int]) -> tuple[tuple[str, str], ...]:
    return tuple((str(number), text) for text, number in sources.items())
