"""The spread of a study of draws: loads with their percentiles, the chance of each mode, what drives, at each place.

A place is one combination of the axes, with all its draws. Beside them stands what the case holds without draws, each
number at its value in the tables: the hairline that hides the spread. What is told of a place is `statistics`.

Limits: a spread is that of what was drawn; which ice goes (`fem.tube.band`) is among it only if its border is drawn.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...fem.errors import SolveError
from ...geometry.errors import MeshError
from ..case.file import KEYS, settings_from
from ..case.words import short_name, short_words
from ..command.numbers import percent
from ..outcome.data import LOADS
from ..outcome.wanted import solve_wanted
from .many import DRAW
from .statistics import FEWEST, SHARES, SHOWN, Drive, Known, chances, drives, percentile
from .tables import Results

Array = NDArray[np.float64]
LIMIT = {"limit": "limit"}


@dataclass(frozen=True, slots=True)
class Place:
    """Draws at one combination of the axes. values : along each axis.

    percentiles : by load, at SHARES [kN].  modes : what limits, with its chance.  drives : by load, inputs, first the
    one that does most.  draws, unsolved : how many.
    """

    values: tuple[float | str, ...]
    percentiles: Mapping[str, tuple[Known, ...]]
    modes: Mapping[str, Known]
    drives: Mapping[str, tuple[Drive, ...]]
    draws: int
    unsolved: int


@dataclass(frozen=True, slots=True)
class Spread:
    """Of a whole study. axes : names.  drawn : keys.  loads : of SHOWN, those found.  places : the last axis fastest.

    case : the settings that all share.
    """

    title: str
    case: Mapping[str, Any]
    axes: tuple[str, ...]
    drawn: tuple[str, ...]
    loads: tuple[str, ...]
    places: tuple[Place, ...]

    def lines(self) -> list[str]:
        """For each place a line: each load's median and nine of ten draws, and the chances of modes."""
        return [line for place in self.places for line in self._told(place)]

    def _told(self, place: Place) -> list[str]:
        at = ", ".join(short_words(name, value) for name, value in zip(self.axes, place.values, strict=True))
        loads = "; ".join(
            f"{name_of(name)} {middle.value:.3g} kN (nine of ten draws: {low.value:.3g} to {high.value:.3g})"
            for name, (low, _, middle, _, high) in place.percentiles.items()
        )
        modes = ", ".join(f"{mode} {percent(known.value, 0)}" for mode, known in place.modes.items())
        found = [f"{at + ': ' if at else ''}{loads}", f"    gives way: {modes}"]
        for name, found_drives in place.drives.items():
            first = [
                f"{short_name(each.key)} {percent(each.share.value, 0)}" for each in found_drives if each.is_clear
            ][:3]
            found.append(f"    {name_of(name)} is driven by {', '.join(first) or 'nothing that so few draws show'}")
        return found if place.percentiles else [f"{at}: no draw was solved"]


def name_of(load: str) -> str:
    """What a load is called."""
    return LIMIT.get(load) or LOADS[load]


def spread_of(results: Results) -> Spread:
    """The spread in the results of a study. Raises ValueError if it has no draws."""
    if DRAW not in results.dims:
        raise ValueError("the study has no draws: [random] must say what is drawn")
    axes = tuple(name for name in results.dims if name != DRAW)
    columns = {column.name for column in results.columns}
    loads = tuple(name for name in SHOWN if f"{name}_kN" in columns and np.isfinite(results.values(f"{name}_kN")).any())
    shape = tuple(results.dims.values())
    at = list(results.dims).index(DRAW)
    drawn = [key for key in results.keys if key not in axes]
    table = {name: _cells(results.values(name), shape, at) for name in (*(f"{each}_kN" for each in loads), *drawn)}
    words = _cells(results.values("limit_mode"), shape, at) if "limit_mode" in columns else None
    places = []
    for k, values in enumerate(product(*(results.coordinates[name] for name in axes))):
        cells = {name: of[k] for name, of in table.items()}
        places.append(_place(values, cells, loads, drawn, [] if words is None else words[k]))
    case = settings_from(json.loads(results.attributes["case"]))
    return Spread(results.attributes["title"], case, axes, tuple(drawn), loads, tuple(places))


def hairline(spread: Spread) -> dict[str, list[float]]:
    """Each load without draws, all numbers as the case has them, at each place [kN]; nan where it is not solved.

    Empty where an axis is no key of a case.
    """
    if any(name not in KEYS for name in spread.axes):
        return {}
    found: dict[str, list[float]] = {name: [] for name in spread.loads}
    for place in spread.places:
        settings = {**spread.case, **dict(zip(spread.axes, place.values, strict=True))}
        try:
            of = solve_wanted(settings, ("peak",))[0]
        except (SolveError, MeshError):
            of = None
        for name in spread.loads:
            value = getattr(of, f"{name}_kN", None)
            found[name].append(nan if value is None else value)
    return found


def _cells(values: NDArray[Any], shape: tuple[int, ...], at: int) -> NDArray[Any]:
    """A column (cases,) as (places, draws)."""
    return np.moveaxis(values.reshape(shape), at, -1).reshape(-1, shape[at])


def _place(
    values: tuple[Any, ...],
    cells: Mapping[str, Array],
    loads: Sequence[str],
    drawn: Sequence[str],
    modes: Sequence[str],
) -> Place:
    found = {name: np.asarray(cells[f"{name}_kN"], dtype=float) for name in loads}
    solved = np.isfinite(np.array(list(found.values()))).any(axis=0) if found else np.zeros(len(modes), bool)
    inputs = {key: np.asarray(cells[key], dtype=float) for key in drawn if cells[key].dtype != object}
    told = {name: of for name, of in found.items() if np.isfinite(of).any()}
    return Place(
        values,
        {name: tuple(percentile(of, share) for share in SHARES) for name, of in told.items()},
        chances([mode for mode in modes if mode]) if any(modes) else {},
        {name: tuple(drives(inputs, of)) for name, of in told.items() if np.isfinite(of).sum() >= FEWEST},
        solved.size,
        int((~solved).sum()),
    )
