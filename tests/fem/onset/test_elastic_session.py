"""A session of elastic fields: what cases share is computed once, and no number changes."""

from __future__ import annotations

import numpy as np
import pytest
from samples import COARSEST
from samples import case as sample_case

from icecone.fem.onset.elastic import ElasticBody, ElasticSession, shape_of, solve_field
from icecone.fem.solid import condensation


def body(angle_deg: float, direction_deg: float = 0.0, attachment: str = "eye") -> ElasticBody:
    return ElasticBody.of(sample_case(angle_deg, direction_deg, 0.08, attachment, level=COARSEST))


def test_a_family_needs_one_factor_an_angle(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two angles, both attachments, two directions: two factorisations, one analysis; fields as one by one."""
    factors, analyses = [], []
    renew, begin = condensation.Elimination.renew, condensation.Elimination.__init__
    monkeypatch.setattr(
        condensation.Elimination, "renew", lambda self, upper: (factors.append(1), renew(self, upper))[1]
    )
    monkeypatch.setattr(
        condensation.Elimination, "__init__", lambda self, *given: (analyses.append(1), begin(self, *given))[1]
    )
    session = ElasticSession()
    groups = [[body(a, d, t) for d in (0.0, 60.0) for t in ("eye", "tied_off")] for a in (-20.0, 10.0)]
    found = [field for group in groups for field in session.fields(group)]
    assert (len(factors), len(analyses)) == (2, 1)
    monkeypatch.undo()
    for each, field in zip([b for group in groups for b in group], found, strict=True):
        alone = solve_field(each)
        assert field.compliance == pytest.approx(alone.compliance, rel=1e-9)
        assert field.shares.front == pytest.approx(alone.shares.front, rel=1e-9)
        size = np.abs(alone.stress.nodal).max()
        assert np.abs(field.stress.nodal - alone.stress.nodal).max() < 1e-9 * size


def test_bodies_of_two_angles_share_no_factor() -> None:
    """Handed in together they are refused, not solved on the wrong one."""
    with pytest.raises(ValueError, match="do not share"):
        ElasticSession().fields([body(0.0), body(10.0)])


def test_shape_leaves_out_what_only_loads() -> None:
    """Direction and attachment load a body; its angle shapes it."""
    assert shape_of(body(5.0, 30.0, "tied_off")) == shape_of(body(5.0))
    assert shape_of(body(5.0)) != shape_of(body(6.0))
