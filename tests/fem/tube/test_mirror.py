"""No side of the ice is special: a placement and pull and their mirror image hold the same and fail alike."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from icecone.fem.case import Case
from icecone.fem.laws.gather import peak_laws
from icecone.fem.tube.pull import ELEMENT, LARGEST_DISPLACEMENT, TubePull, solve_pull
from icecone.geometry.placement import Placement, Pull, facing, pressed_side
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.files.laws import kept_law

KINDS = ("sound_glacier", "bubbly_glacier", "dense_waterfall", "aerated_waterfall", "firn")
METALS = ("chromoly_steel", "stainless_steel", "titanium_alloy", "aluminium_alloy")


def random_case(rng: np.random.Generator) -> Case:
    """A case of the key space for which laws are shipped: crust or none, eye, sling held or sliding (invented)."""
    length, angle, kind = rng.uniform(70, 240), rng.uniform(-45, 45), str(rng.choice(KINDS))
    deep = rng.choice([length - 10, rng.uniform(max(35, 0.3 * length), length - 10)])
    given = {
        "tube.length_mm": length,
        "tube.od_mm": rng.uniform(13, 22),
        "tube.wall_mm": rng.uniform(0.8, 2.2),
        "tube.thread_length_mm": 65.0 if kind == "firn" else min(rng.uniform(45, 75), length),
        "tube.thread_height_mm": rng.uniform(1.2, 3.5),
        "tube.thread_pitch_mm": rng.uniform(3.5, 7.0),
        "tube.metal": str(rng.choice(METALS)),
        "placement.angle_deg": angle,
        "placement.embedment_mm": deep,
        "pull.direction_deg": rng.choice([0.0, 90.0, rng.uniform(0, 90)]),
        "ice.kind": kind,
        "ice.temperature_C": rng.uniform(-15, -2),
        "ice.load_time_s": 10 ** rng.uniform(0, 2),
        "ice.crust_mm": rng.choice([0.0, rng.uniform(2, min(60, 0.7 * deep * np.cos(np.radians(angle))))]),
    }
    if rng.random() < 0.5:
        given |= {"placement.attachment": "tied_off", "placement.sling_height_mm": rng.uniform(0, length - deep)}
        given |= {"placement.sling_friction": rng.uniform(0.05, 0.6)} if rng.random() < 0.5 else {}
    return to_case(settings_from(given))


def mirrored(case: Case) -> Case:
    placement = replace(case.placement, angle=-case.placement.angle)
    return replace(case, placement=placement, pull=Pull(pi - case.pull.direction))


def pulled(case: Case, element: float = ELEMENT, farthest: float = LARGEST_DISPLACEMENT) -> TubePull:
    laws = peak_laws(case, kept_law)
    return solve_pull(case.tube, case.placement, case.pull, laws, case.metal, element, largest_displacement=farthest)


def check(case: Case, element: float = ELEMENT, farthest: float = LARGEST_DISPLACEMENT) -> float:
    """The difference of the peaks of a case and its mirror image; the modes and ends are one."""
    one, other = pulled(case, element, farthest), pulled(mirrored(case), element, farthest)
    assert (one.mode, one.ended) == (other.mode, other.ended)
    assert [event.name for event in one.events] == [event.name for event in other.events]
    return abs(one.peak / other.peak - 1)


@pytest.mark.parametrize("seed", range(3))
def test_a_case_and_its_mirror_image_hold_the_same(seed: int) -> None:
    assert check(random_case(np.random.default_rng(seed))) < 1e-6


@pytest.mark.slow
def test_two_hundred_cases_and_their_mirror_images_hold_the_same() -> None:
    """On elements of 5 mm, one in ten to the end, the others as far as their ice goes (3 mm), for time."""
    rng = np.random.default_rng(21)
    ways = (LARGEST_DISPLACEMENT if number % 10 == 0 else 3e-3 for number in range(200))
    assert max(check(random_case(rng), 5e-3, farthest) for farthest in ways) < 1e-6


@pytest.mark.parametrize("embedment_mm", [70.0, 130.0])
def test_pulled_straight_out_it_does_not_matter_to_which_side_a_tube_leans(embedment_mm: float) -> None:
    """Both ways the wall in whose direction the tube is drawn upright loses its ice, well below the cone of a tube
    whose ice stays."""
    given = {"pull.direction_deg": 90.0, "placement.embedment_mm": embedment_mm}
    left, right = (pulled(to_case(settings_from(given | {"placement.angle_deg": a}))) for a in (-30.0, 30.0))
    assert left.peak == pytest.approx(right.peak, rel=1e-6) and left.mode == right.mode == "lever-out"
    names = [{event.name for event in each.events} for each in (left, right)]
    assert names[0] == names[1] and "ice in front gone" in names[0]


def test_the_pressed_side_is_that_to_which_the_pull_draws_the_tube() -> None:
    """Across the axis p . n = cos(angle + direction): the front below 90 deg, the back beyond; along it the front."""
    sides = [
        pressed_side(Placement(angle, 0.1), Pull(direction))
        for angle, direction in ((0.0, 0.0), (0.5, 1.0), (0.5, 1.1), (-0.5, pi / 2), (0.5, pi / 2), (0.0, pi / 2))
    ]
    assert sides == [1, 1, -1, 1, -1, 1]
    assert pressed_side(Placement(-0.5, 0.1), Pull(pi - 1.1)) == 1


@pytest.mark.parametrize("direction_deg", [0.0, 33.3, 61.0, 77.7, 90.0])
def test_a_case_faces_the_side_that_its_pull_presses(direction_deg: float) -> None:
    """The same numbers, to the last digit, for a case and its image, which is told by -1."""
    case = to_case(settings_from({"placement.angle_deg": 30.0, "pull.direction_deg": direction_deg}))
    image = mirrored(case)
    one, other = facing(case.placement, case.pull), facing(image.placement, image.pull)
    assert one[:2] == other[:2] and one[2] == -other[2] == (1 if direction_deg < 60 else -1)
    assert pressed_side(*one[:2]) == 1 and one[1].direction in (0.0, pytest.approx(case.pull.direction, abs=2))
    assert facing(*one[:2]) == (*one[:2], 1)


def test_an_image_is_drawn_as_one() -> None:
    """What has a side has the other one: the head's turn, where the tube lies, what presses it."""
    case = to_case(settings_from({"placement.angle_deg": 30.0, "pull.direction_deg": 90.0}))
    one, other = pulled(case), pulled(mirrored(case))
    assert np.array_equal(one.head_rotation, -other.head_rotation) and one.head_rotation[-1] < 0
    for a, b in zip(one.events, other.events, strict=True):
        assert np.array_equal(a.x, -b.x) and np.array_equal(a.z, b.z)
        assert np.array_equal(a.bearing, -b.bearing) and np.array_equal(a.moment, -b.moment)
    assert one.events[-1].x[0] > 0 > one.events[0].bearing.min()
