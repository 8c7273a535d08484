"""The README's test command is the same on every run: properties are tried on the same examples each time."""

from __future__ import annotations

import re
from pathlib import Path

from domains import LEAST, examples, numbers
from hypothesis import given, settings
from hypothesis import strategies as st

HERE = Path(__file__).parent


def tried() -> list[tuple[float, str]]:
    found: list[tuple[float, str]] = []

    @examples(20)
    @given(numbers(-1e4, 1e4), st.text(max_size=3))
    def note(number: float, text: str) -> None:
        found.append((number, text))

    note()
    return found


def test_the_same_examples_come_again() -> None:
    """Without a seed given and without a database of earlier failures."""
    first = tried()
    assert first == tried() and len(set(first)) > 10
    assert settings.default is not None and settings.default.database is None and settings.default.deadline is None


def test_numbers_are_ones_that_a_user_may_mean() -> None:
    values = [number for number, _ in tried()]
    assert all(value == 0 or abs(value) >= LEAST for value in values) and min(values) < 0 < max(values)


def test_no_test_draws_what_another_run_would_not() -> None:
    """Generators of random numbers have a seed; properties take their numbers from `domains`, with no denormals."""
    unseeded = re.compile(r"default_rng\(\)|np\.random\.(?!default_rng|Generator)\w+\(|^import random|\bst\.floats\(")
    for path in HERE.rglob("*.py"):
        if path.name not in ("domains.py", Path(__file__).name):
            assert not unseeded.findall(path.read_text(encoding="utf-8")), path.name
