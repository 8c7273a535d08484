"""Onset by a length: closed forms of the load factor, exact line averages, independence of the mesh."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from icecone.fem.criterion import _average, criterion_index, find_onset, load_factors, wall_lines
from icecone.fem.stress import StressField
from icecone.geometry import Placement, Resolution, Tube, build_half_model
from icecone.materials import Ice

ICE = Ice("made up for the test", 9e9, 0.3, 1.0e6, 0.1e6, 6.0e6, 1.2, 15e6)
TUBE = Tube(0.14, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 1e4)
COARSE = Resolution(sectors=8, wall=0.003, mouth=0.004, tip=0.008, growth=1.0, deep=0.04)


def voigt(xx: float = 0, yy: float = 0, zz: float = 0, xy: float = 0) -> np.ndarray:
    return np.array([xx, yy, zz, 0.0, 0.0, xy])


def test_uniaxial_stress_fails_at_its_strength() -> None:
    """Uniaxial tension s fails at sigma_t / s, uniaxial compression at sigma_c / s: both strengths are recovered."""
    tension, _ = load_factors(voigt(xx=2.0e5), ICE)
    _, crushing = load_factors(voigt(zz=-3.0e5), ICE)
    assert tension == pytest.approx(ICE.tensile_strength / 2.0e5)
    assert crushing == pytest.approx(ICE.compressive_strength / 3.0e5)


def test_pure_shear_fails_in_tension() -> None:
    """Pure shear t has largest principal stress t."""
    tension, crushing = load_factors(voigt(xy=4e5), ICE)
    assert tension == pytest.approx(ICE.tensile_strength / 4e5)
    assert tension < crushing


def test_confinement_strengthens_up_to_the_cap() -> None:
    """q = min(a + b p, cap) under proportional loading: with side pressure k s, q = (1-k) s and p = (1+2k) s / 3."""
    s = 1e6
    for k in (0.0, 0.2, 0.4, 0.6):
        _, crushing = load_factors(voigt(xx=-k * s, yy=-k * s, zz=-s), ICE)
        q, p = (1 - k) * s, (1 + 2 * k) * s / 3
        excess = q - ICE.pressure_slope * p
        cone = ICE.cohesion / excess if excess > 0 else np.inf
        assert crushing == pytest.approx(min(cone, ICE.deviator_cap / q))


def test_hydrostatic_pressure_never_fails_and_zero_stress_has_index_zero() -> None:
    """Pressure alone has no deviator; no stress has index 0."""
    assert criterion_index(voigt(-1e6, -1e6, -1e6), ICE) == pytest.approx(0.0, abs=1e-9)
    assert criterion_index(voigt(), ICE) == 0.0


def test_line_average_of_a_linear_field_is_exact_and_of_a_singular_one_converges() -> None:
    """Mean of 3 - 2x over [0, l] is 3 - l; of x^-1/2 (from a small distance on) it tends to 2 / sqrt(l)."""
    length, errors = 0.37, []
    for n in (11, 101, 1001):
        x = np.linspace(0, 1, n) ** 2
        line = np.stack([x, 0 * x, 0 * x], axis=1)[None]
        linear = np.repeat((3 - 2 * x)[None, :, None], 6, axis=2)
        assert _average(line, linear, length) == pytest.approx(3 - length, abs=2e-3 if n == 11 else 1e-4)
        with np.errstate(divide="ignore"):
            singular = np.where(x > 0, x**-0.5, 0.0)[None, :, None] * np.ones(6)
        errors.append(abs(float(_average(line, singular, length)[0, 0]) * np.sqrt(length) / 2 - 1))
    assert errors[2] < errors[1] < errors[0]


def test_lines_are_as_long_as_asked_and_start_on_the_wall() -> None:
    """A stress equal to the distance from the axis averages to radius + L; starts lie on the wall (upright tube)."""
    model = build_half_model(TUBE, Placement(0.0, 0.13), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodes = model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T]
    radius = np.hypot(nodes[0], nodes[1])
    field = StressField(elements, np.repeat(radius[..., None], 6, axis=2))
    length = 0.006
    averaged, start, angle = wall_lines(model, field, np.full(model.beside.shape[0], length))
    assert np.hypot(start[:, 0], start[:, 1]) == pytest.approx(TUBE.radius, rel=2e-3)
    assert averaged[:, 0] == pytest.approx(TUBE.radius + length / 2, rel=3e-3)
    assert angle.min() == pytest.approx(0.0, abs=1e-6) and angle.max() == pytest.approx(pi, abs=1e-6)


def test_no_stress_has_no_onset() -> None:
    """A zero field is an error, never an infinite load."""
    model = build_half_model(TUBE, Placement(0.0, 0.05), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    with pytest.raises(ValueError, match="onset"):
        find_onset(model, StressField(elements, np.zeros((elements.size, 27, 6))), ICE, ICE)
