"""Outcomes as rows of a table: the columns that their models call for, by the names of the JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .data import Outcome
from .models import MODELS

COLUMNS = (
    *("onset_kN", "onset_mode", "onset_place", "onset_crack", "compliance_mm_per_kN"),
    *("share_front", "share_threads", "share_back_or_toe"),
    *("mouth_tension_MPa_per_kN", "mouth_compression_MPa_per_kN"),
    *("level", "dofs", "residual", "balance_error"),
)


def columns(outcomes: Iterable[Outcome]) -> tuple[str, ...]:
    """Columns of these outcomes: those of their models, then those of the onset."""
    models = {outcome.model for outcome in outcomes}
    own = (name for model in MODELS.values() if model.name in models for name in model.columns)
    return tuple(dict.fromkeys((*own, *COLUMNS)))


def cells(outcome: Outcome | None, names: Sequence[str]) -> list[object]:
    """The outcome's values in these columns; None if it has none."""
    if outcome is None:
        return [None] * len(names)
    found = {**outcome.to_dict(), "level": outcome.case["numerics.level"]}
    return [found.get(name) for name in names]
