"""What a day of pulls teaches: which values of some inputs it allows, and which pull would teach most next.

    inputs       one to three of `fit_cases.fit_keys`, each before by its published or assumed range
    MODEL_ERROR  scatter between placements that no input explains (assumed: no model is exact)           [-]
    next         of CANDIDATES, with tube and ice of the first row, the one of most expected information

The pulls of the fit are kept beside the answer and taken up again. Limits: those of `fit` and `next_pull`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..case.file import CaseError, Settings, settings_from
from ..case.words import short_name, short_words
from ..command.numbers import percent, short
from ..files.store import write_json
from ..outcome.cautions import CAUTION
from .compare import Comparison
from .emulator import Emulator
from .fit import Fit, fit_rows
from .fit_cases import FitCases, check_keys, solve_fit
from .next_pull import Candidate, next_pulls
from .predict import settings_of_row
from .table import Row

if TYPE_CHECKING:
    from rich.console import Console

MODEL_ERROR = 0.15
POINTS = 64
CANDIDATES: tuple[dict[str, Any], ...] = (
    *({"placement.angle_deg": angle, "placement.attachment": "eye"} for angle in (-20.0, -10.0, 0.0, 10.0, 20.0)),
    {"placement.angle_deg": 0.0, "placement.attachment": "tied_off", "placement.embedment_mm": 70.0},
    {"placement.angle_deg": 0.0, "placement.attachment": "eye", "pull.direction_deg": 90.0},
)


@dataclass(frozen=True, slots=True)
class Learnt:
    """The fit of a table, candidates by what they would teach, and all of it in sentences."""

    fit: Fit
    ranked: tuple[Candidate, ...]
    lines: tuple[str, ...]


def check_fit(rows: Sequence[Row], keys: Sequence[str], against: str, changed: Mapping[str, Any]) -> None:
    """Raises CaseError, before anything is pulled, for keys that cannot be fitted to these rows, or too few rows."""
    if against != "peak":
        raise CaseError(f"--against = {against}: must be peak where --fit is given")
    measured = [row for row in rows if row.is_measured]
    if all(row.is_bound for row in measured):
        raise CaseError("--fit: no row holds a measured peak: must have one or more that is no bound")
    settings = []
    for row in measured:
        with suppress(CaseError):  # what cannot be modelled is told with the row
            settings.append(settings_of_row(row, changed)[0])
    check_keys(keys, settings)


def learn(
    found: Comparison, keys: Sequence[str], out: Path, console: Console, seed: int = 1, jobs: int | None = None
) -> Learnt:
    """Fit some keys to the measured rows of a comparison of peaks (`check_fit`).

    Raises CaseError if too few of a row's pulls are solved; errors of `solve_fit`.
    """
    from ..words.fit import fit_words

    pairs = [pair for pair in found.pairs if pair.measured is not None]
    rows = [settings for pair in pairs if (settings := pair.prediction.settings)]
    others = _candidates(rows[0])
    cases = solve_fit([*rows, *(settings for _, settings in others)], keys, out, console, POINTS, seed, jobs)
    fit = fit_rows(found.measured, _emulator(cases, range(len(rows))), cases.priors, MODEL_ERROR, seed=seed)
    last = range(len(rows), len(rows) + len(others))
    error = float(np.median([row.error for row in found.measured]))
    ranked = next_pulls(fit, [name for name, _ in others], _emulator(cases, last), error, seed=seed)
    return Learnt(fit, ranked, (*fit_words(fit), *_next_words(ranked)))


def _emulator(cases: FitCases, rows: range) -> Emulator:
    try:
        return Emulator(cases.points, cases.log_peaks[:, list(rows)])
    except ValueError as error:
        raise CaseError(f"--fit: {error}") from None


def _candidates(first: Settings) -> list[tuple[str, Settings]]:
    """Placements of the first row's tube in its ice, in words."""
    found = []
    for changed in CANDIDATES:
        given = {**first, "placement.sling_height_mm": 0.0, "placement.sling_friction": "fixed", **changed}
        try:
            settings = settings_from(given)
        except CaseError:  # a short tube cannot be placed so
            continue
        keys = ("placement.angle_deg", "placement.attachment", "pull.direction_deg")
        found.append((", ".join(short_words(key, settings[key]) for key in keys), settings))
    return found


def _next_words(ranked: Sequence[Candidate]) -> list[str]:
    """Which pull would teach most."""
    if not ranked:
        return []
    best, worst = ranked[0], ranked[-1]
    told = f"Pull next: {best.placement}: {short(best.gain, 2)} nats expected (± {short(best.sd, 1)})"
    narrowed = ", ".join(f"{short_name(key)} {percent(1 - share, 0)}" for key, share in best.shrink.items())
    return [f"{told}; it would narrow {narrowed}. Least would teach: {worst.placement}, {short(worst.gain, 2)}."]


def write_learnt(learnt: Learnt, folder: Path) -> None:
    """Write fit.json and fit.png. Raises OSError if one cannot be written."""
    from ..figures.fit_figure import fit_figure

    fit = learnt.fit
    inputs = [{name: value for name, value in asdict(each).items() if name != "margin"} for each in fit.inputs]
    told = {
        "inputs": inputs,
        "correlation": fit.correlation.tolist(),
        "scatter": list(fit.scatter),
        "model_error": fit.model_error,
        "log_evidence": fit.log_evidence,
        "gain_of_a_row_left_out": fit.gain,
        "next": [asdict(each) for each in learnt.ranked],
        "lines": list(learnt.lines),
        "caution": CAUTION,
    }
    write_json(folder / "fit.json", told)
    fit_figure(fit, folder / "fit.png")
