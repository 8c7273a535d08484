"""A wall that leans, pushed into ice under a free surface."""

from __future__ import annotations

from itertools import pairwise
from math import exp, pi, radians, tan

import pytest

from icecone.fem.crushing.limit_analysis import lower_bound, upper_bound
from icecone.fem.crushing.plane_strength import mohr_coulomb
from icecone.fem.crushing.section import Face
from icecone.fem.crushing.wedge import surface_factor, wall_section

SLOPE = 3.0


def fan(angle_deg: float) -> float:
    """(k exp(2 theta tan phi) - 1) / (k - 1), phi = 30 deg."""
    return (SLOPE * exp(2 * radians(angle_deg) * tan(pi / 6)) - 1) / (SLOPE - 1)


@pytest.mark.parametrize("angle_deg", [0.0, 20.0])
def test_bounds_hold_the_closed_form_of_a_smooth_wall(angle_deg: float) -> None:
    """Upright it is Rankine's, sigma_c d; the head toward the push adds a fan at the mouth."""
    section = wall_section(radians(angle_deg), 3, Face())
    low, high = (bound(section, mohr_coulomb(SLOPE)).force for bound in (lower_bound, upper_bound))
    assert 0.95 * fan(angle_deg) < low < fan(angle_deg) * (1 + 1e-6) < high < 1.06 * fan(angle_deg)


def test_a_wall_that_leans_away_bears_less() -> None:
    """The wedge of ice before it is thinner: even the upper bound at -20 deg is below Rankine's."""
    section = wall_section(radians(-20), 3, Face())
    assert upper_bound(section, mohr_coulomb(SLOPE, 2.5, 0.2)).force < 0.8


@pytest.mark.slow
def test_factors_of_a_wall_rise_with_its_angle_and_with_friction() -> None:
    """Bounds do not overlap from one 15 deg to the next; friction of steel on ice adds."""
    ice = {"confinement_slope": SLOPE, "cap_over_compressive": 2.5, "tensile_over_compressive": 0.2}
    found = [
        surface_factor({**ice, "face_friction": 0.0, "angle_deg": angle}) for angle in (-30.0, -15.0, 0.0, 15.0, 30.0)
    ]
    for before, after in pairwise(found):
        assert before["factor_high"] < after["factor_low"]
    assert surface_factor({**ice, "face_friction": 0.2, "angle_deg": 0.0})["factor_low"] > 1.05
