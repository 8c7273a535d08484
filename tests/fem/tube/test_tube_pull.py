"""A tube pulled out of ice: closed forms at its limits, independence of mesh and step, energy, modes, no failures."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf, pi

import numpy as np
import pytest
from samples import STEEL, TUBE, UNBROKEN, chipping_laws, placed, tube_into

from icecone.fem.hand import broms_short
from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.tube.equilibrium import find, unloaded
from icecone.fem.tube.pull import ENERGIES, TubePull, make_tube_model, solve_pull
from icecone.geometry.placement import Attachment, Placement, Pull, Tube
from icecone.materials import Assumed, default_assumed
from icecone.validation.benchmarks.tubepull import random_case, solve_random
from icecone.validation.checks.beam_and_pile.tube_beam import ELASTIC, PERFECT, hetenyi, on_springs, pile, straight

OD, K_IC = TUBE.outer_diameter, 0.14e6  # m, Pa m^0.5


@cache
def pulled(
    angle_deg: float = 0.0,
    embedment: float = 0.15,
    stands: float = 0.01,
    attachment: Attachment = "eye",
    element: float = 2.5e-3,
    largest_step: float = 2e-3,
    direction: float = 0.0,
    goes: bool = False,
    assumed: Assumed = UNBROKEN,
) -> TubePull:
    """A pull of a steel tube (17 mm, wall 1.5 mm), of unlimited strain, with a cone of 2.1 K_IC h^1.5."""
    placement = placed(angle_deg, embedment, attachment)
    ice = chipping_laws(embedment, 2.1 * K_IC * embedment**1.5, goes)
    tube, pull = tube_into(embedment, stands), Pull(direction)
    return solve_pull(tube, placement, pull, ice, STEEL, element, largest_step, assumed=assumed)


def test_first_displacement_is_that_of_a_beam_on_springs() -> None:
    """Hetenyi with shear, lever of 20 mm: second order in the element."""
    exact = hetenyi(0.02, 0.15, 1e10)
    errors = [abs(on_springs(n, 0.02, 0.15, 1e10) / exact - 1) for n in (30, 60)]
    assert errors[1] < 1e-2 and errors[0] / errors[1] > 2**1.8


@pytest.mark.parametrize("lever", [0.0, 0.02])
def test_rigid_pile_holds_what_broms_gives_it(lever: float) -> None:
    """h^2 + 2 h (L + 2 e) - L^2 = 0 (Broms 1964, uniform): within 0.1 %, a lever-out that leaves the tube straight."""
    found = pile(lever, 0.0025)
    assert found.peak == pytest.approx(broms_short(20e6, OD, 0.13, lever), rel=1e-3)
    assert found.first_hinge is None and found.mode == "lever-out"


@pytest.mark.parametrize(
    ("cone", "threads", "holds"),
    [(13e3, 20e3, 13e3), (30e3, 20e3, 20e3), (90e3, 80e3, STEEL.yield_strength * pi * (0.0085**2 - 0.0070**2))],
)
def test_straight_pull_holds_the_least_of_cone_threads_and_yield(cone: float, threads: float, holds: float) -> None:
    """min(N_cone, threads' limit, sigma_y A) without hardening."""
    assert straight(cone, threads, PERFECT) == pytest.approx(holds, rel=2e-5)


def test_a_slender_tube_becomes_a_rope() -> None:
    """Clamped by strong threads and drawn across, it ends along the rope and carries it as a tie: F = sigma A."""
    tube = Tube(0.25, 0.006, 0.001, 0.1, 0.001, 0.005, 0.01, 1e4)
    s = np.linspace(0, 0.1, 3)
    ice = IceLaws(s, 1e10 + 0 * s, 1e6 + 0 * s, 1e5 + 0 * s, inf, 1e10, 1e7, inf, inf, 1.0, 1e8, 0.0)
    soft = replace(STEEL, yield_strength=2e7, ultimate_strength=4e7, uniform_strain=1.0, strain_limit=2.0)
    across = Placement(0.0, 0.1), Pull(0.0)
    found = solve_pull(tube, *across, ice, soft, 5e-3, largest_displacement=0.165, assumed=UNBROKEN)
    assert found.ended == "moved as far as the model follows"
    assert np.degrees(found.head_rotation[-1]) == pytest.approx(90, abs=3)
    stretched = 0.015 / 0.15  # of the free length, 0.15 m, laid along the surface
    tie = (2e7 + 2e7 * stretched) * pi * (0.003**2 - 0.002**2)
    assert found.load[-1] == pytest.approx(tie, rel=0.05) and found.first_hinge is not None
    assert found.load[-1] > 3 * found.first_hinge


@pytest.mark.parametrize(
    "case",
    [(0.0, 0.15, 0.01), *(pytest.param(c, marks=pytest.mark.slow) for c in ((-20.0, 0.15, 0.01), (0.0, 0.04, 0.1)))],
)
def test_the_peak_is_independent_of_mesh_and_step(case: tuple[float, float, float]) -> None:
    """2.5 and 1.25 mm elements and half the step: less than 0.5 % apart; 5 mm, two on the shank, within 3 %.

    Of a shallow tube on a long lever the early load: its late one depends on the elements of the shank by 6 %.
    """
    asked = "early" if case[1] < 0.05 else "peak"

    def load(**changed: float) -> float:
        return pulled(*case, **changed).readings[asked].load  # type: ignore[arg-type]

    coarse, *peaks = (load(element=size) for size in (5e-3, 2.5e-3, 1.25e-3))
    peaks.append(load(largest_step=1e-3))
    assert max(peaks) / min(peaks) < 1.005 and coarse == pytest.approx(peaks[0], rel=0.03)


def test_energies_balance_better_with_smaller_steps() -> None:
    """Work against the sum of all the rest, each from its own law: 1e-3 at the default step, falling with it."""
    coarse, fine = (pulled(largest_step=step) for step in (2e-3, 2.5e-4))
    assert coarse.imbalance < 1e-3 and fine.imbalance < 0.3 * coarse.imbalance
    spent = dict(zip(ENERGIES, coarse.energies[-1], strict=True))
    assert min(spent[name] for name in ("elastic", "plastic", "crushing", "threads", "cone")) > 0
    for name in ("plastic", "crushing", "threads", "cone"):
        assert np.diff(coarse.energies[:, ENERGIES.index(name)]).min() > -1e-6 * spent["work"], f"{name} comes back"


def test_modes_are_as_practice_orders_them() -> None:
    """Flush in shear the tube bends; it holds more the more its head leans toward the pull; short ones turn unbent."""
    away, upright, toward = (pulled(angle) for angle in (-20.0, 0.0, 20.0))
    assert away.peak < 0.75 * upright.peak < 0.85 * toward.peak
    assert all(each.first_hinge and 5e3 < each.first_hinge < 12e3 for each in (away, upright, toward))
    assert upright.stop == "stop: head turned" and upright.first_hinge and toward.mode == "cone"
    short, tied = pulled(0.0, 0.04, 0.1), pulled(0.0, 0.04, 0.1, "tied_off")
    assert short.first_hinge is None and tied.peak > 2.5 * short.peak
    assert np.interp(17e-3, short.displacement, short.load) < 0.25 * tied.early.load
    out = pulled(0.0, 0.13, direction=pi / 2)
    assert out.mode == "cone" and out.peak == pytest.approx(2.1 * K_IC * 0.13**1.5, rel=1e-5)
    assert abs(out.head_rotation).max() < 1e-9 and out.first_hinge is None


def test_what_is_left_after_chips_decides_the_peak() -> None:
    """Chips that come out cost load, and it falls as the tube levers out."""
    whole, chipped = pulled(-20.0), pulled(-20.0, goes=True)
    assert chipped.peak < 0.9 * whole.peak and chipped.energies[-1, ENERGIES.index("crushing")] > 0
    assert "ice in front gone" in {event.name for event in chipped.events}
    assert "ice in front gone" not in {event.name for event in whole.events}


def test_events_come_in_order_with_the_tube_as_it_was() -> None:
    """Loads on the curve; yield before hinge before the stop; at a hinge |M| = M_p less what N takes."""
    found = pulled()
    at = {event.name: event for event in found.events}
    names = [event.name for event in found.events]
    assert names.index("first yield") < names.index("hinge") < names.index("stop: head turned") <= names.index("peak")
    assert at["peak"].load == found.peak and found.first_hinge == at["hinge"].load
    curve = set(zip(found.displacement, found.load, strict=True))
    assert all((event.displacement, event.load) in curve for event in found.events)
    hinge = at["hinge"]
    full = 4 / 3 * STEEL.yield_strength * (0.0085**3 - 0.0070**3)
    assert 0.97 < np.abs(hinge.moment).max() / full < 1.005
    assert np.degrees(found.head_rotation[found.load.argmax()]) > 50
    above = hinge.s < 0
    assert np.all(hinge.bearing[above] == 0) and hinge.bearing.max() > 0 > hinge.bearing.min()
    assert hinge.x[0] == pytest.approx(hinge.displacement) and hinge.plastic_strain.max() > 1e-3


def test_no_moment_is_above_the_ultimate_one() -> None:
    """A tube bent on beyond the end of hardening: M <= 4/3 sigma_u (R^3 - r^3), 0.5 % for bands; less what N takes."""
    found, most = pulled(), 4 / 3 * STEEL.ultimate_strength * (0.0085**3 - 0.0070**3)
    assert max(event.plastic_strain.max() for event in found.events) > 1.5 * STEEL.uniform_strain
    assert 0.9 * most < max(np.abs(event.moment).max() for event in found.events) < 1.005 * most


def test_a_wall_that_wrinkles_is_told_and_the_pull_goes_on() -> None:
    """At R kappa - Gamma = 0.5 t / D, 4.4 %, before the peak; a factor moves the event and no load of the pull."""
    found, later = (pulled(assumed=replace(default_assumed(), buckling_factor=factor)) for factor in (1.0, 1.5))
    wrinkle = next(event for event in found.events if event.name == "wall wrinkles")
    assert wrinkle.plastic_strain.max() == pytest.approx(0.5 * 1.5 / 17, abs=8e-3)  # elastic part and inner fibres
    assert found.wrinkle == wrinkle.load < 0.95 * found.peak and found.first_hinge is not None
    assert later.wrinkle is not None and later.wrinkle > 1.02 * found.wrinkle
    assert later.peak == pytest.approx(found.peak, rel=1e-4)
    assert pulled(direction=pi / 2).wrinkle is None


def test_reading_the_model_of_a_placement() -> None:
    """A node at the mouth, the load at the eye or, tied off, at the mouth; bad sizes are told."""
    eye = make_tube_model(TUBE, Placement(0.1, 0.1), Pull(0.3), chipping_laws(0.1), ELASTIC)
    tied = make_tube_model(TUBE, Placement(0.1, 0.1, "tied_off"), Pull(0.3), chipping_laws(0.1), ELASTIC)
    assert eye.beam.s[[0, eye.first, -1]] == pytest.approx([-0.04, 0, 0.1]) and tied.first == 0
    start = unloaded(eye)
    found = find(eye, start, 1e-8, start.q, 0.0)
    assert found is not None and found.load > 0 and found.displacement == pytest.approx(1e-8, rel=0.2)
    with pytest.raises(ValueError, match="element = 0: must be positive"):
        make_tube_model(TUBE, Placement(0.1, 0.1), Pull(0.3), chipping_laws(0.1), ELASTIC, 0.0)


@pytest.mark.slow
def test_sixty_random_tubes_come_to_their_end() -> None:
    """Angles, directions, embedments, limits over decades, all metals: no failure, energies balance."""
    found, failures, _ = solve_random(60, 2, element=5e-3, farthest=0.02)
    assert not failures and len({each.mode for each in found}) >= 4
    assert max(each.imbalance for each in found) < 0.03
    assert all(each.largest.load >= each.peak > 0 and np.isfinite(each.load).all() for each in found)


@pytest.mark.slow
def test_a_tube_that_snaps_again_and_again_comes_to_an_end() -> None:
    """A case of 1,500 that took 20,000 steps: its shank goes from kink to kink; what it read by then stands."""
    case = random_case(np.random.default_rng([7, 854]))
    found = solve_pull(*case)
    assert found.ended == "it snaps, and is not followed" and found.settled > 300
    assert 0 < found.early.load <= found.largest.load and found.imbalance < 0.05
