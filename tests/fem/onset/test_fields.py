"""Fields of a solved case: the order of nodes in files, the pressure on the wall of the hole."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import simpson

from icecone.fem.onset.fields import contact_pressure, vtk_order
from icecone.studies.case.file import settings_from
from icecone.studies.outcome.models import solve_settings


def test_vtk_order_is_a_permutation() -> None:
    """Each of the 27 nodes once."""
    assert sorted(vtk_order()) == list(range(27))


def pressure_error(level: str) -> float:
    """Relative error of the contact pressure's integral over the hole against the sum of the nodal contact forces."""
    _, solution = solve_settings(settings_from({"numerics.level": level, "placement.embedment_mm": 40.0}))
    model, pressure = solution.model, contact_pressure(solution)
    assert pressure.min() >= 0.0
    xi, eta, s = model.straight[:, model.pairs[0]]
    phi = np.arctan2(eta, xi)
    order = np.lexsort((phi, np.round(s, 9)))
    rows = np.unique(np.round(s, 9)).size
    grid_s, grid_phi, p = (value[order].reshape(rows, -1) for value in (s, phi, pressure))
    along = simpson(p, x=grid_phi, axis=1) * solution.case.tube.radius
    force = float(simpson(along, x=grid_s[:, 0]))
    nodal = float(solution.contact.force.sum())
    return abs(force / nodal - 1)


@pytest.mark.slow
def test_contact_pressure_carries_the_contact_force() -> None:
    """The pressure recovered from the ice's stress, integrated over the hole, tends to the nodal contact forces.

    Two independent results of one solve (upright tube): the error falls from `quick` to `standard`, to under 5 %.
    """
    coarse, fine = pressure_error("quick"), pressure_error("standard")
    assert fine < coarse and fine < 0.05
