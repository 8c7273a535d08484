"""Whether what a file holds can be a law at all: its keys, finite numbers, lengths that agree, bounds of the possible.

A digest only says that a file is what somebody wrote. More keys than these may be there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from math import prod
from typing import Any

LARGEST = 1e300
ROUNDED = 1e-3  # of weights that are kept as text


def law_problem(name: str, law: object) -> str:
    """What keeps this from being the law `name`, "" if nothing does; a law that is not known here is any data."""
    if not isinstance(law, dict) or not law:
        return "no table of values"
    try:
        return CHECKS.get(name, _nothing)(law)
    except KeyError as key:
        return f"{key.args[0]}: missing"


def is_number(value: object) -> bool:
    """A finite number, no truth value."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST


def is_numbers(value: object) -> bool:
    """A list of finite numbers."""
    return isinstance(value, list) and all(map(is_number, value))


def _nothing(law: Mapping[str, Any]) -> str:
    return ""


def _error(law: Mapping[str, Any]) -> str:
    """The error of the computation that is kept beside each law."""
    return "" if is_number(law["error"]) and law["error"] >= 0 else "error: must be a number from 0"


def _curve(x: str, y: str) -> Callable[[Mapping[str, Any]], str]:
    """A law of two lists: x rises, y is positive."""

    def check(law: Mapping[str, Any]) -> str:
        xs, ys = law[x], law[y]
        if not (is_numbers(xs) and len(xs) > 1 and xs[0] > 0 and all(a < b for a, b in pairwise(xs))):
            return f"{x}: must be positive numbers that rise"
        if not (is_numbers(ys) and len(ys) == len(xs) and min(ys) > 0):
            return f"{y}: must be as many positive numbers as {x}"
        return _error(law)

    return check


def _wall(law: Mapping[str, Any]) -> str:
    return _error(law) if is_number(law["kappa"]) and law["kappa"] > 0 else "kappa: must be a positive number"


def _path(law: Mapping[str, Any]) -> str:
    rise = law["rise_deg"]
    return _error(law) if is_number(rise) and abs(rise) < 180 else "rise_deg: must be a number between -180 and 180"


FACTORS = ("factor_low", "factor", "factor_high")


def _factor(law: Mapping[str, Any]) -> str:
    for name in FACTORS:
        if not (is_number(law[name]) and law[name] > 0):
            return f"{name}: must be a positive number"
    return _error(law)


def _factors(law: Mapping[str, Any]) -> str:
    return next((problem for name in FACTORS if (problem := _curve("reach_radii", name)(law))), "")


def _fronts(law: Mapping[str, Any]) -> str:
    from ...fem.cone.demand import CONES, HARMONICS, NODES, RANK, RINGS

    shape = [CONES, len(RINGS), RANK, HARMONICS, 3, NODES]
    if law["shape"] != shape:
        return f"shape: must be {shape}"
    if not isinstance(law["weights"], str):
        return "weights: must be a text of numbers"
    weights = _numbers(law["weights"].split())
    if len(weights) != prod(shape) or not is_numbers(weights):
        return f"weights: must be {prod(shape)} numbers"
    if abs(max(map(abs, weights)) - 1) > ROUNDED:
        return "weights: the largest must be 1"
    return _error(law)


def _numbers(words: Sequence[str]) -> list[float]:
    try:
        return [float(word) for word in words]
    except ValueError:
        return []


CHECKS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "cone": _curve("embedment_m", "c"),
    "chip": _curve("depth_m", "force_per_K"),
    "path": _path,
    "crushing": _factors,
    "crushing_surface": _factor,
    "stamp": _factor,
    "wall": _wall,
    "fronts": _fronts,
}
