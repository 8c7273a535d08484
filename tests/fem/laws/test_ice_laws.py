"""The ice's laws: pull-out of the cone, stripping of the threads, stiffness of the wall."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from samples import ICE, STEEL, TUBE
from samples import case as sample_case

from icecone.fem.case import Case
from icecone.fem.cone.straight import solve_cone
from icecone.fem.laws.cone_load import ConeLaw, cone_law
from icecone.fem.laws.threads import thread_limit, thread_stiffness, toe
from icecone.fem.laws.wall import bearing_stiffness
from icecone.materials import default_assumed

ELASTIC = (ICE.elastic.youngs_modulus, ICE.elastic.poissons_ratio)
METAL = (STEEL.youngs_modulus, STEEL.poissons_ratio)
ASSUMED = default_assumed()


def case(angle_deg: float = 0.0) -> Case:
    return sample_case(angle_deg, level="quick")


@pytest.mark.slow
def test_one_law_of_the_cone_serves_ices_of_all_strengths() -> None:
    """N_0 = c K_IC h^1.5: c, found with round strengths, gives the peak of an ice with its own, within 0.5 %."""
    toughness = 0.5 * ICE.toughness
    ice = ICE.with_strengths(ICE.tensile_strength, toughness, ICE.compressive_strength)
    found = solve_cone(TUBE, 0.1, ice, STEEL, 0.0024, rings=[0]).peak_load
    assert cone_law(TUBE, ELASTIC, METAL, [0.1]).load(0.1, toughness) == pytest.approx(found, rel=5e-3)


def test_the_cone_law_is_interpolated_in_log_embedment() -> None:
    """c constant: h^1.5 exactly, also beyond the table; a c that differs is met at the middle in log h."""
    even = ConeLaw(np.array([0.05, 0.2]), np.array([2.5, 2.5]), 0.0)
    assert even.load(0.4, 1e5) / even.load(0.05, 1e5) == pytest.approx(8**1.5)
    assert ConeLaw(np.array([0.05, 0.2]), np.array([2.0, 3.0]), 0.0).load(0.1, 1.0) == pytest.approx(2.5 * 0.1**1.5)


def test_threads_strip_by_the_weaker_of_shear_and_crushing() -> None:
    """Few turns: each is crushed under its face; many: the cylinder over the crests shears."""
    dense, sparse = replace(TUBE, thread_pitch=0.002), replace(TUBE, thread_pitch=0.02)
    cylinder = 0.5 * ICE.deviator_cap * pi * 0.022
    assert thread_limit(dense, ICE, ASSUMED, 15e6) == pytest.approx(cylinder)
    face = pi * (0.011**2 - 0.0085**2)
    assert thread_limit(sparse, ICE, ASSUMED, 15e6) == pytest.approx(15e6 * face / 0.02)


@pytest.mark.slow
def test_the_wall_is_softer_where_the_head_leans_away() -> None:
    """The wedge of ice in front is thinner there; upright, k lies between half of E and 1.5 E."""
    away, upright, toward = (bearing_stiffness(case(angle)) for angle in (-20.0, 0.0, 20.0))
    assert away < 0.8 * upright and toward > 1.2 * upright and 0.5 < upright < 1.5


@pytest.mark.slow
def test_stiffness_of_the_wall_is_one_of_lengths_alone() -> None:
    """k / E is dimensionless: ice and metal ten times stiffer change nothing."""
    c = {name: 10 * getattr(ICE.elastic, name) for name in ("c11", "c12", "c13", "c33", "c44")}
    stiff = replace(ICE, elastic=replace(ICE.elastic, **c))
    metal = replace(STEEL, youngs_modulus=10 * STEEL.youngs_modulus)
    scaled = replace(case(), ice=stiff, metal=metal, crust_ice=stiff)
    assert bearing_stiffness(scaled) == pytest.approx(bearing_stiffness(case()), rel=1e-8)


def test_stamps_and_thread_springs_are_the_named_formulas() -> None:
    G, nu = 0.5 * ELASTIC[0] / (1 + ELASTIC[1]), ELASTIC[1]
    stiffness, limit = toe(TUBE, ICE, 15e6)
    assert stiffness == pytest.approx(4 * G * 0.0085 / (1 - nu))
    assert limit == pytest.approx(15e6 * pi * (0.0085**2 - 0.007**2))
    assert thread_stiffness(TUBE, 0.13, ICE) == pytest.approx(2 * pi * G / np.log(2.5 * 0.13 * (1 - nu) / 0.0085))
