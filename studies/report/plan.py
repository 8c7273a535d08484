"""The report of a planned day: what to expect of each pull, whether the rig suffices, how many repeats, the order."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..case.file import settings_from
from ..command.numbers import fixed
from ..files.store import read_json
from ..outcome.cautions import CAUTION, HIGH_ENERGY, PULL_CAUTION
from .axes import axis_of_rows, case_at, explorer
from .moments import Plain, placement
from .our_pages import read_page
from .page import Block, Copied, Page, section
from .rows import case_of, number, read_rows, told
from .told import assumed_section, pictures

FACTS = {  # columns of plan.csv, in words
    "plan_block": "block",
    "plan_gives_way": "what gives way, and how likely",
    "plan_early_kN": "early load (kN)",
    "plan_largest_kN": "reckon with (kN)",
    "plan_movement_mm": "movement up to the peak (mm)",
    "plan_movement_high_mm": "movement, nine of ten below (mm)",
    "plan_people": "people to haul",
    "plan_weakest_link": "weakest link of the rig",
    "plan_energy_J": "energy in rope and slings (J)",
    "plan_breakout_mm": "keep clear (mm)",
    "plan_assumed": "taken for granted",
    "plan_problem": "problem",
}


def plan_page(folder: Path, files: Sequence[str]) -> Page:
    """The page of a plan."""
    found = read_page((folder / "plan.md").read_text(encoding="utf-8"))
    rows = sorted(read_rows(folder / "plan.csv"), key=lambda row: number(row, "plan_order") or 0.0)
    first, _, second = found.answer.partition("). ")
    answer = (f"{first}).", second) if second else (found.answer,)
    made = read_json(folder / "manifest.json")["icecone"]
    return Page(
        command="plan",
        title=found.title,
        question="What is to be expected of this day of pulls, and does the rig suffice?",
        answer=answer,
        about=found.title,
        cautions=(HIGH_ENERGY, PULL_CAUTION, CAUTION),
        sections=(
            *section("explore", "Pull by pull", _explorer(rows)),
            *section("pictures", "The day in pictures", *pictures(folder, files, found.answer)),
            *found.sections,
            *assumed_section(settings_from({})),
            *section(
                "case", "The table to fill in", Copied("plan.csv", (folder / "plan.csv").read_text(encoding="utf-8"))
            ),
        ),
        made=f"Made with icecone {made}.",
    )


def _explorer(rows: Sequence[dict[str, str]]) -> Block | None:
    axis = axis_of_rows("Pull, in the order of the day", [row["id"] for row in rows])
    shows = "; ".join(_words(row) for row in rows[:12])
    legend = "Dots: the limit of each pull; bars: nine of ten draws. Red: the pull shown."
    cases = [_case(row, k) for k, row in enumerate(rows)]
    return explorer(
        f"A slider over the pulls of the day. {shows}", [axis], cases, place="Among the pulls", place_legend=legend
    )


def _case(row: dict[str, str], at: int) -> Plain:
    facts = [(words, told(row[name])) for name, words in FACTS.items() if row.get(name)]
    loads = {
        what: number(row, f"plan_limit{name}_kN") for what, name in (("limit", ""), ("low", "_low"), ("high", "_high"))
    }
    return case_at([at], _words(row), facts, placement(case_of(row)), _mode(row), loads)


def _mode(row: dict[str, str]) -> str:
    """The likeliest mode, without its chance."""
    return (row.get("plan_gives_way") or "no prediction").split(",")[0].rstrip("0123456789 %")


def _words(row: dict[str, str]) -> str:
    load, low, high = (number(row, f"plan_limit{name}_kN") for name in ("", "_low", "_high"))
    if load is None:
        return f"{row['id']}: no prediction: {row.get('plan_problem') or 'not solved'}"
    between = f" ({fixed(low)} to {fixed(high)})" if low is not None and high is not None and low < high else ""
    return f"{row['id']}: {fixed(load)} kN{between}, {_mode(row)}"
