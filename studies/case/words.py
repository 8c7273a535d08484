"""Words for keys, values and cases, on axes, in titles and under pictures; every key of `case.keys` has some."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ...materials.data_file import read_tables, unit_of
from .keys import AS_ICE, BY_KIND, BY_METAL, DEEP, FIXED, KEYS, Key

if TYPE_CHECKING:
    from ..outcome.data import Outcome
    from ..outcome.results import Point

_OWN_AXIS = {
    "placement.angle_deg": "placement angle [deg]   (negative: head leans away from the pull; positive: toward it)",
    "placement.embedment_mm": "embedment [mm]",
    "placement.attachment": "where the pull enters",
    "placement.sling_height_mm": "height of the sling above the ice [mm]",
    "placement.sling_friction": "friction of the sling on the shank",
    "pull.direction_deg": "pull direction [deg]   (0: along the surface; 90: straight out)",
    "pull.travel_mm": "movement of the load point up to which the peak is counted [mm]",
    "pull.turn_deg": "turn of the head up to which the peak is counted [deg]",
    "ice.kind": "kind of ice",
    "ice.crust_mm": "crust [mm]",
    "ice.thickness_mm": "thickness of the ice over rock [mm]",
    "ice.temperature_C": "ice temperature [deg C]",
    "ice.load_time_s": "time from no load to failure [s]",
    "ice.column_tilt_deg": "columns from the surface normal [deg]   (positive: top toward the pull)",
    "ice.criterion": "failure surface under pressure",
    "ice.size_effect": "size effect on the tensile strength",
    "tube.length_mm": "tube length [mm]",
    "crust.kind": "kind of ice of the crust",
    "numerics.level": "how fine the mesh is",
    "numerics.model": "how far the prediction goes",
}
_NOUNS = {  # where a key's own name says too little: on an axis, in a line
    "od": ("outer diameter", "diameter"),
    "eye": ("height of the eye", "eye height"),
    "yield": ("yield strength", "yield"),
    "ultimate": ("ultimate strength", "ultimate strength"),
    "hanger": ("strength of the hanger", "hanger"),
    "sling": ("strength of the sling", "sling"),
    "E": ("Young's modulus", "E"),
    "nu": ("Poisson's ratio", "Poisson's ratio"),
    "tensile": ("tensile strength", "tension"),
    "K_IC": ("fracture toughness K_IC", "K_IC"),
    "compressive": ("compressive strength", "compression"),
}
_LINES = {  # whole phrases; {} is the value with its unit
    "tube.length_mm": "tube {} long",
    "tube.metal": "{}",
    "placement.embedment_mm": "{} in the ice",
    "placement.attachment": "{}",
    "placement.sling_height_mm": "tied off {} above the ice",
    "pull.direction_deg": "pull {} from the surface",
    "pull.travel_mm": "counted up to {} of movement",
    "pull.turn_deg": "counted up to a turn of {}",
    "ice.kind": "{}",
    "ice.temperature_C": "at {}",
    "ice.load_time_s": "loaded in {}",
    "ice.column_tilt_deg": "columns {}",
    "ice.crust_mm": "crust {}",
    "ice.thickness_mm": "ice over rock: {}",
    "placement.sling_friction": "friction of the sling {}",
    "ice.criterion": "{} failure surface",
    "ice.size_effect": "size effect: {}",
    "crust.kind": "crust of {}",
    "crust.temperature_C": "crust at {}",
    "numerics.level": "{} mesh",
    "numerics.model": "model: {}",
}
_PHRASES = {  # of a key at one value
    ("pull.direction_deg", 0): "pulled along the surface",
    ("pull.direction_deg", 90): "pulled straight out",
    ("placement.sling_friction", FIXED): "sling that cannot slide",
}
_VALUES = {
    "tied_off": "tied off at the ice",
    "eye": "pulled at the eye",
    "mohr_coulomb": "Mohr-Coulomb",
    "weakest_link": "weakest link",
    AS_ICE: "the ice's temperature",
    BY_KIND: "as of its kind",
    BY_METAL: "as of its metal",
    DEEP: "no rock near",
}
_ALWAYS = (
    "placement.angle_deg",
    "tube.length_mm",
    "tube.od_mm",
    "tube.wall_mm",
    "placement.embedment_mm",
    "placement.attachment",
    "pull.direction_deg",
    "ice.kind",
    "ice.temperature_C",
)

ASSUMED_SHORT = {  # name of an assumption: how it is called
    "crushing_share": "pressure of crushing over limit analysis",
    "loose_ice_gone_mm": "motion until a chip is gone [mm]",
    "chip_border_shift_deg": "border between chips and cracks that dive [deg]",
    "steel_friction": "friction of steel on ice",
    "thread_shear_share": "shear of the threads over the cap",
    "strain_limit_share": "strain at which the wall breaks",
    "fallen_share": "fall of the load that ends a pull",
    "thread_softening_pitches": "fall of the threads [pitches]",
}


def _plain_name(key: Key) -> str:
    """The key's name without table and unit."""
    name = key.name.partition(".")[2]
    return name.removesuffix(f"_{unit_of(name)}") if key.unit and key.unit != "deg" else name.removesuffix("_deg")


def _axis_words(key: Key) -> str:
    if key.name in _OWN_AXIS:
        return _OWN_AXIS[key.name]
    name, table = _plain_name(key), key.name.partition(".")[0]
    if table == "assumed":
        return key.help + (f" [{key.unit}]" if key.unit else "")
    noun = _NOUNS.get(name, (name.replace("_", " "),))[0]
    return f"{noun} of the {table}" + (f" [{key.unit}]" if key.unit else "")


AXIS_WORDS = {name: _axis_words(key) for name, key in KEYS.items()}


def short_words(name: str, value: float | str) -> str:
    """A key at a value in few words: `columns −45°`, `loaded in 10 s`, `crust porosity 0.1`."""
    if name == "placement.angle_deg":
        return _lean(float(value))
    if (name, value) in _PHRASES:
        return _PHRASES[name, value]
    key = KEYS[name]
    if isinstance(value, str):
        text = _VALUES.get(value) or _kind_words(value)
    else:
        unit = {"deg": "°", "deg C": " °C", "": ""}.get(key.unit, f" {key.unit}")
        text = f"{value:g}{unit}".replace("-", "−") if key.unit else f"{value:g}"
    if name in _LINES:
        return _LINES[name].format(text)
    plain = _plain_name(key)
    noun = _NOUNS.get(plain, ("", plain.replace("_", " ")))[1]
    return f"{'crust ' if name.startswith('crust.') else ''}{noun} {text}"


def case_words(case: Mapping[str, Any], outcome: Outcome | None = None, but: Collection[str] = ()) -> str:
    """What is placed, in what, how it is pulled, and whatever else differs from the defaults; on one line.

    outcome : of the case, says whether its ice has columns; without it their tilt is left out.  but : keys left out.
    """
    others = sorted(
        (name for name in KEYS if name not in _ALWAYS and not name.startswith("numerics.")), key=_of_the_crust
    )
    said = [
        short_words(name, case[name])
        for name in (*_ALWAYS, *others)
        if name in case and name not in but and _worth_saying(name, case, outcome)
    ]
    return ", ".join(said) + ("" if "numerics.level" in but else f", {case['numerics.level']} mesh")


def _of_the_crust(name: str) -> bool:
    return name.startswith(("crust.", "ice.crust_"))


def _worth_saying(name: str, case: Mapping[str, Any], outcome: Outcome | None) -> bool:
    """Always said, or other than the default if it enters at all."""
    if name == "placement.attachment" and case.get("placement.sling_height_mm"):
        return False  # its height says it
    if name in _ALWAYS:
        return True
    if name.startswith("crust.") and not case["ice.crust_mm"]:
        return False
    if name == "ice.column_tilt_deg" and not (outcome and columns_of(outcome)):
        return False
    return bool(case[name] != KEYS[name].default)


def columns_of(outcome: Outcome) -> dict[str, Point]:
    """Direction (x, y, z) of the columns in "ice" and "crust", as far as there are any."""
    parts = {"ice": outcome.ice, "crust": outcome.crust}
    return {name: part.column_axis for name, part in parts.items() if part and part.column_axis}


def varying(outcomes: Sequence[Outcome]) -> set[str]:
    """Keys of the case that are not the same in all outcomes."""
    first = outcomes[0].case
    return {name for name in first if any(each.case.get(name) != first[name] for each in outcomes)}


def _kind_words(value: str) -> str:
    """A kind of ice by the first words of its title, another word without its underscores."""
    title = str(read_tables("ices.toml").get(value, {}).get("title", ""))
    return title.partition(":")[0] or value.replace("_", " ")


def _lean(angle: float) -> str:
    if angle == 0:
        return "perpendicular (0°)"
    return f"head {'toward' if angle > 0 else 'away from'} the pull ({angle:+g}°)".replace("-", "−")


def short_name(key: str) -> str:
    """A key in few words, without its unit."""
    own = ASSUMED_SHORT.get(key.removeprefix("assumed."))
    return (own or AXIS_WORDS.get(key, key)).partition("   (")[0].partition(" [")[0]
