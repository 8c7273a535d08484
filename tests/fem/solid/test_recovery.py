"""Stress recovered for many displacements at once, by a factor or by conjugate gradients."""

from __future__ import annotations

import numpy as np
import pytest
from samples import COARSEST, ICE_MODULI, STEEL_MODULI, TUBE

from icecone.fem.solid import stress
from icecone.fem.solid.stress import Recovery, recover
from icecone.geometry.half_model import build_half_model
from icecone.geometry.placement import Placement
from icecone.materials.tensor import isotropic


@pytest.mark.parametrize("method", ["pardiso", "cholmod"])
def test_many_at_once_are_each_alone_by_either_way(method: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Columns of very different size, one of them zero; "cholmod" takes conjugate gradients here."""
    model = build_half_model(TUBE, Placement(0.3, 0.1), level=COARSEST, far=0.2)
    regions = [(model.regions["ice"], isotropic(*ICE_MODULI)), (model.regions["tube"], isotropic(*STEEL_MODULI))]
    x = model.mesh.doflocs.T
    u = np.stack([(x**2).ravel(), 1e-6 * np.sin(30 * x).ravel(), 0 * x.ravel()], axis=1)
    alone = [recover(model.mesh, column, regions) for column in u.T]
    monkeypatch.setattr(stress, "choose_method", lambda n: method)
    for one, field in zip(alone, Recovery(model.mesh, regions).fields(u), strict=True):
        assert np.array_equal(one.elements, field.elements)
        assert np.abs(field.nodal - one.nodal).max() <= 1e-9 * np.abs(one.nodal).max()
