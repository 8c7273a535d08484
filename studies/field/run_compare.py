"""Compares a table of pulls with the model, and learns from it, into a folder.

OUT/comparison.csv, .md       row by row, and as a page         OUT/comparison.png, by_angle.png     the same drawn
OUT/fit.png, fit.json         with --fit: what the pulls say of inputs, and which pull would say most next
OUT/study.sqlite, fit.sqlite  the pulls that were solved, taken up again
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..command.plain_text import one_line
from ..files.answer import answer
from ..files.store import write_csv, write_text
from ..outcome.data import LOADS
from ..sweep.runner import say
from .compare import Comparison, Pair, compare, explained_by
from .learn import Learnt, check_fit, learn, write_learnt
from .predict import LIMIT, predict
from .table import Table

if TYPE_CHECKING:
    from rich.console import Console

FILES = ("comparison.csv", "comparison.md")
HEADER = (
    *("id", "flag", "source", "measured_kN", "is_bound", "ended", "mode_seen", "against"),
    *("predicted_kN", "predicted_low_kN", "predicted_median_kN", "predicted_high_kN", "predicted_mode"),
    *("measured_over_median", "share_of_draws_below", "explained_by", "explained_at"),
    *(f"stated_{name}_kN" for name in (LIMIT, *LOADS)),
    *("assumed", "not_modelled_because", "case_id"),
)


def run_compare(
    table: Table,
    out: Path,
    console: Console,
    *,
    against: str = "peak",
    draws: int = 100,
    seed: int = 1,
    changed: Mapping[str, Any] | None = None,
    fit: Sequence[str] = (),
    jobs: int | None = None,
) -> tuple[Comparison, Learnt | None]:
    """Compare a table into a folder; arguments and errors of `predict`, `compare` and `learn`.

    Raises CaseError for a fit that cannot be made, files.lock.Busy if another run holds the folder.
    """
    for text in table.said:
        say(console, f"{table.path}: {text}")
    if fit:
        check_fit(table.rows, fit, against, changed or {})
    predictions = predict(table.rows, out, console, draws, seed, changed, jobs)
    found = compare(one_line(table.path.name), predictions, against, draws, seed, table.said, table.problems, changed)
    learnt = learn(found, fit, out, console, seed, jobs) if fit else None
    with answer(out, "compare", FILES) as stage:
        write_comparison(found, learnt, stage)
    return found, learnt


def write_comparison(found: Comparison, learnt: Learnt | None, folder: Path) -> None:
    """Write all files. Raises OSError if one cannot be written."""
    from ..words.comparison import cautions, page

    remarks = [f"{found.name}: predicted beside measured", *cautions(found)]
    write_csv(folder / "comparison.csv", HEADER, [_cells(pair) for pair in found.pairs], remarks)
    write_text(folder / "comparison.md", page(found, list(learnt.lines) if learnt else []))
    if found.measured:
        from ..figures.comparison import against_angle, one_to_one

        one_to_one(found, folder / "comparison.png")
        if (
            len({pair.prediction.settings["placement.angle_deg"] for pair in found.pairs if pair.prediction.settings})
            > 1
        ):
            against_angle(found, folder / "by_angle.png")
    if learnt is not None:
        write_learnt(learnt, folder)


def _cells(pair: Pair) -> list[object]:
    from ..case.file import settings_id

    row, found = pair.prediction.row, pair.prediction
    low, middle, high = pair.range()
    cause = explained_by(pair)
    return [
        *(row.id, row.flag, row.source or None, row.peak_kN, _yes(row.is_bound), row.ended, row.mode, pair.against),
        *(found.load(pair.against), low, middle, high, found.plain.get(f"{pair.against}_mode")),
        *(pair.ratio, pair.place, cause[0] if cause else None, cause[1] if cause else None),
        *(found.load(name) for name in (LIMIT, *LOADS)),
        *("; ".join(found.assumed) or None, found.problem or None),
        settings_id(found.settings) if found.settings is not None else None,
    ]


def _yes(value: bool) -> str:
    return "yes" if value else "no"
