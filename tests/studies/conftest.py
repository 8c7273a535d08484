"""A case solved once for the tests of its files and pictures."""

from __future__ import annotations

from pathlib import Path

import pytest
from samples import settings

from icecone.fem.onset.solve import Solution
from icecone.studies.outcome.data import Outcome


@pytest.fixture(scope="session")
def solved(tmp_path_factory: pytest.TempPathFactory) -> tuple[Outcome, Solution, Path]:
    """Outcome, solution and folder of a coarse, shallow case that leans away, with a crust."""
    from icecone.studies.files.solution import write_solution
    from icecone.studies.outcome.models import solve_settings

    given = {"placement__angle_deg": -15.0, "placement__embedment_mm": 60.0, "ice__crust_mm": 10.0}
    outcome, solution = solve_settings(settings(numerics__level="quick", **given))
    folder = tmp_path_factory.mktemp("case")
    write_solution(outcome, solution, folder)
    return outcome, solution, folder
