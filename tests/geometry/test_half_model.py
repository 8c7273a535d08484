"""The mapped half model: volumes, pairs, named surfaces, the same topology at every angle, no tangled mesh."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product
from math import cos, exp, log2, pi, radians

import numpy as np
import pytest
from domains import examples, numbers
from hypothesis import given
from numpy.typing import NDArray
from samples import TUBE
from skfem import Basis, ElementHex2

from icecone.geometry import layers
from icecone.geometry.half_model import CRUST_SHARE, HalfModel, build_half_model
from icecone.geometry.layers import HOLE_BELOW_TIP, LEVELS, Resolution
from icecone.geometry.o_grid import graded, half_disc
from icecone.geometry.placement import Placement, Pull, Tube, load_point

FAR = 0.4
ANGLES = (-45.0, -30.0, -10.0, 0.0, 10.0, 30.0, 45.0)


def tube(length: float = 0.14, outer_diameter: float = 0.017, wall: float = 0.0015) -> Tube:
    threaded = min(TUBE.thread_length, length)
    return replace(TUBE, length=length, outer_diameter=outer_diameter, wall=wall, thread_length=threaded)


def coarse(sectors: int) -> Resolution:
    return Resolution(sectors=sectors, ring=0.006, mouth=0.01, tip=0.012, growth=1.2, deep=0.06)


@cache
def model(angle_deg: float = 20.0, embedment: float = 0.1, crust: float = 0.015, sectors: int = 4) -> HalfModel:
    return build_half_model(tube(), Placement(radians(angle_deg), embedment), crust, coarse(sectors), FAR)


def volume(mesh: HalfModel, *names: str) -> float:
    elements = np.concatenate([mesh.regions[name] for name in names])
    return float(Basis(mesh.mesh, ElementHex2(), elements=elements, intorder=6).dx.sum())


def nodes_of(mesh: HalfModel, *names: str) -> NDArray[np.int64]:
    elements = np.concatenate([mesh.regions[name] for name in names])
    return np.unique(mesh.mesh.dofs.element_dofs[:, elements])


@pytest.mark.parametrize("angle", [0.0, 30.0])
def test_tube_volume_converges_to_the_hollow_cylinder(angle):
    """Half a tube: pi (R^2 - bore^2) length / 2. Quadratic arcs: the error falls at rate 4 as sectors double."""
    body = tube()
    exact = pi / 2 * (body.radius**2 - body.bore**2) * body.length
    errors = [abs(volume(model(angle, sectors=n), "tube") / exact - 1) for n in (4, 8, 16)]
    assert log2(errors[0] / errors[1]) > 3.8 and log2(errors[1] / errors[2]) > 3.8
    assert errors[-1] < 1e-5


@pytest.mark.parametrize("angle", [0.0, 30.0])
def test_ice_volume_has_the_hole_left_out(angle):
    """Ice and crust: half a cylinder of radius far less the half hole, from the mouth to below the tip, at any angle.

    The slant cut at the surface takes from one side what it gives to the other; rate 4 in the number of sectors.
    """
    errors = []
    for sectors in (4, 8, 16):
        mesh = model(angle, sectors=sectors)
        hole = pi / 2 * tube().radius ** 2 * (0.1 + HOLE_BELOW_TIP)
        exact = pi / 2 * FAR**2 * -mesh.straight[2].min() - hole
        errors.append(abs(volume(mesh, "ice", "crust") / exact - 1))
    assert log2(errors[0] / errors[1]) > 3.8 and log2(errors[1] / errors[2]) > 3.8
    assert errors[-1] < 0.05 * hole / exact  # a hole filled in would show


def test_regions_share_out_the_elements():
    """Ice, crust and tube are disjoint and are all there is; eye and sling are parts of the tube."""
    mesh = model()
    parts = np.concatenate([mesh.regions[name] for name in ("ice", "crust", "tube")])
    assert np.array_equal(np.sort(parts), np.arange(mesh.mesh.nelements))
    for name in ("eye", "sling"):
        assert mesh.regions[name].size and np.isin(mesh.regions[name], mesh.regions["tube"]).all()


@pytest.mark.parametrize("size", [*LEVELS.values(), coarse(4)], ids=[*LEVELS, "coarse"])
def test_the_bands_that_carry_the_pull_do_not_depend_on_the_mesh(size):
    """Sling: 4 mm above the mouth; eye: the uppermost 0.45 radii; whatever the elements' size."""
    mesh = build_half_model(tube(), Placement(0.0, 0.13), 0.0, size, FAR)
    sling, eye = (mesh.straight[2, nodes_of(mesh, name)] for name in ("sling", "eye"))
    assert (sling.min(), sling.max()) == pytest.approx((0.0, 0.004), abs=1e-12)
    assert (eye.min(), eye.max()) == pytest.approx((0.01 - 0.45 * tube().radius, 0.01), abs=1e-12)


@pytest.mark.parametrize("eye_mm", [2.0, 5.0, 7.66, 7.9, 9.0, 9.4, 12.0])
def test_no_sliver_between_the_bands_of_a_short_stub(eye_mm):
    """Layers above the mouth stay thicker than half a millimetre for every height of the eye."""
    body = replace(tube(), eye=eye_mm * 1e-3)
    mesh = build_half_model(body, Placement(0.0, body.length - body.eye), 0.0, "quick", FAR)
    layers = np.unique(np.round(mesh.straight[2, nodes_of(mesh, "tube")], 9))
    above = layers[layers > -1e-9]
    assert 2 * np.diff(above).min() > 0.0005


def test_hole_is_empty():
    """No ice inside the tube's radius above the hole's floor; below it the axis is ice."""
    mesh = model()
    xi, eta, s = mesh.straight[:, nodes_of(mesh, "ice", "crust")]
    r = np.hypot(xi, eta)
    floor = -0.1 - HOLE_BELOW_TIP
    assert r[s > floor + 1e-9].min() > tube().radius - 1e-9
    assert r[s <= floor + 1e-9].min() < 1e-9


@pytest.mark.parametrize("angle", [-40.0, 0.0, 25.0])
def test_pairs_lie_together_on_the_cylinder(angle):
    """Tube and ice node of a pair are different nodes at one place, at the tube's radius, from tip to mouth."""
    mesh = model(angle)
    steel, ice = mesh.pairs
    x = mesh.mesh.doflocs
    assert np.abs(x[:, steel] - x[:, ice]).max() < 1e-12
    assert np.unique(mesh.pairs).size == mesh.pairs.size
    assert np.isin(steel, nodes_of(mesh, "tube")).all() and np.isin(ice, nodes_of(mesh, "ice", "crust")).all()
    axis = mesh.frame[:, 2]
    across = x[:, steel] - np.outer(axis, axis @ x[:, steel])
    assert np.abs(np.linalg.norm(across, axis=0) - tube().radius).max() < 1e-12
    s = mesh.straight[2, steel]
    assert np.all(np.diff(s) > -1e-9) and s.min() == pytest.approx(-0.1) and abs(s.max()) < 1e-9


def test_threads_start_at_the_tip():
    """Threaded pairs are those within the threaded length of the tip, 65 mm of 100 here; the rest is plain shank."""
    mesh = model()
    s = mesh.straight[2, mesh.pairs[0]]
    assert np.array_equal(mesh.threaded, s < -0.035 + 1e-6)
    assert np.sort(np.concatenate([mesh.nodes["shank"], mesh.nodes["threads"]])).tolist() == sorted(mesh.pairs[1])


def test_frame_follows_the_signs():
    """A positive angle leans the head toward +x, the pull's side; frame columns are front, y and axis."""
    mesh = model(20.0)
    a = radians(20.0)
    expected = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    assert np.abs(mesh.frame - expected).max() < 1e-15
    head = mesh.mesh.doflocs[:, nodes_of(mesh, "eye")].mean(axis=1)
    assert head[0] > 0 and Pull(0.0).unit[0] == 1.0
    assert np.abs(load_point(tube(), Placement(a, 0.1)) - 0.04 * expected[:, 2]).max() < 1e-15


@pytest.mark.parametrize("angle", ANGLES)
def test_surface_and_crust_face_are_level_everywhere(angle):
    """The ice ends at z = 0 and the crust at z = -crust (vertical depth), from the hole's edge to the far boundary."""
    crust = 0.015
    mesh = model(angle, crust=crust)
    z, r = mesh.mesh.doflocs[2], np.hypot(*mesh.straight[:2])
    top = np.setdiff1d(nodes_of(mesh, "crust"), nodes_of(mesh, "tube"))
    top = top[np.abs(mesh.straight[2, top]) < 1e-9]
    face = np.intersect1d(nodes_of(mesh, "ice"), nodes_of(mesh, "crust"))
    for nodes, level in ((top, 0.0), (face, -crust)):
        assert r[nodes].min() == pytest.approx(tube().radius, rel=1e-9)
        assert r[nodes].max() == pytest.approx(FAR, rel=1e-9)
        assert np.abs(z[nodes] - level).max() < 1e-9
    assert z[nodes_of(mesh, "ice", "crust")].max() < 1e-9


def test_no_crust_means_no_crust():
    """Without a crust the region is empty and the ice reaches the surface."""
    mesh = model(crust=0.0)
    assert mesh.regions["crust"].size == 0
    assert abs(mesh.mesh.doflocs[2, nodes_of(mesh, "ice")].max()) < 1e-9


def test_held_and_symmetry_nodes():
    """`symmetry`: every node with y = 0, tube and ice. `far`: the outer cylinder and the floor, and nothing else."""
    mesh = model()
    y = mesh.mesh.doflocs[1]
    assert np.array_equal(np.flatnonzero(np.abs(y) < 1e-12), np.sort(mesh.nodes["symmetry"]))
    assert y.min() > -1e-12
    r, s = np.hypot(*mesh.straight[:2]), mesh.straight[2]
    outside = (r > FAR - 1e-9) | (s < s.min() + 1e-9)
    assert np.array_equal(np.flatnonzero(outside), np.sort(mesh.nodes["far"]))
    assert not np.isin(mesh.pairs, mesh.nodes["far"]).any()


# ---------------------------------------------------------------- topology and quality


@pytest.mark.parametrize("crust", [0.0, 0.015, 0.034])
def test_topology_does_not_depend_on_the_angle(crust):
    """Elements, pairs, regions and held nodes are the same arrays at every angle.

    So are the threads, except where the crust's face comes within a layer of their upper end (34 mm of 35 here): then
    the nodes nearest to it decide.
    """
    upright = model(0.0, crust=crust)
    for angle in ANGLES:
        other = model(angle, crust=crust)
        assert np.array_equal(upright.mesh.t, other.mesh.t)
        assert np.array_equal(upright.mesh.dofs.element_dofs, other.mesh.dofs.element_dofs)
        assert np.array_equal(upright.pairs, other.pairs)
        assert crust == 0.034 or np.array_equal(upright.threaded, other.threaded)
        for name, members in upright.regions.items():
            assert np.array_equal(members, other.regions[name]), name
        for name in ("far", "symmetry", "mouth"):
            assert np.array_equal(upright.nodes[name], other.nodes[name]), name


def all_nodes_used(mesh: HalfModel) -> bool:
    return np.unique(mesh.mesh.dofs.element_dofs).size == mesh.mesh.doflocs.shape[1]


def check_grid(level: str, lengths: tuple[float, ...], angles: tuple[float, ...], crusts: tuple[float, ...]) -> None:
    """`crusts`: shares of the deepest one allowed."""
    for length, angle, share in product(lengths, angles, crusts):
        for embedment in (0.030, 0.5 * (0.030 + length), length):
            crust = share * CRUST_SHARE * embedment * cos(radians(angle))
            mesh = build_half_model(tube(length), Placement(radians(angle), embedment), crust, level)
            assert mesh.quality.smallest_scaled_jacobian > 0.005, (length, embedment, angle, crust)
            assert mesh.quality.smallest_angle_measure > 0.2, (length, embedment, angle, crust)
            assert all_nodes_used(mesh)


def test_no_tangled_mesh_quick():
    """Every placement the data allow gives a mesh without inside-out elements, angles no sharper than sin 12 deg."""
    check_grid("quick", (0.14,), (-45.0, 0.0, 33.0), (0.0, 0.1, 1.0))


@pytest.mark.slow
@pytest.mark.parametrize("level", sorted(LEVELS))
def test_no_tangled_mesh(level):
    """The same for every level, over lengths and a denser grid of angles."""
    check_grid(level, (0.05, 0.22), ANGLES, (0.0, 0.3, 1.0))


@pytest.mark.parametrize("angle", [-30.0, 30.0])
def test_tangled_mesh_names_its_parameters(monkeypatch, angle):
    """A layer turned the wrong way folds elements over: ValueError with the placement's figures, never a mesh."""
    monkeypatch.setattr(layers, "_turn", lambda *a: (np.array([-0.05, -0.049, 0.0, 0.01]), np.array([0, 9.0, 1, 0])))
    with pytest.raises(ValueError, match="tangled") as caught:
        build_half_model(tube(), Placement(radians(angle), 0.1), 0.015, coarse(4))
    for part in (f"placement.angle = {angle:g} deg", "embedment = 100 mm", "crust = 15 mm", "tube radius = 8.5 mm"):
        assert part in str(caught.value)


@pytest.mark.parametrize("crust", [-0.001, 0.001, 0.081, np.nan])
def test_crust_out_of_range_is_refused(crust):
    """A crust is absent, or thicker than the thinnest layer and no deeper than 80 % of the tip; the message says so."""
    with pytest.raises(ValueError, match=r"ice\.crust .* = .*0 or lie between 0\.0015 and 0\.08"):
        build_half_model(tube(), Placement(0.0, 0.1), crust, coarse(4))


def test_embedment_longer_than_the_tube_is_refused():
    """What is not there cannot be embedded; both lengths are named."""
    with pytest.raises(ValueError, match=r"placement\.embedment .* tube\.length"):
        build_half_model(tube(0.10), Placement(0.0, 0.11), 0.0, coarse(4))


@examples(60)
@given(
    length=numbers(0.005, 1.0),
    first=numbers(0.02, 0.5),
    last=numbers(0.02, 0.5),
    growth=numbers(0.1, 1.5),
    largest=numbers(0.05, 1.0),
)
def test_graded_points(length, first, last, growth, largest):
    """Points rise from 0 to length; no step exceeds the size wanted there; neighbours differ by at most exp(growth).

    h' <= growth and steps are equal in the integral of dx/h, at most 1 each: hence the last. Turned round, the points
    of (last, first) are those of (first, last). Sizes here are shares of the length.
    """
    h = [share * length for share in (first, last, largest)]
    x = graded(length, h[0], h[1], growth, h[2])
    steps = np.diff(x)
    assert x[0] == 0.0 and x[-1] == length and np.all(steps > 0)
    wanted = np.minimum(np.minimum(h[0] + growth * x, h[1] + growth * (length - x)), h[2])
    most = np.maximum(wanted[:-1], wanted[1:]) * exp(growth / 2)  # the largest size may lie inside a step
    assert np.all(steps <= 1.01 * np.minimum(most, h[2]))
    ratio = steps[1:] / steps[:-1]
    assert np.all(np.maximum(ratio, 1 / ratio) < 1.01 * exp(growth))
    turned = graded(length, h[1], h[0], growth, h[2])
    assert turned.size == x.size and np.abs(length - turned[::-1] - x).max() < 1e-6 * length


def test_graded_uniform():
    """Without growth the points are even, and as few as the size allows: 1 m in steps of at most 0.25 m is four."""
    assert np.abs(graded(1.0, 0.25, 0.25, 0.0, 1.0) - np.linspace(0, 1, 5)).max() < 1e-12
    assert graded(1.0, 0.24, 0.24, 0.0, 1.0).size == 6
    assert graded(1.0, 5.0, 5.0, 0.0, 5.0).tolist() == [0.0, 1.0]


@pytest.mark.parametrize("sectors", [0, 2, 6])
def test_sectors_must_close_the_core(sectors):
    """The square core takes a quarter of the sectors on each side: a multiple of four, or ValueError."""
    with pytest.raises(ValueError, match="multiple of 4"):
        half_disc(np.array([1.0, 2.0]), sectors)


@pytest.mark.parametrize("radii", [[1.0, 1.0], [2.0, 1.0], [0.0, 1.0]])
def test_radii_must_increase(radii):
    """Rings of no or negative width are refused, and so is a bore of radius zero."""
    with pytest.raises(ValueError, match="must be positive and increase"):
        half_disc(np.array(radii), 4)


def test_section_is_half_a_polygon():
    """Quads tile half a regular polygon once: positive areas that add up to n sin(2 pi/n) R^2/4, n = 2 sectors."""
    sectors, outer = 8, 3.0
    section = half_disc(np.array([1.0, 1.7, outer]), sectors)
    x, y = section.points[:, section.quads]
    area = 0.5 * (x * np.roll(y, -1, axis=0) - y * np.roll(x, -1, axis=0)).sum(axis=0)
    assert area.min() > 0
    assert area.sum() == pytest.approx(sectors * np.sin(pi / sectors) / 2 * outer**2, rel=1e-13)
    assert section.points[1].min() > -1e-14
    assert np.all(section.ring == (section.inner_radius > 0))
