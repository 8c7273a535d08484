"""What drives the cone: weight functions of its fronts, against the slit cones that know shut faces."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from samples import case as sample_case
from samples import tube_into

from icecone.fem.case import Case
from icecone.fem.cone.demand import NODES, ConeFronts
from icecone.fem.cone.fronts import front_weights, least_load, tip_cones
from icecone.fem.cracks.slit import Slit, make_slit
from icecone.fem.cracks.wall_loads import BACK, FRONT, THREADS, Rings, hole_rings

EMBEDMENT = 0.04
TUBE = tube_into(EMBEDMENT)
PLACE = np.linspace(0.0, 1.0, NODES)
EVEN = np.where((PLACE == 0) | (PLACE == 1), 0.5, 1.0) / (NODES - 1)


def case(angle_deg: float) -> Case:
    return sample_case(angle_deg, embedment=EMBEDMENT, tube=TUBE)


@cache
def computed(angle_deg: float) -> tuple[np.ndarray, float]:
    return front_weights(case(angle_deg))


@cache
def fronts(angle_deg: float) -> ConeFronts:
    """The law of one angle and embedment, in newtons."""
    return ConeFronts(computed(angle_deg)[0][None], np.ones(1))


@cache
def cones(angle_deg: float) -> tuple[Rings, list[Slit]]:
    given = case(angle_deg)
    rings = hole_rings(TUBE, given.placement)
    return rings, [make_slit(given, rings, "cone", shape) for shape in tip_cones(given)]


def borne(angle_deg: float, loads: np.ndarray) -> float:
    """How many times loads (3, NODES) [N] the weakest slit cone bears, all its lengths opened in turn."""
    rings, slits = cones(angle_deg)
    hats = np.maximum(1 - np.abs(PLACE * (len(rings.s) - 1) - np.arange(len(rings.s))[:, None]), 0.0)
    f = (hats @ loads.T)[rings.node, rings.kind]
    return least_load(slits, f)


def wall(front: float = 0.0, back: float = 0.0, threads: float = 1.0) -> np.ndarray:
    """Loads [kN]: in front as chips limit it, behind on the lower third, threads evenly."""
    shapes = np.array([np.sqrt(PLACE) * (PLACE < 0.7), 1.0 * (PLACE > 0.7), EVEN])
    return 1e3 * np.array([[front], [back], [threads]]) * shapes / shapes.sum(axis=1, keepdims=True)


@pytest.mark.parametrize("angle_deg", [0.0, pytest.param(20.0, marks=pytest.mark.slow)])
def test_threads_alone_need_what_the_slit_cones_need(angle_deg: float) -> None:
    """No face shuts: 1 / demand is the least load of `slits`, within 2 %."""
    assert 1 / fronts(angle_deg).demand(PLACE)(wall()) == pytest.approx(borne(angle_deg, wall()), rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(("front", "back", "threads"), [(1.5, 0.5, 1.0), (1.0, 0.0, 1.5), (2.0, 1.0, 2.0)])
def test_pushes_of_the_wall_count_as_in_the_slit_cones(front: float, back: float, threads: float) -> None:
    """Where faces shut, the demand is too low, never by more than 20 %, never too high by more than 3 %."""
    loads = wall(front, back, threads)
    assert 0.8 < fronts(0.0).demand(PLACE)(loads) * borne(0.0, loads) < 1.03


def test_the_error_kept_is_that_against_the_slit_cones() -> None:
    """Of a push on both sides, from the front and from behind, over that of the threads alone."""
    ratios = [fronts(0.0).demand(PLACE)(loads) * borne(0.0, loads) for loads in (wall(), wall(1.8, 0.65))]
    assert 0 < computed(0.0)[1] < 0.2
    assert computed(0.0)[1] == pytest.approx(abs(ratios[1] / ratios[0] - 1), abs=0.03)


def test_a_push_drives_the_cone_and_one_from_either_side_shuts_it() -> None:
    """Upright and short: a hard push in front adds to the demand, a milder one with one behind takes from it."""
    demand = fronts(0.0).demand(PLACE)
    assert demand(wall(front=4.0)) > 1.3 * demand(wall())
    assert demand(wall(front=1.5, back=1.0)) < 0.75 * demand(wall())


def test_demand_goes_with_the_loads_and_is_one_where_it_was_scaled() -> None:
    """Twice the loads, twice the demand; laws are mixed by their shares, each with 1 under its threads alone."""
    one = fronts(0.0)
    two = ConeFronts(np.concatenate([one.weights, 3 * one.weights]), np.array([0.25, 0.75]))
    assert two.demand(PLACE)(wall()) == pytest.approx(2.5 * one.demand(PLACE)(wall()))
    scaled = two.scaled(EVEN)
    assert scaled.demand(PLACE)(wall() / 1e3) == pytest.approx(1.0)
    assert scaled.demand(PLACE)(wall(0.3, 0.1)) == pytest.approx(0.5 * scaled.demand(PLACE)(2 * wall(0.3, 0.1)))
    missing = replace(one, weights=np.concatenate([one.weights, 0 * one.weights], axis=1))
    assert missing.demand(PLACE)(wall(1.0)) == pytest.approx(one.demand(PLACE)(wall(1.0)))


def test_an_upright_tube_has_the_same_ice_in_front_and_behind() -> None:
    """g of a push behind is that in front, seen from the other side: cos m phi changes its sign where m is odd."""
    g = fronts(0.0).weights[0, :, :, 0]
    turned = g[..., [BACK, FRONT, THREADS], :] * np.array([1, -1, 1, -1])[:, None, None]
    assert np.abs(g - turned).max() < 0.02 * np.abs(g).max()
