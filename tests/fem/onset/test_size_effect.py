"""Size effect on the onset: effective volumes in closed form, strength raised and energy not, no part of the mesh."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from samples import COARSE, ICE, TUBE, case, placed
from skfem import MeshHex, MeshHex2

from icecone.fem.onset.criterion import SHARES, factors_by_length, find_onset, line_lengths
from icecone.fem.onset.elastic import ElasticBody, solve_field
from icecone.fem.onset.size_effect import AS_STATED, raised_strength, stressed_volume, tension_index
from icecone.fem.onset.solve import onset_in, solve_onset
from icecone.fem.onset.wall_lines import WallLines
from icecone.fem.solid.stress import StressField
from icecone.geometry.half_model import HalfModel, build_half_model
from icecone.geometry.layers import LEVELS
from icecone.materials import default_assumed
from icecone.materials.spread import Spread
from icecone.materials.weakest_link import WeakestLink, largest_factor

RATIO = default_assumed().sliding_ratio
FREE = replace(ICE, grain_size=1e-9, toughness=0.03e6)  # no bound; lines of 0.4 mm: strength decides
LAW = WeakestLink(Spread("weibull", 1.0, 0.23), 1e-4)
S = 1e5  # Pa


def block(length: float, width: float, height: float, times: int) -> HalfModel:
    """A box of ice alone, its half y >= 0 being the mesh: what the volumes ask of a half model."""
    mesh = MeshHex2.from_mesh(
        MeshHex.init_tensor(*(np.linspace(0, side, times + 1) for side in (length, width, height)))
    )
    regions = {"ice": np.arange(mesh.nelements), "crust": np.zeros(0, int)}
    return cast(HalfModel, SimpleNamespace(mesh=mesh, regions=regions))


def pulled(model: HalfModel, tension: Any) -> StressField:
    """Uniaxial tension, a function of the coordinates (3, ...) [m], at the nodes [Pa]."""
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodal = np.zeros((elements.size, 27, 6))
    nodal[..., 2] = tension(model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T])
    return StressField(elements, nodal)


def counted(model: HalfModel, field: StressField, largest: float, modulus: float) -> float:
    """V_e [m3] where the stress `largest` [Pa] decides."""
    index, volume = tension_index(model, field, ICE, ICE)
    return stressed_volume(index, volume, largest / ICE.tensile_strength, modulus)


def test_a_beam_in_pure_bending_counts_by_a_closed_form() -> None:
    """V_e = V / (2 (m + 1)), V both halves; even tension counts whole, pressure not at all."""
    length, width, height = 0.3, 0.02, 0.05
    beam, whole = block(length, width, height, 4), 2 * length * width * height
    for m in (1, 3, 5):
        field = pulled(beam, lambda x: S * (2 * x[2] / height - 1))
        assert counted(beam, field, S, m) == pytest.approx(whole / (2 * (m + 1)), rel=1e-10)
    assert counted(beam, pulled(beam, lambda x: S + 0 * x[0]), S, 5) == pytest.approx(whole, rel=1e-12)
    assert counted(beam, pulled(beam, lambda x: -S + 0 * x[0]), S, 5) == 0.0


@pytest.mark.parametrize(("n", "m"), [(1.0, 4.0), (2.0, 5.0), (0.5, 5.0)])
def test_stress_that_dies_away_from_a_hole_counts_by_a_closed_form(n: float, m: float) -> None:
    """s (R / r)^n above the hole's bottom, counted from c s on: ice inside r_c = R c^(-1/n) as c s, outside as r^-n."""
    c, R, model = 0.8, TUBE.radius, build_half_model(TUBE, placed(), level=replace(COARSE, ring=0.001, growth=0.3))
    inside = pulled(model, lambda x: S * (R / np.maximum(np.hypot(x[0], x[1]), 0.9 * R)) ** n)
    index, volume = tension_index(model, inside, ICE, ICE)
    beside = np.isin(np.repeat(model.regions["ice"], index.size // model.regions["ice"].size), model.beside)
    found = stressed_volume(index[beside], volume[beside], c * S / ICE.tensile_strength, m)
    height, far, r_c = (
        2 * float(volume[beside].sum()),
        float(np.hypot(*model.mesh.doflocs[:2]).max()),
        R * c ** (-1 / n),
    )
    height /= pi * (far**2 - R**2)
    q = n * m - 2
    tail = np.log(far / r_c) * r_c**2 if q == 0 else r_c**2 / q * (1 - (r_c / far) ** q)
    assert found == pytest.approx(pi * height * (r_c**2 - R**2 + 2 * tail), rel=0.01)
    assert index.max() > 1.2 * c * S / ICE.tensile_strength


def test_even_tension_is_raised_by_the_whole_volume() -> None:
    """t = sigma_t (V_0 / V)^(1/m) / s, V all of the ice, with or without a crust of the same ice."""
    for crust in (0.0, 0.02):
        model = build_half_model(TUBE, placed(), crust, COARSE)
        field = pulled(model, lambda x: S + 0 * x[0])
        whole = 2 * float(tension_index(model, field, FREE, FREE)[1].sum())
        found = raised_strength(WallLines(model, field), FREE, FREE, RATIO, LAW)
        k = (LAW.reference_volume / whole) ** (1 / LAW.modulus)
        assert found.volume == pytest.approx(whole, rel=1e-6) and found.factors == pytest.approx((k, k), rel=1e-4)
        onset = find_onset(WallLines(model, field), FREE, FREE, RATIO, found.factors)
        assert onset.load_factor == pytest.approx(k * FREE.tensile_strength / S, rel=1e-4) and k < 0.8


def test_the_factor_and_its_volume_hold_together() -> None:
    """Stress s (1 - x/w): the mean over 2 L / k^2, at k sigma_t, is the stress from which V_e and so k follow."""
    w, model = 0.03, build_half_model(TUBE, placed(), level=COARSE)
    field = pulled(model, lambda x: S * (1 - (np.hypot(x[0], x[1]) - TUBE.radius) / w))
    ice = replace(FREE, toughness=0.12e6 * 0.7)
    law = replace(LAW, reference_volume=1e-3)
    found = raised_strength(WallLines(model, field), ice, ice, RATIO, law)
    k = found.factors[0]
    mean = S * (1 - ice.critical_distance / k**2 / w)
    assert 1.05 < k < 3.0
    assert counted(model, field, mean, law.modulus) == pytest.approx(found.volume, rel=0.01)
    assert law.factor(found.volume or 0.0) == pytest.approx(k, rel=1e-4)
    assert find_onset(WallLines(model, field), ice, ice, RATIO, found.factors).load_factor == pytest.approx(
        k * ice.tensile_strength / mean, rel=0.01
    )


def test_a_crack_takes_no_size_effect() -> None:
    """Tension K / sqrt(2 pi x) averages to K / sqrt(pi a): t = K_IC / K at any strength; even tension goes with k."""
    K = 2e4
    for k in (0.5, 1.0, 2.0):
        longest = np.array([[ICE.critical_distance / k**2], [ICE.shear_distance(RATIO)]])
        averaged = np.zeros((2, len(SHARES), 1, 6))
        averaged[0, ..., 0] = K / np.sqrt(pi * line_lengths(longest)[0] / 2)
        found = factors_by_length(averaged, longest, longest, ICE, k)[0]
        assert found == pytest.approx(np.full_like(found, ICE.toughness / K), rel=1e-12)
        averaged[0, ..., 0] = S
        even = factors_by_length(averaged, longest, longest, ICE, k)[0].min()
        assert even == pytest.approx(k * ICE.tensile_strength / S, rel=1e-12)


def test_the_grain_bounds_a_small_volume_and_each_ice_has_its_own() -> None:
    """Tension within some millimetres of the mouth: k at the bound of the ice, and of the crust's ice."""
    crust_ice = replace(ICE, grain_size=0.5 * ICE.grain_size)
    model = build_half_model(TUBE, placed(), 0.02, COARSE)
    field = pulled(model, lambda x: S * np.exp(-np.hypot(np.hypot(x[0], x[1]) - TUBE.radius, x[2]) / 0.005))
    found = raised_strength(WallLines(model, field), ICE, crust_ice, RATIO, LAW)
    assert found.factors == (largest_factor(ICE), largest_factor(crust_ice)) and 1 < found.factors[0] < found.factors[1]
    squeezed = pulled(model, lambda x: -S + 0 * x[0])
    assert raised_strength(WallLines(model, squeezed), ICE, ICE, RATIO, LAW).volume == 0.0


def test_a_case_chooses_and_tension_alone_moves() -> None:
    """Leaning away by 20 deg tension is raised; shear and crushing keep their factors; the field is the same."""
    plain = case(-20.0, embedment=0.05, level=COARSE)
    field = solve_field(ElasticBody.of(plain))
    stated, raised = (onset_in(field, replace(plain, size_effect=word)) for word in ("none", "weakest_link"))
    assert stated.size_effect == AS_STATED and stated.onset.mode == "tension"
    assert 1.0 < raised.onset_load / stated.onset_load <= raised.size_effect.factors[0] * (1 + 1e-12)
    assert raised.onset.length < stated.onset.length or raised.onset.mode == "shear"
    strong = replace(plain, ice=replace(ICE, tensile_strength=1e8), size_effect="weakest_link")
    assert onset_in(field, strong).onset_load == onset_in(field, replace(strong, size_effect="none")).onset_load
    with pytest.raises(ValueError, match="size_effect = 'weibull'"):
        replace(plain, size_effect="weibull")


@pytest.mark.slow
def test_the_effective_volume_of_a_singular_field_has_a_limit() -> None:
    """Halved elements at the mouth: the raw peak goes on growing, V_e and the onset settle within 2 and 0.5 %."""
    sizes = [replace(LEVELS["quick"], ring=ring, mouth=ring) for ring in (0.001, 0.0005, 0.00025)]
    solved = [solve_onset(case(-20.0, embedment=0.05, level=size, size_effect="weakest_link")) for size in sizes]
    peaks = [tension_index(each.model, each.stress, ICE, ICE)[0].max() for each in solved]
    assert all(b > 1.05 * a for a, b in pairwise(peaks))
    assert solved[2].size_effect.volume == pytest.approx(solved[1].size_effect.volume, rel=0.02)
    assert solved[2].onset_load == pytest.approx(solved[1].onset_load, rel=0.005)
