"""Whether pictures are written as SVG too, beside their PNG; without matplotlib, so that commands start fast."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

SVG_TOO: ContextVar[bool] = ContextVar("svg_too", default=False)


@contextmanager
def svg_too(wanted: bool = True) -> Iterator[None]:
    """Within it each picture that is saved as PNG is saved as SVG beside it."""
    before = SVG_TOO.set(wanted)
    try:
        yield
    finally:
        SVG_TOO.reset(before)
