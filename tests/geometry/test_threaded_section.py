"""The section mesh with rings and a crack line: areas, corners, crack faces, and elements that cannot fold."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin

import numpy as np
import pytest
from samples import FLUSH, TUBE

from icecone.geometry.threaded_section import build_section, stud_column, tube_column

COLUMN = tube_column(TUBE, FLUSH)


def straight(ring: int, angle: float, length: float, points: int = 4) -> np.ndarray:
    corner = np.array([[COLUMN.crest], [COLUMN.bearing_face(ring)]])
    return corner + np.outer([cos(angle), sin(angle)], np.linspace(0, length, points))


def areas(mesh) -> np.ndarray:
    """Signed areas of the quadrilaterals [m2]."""
    x, y = mesh.p[:, mesh.t]
    return 0.5 * ((x[0] - x[2]) * (y[1] - y[3]) - (x[1] - x[3]) * (y[0] - y[2]))


def least_corner(mesh) -> float:
    """Smallest Jacobian at a corner of an element over the element's area."""
    x = mesh.p[:, mesh.t]
    cross = []
    for k in range(4):
        (a, b), (c, d) = x[:, (k + 1) % 4] - x[:, k], x[:, (k - 1) % 4] - x[:, k]
        cross.append(a * d - b * c)
    return float((np.min(cross, axis=0) / areas(mesh)).min())


def test_reference_tube_has_a_ring_in_the_middle_of_each_pitch():
    """65 mm of 5 mm pitches are 13 rings; the lowest face is (5 - 1.5)/2 mm above the tip, the ring 1.5 mm thick."""
    assert len(COLUMN.bottoms) == 13
    assert COLUMN.bottoms[0] == pytest.approx(-0.13 + 0.00175)
    assert COLUMN.bearing_face(0) == pytest.approx(-0.13 + 0.00325)
    assert COLUMN.crest == pytest.approx(0.011)


def test_rings_above_the_surface_do_not_count():
    """Half inserted (50 mm in, threads over 65 mm): faces at -46.75 + 5 k mm, covered by 1.25 mm or more for k < 10."""
    assert len(tube_column(TUBE, 0.05).bottoms) == 10
    with pytest.raises(ValueError, match="at least one thread"):
        tube_column(replace(TUBE, thread_length=0.0), FLUSH)


@pytest.mark.parametrize("ring", [0, 6, 12])
@pytest.mark.parametrize("angle", [-1.1, -0.3, 0.0, 0.6, 1.2])
def test_elements_never_fold_and_fill_the_section(ring, angle):
    """Areas by hand: block less hole and rings; every corner's Jacobian positive whatever the path."""
    section = build_section(COLUMN, ring, straight(ring, angle, 0.04), 0.0015, 0.002)
    rings = 13 * COLUMN.height * COLUMN.thickness
    depth = COLUMN.embedment + COLUMN.hole
    block = COLUMN.far * (depth + COLUMN.far) - COLUMN.radius * depth - rings
    tube = COLUMN.wall * (COLUMN.embedment + COLUMN.stub) + rings
    assert areas(section.ice).sum() == pytest.approx(block, rel=1e-12)
    assert areas(section.steel).sum() == pytest.approx(tube, rel=1e-12)
    assert least_corner(section.ice) > 0 and least_corner(section.steel) > 0


def test_crack_line_has_two_faces_up_to_the_tip():
    """Vertices on the path are double from the corner on and single at the tip; path points are vertices."""
    path = straight(3, 0.5, 0.03)
    ice = build_section(COLUMN, 3, path, 0.0012).ice
    at = [int((np.hypot(*(ice.p - point[:, None])) < 1e-12).sum()) for point in path.T]
    assert at == [2, 2, 2, 1]
    whole = build_section(COLUMN, 3, path[:, :1], 0.0012).ice
    assert int((np.hypot(*(whole.p - path[:, :1])) < 1e-12).sum()) == 1


def test_elements_at_the_tip_have_the_wanted_size():
    """Around the tip of a level crack, sides are within a factor 1.5 of `tip_size`."""
    path = straight(0, 0.0, 0.05)
    ice = build_section(COLUMN, 0, path, 0.0012, 0.0015).ice
    tip = int(np.argmin(np.hypot(*(ice.p - path[:, -1:]))))
    sides = ice.facets[:, (ice.facets == tip).any(axis=0)]
    lengths = np.hypot(*(ice.p[:, sides[0]] - ice.p[:, sides[1]]))
    assert lengths.max() < 1.5 * 0.0015 and lengths.min() > 0.0015 / 1.5


def test_scaled_column_has_the_scaled_mesh():
    path = straight(0, 0.4, 0.05)
    one = build_section(COLUMN, 0, path, 0.0015, 0.002)
    three = build_section(COLUMN.scaled(3.0), 0, 3 * path, 0.0045, 0.006)
    assert np.array_equal(one.ice.t, three.ice.t)
    assert np.abs(3 * one.ice.p - three.ice.p).max() < 1e-12


@pytest.mark.parametrize(
    "path, message",
    [
        (straight(0, 0.4, 0.05) + 1e-4, "must start at the ring's corner"),
        (straight(0, 1.45, 0.05), "must stay between -80 and 80"),
        (straight(0, pi - 0.4, 0.05), "must stay between -80 and 80"),
        (straight(0, 0.7, 0.2), "must stay below the surface"),
    ],
)
def test_paths_that_cannot_be_meshed_are_refused(path, message):
    with pytest.raises(ValueError, match=message):
        build_section(COLUMN, 0, path, 0.0015)


def test_stud_is_a_solid_bar_with_its_head_at_depth():
    column = stud_column(0.1, 0.01, 0.005, 0.004)
    assert column.wall == column.radius and column.bearing_face(0) == pytest.approx(-0.1)
    steel = build_section(column, 0, np.array([[column.crest], [-0.1]]), 0.0015).steel
    assert areas(steel).sum() == pytest.approx(0.01 * (0.104 + column.stub) + 0.005 * 0.004)
