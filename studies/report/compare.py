"""The report of a comparison: is there a bias, are the ranges honest, pull by pull, what was learnt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ..case.file import settings_from
from ..case.toml import CaseError
from ..command.numbers import fixed, percent
from ..files.store import read_json
from .axes import axis_of_rows, case_at, explorer
from .moments import Plain, placement
from .our_pages import read_page
from .page import Block, Page, section
from .rows import number, read_rows, settings_of, told
from .told import assumed_section, pictures

FACTS = {  # columns of comparison.csv, in words
    "flag": "flag",
    "source": "source",
    "ended": "what ended the pull",
    "mode_seen": "seen to give way",
    "predicted_mode": "said to give way",
    "measured_over_median": "measured over predicted",
    "share_of_draws_below": "share of draws below",
    "explained_by": "would be explained by",
    "explained_at": "at",
    "stated_limit_kN": "limit as stated (kN)",
    "stated_peak_kN": "peak as stated (kN)",
    "assumed": "taken for granted",
    "not_modelled_because": "problem",
}


def compare_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a comparison."""
    found = read_page((folder / "comparison.md").read_text(encoding="utf-8"))
    rows = read_rows(folder / "comparison.csv")
    first, dot, second = found.answer.partition(". Of ")
    answer = (f"{first}.", f"Of {second}") if dot else (found.answer,)
    made = read_json(folder / "manifest.json")["icecone"]
    return Page(
        command="compare",
        title=found.title,
        question="Do measured pulls agree with the model, and what do they teach?",
        answer=answer,
        about=found.title,
        cautions=tuple(found.cautions),
        sections=(
            *section("explore", "Pull by pull", _explorer(rows, _settings(folder))),
            *section("pictures", "The comparison in pictures", *pictures(folder, files, found.answer)),
            *section("rows", "Row by row", *found.before),
            *found.sections,
            *assumed_section(settings_from({})),
        ),
        made=f"Made with icecone {made}.",
    )


def _settings(folder: Path) -> dict[str, Mapping[str, Any]]:
    """What was varied of each case of the records, by its id; none where there are no records."""
    import json

    from ..sweep.tables import CASE, read_results

    try:
        found = read_results(folder)
    except CaseError:
        return {}
    given = json.loads(found.attributes["case"])
    return {row[CASE]: {**given, **{key: row[key] for key in found.keys}} for row in found.rows}


def _explorer(rows: Sequence[dict[str, str]], settings: Mapping[str, Mapping[str, Any]]) -> Block | None:
    axis = axis_of_rows("Pull", [row["id"] for row in rows])
    cases = [_case(row, k, settings.get(row.get("case_id", ""), {})) for k, row in enumerate(rows)]
    return explorer(
        f"A slider over the pulls. {'; '.join(map(_words, rows[:12]))}",
        [axis],
        cases,
        place="Among the pulls",
        place_legend="Orange: measured; hollow: at least that. Blue: predicted, its median; bars: nine of ten draws.",
    )


def _case(row: dict[str, str], at: int, given: Mapping[str, Any]) -> Plain:
    facts = [(words, _cell(name, row[name])) for name, words in FACTS.items() if row.get(name)]
    loads = {
        "limit": number(row, "predicted_median_kN"),
        "low": number(row, "predicted_low_kN"),
        "high": number(row, "predicted_high_kN"),
        "bound" if row.get("is_bound") == "yes" else "measured": number(row, "measured_kN"),
    }
    return case_at(
        [at], _words(row), facts, placement(settings_of(dict(given))), row.get("predicted_mode") or "none", loads
    )


def _cell(name: str, text: str) -> str:
    return percent(float(text), 0) if name == "share_of_draws_below" else told(text)


def _words(row: dict[str, str]) -> str:
    """Measured beside predicted, in a sentence."""
    measured, middle = number(row, "measured_kN"), number(row, "predicted_median_kN")
    low, high = number(row, "predicted_low_kN"), number(row, "predicted_high_kN")
    least = "at least " if row.get("is_bound") == "yes" else ""
    seen = "not measured" if measured is None else f"measured {least}{fixed(measured)} kN"
    if middle is None or low is None or high is None:
        return f"{row['id']}: {seen}; no prediction"
    between = f" ({fixed(low)} to {fixed(high)})" if low < high else ""
    return f"{row['id']}: {seen}; predicted {fixed(middle)} kN{between}, {row.get('predicted_mode') or ''}"
