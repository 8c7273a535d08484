"""A case solved once for the tests of its files and pictures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from samples import settings

from icecone.fem.onset.solve import Solution


@pytest.fixture(scope="session")
def solved(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Solution, Path]:
    """Record, solution and folder of a coarse, shallow case that leans away, with a crust."""
    from icecone.studies.files.solution import write_solution
    from icecone.studies.outcome.record import solve_settings

    given = {"placement__angle_deg": -15.0, "placement__embedment_mm": 60.0, "ice__crust_mm": 10.0}
    record, solution = solve_settings(settings(numerics__level="quick", **given))
    folder = tmp_path_factory.mktemp("case")
    write_solution(record, solution, folder)
    return record, solution, folder
