"""A design search as its file says it: what is demanded of a tube, in which situations, and what may be chosen of it.

    [require]        limit_kN = 8, chance = 0.95, movement_mm = 50
    [choose.tube]    length_mm = { low = 100, high = 220, step = 10 }, metal = ["chromoly_steel", "titanium_alloy"]
    [case.TABLE]     what all tubes and situations share
    [axes.TABLE]     situations: every combination of their values (`axes`); the demand holds in each of them
    [random]         what is drawn in each situation (`draws`): the same draws for every tube

limit_kN : what gives way first of all, hanger and sling counted, is at least this.  chance : in this share of the draws
of each situation; must be given with [random], and only then.  movement_mm : the load is reached before the load point
has moved farther: it is the `pull.travel_mm` of every case. Tubes differ by what is chosen alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice, product
from math import floor, isfinite, prod
from pathlib import Path
from typing import Any

from ..case.file import KEYS, CaseError, Settings, flatten, settings_from, settings_id
from ..case.mass import MASS_KEYS, tube_mass
from ..case.toml import TomlFile, did_you_mean, read_toml, shown
from ..case.words import short_words
from ..command.plain_text import one_line
from .axes import read_axes
from .choices import Choices, read_choices
from .draws import Draws, drawn_values, read_draws

TABLES = ("study", "case", "axes", "random", "require", "choose")
NAMES = {"study": ("title", "question"), "require": ("limit_kN", "chance", "movement_mm")}
MODEL, TRAVEL = "numerics.model", "pull.travel_mm"
MOST_LIMIT_KN, TRIED = 1000.0, 64
Place = tuple[int, int]  # situation, draw


@dataclass(frozen=True, slots=True)
class Require:
    """The demand. chance : share of the draws of each situation [-].  movement_mm : None: as the case counts."""

    limit_kN: float
    chance: float
    movement_mm: float | None


@dataclass(frozen=True, slots=True)
class Situation:
    """What a tube must stand: keys with their values.  origins : of their errors."""

    values: Mapping[str, Any]
    origins: Mapping[str, str]

    @property
    def words(self) -> str:
        """Its values in few words."""
        return ", ".join(short_words(key, value) for key, value in self.values.items()) or "the case"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A tube. places : of its values among the choices.  mass_g : of the tube."""

    places: tuple[int, ...]
    values: Mapping[str, float | str]
    mass_g: float

    @property
    def words(self) -> str:
        """What is chosen, in few words."""
        return ", ".join(short_words(key, value) for key, value in self.values.items())


@dataclass(frozen=True)
class Design:
    """A design search as read and checked. given : keys that all cases share.  choices : values of each key chosen."""

    title: str
    question: str
    require: Require
    given: Mapping[str, Any]
    choices: Choices
    situations: tuple[Situation, ...]
    draws: Draws | None
    file: TomlFile
    _places: dict[Place, dict[str, float]] = field(default_factory=dict)

    @property
    def number(self) -> int:
        """Draws of each situation, 1 where nothing is drawn."""
        return self.draws.number if self.draws else 1

    @property
    def allowed(self) -> int:
        """Draws of a situation that may miss the limit."""
        return floor(self.number * (1 - self.require.chance) + 1e-9)

    @property
    def tubes(self) -> int:
        """How many tubes the choices make."""
        return prod(map(len, self.choices.values()))

    @cached_property
    def _base(self) -> Settings:
        return settings_from({key: value for key, value in self.given.items() if key in MASS_KEYS}, self._at_case)

    def candidate(self, places: Sequence[int]) -> Candidate:
        """The tube at these places of the choices; whether its values go together is seen by `case`."""
        values = {key: each[place] for (key, each), place in zip(self.choices.items(), places, strict=True)}
        return Candidate(tuple(places), values, 1e3 * tube_mass({**self._base, **values}))

    def case(self, candidate: Candidate, place: Place) -> Settings:
        """The settings of a tube in a situation, at a draw; draws beyond `number` are fresh ones.

        Raises CaseError for values that do not go together.
        """
        situation = self.situations[place[0]]
        values = {**self.given, **situation.values, **candidate.values}
        if self.require.movement_mm is not None:
            values[TRAVEL] = self.require.movement_mm

        def check(settings: Mapping[str, Any]) -> Settings:
            return settings_from(settings, lambda key: self._origin(key, situation, place[1]))

        return check(values if self.draws is None else {**values, **self._drawn(values, place, check)})

    def _drawn(self, values: Mapping[str, Any], place: Place, check: Callable[..., Settings]) -> Mapping[str, float]:
        """Values of the keys that are drawn; those of a place, unless their tables go with what is chosen."""
        assert self.draws is not None
        moved = any(key.startswith(("ice.", "crust.")) or key == "tube.metal" for key in self.choices)
        if moved or place not in self._places:
            self._places[place] = drawn_values(self.draws, self.draws.normals(place[1]), values, check)
        return self._places[place]

    def _origin(self, key: str, situation: Situation, draw: int) -> str:
        """Where a key of a case is written."""
        if key in self.choices:
            return f"{self.file.where('choose', *key.split('.'))}choose."
        random = next((each for each in self.draws.randoms if each.key == key), None) if self.draws else None
        if random is not None:
            return f"{random.origin.rpartition('random.')[0]}draw {draw + 1} of random."
        return situation.origins.get(key) or self._at_case(key)

    def _at_case(self, key: str) -> str:
        return self.file.where("case", *key.split("."))

    def id_of(self, candidate: Candidate) -> str:
        """A short name of a tube, the same whatever else is demanded."""
        return settings_id({**self._base, **candidate.values})


def read_design(path: Path, level: str | None = None) -> Design:
    """Read a design search and check its cases; `level` overrides numerics.level. Raises CaseError."""
    file = read_toml(path)
    _check_tables(file)
    given = flatten(file.data.get("case", {}), lambda *names: file.where("case", *names))
    if level is not None:
        given["numerics.level"] = level
    title, question = (_text(file, name) for name in NAMES["study"])
    draws, choices = read_draws(file), read_choices(file)
    require = _require(file, draws)
    axes = read_axes(file)
    situations = tuple(
        Situation(
            {key: value for place in at for key, value in place.values.items()},
            {key: place.origin for place in at for key in place.values},
        )
        for at in product(*(axis.places for axis in axes))
    )
    design = Design(title, question, require, given, choices, situations, draws, file)
    _check_keys(design)
    _check_cases(design)
    return design


def _check_tables(file: TomlFile) -> None:
    for table, content in file.data.items():
        if table not in TABLES:
            hint = did_you_mean(table, {name: name for name in TABLES})
            allowed = f"must be one of {', '.join(TABLES)} where [require] or [choose] is given"
            raise CaseError(f"{file.where(table)}[{table}]: unknown table: {allowed}{hint}")
        if not isinstance(content, Mapping):
            raise CaseError(f"{file.where(table)}{table} = {shown(content)}: must be a table, written [{table}]")
    for table in ("require", "choose"):
        if table not in file.data:
            raise CaseError(f"{file.path}: [{table}] is missing: a design search has [require] and [choose]")
    for table, names in NAMES.items():
        for name, value in file.data.get(table, {}).items():
            if name not in names:
                hint = did_you_mean(name, {each: each for each in names})
                where = f"{file.where(table, name)}{table}.{name} = {shown(value)}"
                raise CaseError(f"{where}: unknown key: must be one of {', '.join(names)}{hint}")


def _text(file: TomlFile, name: str) -> str:
    value = file.data.get("study", {}).get(name)
    if not isinstance(value, str) or not one_line(value):
        what = "missing" if value is None else shown(value)
        raise CaseError(f"{file.where('study', name)}study.{name} = {what}: must be a text in quotes")
    return one_line(value)


def _between(file: TomlFile, name: str, low: float, high: float, open_ends: bool = False) -> float:
    """A number of [require]."""
    value = file.data["require"].get(name)
    ends = f"more than {low:g} and less than {high:g}" if open_ends else f"a number between {low:g} and {high:g}"
    number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    if not number or not low <= value <= high or (open_ends and value in (low, high)):
        what = "missing" if value is None else shown(value)
        raise CaseError(f"{file.where('require', name)}require.{name} = {what}: must be {ends}")
    return float(value)


def _require(file: TomlFile, draws: Draws | None) -> Require:
    table = file.data["require"]
    limit = _between(file, "limit_kN", 0.0, MOST_LIMIT_KN)
    travel = KEYS[TRAVEL]
    assert travel.low is not None and travel.high is not None
    movement = _between(file, "movement_mm", travel.low, travel.high) if "movement_mm" in table else None
    where = f"{file.where('require', 'chance')}require.chance"
    if draws is None:
        if "chance" in table:
            raise CaseError(f"{where} = {shown(table['chance'])}: must be left out where nothing is drawn: no [random]")
        return Require(limit, 1.0, movement)
    chance = _between(file, "chance", 0.0, 1.0, open_ends=True)
    if draws.number * (1 - chance) < 1 - 1e-9:
        allowed = f"must be at least {1 / (1 - chance):.0f}: fewer do not tell a chance of {chance:g} from 1"
        raise CaseError(f"{file.where('random', 'draws')}random.draws = {draws.number}: {allowed}")
    return Require(limit, chance, movement)


def _check_keys(design: Design) -> None:
    """No key in two tables; none of how far a case is solved; masses are the same in all situations and draws."""
    tables: dict[str, str] = {}
    randoms = {each.key: each.origin for each in design.draws.randoms} if design.draws else {}
    origins = {key: origin for situation in design.situations for key, origin in situation.origins.items()}
    where = {key: f"{design.file.where('case', *key.split('.'))}case." for key in design.given} | origins | randoms
    for table, keys in (("choose", design.choices), ("axes", origins), ("random", randoms), ("case", design.given)):
        for key in keys:
            if key == MODEL:
                raise CaseError(f"{where[key]}{key}: must be left out: a design search pulls each tube to its peak")
            if key in tables and key != "numerics.level":
                raise CaseError(f"{where[key]}{key}: must be left out where [{tables[key]}] gives it")
            if key == TRAVEL and design.require.movement_mm is not None:
                raise CaseError(
                    f"{where.get(key, 'choose.')}{key}: must be left out where require.movement_mm is given"
                )
            if key in MASS_KEYS and table in ("axes", "random"):
                raise CaseError(f"{where[key]}{key}: must be in [choose] or [case]: the mass of a tube rests on it")
            tables[key] = table


def _check_cases(design: Design) -> None:
    """One tube at least goes together with every situation and draw; else what is wrong with the last one tried."""
    ends = product(*(dict.fromkeys((len(each) // 2, 0, len(each) - 1)) for each in design.choices.values()))
    problem: CaseError | None = None
    for places in islice(ends, TRIED):
        try:
            candidate = design.candidate(places)
            for place in product(range(len(design.situations)), range(design.number)):
                design.case(candidate, place)
            return
        except CaseError as error:
            problem = error
    assert problem is not None
    raise problem
