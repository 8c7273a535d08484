"""A disc pushed through ice, with a gap behind it."""

from __future__ import annotations

import pytest

from icecone.fem.crushing.disc import ROUGH, SMOOTH, crushing_factor, disc_bounds, endless_factor
from icecone.fem.crushing.plane_strength import mohr_coulomb, tresca
from icecone.fem.crushing.section import Face

ICE = {
    "confinement_slope": 3.0,
    "cap_over_compressive": 2.5,
    "tensile_over_compressive": 0.2,
    "face_friction": 0.0,
    "reach_radii": 5.0,
}


@pytest.mark.parametrize(("adhesion", "exact"), [(0.0, SMOOTH), (1.0, ROUGH)])
def test_bounds_close_in_on_a_disc_in_tresca_material(adhesion: float, exact: float) -> None:
    """No gap: the exact numbers lie between the bounds, which close in; stresses of rough faces only at rate 1/2."""
    gaps = []
    for sectors in (6, 12):
        face, strength = Face(adhesion=adhesion, opens=False), tresca(1.0)
        low, high = (2 * bound.force for bound in disc_bounds(sectors, face, strength, strength, 6.0, True))
        assert low < exact < high
        gaps.append(high - low)
    assert gaps[1] < gaps[0] / 2 ** (0.4 if adhesion else 0.9)


def test_in_endless_ice_the_cap_alone_counts() -> None:
    """Shut in, ice bears the cap as shear strength whatever its slope; the gap behind costs nothing."""
    strength = mohr_coulomb(3.0, 2.5, 0.2)
    low, high = (2 * bound.force for bound in disc_bounds(8, Face(), strength, strength, 400.0, True))
    assert low < endless_factor(2.5, rough=False) < high
    assert high - low < 0.16 * high


def test_factors_rise_with_what_holds_the_ice() -> None:
    """Reach, friction, cap and slope each raise both bounds."""
    base = crushing_factor(ICE)
    assert base["factor_low"] < base["factor"] < base["factor_high"] and base["error"] < 0.04
    rising = {"reach_radii": 7.0, "face_friction": 0.3, "cap_over_compressive": 4.0, "confinement_slope": 4.0}
    for name, value in rising.items():
        other = crushing_factor({**ICE, name: value})
        assert other["factor_low"] > base["factor_low"] and other["factor_high"] > base["factor_high"], name


def test_ice_that_is_all_bars_bears_what_they_do() -> None:
    """Bars along rays over the front half at sigma_c, behind it at sigma_t: less than R (sigma_c + sigma_t)."""
    assert crushing_factor({**ICE, "reach_radii": 2.0})["factor_high"] < 2.0 * 1.2


@pytest.mark.slow
def test_the_parabola_needs_no_reach() -> None:
    """It closes under pressure, so that ice does not shut itself in without end: at 12 radii as at 40."""
    parabola = {"tensile_over_compressive": 0.2, "pressure_slope": 1.2, "peak_over_compressive": 3.0}
    near, far = (crushing_factor({**parabola, "face_friction": 0.0, "reach_radii": reach}) for reach in (12.0, 40.0))
    assert near["factor_low"] < near["factor_high"] and far["error"] < 0.03
    assert near["factor"] == pytest.approx(far["factor"], rel=0.02)
