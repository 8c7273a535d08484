"""The onset as written down: where it breaks, and what entered."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from icecone.studies.case.file import settings_from
from icecone.studies.outcome.data import known
from icecone.studies.outcome.models import solve_settings


def test_a_straight_pull_breaks_all_round() -> None:
    """Pulled along its own axis an upright tube has no front: no side is named (symmetry)."""
    outcome, _ = solve_settings(
        settings_from({"numerics.level": "quick", "pull.direction_deg": 90.0, "placement.embedment_mm": 50.0})
    )
    assert outcome.onset.place.endswith("all round the tube")


def test_a_size_effect_is_told_with_its_volume_and_factors() -> None:
    """In numbers and in a note; without one nothing is said, and the strength that entered is that of the case."""
    given = {"numerics.level": "quick", "placement.embedment_mm": 40.0, "placement.angle_deg": -20.0}
    given |= {"ice.crust_mm": 5.0, "crust.grain_size_mm": 0.5, "numerics.model": "onset"}
    plain, raised = (
        solve_settings(settings_from({**given, "ice.size_effect": word}))[0] for word in ("none", "weakest_link")
    )
    assert plain.onset.effective_volume_mm3 is None and plain.ice.size_factor is None and not plain.notes
    volume, crust = known(raised.onset.effective_volume_mm3), known(raised.crust)
    assert 1.0 < volume < 1e4 and 1.0 < known(raised.ice.size_factor) < known(crust.size_factor)
    assert raised.ice.tensile_MPa == plain.ice.tensile_MPa and raised.onset_kN > plain.onset_kN
    words = f"size effect: {volume:.3g} mm3 of ice under tension; in the onset its tensile strength counts "
    assert raised.notes == (
        f"{words}{raised.ice.size_factor:.3g} times in the ice and {crust.size_factor:.3g} times in the crust",
    )


@pytest.mark.slow
def test_record_holds_the_ice_crust_and_metal_that_entered() -> None:
    """What a reader of outcome.json needs to redo the case, in the units of the names."""
    given = {"placement.embedment_mm": 40, "numerics.level": "quick", "ice.crust_mm": 5, "ice.kind": "dense_waterfall"}
    given |= {"ice.column_tilt_deg": 30, "tube.metal": "titanium_alloy"}
    outcome, solution = solve_settings(settings_from(given))
    ice, crust, metal = outcome.ice, known(outcome.crust), outcome.metal
    assert (ice.kind, crust.kind, metal.kind) == ("dense_waterfall", "sun_crust", "titanium_alloy")
    assert 8.0 < ice.E_GPa < 9.5 and 2.0 < crust.E_GPa < 4.0 and metal.E_GPa == pytest.approx(114)
    assert (ice.tensile_MPa, crust.tensile_MPa) == pytest.approx((1.0, 0.4))
    length = (ice.K_IC_kPa_sqrt_m / ice.tensile_MPa) ** 2 / np.pi * 1e-3  # (kPa m^0.5 / MPa)^2 = 1e-6 m
    assert ice.critical_distance_mm == pytest.approx(length)
    assert ice.column_axis == pytest.approx([0.5, 0.0, sqrt(0.75)]) and crust.column_axis is None
    assert ice.stiffness_GPa["c33"] == pytest.approx(solution.case.ice.elastic.c33 / 1e9)
    assert 0 < outcome.onset.length_mm < 20
    assert solve_settings(settings_from({**given, "ice.crust_mm": 0}))[0].crust is None
