"""Chips: loads and condensation against direct solves, energies by another route, scaling, a penny with friction."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, radians, sin

import numpy as np
import pytest
from numpy.typing import NDArray
from samples import ICE, NEEDLE, TUBE, placed

from icecone.fem.chip import growth as chip_module
from icecone.fem.chip.body import PROFILES, UNIT_PUSH, ChipBody, along_front, chip_body, chip_pushes, condense_chip
from icecone.fem.chip.growth import ChipGrowth, chip_law, chip_shapes, mesh_size, open_chip
from icecone.fem.cone.condensed import tributary
from icecone.fem.cracks.friction import solve_faces
from icecone.fem.solid.assembly import assemble_stiffness
from icecone.fem.solid.solver import make_solver
from icecone.geometry.errors import MeshError
from icecone.geometry.layers import Resolution
from icecone.geometry.placement import Tube
from icecone.geometry.slit_half_model import ConeShape, build_cone_model

Array = NDArray[np.float64]
COARSE = Resolution(sectors=4, ring=0.008, mouth=0.014, tip=0.014, growth=1.2, deep=0.06)
SHAPE = ConeShape(0.04, radians(35))
FAN = pi / 2


@pytest.fixture(scope="module")
def body() -> ChipBody:
    return chip_body(TUBE, radians(10), ICE, SHAPE, COARSE)


def test_every_push_has_its_resultant(body: ChipBody) -> None:
    """Half of UNIT_PUSH square to the axis toward the front, or along it; nothing of `lower half` near the surface."""
    forces = chip_pushes(body.cone).reshape(-1, 3, 2 * len(PROFILES))
    front, axis = (np.array(v) for v in ((cos(0.1745329), 0, -sin(0.1745329)), (sin(0.1745329), 0, cos(0.1745329))))
    for j, total in enumerate(forces.sum(axis=0).T):
        expected = axis if j % 2 else front
        assert total[[0, 2]] == pytest.approx(0.5 * UNIT_PUSH * expected[[0, 2]], rel=1e-6, abs=1e-2)
    mouth = body.cone.half.nodes["mouth"]
    at = 2 * list(PROFILES).index("lower half")
    assert np.all(forces[mouth][:, :, at] == 0) and np.any(forces[mouth][:, :, 0] != 0)


def test_condensed_is_the_body_with_free_faces(body: ChipBody) -> None:
    """All faces let go, crossing allowed: bonded and released energy together are those of the mesh solved directly."""
    half = body.cone.half
    K = assemble_stiffness(half.mesh, [(half.regions["ice"], ICE.elastic.tensor())])
    free = np.zeros((half.mesh.doflocs.shape[1], 3), bool)
    free[half.mesh.dofs.element_dofs[:, half.regions["ice"]]] = True
    free[half.nodes["symmetry"], 1] = False
    free[half.nodes["far"]] = False
    at = np.flatnonzero(free)
    b = chip_pushes(body.cone)[at, 0]
    direct = 0.5 * float(b @ make_solver(K[at][:, at].tocsr()).solve(b))
    c = body.load()
    assert body.bonded[0] + 0.5 * float(c @ np.linalg.solve(body.S, c)) == pytest.approx(direct, rel=1e-7)


@pytest.mark.parametrize("friction", [0.0, 0.4])
def test_released_energy_is_what_the_potential_loses_beyond_friction(body: ChipBody, friction: float) -> None:
    """-dPi less the work of friction (by trapezoids, on open faces and the new ring) is the release."""
    c = body.load()
    growth = open_chip(body, c, friction, FAN)
    skipped = body.cone.rings.size - growth.area.size
    v, force = np.zeros_like(c), np.zeros_like(c)
    for i in range(growth.area.size):
        opened = np.repeat(body.cone.opened(skipped + i + 1, body.cone.fan_edge(FAN)), 3)
        faces = solve_faces(body.S[np.ix_(opened, opened)], c[opened], friction)
        new, now = np.zeros_like(c), np.zeros_like(c)
        new[opened], now[opened] = faces.jump.ravel(), faces.force.ravel()
        was = np.repeat(body.cone.opened(skipped + i, body.cone.fan_edge(FAN)), 3) & (i > 0)
        lost = 0.5 * (v @ body.S @ v - new @ body.S @ new) + c @ (new - v)
        work = -0.5 * ((force + now) * (new - v))[was].sum() - (now * new)[opened & ~was].sum()
        assert growth.opening[i] + growth.sliding[i] == pytest.approx(lost - work, rel=1e-6)
        v, force = new, now


def test_friction_and_tougher_sliding_raise_the_load(body: ChipBody) -> None:
    """Each ring needs more with friction; a sliding chip needs r times as much where K_IIc = r K_IC."""
    plain, rough = (open_chip(body, body.load(), friction, FAN) for friction in (0.0, 0.4))
    assert np.all(rough.load() > 1.05 * plain.load())
    slides = np.abs(plain.opening) < 1e-9 * plain.sliding
    assert slides.any() and plain.load(1.3)[slides] == pytest.approx(1.3 * plain.load()[slides], rel=1e-6)
    assert rough.peak() == rough.load().max()


@pytest.mark.slow
def test_a_body_grown_alike_needs_the_power_1_5(body: ChipBody) -> None:
    """All lengths times k, faces and friction the same: loads times k^1.5, ring for ring (dimensions of K)."""
    k = 2.5
    half = body.cone.half
    mesh = replace(half.mesh, doflocs=k * half.mesh.doflocs)
    cone = replace(body.cone, half=replace(half, mesh=mesh), lengths=k * body.cone.lengths, area=k**2 * body.cone.area)
    grown = condense_chip(cone, ICE.with_strengths(ICE.tensile_strength / k**0.5, ICE.toughness, 1e6))
    one, other = (open_chip(each, each.load(), 0.4, FAN) for each in (body, grown))
    assert one.load().size == other.load().size
    assert other.load() == pytest.approx(k**1.5 * one.load(), rel=1e-6)


def test_loads_scale_with_toughness_alone(body: ChipBody) -> None:
    """F = F_1 sqrt(G_c / G_1): stiffness does not count, toughness counts once."""
    strong = ICE.with_strengths(2 * ICE.tensile_strength, 2 * ICE.toughness, 2 * ICE.compressive_strength)
    plain, tough = (open_chip(replace(body, ice=ice), body.load(), 0.3, FAN) for ice in (ICE, strong))
    assert tough.load() == pytest.approx(2 * plain.load(), rel=1e-12)


@pytest.mark.slow
def test_leaning_away_needs_less() -> None:
    """The wedge of ice in front is thinner and pushed up: at -20 deg less than at +10 deg, each on its usual tilt."""
    away, toward = (
        chip_body(TUBE, radians(angle), ICE, replace(SHAPE, tilt=radians(-20 - angle / 2)), COARSE)
        for angle in (-20, 10)
    )
    assert open_chip(away, away.load(), 0.5).peak() < 0.8 * open_chip(toward, toward.load(), 0.5).peak()


@pytest.mark.slow
@pytest.mark.parametrize("angle", [-10, 0])
def test_a_flat_flake_needs_more_the_longer_it_is(angle: float) -> None:
    """Far from the tube its push is a point force in a layer: stress as 1/length, so the load as length^1 or so, less
    as the layer thins toward the surface; in a plane section it falls (`test_chippath`). A steep chip needs no more.
    """

    def load(elevation: float, at: tuple[float, float]) -> Array:
        shape = ConeShape(0.04, radians(elevation))
        flake = chip_body(TUBE, radians(angle), ICE, shape, mesh_size("quick", 0.04))
        growth = open_chip(flake, flake.load(), 0.3, FAN)
        return np.interp(np.array(at) * 0.04, growth.length, growth.load(1.3))

    near, far = load(20, (0.5, 1.8))
    assert 0.5 < np.log(far / near) / np.log(1.8 / 0.5) < 1.2
    near, far = load(40, (0.5, 1.2))
    assert far < 1.5 * near


@pytest.mark.slow
def test_ice_that_is_gone_holds_nothing(body: ChipBody) -> None:
    """Without the elements above the slit nearest to the surface, a push below them finds less resistance."""
    half = body.cone.half
    top = half.beside[-1, :6, :2].ravel()
    less = condense_chip(body.cone, ICE, top)
    c, whole = less.load("lower half"), body.load("lower half")
    assert less.unknowns < body.unknowns
    assert open_chip(less, c, 0.3, FAN).peak() < open_chip(body, whole, 0.3, FAN).peak()


@pytest.mark.slow
def test_sheared_penny_with_friction_releases_the_energy_of_what_friction_leaves() -> None:
    """A penny of radius a pressed by p and sheared by t: (t - mu p) in the place of t, mean of K_II and K_III.

    K_II = 4 t cos w sqrt(a/pi) / (2 - nu), K_III = (1 - nu) 4 t sin w sqrt(a/pi) / (2 - nu) (Kassir & Sih 1966, from
    memory), so G = 8 (1 - nu^2) t^2 a / (pi E (2 - nu)), the mean round the front. A thin tube deep in the ice, as
    for the pressurised penny of `test_tiltedcone`. What the mesh (elements beside the crack, 4 mm) and the
    tube's hole do to it is one for all frictions.
    """
    size = Resolution(sectors=4, ring=0.003, mouth=0.03, tip=0.004, growth=0.8, deep=0.08)
    deep = chip_body(NEEDLE, 0.0, ICE, ConeShape(0.25, 0.0), size)
    t, p, nu = 1e5, 1e5, ICE.elastic.poissons_ratio
    behind, along = tributary(deep.cone), along_front(deep.cone)
    ratios = []
    for friction in (0.0, 0.3, 0.7):
        growth = open_chip(deep, (behind[:, None] * (t * along - p * np.array([1.0, 0, 0]))).ravel(), friction)
        outer = np.sqrt(2 * np.cumsum(growth.area) / pi + NEEDLE.radius**2)
        inner = np.concatenate([[NEEDLE.radius], outer[:-1]])
        a = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2)
        left = t - friction * p
        exact = 8 * (1 - nu**2) * left**2 * a / (pi * ICE.elastic.youngs_modulus * (2 - nu))
        meant = (outer > 6 * NEEDLE.radius) & (outer < 30 * NEEDLE.radius)
        ratios.append((growth.sliding / growth.area / exact)[meant])
        assert meant.sum() >= 3 and ratios[-1] == pytest.approx(1.0, abs=0.02)
        assert np.abs(growth.opening[meant]).max() < 1e-6 * growth.sliding[meant].min()
    assert ratios[1] == pytest.approx(ratios[0], rel=2e-3) and ratios[2] == pytest.approx(ratios[0], rel=2e-3)
    stuck = open_chip(deep, (behind[:, None] * (0.4 * t * along - p * np.array([1.0, 0, 0]))).ravel(), 0.5)
    assert np.all(np.isinf(stuck.load()[1:]) | (stuck.load()[1:] > 1e3 * stuck.fracture_energy))


def test_the_law_takes_the_weakest_chip_of_each_depth(monkeypatch: pytest.MonkeyPatch) -> None:
    """Least over shapes of the largest over lengths; `from_start` and `rising` say where that lies."""
    one = np.ones(3)

    def chip(shape: ConeShape, loads: list[float]) -> ChipGrowth:
        released = 1 / np.array(loads) ** 2
        return ChipGrowth(shape, 0.3, np.array([0.01, 0.02, 0.03]), one, 0 * one, released, one, UNIT_PUSH**-2)

    def chips(tube: Tube, angle: float, ice: object, friction: float, depth: float, level: str) -> list[ChipGrowth]:
        steep = replace(SHAPE, start=depth, elevation=0.9)
        return [
            chip(replace(SHAPE, start=depth), [1.0, 5, 2]),
            chip(steep, [3.0, 2, 1] if depth < 0.03 else [1.0, 2, 4]),
        ]

    monkeypatch.setattr(chip_module, "_chips", chips)
    monkeypatch.setattr(chip_module, "chip_body", lambda *args: replace_load)
    monkeypatch.setattr(chip_module, "open_chip", lambda *args: chip(SHAPE, [1.0, 2, 5]))
    found = chip_law(TUBE, 0.0, ICE, 0.3, (0.02, 0.04))
    assert found.force == pytest.approx([3, 4]) and [shape.elevation for shape in found.shape] == [0.9, 0.9]
    assert found.from_start.tolist() == [True, False] and found.rising.tolist() == [False, True]
    assert found.length == pytest.approx([0.01, 0.03])
    assert found.kappa == pytest.approx(found.force / (ICE.toughness * np.array([0.02, 0.04]) ** 1.5))
    assert found.error == pytest.approx(0.2)


class replace_load:
    """Stands for a body where growth is given."""

    @staticmethod
    def load() -> None: ...


@pytest.mark.slow
def test_a_finer_mesh_moves_the_load_by_a_few_per_cent() -> None:
    """The same chip with elements 0.7 times as large."""
    peaks = []
    for factor in (1.0, 0.7):
        each = chip_body(TUBE, 0.0, ICE, SHAPE, mesh_size("quick", 0.04, factor))
        peaks.append(open_chip(each, each.load(), 0.3, FAN).peak())
    assert peaks[0] == pytest.approx(peaks[1], rel=0.04)


@pytest.mark.slow
def test_the_law_of_an_upright_tube_in_chosen_depths() -> None:
    """Between a constant pressure (n = 1) and an edge chip (1.5), of an edge chip's order (9.3 K_IC d^1.5, see
    `validation/checks/fracture/chip.py`), and a finer mesh moves it little."""
    found = chip_law(TUBE, 0.0, ICE, 0.3, (0.02, 0.04))
    exponent = np.log(found.force[1] / found.force[0]) / np.log(2)
    assert 1.0 < exponent < 1.5 and np.all((found.kappa > 9.3 / 3) & (found.kappa < 9.3 * 1.5))
    assert found.error < 0.03


@pytest.mark.parametrize("angle", [-45, -30, 0, 20, 45])
def test_shapes_of_the_family_can_be_meshed(angle: float) -> None:
    """At every angle at least two, and none is refused or tangled."""
    shapes = chip_shapes(radians(angle), 0.04)
    assert len(shapes) >= 2 and all(shape.start == 0.04 for shape in shapes)
    for shape in shapes[:: len(shapes) - 1]:
        build_cone_model(replace(TUBE, thread_length=0.0), placed(angle, 0.08), shape, 0.0, COARSE)


def test_what_cannot_be_asked_is_said(body: ChipBody) -> None:
    with pytest.raises(ValueError, match="must be two or more and increase"):
        chip_law(TUBE, 0.0, ICE, 0.3, (0.04, 0.02))
    with pytest.raises(ValueError, match="profile = 'square': must be one of"):
        body.load("square")
    with pytest.raises(ValueError, match="too steep for a chip's surface"):
        chip_shapes(-1.2, 0.04)
    with pytest.raises((ValueError, MeshError)):
        chip_body(TUBE, radians(30), ICE, replace(SHAPE, elevation=1.1), COARSE)
