"""What `icecone materials` shows: every ice and metal in a table, one of them value by value, sources by number.

Stated values hold at the reference temperature and loading time of the laws; "in this state" is what a case gets.
"""

from __future__ import annotations

from dataclasses import dataclass

from ...materials import Ice, assumptions, check_ice, ice_named, ice_names, metal_names
from ...materials.data_file import Value, Word, read_tables, read_values, unit_of
from ...materials.porosity import density
from ..case.keys import UNITS
from ..case.toml import CaseError, did_you_mean

LAWS = {"laws": "laws.toml", "crystal": "crystal.toml"}
ASSUMED = "assumed"
SHOWN = {**UNITS, "kg_per_m3": "kg/m3", "per_s": "1/s", "mm3": "mm3", "kPa_sqrt_m_per_s": "kPa m^0.5/s"}
SHOWN["MPa_sqrt_m"] = "MPa m^0.5"
ALONG_ACROSS_BETWEEN = ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.5**0.5, 0.0, 0.5**0.5))
WIDE = 120  # characters: from here on the overview says in its tables what each material is
LAW_WORDS = {"laws": "laws and spread of the strengths", "crystal": "the single crystal of ice"}
SPREAD = "cov: standard deviation over mean of repeated tests on one ice."
EQUATIONS = {  # as in materials.strength and materials.crystal, and what the letters are here
    "reference": "The state at which ices.toml states the strengths; a law only moves them away from it. In the laws "
    "d: grain size, phi: porosity, a: porosity_exponent, t: time from no load to failure; w(T) = 1 below Tw "
    "(soft_above), from there falling linearly to 1 - loss (loss_at_melting) at 0 deg C.",
    "tension": "sigma_t ~ max(s_n + k_n d^-1/2, k_p d^-1/2) (1 - phi)^a w(T); s_n, k_n: nucleation, k_p: propagation",
    "toughness": "K_IC ~ (1 - phi)^a w(T) Kdot^-n, Kdot = stated K_IC / t, between two published ends; n: "
    "rate_exponent",
    "compression": "sigma_c ~ (1 - phi)^a exp(A / T) min(edot, edot_b)^n, edot = strain at failure / t, T in kelvin; "
    "A: activation, edot_b: brittle_rate, n: rate_exponent",
    "spread_tensile": SPREAD,
    "spread_toughness": SPREAD,
    "spread_compressive": SPREAD,
    "spread_stiffness": SPREAD,
    "size_effect": "k = (V_0 / V_e)^(1/m); k: times the tensile strength in the onset, where ice.size_effect says so, "
    "bounded by a crack of one grain; V_0: reference_volume, V_e: effective volume of the case, m: Weibull modulus of "
    "spread_tensile",
    "correlation": "Of the normal variables behind the draws: what is strong in one respect tends to be so in another.",
    "crystal_cold": "c(T) = c_cold + (c_warm - c_cold) (T - T_cold) / (T_warm - T_cold), each constant",
    "crystal_warm": "The second row of the line through both. Fabric: the mean of Voigt's and Reuss's averages (Hill).",
}
OF_STATED = "Sources are of the values as stated, at the laws' reference: `icecone materials NAME` shows these."


@dataclass(frozen=True, slots=True)
class Page:
    """A table with its title, column names and rows of text, and lines of text below it.

    prose : whether the rows are read as lines of text, too long for cells.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    below: tuple[str, ...] = ()
    prose: bool = False


def find_material(name: str) -> str:
    """The name, if there is a material (or a set of laws, or of assumptions) of that name. Raises CaseError."""
    known = [*ice_names(), *metal_names(), *LAWS, ASSUMED]
    if name in known:
        return name
    hint = did_you_mean(name, {one: one for one in known})
    raise CaseError(f"material = {name!r}: must be one of {', '.join(known)}{hint}")


def pages(name: str | None, temperature_C: float, load_time: float, width: int = WIDE) -> list[Page]:
    """The overview, or the pages of one material, for a screen of so many characters; the sources come last.

    Raises CaseError for an unknown name, ValueError for a state out of range.
    """
    check_ice(ice_names()[0], temperature_C, load_time)
    if name is None:
        return overview(temperature_C, load_time, width >= WIDE)
    return one(find_material(name), temperature_C, load_time)


def overview(temperature_C: float, load_time: float, wide: bool = True) -> list[Page]:
    """All ices in this state, all metals, and the sources by number; `wide`: what each is stands in its row."""
    sources: dict[str, int] = {}
    ices = [_ice_row(kind, ice_named(kind, temperature_C, load_time), sources) for kind in ice_names()]
    metals = [_metal_row(name, sources) for name in metal_names()]
    where = f"at {temperature_C:g} deg C, loaded to failure in {load_time:g} s"
    of_ice = ("name", "what", "fabric", "porosity", "E (GPa)", "tension (MPa)", "K_IC (kPa m^0.5)", "compression (MPa)")
    of_metal = ("name", "what", "E (GPa)", "nu", "yield (MPa)", "ultimate (MPa)")
    found = [
        Page(
            f"Ices {where}",
            of_ice,
            tuple(ices),
            (OF_STATED, "E follows from crystal, fabric, temperature and pores: `icecone materials crystal`."),
        ),
        Page(
            "Metals of the tube",
            of_metal,
            tuple(metals),
            ("Hanger and sling are strengths that a case states: tube.hanger_kN, placement.sling_kN.",),
        ),
    ]
    return [*(found if wide else (_narrowed(page) for page in found)), _sources(sources)]


def _narrowed(page: Page) -> Page:
    """The page with its columns of words, what each is and of which fabric, as a list below."""
    words = [at for at, column in enumerate(page.columns) if column in ("what", "fabric")]
    what = tuple(f"{row[0]}: {', '.join(row[at] for at in words)}" for row in page.rows)
    columns, *rows = (
        tuple(cell for at, cell in enumerate(row) if at not in words) for row in (page.columns, *page.rows)
    )
    return Page(page.title, columns, tuple(rows), (*what, *page.below))


def _ice_row(kind: str, ice: Ice, sources: dict[str, int]) -> tuple[str, ...]:
    stated = read_values("ices.toml", kind)
    fabric, porosity, tension, toughness, compression = (
        _number(sources, stated[name])
        for name in ("fabric", "porosity", "tensile_MPa", "K_IC_kPa_sqrt_m", "compressive_MPa")
    )
    return (
        kind,
        _title("ices.toml", kind),
        f"{ice.fabric} {fabric}",
        f"{ice.porosity:g} {porosity}",
        _short(ice.elastic.youngs_modulus / 1e9),
        f"{_short(ice.tensile_strength / 1e6)} {tension}",
        f"{_short(ice.toughness / 1e3)} {toughness}",
        f"{_short(ice.compressive_strength / 1e6)} {compression}",
    )


def _metal_row(name: str, sources: dict[str, int]) -> tuple[str, ...]:
    stated = read_values("metals.toml", name)
    entries = [stated[entry] for entry in ("E_GPa", "nu", "yield_MPa", "ultimate_MPa")]
    numbers = [f"{value.value:g} {_number(sources, value)}" for value in entries if isinstance(value, Value)]
    return name, _title("metals.toml", name), *numbers


def one(name: str, temperature_C: float, load_time: float) -> list[Page]:
    """One ice, metal, set of laws (a page a table) or the assumptions, value by value, and the sources by number."""
    sources: dict[str, int] = {}
    if name in LAWS:
        return [*_laws(name, sources), _sources(sources)]
    if name == ASSUMED:
        return [_assumed(sources), _sources(sources)]
    file = "ices.toml" if name in ice_names() else "metals.toml"
    title, stated = f"{name}: {_title(file, name)}", read_values(file, name)
    if name in metal_names():
        rows = tuple((*_row(value, sources), value.how) for value in stated.values())
        in_case = f'In a case: [tube] metal = "{name}".'
        return [Page(title, ("quantity", "value", "range", "source", "how"), rows, (in_case,)), _sources(sources)]
    ice = ice_named(name, temperature_C, load_time)
    now = _in_state(ice)
    rows = tuple((*_row(value, sources, now.get(key, "")), value.how) for key, value in stated.items())
    rows += tuple(
        (words, "", "", number, _cite(sources, f"follows: {why}"), "follows") for words, number, why in _follows(ice)
    )
    below = [f"In this state: {temperature_C:g} deg C, loaded to failure in {load_time:g} s.", _override(name)]
    below += [] if ice.elastic.is_isotropic else [_softer(ice)]
    return [
        Page(title, ("quantity", "stated", "range", "in this state", "source", "how"), rows, tuple(below)),
        _sources(sources),
    ]


def _override(kind: str) -> str:
    return f'In a case: [ice] kind = "{kind}"; any entry may stand beside it, for example tensile_MPa = 0.8.'


def _in_state(ice: Ice) -> dict[str, str]:
    return {
        "tensile_MPa": f"{_short(ice.tensile_strength / 1e6)} MPa",
        "K_IC_kPa_sqrt_m": f"{_short(ice.toughness / 1e3)} kPa m^0.5",
        "compressive_MPa": f"{_short(ice.compressive_strength / 1e6)} MPa",
        "deviator_cap_MPa": f"{_short(ice.deviator_cap / 1e6)} MPa",
        "peak_pressure_MPa": f"{_short(ice.peak_pressure / 1e6)} MPa",
    }


def _by_direction(ice: Ice) -> list[float]:
    """Young's modulus along the columns, across them and at 45 deg between [GPa]."""
    from ...materials.tensor import directional_youngs_modulus

    tensor = ice.elastic.pointing((0, 0, 1)).tensor()
    return [float(E) / 1e9 for E in directional_youngs_modulus(tensor, ALONG_ACROSS_BETWEEN)]


def _softer(ice: Ice) -> str:
    along, across, between = _by_direction(ice)
    average = ice.elastic.youngs_modulus / 1e9
    text = f"E along, across and at 45 deg to the columns: {along:.3g}, {across:.3g}, {between:.3g} GPa"
    if between < average < min(along, across):
        text += "; softer at 45 deg, so the average over all directions is below both along and across"
    return f"{text}. The solver takes all directions into account."


def _follows(ice: Ice) -> list[tuple[str, str, str]]:
    """What follows from the entries: words, number with unit, from what."""
    elastic = "crystal, fabric, temperature, pores"
    rows = [
        ("E, average", f"{ice.elastic.youngs_modulus / 1e9:.3g} GPa", f"{elastic}; isotropic average"),
        ("Poisson's ratio", f"{ice.elastic.poissons_ratio:.3g}", f"{elastic}; isotropic average"),
        ("density", f"{density(ice.porosity):.4g} kg/m3", "pores"),
        ("G_c", f"{ice.fracture_energy:.3g} J/m2", "fracture energy, K_IC^2 (1 - nu^2) / E"),
        ("critical distance", f"{ice.critical_distance * 1e3:.3g} mm", "(K_IC / tension)^2 / pi"),
    ]
    if not ice.elastic.is_isotropic:
        along, across, _ = _by_direction(ice)
        rows[1:1] = [
            ("E along columns", f"{along:.3g} GPa", elastic),
            ("E across columns", f"{across:.3g} GPa", elastic),
        ]
    return rows


def _laws(name: str, sources: dict[str, int]) -> list[Page]:
    """A page for each table, its equation below."""
    columns, found = ("constant", "value", "range", "source"), []
    for number, table in enumerate(read_tables(LAWS[name])):
        rows = tuple((key, *_row(value, sources)[1:]) for key, value in read_values(LAWS[name], table).items())
        title = f"{name}: {LAW_WORDS[name]}\n\n[{table}]" if number == 0 else f"[{table}]"
        found.append(Page(title, columns, rows, (EQUATIONS[table],) if table in EQUATIONS else ()))
    return found


def _assumed(sources: dict[str, int]) -> Page:
    """What is assumed besides the materials; what each is stands below."""
    known = assumptions()
    rows = tuple(
        (key, *_row(each.number, sources)[1:3], each.number.how, ", ".join(each.moves), _number(sources, each.number))
        for key, each in known.items()
    )
    return Page(
        "assumed: what the tool assumes besides its materials",
        ("key", "value", "range", "how", "moves", "source"),
        rows,
        (
            *(f"{key}: {each.what}" for key, each in known.items()),
            "moves: outcomes that can change with it; curve: a pull after its peak; hand: hand formulas beside a peak.",
            f"In a case: [assumed] {next(iter(known))} = {next(iter(known.values())).number.value:g}, and so on.",
        ),
    )


def _row(value: Value | Word, sources: dict[str, int], now: str | None = None) -> tuple[str, ...]:
    """Cells of one entry, its source by number; `now` adds a cell for the state."""
    if isinstance(value, Word):
        cells: tuple[str, ...] = (value.name, value.word, "")
    else:
        unit = unit_of(value.name)
        words = f" {SHOWN.get(unit, unit)}" if unit else ""
        name = value.name.removesuffix(f"_{unit}") if unit else value.name
        cells = (name, f"{value.value:g}{words}", f"{value.low:g} to {value.high:g}")
    return (*cells, *(() if now is None else (now,)), _number(sources, value))


def _short(number: float) -> str:
    return f"{number:.3g}" if number < 1000 else f"{number:.4g}"


def _title(file: str, name: str) -> str:
    return str(read_tables(file)[name]["title"])


def _number(sources: dict[str, int], value: Value | Word) -> str:
    return _cite(sources, f"{value.how}: {value.source}")


def _cite(sources: dict[str, int], text: str) -> str:
    """The number of a source, [n], in the order of first use."""
    return f"[{sources.setdefault(text, len(sources) + 1)}]"


def _sources(sources: dict[str, int]) -> Page:
    rows = tuple((f"[{number}]", text) for text, number in sources.items())
    return Page("Sources", ("no.", "how known: source"), rows, prose=True)
