"""The lines that plane strain sees of a failure surface."""

from __future__ import annotations

import numpy as np
import pytest

from icecone.fem.crushing.plane_strength import (
    PlaneStrength,
    in_plane,
    mohr_coulomb,
    strength_inputs,
    strengths_of,
    tresca,
)
from icecone.materials.surface import MohrCoulomb, Parabolic, Surface

MC = MohrCoulomb(tensile_strength=1.2e6, compressive_strength=5e6, confinement_slope=3.0, deviator_cap=12e6)
PARABOLA = Parabolic(tensile_strength=1.2e6, compressive_strength=5e6, pressure_slope=1.2, peak_pressure=16e6)


def largest_radius(surface: Surface, s: float) -> float:
    """Largest Mohr's circle at a mean stress in the plane [Pa], by the surface's own load factors over all z."""
    across = np.linspace(-400e6, 1.2e6, 20001)

    def holds(r: float) -> bool:
        stress = np.sort(np.stack([np.full_like(across, s - r), np.full_like(across, s + r), across], -1), -1)
        return bool((np.minimum(*surface.load_factors(stress)) >= 1).any())

    low, high = 0.0, 100e6
    for _ in range(40):
        low, high = ((low + high) / 2, high) if holds((low + high) / 2) else (low, (low + high) / 2)
    return low


def radius(strength: PlaneStrength, s: float) -> float:
    return float((strength.intercept - strength.slope * s).min())


@pytest.mark.parametrize("s", [0.9e6, 0.0, -2.5e6, -8e6, -30e6])
def test_lines_of_mohr_coulomb_are_the_surface(s: float) -> None:
    """The stress across the plane lies between the others, so three lines are exact."""
    assert radius(in_plane(MC, False), s / 5e6) * 5e6 == pytest.approx(largest_radius(MC, s), rel=1e-3)


@pytest.mark.parametrize("s", [0.9e6, 0.0, -2.5e6, -8e6, -30e6])
def test_the_parabola_lies_between_chords_and_tangents(s: float) -> None:
    """Chords are inside by a few percent, tangents outside."""
    exact = largest_radius(PARABOLA, s)
    inside, outside = (radius(in_plane(PARABOLA, outside), s / 5e6) * 5e6 for outside in (False, True))
    assert inside <= exact * 1.001 and outside >= exact * (1 - 1e-9)
    assert outside - inside < 0.06 * largest_radius(PARABOLA, -16e6)


@pytest.mark.parametrize("outside", [True, False])
def test_without_slope_the_parabola_is_von_mises(outside: bool) -> None:
    """In plane strain a shear strength of sigma_c / sqrt 3 at any pressure, from inside and outside alike."""
    strength = in_plane(Parabolic(1e8, 5e6, 0.0, 5e6), outside)
    for s in (0.0, -1.0, -3.0):
        assert radius(strength, s) == pytest.approx(3**-0.5, rel=1e-6)


def test_a_bar_bears_its_uniaxial_strengths() -> None:
    """sigma_c in compression; in tension the cut-off, sigma_c / k without one."""
    assert mohr_coulomb(3.0, 2.5, 0.2).uniaxial() == pytest.approx((1.0, 0.2))
    assert mohr_coulomb(3.0).uniaxial() == pytest.approx((1.0, 1 / 3))
    assert tresca(0.5).uniaxial() == pytest.approx((1.0, 1.0))


def test_no_strength_is_refused() -> None:
    """A cap of nothing leaves nothing."""
    with pytest.raises(ValueError, match=r"intercept = 0: must be positive"):
        mohr_coulomb(3.0, cap=0.0)


@pytest.mark.parametrize("surface", [MC, PARABOLA])
def test_inputs_of_a_law_make_the_same_lines(surface: MohrCoulomb | Parabolic) -> None:
    """Ratios to sigma_c are all that counts."""
    for outside, strength in zip((False, True), strengths_of(strength_inputs(surface)), strict=True):
        assert np.allclose(strength.intercept, in_plane(surface, outside).intercept)
        assert np.allclose(strength.slope, in_plane(surface, outside).slope)


def test_a_cap_below_the_strength_is_refused() -> None:
    """In one line, with what is allowed."""
    with pytest.raises(ValueError, match=r"deviator_cap = 0\.5 MPa: must be at least 1 MPa"):
        strengths_of({"tensile_over_compressive": 0.2, "confinement_slope": 3.0, "cap_over_compressive": 0.5})
