"""Plain data of frozen data classes and back, each field of the kind that its annotation says.

    number       finite, no truth value        tuple[X, ...]     a list
    X | None     either                        dict[str, X]      a table
    data class   a table with a key for each field; more keys may be there      Any     a number or a text

A digest only says that a file is what somebody wrote: what is read back is checked key by key.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

LARGEST = 1e300


class WrongKind(ValueError):
    """A key that is missing, or of another kind; the message begins with its name."""


def to_plain(value: Any) -> Any:
    """Data classes and tuples as tables and lists; all else as it is."""
    if is_dataclass(value):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {name: to_plain(item) for name, item in value.items()}
    return [to_plain(item) for item in value] if isinstance(value, tuple | list) else value


def from_plain(kind: Any, value: Any, where: str = "") -> Any:
    """The value as that kind.  where : the name of its key.  Raises WrongKind."""
    origin = get_origin(kind)
    if origin is UnionType:
        return _either(get_args(kind), value, where)
    if is_dataclass(kind):
        return _table(kind, value, where)
    if origin is tuple and isinstance(value, list | tuple):
        return _row(get_args(kind), value, where)
    if origin is dict and isinstance(value, Mapping):
        of = get_args(kind)[1]
        return {str(name): from_plain(of, item, _within(where, str(name))) for name, item in value.items()}
    if not _is(kind, value):
        raise WrongKind(f"{where}: of another kind")
    return value


def _is(kind: Any, value: Any) -> bool:
    if kind is Any:
        return _is(float, value) or isinstance(value, str)
    if kind in (float, int):
        number = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST
        return number and (kind is float or isinstance(value, int))
    return kind in (str, bool, NoneType) and isinstance(value, kind)


def _either(kinds: tuple[Any, ...], value: Any, where: str) -> Any:
    if value is None and NoneType in kinds:
        return None
    kinds = tuple(kind for kind in kinds if kind is not NoneType)
    for kind in kinds[:-1]:
        try:
            return from_plain(kind, value, where)
        except WrongKind:
            continue
    return from_plain(kinds[-1], value, where)


def _row(kinds: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if kinds[-1] is Ellipsis:
        kinds = (kinds[0],) * len(value)
    if len(kinds) != len(value):
        raise WrongKind(f"{where}: must have {len(kinds)} entries")
    return tuple(from_plain(kind, item, where) for kind, item in zip(kinds, value, strict=True))


def _table(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, Mapping):
        raise WrongKind(f"{where}: must be a table")
    found = {}
    for name, of in _hints(kind).items():
        if name not in value:
            raise WrongKind(f"{_within(where, name)}: missing")
        found[name] = from_plain(of, value[name], _within(where, name))
    return kind(**found)


@lru_cache
def _hints(kind: Any) -> dict[str, Any]:
    hints = get_type_hints(kind)
    return {field.name: hints[field.name] for field in fields(kind)}


def _within(where: str, name: str) -> str:
    return f"{where}.{name}" if where else name
