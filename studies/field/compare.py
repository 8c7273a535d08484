"""Predicted beside measured pulls, as statistics: of all rows, of groups of them, and of each row.

    against      the predicted load that a measured peak is held against: the peak of tube and ice, or another of
                 `predict.ALL`; against the limit, a torn hanger or sling is a peak like any other
    ratio        measured / median of the draws [-]
    place        share of the draws that lie below the measured load [-]

A pull that ended otherwise is a bound: its peak is at least what was measured. `agreement` has the statistics. The
error of a measured load is LOAD_ERROR (assumed: a load cell) and, of a mean of n pulls, its standard error.

Limits: the range is that of what is drawn; what moves with the day and stands in no column is in the bias.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, log, sqrt
from typing import Any

import numpy as np

from ...fem.tube.modes import HANGER, SLING, TUBE_BENDS
from ..case.file import KEYS
from ..case.words import short_words
from .agreement import Agreement, agreement
from .predict import ALL, LIMIT, Prediction
from .pulls import Measured

LOAD_ERROR = 0.02  # of a measured load [-]
SEEN = {"tube bent": TUBE_BENDS}  # modes by the words of a table that are not their names
GROUPS = (
    *("placement.angle_deg", "placement.embedment_mm", "placement.attachment", "pull.direction_deg", "ice.kind"),
    *("tube.length_mm", "ice.temperature_C", "flag"),
)
NEAREST = 10  # draws that explain a row
FEWEST_DRAWS = 30  # from which on a row is explained
FAR = 0.6  # of a standard deviation: an input that moves less explains nothing


@dataclass(frozen=True, slots=True)
class Pair:
    """A row with what is said of it. measured : None where the row has no load, or no prediction."""

    prediction: Prediction
    measured: Measured | None
    against: str

    @property
    def id(self) -> str:
        """Name of the row."""
        return self.prediction.row.id

    @property
    def ratio(self) -> float | None:
        """Measured over the median of the draws [-]; of a bound, at least that."""
        return self.measured.load_kN / self.measured.predicted(0.5) if self.measured else None

    @property
    def place(self) -> float | None:
        """Share of the draws below the measured load [-]."""
        if self.measured is None:
            return None
        draws = self.measured.draws_kN[np.isfinite(self.measured.draws_kN)]
        return float((draws < self.measured.load_kN).mean())

    @property
    def miss(self) -> float:
        """How far the row lies from its median, in logarithms [-]; a bound below it misses nothing."""
        if self.ratio is None:
            return 0.0
        away = log(self.ratio)
        return max(away, 0.0) if self.measured and self.measured.is_bound else abs(away)

    def range(self) -> tuple[float | None, ...]:
        """5, 50 and 95 % of the draws [kN]; as stated, three times, where nothing was drawn."""
        found = self.prediction.at(self.against, (0.05, 0.5, 0.95))
        return found if found[1] is not None else (self.prediction.load(self.against),) * 3


@dataclass(frozen=True, slots=True)
class Comparison:
    """All pairs of a table, in its order. groups : by key, and value in words, what its rows tell.

    said : what reading took for granted.  problems : bad rows that were left out.
    """

    name: str
    against: str
    draws: int
    seed: int
    pairs: tuple[Pair, ...]
    whole: Agreement | None
    groups: Mapping[str, Mapping[str, Agreement]]
    said: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    changed: Mapping[str, Any] = field(default_factory=dict)

    @property
    def measured(self) -> list[Measured]:
        """Rows that have both, in order."""
        return [pair.measured for pair in self.pairs if pair.measured is not None]

    @property
    def failed(self) -> list[Pair]:
        """Rows that the model should take and whose solve did not come out."""
        return [
            pair
            for pair in self.pairs
            if pair.prediction.settings is not None and pair.prediction.load(self.against) is None
        ]

    @property
    def flags(self) -> set[str]:
        """How the compared loads are known."""
        return {row.flag for row in self.measured}

    @property
    def worst(self) -> list[Pair]:
        """Pairs by how far they lie off, the farthest first."""
        return sorted((pair for pair in self.pairs if pair.miss > 0), key=lambda pair: -pair.miss)


def pair_of(prediction: Prediction, against: str) -> Pair:
    """A row with its measured load, if it has one. Raises ValueError for a load that is none of ALL."""
    if against not in ALL:
        raise ValueError(f"against = {against}: must be one of {', '.join(ALL)}")
    row, stated = prediction.row, prediction.load(against)
    if not row.is_measured or row.peak_kN is None or stated is None:
        return Pair(prediction, None, against)
    draws = prediction.loads(against)
    draws = draws if np.isfinite(draws).any() else np.array([stated])
    is_bound = row.is_bound and not (against == LIMIT and row.ended in (HANGER, SLING))
    of_mean = (row.sd_kN or 0.0) / row.peak_kN / sqrt(row.n or 1)
    found = Measured(
        id=row.id,
        placement=repr(sorted(row.given.items())),  # as planned: repeats of one are measured apart
        load_kN=row.peak_kN,
        is_bound=is_bound,
        error=hypot(LOAD_ERROR, of_mean),
        draws_kN=draws,
        prediction_kN=stated,
        mode_predicted=str(prediction.plain.get(f"{against}_mode") or ""),
        mode_seen="" if is_bound or row.ended is None else SEEN.get(row.ended, row.ended),
        flag=row.flag,
    )
    return Pair(prediction, found, against)


def compare(
    name: str,
    predictions: Sequence[Prediction],
    against: str,
    draws: int,
    seed: int,
    said: Sequence[str] = (),
    problems: Sequence[str] = (),
    changed: Mapping[str, Any] | None = None,
) -> Comparison:
    """What the rows tell of their predictions; the same seed gives the same intervals."""
    pairs = tuple(pair_of(each, against) for each in predictions)
    rows = [pair.measured for pair in pairs if pair.measured is not None]
    whole = agreement(rows, seed) if rows else None
    groups = {key: of for key in GROUPS if (of := _grouped(pairs, key, seed))}
    return Comparison(
        name, against, draws, seed, pairs, whole, groups, tuple(said), tuple(problems), dict(changed or {})
    )


def _grouped(pairs: Sequence[Pair], key: str, seed: int) -> dict[str, Agreement]:
    """What the rows of each value of a key tell; nothing where all have the same."""
    found: dict[float | str, list[Measured]] = {}
    for pair in pairs:
        if pair.measured is not None:
            found.setdefault(group_of(pair, key), []).append(pair.measured)
    if len(found) < 2:
        return {}
    ordered = sorted(found, key=lambda value: (isinstance(value, str), value))
    return {_value_words(key, value): agreement(found[value], seed) for value in ordered}


def group_of(pair: Pair, key: str) -> float | str:
    """The value of a row at a key, as planned, or its flag."""
    row = pair.prediction.row
    return row.flag if key == "flag" else row.given.get(key, (pair.prediction.settings or {})[key])


def _value_words(key: str, value: float | str) -> str:
    return short_words(key, value) if key in KEYS else str(value)


def explained_by(pair: Pair) -> tuple[str, float, float] | None:
    """The input that would most likely explain a row: its key, its value there and its median, in the key's unit.

    Of the NEAREST draws to the measured load, the input that lies farthest off, in its standard deviations.
    """
    measured, inputs = pair.measured, pair.prediction.inputs
    if measured is None or len(measured.draws_kN) < FEWEST_DRAWS or not inputs:
        return None
    loads = np.log(pair.prediction.loads(pair.against))
    known = np.isfinite(loads)
    order = np.argsort(np.where(known, np.abs(loads - log(measured.load_kN)), np.inf), kind="stable")[:NEAREST]
    shifts = {
        key: abs(float(x[order].mean() - x.mean())) / float(x.std()) for key, x in inputs.items() if float(x.std()) > 0
    }
    key = max(shifts, key=lambda each: shifts[each], default="")
    if not key or shifts[key] < FAR:
        return None
    return key, float(inputs[key][order].mean()), float(np.median(inputs[key]))
