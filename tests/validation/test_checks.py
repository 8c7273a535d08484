"""The validation pack runs with the tests (quick checks always, the others as slow ones), and it can fail."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from skfem import MeshHex2

from icecone.fem.solid.contact import solve_gaps
from icecone.fem.solid.elasticity import spread_force
from icecone.materials import tensor
from icecone.materials.tensor import Transverse
from icecone.studies.case.file import settings_from, to_case
from icecone.validation.check import Check
from icecone.validation.checks.mesh.meshes import FAMILY, REPORTED, extrapolate, standard_case
from icecone.validation.pack import FAILED, chosen, missing, pack, run_check

Array = NDArray[np.float64]
SLOW = pytest.mark.slow
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
    for place in ("materials.tensor", "fem.solid.axisymmetric"):
        monkeypatch.setattr(f"icecone.{place}.lame", lambda E, nu: right(E, 1.1 * nu))


@pytest.mark.parametrize(
    ("name", "sound"),
    [
        ("lame", {"hoop stress at the bore"}),
        ("kirsch", IN_PLANE),
        pytest.param("layered", set(), marks=SLOW),
        pytest.param("pressure_on_circle", set(), marks=SLOW),
        ("hertz_point", set()),
    ],
)
@pytest.mark.usefixtures("wrong_nu")
def test_a_wrong_constant_fails_the_right_quantities(name: str, sound: set[str]) -> None:
    """All hang on nu but the stresses in the plane of one material under given tractions, which do not (Michell)."""
    (check,) = chosen([name])
    assert {quantity.name for quantity in check.measure().quantities if quantity.passed} == sound


def _all_closed(S: Array, c: Array) -> tuple[Array, NDArray[np.bool_], int]:
    return np.zeros(c.size), np.ones(c.size, bool), 1


def _open_where_pressed(S: Array, c: Array) -> tuple[Array, NDArray[np.bool_], int]:
    gap, closed, steps = solve_gaps(S, -c)
    return -gap, closed, steps


_along = Transverse.along


def _mirrored(crystal: Transverse, axes: Array) -> Array:
    return _along(crystal, np.asarray(axes) * (1, -1, 1))


def _unsolved(mass: object, right: Array) -> Array:
    return right


def _off_by_a_twentieth(mesh: MeshHex2, elements: NDArray[np.int64], force: Array, at: Array) -> Array:
    return spread_force(mesh, elements, force, np.asarray(at) * 1.05)


@pytest.mark.parametrize(
    ("place", "wrong", "name"),
    [
        ("validation.checks.contact.hertz.solve_gaps", _all_closed, "hertz_point"),
        ("validation.checks.contact.hertz.solve_gaps", _open_where_pressed, "hertz_point"),
        ("validation.checks.contact.complementarity.solve_gaps", _all_closed, "contact_programme"),
        pytest.param("fem.solid.stress._Mass._solve", _unsolved, "kirsch", marks=SLOW),
        ("materials.tensor.Transverse.along", _mirrored, "anisotropic"),
        pytest.param(
            "validation.checks.elasticity.halfspace.spread_force", _off_by_a_twentieth, "mindlin_horizontal", marks=SLOW
        ),
    ],
)
def test_a_fault_put_in_is_found(monkeypatch: pytest.MonkeyPatch, place: str, wrong: object, name: str) -> None:
    """Contact without gaps or of the wrong sign, a sloppy recovery, a turned crystal, a load at another place.

    Without the fault each check passes (`test_check`).
    """
    (check,) = chosen([name])
    monkeypatch.setattr(f"icecone.{place}", wrong)
    kept = [value for value in vars(sys.modules[check.measure.__module__]).values() if hasattr(value, "cache_clear")]
    for function in kept:
        function.cache_clear()
    assert run_check(check).verdict == FAILED
    for function in kept:
        function.cache_clear()


def test_the_pack_covers_what_it_should() -> None:
    """At least 25 checks with a source each, in every group; other codes are asked for by the extra only."""
    assert len(pack()) >= 25
    groups = {check.group for check in pack()}
    assert groups == {
        *("elasticity", "contact", "beam and pile", "threads", "ice", "crushing", "fracture", "codes", "mesh")
    }
    for check in pack():
        assert len(check.source) > 20 and check.title and check.part
        assert bool(check.needs) == (check.group == "codes")


def test_the_standard_case_of_the_mesh_study_is_that_of_the_defaults() -> None:
    """The case that `icecone example` describes."""
    assert standard_case() == to_case(settings_from({}, lambda name: ""))


def test_the_readme_states_what_the_check_holds() -> None:
    """The table of what the mesh costs, in the README of validation, row by row."""
    readme = (Path(__file__).resolve().parents[2] / "validation" / "README.md").read_text(encoding="utf-8")
    for what in REPORTED:
        shown = " | ".join(f"{value} {'points' if what.scale else '%'}" for value in what.stated)
        assert f"| {what.name} | {shown} |" in readme
        for at, value in enumerate(what.stated):
            least, most = what.band(at)
            assert least < float(value) / 100 < most and most - least <= 0.01


def test_richardson() -> None:
    """f_n = 2 + 3 n^-p comes back exactly, with its rate; values that swing, or have settled, are not extrapolated."""
    three = FAMILY[1:]
    for p in (1.0, 2.5):
        limit, rate = extrapolate(three, [2 + 3 * n**-p for n in three])
        assert limit == pytest.approx(2, abs=1e-9) and rate == pytest.approx(p, abs=1e-6)
    assert extrapolate(three, [1.0, 1.2, 1.1]) == (1.1, None)
    assert extrapolate(three, [1.0, 1.000001, 1.0000011]) == (1.0000011, None)
    assert extrapolate(three, [1.0, 1.1, 1.3]) == (1.3, None)
