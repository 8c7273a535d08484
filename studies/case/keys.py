"""The keys of a case file: one table is the source of defaults, checks, the example file and the README's table."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from ...materials import (
    COLDEST_C,
    CRITERIA,
    FABRICS,
    LONGEST_S,
    OVERRIDES,
    PORE_SCHEMES,
    SHORTEST_S,
    SIZE_EFFECTS,
    WARMEST_C,
    assumptions,
    ice_names,
    metal_names,
)
from ..outcome.models import MODELS

FLUSH, BY_KIND, AS_ICE, ACROSS, FIXED, DEEP = "flush", "by_kind", "as_ice", "across", "fixed", "deep"
BY_METAL = "by_metal"
UNITS = {
    "mm": "mm",
    "deg": "deg",
    "kN": "kN",
    "C": "deg C",
    "s": "s",
    "GPa": "GPa",
    "MPa": "MPa",
    "kPa_sqrt_m": "kPa m^0.5",
    "pitches": "pitches",
}
*_FIRST, _LAST = (model.words for model in MODELS.values())
MODEL_WORDS = f"{'; '.join(_FIRST)}; or {_LAST}"


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the case file: a number between low and high, one of the choices, or either.

    at_most : another key whose value is an upper limit too.  brief : one of many of a kind, shown on one line.
    """

    name: str
    default: float | str
    unit: str
    help: str
    low: float | None = None
    high: float | None = None
    choices: Collection[str] = ()
    at_most: str = ""
    brief: bool = False

    def allowed(self, high: float | None = None) -> str:
        """What is allowed, as an error message says it; `high` if another key sets the limit."""
        words = ", ".join(f'"{choice}"' for choice in self.choices)
        if self.low is None:
            return f"must be one of {words}"
        unit = f" {self.unit}" if self.unit else ""
        limit = f"{self.high:g}{unit}" if high is None else f"{high:.6g}{unit}"
        if high is None and self.at_most:
            limit += f" and at most {self.at_most}"
        return f"must be a number between {self.low:g} and {limit}" + (f", or {words}" if words else "")


def _number(name: str, default: float | str, low: float, high: float, text: str, **more: Any) -> Key:
    unit = next((word for end, word in UNITS.items() if name.endswith(f"_{end}")), "")
    return Key(name, default, unit, text, low, high, **more)


def _of_assumed() -> tuple[Key, ...]:
    """What is assumed besides the materials, as `materials/data/assumed.toml` states it."""
    return tuple(
        _number(f"assumed.{name}", each.number.value, each.least, each.most, each.what)
        for name, each in assumptions().items()
    )


def _of_an_ice(table: str) -> tuple[Key, ...]:
    """What a kind of ice states and a case may override."""
    words = {"fabric": FABRICS, "pore_scheme": PORE_SCHEMES}
    found = [
        _number(f"{table}.{name}", BY_KIND, *OVERRIDES[name], text, choices=(BY_KIND,), brief=True)
        if name in OVERRIDES
        else Key(f"{table}.{name}", BY_KIND, "", text, choices=(BY_KIND, *words[name]), brief=True)
        for name, text in OVERRIDE_WORDS.items()
    ]
    return tuple(found)


OVERRIDE_WORDS = {
    "fabric": "how the crystals lie; columnar: S1 c axes along the columns, S2 square to them",
    "porosity": "share of pores by volume; moves stiffness and strengths",
    "bubble_aspect": "length of a pore along the columns over its width",
    "pore_scheme": "how pores lower the stiffness",
    "grain_size_mm": "grain size; moves the tensile strength",
    "E_GPa": "Young's modulus, isotropic, instead of that worked out from crystal, fabric, temperature and pores",
    "nu": "Poisson's ratio, likewise",
    "tensile_MPa": "tensile strength in the case's ice; no law moves it",
    "K_IC_kPa_sqrt_m": "fracture toughness, likewise",
    "compressive_MPa": "uniaxial compressive strength, likewise",
    "confinement_slope": "Mohr-Coulomb: growth of the largest compression at failure per confinement",
    "deviator_cap_MPa": "Mohr-Coulomb: largest difference of principal stresses that ice bears",
    "pressure_slope": "parabolic: growth of the von Mises stress at failure per mean pressure",
    "peak_pressure_MPa": "parabolic: mean pressure at which the von Mises stress at failure is largest",
}


KEYS: dict[str, Key] = {
    key.name: key
    for key in (
        _number("tube.length_mm", 140.0, 60.0, 300.0, "tip of the tube to hanger eye"),
        _number("tube.od_mm", 17.0, 10.0, 30.0, "outer diameter of the plain body"),
        _number("tube.wall_mm", 1.5, 0.5, 4.0, "wall thickness of the plain body"),
        _number("tube.thread_length_mm", 65.0, 10.0, 300.0, "threaded part, from the tip up", at_most="tube.length_mm"),
        _number(
            "tube.thread_height_mm",
            2.5,
            0.5,
            5.0,
            "height of the thread over the body; enters straight pulls' cones and peaks only",
        ),
        _number(
            "tube.thread_pitch_mm",
            5.0,
            2.0,
            10.0,
            "distance from one turn of the thread to the next; enters straight pulls' cones and peaks only",
        ),
        _number("tube.eye_mm", 10.0, 2.0, 30.0, "height of the hanger eye above the ice when driven flush"),
        _number(
            "tube.hanger_kN",
            10.0,
            0.0,
            100.0,
            "strength of the hanger as its maker states it, of steel or aluminium (EN 568 asks for 10 kN at least; "
            "from memory); does not enter the onset",
        ),
        Key("tube.metal", "chromoly_steel", "", "metal of the tube", choices=tuple(metal_names())),
        _number(
            "tube.yield_MPa",
            BY_METAL,
            50.0,
            2500.0,
            "yield strength of the tube's metal, of its temper, instead of the metal's; at most the ultimate strength",
            choices=(BY_METAL,),
        ),
        _number(
            "tube.ultimate_MPa",
            BY_METAL,
            50.0,
            3000.0,
            "ultimate strength, likewise; strains at the largest load and at break stay the metal's",
            choices=(BY_METAL,),
        ),
        _number("placement.angle_deg", 0.0, -45.0, 45.0, "from the surface normal; positive: head leans to the pull"),
        _number(
            "placement.embedment_mm",
            FLUSH,
            30.0,
            300.0,
            'length of tube inside the ice, along it; "flush" is tube.length_mm - tube.eye_mm',
            choices=(FLUSH,),
            at_most="tube.length_mm",
        ),
        Key(
            "placement.attachment",
            "eye",
            "",
            "where the pull enters: the hanger eye, or a sling round the bare shank",
            choices=("eye", "tied_off"),
        ),
        _number(
            "placement.sling_height_mm",
            0.0,
            0.0,
            270.0,
            'height of the sling above the ice, along the tube; with "tied_off" only, at most the eye\'s',
        ),
        _number(
            "placement.sling_friction",
            FIXED,
            0.0,
            5.0,
            "friction of a sling that can slide along the shank (textile on smooth steel: 0.1 to 0.3, from memory); "
            'enters peaks only; "fixed": a hitch that holds',
            choices=(FIXED,),
        ),
        _number(
            "placement.sling_kN",
            22.0,
            0.0,
            100.0,
            "strength of the sling as its maker states it; does not enter the onset",
        ),
        _number(
            "pull.direction_deg", 0.0, 0.0, 90.0, "from the surface: 0 along it (shear), 90 straight out (tension)"
        ),
        _number(
            "pull.travel_mm",
            150.0,
            5.0,
            250.0,
            "movement of the load point up to which the peak is counted: farther, a hauling rig runs out of strand",
        ),
        _number(
            "pull.turn_deg",
            60.0,
            5.0,
            180.0,
            "turn of the head up to which the peak is counted: turned farther, the hanger lies on the ice",
        ),
        Key("ice.kind", "sound_glacier", "", "ice below the crust", choices=tuple(ice_names())),
        _number("ice.temperature_C", -5.0, COLDEST_C, WARMEST_C, "temperature of the ice"),
        _number(
            "ice.crust_mm",
            0.0,
            0.0,
            100.0,
            "thickness of soft sun crust on top, at most 0.8 of the depth of the tip; 0 or at least 2",
        ),
        _number(
            "ice.thickness_mm",
            DEEP,
            30.0,
            2000.0,
            "thickness of the ice over rock, more than the depth of the tip; checked only, not used: on firmly "
            "bonded rock a straight pull's cone would hold 0.94 to 1.01 of that in deep ice (computed)",
            choices=(DEEP,),
        ),
        _number("ice.load_time_s", 10.0, SHORTEST_S, LONGEST_S, "time from no load to failure; moves strengths"),
        _number(
            "ice.column_tilt_deg",
            0.0,
            -90.0,
            90.0,
            "columns from the surface normal, positive as the placement angle; across: along the surface, square to "
            "the pull; no effect if the fabric is isotropic",
            choices=(ACROSS,),
        ),
        Key("ice.criterion", CRITERIA[0], "", "failure surface under pressure; tension is cut off", choices=CRITERIA),
        Key("ice.size_effect", SIZE_EFFECTS[0], "", "tensile strength by volume, in onsets only", choices=SIZE_EFFECTS),
        *_of_an_ice("ice"),
        Key("crust.kind", "sun_crust", "", "ice of the crust", choices=tuple(ice_names())),
        _number(
            "crust.temperature_C",
            AS_ICE,
            COLDEST_C,
            WARMEST_C,
            "temperature of the crust",
            choices=(AS_ICE,),
        ),
        *_of_an_ice("crust"),
        *_of_assumed(),
        Key(
            "numerics.level",
            "standard",
            "",
            "how fine the mesh is: quick to try out, standard to report, fine to check",
            choices=("quick", "standard", "fine"),
        ),
        Key(
            "numerics.model",
            "peak",
            "",
            f"how far the prediction goes: {MODEL_WORDS}",
            choices=MODELS.keys(),
        ),
    )
}
TABLES = tuple(dict.fromkeys(name.partition(".")[0] for name in KEYS))


def _toml(value: float | str) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def example_text() -> str:
    """A case file with every key at its default, its meaning, unit and range beside it."""
    lines = [
        "# An invented demo case: a made-up tube of trade-like size (common practice) in made-up ice.",
        "# Every key may be left out; the values below are the defaults. The unit is the end of each name.",
    ]
    for table in TABLES:
        lines += ["", f"[{table}]"]
        lines += ["# source and plausible range of each: icecone materials assumed"] if table == "assumed" else []
        first_brief = True
        for key in KEYS.values():
            if not key.name.startswith(table + "."):
                continue
            if key.brief and first_brief:
                lines.append(f'# "{BY_KIND}": as the kind of ice states it (icecone materials NAME)')
                first_brief = False
            allowed, line = (
                key.allowed().removeprefix("must be "),
                f"{key.name.partition('.')[2]} = {_toml(key.default)}",
            )
            lines += [f"{line}  # {key.help}: {allowed}"] if key.brief else [f"# {key.help}", f"# {allowed}", line]
    return "\n".join(lines) + "\n"


def keys_table() -> str:
    """The keys as a Markdown table for the README."""
    rows = ["| key | default | allowed | meaning |", "| --- | --- | --- | --- |"]
    for key in KEYS.values():
        if key.brief and key.name.startswith("crust."):
            continue
        allowed = key.allowed().removeprefix("must be ")
        rows.append(f"| `{key.name}` | `{_toml(key.default)}` | {allowed} | {key.help} |")
    first, last = next(iter(OVERRIDE_WORDS)), next(reversed(OVERRIDE_WORDS))
    rows.append(f'| `crust.{first}` to `crust.{last}` | `"{BY_KIND}"` | as of `ice` | the same of the crust |')
    return "\n".join(rows) + "\n"
