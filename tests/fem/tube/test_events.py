"""Events of a pull are located, or the step is taken shorter: none is passed over; small changes move no peak far."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

import numpy as np
import pytest
from samples import settings

from icecone.fem.laws.gather import peak_laws
from icecone.fem.tube.equilibrium import find, unloaded
from icecone.fem.tube.events import EVENTS, measures
from icecone.fem.tube.pull import TubePull, make_tube_model, solve_pull
from icecone.fem.tube.state import Equilibrium, TubeModel
from icecone.fem.tube.steps import CLOSE, JUMP, LOCATED, Reached, Search, looked, search_from
from icecone.studies.case.file import to_case
from icecone.studies.files.laws import kept_law

CLOSE_TO = dict(zip(EVENTS, CLOSE, strict=True))


@cache
def pulled(**given: float | str) -> TubePull:
    case = to_case(settings(**given))
    return solve_pull(case.tube, case.placement, case.pull, peak_laws(case, kept_law), case.metal)


WEAK = {
    "tube__length_mm": 79.56,
    "tube__thread_height_mm": 2.28,
    "placement__angle_deg": 12.83,
    "pull__direction_deg": 44.66,
    "ice__load_time_s": 1543.0,
    "ice__grain_size_mm": 1.026,
    "ice__tensile_MPa": 0.0539,
}


def test_a_tenth_of_a_millimetre_does_not_move_a_cone() -> None:
    """Two cases whose cone was passed over on one side: 4.06 beside 2.87 kN, 4.39 beside 4.13 and 4.17 kN."""
    slanting = [pulled(placement__embedment_mm=e, **WEAK).peak for e in (30.1, 30.2, 30.3, 30.4)]
    tied = [
        pulled(placement__embedment_mm=e, placement__attachment="tied_off").peak for e in (37.7, 37.8, 37.9, 38.0, 38.1)
    ]
    for peaks in (slanting, tied):
        assert np.diff(np.log(peaks)) == pytest.approx(0.005, abs=0.003)


@pytest.mark.parametrize("angle_deg", [-20.0, 0.0, 20.0])
def test_events_lie_within_their_tolerance(angle_deg: float) -> None:
    """All that are located; what jumps is said. The cone decides the peak and is met to a millionth."""
    events = [event for event in pulled(placement__angle_deg=angle_deg).events if event.name != "peak"]
    assert len(events) > 2
    for event in events:
        assert event.found in ("located", "jump")
        assert event.found == "jump" or 0 <= event.overshoot < CLOSE_TO[event.name], event.name


Ways = Callable[[float], Equilibrium | None]


def start() -> tuple[TubeModel, Equilibrium, Ways]:
    """A tube unloaded, and its first 60 micrometres, on which the wall comes to its limit."""
    case = to_case(settings())
    model = make_tube_model(case.tube, case.placement, case.pull, peak_laws(case, kept_law), case.metal)
    rest = unloaded(model)
    return model, rest, partial(_on, model, rest)


def _on(model: TubeModel, rest: Equilibrium, share: float) -> Equilibrium | None:
    return find(model, rest, 6e-5 * share, rest.q, 0.0)


def to_event(at: Equilibrium, way: Ways, measured: Callable[[Equilibrium], np.ndarray]) -> Search:
    """The search for the first event on a way, to its end; nothing has come before."""
    search, seen = search_from(at.flat, measured(at)), np.zeros(len(EVENTS), bool)
    while not search.over:
        new = way(search.share)
        known = at if new is None else new
        search = looked(search, seen, Reached(new is not None, known.flat, measured(known), np.zeros(1), LOCATED))
    return search


def test_an_event_is_located_on_its_step() -> None:
    model, rest, way = start()
    end = way(1.0)
    assert end is not None and measures(model, end)[0] > 1e-3
    found = to_event(rest, way, partial(measures, model)).end
    assert found.found and 0 <= found.measures[0] < CLOSE_TO["bearing at its limit"]


def test_where_no_state_is_found_the_last_before_the_event_is_taken_or_none() -> None:
    """Never the one past it: that was the fault."""
    model, rest, way = start()
    assert not to_event(rest, lambda share: way(1.0) if share == 1 else None, partial(measures, model)).end.found
    tried: list[float] = []

    def fails_near(share: float) -> Equilibrium | None:
        tried.append(share)
        return way((1.0, 0.1)[len(tried) - 1]) if len(tried) <= 2 else None

    before = to_event(rest, fails_near, partial(measures, model)).end
    assert before.found and before.measures[0] < 0


def test_a_measure_that_jumps_is_located_in_place() -> None:
    """From -1 to 1 at a third of the step: found there to a billionth, and said to be a jump."""
    _, rest, way = start()
    shares: list[float] = [0.0]

    def known(share: float) -> Equilibrium | None:
        shares.append(share)
        return way(share)

    def jumps(state: Equilibrium) -> np.ndarray:
        return np.where(np.arange(len(EVENTS)) == 0, 1.0 if shares[-1] > 1 / 3 else -1.0, -1.0)

    search = to_event(rest, known, jumps)
    assert 0 < search.high - 1 / 3 < 1e-8 and search.end.how == JUMP
