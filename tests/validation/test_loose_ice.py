"""Ice that came loose in the second route: when a piece jams, chips behind the tube, what is left of the ice."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import atan, pi, radians

import numpy as np
import pytest
from samples import COARSEST, TUBE, case, placed

from icecone.fem.chip.growth import chip_shapes
from icecone.fem.cracks.slit import Slit, make_slit
from icecone.fem.cracks.wall_loads import BACK, FRONT, THREADS, hole_rings
from icecone.geometry.slit_half_model import ConeModel, ConeShape, build_cone_model
from icecone.validation.discrete_cracks.chip_growth import Chip
from icecone.validation.discrete_cracks.chip_slits import IN_BACK, IN_FRONT, chip_slit
from icecone.validation.discrete_cracks.left_ice import LeftIce
from icecone.validation.discrete_cracks.loose_ice import (
    Piece,
    bears,
    hanging,
    loose_piece,
    lost_elements,
    rim_elements,
)
from icecone.validation.discrete_cracks.ring_tube import RingTube

SHORT = 0.05  # m, an embedment whose mesh is small
ONE = np.ones(1)


@cache
def mesh(start: float = 0.02) -> ConeModel:
    """A surface that rises by 20 deg in front of a short upright tube."""
    return build_cone_model(TUBE, placed(embedment=SHORT), ConeShape(start, radians(40), radians(-20)), level=COARSEST)


@cache
def slit(angle_deg: float, kind: str, friction: float = 0.3) -> Slit:
    """A chip from 20 mm at a short tube."""
    given = case(angle_deg, embedment=SHORT)
    given = replace(given, assumed=replace(given.assumed, chip_friction=friction))
    seen = radians(angle_deg) * (-1 if kind == IN_BACK else 1)
    return chip_slit(given, hole_rings(TUBE, given.placement), chip_shapes(seen, 0.02)[0], kind)


def plane(rise: float, friction: float) -> Piece:
    """A piece on a plane that rises in front of an upright tube from 40 mm down [rad]."""
    x = np.linspace(0.0, 0.2, 21)
    points = np.stack([x, np.zeros(21), x * np.tan(rise) - 0.04])
    normals = np.tile(np.array([[-np.sin(rise)], [0.0], [np.cos(rise)]]), 21)
    return Piece(mesh(), 1, 0.0, points, normals, friction)


@pytest.mark.parametrize("friction", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("rise_deg", [10.0, 30.0, 50.0])
def test_a_piece_on_a_plane_slides_up_to_a_right_angle_less_friction(friction: float, rise_deg: float) -> None:
    """Rise plus depression of the thrust, half a degree to either side of 90 deg - atan(mu)."""
    piece, limit = plane(radians(rise_deg), friction), pi / 2 - atan(friction) - radians(rise_deg)
    leans = limit + np.radians([-0.5, 0.5])
    assert [bool(bears(piece, 0.03 * ONE, lean * ONE, ONE)[0]) for lean in leans] == [False, True]


def test_a_thrust_that_meets_no_face_tips_the_piece() -> None:
    """Steep enough to jam, but passing below the plane's upper end: no force balances it there."""
    piece = plane(radians(50.0), 0.6)
    low = replace(piece, points=piece.points[:, :3], normals=piece.normals[:, :3])  # the lowest 20 mm along x
    lean = radians(30.0) * ONE
    assert bears(piece, 0.0 * ONE, lean, ONE)[0] and not bears(low, 0.0 * ONE, lean, ONE)[0]


def test_a_chip_jams_as_the_plane_of_its_foremost_line() -> None:
    """Sides of a bowl pushed up its front come free; at friction 0.3, between 52 and 55 deg for a rise of 20."""
    piece = loose_piece(mesh(), placed(embedment=SHORT), 1, 0.3)
    assert [bool(bears(piece, 0.004 * ONE, radians(lean) * ONE, ONE)[0]) for lean in (52.0, 55.0)] == [False, True]


def test_a_chip_behind_is_the_chip_in_front_of_the_mirror_image() -> None:
    """Same drive of a push behind at +20 deg as of one in front at -20 deg."""
    rings = hole_rings(TUBE, placed(embedment=SHORT))
    push = {kind: np.where(rings.kind == kind, 100.0 * (rings.node < 3), 0.0) for kind in (FRONT, BACK)}
    front, behind = Chip(slit(-20.0, IN_FRONT)), Chip(slit(20.0, IN_BACK))
    for fan in front.slit.fans:
        assert behind.drive(push[BACK], fan) == pytest.approx(front.drive(push[FRONT], fan), rel=1e-6)
        assert front.drive(push[FRONT], fan) > 1.5 * front.drive(push[BACK], fan) > 0


def test_what_drives_a_chip_sideways_is_the_work_that_its_softening_does() -> None:
    """Without friction, all modes: W = f dF f / 4, in steps to the side as in steps outwards."""
    chip = Chip(replace(slit(-20.0, IN_FRONT, 0.0), sliding_ratio=1.0))
    rings = hole_rings(TUBE, placed(embedment=SHORT))
    f = np.where(rings.kind == FRONT, 100.0 * (rings.node < 3), 0.0)
    chip.ring, chip.fan = 5, float(chip.slit.cone.edges[2])
    for ring, fan in list(chip.ways_on()):
        before, drive = 0.25 * f @ chip.softening(f) @ f, chip.drive_to(f, ring, fan)
        then = Chip(chip.slit, ring, fan)
        sectors = {at: int(np.argmin(np.abs(chip.slit.cone.edges - at))) for at in (fan, chip.fan)}
        area = chip.slit.cone.area
        dA = area[:ring, : sectors[fan]].sum() - area[: chip.ring, : sectors[chip.fan]].sum()
        gained = 0.25 * f @ then.softening(f) @ f - before
        assert drive * chip.slit.fracture_energy * dA == pytest.approx(gained, rel=1e-3)


def test_ice_that_is_lost_has_the_size_of_the_piece() -> None:
    """Its elements of another mesh against the bowl itself, in volume: within a third, for elements are coarse."""
    piece, other = loose_piece(mesh(), placed(embedment=SHORT), 1, 0.3), mesh(0.04)
    half = other.half

    def volume(cone: ConeModel, elements: np.ndarray) -> float:
        mapping = cone.half.mesh.mapping()
        return float(mapping.detDF(np.full((3, 1), 0.5), tind=elements).sum())

    own = mesh().half.beside[mesh().half.under + 1 :, : mesh().rings.size].ravel()
    lost = lost_elements(piece, other, 1)
    assert volume(other, lost) == pytest.approx(volume(mesh(), own), rel=0.33)
    assert np.isin(lost, half.regions["ice"]).all()


def test_ice_that_nothing_holds_goes_with_what_is_gone() -> None:
    """Of a column of elements above the slit cut off all round the inner part stays only while the slit is closed."""
    cone = mesh()
    half = cone.half
    ring = half.beside[half.under + 1 :, 3].ravel()
    assert np.array_equal(hanging(cone, ring), np.sort(ring))  # the slit below is bonded
    deep = half.beside[half.under, 3].ravel()
    inner = half.beside[half.under :, :3].ravel()
    below = half.beside[half.under - 1, :3].ravel()
    assert np.isin(inner, hanging(cone, np.r_[ring, deep, below])).all()
    assert rim_elements(cone).size == half.beside[half.under + 1 :].shape[0] * half.beside.shape[2]


@pytest.mark.slow
def test_rings_before_a_loose_piece_bear_only_while_it_jams() -> None:
    """Upright they bear nothing, threads there hold nothing; with the tube turned by 56 deg the mouth bears."""
    given = case(embedment=SHORT)
    rings = hole_rings(TUBE, given.placement)
    cone = make_slit(given, rings, "cone", ConeShape(SHORT, radians(35)))
    tube, ice = RingTube(given, rings), LeftIce(given, rings, [slit(0.0, IN_FRONT), cone])
    chip = ice.cracks[0]
    assert isinstance(chip, Chip)
    chip.ring, chip.fan = chip.slit.cone.rings.size, pi
    ice.come_through(chip)
    assert chip.loose
    ice.come_loose(chip)
    state = tube.unloaded()
    turned = replace(state, q=state.q + np.array([0.0, 0.0, radians(56.0)]))
    above = tube.depth < 0.02 - 1e-9
    front, threads = (tube.kind == FRONT) & above, (tube.kind == THREADS) & above
    (upright, idle), (leaning, none) = ice.limits(tube, state), ice.limits(tube, turned)
    assert idle == ice.pieces and not none
    mouth = front & (tube.depth < 1e-9)
    assert np.all(upright[front] == 0) and leaning[mouth] == tube.high[mouth] > 0
    assert threads.any() and np.all(upright[threads] == 0) and np.all(leaning[threads] == 0)
    ice.lose(tube, idle)
    assert ice.slid == ice.pieces
    softer = np.diag(ice.flexibility(np.zeros(len(rings.kind)))) / ice.whole
    below = ((tube.kind == FRONT) & (tube.depth > 0.025))[:-1]
    assert np.all(softer[ice.lost] == 1) and np.all(softer[below] > 1) and softer[below].max() < 2
