"""Where the strain of a tube's wall stops the counting: against the published formulas, drawn, pressed and bent."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from samples import STEEL, TUBE

from icecone.fem.tube.cross_section import HollowSection, hollow_section
from icecone.fem.tube.strain_limit import buckling_strain
from icecone.materials import Metal, assumptions, default_assumed


def tube(metal: Metal = STEEL, **assumed: float) -> HollowSection:
    """The sample's section."""
    return hollow_section(TUBE.radius, TUBE.bore, metal, assumed=replace(default_assumed(), **assumed))


def published(ratio: float) -> dict[str, float]:
    """Critical strain of a tube of D / t: each formula on its own (sources in `strain_limit`)."""
    slender = 1 / ratio
    return {
        "Murphey & Langner": 0.5 * slender,
        "API RP 1111": slender / 2,
        "Gresnigt": 0.5 * slender - 0.0025,
        "DNV": 0.78 * (slender - 0.01),
        "Sherman": 16 * slender**2,
        "Reddy, low": 0.2 / (0.5 * (ratio - 1)),
        "Reddy, high": 0.4 / (0.5 * (ratio - 1)),
    }


def test_the_strain_is_that_of_murphey_and_langner() -> None:
    """17 by 1.5 mm: D / t = 11.33, 4.41 %."""
    assert buckling_strain(0.017, 0.0015) == pytest.approx(published(17 / 1.5)["Murphey & Langner"], rel=1e-12)
    assert buckling_strain(0.017, 0.0015) == pytest.approx(0.0441, abs=5e-5)


def test_the_range_holds_every_published_formula_at_the_sample() -> None:
    """low to high of the factor, over 0.5 t / D, and no wider than 5 % at either end."""
    factor = assumptions()["buckling_factor"].number
    over = sorted(strain / buckling_strain(0.017, 0.0015) for strain in published(17 / 1.5).values())
    assert factor.low <= over[0] < 1.05 * factor.low and factor.high / 1.05 < over[-1] <= factor.high
    assert factor.value == 1.0


def test_the_two_limits_are_those_of_metal_and_wall() -> None:
    """Of metal: the elongation times its share. Of wall and diameter: 0.5 t / D times its factor."""
    thin = tube().limit
    assert (thin.elongation, thin.buckling) == pytest.approx((STEEL.strain_limit, 0.5 * 1.5 / 17), rel=1e-12)
    both = tube(buckling_factor=2.0, strain_limit_share=0.4).limit
    assert (both.elongation, both.buckling) == pytest.approx((0.4 * STEEL.strain_limit, 2 * thin.buckling))


def test_a_drawn_tube_does_not_wrinkle() -> None:
    """Drawn straight it has used strain / elongation, pressed strain / buckling strain; bent, of each its own."""
    limit = tube().limit
    used = limit.used(np.array([0.03, -0.03, 0.0, 0.01]), np.array([0.0, 0.0, -2.0, 2.0]))
    bent = 2.0 * TUBE.radius
    drawn = [0.03 / 0.18, 0.03 / 0.18, bent / 0.18, (0.01 + bent) / 0.18]
    pressed = [-0.03 / limit.buckling, 0.03 / limit.buckling, bent / limit.buckling, (bent - 0.01) / limit.buckling]
    assert used == pytest.approx(np.array([drawn, pressed]), rel=1e-12)
