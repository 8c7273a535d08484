"""Bounds of limit analysis against closed forms: a block, Prandtl's stamp."""

from __future__ import annotations

from dataclasses import replace
from math import exp, pi, tan

import numpy as np
import pytest

from icecone.fem.crushing.limit_analysis import lower_bound, upper_bound
from icecone.fem.crushing.plane_strength import PlaneStrength, mohr_coulomb, tresca
from icecone.fem.crushing.section import Face, Section, boundary, crossed
from icecone.fem.crushing.stamp import stamp_section

PRANDTL = 2 + pi


def block(face: Face) -> Section:
    """Two by one, on an axis of symmetry, pushed from the left against bars of its own kind."""
    x, y = np.meshgrid(np.linspace(0, 2, 5), np.linspace(0, 1, 3), indexing="ij")
    mesh = crossed(x, y)
    edges, middle, _ = boundary(mesh)
    far = edges[middle[0] > 2 - 1e-9]
    bars = np.zeros((2, 2, far.size))
    bars[0] = 1.0
    pushed, axis = edges[middle[0] < 1e-9], edges[middle[1] < 1e-9]
    return Section(mesh, pushed, far, axis, np.array([1.0, 0.0]), bars, face, endless=False)


@pytest.mark.parametrize("strength", [mohr_coulomb(3.0, 2.5, 0.2), mohr_coulomb(1.5), tresca(0.5)])
def test_a_block_bears_its_uniaxial_strength(strength: PlaneStrength) -> None:
    """One state of stress and one of flow: both bounds are sigma_c times the height."""
    section = block(Face())
    assert lower_bound(section, strength).force == pytest.approx(1.0, rel=1e-5)
    assert upper_bound(section, strength).force == pytest.approx(1.0, rel=1e-5)


def test_a_face_that_opens_pulls_nothing() -> None:
    """Moved the other way the tool leaves; bonded it tears the block at the tensile strength."""
    strength = mohr_coulomb(3.0, 2.5, 0.2)
    for face, force in ((Face(), 0.0), (Face(bonded=True), 0.2)):
        section = replace(block(face), movement=np.array([-1.0, 0.0]))
        assert lower_bound(section, strength).force == pytest.approx(force, abs=1e-5)
        assert upper_bound(section, strength).force == pytest.approx(force, abs=1e-5)


def test_bounds_of_a_stamp_close_in_on_prandtl() -> None:
    """Tresca 2 + pi; what lies between the bounds shrinks with the cells."""
    gaps = []
    for cells in (3, 6):
        section = stamp_section(cells, Face(), 5.0)
        low, high = lower_bound(section, tresca(1.0)).force, upper_bound(section, tresca(1.0)).force
        assert low < PRANDTL < high
        gaps.append(high - low)
    assert gaps[1] < 0.75 * gaps[0] and gaps[1] < 0.04 * PRANDTL


def test_bounds_of_a_stamp_on_frictional_ice_hold_its_closed_form() -> None:
    """(k exp(pi tan phi) - 1) / (k - 1), sin phi = (k - 1) / (k + 1), weightless; here k = 2, phi = 19.5 deg."""
    exact = 2 * exp(pi * tan(np.arcsin(1 / 3))) - 1
    section = stamp_section(6, Face(), 8.0)
    low, high = lower_bound(section, mohr_coulomb(2.0)).force, upper_bound(section, mohr_coulomb(2.0)).force
    assert 0.95 * exact < low < exact < high < 1.05 * exact


def test_velocities_of_an_upper_bound_are_those_of_the_mechanism() -> None:
    """Prandtl's: ice under a bonded stamp moves with it, beside it rises at 45 deg by half of that; far ice stands."""
    section = stamp_section(3, Face(bonded=True), 5.0)
    velocity = upper_bound(section, tresca(1.0)).velocity
    at = section.mesh.p[:, section.mesh.t]
    under = (at[0] < 1e-9) & (at[1] < 0.9)
    beside = (at[0] < 1e-9) & (at[1] > 1.1)
    assert np.abs(velocity[:, at[0] > 5 - 1e-9]).max() < 1e-6
    assert velocity[0, under].mean() == pytest.approx(1.0, abs=0.02)
    assert velocity[0, beside].min() == pytest.approx(-0.5, abs=0.05)
