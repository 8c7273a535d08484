"""Made-up loads of pulls for tests of plans and comparisons; they say nothing about ice."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from math import radians, sin
from typing import Any

from icecone.studies.outcome.wanted import Found

HANGER_KN = 10.0


def made_up_peak_kN(settings: Mapping[str, Any]) -> float:
    """A peak that rises with the angle, the depth, the toughness and the share of crushing."""
    depth, angle = float(settings["placement.embedment_mm"]), radians(float(settings["placement.angle_deg"]))
    toughness = settings["ice.K_IC_kPa_sqrt_m"]
    share = (120.0 if toughness == "by_kind" else float(toughness)) / 120.0
    return 0.08 * depth * (1 + 2 * sin(angle)) * share**0.5 * float(settings["assumed.crushing_share"]) ** 0.3


class Inline(Executor):
    """Does what is submitted at once, in this thread."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


@contextmanager
def inline(*_: object) -> Iterator[tuple[Callable[[], Executor], int]]:
    """In place of `run_many.workers`."""
    yield Inline, 1


def made_up(settings: Mapping[str, Any], peak: float) -> Found:
    """What a pull with this peak [kN] is said to give: lever-out where the head leans away, else the tube bends."""
    mode = "lever-out" if settings["placement.angle_deg"] < -5 else "tube bends"
    limit = ("hanger", HANGER_KN) if peak > HANGER_KN else (mode, peak)
    return Found(
        limit_kN=limit[1],
        limit_mode=limit[0],
        peak_kN=peak,
        peak_mode=mode,
        peak_at_mm=3 * peak,
        early_kN=0.7 * peak,
        early_mode=mode,
        first_drop_kN=peak,
        turned_kN=peak,
        largest_kN=1.2 * peak,
    )
