"""What the tool assumes besides its materials: `data/assumed.toml`, a number each with range, source and how known.

An assumption is a table of that file; the end of its name is its unit. `low` to `high` is the range it may well have,
`least` to `most` what an input may be. A case carries all of them (`Assumed`, SI units).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from typing import Any

from .data_file import Value, factor, read_tables, unit_of

FILE = "assumed.toml"
MOVES = ("onset", "cone", "peak", "curve", "wrinkle", "hand")


@dataclass(frozen=True, slots=True)
class Assumption:
    """One table of the file. number : value, low, high in the unit of its name.  what : it is, in one line.

    least, most : bounds of an input, in that unit.  moves : outcomes that can change with it, of MOVES.
    """

    number: Value
    what: str
    least: float
    most: float
    moves: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise ValueError("what: must not be empty")
        if not self.least <= self.number.low or not self.number.high <= self.most:
            raise ValueError(f"least, most = {self.least:g}, {self.most:g}: must enclose low and high")
        if not self.moves or any(word not in MOVES for word in self.moves):
            raise ValueError(f"moves = {list(self.moves)}: must be some of {', '.join(MOVES)}")

    @property
    def field(self) -> str:
        """Its field of `Assumed`: the name without the unit."""
        unit = unit_of(self.number.name)
        return self.number.name.removesuffix(f"_{unit}") if unit else self.number.name


@dataclass(frozen=True, slots=True)
class Assumed:
    """All assumptions of a case, SI units; what each is stands in the file.

    loose_ice_gone : m.  chip_border_shift : rad.  thread_softening, cone_softening : pitches of the
    thread.  All others are pure numbers.
    Raises ValueError, one line, naming the value and its range in the file's unit.
    """

    crushing_share: float
    thread_shear_share: float
    chip_friction: float
    steel_friction: float
    sliding_ratio: float
    loose_ice_gone: float
    chip_border_shift: float
    thread_softening: float
    cone_softening: float
    strain_limit_share: float
    buckling_factor: float
    fallen_share: float
    headed_stud_factor: float

    def __post_init__(self) -> None:
        known = assumptions()
        for name, each in known.items():
            value, unit = getattr(self, each.field), factor(name)
            if not each.least * unit <= value <= each.most * unit:
                raise ValueError(f"{name} = {value / unit:g}: must lie between {each.least:g} and {each.most:g}")


@cache
def assumptions() -> dict[str, Assumption]:
    """All assumptions by name, unit included, in the order of the file. Raises ValueError where it is not whole."""
    return check_tables(read_tables(FILE))


def check_tables(tables: Mapping[str, Mapping[str, Any]]) -> dict[str, Assumption]:
    """Assumptions from the file's tables. Raises ValueError, one line, unless there is a whole one for each field."""
    found: dict[str, Assumption] = {}
    for name, table in tables.items():
        try:
            number = Value(name, *(table[key] for key in ("value", "low", "high", "source", "how")))
            found[name] = Assumption(number, table["what"], table["least"], table["most"], tuple(table["moves"]))
        except KeyError as key:
            raise ValueError(f"{FILE}: [{name}] {key.args[0]}: missing") from None
        except ValueError as error:
            raise ValueError(f"{FILE}: [{name}] {error}") from None
    named, wanted = {each.field for each in found.values()}, {field.name for field in fields(Assumed)}
    if odd := sorted(named ^ wanted):
        raise ValueError(f"{FILE}: {odd[0]}: {'missing' if odd[0] in wanted else 'no such assumption'}")
    return found


def assumed_from(numbers: Mapping[str, float]) -> Assumed:
    """Assumptions from numbers in the file's units, by the file's names; those left out have the file's value.

    Raises ValueError, one line, for an unknown name or a value out of range.
    """
    known = assumptions()
    if odd := next((name for name in numbers if name not in known), ""):
        raise ValueError(f"{odd}: must be one of {', '.join(known)}")
    return Assumed(**{each.field: numbers.get(name, each.number.value) * factor(name) for name, each in known.items()})


@cache
def default_assumed() -> Assumed:
    """The file's values."""
    return assumed_from({})
