"""The validation pack runs with the tests: quick checks always, the others as slow ones."""

from __future__ import annotations

import pytest

from icecone.validation.check import Check
from icecone.validation.pack import missing, pack


@pytest.mark.parametrize(
    "check", [pytest.param(c, id=c.name, marks=[pytest.mark.slow] if c.slow else []) for c in pack()]
)
def test_check(check: Check) -> None:
    """Every quantity of the check within its tolerance, at the rate that it demands."""
    if absent := missing(check):
        pytest.skip(f"needs {', '.join(absent)}: pip install icecone[reference]")
    found = check.measure()
    assert found.quantities
    wrong = [f"{q.name}: error {q.errors[-1]:.2g}, rate {q.rate}" for q in found.quantities if not q.passed]
    assert not wrong, f"{check.title}: {'; '.join(wrong)}"
