"""Laws are computed once, found again, and never trusted where they are damaged or of other code."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from functools import update_wrapper
from importlib.resources import files
from pathlib import Path
from threading import Event
from typing import Any

import pytest

from icecone.fem.laws.recipes import RECIPES
from icecone.studies.files.law_check import law_problem
from icecone.studies.files.laws import Inputs, Law, UsedLaws, file_name, kept_law, law_changed, law_stamp, laws_folder
from icecone.studies.files.store import read_any, write_record

INPUTS = {"od_m": 0.017, "ice_nu": 0.3}


class Counting:
    """A recipe that counts how often it ran, of the code of the law `of`."""

    __qualname__: str

    def __init__(self, law: Law | None = None, of: str = "wall") -> None:
        self.runs, self.law = 0, law or {"c": [2.5, 2.6]}
        update_wrapper(self, RECIPES[of])

    def __call__(self, inputs: Inputs) -> Law:
        self.runs += 1
        return self.law


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path / "laws"))
    return tmp_path / "laws"


def test_a_law_is_computed_once(folder: Path) -> None:
    compute, said = Counting(), list[str]()
    first = kept_law("trial", INPUTS, compute, said.append)
    assert kept_law("trial", INPUTS, compute) == first == {"c": [2.5, 2.6]}
    assert compute.runs == 1 and said == ["law trial computed in 0 s"]
    assert [path.name for path in folder.iterdir()] == [file_name("trial", INPUTS)]


def test_two_that_miss_a_law_compute_it_once(folder: Path) -> None:
    """The second waits, says so, and takes what the first has kept; no lock stays."""
    said, under_way = list[str](), Event()

    class Slow(Counting):
        def __call__(self, inputs: Inputs) -> Law:
            under_way.set()
            time.sleep(0.3)
            return super().__call__(inputs)

    compute = Slow()
    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(kept_law, "trial", INPUTS, compute)
        assert under_way.wait(10)
        second = pool.submit(kept_law, "trial", INPUTS, compute, said.append)
    assert first.result() == second.result() == {"c": [2.5, 2.6]} and compute.runs == 1
    assert said == ["law trial: another process computes it now: waiting"]
    assert [path.name for path in folder.iterdir()] == [file_name("trial", INPUTS)]


def test_one_that_fails_leaves_the_law_to_the_next(folder: Path) -> None:
    class Failing(Counting):
        def __call__(self, inputs: Inputs) -> Law:
            raise ArithmeticError

    with pytest.raises(ArithmeticError):
        kept_law("trial", INPUTS, Failing())
    assert list(folder.iterdir()) == [] and kept_law("trial", INPUTS, Counting()) == {"c": [2.5, 2.6]}


def test_another_input_is_another_law(folder: Path) -> None:
    compute = Counting()
    for od in (0.017, 0.018, 0.018):
        kept_law("trial", {**INPUTS, "od_m": od}, compute)
    assert compute.runs == 2


def test_a_law_of_other_code_is_computed_again(folder: Path) -> None:
    """And said; from then on the new one is found."""
    said: list[str] = []
    kept_law("trial", INPUTS, Counting({"c": [1.0]}, of="chip"))
    assert kept_law("trial", INPUTS, Counting(), said.append) == {"c": [2.5, 2.6]}
    assert said == ["law trial computed in 0 s, as its code has changed"]
    assert kept_law("trial", INPUTS, Counting({"c": [1.0]})) == {"c": [2.5, 2.6]}


@pytest.mark.parametrize("harm", ["{", '{"digest": "0", "version": "trial/1", "files": {}, "record": {}}', "swap"])
def test_a_damaged_law_is_computed_again(folder: Path, harm: str) -> None:
    """Cut short, not a record, or a number changed by hand."""
    compute, said = Counting(), list[str]()
    kept_law("trial", INPUTS, compute)
    file = folder / file_name("trial", INPUTS)
    file.write_text(file.read_text().replace("2.5", "9.5") if harm == "swap" else harm)
    assert kept_law("trial", INPUTS, compute, said.append) == {"c": [2.5, 2.6]}
    assert compute.runs == 2 and file_name("trial", INPUTS) in said[0] and "not trusted" in said[0]
    assert kept_law("trial", INPUTS, compute) and compute.runs == 2


def test_a_folder_that_cannot_be_written_costs_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "laws").write_text("a file in the folder's place")
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path / "laws"))
    compute, said = Counting(), list[str]()
    assert kept_law("trial", INPUTS, compute, said.append) == {"c": [2.5, 2.6]}
    assert "cannot be kept" in said[-1]


def test_the_users_cache_is_the_default(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("ICECONE_LAWS", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", "/somewhere")
    assert laws_folder() == Path("/somewhere/icecone/laws")


LAWS = Path(str(files("icecone.studies.shipped"))) / "laws"
SHIPPED = {path.name.split("-")[0]: path for path in sorted(LAWS.iterdir())}


@pytest.mark.parametrize("path", sorted(LAWS.iterdir()), ids=lambda path: path.name)
def test_every_shipped_law_is_one(path: Path) -> None:
    """And of the code as it is: after a change `python -m icecone.studies.files.renew` computes or proves them."""
    stamp, _, record = read_any(path)
    name = stamp.partition("/")[0]
    assert stamp == law_stamp(name, RECIPES[name]), "of other code"
    assert law_problem(name, record["law"]) == ""
    assert path.name == file_name(name, record["inputs"])


NONSENSE: list[tuple[str, str, Any]] = [
    *((name, key, value) for name, path in SHIPPED.items() for key in read_any(path)[2]["law"]
      for value in (None, "words", -1.0, [], {}, True, [1.0, "2"], [[1.0]], 10**400)
      if (key, value) != ("rise_deg", -1.0)),
    ("chip", "depth_m", [0.02, 0.01, 0.04, 0.08]),
    ("chip", "force_per_K", [0.002, 0.009, 0.03]),
    ("chip", "force_per_K", [0.002, 0.009, 0.03, -0.08]),
    ("cone", "c", [2.5] * 6),
    ("fronts", "shape", [3, 8, 2, 4, 3, 90]),
    ("fronts", "weights", "1.0 0.5"),
    ("fronts", "weights", "nan " * 5184),
    ("wall", "kappa", 0.0),
]  # fmt: skip


@pytest.mark.parametrize(("name", "key", "value"), NONSENSE)
def test_nonsense_with_a_right_digest_is_computed_again(folder: Path, name: str, key: str, value: Any) -> None:
    """Signed anew after a change by hand, or without the key."""
    stamp, _, record = read_any(SHIPPED[name])
    law, said = record["law"], list[str]()
    inputs = {**record["inputs"], "trial": 1.0}  # not shipped
    without = {other: kept for other, kept in law.items() if other != key}
    for wrong in ({**law, key: value}, without):
        folder.mkdir(exist_ok=True)
        write_record(folder / file_name(name, inputs), {"inputs": inputs, "law": wrong, "made": {}}, stamp)
        assert kept_law(name, inputs, Counting(law, of=name), said.append) == law
        assert f"{key}: " in said[-2] and said[-2].endswith("not trusted, computing this law again")
        assert kept_law(name, inputs, Counting(of=name)) == law, "what was computed is kept instead"


@pytest.mark.parametrize("record", [{}, {"inputs": INPUTS}, {"law": {"c": [2.5]}}, {"inputs": INPUTS, "law": [1.0]}])
def test_a_signed_file_that_is_no_law_is_computed_again(folder: Path, record: dict[str, Any]) -> None:
    folder.mkdir()
    write_record(folder / file_name("trial", INPUTS), record, law_stamp("trial", Counting()))
    said: list[str] = []
    assert kept_law("trial", INPUTS, Counting(), said.append) == {"c": [2.5, 2.6]} and "not trusted" in said[0]


def used(law: Law | None = None, of: str = "wall") -> dict[str, str]:
    laws = UsedLaws()
    laws("trial", INPUTS, Counting(law, of))
    return laws.digests


def test_laws_used_are_named_and_found_again(folder: Path) -> None:
    """By a digest of code, inputs and law, the same whenever and in how many seconds it was computed."""
    name, first = file_name("trial", INPUTS), used()
    assert list(first) == [name] and law_changed(first) == "" and law_changed({}) == ""
    (folder / name).unlink()
    assert law_changed(first) == name, "nothing there"
    assert used() == first and law_changed(first) == ""
    (folder / name).unlink()
    assert used(of="chip") != first and law_changed(first) == name, "other code"
    (folder / name).unlink()
    assert used({"c": [2.5, 2.7]}) != first and law_changed(first) == name, "another law"
    (folder / name).write_text("{")
    assert law_changed(first) == name and law_changed({name: "no digest"}) == name


def test_a_law_of_ones_own_goes_before_a_shipped_one(folder: Path) -> None:
    """It changes what rests on the shipped one; a damaged one, or one of other code, is passed over."""
    stamp, _, record = read_any(SHIPPED["wall"])
    laws, own = UsedLaws(), folder / SHIPPED["wall"].name
    laws("wall", record["inputs"], Counting())
    assert law_changed(laws.digests) == ""
    folder.mkdir()
    own.write_text("{")
    assert law_changed(laws.digests) == ""
    other = {**record, "law": {**record["law"], "kappa": 2 * record["law"]["kappa"]}}
    write_record(own, other, "wall/of other code")
    assert law_changed(laws.digests) == ""
    write_record(own, other, stamp)
    assert law_changed(laws.digests) == own.name
