"""Onset by a length: closed forms of the load factor, exact line averages, independence of the mesh."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi

import numpy as np
import pytest
from samples import COARSE, TUBE, case, placed

from icecone.fem.onset.criterion import (
    criterion_index,
    factors_by_length,
    find_onset,
    line_lengths,
    load_factors,
)
from icecone.fem.onset.solve import solve_onset
from icecone.fem.onset.wall_lines import WallLines, line_averages
from icecone.fem.solid.stress import StressField
from icecone.geometry.half_model import build_half_model
from icecone.materials import default_assumed, ice_named
from icecone.validation.checks.elasticity.kirsch import HOLE
from icecone.validation.checks.elasticity.kirsch import S as PULL
from icecone.validation.checks.fracture.crack_onset import westergaard
from icecone.validation.checks.fracture.hole_onset import coupled, mean_stress, one_crack, stress_there, two_cracks

ICE = replace(
    ice_named("sound_glacier", -10.0),
    tensile_strength=1.0e6,
    toughness=0.1e6,
    compressive_strength=6.0e6,
    confinement_slope=3.0,
    deviator_cap=15e6,
    pressure_slope=1.2,
    peak_pressure=20e6,
)
RATIO = default_assumed().sliding_ratio


def voigt(xx: float = 0, yy: float = 0, zz: float = 0, xy: float = 0) -> np.ndarray:
    return np.array([xx, yy, zz, 0.0, 0.0, xy])


def test_uniaxial_stress_fails_at_its_strength() -> None:
    """Uniaxial tension s fails at sigma_t / s, uniaxial compression at sigma_c / s: both strengths are recovered."""
    tension, _ = load_factors(voigt(xx=2.0e5), ICE)
    _, crushing = load_factors(voigt(zz=-3.0e5), ICE)
    assert tension == pytest.approx(ICE.tensile_strength / 2.0e5)
    assert crushing == pytest.approx(ICE.compressive_strength / 3.0e5)


def test_pure_shear_fails_in_tension_where_the_ice_is_strong_in_compression() -> None:
    """Pure shear t has principal stresses t and -t: sigma_t / t, or by Mohr-Coulomb sigma_c / ((1 + k) t)."""
    for strength, slope in ((6.0e6, 3.0), (3.0e6, 3.0)):
        ice = replace(ICE, compressive_strength=strength, confinement_slope=slope)
        tension, shear = load_factors(voigt(xy=4e5), ice)
        assert tension == pytest.approx(ice.tensile_strength / 4e5)
        assert shear == pytest.approx(strength / (4 * 4e5))
        assert (tension < shear) == (strength == 6.0e6)


def test_confinement_strengthens_up_to_the_cap() -> None:
    """Side pressure r s under s: Mohr-Coulomb fails at sigma_c / (s (1 - 3 r)), the cap at cap / (s (1 - r))."""
    s = 1e6
    for r in (0.0, 0.1, 0.2, 0.3, 0.6):
        _, crushing = load_factors(voigt(xx=-r * s, yy=-r * s, zz=-s), ICE)
        slope = 6e6 / (s * (1 - 3 * r)) if r < 1 / 3 else np.inf
        assert crushing == pytest.approx(min(slope, 15e6 / (s * (1 - r))))


def test_the_case_chooses_between_two_surfaces() -> None:
    """Equibiaxial pressure s: Mohr-Coulomb sigma_c / s; parabola t s = c + b p - b p^2 / (2 p_peak), p = 2 t s / 3."""
    s, parabolic = 1e6, replace(ICE, criterion="parabolic")
    stress = voigt(xx=-s, yy=-s)
    assert load_factors(stress, ICE)[1] == pytest.approx(6.0)
    c = 6e6 * (1 - 1.2 / 3 + 1.2 * 6e6 / (18 * 20e6))
    t = float(load_factors(stress, parabolic)[1])
    p = 2 * t * s / 3
    assert t * s == pytest.approx(c + 1.2 * p - 1.2 * p**2 / 40e6, rel=1e-12)
    assert t > 6.1


def test_hydrostatic_pressure_never_fails_and_zero_stress_has_index_zero() -> None:
    """Pressure alone has no deviator; no stress has index 0."""
    assert criterion_index(voigt(-1e6, -1e6, -1e6), ICE) == pytest.approx(0.0, abs=1e-9)
    assert criterion_index(voigt(), ICE) == 0.0


def test_line_average_of_a_linear_field_is_exact_and_of_a_singular_one_converges() -> None:
    """Mean of 3 - 2x over [0, l] is 3 - l; of x^-1/2 (from a small distance on) it tends to 2 / sqrt(l)."""
    length, errors = 0.37, []
    for n in (11, 101, 1001):
        x = np.linspace(0, 1, n) ** 2
        line = x[None]
        linear = np.repeat((3 - 2 * x)[None, :, None], 6, axis=2)
        means = line_averages(line, linear, np.array([length, 0.5 * length, 7.0]))[:, 0, 0]
        assert means == pytest.approx([3 - length, 3 - 0.5 * length, 2.0], abs=2e-3 if n == 11 else 1e-4)
        with np.errstate(divide="ignore"):
            singular = np.where(x > 0, x**-0.5, 0.0)[None, :, None] * np.ones(6)
        errors.append(abs(float(line_averages(line, singular, np.array([length]))[0, 0, 0]) * np.sqrt(length) / 2 - 1))
    assert errors[2] < errors[1] < errors[0]


def test_lines_are_as_long_as_asked_and_start_on_the_wall() -> None:
    """A stress equal to the distance from the axis averages to radius + L; starts lie on the wall (upright tube)."""
    model = build_half_model(TUBE, placed(), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodes = model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T]
    radius = np.hypot(nodes[0], nodes[1])
    field = StressField(elements, np.repeat(radius[..., None], 6, axis=2))
    length = np.array([0.006, 0.0015])
    lines = WallLines(model, field)
    averaged = lines.averages(np.repeat(length[:, None], model.beside.shape[0], axis=1))
    start, angle = lines.start, lines.angle
    shorter = WallLines(model, field, lines.geometry).averages(np.full((1, model.beside.shape[0]), length[1]))
    assert np.abs(shorter[0] - averaged[1]).max() < 1e-14 * averaged.max()  # through fewer rings
    assert np.hypot(start[:, 0], start[:, 1]) == pytest.approx(TUBE.radius, rel=2e-3)
    for mean, each in zip(averaged[..., 0], length, strict=True):
        assert mean == pytest.approx(np.full(len(start), TUBE.radius + each / 2), rel=3e-3)
    assert angle.min() == pytest.approx(0.0, abs=1e-6) and angle.max() == pytest.approx(pi, abs=1e-6)


@pytest.mark.parametrize(("sign", "mode"), [(1.0, "tension"), (-1.0, "crushing")])
def test_strength_decides_for_a_short_length_and_toughness_for_a_long_one(sign: float, mode: str) -> None:
    """Uniaxial stress s0 (1 - x/w) at distance x from the wall: its mean over 2 a is s0 (1 - a/w).

    By hand: t = f(1 - L/w) for L < w/3, and for L > w/3 the least of K / (sqrt(pi a) s0 (1 - a/w)) is at a = w/3.
    """
    model = build_half_model(TUBE, placed(embedment=0.05), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodes = model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T]
    s0, w = sign * 2e5, 0.03
    stress = np.zeros((*nodes.shape[1:], 6))
    stress[..., 2] = s0 * (1 - (np.hypot(nodes[0], nodes[1]) - TUBE.radius) / w)
    field = StressField(elements, stress)
    strength = 1.0e6 if mode == "tension" else 6.0e6
    distance = (lambda ice: ice.critical_distance) if mode == "tension" else (lambda ice: ice.shear_distance(RATIO))
    for wanted in (0.002, 0.02):
        ice = replace(ICE, toughness=ICE.toughness * np.sqrt(wanted / distance(ICE)))
        ice = ice if mode == "tension" else replace(ice, tensile_strength=2e6)
        assert distance(ice) == pytest.approx(wanted)
        onset = find_onset(WallLines(model, field), ice, ICE, RATIO)
        a = min(wanted, w / 3)
        by_hand = np.sqrt(wanted / a) * strength / (abs(s0) * (1 - a / w))
        assert onset.load_factor == pytest.approx(by_hand, rel=0.006) and onset.mode == mode
        assert onset.length == pytest.approx(2 * a, rel=0.13)  # flat there; lengths are tried in steps of 26 %


@pytest.mark.slow
def test_a_weaker_ice_never_fails_later() -> None:
    """On one real stress field each of the three strengths, lowered alone, lowers the onset or leaves it."""
    for angle in (-20.0, 20.0):
        solution = solve_onset(case(angle, embedment=0.05, ice=ICE, level=COARSE))
        for name in ("tensile_strength", "toughness", "compressive_strength"):
            values = [x * getattr(ICE, name) for x in (3, 2, 1, 0.6, 0.3, 0.1)]
            weaker = [replace(ICE, deviator_cap=1e9, **{name: value}) for value in values]
            lines = WallLines(solution.model, solution.stress)
            loads = [find_onset(lines, ice, ice, RATIO).load_factor for ice in weaker]
            assert all(b <= a * 1.004 for a, b in pairwise(loads)), name  # 0.4 %: steps of the lengths tried


def test_no_stress_has_no_onset() -> None:
    """A zero field is an error, never an infinite load."""
    model = build_half_model(TUBE, placed(embedment=0.05), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    with pytest.raises(ValueError, match="onset"):
        find_onset(WallLines(model, StressField(elements, np.zeros((elements.size, 27, 6)))), ICE, ICE, RATIO)


def test_the_least_over_lengths_is_that_of_a_closed_form() -> None:
    """Tension s0 sqrt(w / x) averages to 2 s0 sqrt(w / (2 a)): t = f sqrt(2 L / w) / (2 s0) at any a.

    f is sigma_t, or sigma_c / k by Mohr-Coulomb; each surface has its own L.
    """
    s0, w = 1e5, 0.01
    L = np.array([[ICE.critical_distance], [ICE.shear_distance(RATIO)]])
    x = 2 * L.max() * np.linspace(0, 1, 4001) ** 4
    stress = np.zeros((1, x.size, 6))
    stress[0, 1:, 1] = s0 * np.sqrt(w / x[1:])
    line = x[None]
    averaged = np.stack([line_averages(line, stress, lengths[:, 0]) for lengths in line_lengths(L)])
    factors = factors_by_length(averaged, L, L, ICE)
    exact = np.array([[ICE.tensile_strength], [6.0e6 / 3.0]]) * np.sqrt(2 * L / w) / (2 * s0)
    assert factors[..., 0] == pytest.approx(np.repeat(exact, 16, axis=1), rel=2e-3)
    shorter = factors_by_length(averaged, L, L / 4, ICE)
    assert shorter == pytest.approx(2 * factors)


def test_coupled_criterion_of_the_hole_has_its_published_limits() -> None:
    """Ferrian et al. 2022, Frattura ed Integrita Strutturale 61, text at fig. 7: D from 2 L to 2 L / 1.12^2 (L =
    l_ch / pi), less between; strength from sigma_t to sigma_t / 3 (Kirsch)."""
    for fit in (two_cracks, one_crack):
        assert coupled(1e4, fit, stress_there) == pytest.approx((1 / 3, 2 / 1.12**2), rel=5e-3)
        assert coupled(1e4, fit, mean_stress) == pytest.approx((1 / 3, 2 / 1.12**2), rel=5e-3)
    assert coupled(2e-3, two_cracks, stress_there) == pytest.approx((1.0, 2.0), rel=5e-3)
    assert min(coupled(size, two_cracks, stress_there)[1] for size in (0.5, 1.0, 2.0)) < 1.0


@pytest.mark.parametrize("shear", [False, True])
def test_stress_round_a_crack_is_in_equilibrium(shear: bool) -> None:
    """div sigma = 0 by central differences, no traction on the crack, S far away."""
    x, h = HOLE * np.array([[0.4, 1.3, -0.7], [0.3, 0.5, 1.1]]), 1e-6 * HOLE
    step = h * np.eye(2)[:, :, None]
    slope = [(westergaard(x + d, shear) - westergaard(x - d, shear)) / (2 * h) for d in step]
    force = slope[0][0, :2] + slope[1][1, :2]
    assert np.abs(force).max() < 1e-6 * np.abs(np.array(slope)).max()
    face = westergaard(HOLE * np.array([[0.2, 0.8], [1e-12, 1e-12]]), shear)
    assert np.abs(face[1]).max() < 1e-6 * PULL
    far = westergaard(HOLE * np.array([[3e3, 0.0], [1e3, 1e4]]), shear) / PULL
    want = np.array([[0, 1, 0], [1, 0, 0], [0, 0, 0]]) if shear else np.diag([0, 1, 0])
    assert far == pytest.approx(np.repeat(want[..., None], 2, axis=2), abs=1e-5)
