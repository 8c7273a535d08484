"""What properties are tried on: numbers that a user may mean, and how many of them."""

from __future__ import annotations

from hypothesis import settings
from hypothesis import strategies as st

LEAST = 1e-9  # in the unit at hand: far below it products reach denormal numbers, which have no digits left to compare
MORE = 4  # times as many examples where fresh ones are searched


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Floats from low to high, all of size LEAST or more, but for zero."""
    return st.floats(low, high, allow_subnormal=False).map(lambda x: 0.0 if abs(x) < LEAST else x)


def examples(n: int) -> settings:
    """n examples in tests that are the same on every run, MORE times as many in a search."""
    searching = settings.get_current_profile_name() == "search"
    return settings(max_examples=n * MORE if searching else n)
