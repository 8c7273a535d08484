"""The second route: loads of the rings, beam and ice in balance, cracks that open where they are driven, the end."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import cos, pi, radians, sin

import numpy as np
import pytest
from samples import COARSEST, FLUSH, TUBE, case, placed

from icecone.fem.chip.growth import chip_shapes
from icecone.fem.cracks.friction import jumps_per_load, solve_faces
from icecone.fem.cracks.slit import Crack, Slit, make_slit
from icecone.fem.cracks.wall_loads import BACK, FRONT, THREADS, hole_rings, ring_loads
from icecone.geometry.slit_half_model import ConeShape, build_cone_model
from icecone.validation.discrete_cracks.chip_slits import chip_slit, chip_slits
from icecone.validation.discrete_cracks.pull import CrackPull, crack_pull
from icecone.validation.discrete_cracks.ring_tube import RingState, RingTube, balance_rings, bounded_loads

SHORT = 0.05  # m, an embedment whose mesh is small


@cache
def cone(elevation_deg: float = 35.0, embedment: float = FLUSH) -> Slit:
    """A cone from the tip of an upright tube."""
    given = case(embedment=embedment)
    return make_slit(given, hole_rings(TUBE, given.placement), "cone", ConeShape(embedment, radians(elevation_deg)))


@cache
def chip(angle_deg: float) -> tuple[Slit, ...]:
    """Chips from 20 mm."""
    given = case(angle_deg)
    return tuple(chip_slits(given, hole_rings(TUBE, given.placement), [0.02], []))


@cache
def leaning_cone(angle_deg: float) -> Slit:
    """A cone from the tip of a tube that leans."""
    given = case(angle_deg)
    return make_slit(given, hole_rings(TUBE, given.placement), "cone", ConeShape(FLUSH, radians(35)))


@cache
def short_chip() -> Slit:
    """One from 20 mm on a short tube that leans away."""
    given = case(-20.0, embedment=SHORT)
    return chip_slit(given, hole_rings(TUBE, given.placement), chip_shapes(radians(-20), 0.02)[0])


def even(kind: int, embedment: float = FLUSH) -> np.ndarray:
    """Ring loads of 1 kN in all, spread evenly over the wall that a kind loads."""
    rings = hole_rings(TUBE, placed(embedment=embedment))
    width = np.where(rings.kind == kind, rings.width, 0.0)
    return 1e3 * width / width.sum()


def test_the_rings_push_with_what_they_say() -> None:
    """Each load's resultant on the half model: half a newton along its direction; widths add up to the wall's."""
    angle, placement = radians(-20), placed(-20.0)
    rings = hole_rings(TUBE, placement)
    half = build_cone_model(TUBE, placement, ConeShape(0.02, radians(35)), level=COARSEST).half
    front, axis = np.array([cos(angle), 0.0, -sin(angle)]), np.array([sin(angle), 0.0, cos(angle)])
    for column, kind in zip(ring_loads(half, TUBE, placement, rings).T, rings.kind, strict=True):
        along = {FRONT: front, BACK: -front, THREADS: axis}[int(kind)]
        assert column.reshape(-1, 3).sum(axis=0) @ along == pytest.approx(0.5, rel=1e-9)
    for kind, wall in ((FRONT, FLUSH), (BACK, FLUSH), (THREADS, TUBE.thread_length)):
        assert rings.width[rings.kind == kind].sum() == pytest.approx(wall, rel=1e-6)


@pytest.mark.slow
def test_meshes_slit_elsewhere_feel_the_same_loads_alike() -> None:
    """Flexibility without a crack of two cones' meshes, of the whole push in front and of the threads' pull: 2 %."""
    for kind in (FRONT, THREADS):
        steep, flat = (even(kind) @ slit.C @ even(kind) for slit in (cone(45.0), cone(35.0)))
        assert steep == pytest.approx(flat, rel=0.02)
    assert np.linalg.eigvalsh(cone().C).min() > 1e-3 * np.diag(cone().C).min()  # no load that the mesh cannot tell


def test_jumps_per_load_give_the_jumps_of_the_load_they_are_for() -> None:
    """V f = v, with friction, and near by as long as no face changes its state."""
    slit = short_chip()
    pairs = slit.cone.opened(slit.cone.rings.size - 2, slit.fans[1])
    at = np.repeat(pairs, 3)
    S, c, f = slit.S[np.ix_(at, at)], slit.c[at], even(FRONT, SHORT)
    faces = solve_faces(S, c @ f, slit.friction)
    V = jumps_per_load(S, c, faces, slit.friction)
    size = np.abs(faces.jump).max()
    assert np.abs(V @ f - faces.jump.ravel()).max() < 1e-7 * size
    near = f * (1 + 1e-6 * np.arange(f.size))
    assert (
        np.abs(V @ near - solve_faces(S, c @ near, slit.friction).jump.ravel()).max()
        < 1e-4 * np.abs(V @ near - V @ f).max() + 1e-9 * size
    )


def test_what_drives_a_crack_is_the_work_that_its_softening_does() -> None:
    """Without friction, all modes: W = f dF f / 4, the half of what the loads f do on half their motion (Clapeyron)."""
    slit, f = replace(cone(embedment=SHORT), sliding_ratio=1.0), 12.0 * even(THREADS, SHORT)
    crack, before = Crack(slit), 0.0
    for _ in range(4):
        drive, ring = crack.drive(f, pi), crack.ring
        crack.ring = crack.next_ring
        added = 0.25 * f @ crack.softening(f) @ f
        area = slit.cone.area[ring : crack.ring].sum()
        assert drive * slit.fracture_energy * area == pytest.approx(added - before, rel=1e-3)
        before = added


def test_bounded_loads_are_at_a_limit_only_where_the_wall_pushes_them_there() -> None:
    """Conditions of complementarity for a matrix with an odd part, of eigenvalues over six orders."""
    rng = np.random.default_rng(1)
    U = np.linalg.qr(rng.normal(size=(30, 30)))[0]
    odd = rng.normal(size=(30, 30))
    H = U @ np.diag(np.logspace(-6, 0, 30)) @ U.T + 1e-8 * (odd - odd.T)
    low, high = np.zeros(30), rng.uniform(0.5, 2.0, 30)
    high[:3] = 0.0
    h = H @ rng.uniform(-1.0, 3.0, 30)
    f = bounded_loads(H, h, np.zeros(30), low, high)
    rest = h - H @ f
    assert np.all((f >= low) & (f <= high)) and np.all(f[:3] == 0)
    inside = (f > low) & (f < high)
    assert inside.sum() > 3 and np.abs(rest[inside]).max() < 1e-9
    assert np.all(rest[(f >= high) & (high > 0)] > -1e-9) and np.all(rest[(f <= low) & (high > 0)] < 1e-9)


def test_rings_that_move_alike_share_a_load() -> None:
    """H is singular where two rings do the same: any split of the load is one, their sum is known."""
    H, h = np.array([[2.0, 2.0, 0.0], [2.0, 2.0, 0.0], [0.0, 0.0, 1.0]]), np.array([3.0, 3.0, 0.5])
    f = bounded_loads(H, h, np.zeros(3), np.full(3, -9.0), np.full(3, 9.0))
    assert f[0] + f[1] == pytest.approx(1.5, rel=1e-6) and f[2] == pytest.approx(0.5, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("direction_deg", [0.0, 90.0])
def test_tube_and_rings_balance(direction_deg: float) -> None:
    """The rings' resultant is the pull; while nothing cracks or crushes, twice the travel is twice the load."""
    given = case(0.0, direction_deg, SHORT)
    tube, F = RingTube(given, hole_rings(TUBE, given.placement)), 2 * cone(embedment=SHORT).C
    whole, old = tube.flexibility(F), tube.unloaded()
    found: list[RingState] = []
    for travel in (1e-6, 2e-6):
        new = balance_rings(tube, whole, old, travel, tube.high, old)
        assert new is not None
        across, along = ((tube.sign * new.f)[tube.across == side].sum() for side in (True, False))
        pull = given.pull.unit[[0, 2]]
        assert (across, along) == pytest.approx(tuple(new.load * pull), abs=1e-3 * new.load)
        assert tube.travel(new) == pytest.approx(travel)
        found.append(new)
    assert found[1].load == pytest.approx(2 * found[0].load, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("embedment", "sharp"), [(0.13, 14.3e3), (0.065, 5.0e3)])
def test_a_straight_pull_draws_the_cone_of_revolution(embedment: float, sharp: float) -> None:
    """The least over three straight cones against the cone that finds its path (`cone`); then nothing is left."""
    given = case(direction_deg=90.0, embedment=embedment)
    pulls = [crack_pull(given, [cone(elevation, embedment)], 1e-3) for elevation in (25.0, 35.0, 45.0)]
    least = min(pulls, key=lambda pull: pull.peak)
    assert least.peak == pytest.approx(sharp, rel=0.1) and least.mode == "cone" and least.hinge is None
    assert least.load[-1] < 1e-3 * least.peak


def pulled(angle_deg: float, **assumed: float) -> CrackPull:
    """Along the surface, with chips from 20 mm, for 0.6 mm, in ice that is not crushed before."""
    given = case(angle_deg)
    given = replace(given, assumed=replace(given.assumed, crushing_share=2.0, **assumed))
    return crack_pull(given, [*chip(angle_deg), leaning_cone(angle_deg)], 6e-4)


@pytest.mark.slow
@pytest.mark.parametrize("angle_deg", [-20.0, 0.0])
def test_a_chip_that_slides_out_takes_the_wall_with_it(angle_deg: float) -> None:
    """The load falls as it goes, leaning away and upright alike; no rule of the first route is asked."""
    pull = pulled(angle_deg)
    words = [event[2] for event in pull.events]
    assert [w.split("mm ")[1][:6] for w in words] == ["starts", "throug", "loose", "slides"]
    out = pull.events[-1][0]
    then = pull.load[np.abs(pull.displacement - out) < 1e-9]
    assert then[-1] < 0.7 * pull.events[0][1] and np.all(np.diff(then) < 0)
    assert pull.gone == ((out, 0.02, 1),)
    other = pulled(angle_deg, chip_border_shift=radians(-30.0))
    assert np.array_equal(other.load, pull.load)


def test_a_case_without_a_slit_between_is_told() -> None:
    """A chip deeper than the tube is refused by name."""
    given = case(embedment=SHORT)
    with pytest.raises(ValueError, match=r"cone\.start"):
        chip_slit(given, hole_rings(TUBE, given.placement), ConeShape(0.08, 0.6))
