"""From the tables to the onset: numbers that reach the ice, its surface, its draws, its page and the criterion."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from icecone.fem.onset.criterion import criterion_index, find_onset, hole_lines
from icecone.fem.solid.stress import StressField
from icecone.geometry import Placement, Resolution, Tube, build_half_model
from icecone.materials import ice_named, metal_named
from icecone.materials.data_file import read_values
from icecone.materials.draws import correlations, draw_ices, spreads_of
from icecone.materials.metal import Metal
from icecone.materials.strength import tensile_of_grain_size
from icecone.studies.case.file import CaseError, settings_from
from icecone.studies.words.materials import one


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


TUBE = Tube(0.14, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 1e4)
COARSE = Resolution(sectors=8, ring=0.003, mouth=0.004, tip=0.008, growth=1.0, deep=0.04)


@pytest.mark.parametrize(
    ("voigt", "mode"),
    [
        ((0, 0, 0.9e5, 0, 0, 0), "tension"),
        ((1e5, 0, -9e5, 0, 0, 0), "shear"),
        ((-1e4, -1e4, -9e5, 0, 0, 0), "crushing"),
    ],
)
def test_mode_and_factor_of_a_uniform_field(voigt, mode):
    """sound ice at -10: 1.2/0.09; 6/(0.9 + 3 * 0.1); 6/(0.9 - 3 * 0.01); in the crust as in the crust's own ice."""
    ice, crust = ice_named("sound_glacier", -10.0), ice_named("firn", -10.0)
    expected = {"tension": 1.2 / 0.09, "shear": 6 / 1.2, "crushing": 6 / 0.87}[mode]
    model = build_half_model(TUBE, Placement(0.0, 0.13), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    field = StressField(elements, np.tile(np.array(voigt, float), (elements.size, 27, 1)))
    found = find_onset(model, field, ice, ice)
    assert found.mode == mode and found.load_factor == pytest.approx(expected, rel=1e-9)
    assert criterion_index(np.array(voigt, float), ice) == pytest.approx(1 / expected, rel=1e-9)
    layered = build_half_model(TUBE, Placement(0.0, 0.13), 0.02, COARSE)
    elements = np.concatenate([layered.regions["ice"], layered.regions["crust"]])
    field = StressField(elements, np.tile(np.array(voigt, float), (elements.size, 27, 1)))
    found = find_onset(layered, field, ice, crust)
    k = 2.5
    soft = {"tension": 0.5 / 0.09, "shear": 2.5 / (0.9 + k * 0.1), "crushing": 2.5 / (0.9 - k * 0.01)}[mode]
    assert found.load_factor == pytest.approx(soft, rel=1e-9) and found.where[2] > -0.0201


def test_the_line_is_twice_the_critical_distance_of_its_own_ice_and_the_angle_counts_from_the_front():
    """Linear in the distance from the wall and in x: the average over 2 L is the value at L, greatest in front."""
    ice = ice_named("sound_glacier", -10.0)
    for crust, own in ((0.0, ice), (0.02, ice_named("firn", -10.0))):
        model = build_half_model(TUBE, Placement(0.0, 0.13), crust, COARSE)
        elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
        x = model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T]
        r = np.hypot(x[0], x[1])
        value = 1e5 * (1 - (r - TUBE.radius) / 0.04) + 1e6 * x[0] + 1e5 * x[2]
        nodal = np.zeros((*value.shape, 6))
        nodal[..., 2] = value
        found = find_onset(model, StressField(elements, nodal), ice, own)
        L = own.critical_distance
        exact = 1e5 * (1 - L / 0.04) + 1e6 * (TUBE.radius + L)
        assert found.load_factor == pytest.approx(own.tensile_strength / exact, rel=5e-3)
        assert abs(found.angle) < 1e-6 and found.where[0] == pytest.approx(TUBE.radius, rel=1e-3)


def test_angle_is_round_the_tubes_own_axis():
    model = build_half_model(TUBE, Placement(0.5, 0.13), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    _, start, angle = hole_lines(
        model, StressField(elements, np.zeros((elements.size, 27, 6))), np.full((1, model.beside.shape[0]), 0.006)
    )
    along_front = start @ np.array([np.cos(0.5), 0.0, -np.sin(0.5)])
    assert along_front == pytest.approx(TUBE.radius * np.cos(angle), abs=0.01 * TUBE.radius)


def test_crust_limits_and_names():
    assert settings_from({"ice.crust_mm": 2.0})["ice.crust_mm"] == 2.0
    with pytest.raises(CaseError, match=r"ice\.crust_mm = 1\.99"):
        settings_from({"ice.crust_mm": 1.99})
    with pytest.raises(CaseError, match=r"^here: crust\.deviator_cap_MPa"):
        settings_from({"crust.deviator_cap_MPa": 1}, lambda key: "here: " if key == "crust.deviator_cap_MPa" else "")


def test_pages_show_the_ices_numbers():
    page = one("dense_waterfall", -20.0, 100.0)[0]
    now = {r[0]: r[3] for r in page.rows}
    ice = ice_named("dense_waterfall", -20.0, 100.0)
    assert now["tensile"] == f"{ice.tensile_strength / 1e6:.3g}" and now["K_IC"] == f"{ice.toughness / 1e3:.3g}"
    assert (
        now["deviator_cap"] == f"{ice.deviator_cap / 1e6:.3g}"
        and now["peak_pressure"] == f"{ice.peak_pressure / 1e6:.3g}"
    )
    assert (
        now["Poisson's ratio"] == f"{ice.elastic.poissons_ratio:.3g}" and now["density"] == "898.7 kg/m3"
    )  # 0.98 * 917
    assert now["G_c"] == f"{ice.fracture_energy:.3g} J/m2"
    c11, c12, c13, c33, _ = ice.elastic.constants
    along = c33 - 2 * c13**2 / (c11 + c12)
    assert now["E along columns"] == f"{along / 1e9:.3g} GPa" != now["E across columns"]


def test_a_length_beyond_the_mesh_tried_keeps_its_toughness():
    """Even tension s, L = 0.1 m over the longest a = 4 radii tried: t = sigma_t / s sqrt(L / a)."""
    ice = replace(ice_named("sound_glacier", -10.0), toughness=1.2e6 * (0.1 * pi) ** 0.5)
    assert ice.critical_distance == pytest.approx(0.1)
    model = build_half_model(TUBE, Placement(0.0, 0.13), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodal = np.zeros((elements.size, 27, 6))
    nodal[..., 2] = 1e5
    found = find_onset(model, StressField(elements, nodal), ice, ice)
    assert found.load_factor == pytest.approx(12 * (0.1 / (4 * TUBE.radius)) ** 0.5, rel=1e-6)


def test_no_loading_time_cuts_the_tensile_strength() -> None:
    """Slow loading weakens compression; a bar in tension still fails at its tensile strength."""
    for time in (10.0, 100.0, 1000.0, 3600.0):
        ice = ice_named("sound_glacier", -5.0, time)
        assert np.min(ice.surface.load_factors([0.0, 0.0, 1e6])) == pytest.approx(ice.tensile_strength / 1e6)
    weak = ice_named("sound_glacier", -5.0).with_strengths(2e6, 1e5, 4e6)
    assert np.min(weak.surface.load_factors([0.0, 0.0, 1e6])) == pytest.approx(2.0)


def test_the_length_of_shear_is_that_of_the_cohesion() -> None:
    """Sound ice at -10 deg C in 10 s: c = 6 / (2 sqrt 3) MPa, (1.3 * 0.12 / c)^2 / pi = 2.582 mm."""
    assert ice_named("sound_glacier", -10.0).shear_distance == pytest.approx((1.3 * 0.12 / (3 / 3**0.5)) ** 2 / pi)
    assert ice_named("sound_glacier", -10.0).shear_distance == pytest.approx(2.582e-3, rel=1e-3)
