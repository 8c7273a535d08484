"""Properties are tried on the same examples every time; fresh ones are searched by a job of its own (`.ci/search`)."""

from __future__ import annotations

import os

from hypothesis import settings

os.environ.pop("COLUMNS", None)  # the tests' output is as wide as a pipe's
if "PYTEST_XDIST_WORKER" in os.environ:  # a worker for each core: one thread each
    os.environ.update(OMP_NUM_THREADS="1", MKL_NUM_THREADS="1")

settings.register_profile("same", derandomize=True, database=None, deadline=None)
settings.register_profile("search", derandomize=False, database=None, deadline=None)
settings.load_profile("same")
