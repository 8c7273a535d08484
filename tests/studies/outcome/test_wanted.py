"""A record of what was asked for: the numbers of a whole outcome, and nothing solved that was not asked for."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from samples import settings
from studystub import STRAIGHT, made_up_record

from icecone.fem.cone import straight, tilted
from icecone.fem.onset import elastic
from icecone.fem.tube import band, peak
from icecone.geometry.errors import MeshError
from icecone.studies.case.file import to_case
from icecone.studies.files import provenance
from icecone.studies.outcome import cone
from icecone.studies.outcome.models import solve_settings
from icecone.studies.outcome.wanted import LAWS_APART, WANTS, Found, columns, rests_on, solve_wanted

CASE = {"placement__angle_deg": -15.0, "placement__embedment_mm": 60.0, "numerics__level": "quick"}


def given(found: Found) -> dict[str, Any]:
    return {name: value for name, value in asdict(found).items() if value is not None}


def refuse(*arguments: Any, **keywords: Any) -> Any:
    raise AssertionError("not asked for")


def test_a_peak_alone_solves_one_pull_and_no_mesh(monkeypatch: pytest.MonkeyPatch) -> None:
    """No onset, no ladder, no band, no cone; the record holds what a peak gives."""
    for module, name in ((elastic, "kept_field"), (straight, "solve_cone"), (tilted, "solve_tilted_cone")):
        monkeypatch.setattr(module, name, refuse)
    for module, name in ((peak, "solve_peak"), (band, "ends"), (elastic, "build_half_model")):
        monkeypatch.setattr(module, name, refuse)
    pulls = []
    pull = peak.solve_pull
    monkeypatch.setattr(peak, "solve_pull", lambda *a, **k: pulls.append(1) or pull(*a, **k))
    found, laws = solve_wanted(settings(**CASE), ["peak"])
    assert len(pulls) == 1
    assert set(given(found)) <= {column.name for column in columns(("peak",))}
    assert found.peak_kN and found.peak_mode and found.ended_by and laws


@pytest.mark.slow
def test_a_record_has_the_numbers_of_the_whole_outcome() -> None:
    """Peak, rivals, band and onset, to the last digit."""
    whole, _ = solve_settings(settings(**CASE, numerics__model="peak"))
    found, laws = solve_wanted(settings(**CASE), ["peak", "rivals", "band", "onset"])
    told = {
        **whole.to_dict(),
        **{f"{end}_{load}_kN": of[load] for end, of in whole.the_peak.band.items() for load in of},
    }
    assert given(found) == {name: told[name] for name in given(found)}
    assert {column.want for column in columns() if column.name in given(found)} == {"peak", "rivals", "band", "onset"}
    assert laws == whole.laws


def test_a_cone_alone_has_the_words_of_the_cone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its load stands beside a peak's under a name of its own; nothing is pulled."""
    monkeypatch.setattr(peak, "solve_pull", refuse)
    whole = made_up_record(settings(**CASE), peak_kN=7.5, cone={"path_mm": [[10.0, -40.0], [30.0, -20.0]], **STRAIGHT})
    monkeypatch.setattr(cone, "cone_found", lambda case: {"peak_kN": whole.peak_kN, "cone": whole.the_cone})
    found, laws = solve_wanted(settings(**CASE), ["cone"])
    names = {f"cone_{name}": whole.to_dict()[f"cone_{name}"] for name in ("start", "depth_mm", "angle_deg")}
    assert given(found) == {"cone_kN": 7.5, **names} and laws == {}


def test_rivals_do_not_change_the_peak_that_stands_beside_them() -> None:
    alone, _ = solve_wanted(settings(**CASE), ["peak"])
    both, _ = solve_wanted(settings(**CASE), ["peak", "rivals"])
    assert given(alone).items() <= given(both).items()
    assert both.next_kN is not None and both.margin is not None
    rivals, _ = solve_wanted(settings(**CASE), ["rivals"])
    assert given(rivals) == {
        name: value for name, value in given(both).items() if name in ("next_mode", "next_kN", "margin")
    }


def test_a_placement_that_cannot_be_built_is_told_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*arguments: Any, **keywords: Any) -> Any:
        raise ValueError("bore = 0: must be positive")

    monkeypatch.setattr(peak, "solve_pull", broken)
    with pytest.raises(MeshError, match="bore = 0"):
        solve_wanted(settings(**CASE), ["peak"])


STRENGTHS: tuple[dict[str, Any], ...] = (
    {"ice__tensile_MPa": 0.7},
    {"ice__K_IC_kPa_sqrt_m": 60.0},
    {"ice__compressive_MPa": 3.0, "ice__deviator_cap_MPa": 20.0},
    {"assumed__sliding_ratio": 1.5, "tube__hanger_kN": 5.0, "tube__yield_MPa": 400.0, "crust__kind": "firn"},
)
OTHER_FIELDS: tuple[dict[str, Any], ...] = (
    {"placement__angle_deg": -14.0},
    {"placement__attachment": "tied_off"},
    {"pull__direction_deg": 1.0},
    {"tube__wall_mm": 1.6},
    {"tube__metal": "titanium_alloy"},
    {"ice__E_GPa": 9.0},
    {"ice__crust_mm": 5.0},
    {"ice__crust_mm": 5.0, "crust__E_GPa": 2.0},
    {"numerics__level": "standard"},
)


@pytest.mark.slow
def test_a_field_serves_every_onset_that_differs_in_strengths_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many contacts as bodies, and the numbers of each case alone, to the last bit."""
    contacts: list[int] = []
    solve = elastic.ElasticSession.fields
    monkeypatch.setattr(elastic.ElasticSession, "fields", lambda *a, **k: contacts.append(1) or solve(*a, **k))

    def alone(case: dict[str, Any]) -> Found:
        elastic.kept_field.cache_clear()
        return solve_wanted(settings(**CASE, **case), ["onset"])[0]

    one_by_one = [alone(case) for case in STRENGTHS]
    assert len(contacts) == len(STRENGTHS)
    elastic.kept_field.cache_clear()
    contacts.clear()
    together = [solve_wanted(settings(**CASE, **case), ["onset"])[0] for case in STRENGTHS]
    assert len(contacts) == 1 and together == one_by_one
    assert len({found.onset_kN for found in together}) > 2
    assert alone({}) == solve_wanted(settings(**CASE), ["onset"])[0] and len(contacts) == 2


def test_all_that_moves_a_field_is_in_its_key() -> None:
    """Strengths leave a body as it is; geometry, stiffness, pull and level make another."""

    def body(case: dict[str, Any]) -> elastic.ElasticBody:
        return elastic.ElasticBody.of(to_case(settings(**{**CASE, **case})))

    assert {body(case) for case in STRENGTHS} == {body({})}
    assert len({body(case) for case in ({}, *OTHER_FIELDS)}) == 1 + len(OTHER_FIELDS)


def test_an_onset_rests_on_the_code_of_field_and_criterion() -> None:
    """A kept field voids with its code: both are followed from what solves an onset."""
    roots = ("icecone.studies.outcome.wanted._onset", "icecone.studies.outcome.wanted.solve_wanted")
    files = {file.relative_to(provenance.TOP).as_posix() for file in provenance.used_files(roots, apart=LAWS_APART)}
    assert {"fem/onset/elastic.py", "fem/onset/solve.py", "fem/onset/criterion.py", "fem/solid/contact.py"} <= files


def test_columns_say_what_they_are_and_in_what_unit() -> None:
    """Every want has columns; a name's end is its unit; words have none."""
    assert {column.want for column in columns()} == set(WANTS)
    units = {column.name: column.unit for column in columns()}
    assert units["peak_kN"] == "kN" and units["compliance_mm_per_kN"] == "mm/kN" and units["margin"] == ""
    for column in columns():
        assert column.words and not (column.unit and not column.is_number)


def test_a_peak_does_not_rest_on_code_that_it_never_runs() -> None:
    """The onset's solve, the band and what only computes kept laws may change without voiding a peak."""
    roots = ("icecone.studies.outcome.wanted._peak", "icecone.studies.outcome.wanted.solve_wanted")
    files = {file.relative_to(provenance.TOP).as_posix() for file in provenance.used_files(roots, apart=LAWS_APART)}
    assert "fem/tube/pull.py" in files and "fem/laws/gather.py" in files and "fem/laws/recipes.py" in files
    assert not files & {"fem/tube/band.py", "fem/chip/path.py", "fem/crushing/disc.py", "studies/outcome/peak.py"}
    assert len({rests_on([want]) for want in ("peak", "band", "onset", "cone")}) == 4


def test_what_a_record_rests_on_names_the_libraries(monkeypatch: pytest.MonkeyPatch) -> None:
    told = rests_on(["peak"])
    assert all(f"; {name} " in told for name in ("numpy", "scipy", "scikit-fem"))
    monkeypatch.setattr("icecone.studies.outcome.wanted.version", lambda name: "7.0")
    assert rests_on(["peak"]).endswith("; mkl 7.0; pypardiso 7.0")


def test_an_edit_of_what_is_kept_apart_voids_nothing(tmp_path: Path) -> None:
    """Imports inside the functions of a module kept apart do not count; the module itself does."""
    room = tmp_path / "fem"
    room.mkdir()
    for name, text in (("__init__", ""), ("a", "from . import law\n"), ("law", "def f():\n    from . import deep\n")):
        (room / f"{name}.py").write_text(text)
    (room / "deep.py").write_text("X = 1\n")

    def names(*apart: str) -> set[str]:
        return {file.name for file in provenance.used_files(("icecone.fem.a",), tmp_path, apart=apart)}

    assert names() == {"__init__.py", "a.py", "law.py", "deep.py"}
    assert names("icecone.fem.law") == {"__init__.py", "a.py", "law.py"}
