"""Ice over rock: a rigid base in the section of revolution, and what it changes."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from samples import ICE_MODULI, STEEL_MODULI, tube_into

from icecone.fem.cone.straight import column_cone
from icecone.fem.cone.threaded_pull import ConePull, pull_section
from icecone.geometry.threaded_section import build_section, tube_column

DEEP = 0.05  # m, the embedment


def pulled(rock: float, smooth: bool = False) -> ConePull:
    """An uncracked pull of 1 N."""
    column = tube_column(tube_into(DEEP), DEEP, rock, smooth)
    return pull_section(
        build_section(column, 0, np.array([[column.crest], [column.bearing_face(0)]]), 0.0024), ICE_MODULI, STEEL_MODULI
    )


def test_ice_ends_at_the_rock_and_holds_to_it_or_slides() -> None:
    """At the rock u_z = 0; u_r = 0 too where bonded, not where smooth; a scaled column has the scaled rock."""
    for smooth in (False, True):
        found = pulled(0.06, smooth)
        at_rock = found.ice.x[1] < -0.06 + 1e-9
        u_r, u_z = (found.u_ice[dofs[at_rock]] for dofs in found.ice.dofs)
        assert found.ice.x[1].min() == pytest.approx(-0.06) and np.abs(u_z).max() == 0
        assert (np.abs(u_r).max() > 0) == smooth
    column = tube_column(tube_into(DEEP), DEEP, 0.06, True).scaled(2.0)
    assert (column.rock, column.smooth, column.bottom) == (pytest.approx(0.12), True, pytest.approx(-0.12))


def test_rock_stiffens_as_energy_says() -> None:
    """A smaller set of motions is stiffer: bonded below sliding, bonded below deep ice, nearer below farther."""
    deep, far, near, slides = (pulled(*each).compliance for each in ((inf,), (0.1,), (0.0525,), (0.0525, True)))
    assert near < far < deep and near < slides
    assert near > 0.8 * deep  # the threads' own neighbourhood gives way most


def test_rock_above_the_tip_is_told() -> None:
    with pytest.raises(ValueError, match=r"rock \[m\] = 0.05: must be deeper than the tip at 0.05"):
        tube_column(tube_into(DEEP), DEEP, 0.05)


@pytest.mark.slow
@pytest.mark.parametrize("embedment", [0.05, 0.13])
def test_the_cone_hardly_feels_the_rock(embedment: float) -> None:
    """N over N in deep ice: bonded within 6 % at 1.05 times the embedment, 3 % at 1.25; sliding within 2 %."""

    def peak(ratio: float, smooth: bool = False) -> float:
        column = tube_column(tube_into(embedment), embedment, ratio * embedment, smooth)
        return column_cone(column, ICE_MODULI, STEEL_MODULI, 1e6, 1e5, 0.0024, rings=(0,)).growth.peak[0]

    deep = peak(inf)
    assert abs(peak(1.05) / deep - 1) < 0.06 and abs(peak(1.25) / deep - 1) < 0.03
    assert abs(peak(1.05, True) / deep - 1) < 0.02
