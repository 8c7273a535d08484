"""Results folders of every kind, made in seconds: of outcomes that are handed in, and of made-up pulls.

The made-up loads say nothing about ice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from field_samples import inline, made_up, made_up_peak_kN
from rich.console import Console

from icecone.studies.field.days import shipped_days
from icecone.studies.field.rig import read_rig
from icecone.studies.field.run_compare import run_compare
from icecone.studies.field.run_plan import run_plan
from icecone.studies.field.table import read_table, shipped_tables
from icecone.studies.files.answer import answer
from icecone.studies.files.store import write_json, write_text
from icecone.studies.outcome import wanted
from icecone.studies.outcome.cautions import CAUTION
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.wanted import Found
from icecone.studies.sweep.demand import read_design
from icecone.studies.sweep.many import read_many
from icecone.studies.sweep.run_design import run_design
from icecone.studies.sweep.run_many import solve_into

ANGLE, DEPTH = "placement.angle_deg", "placement.embedment_mm"
MANY = """
[study]
title = "invented draws"
question = "How wide is it?"
want = ["peak"]
[axes.placement]
angle_deg = [-20, 0, 20]
[random]
draws = 8
seed = 1
[random.placement]
embedment_mm = { distribution = "uniform", low = 90, high = 120 }
"""
DESIGN = """
[study]
title = "an invented demand"
question = "Which tube?"
[require]
limit_kN = 4
movement_mm = 50
[choose.tube]
length_mm = { low = 100, high = 160, step = 30 }
wall_mm = { low = 1, high = 2, step = 0.5 }
"""


def study_answer(folder: Path, outcomes: Sequence[Outcome], keys: Sequence[str]) -> Path:
    """A study over one key, or over a grid of several."""
    whole: dict[str, Any] = {
        "title": "an invented study",
        "question": "Which holds most?",
        **({"keys": list(keys)} if len(keys) > 1 else {"key": keys[0]}),
        "caution": CAUTION,
        "records": [outcome.to_dict() for outcome in outcomes],
        "problems": [],
    }
    with answer(folder, "study") as stage:
        write_json(stage / "outcomes.json", whole)
        write_text(stage / "why.txt", f"{whole['title']}\n{whole['question']}\n\nIt is invented.\n\n{CAUTION}\n")
    return folder


def grid_of(outcomes: Sequence[Outcome], depths: Sequence[float]) -> list[Outcome]:
    """Each outcome at each depth, as if it were its own."""
    return [
        replace(outcome, case={**outcome.case, DEPTH: depth}, limit_kN=(outcome.limit_kN or 1.0) * depth / 130)
        for depth in depths
        for outcome in outcomes
    ]


def day_answers(top: Path) -> dict[str, Path]:
    """A plan, a comparison, a study of draws and a design search, on made-up pulls."""
    console = Console(file=StringIO(), width=132)
    write_text(top / "many.toml", MANY)
    write_text(top / "design.toml", DESIGN)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wanted, "solve_wanted", _made_up)
        for module in ("field.predict", "sweep.run_many"):
            patch.setattr(f"icecone.studies.{module}.workers", inline)
        patch.setattr("icecone.studies.files.records.law_changed", lambda files: "")
        patch.setattr("icecone.studies.sweep.run_many.hairline", lambda spread: {})
        run_plan(read_table(shipped_days()["angle_day"]), read_rig(None, ()), top / "plan", console, 6, 1)
        run_compare(read_table(shipped_tables()["invented_day"]), top / "compare", console, draws=6)
        solve_into(read_many(top / "many.toml"), top / "many", console)
        (top / "design").mkdir()
        run_design(read_design(top / "design.toml"), top / "design", console, jobs=1)
    return {name: top / name for name in ("plan", "compare", "many", "design")}


def validate_answer(folder: Path) -> Path:
    """One check of the pack."""
    from icecone.studies.validating.run import run_pack

    run_pack(["broms"], folder, Console(file=StringIO()))
    return folder


def _made_up(settings: dict[str, Any], want: object, say: Callable[[str], None]) -> tuple[Found, dict[str, str]]:
    return made_up(settings, made_up_peak_kN(settings) * float(settings["tube.wall_mm"])), {}
