"""Spacing: radii by hand, the shipped laws of cracks, pairs, edges and reaction anchors that are too near."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import cos, radians, sin, tan

import pytest

from icecone.studies.case.file import settings_from, to_case
from icecone.studies.field.spacing import (
    CONE_OVER_DEPTH,
    Spot,
    breakout_radius_mm,
    chip_radius_mm,
    chip_rise_deg,
    cone_radius_mm,
    least_apart_mm,
    spacing_findings,
    tip_depth_mm,
)
from icecone.studies.outcome.cone import cone_found


def test_depth_and_cone_by_hand() -> None:
    """120 mm at 60 deg lie 60 mm deep; a cone from there comes out 168 mm from the axis."""
    assert tip_depth_mm(120.0, 60.0) == pytest.approx(60.0)
    assert cone_radius_mm(60.0) == pytest.approx(168.0)


def test_a_chip_by_hand() -> None:
    """Upright, 100 mm in, a crack from 50 mm rising by 45 deg comes out 50 mm ahead; leaning back its foot is ahead."""
    assert chip_radius_mm(100.0, 0.0, 45.0) == pytest.approx(50.0)
    assert chip_radius_mm(100.0, -30.0, 45.0) == pytest.approx(50.0 * (cos(radians(30)) + sin(radians(30))))


def test_rises_are_those_of_the_shipped_laws() -> None:
    """-20 deg is a step of the law, 29.8 deg; where cracks dive the flattest chip that comes out whole counts."""
    assert chip_rise_deg(-20.0) == pytest.approx(29.835, abs=0.01)
    assert chip_rise_deg(-10.0) == pytest.approx(17.120, abs=0.01)
    assert chip_rise_deg(0.0) == chip_rise_deg(20.0) == pytest.approx(10.0)


def test_which_of_cone_and_chip_counts() -> None:
    """Straight out a cone; leaning away along the surface nothing draws the tube out, and chips alone count."""
    assert breakout_radius_mm(130.0, 0.0, 90.0) == pytest.approx(max(2.8 * 130, 65 / tan(radians(10))))
    away = breakout_radius_mm(130.0, -20.0, 0.0)
    assert away == pytest.approx(65 * (cos(radians(20)) / tan(radians(29.835)) + sin(radians(20))), rel=1e-3)
    assert breakout_radius_mm(130.0, -20.0, 45.0) == pytest.approx(2.8 * 130 * cos(radians(20)))


def test_no_jump_where_a_pull_begins_to_draw_the_tube_out() -> None:
    """Upright, along the surface and a hair from it: the two radii differ by less than a twentieth."""
    assert breakout_radius_mm(130.0, 0.0, 1e-3) == pytest.approx(breakout_radius_mm(130.0, 0.0, 0.0), rel=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("embedment_mm", [50.0, 130.0])
def test_the_cone_comes_out_within_the_radius(embedment_mm: float) -> None:
    """Computed again: from nine tenths of CONE_OVER_DEPTH to all of it."""
    of_tube = {"tube.length_mm": max(embedment_mm + 10.0, 60.0), "tube.thread_length_mm": min(65.0, embedment_mm)}
    given = {**of_tube, "placement.embedment_mm": embedment_mm, "pull.direction_deg": 90.0, "numerics.level": "quick"}
    out = cone_found(to_case(settings_from(given)))["cone"].breakout_mm
    assert 0.9 * CONE_OVER_DEPTH < out / embedment_mm < CONE_OVER_DEPTH


def test_least_distances_by_hand() -> None:
    """(1 + 1/4) (300 + 200) = 625; to an edge 375."""
    assert least_apart_mm(300.0, 200.0) == pytest.approx(625.0)
    assert least_apart_mm(300.0) == pytest.approx(375.0)
    assert least_apart_mm(300.0, 200.0, extra=0.0) == pytest.approx(500.0)


STRAIGHT = Spot("1", 100.0, 0.0, 90.0)
R = breakout_radius_mm(100.0, 0.0, 90.0)


@pytest.mark.parametrize(("apart", "rank"), [(1.9, "short"), (2.1, "mind"), (2.6, "enough")])
def test_pairs_that_are_too_near(apart: float, rank: str) -> None:
    """Two radii: they overlap below 2 R, need 2.5 R with a quarter more."""
    spots = [
        replace(STRAIGHT, x_mm=0.0, y_mm=0.0),
        replace(STRAIGHT, id="2", x_mm=0.6 * apart * R, y_mm=0.8 * apart * R),
    ]
    (found,) = spacing_findings(spots)
    assert found.rank == rank
    assert found.text.startswith("Pulls 1 and 2 are" if rank != "enough" else "All distances given are wide enough")


@pytest.mark.parametrize(("share", "rank"), [(0.9, "short"), (1.1, "mind"), (1.3, "enough")])
def test_edge_and_reaction_anchor(share: float, rank: str) -> None:
    """The edge against R, the anchor against R and a cone of its own depth."""
    assert spacing_findings([replace(STRAIGHT, edge_mm=share * R)])[0].rank == rank
    anchor = replace(STRAIGHT, reaction_mm=share * (R + cone_radius_mm(200.0)))
    assert spacing_findings([anchor], reaction_depth_mm=200.0)[0].rank == rank


def test_worst_first_and_unknown_places_are_left_out() -> None:
    spots = [
        replace(STRAIGHT, id="a", x_mm=0.0, y_mm=0.0),
        replace(STRAIGHT, id="b", x_mm=1.5 * R, y_mm=0.0),
        replace(STRAIGHT, id="c", x_mm=0.0, y_mm=0.5 * R),
        replace(STRAIGHT, id="d", x_mm=0.0),
    ]
    found = spacing_findings(spots)
    assert [each.text.split(" are ")[0] for each in found] == ["Pulls a and c", "Pulls a and b", "Pulls b and c"]
    assert all(one.share >= other.share for one, other in pairwise(found))
    (alone,) = spacing_findings([STRAIGHT])
    assert alone.text.startswith("No distances are given") and "pull 1" in alone.text


def test_bad_input_is_refused() -> None:
    for spots, extra in (([], 0.25), ([STRAIGHT], -0.1)):
        with pytest.raises(ValueError, match="must be"):
            spacing_findings(spots, extra)
