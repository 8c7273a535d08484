"""The validation pack runs with the tests (quick checks always, the others as slow ones), and it can fail."""

from __future__ import annotations

import pytest

from icecone.materials import tensor
from icecone.studies.casefile import settings_from, to_case
from icecone.validation.check import Check
from icecone.validation.checks.meshes import FAMILY, extrapolate, standard_case
from icecone.validation.pack import chosen, missing, pack

IN_PLANE = {"hoop stress at the side", "hoop stress in front"}  # of a hole in plane strain: nu has no part in it


@pytest.mark.parametrize(
    "check", [pytest.param(c, id=c.name, marks=[pytest.mark.slow] if c.slow else []) for c in pack()]
)
def test_check(check: Check) -> None:
    """Every quantity of the check within its tolerance, at the rate that it demands."""
    if absent := missing(check):
        pytest.skip(f"needs {', '.join(absent)}: pip install icecone[reference]")
    found = check.measure()
    assert found.quantities
    wrong = [f"{q.name}: error {q.errors[-1]:.2g}, rate {q.rate}" for q in found.quantities if not q.passed]
    assert not wrong, f"{check.title}: {'; '.join(wrong)}"


@pytest.fixture
def wrong_nu(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stiffnesses are worked out with Poisson's ratio 10 % too large; the checks' references are not."""
    right = tensor.lame
    for place in ("materials.tensor", "fem.axisymmetric"):
        monkeypatch.setattr(f"icecone.{place}.lame", lambda E, nu: right(E, 1.1 * nu))


@pytest.mark.parametrize(
    ("name", "sound"),
    [
        ("lame", {"hoop stress at the bore"}),
        ("kirsch", IN_PLANE),
        ("layered", set()),
        ("pressure_on_circle", set()),
        ("hertz_point", set()),
    ],
)
@pytest.mark.usefixtures("wrong_nu")
def test_a_wrong_constant_fails_the_right_quantities(name: str, sound: set[str]) -> None:
    """All hang on nu but the stresses in the plane of one material under given tractions, which do not (Michell)."""
    (check,) = chosen([name])
    assert {quantity.name for quantity in check.measure().quantities if quantity.passed} == sound


def test_the_pack_covers_what_it_should() -> None:
    """At least 25 checks with a source each, in every group; other codes are asked for by the extra only."""
    assert len(pack()) >= 25
    groups = {check.group for check in pack()}
    assert groups == {"elasticity", "contact", "beam and pile", "threads", "ice", "codes", "mesh"}
    for check in pack():
        assert len(check.source) > 20 and check.title and check.part
        assert bool(check.needs) == (check.group == "codes")


def test_the_standard_case_of_the_mesh_study_is_that_of_the_defaults() -> None:
    """The case that `icecone example` describes."""
    assert standard_case() == to_case(settings_from({}, lambda name: ""))


def test_richardson() -> None:
    """f_n = 2 + 3 n^-p comes back exactly, with its rate; values that swing, or have settled, are not extrapolated."""
    for p in (1.0, 2.5):
        limit, rate = extrapolate(FAMILY, [2 + 3 * n**-p for n in FAMILY])
        assert limit == pytest.approx(2, abs=1e-9) and rate == pytest.approx(p, abs=1e-6)
    assert extrapolate(FAMILY, [1.0, 1.2, 1.1]) == (1.1, None)
    assert extrapolate(FAMILY, [1.0, 1.000001, 1.0000011]) == (1.0000011, None)
    assert extrapolate(FAMILY, [1.0, 1.1, 1.3]) == (1.3, None)
