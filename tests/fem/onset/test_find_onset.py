"""The onset found on the half model: modes of even fields, lines from the wall, the angle, the longest length."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from samples import COARSE, TUBE, placed

from icecone.fem.onset.criterion import criterion_index, find_onset
from icecone.fem.onset.wall_lines import WallLines
from icecone.fem.solid.stress import StressField
from icecone.geometry.half_model import build_half_model
from icecone.geometry.placement import Placement
from icecone.materials import default_assumed, ice_named

RATIO = default_assumed().sliding_ratio


@pytest.mark.parametrize(
    ("voigt", "mode"),
    [
        ((0, 0, 0.9e5, 0, 0, 0), "tension"),
        ((1e5, 0, -9e5, 0, 0, 0), "shear"),
        ((-1e4, -1e4, -9e5, 0, 0, 0), "crushing"),
    ],
)
def test_mode_and_factor_of_a_uniform_field(voigt, mode):
    """sound ice at -10: 1.2/0.09; 6/(0.9 + 3 * 0.1); 6/(0.9 - 3 * 0.01); in the crust as in the crust's own ice."""
    ice, crust = ice_named("sound_glacier", -10.0), ice_named("firn", -10.0)
    expected = {"tension": 1.2 / 0.09, "shear": 6 / 1.2, "crushing": 6 / 0.87}[mode]
    model = build_half_model(TUBE, placed(), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    field = StressField(elements, np.tile(np.array(voigt, float), (elements.size, 27, 1)))
    found = find_onset(WallLines(model, field), ice, ice, RATIO)
    assert found.mode == mode and found.load_factor == pytest.approx(expected, rel=1e-9)
    assert criterion_index(np.array(voigt, float), ice) == pytest.approx(1 / expected, rel=1e-9)
    layered = build_half_model(TUBE, placed(), 0.02, COARSE)
    elements = np.concatenate([layered.regions["ice"], layered.regions["crust"]])
    field = StressField(elements, np.tile(np.array(voigt, float), (elements.size, 27, 1)))
    found = find_onset(WallLines(layered, field), ice, crust, RATIO)
    k = 2.5
    soft = {"tension": 0.5 / 0.09, "shear": 2.5 / (0.9 + k * 0.1), "crushing": 2.5 / (0.9 - k * 0.01)}[mode]
    assert found.load_factor == pytest.approx(soft, rel=1e-9) and found.where[2] > -0.0201


def test_the_line_is_twice_the_critical_distance_of_its_own_ice_and_the_angle_counts_from_the_front():
    """Linear in the distance from the wall and in x: the average over 2 L is the value at L, greatest in front."""
    ice = ice_named("sound_glacier", -10.0)
    for crust, own in ((0.0, ice), (0.02, ice_named("firn", -10.0))):
        model = build_half_model(TUBE, placed(), crust, COARSE)
        elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
        x = model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T]
        r = np.hypot(x[0], x[1])
        value = 1e5 * (1 - (r - TUBE.radius) / 0.04) + 1e6 * x[0] + 1e5 * x[2]
        nodal = np.zeros((*value.shape, 6))
        nodal[..., 2] = value
        found = find_onset(WallLines(model, StressField(elements, nodal)), ice, own, RATIO)
        L = own.critical_distance
        exact = 1e5 * (1 - L / 0.04) + 1e6 * (TUBE.radius + L)
        assert found.load_factor == pytest.approx(own.tensile_strength / exact, rel=5e-3)
        assert abs(found.angle) < 1e-6 and found.where[0] == pytest.approx(TUBE.radius, rel=1e-3)


def test_angle_is_round_the_tubes_own_axis():
    model = build_half_model(TUBE, Placement(0.5, 0.13), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    lines = WallLines(model, StressField(elements, np.zeros((elements.size, 27, 6))))
    start, angle = lines.start, lines.angle
    along_front = start @ np.array([np.cos(0.5), 0.0, -np.sin(0.5)])
    assert along_front == pytest.approx(TUBE.radius * np.cos(angle), abs=0.01 * TUBE.radius)


def test_a_length_beyond_the_mesh_tried_keeps_its_toughness():
    """Even tension s, L = 0.1 m over the longest a = 4 radii tried: t = sigma_t / s sqrt(L / a)."""
    ice = replace(ice_named("sound_glacier", -10.0), toughness=1.2e6 * (0.1 * pi) ** 0.5)
    assert ice.critical_distance == pytest.approx(0.1)
    model = build_half_model(TUBE, placed(), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodal = np.zeros((elements.size, 27, 6))
    nodal[..., 2] = 1e5
    found = find_onset(WallLines(model, StressField(elements, nodal)), ice, ice, RATIO)
    assert found.load_factor == pytest.approx(12 * (0.1 / (4 * TUBE.radius)) ** 0.5, rel=1e-6)
