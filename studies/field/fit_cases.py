"""The pulls that a fit needs: a design of points in the cube of the priors, and the peak of every row at each of them.

    strengths of the ice    by the law of spread of their tests, about the ice of the first row
    assumptions             evenly between low and high of their table

A point of the cube is a share u of each prior; every row takes the value of its own ice at that share. The design is a
scrambled Sobol sequence with the corners of the cube, so that nothing on the grid lies far outside. Rows of the same
settings are pulled once, cases are solved as those of a study: in parallel, kept in one sqlite file, taken up again.

Limits: the priors are independent of each other, though tests say that toughness and compressive strength go together;
rows must be of one kind of ice. Friction and sliding ratio of chips are refused: their laws take minutes a value.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import norm, qmc

from ...materials import assumptions
from ..case.file import KEYS, CaseError, Settings, settings_from, settings_id
from ..case.toml import shown
from ..files.records import Records
from ..sweep.drawn import OTHER_LAWS, STRENGTHS
from ..sweep.draws import Draws, Random, drawn_values, usual_draws
from ..sweep.many import ManyCase, ManyStudy
from ..sweep.run_many import solve_many, workers
from .priors import Prior
from .pulls import Array

if TYPE_CHECKING:
    from rich.console import Console

POINTS, MOST_KEYS = 64, 3
EDGE = 0.005  # share of a prior at which the corners lie
STEPS, TAIL = 281, 3.5  # of the table of a prior, even in the normal of the share, and where it ends
NAME = "fit.sqlite"
WANT = ("peak",)


@dataclass(frozen=True, slots=True)
class FitCases:
    """A design and what it came to. points (m, k) : shares of the priors.  log_peaks (m, rows) : of loads in kN, NaN
    where a pull was not solved.  modes : at each point and row, "" likewise."""

    priors: tuple[Prior, ...]
    points: Array
    log_peaks: Array
    modes: tuple[tuple[str, ...], ...]


def fit_keys() -> tuple[str, ...]:
    """Keys that can be fitted: what draws of a peak vary."""
    moving = (name for name, each in assumptions().items() if "peak" in each.moves and name not in OTHER_LAWS)
    return (*STRENGTHS, *(f"assumed.{name}" for name in moving))


def check_keys(keys: Sequence[str], rows: Sequence[Settings]) -> None:
    """Raises CaseError, one line, for keys that cannot be fitted, or to these rows."""
    allowed = fit_keys()
    if not 1 <= len(keys) <= MOST_KEYS or len(set(keys)) < len(keys):
        raise CaseError(f"fit = {', '.join(keys) or 'nothing'}: must be one to {MOST_KEYS} different keys")
    for key in keys:
        if key.removeprefix("assumed.") in OTHER_LAWS:
            why = "its laws take minutes a value, and a fit asks for dozens"
            raise CaseError(f"fit = {key}: cannot be fitted: {why}: must be some of {', '.join(allowed)}")
        if key not in allowed:
            raise CaseError(f"fit = {key}: must be some of {', '.join(allowed)}")
        if stated := next((row for row in rows if row[key] != KEYS[key].default), None):
            raise CaseError(f"fit = {key}: must be left out of the rows: one says {key} = {shown(stated[key])}")
    if not rows:
        raise CaseError("fit: no row: must have one or more")
    if len(kinds := {str(row["ice.kind"]) for row in rows}) > 1:
        raise CaseError(f"ice.kind = {', '.join(sorted(kinds))}: must be one kind of ice in all rows that are fitted")


def priors_of(keys: Sequence[str], settings: Settings) -> tuple[Prior, ...]:
    """Priors of checked keys for the ice of a row, as tables of the value, in the unit of its key, over the share."""
    shares = norm.cdf(np.linspace(-TAIL, TAIL, STEPS))
    tables = [_values(keys, settings, np.full(len(keys), share)) for share in shares]
    return tuple(Prior(key, shares, np.array([table[key] for table in tables])) for key in keys)


def _values(keys: Sequence[str], settings: Settings, shares: Array) -> dict[str, float]:
    """Values of the keys in the case of a row, in their units, at shares of their priors."""
    draws = _draws(keys)
    own = dict(zip(keys, shares, strict=True))
    given = {key: value for key, value in settings.items() if value != KEYS[key].default}
    normals = norm.ppf([own[each.key] for each in draws.randoms])
    return drawn_values(draws, normals, given, settings_from)


def _draws(keys: Sequence[str]) -> Draws:
    return usual_draws(1, 1, tuple(Random(key, "spread" if key in STRENGTHS else "between", "") for key in keys))


def design(k: int, points: int = POINTS, seed: int = 1) -> Array:
    """Points (m, k) of the cube [-]: a scrambled Sobol sequence, and the corners besides."""
    corners = np.array(list(product((EDGE, 1 - EDGE), repeat=k)))
    inside = qmc.Sobol(k, seed=seed).random_base2(max(int(np.ceil(np.log2(points))), 1))[:points]
    return np.vstack([EDGE + (1 - 2 * EDGE) * inside, corners])


def fit_study(rows: Sequence[Settings], keys: Sequence[str], points: Array) -> tuple[ManyStudy, list[list[str]]]:
    """The study that solves every row at every point (m, k), and the id of the case of each point and row.

    Raises CaseError if a key cannot be fitted to these rows.
    """
    check_keys(keys, rows)
    cases: dict[str, ManyCase] = {}
    names: list[list[str]] = []
    ids = [settings_id(row) for row in rows]
    for point in points:
        known: dict[str, str] = {}
        for own, row in zip(ids, rows, strict=True):
            if own not in known:
                settings = settings_from({**row, **_values(keys, row, point)})
                varied = {key: value for key, value in settings.items() if value != KEYS[key].default}
                known[own] = settings_id(settings)
                cases.setdefault(known[own], ManyCase((len(cases),), varied, known[own]))
        names.append([known[own] for own in ids])
    question = "Which values of " + ", ".join(keys) + " fit the pulls?"
    return ManyStudy("pulls of a fit", question, WANT, {}, (), None, tuple(cases.values())), names


def solve_fit(
    rows: Sequence[Settings],
    keys: Sequence[str],
    out: Path,
    console: Console,
    points: int = POINTS,
    seed: int = 1,
    jobs: int | None = None,
) -> FitCases:
    """Pull every row at every point of the design, as far as `out` does not hold it already.

    rows : whole settings.  jobs : processes, None: one a core.
    Raises CaseError for keys that cannot be fitted, OSError if a file cannot be written, files.lock.Busy.
    """
    at = design(len(keys), points, seed)
    study, names = fit_study(rows, keys, at)
    out.mkdir(parents=True, exist_ok=True)
    with workers(study, jobs, None) as (pool, width), Records(out / NAME, WANT) as records:
        solve_many(study, records, console, pool, width)
        kept = records.kept().records
    found: Mapping[str, Mapping[str, object]] = {name: kept[name].found for line in names for name in line}
    peaks = [[_log(found[name].get("peak_kN")) for name in line] for line in names]
    modes = tuple(tuple(str(found[name].get("peak_mode") or "") for name in line) for line in names)
    return FitCases(priors_of(keys, rows[0]), at, np.array(peaks), modes)


def _log(load: object) -> float:
    return float(np.log(load)) if isinstance(load, float) and load > 0 else nan
