"""Chips in front of a wall: mesh, contact of the faces, factors, path; rates are in `checks/fracture/chip_path`."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import cos, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from icecone.fem.chip.path import (
    HoleWall,
    Pushed,
    chip_tip,
    first_direction,
    follow_chip,
    push_hole,
    strip_load,
)
from icecone.fem.cracks.stress_intensity import hoop_intensity, kink_angle
from icecone.geometry.wedge_section import RINGS, ChipSection, chip_section, clearance, hole_point
from icecone.validation.checks.fracture.chip_path import ICE, edge_crack, layer, layer_factors

E, NU = ICE
STIFF = E / (1 - NU**2)


def straight(angle: float, turn: float, length: float) -> np.ndarray:
    """A path from the strip's lower end for d = 1 m, `turn` from the direction of the push."""
    run = np.array([cos(turn - angle), sin(turn - angle)])
    return np.stack([hole_point(angle, 1.0), hole_point(angle, 1.0) + length * run], axis=1)


@cache
def section(angle_deg: float = 20.0, turn_deg: float = 10.0, length: float = 0.5) -> ChipSection:
    angle = radians(angle_deg)
    return chip_section(angle, 1.0, straight(angle, radians(turn_deg), length), length / 24, 0.1)


@cache
def shut() -> Pushed:
    return push_hole(section(), ICE)


@pytest.mark.parametrize("angle_deg", [-40.0, 0.0, 35.0, 90.0])
def test_the_mesh_fills_the_wedge_and_opens_along_the_path(angle_deg: float) -> None:
    """Area of the polygon inscribed in the sector; one boundary line, closed through both faces; no bad triangle."""
    angle = radians(angle_deg)
    path = np.hstack([straight(angle, 0.2, 0.3), straight(angle, 0.0, 0.6)[:, 1:]])
    made = chip_section(angle, 1.0, path, 0.04, 0.1)
    p, t = made.mesh.p, made.mesh.t
    a, b, c = (p[:, each] for each in t)
    area = 0.5 * np.abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
    assert area.sum() == pytest.approx(0.5 * (pi / 2 + angle) * made.far**2, rel=0.011)
    sides = np.sort([np.hypot(*(y - x)) for x, y in ((a, b), (b, c), (c, a))], axis=0)
    assert np.degrees(np.arcsin(2 * area / (sides[1] * sides[2]))).min() > 8
    ends = made.mesh.facets[:, made.mesh.boundary_facets()]
    assert np.all(np.bincount(ends.ravel())[np.unique(ends)] == 2)
    for vertex, copies in zip(path.T, (2, 2, 1), strict=True):
        assert (np.hypot(*(p - vertex[:, None])) < 1e-12).sum() == copies


@pytest.mark.parametrize(
    ("angle", "path", "tip_size", "message"),
    [
        (1.6, [[0, 0.5], [-1, -1]], 0.05, "angle = 92 deg"),
        (0.0, [[0, 0.1], [-1, -1]], 0.05, "last piece"),
        (0.0, [[0.1, 0.5], [-1, -1]], 0.05, "begin on the wall"),
        (0.0, [[0, -0.5], [-1, -1]], 0.05, "run on in the ice"),
        (0.0, [[0, 0.8], [-1, -0.1]], 0.05, "clear of it"),
        (0.0, [[0, 200.0], [-1, -1]], 0.05, "half the radius"),
    ],
)
def test_paths_out_of_the_ice_are_refused(angle: float, path: list, tip_size: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        chip_section(angle, 1.0, np.array(path, dtype=float), tip_size, 0.1)


def test_the_strip_carries_one_newton_square_to_the_wall() -> None:
    """Sum of the nodal forces: (cos, -sin); first moment about the mouth d/2, turning the wall's lower part forward.

    Drag adds its share along (sin, cos), out of the ice, which has no moment about the mouth.
    """
    made = shut()
    angle, x = made.section.angle, made.body.x
    for drag in (0.0, 0.3):
        force = strip_load(made.section, made.body, drag)[made.body.dofs]
        resultant = [cos(angle) + drag * sin(angle), -sin(angle) + drag * cos(angle)]
        assert np.allclose(force.sum(axis=1), resultant, atol=1e-12)
        assert (x[0] * force[1] - x[1] * force[0]).sum() == pytest.approx(0.5, rel=1e-12)


def test_edge_crack_under_tension() -> None:
    """K_I = 1.1215 S sqrt(pi a) (Tada, Paris & Irwin, from memory) within 0.5 % at a/6, K_II = 0."""
    pushed, found = edge_crack(1 / 6)
    assert pytest.approx(1.1215 * sqrt(pi), rel=0.005) == found.K_I
    assert abs(found.K_II) < 1e-3
    assert not pushed.shut.any()


def test_a_crack_pressed_shut_is_no_crack() -> None:
    """Compression across a crack passes through its faces: contact undoes the whole answer."""
    pushed, found = edge_crack(1 / 6, -1.0)
    assert pushed.shut.all()
    assert np.abs(pushed.u).max() < 1e-9 / E
    assert found.K_I == 0 and abs(found.K_II) < 1e-9


def test_faces_press_square_to_themselves_and_only_where_shut() -> None:
    """What stiffness and load leave over are face forces: along n, equal and opposite, pressing, on shut pairs only."""
    made, n = shut(), np.array([-sin(radians(-10)), cos(radians(-10))])
    body, sec = made.body, made.section
    rest = (body.K @ made.u - strip_load(sec, body))[body.dofs]
    rest[:, np.hypot(*body.x) > 0.9 * sec.far] = 0.0
    assert made.shut.sum() > 0
    on = np.abs(rest).max(axis=0) > 1e-9
    assert np.abs(rest[:, on].sum(axis=1)).max() < 1e-9
    assert np.abs(n[1] * rest[0, on] - n[0] * rest[1, on]).max() < 1e-9
    assert on.sum() == 2 * made.shut.sum()
    of_dof = np.empty(body.K.shape[0], int)
    of_dof[body.dofs] = np.arange(body.x.shape[1])
    upper = np.unique(of_dof[body.basis.element_dofs[:, sec.above]])
    assert (n @ rest)[upper].min() > -1e-9
    assert np.abs(made.opening[made.shut]).max() < 1e-6 * np.abs(made.u).max()
    assert made.opening.min() > -1e-6 * np.abs(made.u).max()


@pytest.mark.parametrize(("angle", "turn", "closed"), [(20.0, 10.0, True), (-20.0, 0.0, False)])
def test_factors_are_those_of_the_released_energy(angle: float, turn: float, closed: bool) -> None:
    """(K_I^2 + K_II^2)/E' = 1/2 d(f.u)/da, faces shut (K_I = 0) or open: 1 %.

    Each length has its own mesh, so the energies scatter: slope of a cubic through eleven of them.
    """
    lengths, energy = np.linspace(0.35, 0.65, 11), []
    for length in lengths:
        made = push_hole(section(angle, turn, float(length)), ICE)
        energy.append(0.5 * float(strip_load(made.section, made.body) @ made.u))
    slope = np.polyfit(lengths - 0.5, energy, 3)[-2]
    made = push_hole(section(angle, turn, 0.5), ICE)
    found = made.intensity()
    assert made.shut.all() == closed and (found.K_I == 0) == closed
    assert slope == pytest.approx((found.K_I**2 + found.K_II**2) / STIFF, rel=0.01)
    assert slope == pytest.approx(found.G, rel=0.01)


def test_a_long_layer_peels_as_its_beam_says() -> None:
    """Thouless et al. 1987, Suo & Hutchinson 1989 (from memory): errors of both factors halve as the length doubles."""
    K_I, K_II = layer_factors(2.0)
    short, long = layer(2.0, 1 / 12), layer(2.0, 1 / 24)
    for exact, one, other in ((K_I, short.K_I, long.K_I), (K_II, short.K_II, long.K_II)):
        assert abs(other - exact) < 0.02 * K_I
        assert abs(one - exact) / abs(other - exact) > 2**0.7
    at_steady = layer(3.86, 1 / 24)
    assert abs(at_steady.K_II) < 0.02 * at_steady.K_I


@pytest.mark.parametrize("angle_deg", [-15.0, pytest.param(15.0, marks=pytest.mark.slow)])
def test_drag_that_turns_the_thrust_along_the_surface_makes_an_upright_wall(angle_deg: float) -> None:
    """Far ahead only the thrust counts: drag tan(angle) makes it 1/cos along the surface, spread over cos of depth.

    So the layer's factors (from memory, above) hold at h / cos, times cos^-1.5: errors halve as the length doubles.
    """
    angle = radians(angle_deg)
    c = cos(angle)
    K_I, K_II = (each * c**-1.5 for each in layer_factors(2.0 / c))
    short, long = layer(2.0, 1 / 24, angle), layer(2.0, 1 / 48, angle)
    for exact, one, other in ((K_I, short.K_I, long.K_I), (K_II, short.K_II, long.K_II)):
        assert abs(other - exact) < 0.02 * K_I
        assert abs(one - exact) / abs(other - exact) > 2**0.7
    at_steady = layer(3.86 * c, 1 / 48, angle)
    assert abs(at_steady.K_II) < 0.02 * at_steady.K_I


@pytest.mark.slow
def test_the_crack_comes_out_where_the_line_of_thrust_does() -> None:
    """Statics of the strip above a long crack: no bending is left where the thrust, d/2 deep at the wall, meets the
    surface, so it comes out near there, however the thrust came by its direction: by the angle or by drag.

    Up by 10 deg: a wall at -10 deg, or an upright one with drag tan(10 deg); d/2 cot(10 deg) = 2.84 d. A crack a finite
    way down comes out at most one depth beyond. With the drag turned inwards it dives.
    """
    for hole in (HoleWall(radians(-10), 1.0, ICE), HoleWall(0.0, 1.0, ICE, drag=tan(radians(10)))):
        out = follow_chip(hole, radians(-5), step=0.3, longest=6.0)
        line = 0.5 * (cos(hole.angle) / tan(radians(10)) - sin(hole.angle))
        assert out.ending == "surface" and out.outcrop is not None
        assert 0.0 < out.outcrop - line < 1.0
        assert np.all(np.diff(out.coefficient) < 0)
    dives = follow_chip(HoleWall(0.0, 1.0, ICE, drag=-tan(radians(10))), radians(-30), step=0.3, longest=2.5)
    assert dives.ending == "ice" and dives.directions[-1] < radians(-20)


def test_hoop_intensity_is_the_largest_at_the_kink() -> None:
    """Searched over all angles; opening alone: 1; sliding alone: 2/sqrt(3) (Erdogan & Sih 1963, from memory)."""
    phi = np.linspace(-pi / 2, pi / 2, 20_001)
    for K_I, K_II in ((1.0, 0.3), (0.5, -0.7), (-2.0, 1.0)):
        at_kink = hoop_intensity(K_I, K_II, kink_angle(K_I, K_II))
        assert at_kink == pytest.approx(max(hoop_intensity(K_I, K_II, each) for each in phi), rel=1e-6)
    assert hoop_intensity(1.0, 0.0, 0.0) == 1.0
    assert hoop_intensity(0.0, 1.0, kink_angle(0.0, 1.0)) == pytest.approx(2 / sqrt(3), rel=1e-9)


@pytest.mark.slow
def test_first_crack_opens_without_sliding_or_releases_most() -> None:
    """At -20 deg: K_II = 0 at the `opening` direction; G of the `energy` one above that of its neighbours."""
    hole = HoleWall(radians(-20), 1.0, ICE)

    def found(direction: float) -> tuple[float, float]:
        K = chip_tip(hole, straight(hole.angle, direction + hole.angle, 0.1))[1]
        return K.K_II / K.K_I, K.K_I**2 + K.K_II**2

    assert abs(found(first_direction(hole, 0.1, "opening"))[0]) < 0.05
    best = first_direction(hole, 0.1, "energy")
    assert found(best)[1] > max(found(best - 0.2)[1], found(best + 0.2)[1])


def test_load_scales_and_knows_no_stiffness() -> None:
    """P / (K_IC d^0.5) is a number of the shape: d times 4 on one path (same mesh), d of 40 mm, E and nu changed.

    A path found anew may differ in its last digits, and with them the triangles: there as little as meshes differ.
    """
    hole = HoleWall(radians(-20), 1.0, ICE)
    one = follow_chip(hole, 0.09, longest=0.3)
    small = follow_chip(HoleWall(radians(-20), 0.04, (1e9, 0.2)), 0.09, longest=0.3)
    found, larger = (chip_tip(replace(hole, depth=size), size * one.path)[1] for size in (1.0, 4.0))
    assert pytest.approx((found.K_I, found.K_II), rel=1e-7, abs=1e-9) == (2 * larger.K_I, 2 * larger.K_II)
    assert pytest.approx(found.G, rel=1e-7) == 4 * larger.G
    assert np.allclose(small.coefficient, one.coefficient, rtol=2e-3)
    assert replace(one, hole=replace(hole, depth=4.0)).load(0.1e6) == pytest.approx(2 * one.load(0.1e6))


def test_the_crack_finds_the_surface_ahead_of_a_wall_that_leans_away() -> None:
    """-30 deg: rises all the way, out within 2 d, open; the load falls: once started it runs."""
    growth = follow_chip(HoleWall(radians(-30), 1.0, ICE), radians(18))
    assert growth.ending == "surface" and growth.outcrop is not None
    assert 1.3 < growth.outcrop < 1.7
    assert np.all(growth.directions > 0) and np.all(np.diff(growth.coefficient) < 0)
    assert not growth.shut.any()
    assert np.abs(growth.K_II[1:] / growth.K_I[1:]).max() < 0.03
    low = clearance(growth.hole.angle, growth.path)[0]
    assert low[-1] < low[0]


@pytest.mark.slow
def test_the_crack_dives_from_a_wall_that_leans_toward_the_pull() -> None:
    """+10 deg, most energy first: a shut crack slides, kinks downward and opens on its way into the ice."""
    growth = follow_chip(HoleWall(radians(10), 1.0, ICE), "energy", longest=0.4)
    assert growth.ending == "ice" and growth.outcrop is None
    assert growth.shut[0] == 1.0 and growth.K_I[0] == 0.0 and np.all(growth.K_I[1:] > 0)
    assert np.all(growth.directions[1:] < radians(-40))
    assert growth.shut[-1] < 0.2


def test_a_wall_held_below_does_not_move_and_makes_cracking_easier() -> None:
    """Along e_1 only; the ice hangs on to the wall, so the crack starts as one along a bonded face: at less load."""
    hole = HoleWall(0.0, 1.0, ICE, below="held")
    path = straight(0.0, -0.5, 0.2)
    held, K = chip_tip(hole, path)
    x, u = held.body.x, held.u[held.body.dofs]
    lower = (np.abs(x[0]) < 1e-9) & (x[1] < -1.001)
    assert np.abs(u[0, lower]).max() < 1e-9 * np.abs(u).max() < np.abs(u[1, lower]).max()
    assert chip_tip(HoleWall(0.0, 1.0, ICE), path)[1].K_I < 0.5 * K.K_I


def test_the_tip_lattice_lies_along_the_crack() -> None:
    """RINGS pieces of tip_size before the tip, and as many ahead."""
    made = section()
    run = np.diff(made.path, axis=1)[:, 0] / 0.5
    for k in range(-RINGS, RINGS + 1):
        place = made.path[:, 1] + k * made.tip_size * run
        assert (np.hypot(*(made.mesh.p - place[:, None])) < 1e-9).sum() == (2 if k < 0 else 1)
