"""What may be chosen of a tube in a design search: keys with the values that they may take.

[choose.tube]    length_mm = { low = 100, high = 220, step = 10 }     both ends and what lies between
                 metal = ["chromoly_steel", "titanium_alloy"]         a list
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any

from ..case.file import KEYS, CaseError, flatten
from ..case.mass import MASS_KEYS
from ..case.toml import TomlFile, shown

RANGE = ("low", "high", "step")
MOST_VALUES = 1000
Choices = Mapping[str, tuple[float | str, ...]]


def read_choices(file: TomlFile) -> Choices:
    """The values of each key that is chosen. Raises CaseError."""
    given = flatten(file.data["choose"], lambda *names: f"{file.where('choose', *names)}choose.")
    if not set(given) & set(MASS_KEYS):
        allowed = f"must give one key or more that moves the mass: {', '.join(MASS_KEYS)}"
        raise CaseError(f"{file.where('choose')}[choose]: {allowed}")
    found = {}
    for key, each in given.items():
        where = f"{file.where('choose', *key.split('.'))}choose.{key}"
        if key.startswith("numerics."):
            raise CaseError(f"{where}: must be a key of tube, placement, pull or ice")
        found[key] = _stepped(each, key, where) if isinstance(each, Mapping) else _listed(each, key, where)
    return found


def _stepped(given: Mapping[str, Any], key: str, where: str) -> tuple[float, ...]:
    """From low to high by steps."""
    for name in (*given, *RANGE):
        if name not in RANGE or name not in given:
            what = "missing" if name not in given else shown(given[name])
            raise CaseError(f"{where}.{name} = {what}: must be one of {', '.join(RANGE)}, all of them given")
        if isinstance(given[name], bool) or not isinstance(given[name], int | float) or not isfinite(given[name]):
            raise CaseError(f"{where}.{name} = {shown(given[name])}: must be a number")
    low, high, step = (float(given[name]) for name in RANGE)
    known = KEYS[key]
    for name, value in (("low", low), ("high", high)):
        if known.low is None or known.high is None or not known.low <= value <= known.high:
            raise CaseError(f"{where}.{name} = {value:g}: {known.allowed()}")
    if not low < high:
        raise CaseError(f"{where}.high = {high:g}: must be more than low = {low:g}")
    steps = (high - low) / step if step > 0 else 0.0
    if not 1 - 1e-9 <= steps < MOST_VALUES or abs(steps - round(steps)) > 1e-6:
        allowed = f"must go a whole number of times, {MOST_VALUES - 1} at most, into high - low = {high - low:g}"
        raise CaseError(f"{where}.step = {step:g}: {allowed}")
    return tuple(round(low + at * step, 9) for at in range(round(steps) + 1))


def _listed(given: Any, key: str, where: str) -> tuple[float | str, ...]:
    if not isinstance(given, list) or not given:
        raise CaseError(f"{where} = {shown(given)}: must be {{ low, high, step }} or a list of one value or more")
    for at, value in enumerate(given):
        if value in given[:at]:
            raise CaseError(f"{where} = {shown(given)}: must not hold {shown(value)} twice")
        known, number = KEYS[key], isinstance(value, int | float) and not isinstance(value, bool)
        inside = number and known.low is not None and known.high is not None and known.low <= value <= known.high
        if not inside and value not in known.choices:
            raise CaseError(f"{where} = {shown(value)}: {known.allowed()}")
    return tuple(value if isinstance(value, str) else float(value) for value in given)
