"""The shape of the code: imports flow one way, no cycles, modules and functions of a readable size."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

from icecone.studies.case.file import keys_table
from icecone.studies.outcome.data import LOADS

TOP = Path(__file__).resolve().parent.parent
ALLOWED = {
    "materials": set(),
    "geometry": set(),
    "fem": {"geometry", "materials"},
    "studies": {"fem", "geometry", "materials", "validation"},
    "validation": {"fem", "geometry", "materials"},
}
FLOORS = {
    "solid": set(),
    "cracks": {"solid"},
    "onset": {"solid", "cracks"},
    "cone": {"solid", "cracks"},
    "chip": {"solid", "cracks"},
    "crushing": {"solid"},
    "laws": {"solid", "cracks", "onset", "cone", "chip", "crushing"},
    "tube": {"solid", "cracks", "onset", "cone", "chip", "crushing", "laws"},
}
KNOW_VALIDATION = ("validation/", "studies/validating/", "studies/command/")
MODULES = sorted(path for room in ALLOWED for path in (TOP / room).rglob("*.py"))
LONGEST_MODULE, LONGEST_FUNCTION = 320, 60


def room_of(path: Path) -> str:
    return path.relative_to(TOP).parts[0]


def imported(path: Path) -> set[tuple[str, ...]]:
    """Modules of the project that a file imports, as paths below the top: ("fem", "stress")."""
    here = path.relative_to(TOP).with_suffix("").parts
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = here[: len(here) - node.level]
            target = base + tuple((node.module or "").split(".") if node.module else ())
            found |= {(*target, alias.name) for alias in node.names} | {target}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("icecone"):
            target = tuple((node.module or "").split(".")[1:])
            target = target if target[:1] and target[0] in ALLOWED else ("studies", "icecone", *target)
            found |= {(*target, alias.name) for alias in node.names} | {target}
    return {name for name in found if name}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(TOP)))
def test_imports_flow_one_way(path: Path) -> None:
    """studies -> fem -> geometry, materials; no star import."""
    own = room_of(path)
    rooms = {name[0] for name in imported(path)} - {own}
    assert rooms <= ALLOWED[own], f"{own} imports {rooms - ALLOWED[own]}"
    assert "import *" not in path.read_text(encoding="utf-8")


FLOOR_MODULES = [path for path in MODULES if path.relative_to(TOP).parts[0] == "fem"]


@pytest.mark.parametrize("path", FLOOR_MODULES, ids=lambda path: str(path.relative_to(TOP)))
def test_floors_of_fem_flow_one_way(path: Path) -> None:
    """solid -> cracks -> onset | cone | chip | crushing -> laws -> tube; a floor imports from those before it alone."""
    floor = path.relative_to(TOP).parts[1]
    if floor in FLOORS:
        floors = {name[1] for name in imported(path) if name[0] == "fem" and len(name) > 1} & set(FLOORS) - {floor}
        assert floors <= FLOORS[floor], f"{floor} imports {floors - FLOORS[floor]}"


def test_every_room_of_fem_has_its_floor() -> None:
    """A new room of fem cannot escape the test before."""
    assert {path.parent.name for path in (TOP / "fem").glob("*/*.py")} == set(FLOORS)


def test_validation_is_known_to_what_validates_only() -> None:
    """Nothing that makes a result rests on checks of it."""
    knowing = {
        path.relative_to(TOP).as_posix() for path in MODULES if ("validation",) in {n[:1] for n in imported(path)}
    }
    assert {name for name in knowing if not name.startswith(KNOW_VALIDATION)} == set()


@pytest.mark.parametrize("room", ["", *FLOORS])
def test_pages_of_fem_are_short_and_name_what_there_is(room: str) -> None:
    """Fifteen lines at most for fem, five for a room; each `module.name` is defined in that module."""
    page = ast.get_docstring(ast.parse((TOP / "fem" / room / "__init__.py").read_text(encoding="utf-8"))) or ""
    assert 3 <= len([line for line in page.splitlines() if line]) <= (5 if room else 15)
    named = re.findall(r"`([a-z_.]+)\.(\w+)`", page)
    assert named
    for module, name in named:
        file = TOP / "fem" / room / f"{module.replace('.', '/')}.py"
        defined = ast.parse(file.read_text(encoding="utf-8")).body
        assert name in {node.name for node in defined if isinstance(node, ast.FunctionDef | ast.ClassDef)}


def test_nothing_private_is_imported_across_modules() -> None:
    """A name with a leading underscore stays in its module, for tests too."""
    found = []
    for path in [*MODULES, *sorted((TOP / "tests").rglob("*.py"))]:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        modules = set()  # names that may stand for modules of the project
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.level or (node.module or "").startswith("icecone")):
                found += [f"{path.name}: {alias.name}" for alias in node.names if alias.name.startswith("_")]
                modules |= {alias.asname or alias.name for alias in node.names}
        found += [
            f"{path.name}: {node.value.id}.{node.attr}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules
            if node.attr.startswith("_") and not node.attr.startswith("__")
        ]
    assert found == []


def test_one_name_for_one_thing_in_fem_and_geometry() -> None:
    """No two public classes or functions of different modules share a name."""
    homes: dict[str, list[str]] = {}
    for path in MODULES:
        if room_of(path) in ("fem", "geometry"):
            for node in ast.parse(path.read_text(encoding="utf-8")).body:
                if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                    homes.setdefault(node.name, []).append(path.relative_to(TOP).as_posix())
    assert {name: files for name, files in homes.items() if len(files) > 1} == {}


def test_no_import_cycle() -> None:
    """Following imports at module level never comes back."""
    names = {path.relative_to(TOP).with_suffix("").parts: path for path in MODULES}
    graph = {
        name: {other for other in imported(path) if other in names and other != name} for name, path in names.items()
    }
    done: set[tuple[str, ...]] = set()

    def visit(name: tuple[str, ...], trail: tuple[tuple[str, ...], ...]) -> None:
        assert name not in trail, f"cycle: {' -> '.join('.'.join(step) for step in (*trail, name))}"
        if name not in done:
            for other in graph[name]:
                visit(other, (*trail, name))
            done.add(name)

    for name in graph:
        visit(name, ())


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(TOP)))
def test_modules_and_functions_are_short_and_documented(path: Path) -> None:
    """A module is one idea of at most 320 lines with a docstring; a function fits on a screen."""
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    assert len(text.splitlines()) <= LONGEST_MODULE
    if text.strip() and path.name != "__main__.py":
        assert ast.get_docstring(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            assert (node.end_lineno or 0) - node.lineno < LONGEST_FUNCTION, node.name
            if not node.name.startswith("_") and node in tree.body:
                assert ast.get_docstring(node), f"{node.name} has no docstring"


def test_the_top_level_holds_what_was_agreed() -> None:
    """README, DEVELOPERS, LICENSE, pyproject and the rooms; whatever else git tracks there begins with a dot."""
    expected = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "tests", *ALLOWED}
    assert all((TOP / name).exists() for name in expected)
    if not (TOP / ".git").exists():
        pytest.skip("not a git checkout")
    tracked = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}
    assert {name for name in top if not name.startswith(".")} == expected


def test_the_readme_lists_the_keys_as_they_are() -> None:
    """The table of keys in the README of the studies is the one that the code prints."""
    assert keys_table().strip() in (TOP / "studies" / "README.md").read_text(encoding="utf-8")


def test_the_page_of_the_studies_names_every_load_that_a_pull_reads() -> None:
    """As `outcome.json` has them, with the band and what ended the pull."""
    text = (TOP / "studies" / "README.md").read_text(encoding="utf-8")
    assert [
        name for name in (*(f"{load}_kN" for load in LOADS), "peak.band", "ended_by") if f"`{name}`" not in text
    ] == []


def test_the_readme_begins_with_a_picture_and_its_first_two_shell_blocks_set_up_and_run() -> None:
    """Pictures named in the README exist; the first shell block runs the study, the second the tests."""
    text = (TOP / "README.md").read_text(encoding="utf-8")
    assert text.startswith("![")
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text)
    assert pictures and all((TOP / picture).exists() for picture in pictures)
    blocks = re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL)
    assert "icecone study why_angle" in blocks[0] and "pytest" in blocks[1] and len(blocks) == 2
