"""Events of a pull are located, or the step is taken shorter: none is passed over; small changes move no peak far."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

import numpy as np
import pytest
from samples import settings

from icecone.fem.laws.gather import peak_laws
from icecone.fem.tube import track as tubetrack
from icecone.fem.tube.equilibrium import Equilibrium, find, unloaded
from icecone.fem.tube.pull import TubePull, make_tube_model, solve_pull
from icecone.fem.tube.track import CLOSE, ENERGIES, EVENTS, Track, to_event
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


def start() -> tuple[Track, Callable[[float], Equilibrium | None]]:
    """A pull that has not begun, and its first 60 micrometres, on which the wall comes to its limit."""
    case = to_case(settings())
    model = make_tube_model(case.tube, case.placement, case.pull, peak_laws(case, kept_law), case.metal)
    rest = unloaded(model)
    track = Track(model, rest, [rest], [np.zeros(len(ENERGIES))])
    return track, partial(_on, model, rest)


def _on(model: tubetrack.TubeModel, rest: Equilibrium, share: float) -> Equilibrium | None:
    return find(model, rest, 6e-5 * share, rest.q, 0.0)


def test_an_event_is_located_on_its_step() -> None:
    track, way = start()
    end = way(1.0)
    assert end is not None and tubetrack.measures(track.model, end)[0] > 1e-3
    found = to_event(track, end, way)
    assert found is not None and 0 <= tubetrack.measures(track.model, found)[0] < CLOSE_TO["bearing at its limit"]


def test_where_no_state_is_found_the_last_before_the_event_is_taken_or_none() -> None:
    """Never the one past it: that was the fault."""
    track, way = start()
    end = way(1.0)
    assert end is not None
    assert to_event(track, end, lambda share: None) is None
    tried: list[float] = []

    def fails_near(share: float) -> Equilibrium | None:
        tried.append(share)
        return way(0.1) if len(tried) == 1 else None

    before = to_event(track, end, fails_near)
    assert before is not None and tubetrack.measures(track.model, before)[0] < 0


def test_a_measure_that_jumps_is_located_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """From -1 to 1 at a third of the step: found there to a billionth, and said to be a jump."""
    track, way = start()
    at = {share: way(share) for share in (0.0, 1.0)}

    def known(share: float) -> Equilibrium | None:
        return at.setdefault(share, way(share))

    def jumps(model: tubetrack.TubeModel, state: Equilibrium) -> np.ndarray:
        share = next((s for s, each in at.items() if each is state), 0.0)
        return np.where(np.arange(len(EVENTS)) == 0, 1.0 if share > 1 / 3 else -1.0, -1.0)

    monkeypatch.setattr(tubetrack, "measures", jumps)
    end = at[1.0]
    assert end is not None
    found = to_event(track, end, known)
    (place,) = (share for share, each in at.items() if each is found)
    assert 0 < place - 1 / 3 < 1e-8 and track.found == "jump"
