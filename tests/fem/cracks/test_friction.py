"""Faces with friction: sliders by hand, the conditions themselves on any system, limits of no and of much friction."""

from __future__ import annotations

from math import cos, hypot, sin, tan

import numpy as np
import pytest

from icecone.fem.cracks import friction as frictionfaces
from icecone.fem.cracks.friction import solve_faces
from icecone.fem.cracks.slit_faces import release
from icecone.fem.errors import SolveError

Array = np.ndarray


def system(pairs: int, seed: int, pressed: float = 1.0) -> tuple[Array, Array]:
    """A random elastic body and loads that press most of its pairs together."""
    rng = np.random.default_rng(seed)
    B = rng.normal(size=(3 * pairs, 3 * pairs))
    c = rng.normal(size=3 * pairs)
    c[::3] -= pressed
    return B @ B.T / (3 * pairs) + 0.3 * np.eye(3 * pairs), c


@pytest.mark.parametrize("friction", [0.0, 0.3, 0.6])
@pytest.mark.parametrize(("pressing", "shear"), [(100.0, (10.0, 0.0)), (100.0, (30.0, 40.0)), (-5.0, (1.0, 2.0))])
def test_a_slider_on_springs(friction: float, pressing: float, shear: tuple[float, float]) -> None:
    """One pair on springs (k_n, k_t, k_t): stuck below mu N, else (T - mu N) / k_t along it; apart: no friction."""
    k_n, k_t = 2e5, 5e4
    found = solve_faces(np.diag([k_n, k_t, k_t]), np.array([-pressing, *shear]), friction)
    T, N = hypot(*shear), max(pressing, 0.0)
    slip = max(T - friction * N, 0.0) / k_t
    assert found.jump[0] == pytest.approx([max(-pressing, 0.0) / k_n, *(slip * s / T for s in shear)], abs=1e-15)
    assert hypot(*found.force[0, 1:]) == pytest.approx(min(T, friction * N), abs=1e-9)
    assert found.force[0, 0] == pytest.approx(N, abs=1e-9)
    assert bool(found.apart[0]) == (pressing < 0) and bool(found.sliding[0]) == (pressing > 0 and slip > 0)


@pytest.mark.parametrize("slope", [0.2, 0.6])
@pytest.mark.parametrize("friction", [0.0, 0.3])
def test_a_block_on_a_wedge_slides_where_its_slope_exceeds_the_friction(slope: float, friction: float) -> None:
    """A weight W on a plane of the slope b held by a spring k along it: slip W (sin b - mu cos b) / k, or none.

    The slip begins where tan b = mu (Coulomb). The pair's frame is turned: jumps are along the plane's own axes.
    """
    weight, spring = 1000.0, 1e6
    Q = np.array([[cos(slope), 0, -sin(slope)], [0, 1, 0], [sin(slope), 0, cos(slope)]])
    world = np.diag([spring] * 3)
    found = solve_faces(Q @ world @ Q.T, Q @ np.array([-weight, 0.0, 0.0]), friction)
    expected = max(sin(slope) - friction * cos(slope), 0.0) * weight / spring
    assert abs(found.jump[0, 2]) == pytest.approx(expected, abs=1e-15)
    assert bool(found.sliding[0]) == (tan(slope) > friction)
    assert found.force[0, 0] == pytest.approx(weight * cos(slope))
    assert abs(found.force[0, 2]) == pytest.approx(min(friction, tan(slope)) * weight * cos(slope), abs=1e-9)


@pytest.mark.parametrize("friction", [0.0, 0.3, 0.5, 1.0])
@pytest.mark.parametrize("seed", range(5))
def test_all_conditions_hold(friction: float, seed: int) -> None:
    """Written out pair by pair, not as the solver has them: balance, no crossing, no pull, cone, sliding direction."""
    S, c = system(12, seed, 1.5)
    found = solve_faces(S, c, friction)
    d, force = found.jump, found.force
    small = 1e-6
    assert S @ d.ravel() - c == pytest.approx(force.ravel(), abs=small)
    assert d[:, 0].min() > -small and force[:, 0].min() > -small and np.abs(d[:, 0] * force[:, 0]).max() < small
    size, slip = np.linalg.norm(force[:, 1:], axis=1), np.linalg.norm(d[:, 1:], axis=1)
    assert np.all(size <= friction * force[:, 0] + small)
    moving = slip > 1e-4
    work = -(force[:, 1:] * d[:, 1:]).sum(axis=1)
    assert work[moving] == pytest.approx((friction * force[:, 0] * slip)[moving], abs=small)
    assert not np.any(found.apart & found.sliding) and np.any(~found.apart)
    assert np.all(slip[~found.apart & ~found.sliding] < 1e-12)


def test_without_friction_it_is_the_release_of_a_frictionless_crack() -> None:
    """The other solver of the project, a quadratic programme, gives the same jumps."""
    S, c = system(15, 7)
    v, closed = release(S, c, np.arange(0, 45, 3), np.setdiff1d(np.arange(45), np.arange(0, 45, 3)))
    found = solve_faces(S, c, 0.0)
    assert found.jump.ravel() == pytest.approx(v, abs=1e-8)
    assert np.array_equal(found.apart, ~closed) and 0 < closed.sum() < 15


def test_much_friction_glues_what_is_pressed() -> None:
    """All pairs pressed and mu large: nothing moves, the forces are the load's."""
    S, c = system(10, 3, 12.0)
    found = solve_faces(S, c, 5.0)
    assert np.all(found.jump == 0) and found.force.ravel() == pytest.approx(-c)


def test_the_answer_is_proportional_to_the_load() -> None:
    S, c = system(12, 4)
    one, other = solve_faces(S, c, 0.4), solve_faces(S, 1e5 * c, 0.4)
    assert other.jump == pytest.approx(1e5 * one.jump, rel=1e-7, abs=1e-7 * 1e5)
    assert np.array_equal(one.sliding, other.sliding) and one.sliding.any()


def test_every_start_ends_at_the_same_jumps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stuck faces, crossing faces and forces renewed pair by pair: three starts, one answer at a small friction."""
    S, c = system(12, 5)
    expected = solve_faces(S, c, 0.3).jump
    for start in ("crossing", "stuck"):
        with monkeypatch.context() as patch:
            patch.setattr(frictionfaces, start, frictionfaces.swept)
            assert solve_faces(S, c, 0.3).jump == pytest.approx(expected, abs=1e-7)
    assert frictionfaces.swept(S, c, 0.3) == pytest.approx(expected, abs=1e-4)


def test_what_cannot_be_solved_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    S, c = system(4, 1)
    with pytest.raises(ValueError, match=r"friction = -0\.1"):
        solve_faces(S, c, -0.1)
    monkeypatch.setattr(frictionfaces, "STEPS", 0)
    with pytest.raises(SolveError, match="no start settled"):
        solve_faces(S, c, 0.3)
