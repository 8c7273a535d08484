"""What the model says of each row of a table of pulls: its loads as stated, and drawn at random.

    as stated     the case of the row; what it leaves open is at the case file's default and listed as assumed
    drawn         what `sweep.drawn` draws of a case (strengths, assumptions), angle and depth besides: normal, with
                  the row's standard deviation, else ANGLE_ERROR and DEPTH_ERROR (assumed: a tube driven by hand)

Draw k is the same ice and the same assumptions in every row: rows of a day go up and down together. Peaks alone are
solved, no mesh. Rows of the same placement are solved once.

Limits: those of `sweep.drawn`; a measured angle stands for the planned one, with its own error.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..case.file import KEYS, CaseError, Settings, settings_from, settings_id
from ..case.toml import shown
from ..files.records import Record, Records
from ..outcome.data import LOADS
from ..sweep.axes import Axis, Place
from ..sweep.distributions import distribution_from
from ..sweep.drawn import keys_drawn
from ..sweep.draws import Draws, Random, drawn_values, usual_draws
from ..sweep.many import ManyCase, ManyStudy
from ..sweep.run_many import records_path, solve_many, workers
from .columns import SHORT
from .table import Row

if TYPE_CHECKING:
    from rich.console import Console

Array = NDArray[np.float64]
ANGLE_ERROR, DEPTH_ERROR = 2.0, 2.0  # deg, mm: standard deviations
ANGLE, DEPTH, LENGTH = "placement.angle_deg", "placement.embedment_mm", "tube.length_mm"
WANT = ("peak",)
LIMIT = "limit"
ALL = (LIMIT, *LOADS)
Case = tuple[Settings | None, dict[str, float]]  # and what was drawn


@dataclass(frozen=True, slots=True)
class Prediction:
    """Of one row. settings : None if the row cannot be modelled.  assumed : what it leaves open.

    plain : columns of `outcome.wanted` as stated.  problem : why there are none.  draws : those columns of each draw,
    none of one that was not solved; inputs (draws,) by key. Draw k is the same in all rows.
    """

    row: Row
    settings: Settings | None
    assumed: tuple[str, ...] = ()
    problem: str = ""
    plain: Mapping[str, Any] = field(default_factory=dict)
    draws: tuple[Mapping[str, Any], ...] = ()
    inputs: Mapping[str, Array] = field(default_factory=dict)

    def load(self, name: str) -> float | None:
        """A load as stated, "limit" or one of LOADS [kN]."""
        return self.plain.get(f"{name}_kN")

    def loads(self, name: str) -> Array:
        """The same of each draw [kN]; nan where it has none."""
        return self.column(f"{name}_kN")

    def column(self, name: str) -> Array:
        """A column of numbers, of each draw, in the unit of its name."""
        return np.array([nan if draw.get(name) is None else draw[name] for draw in self.draws], dtype=float)

    def modes(self, name: str) -> list[str]:
        """What gives way at a load, of each draw."""
        return [str(mode) for draw in self.draws if (mode := draw.get(f"{name}_mode"))]

    def at(self, name: str, shares: Sequence[float]) -> tuple[float | None, ...]:
        """Loads [kN] below which these shares of the draws lie; None without draws."""
        return self.at_column(f"{name}_kN", shares)

    def at_column(self, name: str, shares: Sequence[float]) -> tuple[float | None, ...]:
        """The same of any column, in the unit of its name."""
        values = self.column(name)
        values = values[np.isfinite(values)]
        return tuple(float(np.quantile(values, share)) for share in shares) if values.size else (None,) * len(shares)


def settings_of_row(row: Row, overrides: Mapping[str, Any] | None = None) -> tuple[Settings, tuple[str, ...]]:
    """Settings of a row, with what it leaves open. overrides : keys that count in place of the row's.

    Raises CaseError for a row that cannot be modelled.
    """
    given: dict[str, Any] = {"numerics.model": "peak", **row.given}
    for key, value in ((ANGLE, row.angle_measured_deg), (DEPTH, row.depth_measured_mm)):
        if value is not None:
            given[key] = value
    if row.time_to_peak_s is not None:
        given["ice.load_time_s"] = row.time_to_peak_s
    given |= overrides or {}
    settings = settings_from(given)
    open_ = [key for key in SHORT.values() if key not in given]
    return settings, tuple(f"{key} = {shown(settings[key])}" for key in open_)


def draws_of(row: Row, settings: Settings, number: int, seed: int) -> Draws:
    """What is drawn of a row: strengths and assumptions, its angle and depth."""
    errors = {ANGLE: row.angle_error_deg, DEPTH: row.depth_error_mm}
    usual = {ANGLE: ANGLE_ERROR, DEPTH: DEPTH_ERROR}
    found = list(keys_drawn(settings))
    for key, error in errors.items():
        sd, high = usual[key] if error is None else error, KEYS[key].high
        if sd > 0:
            top = high if key == ANGLE else float(settings[LENGTH])
            table = {"mean": settings[key], "sd": sd, "low": KEYS[key].low, "high": top}
            found.append(Random(key, distribution_from({"distribution": "normal", **table}), ""))
    return usual_draws(number, seed, tuple(found))


def predict(
    rows: Sequence[Row],
    out: Path,
    console: Console,
    draws: int,
    seed: int,
    overrides: Mapping[str, Any] | None = None,
    jobs: int | None = None,
) -> list[Prediction]:
    """Predict every row into the records of a folder, where those that are solved are taken from.

    draws : of each row, 0 for none.  jobs : processes.  Raises OSError if a file cannot be written.
    """
    found: list[Prediction] = []
    for row in rows:
        try:
            found.append(Prediction(row, *settings_of_row(row, overrides)))
        except CaseError as error:
            found.append(Prediction(row, None, problem=str(error)))
    drawn = {k: _cases(each.row, each.settings, draws, seed) for k, each in enumerate(found) if each.settings}
    if not drawn:
        return found
    study = _study(list(drawn.values()), draws)
    out.mkdir(parents=True, exist_ok=True)
    with workers(study, jobs, None) as (pool, width), Records(records_path(out), WANT) as records:
        solve_many(study, records, console, pool, width)
        kept = records.kept().records
    return [_told(each, drawn[k], kept) if k in drawn else each for k, each in enumerate(found)]


def _cases(row: Row, settings: Settings, number: int, seed: int) -> list[Case]:
    """Settings of a row as stated, then of each draw, with what was drawn."""
    found: list[Case] = [(settings, {})]
    if number == 0:
        return found
    draws = draws_of(row, settings, number, seed)
    given = {key: value for key, value in settings.items() if value != KEYS[key].default}
    for k in range(number):
        values = drawn_values(draws, draws.normals(k), given, settings_from)
        try:
            found.append((settings_from({**given, **values}), values))
        except CaseError:  # a drawn tube that is no placement, as one tied off above its end
            found.append((None, values))
    return found


def _study(cases: Sequence[Sequence[Case]], draws: int) -> ManyStudy:
    """A study of many cases that holds them all."""
    whole = [(place, k, settings) for place, of in enumerate(cases) for k, (settings, _) in enumerate(of) if settings]
    first = whole[0][2]
    varied = [key for key in first if any(settings[key] != first[key] for _, _, settings in whole)]
    listed = tuple(
        ManyCase((place, k), {key: settings[key] for key in varied}, settings_id(settings))
        for place, k, settings in whole
    )
    given = {key: value for key, value in first.items() if key not in varied and value != KEYS[key].default}
    places = tuple(Place({key: of[0][0][key] for key in varied}, "") for of in cases if of[0][0])
    number = Draws(draws + 1, 0, (), np.zeros((0, 0)))
    return ManyStudy("pulls", "", WANT, given, (Axis("row", places),), number, listed)


def _told(prediction: Prediction, cases: Sequence[Case], kept: Mapping[str, Record]) -> Prediction:
    """With what was found of its cases."""
    records = [kept[settings_id(settings)] if settings else None for settings, _ in cases]
    plain = records[0]
    return Prediction(
        prediction.row,
        prediction.settings,
        prediction.assumed,
        plain.problem if plain else "",
        plain.found if plain else {},
        tuple(record.found if record else {} for record in records[1:]),
        {key: np.array([values[key] for _, values in cases[1:]]) for key in (cases[1][1] if cases[1:] else ())},
    )


def draws_words(number: int) -> str:
    """What a range is of, in words."""
    if number == 0:
        return "none, without draws"
    return f"nine of ten of {number} draws of ice, assumptions, angle and depth"
