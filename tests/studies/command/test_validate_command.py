"""`icecone validate`: verdicts, files, exit codes, going on after a stop; on checks made up for the tests."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from icecone.studies.command.main import main
from icecone.studies.figures import style
from icecone.studies.files.store import TEMPORARY, read_any, write_record
from icecone.studies.outcome.cautions import CAUTION
from icecone.studies.validating import figures
from icecone.studies.validating.page import cells, percent
from icecone.validation import pack as packs
from icecone.validation.check import Check, Curve, Measured, Quantity, measured_from

TOP = Path(__file__).resolve().parents[3]
GOOD = Quantity("sag", "mm", 2.0, (2.2, 2.05, 2.0125), 0.01, "made up", (4.0, 2.0, 1.0), None, 1.8)


def quantity(**changes: object) -> Quantity:
    plain = {name: getattr(GOOD, name) for name in GOOD.__dataclass_fields__}
    return Quantity(**{**plain, **changes})  # type: ignore[arg-type]


def test_error_and_rate() -> None:
    """Errors 10, 2.5 and 0.625 % over halved sizes: second order."""
    assert GOOD.errors == pytest.approx((0.1, 0.025, 0.00625))
    assert GOOD.rate == pytest.approx(2) and GOOD.passed


@pytest.mark.parametrize(
    ("changes", "passes"),
    [
        ({}, True),
        ({"tolerance": 0.006}, False),
        ({"least_rate": 2.1}, False),
        ({"ours": (1.8, 1.95, 1.9875)}, True),
        ({"ours": (1.8, 1.95, 1.97)}, False),
        ({"ours": (2.0, 2.0, 2.0), "least_rate": 9.0}, True),
        ({"ours": (2.01, 2.01, 2.01)}, False),
        ({"reference": 0.0, "scale": 1.0}, False),
        ({"reference": 0.0, "scale": 1000.0, "least_rate": None}, True),
        ({"ours": (2.2, 1.95, 2.0125)}, False),
        ({"ours": (2.01, 2.05, 2.0125)}, False),
        ({"ours": (1.95, 2.2, 2.0125), "least_rate": None}, True),
        ({"tolerance": 0.01, "least_error": 0.006}, True),
        ({"tolerance": 0.01, "least_error": 0.007}, False),
        ({"tolerance": -0.01, "least_error": -0.02}, False),
        ({"tolerance": -0.01, "least_error": -0.02, "ours": (1.8, 1.9, 1.97), "least_rate": None}, True),
        ({"tolerance": -0.01, "least_error": -0.02, "ours": (1.8, 1.9, 1.95), "least_rate": None}, False),
    ],
)
def test_a_quantity_passes_where_error_and_rate_do(changes: dict[str, object], passes: bool) -> None:
    """Error over the scale, signs apart or within a band; where a rate is stated errors fall at it with one sign."""
    assert quantity(**changes).passed is passes


@pytest.mark.parametrize(
    "changes",
    [
        {"ours": (2.0, 2.0)},
        {"ours": (2.0, 2.0, float("nan"))},
        {"tolerance": float("inf")},
        {"tolerance": -1.0},
        {"tolerance": 0.01, "least_error": 0.02},
        {"because": " "},
        {"reference": 0.0},
        {"sizes": (1.0, 2.0, 4.0)},
        {"sizes": (), "ours": ()},
    ],
)
def test_a_quantity_that_makes_no_sense_is_refused(changes: dict[str, object]) -> None:
    """Lengths that differ, numbers that are not finite, errors relative to zero, sizes that grow."""
    with pytest.raises(ValueError, match="sag"):
        quantity(**changes)


def test_a_check_that_measures_nothing_does_not_pass() -> None:
    """No quantity is no agreement."""
    assert not Measured(()).passed


def test_a_share_is_off_by_points() -> None:
    """0.52 of the pull instead of 0.47 is 5 points, not 5 %."""
    share = quantity(reference=0.47, ours=(0.5, 0.51, 0.52), scale=1.0, tolerance=0.06, least_rate=None)
    assert cells(share)[2:4] == ("+5.00 points", "6.00 points")
    known = replace(share, least_error=0.02)
    assert cells(known)[3] == "+2.00 points to +6.00 points"


def test_what_was_measured_survives_the_file() -> None:
    """Through JSON and back."""
    curve = Curve("sag", "x [m]", "y [mm]", ((0.0, 1.0), (1.0, 2.0)), ((0.5,), (1.5,)))
    found = Measured((GOOD, quantity(name="other")), (curve,))
    assert measured_from(json.loads(json.dumps(found.to_plain()))) == found


def test_numbers_as_they_are_printed() -> None:
    """Per cent with a sign; round-off as a power of ten; the rate only where one is demanded."""
    assert [percent(x) for x in (0.0, -0.0123, 0.00012, 3e-12)] == ["0", "-1.23 %", "+0.012 %", "3e-12"]
    assert cells(GOOD) == ("2 mm", "2.2, 2.05, 2.0125", "+0.63 %", "1.00 %", "2.00", "pass")
    assert cells(quantity(least_rate=None))[-2:] == ("", "pass")


Made = Callable[[], Measured]


class Pack:
    """Four checks made up for the test; `calls` counts what was measured."""

    def __init__(self) -> None:
        self.calls: list[str] = []

    def check(self, name: str, measure: Made, **more: object) -> Check:
        def counted() -> Measured:
            self.calls.append(name)
            return measure()

        words = ("elasticity", f"title of {name}", f"source of {name}", "closed form", f"part of {name}")
        return Check(name, *words, counted, **more)  # type: ignore[arg-type]

    def checks(self) -> tuple[Check, ...]:
        def broken() -> Measured:
            raise ArithmeticError("the beam\nbroke")

        return (
            self.check("good", lambda: Measured((GOOD,), (Curve("c", "x", "y", ((0, 1), (0, 1)), ((0,), (0,))),))),
            self.check("bad", lambda: Measured((quantity(tolerance=1e-9),))),
            self.check("broken", broken),
            self.check("elsewhere", lambda: Measured((GOOD,)), needs=("no_such_package",)),
        )


@pytest.fixture
def made_up(monkeypatch: pytest.MonkeyPatch) -> Pack:
    """The pack with checks made up in its place; its pictures are not drawn."""
    found = Pack()
    monkeypatch.setattr(figures, "save", lambda figure, path: path.write_bytes(b"picture"))
    checks = found.checks()
    monkeypatch.setattr(packs, "pack", lambda: checks)
    return found


def run(*arguments: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["validate", *arguments])
    return result.exit_code, result.stdout, result.stderr


def test_verdicts_files_and_exit_code(made_up: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check that fails, breaks or cannot be run is told apart, takes no other with it, and ends in exit code 1."""
    monkeypatch.setattr(figures, "save", style.save)
    code, out, err = run("--out", str(tmp_path))
    assert code == 1 and err.splitlines()[-1] == "icecone: 2 of 4 checks fail: bad, broken"
    assert "4 checks, 2 quantities: 1 pass, 2 fail, 1 not run (packages missing)" in " ".join(out.split())
    assert CAUTION in " ".join(out.split())
    rows = list(csv.DictReader((tmp_path / "table.csv").open()))
    assert [(row["check"], row["verdict"]) for row in rows] == [
        ("good", "pass"),
        ("bad", "FAIL"),
        ("broken", "FAIL"),
        ("elsewhere", "not run"),
    ]
    assert rows[2]["problem"] == "ArithmeticError: the beam broke" and "icecone[reference]" in rows[3]["problem"]
    page = (tmp_path / "validation.md").read_text(encoding="utf-8")
    for words in ("source of good", "part of bad", "| 2 mm | 2.2, 2.05, 2.0125 |", "made up", CAUTION):
        assert words in page
    pictures = re.findall(r"\]\((\w+\.png)\)", page)
    assert pictures == ["errors.png", "convergence.png", "profiles.png"]
    assert all((tmp_path / name).read_bytes().startswith(b"\x89PNG") for name in pictures)


def test_it_goes_on_where_it_was(made_up: Pack, tmp_path: Path) -> None:
    """What was measured is not measured again, unless its file is damaged; what broke is tried again."""
    run("--out", str(tmp_path))
    run("--out", str(tmp_path))
    assert made_up.calls == ["good", "bad", "broken", "broken"]
    kept = tmp_path / "checks" / "good.json"
    kept.write_text(kept.read_text(encoding="utf-8").replace("2.05", "2.06"), encoding="utf-8")
    _, _, err = run("--out", str(tmp_path))
    assert "not trusted" in err and made_up.calls.count("good") == 2


@pytest.mark.parametrize("wrong", [{}, {"measured": None, "seconds": 1}, {"measured": {"quantities": [{}]}}])
def test_a_signed_file_that_is_no_finding_is_measured_again(
    made_up: Pack, tmp_path: Path, wrong: dict[str, object]
) -> None:
    """Its digest is right, its content is nonsense."""
    run("--only", "good", "--out", str(tmp_path))
    kept = tmp_path / "checks" / "good.json"
    version, _, _ = read_any(kept)
    write_record(kept, wrong, version)
    code, _, err = run("--only", "good", "--out", str(tmp_path))
    assert code == 0 and "not trusted" in err and made_up.calls == ["good", "good"]


@pytest.mark.parametrize("name", ["icecone.studies.validating.run.stamp", "icecone.studies.files.provenance.version"])
def test_other_code_or_another_library_is_measured_anew(
    made_up: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """What was measured counts for the code and the libraries that measured it."""
    run("--only", "good", "--out", str(tmp_path))
    monkeypatch.setattr(name, lambda *_: "another")
    run("--only", "good", "--out", str(tmp_path))
    assert made_up.calls == ["good", "good"]


def test_only_some(made_up: Pack, tmp_path: Path) -> None:
    """By name, by group; exit code 0 where all asked for pass; the page says that it is not the whole pack."""
    code, out, _ = run("--only", "good", "--out", str(tmp_path))
    assert code == 0 and made_up.calls == ["good"] and "1 pass" in out
    assert "1 pass (of 4 checks in the pack" in (tmp_path / "validation.md").read_text(encoding="utf-8")
    assert run("--only", "elasticity", "--out", str(tmp_path))[0] == 1


def test_only_some_keeps_what_the_folder_knows(made_up: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check measured again does not take the others out of the table; with other code what was measured goes."""

    def names() -> list[str]:
        return [row["check"] for row in csv.DictReader((tmp_path / "table.csv").open())]

    run("--out", str(tmp_path))
    assert run("--only", "good", "--out", str(tmp_path))[0] == 0
    assert names() == ["good", "bad"] and made_up.calls.count("bad") == 1
    (tmp_path / "checks" / "good.json").write_text("{}", encoding="utf-8")
    assert run("--only", "bad", "--out", str(tmp_path))[0] == 1
    assert names() == ["bad"] and not (tmp_path / "profiles.png").exists()
    monkeypatch.setattr("icecone.studies.validating.run.stamp", lambda *_: "another")
    assert run("--only", "broken", "--out", str(tmp_path))[0] == 1 and names() == ["broken"]


def test_nothing_that_could_run_is_no_agreement(made_up: Pack, tmp_path: Path) -> None:
    """Exit code 1 and what to install."""
    code, _, err = run("--only", "elsewhere", "--out", str(tmp_path))
    assert code == 1 and err.splitlines()[-1].startswith("icecone: nothing was checked: needs no_such_package: pip")


def test_a_library_without_metadata_does_not_end_the_run(
    made_up: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Importable, but installed by no package manager."""
    (tmp_path / "no_such_package.py").write_text("", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    code, out, _ = run("--only", "elsewhere", "--out", str(tmp_path / "out"))
    assert code == 0 and "1 pass" in out


def test_what_a_killed_run_left_is_cleared(made_up: Pack, tmp_path: Path) -> None:
    """A half-written record beside the others goes with the next run."""
    run("--only", "good", "--out", str(tmp_path))
    left = tmp_path / "checks" / TEMPORARY.format("left")
    left.write_text("half", encoding="utf-8")
    run("--only", "good", "--out", str(tmp_path))
    assert not left.exists()


def test_an_unknown_check_is_one_line(made_up: Pack, tmp_path: Path) -> None:
    """Exit code 2, the names that there are, and nothing written."""
    code, _, err = run("--only", "goood", "--out", str(tmp_path / "new"))
    assert code == 2 and not (tmp_path / "new").exists()
    assert err == "icecone: --only = 'goood': must be a check or a group: bad, broken, elasticity, elsewhere, good\n"


def test_the_list(made_up: Pack) -> None:
    """Names and sources, nothing measured."""
    code, out, _ = run("--list")
    assert code == 0 and "source of good" in out and made_up.calls == []


def test_the_page_in_the_repository_is_that_of_the_pack() -> None:
    """`validation/validation.md` names every check, and none that failed or was not run."""
    page = (TOP / "validation" / "validation.md").read_text(encoding="utf-8")
    for check in packs.pack():
        assert f"**{check.name}** {check.title}. " in page
        assert f"| {check.name} |" in page
    assert "FAIL" not in page and "not run" not in page and "in the pack;" not in page
    counted = re.search(r"\d+ checks, \d+ quantities", page)
    assert counted and counted.group() in (TOP / "README.md").read_text(encoding="utf-8")
    assert all((TOP / "validation" / name).exists() for name in re.findall(r"\]\((\w+\.png)\)", page))
