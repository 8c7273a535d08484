"""The slit cone in the half model: it lies where the formula says, its faces match, and no placement tangles it."""

from __future__ import annotations

from dataclasses import replace
from math import cos, isclose, pi, radians

import numpy as np
import pytest
from samples import TUBE, placed

from icecone.geometry.half_model import build_half_model
from icecone.geometry.layers import LEVELS
from icecone.geometry.slit_half_model import FLAT, LAST, STEEPEST, ConeModel, ConeShape, build_cone_model

ANGLES = [-45, *(pytest.param(each, marks=pytest.mark.slow) for each in (-20, 0, 20)), 45]


def cone(angle: float = 0.0, start: float = 0.13, elevation: float = 40, tilt: float = 0, **more: object) -> ConeModel:
    shape = ConeShape(start, radians(elevation), radians(tilt))
    return build_cone_model(TUBE, placed(angle), shape, **{"level": "quick", **more})  # type: ignore[arg-type]


def line(model: ConeModel, azimuth: float) -> np.ndarray:
    """Nodes (3, n) of the slit on the ray at this azimuth, outwards."""
    return model.half.mesh.doflocs[:, model.half.faces[0][np.abs(model.azimuth - azimuth) < 1e-9]]


@pytest.mark.parametrize(("angle", "tilt"), [(0, 0), (20, 0), (-20, 15), (10, -20)])
def test_cone_rises_by_its_elevation_against_the_surface(angle: float, tilt: float) -> None:
    """In the plane of the pull the slope against z = 0 is elevation + tilt in front, elevation - tilt behind."""
    model = cone(angle, elevation=35, tilt=tilt)
    for azimuth, expected in ((0.0, 35 + tilt), (pi, 35 - tilt)):
        x, _, z = line(model, azimuth)[:, np.sort(model.share[np.abs(model.azimuth - azimuth) < 1e-9]) < FLAT - 0.01]
        rise = np.degrees(np.arctan2(np.diff(z), np.abs(np.diff(x))))
        assert rise == pytest.approx(expected, abs=1e-6)


def test_area_converges_to_that_of_the_cone() -> None:
    """A frustum has pi (r_2^2 - r_1^2) / cos(elevation); parabolas for arcs miss it by (arc)^4."""
    errors = []
    for sectors in (4, 8, 16):
        model = cone(elevation=30, level=replace(LEVELS["quick"], sectors=sectors))
        ring = int(np.searchsorted(model.rings, FLAT)) - 1
        x = model.half.mesh.doflocs
        outer = np.hypot(x[0], x[1])[model.half.faces[0][np.isclose(model.share, model.rings[ring])]]
        assert np.ptp(outer) < 1e-9
        exact = 0.5 * pi * (outer[0] ** 2 - TUBE.radius**2) / cos(radians(30))
        errors.append(abs(model.area[: ring + 1].sum() / exact - 1))
    assert np.all(np.log2(np.divide(errors[:-1], errors[1:])) > 3.8) and errors[-1] < 1e-5


def test_the_fronts_share_the_way_to_the_surface() -> None:
    """At share lambda the depth left is 1 - lambda of the start's, all round, whatever the tilt."""
    model = cone(15, elevation=45, tilt=10)
    wall = model.half.mesh.doflocs[2, model.half.faces[0][model.on_hole]]
    for ring in range(3, model.rings.size - 1):
        share = model.rings[ring]
        if share > FLAT:
            continue
        nodes = model.half.faces[0][np.isclose(model.share, share)]
        depth = -model.half.mesh.doflocs[2, nodes]
        order = np.argsort(model.azimuth[np.isclose(model.share, share)])
        start = np.argsort(model.azimuth[model.on_hole])
        assert depth[order] == pytest.approx((1 - share) * -wall[start], rel=0.02)


def test_faces_are_pairs_that_only_the_slit_parts() -> None:
    """Same place, different nodes; elements above hold the upper ones, those below the lower; the front is whole."""
    model = cone(20, tilt=10)
    half = model.half
    above, below = half.faces
    x = half.mesh.doflocs
    assert np.abs(x[:, above] - x[:, below]).max() < 1e-12
    assert np.intersect1d(above, below).size == 0
    upper = half.mesh.dofs.element_dofs[:, half.beside[half.under + 1 :].ravel()]
    lower = half.mesh.dofs.element_dofs[:, half.beside[: half.under + 1].ravel()]
    assert not np.isin(below, upper).any() and np.isin(below, lower).all()
    assert not np.isin(above, lower).any() and np.isin(above, upper).all()
    assert model.share.max() < LAST and model.rings[-1] == pytest.approx(LAST)
    assert np.isin(above[model.on_hole], half.pairs[1]).all() and not np.isin(below, half.pairs[1]).any()


def test_frames_are_orthonormal_and_point_up() -> None:
    """n is the straight generator's normal, upwards; on the symmetry plane t is +-e_y exactly."""
    model = cone(elevation=40)
    Q = model.frames
    assert np.einsum("ick,idk->kcd", Q, Q) == pytest.approx(np.broadcast_to(np.eye(3), (Q.shape[2], 3, 3)), abs=1e-12)
    flat = ~model.on_hole & (model.share < FLAT - 0.15)
    assert Q[2, 0, flat] == pytest.approx(cos(radians(40)), abs=0.01)
    plane = np.minimum(model.azimuth, pi - model.azimuth) < 1e-9
    assert np.abs(Q[1, 1, plane]) == pytest.approx(1.0, abs=1e-14)
    assert np.all(Q[1][[0, 2]][:, plane] == 0)


def test_the_opened_part_is_inside_front_and_fan() -> None:
    """`opened` numbers rings from 1; a fan opens nothing behind its edge, and the fronts themselves stay shut."""
    model = cone()
    fan = model.fan_edge(radians(50))
    assert isclose(fan, radians(45))
    opened = model.opened(3, fan)
    assert np.array_equal(opened, (model.share < model.rings[2] - 1e-9) & (model.azimuth < fan - 1e-6))
    assert not model.opened(0, pi).any() and model.opened(model.rings.size, pi).all()


@pytest.mark.parametrize("level", ["quick", pytest.param("standard", marks=pytest.mark.slow)])
@pytest.mark.parametrize("angle", ANGLES)
def test_no_placement_tangles(angle: float, level: str) -> None:
    """Every angle of a placement, starts from the tip to close below the mouth, steep and shallow, tilted both ways."""
    for start in (0.13, 0.0975, 0.03):
        for elevation, tilt in ((40, 0), (30, 20), (30, -20), (15, 0)):
            if radians(elevation + abs(angle + tilt)) > STEEPEST:
                continue
            model = cone(angle, start, elevation, tilt, level=level)
            assert model.half.quality.smallest_scaled_jacobian > 0.2


@pytest.mark.parametrize("angle", ANGLES)
def test_the_steepest_generators_do_not_tangle(angle: float) -> None:
    """At the stated limit of steepness, tilted both ways."""
    limit = np.degrees(STEEPEST) - 1e-6
    for start in (0.13, 0.05):
        for tilt in (-20, 0, 20):
            elevation = min(limit - abs(angle + tilt), 68)  # 1.2 rad is the steepest of a shape
            assert cone(angle, start, elevation, tilt).half.quality.smallest_angle_measure > 0


def test_crust_is_what_lies_above_its_depth() -> None:
    """Elements of the ice by their middle; nothing is lost."""
    model, plain = cone(10, crust=0.03), cone(10)
    middle = model.half.mesh.doflocs[2, model.half.mesh.dofs.element_dofs].mean(axis=0)
    assert np.all(middle[model.half.regions["crust"]] > -0.03) and np.all(middle[model.half.regions["ice"]] <= -0.03)
    both = np.union1d(model.half.regions["crust"], model.half.regions["ice"])
    assert np.array_equal(both, np.sort(plain.half.regions["ice"]))


def test_the_start_becomes_a_layer_at_its_depth() -> None:
    """A start that is no mark of its own gets one, an upright tube's start lies `start` below the surface."""
    model = cone(start=0.111)
    assert model.half.mesh.doflocs[2, model.half.faces[0][model.on_hole]] == pytest.approx(-0.111, abs=1e-12)


def test_an_unslit_model_has_no_faces() -> None:
    half = build_half_model(TUBE, placed(), level="quick")
    assert half.faces.shape == (2, 0) and half.under == -1


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"start": 0.005}, "cone.start"),
        ({"elevation": 1.3}, "cone.elevation"),
        ({"tilt": -0.9}, "cone.tilt"),
        ({"fan": 0.1}, "cone.fan"),
    ],
)
def test_a_shape_out_of_range_is_named(change: dict[str, float], named: str) -> None:
    with pytest.raises(ValueError, match=named):
        ConeShape(**{"start": 0.1, "elevation": 0.6, **change})


def test_a_generator_along_the_axis_is_refused() -> None:
    """Columns of the mesh run along the axis: at +45 deg a line 40 deg above the surface makes 85 with the front."""
    with pytest.raises(ValueError, match=r"cone.elevation \+"):
        cone(45, elevation=40)


def test_a_start_below_the_tip_is_refused() -> None:
    with pytest.raises(ValueError, match=r"cone.start .* below the tip"):
        cone(start=0.14)
