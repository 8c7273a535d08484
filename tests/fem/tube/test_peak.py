"""The peak: what ends a pull, its rivals, and the push that takes from the cone."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi, radians

import numpy as np
import pytest
from samples import TUBE, UNBROKEN, case, even_laws, placed

from icecone.fem.cone.demand import ConeFronts
from icecone.fem.tube.peak import pull_case, solve_peak
from icecone.fem.tube.pull import BEARS
from icecone.geometry.placement import Pull

STRAIGHT = case(direction_deg=90.0)


def test_a_straight_pull_is_the_least_of_cone_and_threads_and_names_the_other() -> None:
    """Straight out nothing bends: the cone's 15 kN, then the threads' 450 N/mm over 65 mm, the hanger's 10 kN apart."""
    found = solve_peak(STRAIGHT, even_laws(cone=15e3))
    assert (found.pull.mode, found.pull.peak) == ("cone", pytest.approx(15e3, rel=1e-3))
    assert found.rivals[0] == found.limit == ("hanger", 10e3)
    assert found.rivals[1] == ("threads stripped", pytest.approx(450e3 * 0.065, rel=1e-2))
    assert found.next == ("cone", found.pull.peak) and found.margin == pytest.approx(15 / 10, rel=1e-3)
    stripped = solve_peak(STRAIGHT, even_laws(cone=12e3, threads=100e3))
    assert (stripped.pull.mode, stripped.pull.peak) == ("threads stripped", pytest.approx(6.5e3, rel=1e-2))
    assert stripped.limit == ("threads stripped", stripped.pull.peak) and stripped.next == ("hanger", 10e3)
    assert stripped.margin == pytest.approx(10 / 6.5, rel=1e-2) and "cone" in dict(stripped.ladder)


def test_rivals_are_a_ladder_of_modes_until_one_needs_twice_the_peak() -> None:
    """Weak threads, then the cone, then a tube drawn out like a rope; what needs more than twice the peak is none."""
    found = solve_peak(case(assumed=UNBROKEN), even_laws(threads=100e3))
    assert found.pull.mode == "threads stripped" and found.above == 2 * found.pull.peak
    modes, loads = zip(*(rival for rival in found.rivals if rival[0] != "hanger"), strict=True)
    assert modes == ("cone", "rope", "lever-out") and list(loads) == sorted(loads)
    assert found.pull.peak < loads[0] and loads[-1] <= found.above
    straight = solve_peak(STRAIGHT, even_laws())
    assert [mode for mode, _ in straight.rivals] == ["hanger"] and straight.above == 2 * straight.pull.peak


def test_a_rival_that_falls_before_a_stop_counts_though_it_rises_to_more_than_enough_beyond() -> None:
    """Leaning away, held to 10 deg of turn: the tube that cannot bend levers out at less than twice the peak."""
    leaning = case(-20.0, assumed=UNBROKEN, pull=Pull(0.0, turn=radians(10)))
    found = solve_peak(leaning, even_laws())
    assert found.pull.peak < dict(found.rivals)["lever-out"] < 2 * found.pull.peak
    assert all(load <= 2 * found.pull.peak for mode, load in found.ladder)


def test_a_pull_ends_at_the_first_state_that_bears_enough_and_is_the_same_up_to_there() -> None:
    whole = pull_case(STRAIGHT, even_laws())
    enough = 0.6 * whole.peak
    some = pull_case(STRAIGHT, even_laws(), enough)
    assert some.ended == BEARS and some.load[-2] <= enough < some.load[-1]
    assert np.array_equal(some.load, whole.load[: some.load.size]) and some.load.size < whole.load.size
    assert pull_case(STRAIGHT, even_laws(), 1.01 * whole.peak).ended == whole.ended != BEARS


def test_a_cone_that_comes_beyond_a_stop_is_a_rival_at_its_load() -> None:
    """A tube that turns by 25 deg and pulls its cone later: no stronger ice makes that cone stronger."""
    early = case(assumed=UNBROKEN, pull=Pull(0.0, turn=radians(25)))
    found = solve_peak(early, even_laws(cone=9e3))
    came = next(event for event in found.pull.events if event.name == "cone")
    assert found.pull.stop == "stop: head turned" and came.load > found.pull.peak
    assert dict(found.rivals)["cone"] <= came.load


def test_a_sling_stands_for_the_hanger_where_the_tube_is_tied_off() -> None:
    slings = (placed(attachment="tied_off", sling_strength=strength) for strength in (9e3, inf))
    stated, unstated = (solve_peak(replace(STRAIGHT, placement=sling), even_laws()).rivals for sling in slings)
    assert stated[0] == ("sling", 9e3)
    assert "hanger" not in dict(stated) and "sling" not in dict(unstated)


def even_fronts(front: float) -> ConeFronts:
    """A front driven evenly all round by threads and, `front` times as much, by the wall's resultant, at any depth."""
    return ConeFronts(np.array([front, -front, 1.0])[None, None, None, None, None, :, None] * np.ones(2), np.ones(1))


@pytest.mark.parametrize(("taken", "held"), [(0.2, 1 / 1.2), (1.0, 1 / 2.0), (0.0, 1.0)])
def test_the_cone_comes_at_the_push_of_the_moment(taken: float, held: float) -> None:
    """N + taken H = N_0, pulled 45 deg aside at the ice by a tube that hardly turns: N = H = N_0 / (1 + taken)."""
    fronts = even_fronts(taken)
    found = solve_peak(case(direction_deg=45.0, attachment="tied_off"), even_laws(cone=6e3, fronts=fronts))
    assert found.pull.mode == "cone"
    assert found.pull.cone_load == pytest.approx(held * 6e3, rel=0.02)
    came = next(event for event in found.pull.events if event.name == "cone")
    assert came.load == pytest.approx(2**0.5 * held * 6e3, rel=0.02)
    straight = solve_peak(STRAIGHT, even_laws(cone=6e3, fronts=fronts)).pull
    assert straight.cone_load == pytest.approx(6e3, rel=1e-3)  # straight out there is no push and nothing is taken


def test_a_sling_that_can_slide_holds_no_more_than_one_that_cannot() -> None:
    """The cone comes on the way, whatever comes after: the curves are one until the sling slides."""
    peaks = []
    for friction in (0.3, 0.5, inf):
        tied = case(placement=placed(0.0, 0.050, "tied_off", sling_friction=friction))
        peaks.append(solve_peak(tied, even_laws(cone=3e3, wall=120e3, fronts=even_fronts(0.5))).pull.peak)
    assert peaks[0] <= peaks[1] * (1 + 1e-3) and peaks[1] <= peaks[2] * (1 + 1e-3)


@pytest.mark.slow
def test_a_wall_that_bears_less_lets_the_tube_turn_unbent() -> None:
    """Strong ice bends the tube; in weak ice it turns unbent, until the head lies in the ice."""
    strong, weak = (solve_peak(case(), even_laws(wall=wall, cone=inf)) for wall in (400e3, 20e3))
    assert strong.pull.first_hinge is not None and strong.pull.mode != "lever-out"
    assert weak.pull.first_hinge is None and weak.pull.ended == "head in the ice"
    assert weak.pull.peak < 0.5 * strong.pull.peak


def test_margin_without_a_rival_is_infinite() -> None:
    found = replace(solve_peak(STRAIGHT, even_laws()), stated=None, ladder=())
    assert found.next is None and found.margin == inf


def test_all_threads_at_their_limit_are_stripped_threads() -> None:
    """Threads that give way but do not fall: the load rises to the end, with every thread at its limit."""
    tough = replace(even_laws(cone=inf, threads=100e3), thread_softening=inf)
    pull = solve_peak(STRAIGHT, tough).pull
    assert pull.mode == "threads stripped" and pull.peak == pytest.approx(6.5e3, rel=1e-3)


def test_a_few_threads_at_their_limit_are_stripped_threads() -> None:
    """10 mm of thread straight out: the first begins to slip as the others bear 98 % of what they can, and none has."""
    short = replace(STRAIGHT, tube=replace(TUBE, thread_length=0.010))
    pull = solve_peak(short, even_laws(cone=inf)).pull
    assert pull.mode == "threads stripped" and pull.peak == pytest.approx(4.5e3, rel=0.03)


def test_the_stop_moves_the_peak_and_no_other_load() -> None:
    """A tube levered out of weak ice hangs on its threads and rises on: the peak is the load at the stop, if any."""
    shallow = case(embedment=0.070)
    pulls = [
        solve_peak(replace(shallow, pull=Pull(0.0, *stops)), even_laws(cone=inf, wall=20e3)).pull
        for stops in ((0.25, pi), (0.25, radians(40.0)), (0.060, pi))
    ]
    free, turned, moved = pulls
    assert (free.peak, free.stop) == (free.largest.load, "") and free.mode == free.largest.mode
    assert (turned.mode, turned.stop) == ("not reached", "stop: head turned")
    assert (moved.mode, moved.stop) == ("not reached", "stop: load point moved")
    assert np.degrees(np.interp(turned.readings["peak"].displacement, turned.displacement, turned.head_rotation)) == (
        pytest.approx(40, rel=2e-3)
    )
    assert moved.readings["peak"].displacement == pytest.approx(0.060, rel=2e-3)
    assert max(turned.peak, moved.peak) < 0.9 * free.peak
    for name in ("first_drop", "early", "turned", "largest"):
        loads = [pull.readings[name].load for pull in pulls]
        assert loads == pytest.approx([loads[0]] * 3, rel=1e-2)  # a state more at a stop moves the later ones


def test_what_comes_beyond_a_stop_is_the_next_in_line() -> None:
    found = solve_peak(
        replace(case(embedment=0.070), pull=Pull(0.0, turn=radians(40.0))), even_laws(cone=inf, wall=20e3)
    )
    assert found.next is not None and found.pull.largest.mode in dict(found.rivals)
    assert dict(found.rivals)[found.pull.largest.mode] == found.pull.largest.load > found.pull.peak
