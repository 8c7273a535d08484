"""A wheel holds every package and data file of the rooms: what `pyproject.toml` lists is what lies in the folders."""

from __future__ import annotations

import tomllib
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parent.parent
DATA = (".toml", ".json", ".csv", "py.typed")
NOT_PACKED = ("studies/icecone", "validation/benchmarks")  # the package `icecone` itself; run from a checkout only


def setuptools_table() -> dict[str, Any]:
    with (TOP / "pyproject.toml").open("rb") as file:
        return tomllib.load(file)["tool"]["setuptools"]


def rooms() -> list[str]:
    """Folders at the top that are packages: every one with an `__init__.py`."""
    return sorted(path.parent.name for path in TOP.glob("*/__init__.py"))


def packages() -> set[str]:
    """Every folder of the rooms that holds code, as a package of `icecone`."""
    folders = {path.parent.relative_to(TOP) for room in rooms() for path in (TOP / room).rglob("*.py")}
    inner = {folder for folder in folders if not folder.as_posix().startswith(NOT_PACKED)}
    return {"icecone", *(".".join(("icecone", *folder.parts)) for folder in inner)}


def test_the_packages_listed_are_the_folders() -> None:
    """A folder that is not listed would be missing from a wheel, and an editable install would not show it."""
    listed = setuptools_table()["packages"]
    assert len(listed) == len(set(listed))
    assert set(listed) == packages()


def test_every_package_is_a_regular_one() -> None:
    for name in packages() - {"icecone"}:
        assert TOP.joinpath(*name.split(".")[1:], "__init__.py").exists(), f"{name} has no __init__.py"


def test_every_room_has_its_folder() -> None:
    folders = setuptools_table()["package-dir"]
    assert folders == {"icecone": "studies/icecone", **{f"icecone.{room}": room for room in rooms()}}


def test_every_data_file_is_packed() -> None:
    """Each data file matches a pattern of the innermost package that it lies in, and each pattern some file."""
    table = setuptools_table()
    patterns, unused = table["package-data"], {(p, q) for p, each in table["package-data"].items() for q in each}
    for room in rooms():
        for path in (TOP / room).rglob("*"):
            inside = path.relative_to(TOP).as_posix()
            if not path.is_file() or inside.startswith("validation/benchmarks"):
                continue
            package, name = owner(path)
            matched = {(package, each) for each in patterns.get(package, ()) if fits(name, each)}
            assert matched or not path.name.endswith(DATA), f"{inside} is not in the data of {package}"
            unused -= matched
    assert not unused


def owner(path: Path) -> tuple[str, str]:
    """The innermost package that a file lies in, and the file's place below it."""
    folder = path.parent
    while not (folder / "__init__.py").exists():
        folder = folder.parent
    parts = folder.relative_to(TOP).parts
    package = "icecone" if parts == ("studies", "icecone") else ".".join(("icecone", *parts))
    return package, path.relative_to(folder).as_posix()


def fits(name: str, pattern: str) -> bool:
    """As setuptools reads a pattern: a star does not pass a folder."""
    one, other = name.split("/"), pattern.split("/")
    return len(one) == len(other) and all(map(fnmatch, one, other))
