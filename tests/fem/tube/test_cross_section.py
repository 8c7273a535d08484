"""The tube's section as fibres: exact area and second moment, plastic moment by bands, kinematic hardening, energy."""

from __future__ import annotations

from dataclasses import replace
from math import log, pi

import numpy as np
import pytest
from samples import STEEL

from icecone.fem.tube.cross_section import hollow_section, outer_strain, respond, spent_in_fibres, stored_in_fibres

R, BORE = 0.0085, 0.0070
PERFECT = replace(STEEL, ultimate_strength=STEEL.yield_strength)
AREA, SECOND = pi * (R**2 - BORE**2), pi / 4 * (R**4 - BORE**4)


@pytest.mark.parametrize("bands", [2, 6, 20])
@pytest.mark.parametrize("bore", [0.0, BORE])
def test_area_and_second_moment_are_exact_for_any_number_of_bands(bands: int, bore: float) -> None:
    """pi (R^2 - r^2) and pi / 4 (R^4 - r^4); the first moment vanishes; every fibre lies inside."""
    section = hollow_section(R, bore, STEEL, bands)
    moments = section.weights.sum(axis=0)
    exact = pi * (R**2 - bore**2), pi / 4 * (R**4 - bore**4)
    assert moments[[0, 2]] == pytest.approx(exact, rel=1e-12) and abs(moments[1]) < 1e-12 * R * exact[0]
    assert np.all(np.diff(section.height) > 0) and np.abs(section.height).max() < R


def test_elastic_forces_are_those_of_the_beam() -> None:
    """N = E A Gamma and M = E I kappa with the stiffness to match; the outer strain is |Gamma| + R |kappa|."""
    section = hollow_section(R, BORE, STEEL)
    stretch, curvature = np.array([1e-4, -2e-4]), np.array([0.1, 0.05])
    found = respond(section, stretch, curvature, np.zeros((2, len(section.area))))
    assert found.force == pytest.approx(section.E * AREA * stretch, rel=1e-12)
    assert found.moment == pytest.approx(section.E * SECOND * curvature, rel=1e-12)
    assert found.stiffness[[0, 2]] == pytest.approx(section.E * np.array([[AREA] * 2, [SECOND] * 2]), rel=1e-12)
    assert outer_strain(section, stretch, curvature) == pytest.approx([1e-4 + 0.1 * R, 2e-4 + 0.05 * R])


def test_plastic_moment_converges_with_the_bands() -> None:
    """M -> 4/3 sigma_y (R^3 - r^3) at large curvature without hardening: second order in the bands, 0.5 % at 20."""
    exact = 4 / 3 * STEEL.yield_strength * (R**3 - BORE**3)
    errors = []
    for bands in (10, 20, 40):
        section = hollow_section(R, BORE, PERFECT, bands)
        found = respond(section, np.zeros(1), np.array([1e4]), np.zeros((1, bands)))
        assert section.plastic_moment == pytest.approx(exact, rel=1e-12) and abs(found.force[0]) < 1e-6
        errors.append(abs(found.moment[0] / exact - 1))
    assert log(errors[1] / errors[2]) / log(2) > 1.7 and errors[1] < 5e-3
    assert section.plastic_force == pytest.approx(STEEL.yield_strength * AREA)


def test_hardening_is_kinematic() -> None:
    """Stretched to sigma_y + H eps_p and pushed back, a bar yields after a change of 2 sigma_y, not more."""
    section = hollow_section(R, BORE, STEEL)
    sy, E, H = section.yield_strength, section.E, section.hardening
    assert pytest.approx((STEEL.ultimate_strength - sy) / STEEL.uniform_strain) == H
    none, plastic = np.zeros(1), np.zeros((1, len(section.area)))
    out = respond(section, np.array([0.02]), none, plastic)
    strained = out.plastic[0, 0]
    assert out.force[0] / AREA == pytest.approx(sy + H * strained, rel=1e-12)
    assert strained == pytest.approx((E * 0.02 - sy) / (E + H), rel=1e-12)
    just = respond(section, np.array([0.02 - 1.999 * sy / E]), none, out.plastic)
    past = respond(section, np.array([0.02 - 2.001 * sy / E]), none, out.plastic)
    assert np.all(just.plastic == out.plastic) and np.all(past.plastic < out.plastic)


def test_hardening_ends_at_the_ultimate_strength() -> None:
    """Bent until all but the core has hardened out: M -> M_u = 4/3 sigma_u (R^3 - r^3), and no moment is above it."""
    exact = 4 / 3 * STEEL.ultimate_strength * (R**3 - BORE**3)
    errors = []
    for bands in (10, 20, 40):
        section = hollow_section(R, BORE, STEEL, bands)
        found = respond(section, np.zeros(1), np.array([1e4]), np.zeros((1, bands)))
        assert section.ultimate_moment == pytest.approx(exact, rel=1e-12) and abs(found.force[0]) < 1e-6
        assert np.abs(found.plastic).min() > STEEL.uniform_strain
        errors.append(abs(found.moment[0] / exact - 1))
    assert log(errors[1] / errors[2]) / log(2) > 1.7 and errors[1] < 5e-3


def test_a_stretched_bar_follows_the_line_and_then_its_end() -> None:
    """sigma_y + H eps_p up to the uniform strain, sigma_u from there, pressed as drawn; pushed back, 2 sigma_y less."""
    section = hollow_section(R, BORE, STEEL)
    strains = np.linspace(0.01, 0.2, 39)
    none, plastic = np.zeros(39), np.zeros((39, len(section.area)))
    line = STEEL.yield_strength + section.hardening * (section.E * strains - STEEL.yield_strength) / (
        section.E + section.hardening
    )
    out = respond(section, strains, none, plastic)
    assert out.force / AREA == pytest.approx(np.minimum(line, STEEL.ultimate_strength), rel=1e-12)
    assert respond(section, -strains, none, plastic).force == pytest.approx(-out.force, rel=1e-12)
    back = respond(section, strains[-1:] - 0.05, none[:1], out.plastic[-1:])
    assert back.force[0] / AREA == pytest.approx(STEEL.ultimate_strength - 2 * STEEL.yield_strength, rel=1e-12)


@pytest.mark.parametrize("curvature", [0.9, 9.0])
def test_stiffness_is_the_derivative_of_the_forces(curvature: float) -> None:
    """Central differences, elastic and plastic fibres mixed; at 9 per m some harden and some no longer do."""
    section = hollow_section(R, BORE, STEEL)
    rng = np.random.default_rng(3)
    at, plastic = np.array([0.001, curvature]), rng.normal(0, 1e-3, (1, len(section.area)))

    def forces(x: np.ndarray) -> np.ndarray:
        found = respond(section, x[:1], x[1:], plastic)
        return np.array([found.force[0], found.moment[0]])

    step = np.array([1e-8, 1e-6])
    slopes = np.array([(forces(at + h) - forces(at - h)) / (2 * h.sum()) for h in np.diag(step)])
    found = respond(section, at[:1], at[1:], plastic)
    ended = np.abs(found.plastic) > STEEL.uniform_strain
    assert np.any(found.plastic != plastic) and (curvature > 1 or np.any(found.plastic == plastic))
    assert ended.any() == (curvature > 1) and not ended.all()
    assert slopes[[0, 0, 1, 1], [0, 1, 0, 1]] == pytest.approx(found.stiffness[[0, 1, 1, 2], 0], rel=1e-6)


@pytest.mark.parametrize("most", [3.0, 15.0])
def test_what_is_stored_and_spent_is_the_work(most: float) -> None:
    """int N dGamma + M dkappa over a path there and back: the difference falls with the square of the step.

    At 15 per m fibres go past the end of hardening and back below it.
    """
    section = hollow_section(R, BORE, STEEL)
    assert (R * most > STEEL.uniform_strain + STEEL.yield_strength / section.E) == (most > 3)
    errors = []
    for n in (200, 400, 800):
        turn = np.linspace(0, 3 * pi / 2, n + 1)
        stretch, curvature = 0.01 * np.sin(0.7 * turn), most * np.sin(turn)
        plastic, work, lost = np.zeros((1, len(section.area))), 0.0, 0.0
        last = respond(section, stretch[:1], curvature[:1], plastic)
        for g0, g1, k0, k1 in zip(stretch, stretch[1:], curvature, curvature[1:], strict=False):
            new = respond(section, np.array([g1]), np.array([k1]), plastic)
            work += 0.5 * (last.force[0] + new.force[0]) * (g1 - g0) + 0.5 * (last.moment[0] + new.moment[0]) * (
                k1 - k0
            )
            lost += spent_in_fibres(section, plastic, new.plastic)[0]
            last, plastic = new, new.plastic
        errors.append(abs(work - lost - stored_in_fibres(section, stretch[-1:], curvature[-1:], plastic)[0]) / work)
    assert errors[-1] < 1e-4 and log(errors[0] / errors[-1]) / log(4) > 1.5


def test_what_is_locked_in_comes_back() -> None:
    """There and back to no plastic strain: what hardening took is given back, sigma_y on the way is lost."""
    section, far = hollow_section(R, BORE, STEEL), 0.12
    none, out = np.zeros((1, len(section.area))), np.full((1, len(section.area)), far)
    there, back = spent_in_fibres(section, none, out)[0], spent_in_fibres(section, out, none)[0]
    back_stress = STEEL.ultimate_strength - STEEL.yield_strength
    locked = back_stress * (far - 0.5 * STEEL.uniform_strain)
    assert there == pytest.approx((STEEL.yield_strength * far + locked) * AREA, rel=1e-12)
    assert there + back == pytest.approx(2 * STEEL.yield_strength * far * AREA, rel=1e-12)


def test_what_cannot_be_built_is_told() -> None:
    """A bore as wide as the tube, an odd number of bands."""
    with pytest.raises(ValueError, match=r"bore = 0\.0085: must lie between 0 and the radius"):
        hollow_section(R, R, STEEL)
    with pytest.raises(ValueError, match="bands = 5: must be even"):
        hollow_section(R, BORE, STEEL, 5)
