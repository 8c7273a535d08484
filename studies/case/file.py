"""The case file: read, completed by the defaults of `case.keys`, checked, turned into a case.

    [table]            read_case           to_case
    key = value   ->   Settings (flat) ->  fem.case.Case (SI)

Settings are a plain flat dict in the users' units, every key present, `"tube.length_mm" -> 140.0`: what is recorded,
swept and compared. Bad input raises CaseError: one line that names file and line, key, value and what is allowed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import cos, inf, isfinite, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...materials import assumed_from, assumptions, check_ice, metal_named
from .keys import (
    ACROSS,
    AS_ICE,
    BY_KIND,
    BY_METAL,
    DEEP,
    FIXED,
    FLUSH,
    KEYS,
    OVERRIDE_WORDS,
    TABLES,
    Key,
    example_text,
    keys_table,
)
from .overrides import parse_overrides
from .toml import CaseError, did_you_mean, read_toml, shown

if TYPE_CHECKING:
    from ...fem.case import Case
    from ...materials import Assumed, Ice, Metal

__all__ = ["KEYS", "CaseError", "Key", "Settings", "example_text", "keys_table", "read_case", "settings_from"]

Settings = dict[str, float | str]
Origin = Callable[[str], str]  # key -> "file:line: ", or nothing
TEMPER = {"yield_strength": "tube.yield_MPa", "ultimate_strength": "tube.ultimate_MPa"}
THINNEST_CRUST_MM = 2.0  # thinner than the elements beside it
CRUST_SHARE = 0.8  # of the depth of the tip: the tube must end in sound ice


def flatten(tables: Mapping[str, Any], where: Callable[..., str]) -> dict[str, Any]:
    """Nested tables to flat keys, unchecked values. `where(*parts)` says where a table or key is written.

    Raises CaseError for a table or key that there is none of.
    """
    flat: dict[str, Any] = {}
    for table, content in tables.items():
        if table not in TABLES:
            raise CaseError(_unknown(table, content, where(table)))
        if not isinstance(content, Mapping):
            raise CaseError(f"{where(table)}{table} = {shown(content)}: must be a table, written [{table}]")
        for name, value in content.items():
            key = f"{table}.{name}"
            if key not in KEYS:
                raise CaseError(_unknown(key, value, where(table, name)))
            flat[key] = value
    return flat


def _unknown(key: str, value: object, origin: str) -> str:
    if isinstance(value, Mapping) and "." not in key:
        hint = did_you_mean(key, {name: name for name in TABLES})
        return f"{origin}[{key}]: unknown table: must be one of {', '.join(TABLES)}{hint}"
    last = {name.partition(".")[2]: name for name in KEYS}
    own = key.rpartition(".")[2]
    hint = f"; did you mean {last[own]}?" if own in last else did_you_mean(key, {name: name for name in KEYS})
    hint = hint or did_you_mean(own, last)
    of_table = [name for name in KEYS if name.startswith(key.partition(".")[0] + ".")] or list(TABLES)
    return f"{origin}{key} = {shown(value)}: unknown key: must be one of {', '.join(of_table)}{hint}"


def settings_from(given: Mapping[str, Any], origin: Origin = lambda key: "") -> Settings:
    """Complete and check settings: defaults for what is not given, "flush" as a number, all numbers as float.

    Raises CaseError for an unknown key, a wrong type, a value out of range, or values that do not go together.
    """
    for name, value in given.items():
        if name not in KEYS:
            raise CaseError(_unknown(name, value, origin(name)))
    settings = {key.name: _value(key, given.get(key.name, key.default), origin) for key in KEYS.values()}
    length = float(settings["tube.length_mm"])
    if settings["placement.embedment_mm"] == FLUSH:
        settings["placement.embedment_mm"] = round(length - float(settings["tube.eye_mm"]), 9)
    _at_most(settings, given, "tube.thread_length_mm", length, "tube.length_mm", origin)
    _at_most(settings, given, "placement.embedment_mm", length, "tube.length_mm", origin)
    depth = float(settings["placement.embedment_mm"]) * cos(radians(float(settings["placement.angle_deg"])))
    deepest = CRUST_SHARE * depth
    _at_most(settings, given, "ice.crust_mm", deepest, f"{CRUST_SHARE:g} of the depth of the tip", origin)
    crust = float(settings["ice.crust_mm"])
    if 0.0 < crust < THINNEST_CRUST_MM:
        allowed = f"must be 0 or lie between {THINNEST_CRUST_MM:g} and {KEYS['ice.crust_mm'].high:g} mm"
        raise CaseError(f"{origin('ice.crust_mm')}ice.crust_mm = {shown(crust)}: {allowed}")
    _check_rock(settings, depth, origin)
    _check_sling(settings, given, origin)
    for table in ("ice", "crust"):
        _check_ice(settings, table, origin)
    _check_metal(settings, origin)
    _check_assumed(settings, origin)
    return settings


def _check_rock(settings: Settings, depth: float, origin: Origin) -> None:
    """The tube ends above the rock, its lower edge too; depth : of the axis' end [mm]."""
    thickness = settings["ice.thickness_mm"]
    lean = abs(sin(radians(float(settings["placement.angle_deg"]))))
    edge = depth + 0.5 * float(settings["tube.od_mm"]) * lean
    if thickness != DEEP and not float(thickness) > edge:
        allowed = f'must be more than {edge:.6g} mm, the depth of the tip, or "{DEEP}"'
        raise CaseError(f"{origin('ice.thickness_mm')}ice.thickness_mm = {shown(thickness)}: {allowed}")


def _check_sling(settings: Settings, given: Mapping[str, Any], origin: Origin) -> None:
    """A sling has its place on the bare shank; at the eye there is none to place or to slide."""
    height, friction = "placement.sling_height_mm", "placement.sling_friction"
    if settings["placement.attachment"] == "eye":
        for name in (height, friction):
            if settings[name] != KEYS[name].default:
                allowed = f'must be {shown(KEYS[name].default)} where placement.attachment = "eye"'
                raise CaseError(f"{origin(name)}{name} = {shown(settings[name])}: {allowed}")
    bare = float(settings["tube.length_mm"]) - float(settings["placement.embedment_mm"])
    _at_most(settings, given, height, bare, "tube.length_mm - placement.embedment_mm", origin)


def _check_ice(settings: Settings, table: str, origin: Origin) -> None:
    """What is overridden must go together with the rest of the kind."""
    if problem := _ice_problem(*_kind_and_state(settings, table), tuple(overrides_of(settings, table).items())):
        name = f"{table}.{problem.split(' ', 1)[0]}"
        kind = f" (of {settings[f'{table}.kind']})" if settings.get(name) == BY_KIND else ""
        raise CaseError(f"{origin(name)}{table}.{problem}{kind}")


@lru_cache(maxsize=1024)
def _ice_problem(kind: str, temperature_C: float, time: float, overrides: tuple[tuple[str, float | str], ...]) -> str:
    """What keeps an ice from being one, "" if nothing does: asked again and again by a study whose ices are alike."""
    try:
        check_ice(kind, temperature_C, time, dict(overrides))
        return ""
    except ValueError as error:
        return str(error)


def _check_metal(settings: Settings, origin: Origin) -> None:
    """The metal yields before it is at its ultimate strength."""
    yields, holds = TEMPER.values()
    strengths = _strengths(settings)
    if strengths[yields] > strengths[holds]:
        name, other, word = (holds, yields, "least") if settings[yields] == BY_METAL else (yields, holds, "most")
        whose = f" (of {settings['tube.metal']})" if settings[other] == BY_METAL else ""
        limit = f"must be at {word} {other} = {strengths[other]:g}{whose}"
        raise CaseError(f"{origin(name)}{name} = {strengths[name]:g}: {limit}")


def _strengths(settings: Settings) -> dict[str, float]:
    """Yield and ultimate strength [MPa] by their keys: as the case states them, or the metal's."""
    metal = metal_named(str(settings["tube.metal"]))
    return {
        key: getattr(metal, name) / 1e6 if settings[key] == BY_METAL else float(settings[key])
        for name, key in TEMPER.items()
    }


def metal_of(settings: Settings) -> Metal:
    """The metal of checked settings, of the temper that they state."""
    metal, strengths = metal_named(str(settings["tube.metal"])), _strengths(settings)
    own = {name: getattr(metal, name) for name, key in TEMPER.items() if settings[key] == BY_METAL}
    si = {name: own.get(name, 1e6 * strengths[key]) for name, key in TEMPER.items()}
    return replace(metal, yield_strength=si["yield_strength"], ultimate_strength=si["ultimate_strength"])


def _check_assumed(settings: Settings, origin: Origin) -> None:
    """What is assumed must go together."""
    try:
        assumed_of(settings)
    except ValueError as error:
        name = f"assumed.{str(error).split(' ', 1)[0]}"
        raise CaseError(f"{origin(name)}assumed.{error}") from None


def assumed_of(settings: Settings) -> Assumed:
    """What settings assume. Raises ValueError, one line, if two values do not go together."""
    return assumed_from({name: float(settings[f"assumed.{name}"]) for name in assumptions()})


def _kind_and_state(settings: Settings, table: str) -> tuple[str, float, float]:
    """Kind, temperature [deg C] and loading time [s] of the ice or the crust."""
    temperature = settings[f"{table}.temperature_C"]
    temperature = settings["ice.temperature_C"] if temperature == AS_ICE else temperature
    return str(settings[f"{table}.kind"]), float(temperature), float(settings["ice.load_time_s"])


def overrides_of(settings: Settings, table: str) -> dict[str, float | str]:
    """What a case states itself of its ice or crust, instead of taking it from the kind."""
    return {name: value for name in OVERRIDE_WORDS if (value := settings[f"{table}.{name}"]) != BY_KIND}


def ice_of(settings: Settings, table: str) -> Ice:
    """The ice (`table` "ice") or the crust ("crust") of checked settings."""
    from ...materials import ice_named

    tilt = settings["ice.column_tilt_deg"]
    lean = 0.0 if tilt == ACROSS else radians(float(tilt))
    columns = (0.0, 1.0, 0.0) if tilt == ACROSS else (sin(lean), 0.0, cos(lean))
    kind, temperature, time = _kind_and_state(settings, table)
    criterion = str(settings["ice.criterion"])
    return ice_named(kind, temperature, time, columns, criterion, overrides_of(settings, table))


def _value(key: Key, value: object, origin: Origin) -> float | str:
    """The checked value of one key, on its own."""
    if isinstance(value, str) and value in key.choices:
        return value
    if key.low is not None and key.high is not None and isinstance(value, int | float) and not isinstance(value, bool):
        try:
            number = float(value) + 0.0  # -0.0 is 0.0
        except OverflowError:
            number = float("inf")
        if isfinite(number) and key.low <= number <= key.high:
            return number
    raise CaseError(f"{origin(key.name)}{key.name} = {shown(value)}: {key.allowed()}")


def _at_most(settings: Settings, given: Mapping[str, Any], name: str, limit: float, what: str, origin: Origin) -> None:
    value = float(settings[name])
    if value > limit:
        default = "" if name in given else " (the default)"
        raise CaseError(f"{origin(name)}{name} = {shown(value)}{default}: {KEYS[name].allowed(limit)} ({what})")


def checked_overrides(overrides: Iterable[str]) -> dict[str, Any]:
    """`KEY=VALUE` arguments for cases that are not known yet, each value checked on its own. Raises CaseError."""
    given = parse_overrides(overrides)
    for name, value in given.items():
        if name not in KEYS:
            raise CaseError(_unknown(name, value, "--set "))
        given[name] = _value(KEYS[name], value, lambda key: "--set ")
    return given


def read_case(path: Path, overrides: Sequence[str] = ()) -> Settings:
    """Settings of a case file, `KEY=VALUE` overrides applied. Raises CaseError."""
    file = read_toml(path)
    given = flatten(file.data, file.where)
    changed = parse_overrides(overrides)

    def origin(key: str) -> str:
        return "--set " if key in changed else file.where(*key.split(".", 1))

    return settings_from({**given, **changed}, origin)


def settings_id(settings: Settings) -> str:
    """A short name for these settings: the same whenever the same case is meant, 16 hexadecimal digits."""
    plain = {key: value if isinstance(value, str) else float(value) + 0.0 for key, value in settings.items()}
    return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()[:16]


def to_case(settings: Settings) -> Case:
    """The case in SI units. `settings` are checked ones (`settings_from`)."""
    from ...fem.case import Case
    from ...geometry.placement import Placement, Pull, Tube

    def number(key: str) -> float:
        return float(settings[key])

    def word(key: str) -> Any:
        return settings[key]

    return Case(
        tube=Tube(
            length=number("tube.length_mm") * 1e-3,
            outer_diameter=number("tube.od_mm") * 1e-3,
            wall=number("tube.wall_mm") * 1e-3,
            thread_length=number("tube.thread_length_mm") * 1e-3,
            thread_height=number("tube.thread_height_mm") * 1e-3,
            thread_pitch=number("tube.thread_pitch_mm") * 1e-3,
            eye=number("tube.eye_mm") * 1e-3,
            hanger_strength=number("tube.hanger_kN") * 1e3,
        ),
        placement=Placement(
            angle=radians(number("placement.angle_deg")),
            embedment=number("placement.embedment_mm") * 1e-3,
            attachment=word("placement.attachment"),
            sling_strength=number("placement.sling_kN") * 1e3,
            sling_height=number("placement.sling_height_mm") * 1e-3,
            sling_friction=inf if word("placement.sling_friction") == FIXED else number("placement.sling_friction"),
        ),
        pull=Pull(
            radians(number("pull.direction_deg")), number("pull.travel_mm") * 1e-3, radians(number("pull.turn_deg"))
        ),
        ice=ice_of(settings, "ice"),
        metal=metal_of(settings),
        crust_ice=ice_of(settings, "crust"),
        crust=number("ice.crust_mm") * 1e-3,
        level=word("numerics.level"),
        assumed=assumed_of(settings),
        size_effect=word("ice.size_effect"),
    )
