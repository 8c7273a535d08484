"""What a pull reads, on curves whose readings are known; and no pull beyond what ice or tube can bear."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi

import numpy as np
import pytest
from domains import examples, numbers
from hypothesis import given
from hypothesis import strategies as st
from samples import STEEL, TUBE, even_laws, placed, tube_into

from icecone.fem.errors import SolveError
from icecone.fem.tube.cross_section import hollow_section
from icecone.fem.tube.pull import make_tube_model, solve_pull
from icecone.fem.tube.readings import first_drop, ice_bound, largest_within, tube_bound
from icecone.geometry.placement import Pull
from icecone.materials import metal_named


def mode_of(k: int) -> str:
    return f"mode {k}"


def dropped(*load: float) -> tuple[float, float, str]:
    """First drop of loads a millimetre apart."""
    found = first_drop(np.array(load), np.arange(len(load)) * 1e-3, mode_of)
    return found.load, found.displacement, found.mode


def test_first_drop_is_the_first_largest_load_that_falls_by_a_twentieth() -> None:
    assert dropped(0, 5, 10, 9.6, 9.5, 20, 1) == (10, 0.002, "mode 2")
    assert dropped(0, 5, 10, 9.6, 20, 1) == (20, 0.004, "mode 4")
    assert dropped(0, 5, 10, 9.6, 9.7, 9.51) == (10, 0.002, "mode 2")
    assert dropped(0, 1, 2) == (2, 0.002, "mode 2")


@examples(60)
@given(st.lists(numbers(0.1, 10.0), min_size=2, max_size=30))
def test_no_reading_is_above_the_largest_and_wider_windows_read_no_less(loads: list[float]) -> None:
    load = np.r_[0.0, loads]
    moved = np.arange(len(load)) * 1e-3
    drop = first_drop(load, moved, mode_of)
    within = [largest_within(load, moved, moved, 1e-3 * limit, mode_of).load for limit in (0.5, 1.0, 1.7, 1e9)]
    assert within == sorted(within) and within[-1] == load.max() >= drop.load
    assert drop.load in load


def test_a_window_ends_on_the_line_between_two_states() -> None:
    """Rising through the edge: the load there, no mode. Falling, or with a larger load inside: that state and mode."""
    moved = np.array([0.0, 1.0, 2.0, 3.0])
    rising = largest_within(np.array([0.0, 2.0, 4.0, 9.0]), moved, moved, 2.5, mode_of)
    assert (rising.load, rising.displacement, rising.mode) == (6.5, 2.5, "not reached")
    for loads in ([0.0, 2.0, 7.0, 5.0], [0.0, 7.0, 1.0, 8.0]):
        inside = largest_within(np.array(loads), moved, moved, 2.5, mode_of)
        assert inside.load == 7 and inside.mode == f"mode {loads.index(7.0)}"


def test_bounds_are_the_sums_of_what_bears() -> None:
    """Plain shank: L l. Threads at the lower half: hypot(L, T) there. The shank above bears too. Tube: A sigma_u."""
    model = make_tube_model(TUBE, placed(), Pull(0.0), even_laws(threads=450e3, wall=270e3), STEEL)
    assert ice_bound(model.springs, model.shank) == pytest.approx(
        270e3 * 0.075 + hypot(270e3, 450e3) * 0.065 + 1e3, rel=2e-2
    )
    perfect = replace(STEEL, ultimate_strength=STEEL.yield_strength)
    section = hollow_section(TUBE.radius, TUBE.bore, perfect)
    assert tube_bound(section) == pytest.approx(STEEL.yield_strength * pi * (TUBE.radius**2 - TUBE.bore**2), rel=1e-2)


def test_a_pull_that_the_tube_cannot_pass_on_is_refused() -> None:
    """Tied off at ice fifty times too strong a soft tube is neither bent nor drawn, only sheared: no number."""
    weak = metal_named("aluminium_alloy")
    laws = even_laws(cone=float("inf"), threads=2e7, wall=2e7)
    with pytest.raises(
        SolveError, match=r"^a pull of [\d.]+ kN is more than a section of the tube can bear, [\d.]+ kN$"
    ):
        solve_pull(tube_into(0.045), placed(30.0, 0.045, "tied_off"), Pull(0.0), laws, weak)


def test_a_pull_ends_at_the_strain_limit_of_the_metal() -> None:
    """Held by strong threads a bent tube is drawn until the metal fails, within what its section bears."""
    laws = even_laws(cone=float("inf"), threads=4e6, wall=5e5)
    found = solve_pull(tube_into(0.08, 0.06), placed(0.0, 0.08), Pull(0.7), laws, STEEL)
    assert found.ended == "strain limit of the metal" and found.largest.mode == "tube bends"
    assert found.events[-1].displacement == found.displacement[-1] == found.largest.displacement
    assert found.largest.load <= tube_bound(hollow_section(TUBE.radius, TUBE.bore, STEEL))
