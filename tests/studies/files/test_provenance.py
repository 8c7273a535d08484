"""A stamp moves with all that a result rests on, found by following imports, and with nothing else."""

from __future__ import annotations

import ast
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from icecone.fem.laws.recipes import RECIPES
from icecone.studies.files import provenance
from icecone.studies.files.provenance import TOP, digest, stamp, used_files
from icecone.studies.files.source import read_source
from icecone.studies.sweep.runner import ROOTS
from icecone.validation.pack import TOPICS as CHECKS

ROUTES = ("icecone.studies.validating.both_routes",)
ROOMS = ("materials", "geometry", "fem", "studies", "validation")


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The rooms in a folder of that name, as a regular install has them."""
    for room in ROOMS:
        ignored = shutil.ignore_patterns("*.png", "*.md", "__pycache__", "*.json")
        shutil.copytree(TOP / room, tmp_path / "icecone" / room, ignore=ignored)
    shutil.copy(tmp_path / "icecone" / "studies" / "icecone" / "__init__.py", tmp_path / "icecone")
    return tmp_path / "icecone"


def change(old: str, new: str) -> Callable[[Path], None]:
    def changed(file: Path) -> None:
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), encoding="utf-8")

    return changed


def append(text: str) -> Callable[[Path], None]:
    return lambda file: file.write_text(file.read_text(encoding="utf-8") + text, encoding="utf-8")


def create(text: str) -> Callable[[Path], None]:
    def created(file: Path) -> None:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")

    return created


def names(roots: tuple[str, ...], top: Path = TOP) -> set[str]:
    return {file.relative_to(top).as_posix() for file in used_files(roots, top)}


@cache
def original() -> set[str]:
    return names(ROOTS)


MOVES = {
    "the case's tube": ("studies/case/file.py", change("length=number(", "length=2 * number(")),
    "a default": ("studies/case/keys.py", change('"tube.od_mm", 17.0', '"tube.od_mm", 18.0')),
    "an ice": ("materials/data/ices.toml", change("value = ", "value = 1")),
    "values in a sub-folder": ("materials/data/more/ices.toml", create("x = 1\n")),
    "values of another kind": ("geometry/table.csv", create("1,2\n")),
    "a form": ("fem/solid/elasticity.py", append("\nSCALE = 2.0\n")),
    "the record": ("studies/outcome/hand.py", change("HAND_FACTOR = 2.0", "HAND_FACTOR = 3.0")),
    "a formula by hand": ("fem/hand.py", append("\nSCALE = 2.0\n")),
    "a package's own file": ("geometry/__init__.py", append("\nSCALE = 2.0\n")),
}  # fmt: skip
STAYS = {
    "a docstring": ("fem/tube/pull.py", change('"""', '""" ')),
    "a function's docstring": ("studies/case/file.py", change("The case in SI units", "A case in SI units")),
    "a comment": ("fem/solid/elasticity.py", append("\n# a remark\n")),
    "spaces": ("fem/solid/elasticity.py", append("\n\n\n")),
    "the other route": ("validation/discrete_cracks/pull.py", append("\nSCALE = 2.0\n")),
    "a colour": ("studies/figures/style.py", change("#333333", "#333334")),
    "a picture": ("studies/figures/peak.py", append("\nSCALE = 2.0\n")),
    "the command line": ("studies/command/main.py", append("\nSCALE = 2.0\n")),
    "a study": ("studies/shipped/pull_out.toml", append("\n# a remark\n")),
    "a page": ("materials/README.md", create("words\n")),
    "a file of an editor": ("materials/data/.ices.toml.swp", create("x")),
}  # fmt: skip


@pytest.mark.parametrize("what", MOVES)
def test_a_record_rests_on(copy: Path, what: str) -> None:
    name, edit = MOVES[what]
    edit(copy / name)
    assert digest(ROOTS, copy) != digest(ROOTS)


def test_a_record_rests_on_nothing_else(copy: Path) -> None:
    """All of STAYS at once; the digest of the copy is that of the original, too."""
    for name, edit in STAYS.values():
        edit(copy / name)
    assert digest(ROOTS, copy) == digest(ROOTS)


def test_what_a_type_checker_alone_imports_does_not_count(copy: Path) -> None:
    for test in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
        append(f"\n\nif {test}:\n    from ...validation.discrete_cracks.pull import CrackPull\n")(
            copy / "fem" / "case.py"
        )
    assert names(ROOTS, copy) == original()


@pytest.mark.parametrize(
    "statement",
    [
        "from .deep import inner",
        "from .deep.inner import VALUE",
        "import icecone.fem.deep.inner",
        "from icecone.fem.deep import inner as other",
        "def late():\n    from .deep.inner import VALUE\n    return VALUE",
        "if TYPE_CHECKING:\n    pass\nelse:\n    from .deep.inner import VALUE",
    ],
)
def test_a_module_in_a_sub_folder_is_found_however_it_is_imported(copy: Path, statement: str) -> None:
    create("")(copy / "fem" / "deep" / "__init__.py")
    create("VALUE = 1\n")(copy / "fem" / "deep" / "inner.py")
    append(f"\n\n{statement}\n")(copy / "fem" / "case.py")
    assert names(ROOTS, copy) - original() == {"fem/deep/__init__.py", "fem/deep/inner.py"}


def test_a_change_of_what_is_found_there_moves_the_stamp(copy: Path) -> None:
    create("VALUE = 1\n")(copy / "fem" / "deep" / "inner.py")
    append("\n\nfrom .deep.inner import VALUE\n")(copy / "fem" / "case.py")
    before = digest.__wrapped__(ROOTS, copy)
    change("1", "2")(copy / "fem" / "deep" / "inner.py")
    assert digest.__wrapped__(ROOTS, copy) != before


def test_records_and_routes_rest_on_no_drawing() -> None:
    """But on forms, meshes, values, keys and laws; the routes on both of them, the checks on themselves."""
    for roots in (ROOTS, ROUTES):
        found = names(roots)
        assert {
            "materials/data/ices.toml",
            "fem/solid/elasticity.py",
            "geometry/half_model.py",
            "studies/case/file.py",
        } <= found
        assert {"studies/case/keys.py", "studies/files/laws.py", "fem/laws/gather.py", "fem/__init__.py"} <= found
        assert not any("/figures/" in name or "/command/main" in name for name in found)
    other = "validation/discrete_cracks/pull.py"
    assert other in names(ROUTES) and other not in names(ROOTS)
    assert {"validation/checks/threads/nut.py", "validation/check.py", "fem/solid/elasticity.py"} <= names(CHECKS)


LAWS = {name: (f"{recipe.__module__}.{recipe.__qualname__}",) for name, recipe in RECIPES.items()}
VOIDS = {
    "the fans of chips": ("fem/chip/growth.py", change("FANS = (pi / 4, ", "FANS = ("), {"chip"}, {"cone", "wall"}),
    "the path of a cone": ("fem/cone/straight.py", append("\nSCALE = 2.0\n"), {"cone"}, {"chip", "fronts"}),
    "friction of faces": ("fem/cracks/friction.py", append("\nSCALE = 2.0\n"), {"chip", "fronts"}, {"cone", "wall"}),
    "weights of a front": ("fem/cone/fronts.py", append("\nSCALE = 2.0\n"), {"fronts"}, {"cone", "chip", "wall"}),
    "onset": ("fem/onset/elastic.py", append("\nSCALE = 2.0\n"), {"wall"}, {"cone", "chip", "fronts"}),
    "the contact's solver": ("fem/solid/contact.py", append("\nSCALE = 2.0\n"), {"wall"}, set()),
    "the tube of all laws": ("fem/laws/recipes.py", change("0.017, ", "0.018, "), set(LAWS), set()),
    "an assumption": ("materials/data/assumed.toml", change("value = 2.0", "value = 1.9"), set(), set(LAWS)),
    "values": ("materials/data/ices.toml", change("value = ", "value = 1"), set(), set(LAWS)),
    "a comment": ("fem/chip/growth.py", append("\n# a remark\n"), set(), set(LAWS)),
    "a docstring": ("fem/laws/recipes.py", change('"""', '""" '), set(), set(LAWS)),
    "one of a function": ("fem/chip/growth.py", change("Largest of the loads", "The largest"), set(), set(LAWS)),
}  # fmt: skip


@pytest.mark.parametrize("what", VOIDS)
def test_a_law_rests_on_the_code_of_its_recipe_alone(copy: Path, what: str) -> None:
    """Those that a change must void, and those that it must not; a law that may go either way is in neither."""
    name, edit, voided, held = VOIDS[what]
    edit(copy / name)
    moved = {law for law, root in LAWS.items() if digest(root, copy, values=False) != digest(root, values=False)}
    assert voided <= moved and not held & moved


def test_a_module_of_which_a_function_is_a_root_counts_whole_where_it_is_imported_too(copy: Path) -> None:
    """A way round to the recipes' module follows what all of them import."""
    chip = LAWS["chip"]
    assert "fem/laws/cone_load.py" not in names(chip, copy)
    append("\n\ndef late():\n    from ..laws import recipes\n")(copy / "fem" / "chip" / "growth.py")
    assert {"fem/laws/cone_load.py", "fem/onset/elastic.py"} <= names(chip, copy)


def test_an_empty_field_that_a_version_of_python_adds_moves_no_digest(monkeypatch: pytest.MonkeyPatch) -> None:
    """A shipped law must count in all of them; one that is filled counts."""
    text = b"def f(x: int = 1) -> int:\n    return x\n"
    codes = [read_source(text).code]
    monkeypatch.setattr(ast.FunctionDef, "_fields", (*ast.FunctionDef._fields, "added"))
    for added in ([], None, [ast.Pass()]):
        monkeypatch.setattr(ast.FunctionDef, "added", added, raising=False)
        codes.append(read_source(text).code)
    assert codes[0] == codes[1] == codes[2] != codes[3]


def test_libraries_are_in_the_stamp(monkeypatch: pytest.MonkeyPatch) -> None:
    before = stamp(*ROOTS)
    assert all(name in before for name in ("numpy ", "scipy ", "scikit-fem "))
    monkeypatch.setattr(provenance, "version", lambda name: "9" if name == "scipy" else "0")
    assert "scipy 9" in stamp(*ROOTS) != before


def test_a_root_that_there_is_not_is_an_error() -> None:
    """A module or function that was renamed must not leave an empty, ever equal stamp."""
    for root in ("icecone.studies.no_such", "icecone.fem.laws.recipes.no_such"):
        with pytest.raises(ModuleNotFoundError, match="no_such"):
            used_files((root,))


STUBBED = """
import json, sys
from types import SimpleNamespace
import numpy as np
from icecone.validation.discrete_cracks.pull import CrackPull
from icecone.studies.validating import both_routes, two_routes

x = np.array([0.0, 1e-3])
pulls = []
def first(case, laws):
    pulls.append(case)
    peak = float(case.ice.toughness)
    event = SimpleNamespace(name="peak", displacement=0.04)
    return SimpleNamespace(pull=SimpleNamespace(
        peak=peak, mode="cone", first_hinge=None, events=(event,), displacement=x, load=peak * x))
both_routes.peak_laws = lambda case, keep: None
both_routes.solve_peak = first
both_routes.least_pull = lambda case, farthest: CrackPull(x, x, 1.0, "cone", None, ())
two_routes.draw_routes = lambda records, path: path.write_bytes(b"picture")
from pathlib import Path
found = two_routes.run_routes(list(both_routes.CASES)[:1], Path(sys.argv[1]), print, lambda name: None)
print(json.dumps([len(pulls), found[0]["first"]["peak_kN"], two_routes.__file__]))
"""


@pytest.mark.slow
def test_routes_pull_again_after_a_change_of_the_ice(copy: Path) -> None:
    """In a copy of the package: a folder of before must not answer for half the toughness."""

    def run() -> list[float]:
        environment = {**os.environ, "PYTHONPATH": str(copy.parent)}
        arguments = [sys.executable, "-c", STUBBED, str(copy.parent / "out")]
        done = subprocess.run(arguments, capture_output=True, text=True, check=True, env=environment)
        pulls, peak, where = json.loads(done.stdout.splitlines()[-1])
        assert Path(where).is_relative_to(copy)
        return [pulls, peak]

    pulls, before = run()
    assert pulls == 1 and run() == [0, before]
    ices = (copy / "materials" / "data" / "ices.toml").read_text(encoding="utf-8")
    toughness = next(line for line in ices.splitlines() if line.startswith("K_IC_kPa_sqrt_m"))
    value = toughness.split("value = ")[1].split(",")[0]
    low = toughness.split("low = ")[1].split(",")[0]
    halved = toughness.replace(f"value = {value}", f"value = {float(value) / 2:g}").replace(f"low = {low}", "low = 1")
    (copy / "materials" / "data" / "ices.toml").write_text(ices.replace(toughness, halved), encoding="utf-8")
    pulls, after = run()
    assert pulls == 1 and after == pytest.approx(before / 2)
