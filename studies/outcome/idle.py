"""Keys of a case that cannot move its peak: found by asking, a key at a time, what a pull would be given.

A pull is a function of tube, placement, way of the pull, metal, what is assumed and the laws of the ice, and of nothing
else (`fem.tube.peak.pull_case`); with the strength of the part that is pulled at it makes the limit. A key cannot move
them if all of these stay the same at other values of it: both ends of what is allowed, values near its own, every word.
A law that is asked for with other inputs counts as moved, so that nothing is computed.

Limits: what is named cannot move the peak. A key that is not named may leave it as it is all the same: the pull is
given it, but what it changes does not decide. Numbers are tried at a few values, not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import fields, is_dataclass, replace
from functools import lru_cache, wraps
from typing import Any

import numpy as np

from ...fem.case import Case
from ...fem.laws.gather import peak_laws
from ...fem.laws.recipes import Inputs, Law, Recipe
from ...fem.tube.peak import stated_strength
from ..case.file import KEYS, CaseError, Settings, settings_from, to_case
from ..case.keys import TABLES
from ..files.laws import file_name, kept_law

MODEL = "numerics.model"
NEAR = (0.97, 1.03)  # times a number's own value


class _Another(Exception):
    """A law with other inputs."""


@lru_cache(maxsize=64)
def _idle(settings: tuple[tuple[str, float | str], ...]) -> tuple[str, ...]:
    known: dict[str, Law] = {}

    def note(name: str, inputs: Inputs, recipe: Recipe) -> Law:
        @wraps(recipe)  # of its code, for its stamp
        def refuse(inputs: Inputs) -> Law:
            raise _Another

        return known.setdefault(file_name(name, inputs), kept_law(name, inputs, refuse))

    def remember(name: str, inputs: Inputs, recipe: Recipe) -> Law:
        if file_name(name, inputs) not in known:
            raise _Another
        return known[file_name(name, inputs)]

    case = _without_idle_crust(to_case(dict(settings)))
    laws = peak_laws(case, note)

    def moves(other: Case) -> bool:
        if not _same(_given(case), _given(other)):
            return True
        try:
            return not _same(laws, peak_laws(other, remember))
        except (_Another, ValueError):
            return True

    moving: dict[str, bool | None] = {}
    for key in KEYS:
        others = [_without_idle_crust(to_case(other)) for other in _others(dict(settings), key)]
        moving[key] = any(map(moves, others)) if others else None
    idle = {table for table in TABLES if not any(moves for key, moves in moving.items() if _table(key) == table)}
    return tuple(key for key, it in moving.items() if key != MODEL and (it is False or _table(key) in idle))


def idle_keys(settings: Settings) -> tuple[str, ...]:
    """The keys that cannot move the peak and the limit of this case; none if a law of it is not kept.

    A key that cannot be changed alone counts with its table.
    """
    try:
        return _idle(tuple(settings.items()))
    except (_Another, ValueError):
        return ()


def idle_words(settings: Sequence[Settings]) -> str:
    """The keys that cannot move the peak of any of these cases, in a line; "" if there are none."""
    keys = [idle_keys(each) for each in settings]
    common = [key for key in keys[0] if all(key in each for each in keys)] if keys else []
    told = []
    for table in TABLES:
        own = [key for key in common if _table(key) == table]
        every = [key for key in KEYS if _table(key) == table]
        told += [f"all of [{table}]"] if own == every and len(own) > 1 else own
    return f"Keys that cannot move the peak here: {', '.join(told)}." if told else ""


def _table(key: str) -> str:
    return key.partition(".")[0]


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
