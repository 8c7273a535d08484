"""A rigid stub pushed sideways: closed forms of the law of the wall on its own."""

from __future__ import annotations

from dataclasses import replace
from math import exp, radians

import numpy as np
import pytest
from samples import FLUSH, chipping_laws, even_laws

from icecone.fem.tube.rigid_wall import crushing_total, faces, push_rigid_wall

REACH = 0.04


def test_without_chips_the_push_rises_as_springs_do_and_ends_at_crushing() -> None:
    """P = k d U up to crushing times d, and no ice goes."""
    laws = even_laws()
    push = push_rigid_wall(laws, 0.0, REACH, 2e-4)
    early = laws.stiffness[0] * REACH * push.motion[1]
    assert push.force[1] == pytest.approx(early, rel=1e-9)
    assert push.force[-1] == pytest.approx(laws.crushing[0] * REACH, rel=1e-9)
    assert crushing_total(laws, 0.0, REACH) == pytest.approx(push.force[-1], rel=1e-9)
    assert push.trench.max() == 0.0


def test_ice_that_stays_bears_on_at_the_load_that_starts_a_chip() -> None:
    """P = K_IC f(d), for good."""
    push = push_rigid_wall(chipping_laws(FLUSH, toughness=0.1e6), 0.0, REACH, 5e-3)  # crushing needs more everywhere
    start = 0.1e6 * 9 * REACH**1.5
    late = push.force[push.motion > 2e-4]
    assert late == pytest.approx(np.full(len(late), start), rel=2e-3)
    assert push.trench.max() == 0.0


def test_ice_that_goes_leaves_a_trench_that_deepens_as_an_exponential() -> None:
    """dt = (d - t) dg / spall from t = 0: t = d (1 - exp(-g / spall)); the next chip needs K_IC f(d - t)."""
    laws = chipping_laws(FLUSH, goes=True, toughness=0.1e6)
    push = push_rigid_wall(laws, 0.0, REACH, 5e-3)
    for motion in (1e-3, 3e-3):
        force, trench = push.at(motion)
        assert trench == pytest.approx(REACH * (1 - exp(-motion / laws.spall)), rel=0.02)
        assert force == pytest.approx(0.1e6 * 9 * (REACH - trench) ** 1.5, rel=0.03)


def test_faces_of_chips_follow_from_floor_and_rise() -> None:
    """No trench: a itself. A trench: a floor that rises by b, the face by b + a. A shifted border moves a."""
    chips = chipping_laws(FLUSH, goes=True).chips
    assert chips is not None
    assert faces(chips, 0.0, REACH, 0.0) == pytest.approx((0.0, radians(30)))
    floor, face = faces(chips, 0.0, REACH, 0.01)
    assert 0 < floor < radians(30)
    assert face == pytest.approx(floor + radians(30))
    graded = replace(chips, rise=np.radians([30.0, -30.0]), shift=0.5)
    assert faces(graded, 0.0, REACH, 0.0)[1] == pytest.approx(radians(15))


@pytest.mark.parametrize(("reach", "furthest"), [(0.0, 1e-3), (0.04, 0.0)])
def test_lengths_must_be_positive(reach: float, furthest: float) -> None:
    with pytest.raises(ValueError, match="must be positive"):
        push_rigid_wall(even_laws(), 0.0, reach, furthest)
