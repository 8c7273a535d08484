"""The shapes of a pull: those of the states, with each event's own; the mirror image's mirrored."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest
from samples import FLUSH, STEEL, TUBE, chipping_laws, even_laws, placed

from icecone.fem.tube.pull import TubePull, solve_pull
from icecone.fem.tube.shapes import MOST, chosen
from icecone.geometry.placement import Pull


@pytest.fixture(scope="module")
def shear() -> TubePull:
    """Leaning away from a pull along the surface, chips that go."""
    return solve_pull(TUBE, placed(-20.0), Pull(0.0), chipping_laws(FLUSH, goes=True), STEEL)


def test_every_event_has_its_shape(shear: TubePull) -> None:
    """The nodes of the event are those of the frame at its state; first and last state are there."""
    found = shear.frames.shapes
    assert len(found.step) <= MOST and found.step[0] == 0 and found.step[-1] == len(shear.load) - 1
    assert np.all(np.diff(found.step) > 0) and len(shear.events) > 3
    for event in shear.events:
        off = [np.abs(x - event.x).max() + np.abs(z - event.z).max() for x, z in zip(found.x, found.z, strict=True)]
        k = int(np.argmin(off))
        assert off[k] == 0 and np.array_equal(found.bearing[k], event.bearing), event.name
        assert shear.load[found.step[k]] == event.load


def test_the_unloaded_tube_is_straight_and_whole(shear: TubePull) -> None:
    found, angle = shear.frames.shapes, radians(-20.0)
    assert found.x[0] == pytest.approx(-found.s * np.sin(angle)) and found.z[0] == pytest.approx(
        -found.s * np.cos(angle)
    )
    assert not found.gone[0].any() and not found.yielded[0].any() and not found.cone.any()


def test_ice_is_gone_from_the_mouth_down_and_does_not_come_back(shear: TubePull) -> None:
    """Nodes above the trench's floor carry its depth, those under it none; those above the ice neither."""
    found = shear.frames.shapes
    trench = found.gone.max(axis=1)
    assert trench[-1] > TUBE.radius and np.all(np.diff(trench) >= 0)
    for gone, depth in zip(found.gone, trench, strict=True):
        assert np.array_equal(gone > 0, (found.s >= 0) & (found.s < depth))


def test_a_cone_is_there_from_its_event_on() -> None:
    pulled = solve_pull(TUBE, placed(), Pull(radians(90.0)), even_laws(), STEEL)
    found, (event,) = pulled.frames.shapes, [event for event in pulled.events if event.name == "cone"]
    assert found.cone.any() and not found.cone.all()
    assert pulled.load[found.step[found.cone][0]] == event.load


def test_the_mirror_image_is_mirrored() -> None:
    """Leaning by +-15 deg and pulled straight out: x and bearing change sign, nothing else does."""
    left, right = (
        solve_pull(TUBE, placed(angle), Pull(radians(90.0)), chipping_laws(FLUSH, goes=True), STEEL).frames.shapes
        for angle in (-15.0, 15.0)
    )
    assert np.array_equal(left.x, -right.x) and np.array_equal(left.bearing, -right.bearing)
    assert np.array_equal(left.z, right.z) and np.array_equal(left.gone, right.gone)


@pytest.mark.parametrize("n", [1, 2, 79, 81, 3000])
def test_states_are_chosen_along_the_curve(n: int) -> None:
    """Of a rise within a hundredth of the movement a third is kept or more; what must be there is."""
    displacement = np.linspace(0.0, 1.0, n)
    load = np.minimum(displacement / 0.01, 1.0)
    must = sorted({0, n // 3, n // 2})
    found = chosen(load, displacement, must)
    assert len(found) <= MOST and set(must) <= set(found.tolist()) and found[-1] == n - 1 and found[0] == 0
    if n == 3000:
        assert (displacement[found] <= 0.01).sum() >= MOST // 3
