"""From the tables to ice and metal: numbers by hand in SI units, surfaces, spreads, lengths."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from icecone.materials import default_assumed, ice_named, metal_named
from icecone.materials.data_file import read_values
from icecone.materials.draws import correlations, draw_ices, spreads_of
from icecone.materials.metal import Metal
from icecone.materials.strength import tensile_of_grain_size


def test_laws_reach_the_ice_in_si():
    """By hand: 120 kPa m^0.5 in 100 instead of 10 s is times 10^0.0886; compression times 10^-0.2326; tension 0.7."""
    slow, wet = ice_named("sound_glacier", -10.0, 100.0), ice_named("sound_glacier", 0.0)
    assert slow.toughness == pytest.approx(120e3 * 10**0.0886, rel=1e-12)
    assert slow.compressive_strength == pytest.approx(6e6 * 10**-0.2326, rel=1e-12)
    fast = ice_named("sound_glacier", -10.0, 0.02)
    assert fast.compressive_strength == pytest.approx(6e6 * 5**0.2326, rel=1e-12)  # level below 2 s
    assert wet.tensile_strength == pytest.approx(0.7 * 1.2e6, rel=1e-12)
    assert ice_named("sound_glacier", -1.5).tensile_strength == pytest.approx(0.85 * 1.2e6, rel=1e-12)
    assert tensile_of_grain_size(3e-3) == pytest.approx(1.0677e6, rel=1e-4)
    assert tensile_of_grain_size(1e-3) == pytest.approx(0.052e6 / 1e-3**0.5, rel=1e-12)


def test_a_lone_modulus_keeps_the_other():
    plain = ice_named("bubbly_glacier", -5.0)
    E = ice_named("bubbly_glacier", -5.0, overrides={"E_GPa": 5.0}).elastic
    nu = ice_named("bubbly_glacier", -5.0, overrides={"nu": 0.2}).elastic
    assert (E.youngs_modulus, E.poissons_ratio) == pytest.approx((5e9, plain.elastic.poissons_ratio), rel=1e-12)
    assert (nu.youngs_modulus, nu.poissons_ratio) == pytest.approx((plain.elastic.youngs_modulus, 0.2), rel=1e-12)
    with pytest.raises(ValueError, match=r"^nu = 0\.2: must be left out where the fabric is columnar_S2"):
        ice_named("dense_waterfall", -5.0, overrides={"nu": 0.2})


def test_the_surface_has_the_ices_own_numbers_and_values_their_origin():
    ice = ice_named("bubbly_glacier", -10.0, criterion="parabolic")
    s = ice.surface
    assert (s.tensile_strength, s.compressive_strength, s.pressure_slope, s.peak_pressure) == pytest.approx(
        (1e6, 5e6, 1.2, 16e6)
    )
    m = replace(ice, criterion="mohr_coulomb").surface
    assert (m.confinement_slope, m.deviator_cap) == pytest.approx((3.0, 12.5e6))
    assert set(ice.values) == set(read_values("ices.toml", "bubbly_glacier").values())
    stronger = ice.with_strengths(2e6, 1e5, 10e6)
    assert (stronger.deviator_cap, stronger.peak_pressure) == pytest.approx((25e6, 32e6))


def test_spreads_are_about_the_ices_own_values_with_the_stated_laws():
    ice = ice_named("dense_waterfall", -10.0, columns=(0.0, 1.0, 0.0))
    found = {k: (s.distribution, s.mean, s.cov) for k, s in spreads_of(ice).items()}
    assert found == {
        "tensile": ("weibull", pytest.approx(1e6), 0.23),
        "toughness": ("weibull", pytest.approx(105e3), 0.2),
        "compressive": ("lognormal", pytest.approx(7.5e6), 0.25),
        "stiffness": ("lognormal", 1.0, 0.05),
    }
    assert correlations()["tensile", "toughness"] == 0.5 and correlations()["compressive", "stiffness"] == 0.3
    assert all(d.elastic.axis == (0.0, 1.0, 0.0) for d in draw_ices(ice, 3, np.random.default_rng(1)))


def test_a_metal_has_the_numbers_of_its_table():
    t = metal_named("titanium_alloy")
    assert (t.youngs_modulus, t.poissons_ratio, t.yield_strength, t.ultimate_strength, t.density) == pytest.approx(
        (114e9, 0.33, 830e6, 900e6, 4430.0)
    )
    assert (t.uniform_strain, t.strain_limit) == (0.08, 0.15) and t.hardening_modulus == pytest.approx(
        70e6 / 0.08
    )  # from yield to ultimate
    assert set(t.values) == set(read_values("metals.toml", "titanium_alloy").values())
    with pytest.raises(ValueError, match="yield_MPa = 900: must be at most ultimate_MPa = 800"):
        Metal("x", 1e9, 0.3, 9e8, 8e8, 1.0, 0.1, 0.2)
    for uniform in (0.0, 0.3):
        with pytest.raises(ValueError, match=f"uniform_strain = {uniform:g}: must be above 0 and at most break_strain"):
            Metal("x", 1e9, 0.3, 8e8, 9e8, 1.0, uniform, 0.2)


def test_no_loading_time_cuts_the_tensile_strength() -> None:
    """Slow loading weakens compression; a bar in tension still fails at its tensile strength."""
    for time in (10.0, 100.0, 1000.0, 3600.0):
        ice = ice_named("sound_glacier", -5.0, time)
        assert np.min(ice.surface.load_factors([0.0, 0.0, 1e6])) == pytest.approx(ice.tensile_strength / 1e6)
    weak = ice_named("sound_glacier", -5.0).with_strengths(2e6, 1e5, 4e6)
    assert np.min(weak.surface.load_factors([0.0, 0.0, 1e6])) == pytest.approx(2.0)


def test_the_length_of_shear_is_that_of_the_cohesion() -> None:
    """Sound ice at -10 deg C in 10 s: c = 6 / (2 sqrt 3) MPa, (1.3 * 0.12 / c)^2 / pi = 2.582 mm."""
    found = ice_named("sound_glacier", -10.0).shear_distance(default_assumed().sliding_ratio)
    assert found == pytest.approx((1.3 * 0.12 / (3 / 3**0.5)) ** 2 / pi)
    assert found == pytest.approx(2.582e-3, rel=1e-3)
