"""Keys of a case that cannot move its peak: found by asking, a key at a time, what a pull would be given.

A pull is a function of tube, placement, way of the pull, metal, what is assumed and the laws of the ice, and of nothing
else (`fem.tube.peak.pull_case`); with the strength of the part that is pulled at it makes the limit. A key cannot move
them if all of these stay the same at other values of it: both ends of what is allowed, values near its own, every word.
A law that is asked for with other inputs counts as moved, so that nothing is computed.

Limits: what is named cannot move the peak. A key that is not named may leave it as it is all the same: the pull is
given it, but what it changes does not decide. Numbers are tried at a few values, not at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from ...fem.case import Case
from ...fem.laws.gather import peak_laws
from ...fem.laws.recipes import Inputs, Law, Recipe
from ...fem.tube.peak import stated_strength
from ...geometry import MeshError
from ..case.file import KEYS, CaseError, Settings, settings_from, to_case
from ..files.laws import file_name, kept_law

MODEL = "numerics.model"
NEAR = (0.97, 1.03)  # times a number's own value


class _Another(Exception):
    """A law with other inputs."""


def idle_keys(settings: Settings) -> tuple[str, ...]:
    """The keys that cannot move the peak and the limit of this case."""
    case, known = _without_idle_crust(to_case(settings)), {}

    def note(name: str, inputs: Inputs, recipe: Recipe) -> Law:
        return known.setdefault(file_name(name, inputs), kept_law(name, inputs, recipe))

    def remember(name: str, inputs: Inputs, recipe: Recipe) -> Law:
        if file_name(name, inputs) not in known:
            raise _Another
        return known[file_name(name, inputs)]

    laws = peak_laws(case, note)

    def moves(other: Case) -> bool:
        if not _same(_given(case), _given(other)):
            return True
        try:
            return not _same(laws, peak_laws(other, remember))
        except (_Another, MeshError, ValueError):
            return True

    found = []
    for key in KEYS:
        others = [_without_idle_crust(to_case(other)) for other in _others(settings, key)]
        if key != MODEL and others and not any(map(moves, others)):
            found.append(key)
    return tuple(found)


def _without_idle_crust(case: Case) -> Case:
    """Where there is no crust its ice is nowhere, though its laws are asked for."""
    return case if case.crust > 0 else replace(case, crust_ice=case.ice)


def _given(case: Case) -> tuple[Any, ...]:
    """What a pull is given beside the laws; hanger and sling as far as they are pulled at."""
    tube = replace(case.tube, hanger_strength=0.0)
    placement = replace(case.placement, sling_strength=0.0)
    return tube, placement, case.pull, case.metal, case.assumed, stated_strength(case)


def _others(settings: Settings, key: str) -> Iterator[Settings]:
    """The case at other values of a key, as far as they go together with it."""
    known, own = KEYS[key], settings[key]
    values: list[float | str] = [*known.choices]
    if known.low is not None and known.high is not None:
        near = [own * each for each in NEAR] if isinstance(own, float) and own else []
        values += [known.low, known.high, 0.5 * (known.low + known.high), *near]
    for value in values:
        with suppress(CaseError):
            other = settings_from({**settings, key: value})
            if other[key] != own:
                yield other


def _same(one: Any, other: Any) -> bool:
    """Whether two values are the same all through."""
    if type(one) is not type(other):
        return False
    if is_dataclass(one):
        return all(_same(getattr(one, each.name), getattr(other, each.name)) for each in fields(one))
    if isinstance(one, np.ndarray):
        return bool(np.array_equal(one, other))
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    return bool(one == other)


def idle_words(keys: tuple[str, ...]) -> str:
    """The keys in a line; "" if there are none."""
    tables: dict[str, list[str]] = {}
    for key in keys:
        table, _, name = key.partition(".")
        tables.setdefault(table, []).append(name)
    told = []
    for table, names in tables.items():
        whole = all(key in keys for key in KEYS if key.startswith(f"{table}.") and key != MODEL)
        told.append(f"all of [{table}]" if whole and len(names) > 1 else ", ".join(f"{table}.{name}" for name in names))
    return f"Keys that cannot move this peak: {', '.join(told)}." if told else ""
