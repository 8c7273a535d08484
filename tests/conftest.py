"""Properties are tried on the same examples every time; fresh ones are searched by a job of its own (`.ci/search`)."""

from __future__ import annotations

import os

from hypothesis import settings

os.environ.pop("COLUMNS", None)  # the tests' output is as wide as a pipe's

settings.register_profile("same", derandomize=True, database=None, deadline=None)
settings.register_profile("search", derandomize=False, database=None, deadline=None)
settings.load_profile("same")
