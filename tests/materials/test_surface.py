"""Failure surfaces: special states by hand, states on the surface, convexity, independent brute force and root."""

from __future__ import annotations

from dataclasses import replace
from math import asin, cos, inf, radians, sin, sqrt, tan

import numpy as np
import pytest
from domains import examples, numbers
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from icecone.materials.surface import SURFACES, MohrCoulomb, Parabolic

MC = MohrCoulomb(1.2e6, 8.0e6, 2.5, 20e6)
PARABOLA = Parabolic(1.2e6, 8.0e6, 1.0, 30e6)
BOTH = pytest.mark.parametrize("surface", [MC, PARABOLA], ids=SURFACES)
stresses = st.lists(numbers(-100e6, 100e6), min_size=3, max_size=3).map(sorted).map(np.array)


def invariants(stress: np.ndarray) -> tuple[float, float]:
    """q and p by the deviator, not as the module takes them."""
    p = -float(stress.mean())
    return sqrt(1.5 * float(((stress + p) ** 2).sum())), p


def excess(surface: MohrCoulomb | Parabolic, stress: np.ndarray) -> tuple[float, float]:
    """How far a stress lies outside tension cut-off and crushing surface [Pa], negative inside."""
    s1, s3 = -stress[0], -stress[2]
    tension = stress[2] - surface.tensile_strength
    if isinstance(surface, MohrCoulomb):
        sheared = s1 - surface.confinement_slope * s3 - surface.compressive_strength
        return tension, max(sheared, s1 - s3 - surface.deviator_cap)
    q, p = invariants(stress)
    b, peak, sigma_c = surface.pressure_slope, surface.peak_pressure, surface.compressive_strength
    c = sigma_c - b * sigma_c / 3 + b * (sigma_c / 3) ** 2 / (2 * peak)  # (q, p) = (sigma_c, sigma_c / 3)
    return tension, q - (c + b * p - b * p**2 / (2 * peak))


@BOTH
def test_uniaxial_strengths_are_recovered(surface: MohrCoulomb | Parabolic) -> None:
    """t = sigma_t / s in tension, sigma_c / s in compression; compression alone never fails in tension."""
    tension, _ = surface.load_factors([0.0, 0.0, 2e5])
    assert tension == pytest.approx(1.2e6 / 2e5, rel=1e-14)
    never, crushing = surface.load_factors([-3e5, 0.0, 0.0])
    assert never == inf and crushing == pytest.approx(8e6 / 3e5, rel=1e-14)


def test_equibiaxial_compression() -> None:
    """Mohr-Coulomb takes no account of s2: sigma_c again. Parabola: q = s, p = 2 s / 3, root by hand."""
    assert MC.load_factors([-1e6, -1e6, 0.0])[1] == pytest.approx(8.0, rel=1e-14)
    c = 8 - 8 / 3 + 8**2 / (18 * 30)  # MPa
    by_hand = (-1 / 3 + sqrt(1 / 9 + 4 * (4 / 9 / 60) * c)) / (2 * (4 / 9 / 60))
    assert PARABOLA.load_factors([-1e6, -1e6, 0.0])[1] == pytest.approx(by_hand, rel=1e-13)


def test_confinement_strengthens_up_to_the_cap() -> None:
    """With s2 = s3 = r s1: s1 = min(sigma_c / (1 - k r), cap / (1 - r)); the cap takes over at s3 = 8 MPa, s1 = 28."""
    r = np.array([0.0, 0.1, 0.25, 8 / 28, 0.3, 0.39, 0.41, 0.9])
    _, s1 = MC.load_factors(np.stack([-np.ones_like(r), -r, -r], axis=1) * 1e6)
    expected = [8.0, 8 / 0.75, 8 / 0.375, 28.0, 20 / 0.7, 20 / 0.61, 20 / 0.59, 200.0]
    assert s1 == pytest.approx(expected, rel=1e-12)


def test_pure_shear_by_mohrs_circle() -> None:
    """A circle of radius tau about 0 touches the line c - sigma tan phi at tau = c cos phi; q = sqrt(3) tau, p = 0."""
    phi = asin(1.5 / 3.5)
    cohesion = 8e6 * (1 - sin(phi)) / (2 * cos(phi))  # circle of uniaxial compression
    assert MC.friction_angle == pytest.approx(phi, rel=1e-14)
    tension, crushing = MC.load_factors([-1e5, 0.0, 1e5])
    assert crushing == pytest.approx(cohesion * cos(phi) / 1e5, rel=1e-12)
    assert tension == pytest.approx(12.0, rel=1e-14)
    c = 8e6 - 8e6 / 3 + 8e6**2 / (18 * 30e6)
    assert PARABOLA.load_factors([-1e5, 0.0, 1e5])[1] == pytest.approx(c / (sqrt(3) * 1e5), rel=1e-12)


def test_hydrostatic_states() -> None:
    """Mohr-Coulomb: never, and c / tan phi in tension. Parabola: both roots of c + b p - b p^2 / (2 p_peak)."""
    phi = asin(1.5 / 3.5)
    assert MC.load_factors([-1e6] * 3) == (inf, inf)
    apex = 8e6 * (1 - sin(phi)) / (2 * cos(phi)) / tan(phi)
    assert MC.load_factors([1e6] * 3) == (pytest.approx(1.2), pytest.approx(apex / 1e6, rel=1e-12))
    low, high = sorted(np.roots([-1 / 60, 1, 8 - 8 / 3 + 64 / 540]))  # MPa
    assert PARABOLA.load_factors([-1e6] * 3) == (inf, pytest.approx(high, rel=1e-12))
    assert PARABOLA.closing_pressure == pytest.approx(high * 1e6, rel=1e-12)
    assert PARABOLA.load_factors([1e6] * 3) == (pytest.approx(1.2), pytest.approx(-low, rel=1e-12))


def test_no_stress_never_fails_and_no_number_stays_none() -> None:
    for surface in (MC, PARABOLA, replace(PARABOLA, pressure_slope=0.0)):
        assert surface.load_factors([0.0] * 3) == (inf, inf)
        assert np.isnan(surface.load_factors([np.nan] * 3)).all()
        tension, crushing = surface.load_factors(np.zeros((2, 0, 5, 3)))
        assert tension.shape == crushing.shape == (2, 0, 5)
        for size in (1e-290, 1e-200, 1e200):  # neither overflow nor underflow
            assert surface.load_factors([-size, 0.0, 0.0])[1] == pytest.approx(8e6 / size, rel=1e-12)
        assert surface.load_factors([-5e-324, 0.0, 5e-324]) == (inf, inf)


def test_without_slope_the_parabola_is_von_mises() -> None:
    flat = replace(PARABOLA, pressure_slope=0.0)
    for stress in np.sort(np.random.default_rng(1).normal(size=(50, 3)) * 1e7):
        assert flat.load_factors(stress)[1] == pytest.approx(8e6 / invariants(stress)[0], rel=1e-12)
    assert flat.load_factors([-1e6] * 3)[1] == inf and flat.closing_pressure == inf
    nearly = replace(PARABOLA, pressure_slope=1e-13)  # its quadratic cancels where taken the plain way
    assert nearly.load_factors([-1e6, 0.0, 0.0])[1] == pytest.approx(8.0, rel=1e-12)


@BOTH
@examples(100)
@given(stress=stresses, a=numbers(1e-3, 1e3))
def test_a_failing_state_lies_on_its_surface(surface: MohrCoulomb | Parabolic, stress: np.ndarray, a: float) -> None:
    """t sigma on the surface, 0.999 t sigma inside it, t(a sigma) = t(sigma) / a; no factor: inside however large."""
    factors = surface.load_factors(stress)
    assert np.array(surface.load_factors(a * stress)) == pytest.approx(np.array(factors) / a, rel=1e-9)
    for mode, t in enumerate(factors):
        if t == inf:
            assert excess(surface, 1e3 * stress)[mode] <= 0
        elif t < 1e6:
            size = t * float(np.abs(stress).max()) + 8e6
            assert abs(excess(surface, t * stress)[mode]) < 1e-9 * size
            assert excess(surface, 0.999 * t * stress)[mode] < 0


@BOTH
def test_safe_states_are_convex(surface: MohrCoulomb | Parabolic) -> None:
    """The middle of two stress tensors on the surface, each turned at random, is inside or on it."""
    rng = np.random.default_rng(2)
    tensors = rng.normal(size=(4000, 3, 3)) * 1e7
    tensors += np.swapaxes(tensors, 1, 2) - 2e7 * rng.random((4000, 1, 1)) * np.eye(3)
    t = np.min(surface.load_factors(np.linalg.eigvalsh(tensors)), axis=0)
    assert np.isfinite(t).mean() > 0.9
    on = tensors[np.isfinite(t)] * t[np.isfinite(t), None, None]
    middle = np.min(surface.load_factors(np.linalg.eigvalsh((on[::2][:1500] + on[1::2][:1500]) / 2)), axis=0)
    assert middle.min() > 1 - 1e-12 and middle.max() > 1.05


def test_mohr_coulomb_by_all_planes() -> None:
    """|tau| = c - sigma_n tan phi on the worst of many planes: none worse than t says, one as bad within 1e-4."""
    surface = replace(MC, deviator_cap=1e12)
    phi = surface.friction_angle
    cohesion = 8e6 * (1 - sin(phi)) / (2 * cos(phi))
    rng = np.random.default_rng(3)
    angle = np.radians(np.linspace(0, 90, 901))
    normals = np.concatenate([rng.normal(size=(20000, 3)), np.stack([np.cos(angle), 0 * angle, np.sin(angle)], axis=1)])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    for stress in np.sort(rng.normal(size=(30, 3)) * 1e7):
        normal = normals**2 @ stress
        tau = np.sqrt(np.maximum(normals**2 @ stress**2 - normal**2, 0))
        worst = float((tau + normal * tan(phi)).max()) / cohesion
        _, t = surface.load_factors(stress)
        assert 1 / t >= max(worst, 0) * (1 - 1e-12)
        assert 1 / t == pytest.approx(max(worst, 0), rel=1e-4, abs=1e-12)
    assert radians(25) < phi < radians(26)


def test_parabola_by_bracketed_root() -> None:
    """The load factor is the first root of the excess, here found by search along the path."""
    for stress in np.sort(np.random.default_rng(4).normal(size=(100, 3)) * 1e7 - 1e7):
        path = np.array([excess(PARABOLA, t * stress)[1] for t in np.geomspace(1e-4, 1e4, 200)])
        first = int(np.argmax(path > 0))
        low, high = np.geomspace(1e-4, 1e4, 200)[[first - 1, first]]
        root = brentq(lambda t, s=stress: excess(PARABOLA, t * s)[1], low, high, rtol=1e-13)
        assert PARABOLA.load_factors(stress)[1] == pytest.approx(root, rel=1e-9)


@BOTH
def test_stronger_ice_carries_no_less(surface: MohrCoulomb | Parabolic) -> None:
    rng = np.random.default_rng(5)
    stress = np.sort(rng.normal(size=(300, 3)) * 1e7 - 1e7 * rng.random((300, 1)))
    before = np.min(surface.load_factors(stress), axis=0)
    names = ["tensile_strength", "compressive_strength", *(["deviator_cap"] if surface is MC else [])]
    for name in names:
        after = np.min(replace(surface, **{name: 1.05 * getattr(surface, name)}).load_factors(stress), axis=0)
        assert (after >= before * (1 - 1e-13)).all() and (after[np.isfinite(after)] > before[np.isfinite(after)]).any()


@BOTH
def test_envelope_is_where_triaxial_compression_fails(surface: MohrCoulomb | Parabolic) -> None:
    """s1 = p + 2 q / 3, s2 = s3 = p - q / 3 has load factor 1; nothing holds beyond the tension cut-off."""
    p = np.linspace(-1.1e6, 60e6, 40)
    q = surface.envelope(p)
    s3 = q / 3 - p
    assert np.min(surface.load_factors(np.stack([-p - 2 * q / 3, s3, s3], axis=1)), axis=0) == pytest.approx(1.0)
    assert np.isnan(surface.envelope(np.array([-1.3e6])))
    assert surface.envelope(8e6 / 3) == pytest.approx(8e6)
    assert q.max() == pytest.approx(20e6 if surface is MC else PARABOLA.cohesion + 30e6 / 2, rel=1e-3)
    assert np.isnan(PARABOLA.envelope(70e6)) and MC.envelope(1e9) == 20e6


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: replace(MC, tensile_strength=0.0), "tensile_strength = 0: must be positive"),
        (lambda: replace(MC, compressive_strength=inf), "compressive_strength = inf"),
        (lambda: replace(MC, confinement_slope=0.9), "confinement_slope = 0.9: must be at least 1"),
        (lambda: replace(MC, deviator_cap=7.9e6), "deviator_cap = 7.9 MPa: must be at least 8 MPa"),
        (lambda: replace(PARABOLA, peak_pressure=2e6), "peak_pressure = 2 MPa: must be at least 2.667 MPa"),
        (lambda: replace(PARABOLA, pressure_slope=-0.1), "pressure_slope = -0.1: must be at least 0 and below 3.13953"),
        (lambda: replace(PARABOLA, pressure_slope=3.2), "pressure_slope = 3.2: must be at least 0 and below 3.13953"),
        (lambda: MC.load_factors([1.0, 0.0, 2.0]), "principal: must be in rising order"),
        (lambda: PARABOLA.load_factors([1.0, 2.0]), "principal.shape"),
    ],
)
def test_nonsense_is_refused(make, named: str) -> None:
    with pytest.raises(ValueError, match=f"^{named}"):
        make()


def test_the_steepest_slope_leaves_no_cohesion() -> None:
    """c = 0 at b = 18 p_peak / (6 p_peak - sigma_c) = 540 / 172: refused there, not just below."""
    nearly = replace(PARABOLA, pressure_slope=540 / 172 * (1 - 1e-9))
    assert 0 < nearly.cohesion < 0.1
    # one form of the root of the quadratic cancels here
    assert nearly.load_factors([-1e6] * 3)[1] == pytest.approx(nearly.closing_pressure / 1e6, rel=1e-12)
    with pytest.raises(ValueError, match=r"below 3\.13953"):
        replace(PARABOLA, pressure_slope=540 / 172)


def test_strengths_scaled_together_pass_by_rounding() -> None:
    """A cap equal to the compressive strength stays one whatever both are multiplied by."""
    for scale in np.random.default_rng(6).random(200):
        MohrCoulomb(1e6, 8.1e6 * scale, 1.0, 8.1e6 / 3 * scale * 3)
        Parabolic(1e6, 8.1e6 * scale, 1.0, 8.1e6 * (scale / 3))
