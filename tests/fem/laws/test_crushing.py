"""Crushing with depth and angle, put together from limit analysis."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from samples import ICE, TUBE

from icecone.fem.laws.crushing import Crushing, crushing_inputs, crushing_limit, stamp_pressure
from icecone.materials import default_assumed

CRUSHING = Crushing(
    np.array([3.0, 10.0, 30.0]), np.array([3.0, 6.0, 9.0]), np.radians([-20.0, 20.0]), np.array([1.0, 2.0]), 5.0
)
ASSUMED = default_assumed()


def test_factors_grow_from_the_surface_to_depth() -> None:
    """N_0 at the mouth, a line to 3 radii, lines in log R beyond, the last for all deeper ones."""
    reach = np.array([0.0, 1.5, 3.0, np.sqrt(30.0), 10.0, 30.0, 90.0])
    assert CRUSHING.at(reach, 0.0) == pytest.approx([1.5, 2.25, 3.0, 4.5, 6.0, 9.0, 9.0])
    assert CRUSHING.at(np.zeros(1), np.radians(20)) == pytest.approx([2.0])


def test_the_limit_is_pressure_times_diameter() -> None:
    depth = np.array([0.0, 0.085])
    found = crushing_limit(TUBE, ICE, replace(ASSUMED, crushing_share=0.5), CRUSHING, depth, 0.0)
    assert found == pytest.approx(0.5 * ICE.compressive_strength * TUBE.outer_diameter * np.array([1.5, 6.0]))
    assert stamp_pressure(ICE, ASSUMED, CRUSHING) == pytest.approx(5 * ICE.compressive_strength)


def test_ices_alike_share_a_law() -> None:
    """Strengths that keep their ratios, or nearly, ask for the same inputs."""
    strong = replace(ICE, compressive_strength=2 * ICE.compressive_strength, deviator_cap=2.05 * ICE.deviator_cap)
    assert crushing_inputs(strong) == crushing_inputs(ICE)
