"""A stand-in for the pull, so that tests of plans and comparisons take no seconds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from field_samples import inline, made_up, made_up_peak_kN

from icecone.fem.errors import SolveError
from icecone.studies.outcome import wanted
from icecone.studies.outcome.wanted import Found


@pytest.fixture
def pulled(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Settings that were pulled, in order."""
    seen: list[dict[str, Any]] = []

    def solve(settings: dict[str, Any], want: object, say: Callable[[str], None]) -> tuple[Found, dict[str, str]]:
        seen.append(settings)
        if settings["ice.kind"] == "firn":
            raise SolveError("no balance is found")
        return made_up(settings, made_up_peak_kN(settings)), {}

    monkeypatch.setattr(wanted, "solve_wanted", solve)
    monkeypatch.setattr("icecone.studies.field.predict.workers", inline)
    monkeypatch.setattr("icecone.studies.files.records.law_changed", lambda files: "")
    return seen
