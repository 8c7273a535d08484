"""The crack in front of a wall by phase field: a mesh without direction, push, and its way beside `chippath`'s."""

from __future__ import annotations

from math import cos, pi, radians, sin

import numpy as np
import pytest

from icecone.fem.chip.path import HoleWall
from icecone.geometry.wedge_section import clearance, hole_point
from icecone.validation.checks.fracture.chip_field import ICE, LONGEST, apart, both, load_at
from icecone.validation.phase_field.chip import NOTCH, Smear, chip_field, field_model
from icecone.validation.phase_field.even_wedge import even_wedge

SMALL = Smear(ell=0.2, fine=3.0, reach=(0.8, 1.4))


def corners(mesh_t: np.ndarray, p: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Edges (4, m) as complex numbers and turns (4, m) [rad] at the corners of quadrilaterals."""
    z = (p[0] + 1j * p[1])[mesh_t]
    edges = np.roll(z, -1, axis=0) - z
    return edges, np.angle(edges / np.roll(edges, 1, axis=0))


@pytest.mark.parametrize("angle_deg", [-30.0, 0.0, 25.0])
def test_the_mesh_fills_the_wedge_evenly_and_has_no_direction(angle_deg: float) -> None:
    """Area of the arc's polygon; convex cells of `size`; edges' directions have no 2-, 4- or 6-fold part.

    n directions at random have parts of n^-1/2.
    """
    angle, size = radians(angle_deg), 0.04
    mesh = even_wedge(angle, 1.0, size, (2.0, 1.5))
    p, t = mesh.p, mesh.t
    edges, turns = corners(t, p)
    assert turns.min() > radians(5) and np.allclose(turns.sum(axis=0), 2 * pi)
    x, y = p[:, t]
    area = 0.5 * np.abs((x * np.roll(y, -1, axis=0) - y * np.roll(x, -1, axis=0)).sum(axis=0))
    assert area.sum() == pytest.approx(0.5 * (pi / 2 + angle) * np.hypot(*p).max() ** 2, rel=0.011)
    middle = p[:, t].mean(axis=1)
    near = (middle[0] < 1.8) & (middle[1] > -1.3)
    assert np.sqrt(area[near]).mean() == pytest.approx(size, rel=0.05)
    inside = near & (middle[1] < -0.2) & (cos(angle) * middle[0] - sin(angle) * middle[1] > 0.2)
    turn = edges[:, inside].ravel()
    for fold in (2, 4, 6):
        assert abs(np.mean((turn / np.abs(turn)) ** fold)) < 2.5 * (turn.size / 2) ** -0.5
    assert np.hypot(p[0] + sin(angle), p[1] + cos(angle)).min() < 1e-12


@pytest.mark.parametrize(
    ("angle", "size", "reach", "message"),
    [
        (1.6, 0.1, (1.0, 1.0), "angle = 92 deg"),
        (0.0, 0.0, (1.0, 1.0), "size, reach"),
        (0.0, 0.1, (1.0, 0.0), "size, reach"),
    ],
)
def test_meshes_that_cannot_be_are_refused(angle: float, size: float, reach: tuple, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        even_wedge(angle, 1.0, size, reach)


@pytest.mark.parametrize("angle_deg", [-20.0, 15.0])
def test_the_push_is_one_newton_a_metre_square_to_the_strip(angle_deg: float) -> None:
    """Sum (cos, -sin), middle half way down the strip: as `chippath`'s."""
    angle = radians(angle_deg)
    model = field_model(HoleWall(angle, 0.02, ICE), SMALL, 0.5, -0.3 - angle)
    load = model.load.reshape(-1, 2).T
    assert np.allclose(load.sum(axis=1), [cos(angle), -sin(angle)])
    along = load[0] * cos(angle) - load[1] * sin(angle)
    assert along @ np.hypot(*model.mesh.p) == pytest.approx(0.01, rel=1e-9)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("angle_deg", [-20.0, 0.0, 15.0])
def test_the_first_crack_is_open_from_the_wall_to_its_end(angle_deg: float, seed: int) -> None:
    """No cell reaches across its line; ice ahead of its end is whole, and none near the wall can break."""
    hole, size = HoleWall(radians(angle_deg), 0.02, ICE), 0.1 * 0.02 / 3
    turn = -0.5 - hole.angle
    model = field_model(hole, Smear(fine=3.0, reach=(1.0, 1.5), seed=seed), 0.5, turn)
    run = np.array([cos(turn), sin(turn)])
    off = model.mesh.p - hole_point(hole.angle, 0.02 + NOTCH * size)[:, None]
    along, across = run @ off, run[0] * off[1] - run[1] * off[0]
    t = model.mesh.t
    beside = along[t].mean(axis=0) < 0.01
    over = (across[t].min(axis=0) < -1e-9) & (across[t].max(axis=0) > 1e-9)
    assert not np.any(beside & over)
    middle = model.mesh.p[:, t].mean(axis=1)
    assert clearance(hole.angle, middle[:, model.brittle])[1].min() > 0.2 * 0.02


def test_walls_that_are_held_are_refused() -> None:
    with pytest.raises(ValueError, match="below = 'held'"):
        field_model(HoleWall(0.0, 0.02, ICE, below="held"), SMALL, 0.5, 0.0)


def test_the_load_is_a_number_of_the_shape() -> None:
    """P/(K_IC d^0.5) of the first step for d of 1 and 1/4 m (scaled, the same mesh), E of 9 and 1 GPa."""
    one, other = (
        chip_field(HoleWall(0.0, depth, (E, 0.3)), 0.4, -0.5, SMALL, 0.1) for depth, E in ((0.25, 9e9), (1.0, 1e9))
    )
    assert one.coefficient[0] == pytest.approx(other.coefficient[0], rel=1e-3)
    assert other.reach[0] == pytest.approx(4 * one.reach[0])


@pytest.mark.slow
@pytest.mark.parametrize("angle_deg", [-20.0, 0.0, 10.0])
def test_a_phase_field_finds_the_way_of_the_followed_crack(angle_deg: float) -> None:
    """Out at -20 deg, on below the surface at 0, down at +10: as far as ell apart; loads of those inside: 10 %."""
    field, growth = both(angle_deg)
    assert apart(field, growth, LONGEST) < 0.1
    assert field.ending == growth.ending
    if growth.outcrop is None:
        ours, sharp = load_at(field, growth, 1.0)
        assert ours == pytest.approx(sharp, rel=0.1)
        assert field.path[1, -1] < -1.4 * field.hole.depth
    else:
        assert field.outcrop == pytest.approx(growth.outcrop, rel=0.1)
