"""What a result rests on: the code that it runs through, found by following imports, the values beside it, libraries.

    stamp = icecone's version + digest of code and values; versions of the libraries

Code counts as `files.source` says: comments, spaces and docstrings void no result; a file of values counts byte by
byte. Imports are followed wherever they stand, inside functions too, but for type checkers only.
Each room that is reached counts with all its files of values, in sub-folders too; but for those of INPUTS, which hold
what a record names itself: studies and field tables are settings, laws are named by digest (`files.laws`).

If a root is a function of a module, its module counts whole, but imports inside the module's other functions are not
followed; nor are those inside any function of the modules of `apart`, whose results are kept and stamped on their own.
Without values, code alone counts: for what takes its values as inputs.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from importlib.metadata import version
from pathlib import Path

from .source import keep_sources, source_of

TOP = Path(__file__).resolve().parents[2]
PACKAGE = "icecone"
INPUTS = ("studies", "validation")
NO_VALUES = (".py", ".pyc", ".pyi", ".typed", ".md", ".png", ".svg")
LIBRARIES = ("scikit-fem", "numpy", "scipy")


def stamp(*roots: str, apart: tuple[str, ...] = ()) -> str:
    """Of results that these modules make ("icecone.studies.outcome.solve")."""
    own, *libraries = versions().items()
    code = digest(roots, apart=apart)[:12]
    return "; ".join([f"{own[1]}+{code}", *(f"{name} {number}" for name, number in libraries)])


def versions() -> dict[str, str]:
    """Versions of icecone and of the libraries that make a result."""
    return {name: version(name) for name in (PACKAGE, *LIBRARIES)}


@cache
def digest(roots: tuple[str, ...], top: Path = TOP, values: bool = True, apart: tuple[str, ...] = ()) -> str:
    """sha256 of all files that these modules or functions rest on; without values, of code alone."""
    found = hashlib.sha256()
    for file in used_files(roots, top, values, apart):
        content = source_of(file.read_bytes()).code if file.suffix == ".py" else file.read_bytes()
        name = file.relative_to(top).as_posix().encode()
        found.update(b"%d %s\0%d %s\0" % (len(name), name, len(content), content))
    if top == TOP:
        keep_sources()
    return found.hexdigest()


def used_files(roots: tuple[str, ...], top: Path = TOP, values: bool = True, apart: tuple[str, ...] = ()) -> list[Path]:
    """Code and values that these modules or functions rest on. top : the folder that holds the rooms.

    apart : modules that count, but not what their functions import. Raises ModuleNotFoundError for a root that there
    is not.
    """
    shut = {_file(top, tuple(name.split(".")[1:])) for name in apart}
    code: set[Path] = set()
    ahead: list[tuple[str, ...]] = []
    partly: set[Path] = set()  # modules of functions: another way to them follows all their imports
    for root in roots:
        name = tuple(root.split(".")[1:])
        if _file(top, name) is not None:
            ahead.append(name)
            continue
        file = _file(top, name[:-1])
        if file is None or name[-1] not in source_of(file.read_bytes()).functions:
            raise ModuleNotFoundError(f"{root}: not in {top}")
        partly.add(file)
        ahead += [name[:-2], *_imported(file, top, ("", name[-1]))]
    seen: set[tuple[str, ...]] = set()
    while ahead:
        name = ahead.pop()
        around = {name[:end] for end in range(1, len(name) + 1)} - seen  # the packages that hold it, and itself
        seen |= around
        for file in (_file(top, each) for each in around):
            if file is not None and file not in code:
                code.add(file)
                ahead += _imported(file, top, ("",) if file in shut else None)
    code |= partly
    rooms = {file.relative_to(top).parts[0] for file in code} - set(INPUTS) if values else set()
    return sorted(code | {file for room in rooms for file in _values(top / room)})


def _file(top: Path, name: tuple[str, ...]) -> Path | None:
    """The file of a module or package; None if the name is neither, as that of a function."""
    place = top.joinpath(*name)
    return next((file for file in (place / "__init__.py", place.with_suffix(".py")) if name and file.is_file()), None)


def _values(room: Path) -> Iterator[Path]:
    for file in room.rglob("*"):
        hidden = any(part.startswith((".", "__pycache__")) for part in file.relative_to(room).parts)
        if file.is_file() and file.suffix not in NO_VALUES and not hidden:
            yield file


def _imported(file: Path, top: Path, inside: tuple[str, ...] | None = None) -> list[tuple[str, ...]]:
    """Names that a file imports from the package, as paths below it; some are functions, not modules.

    inside : the functions whose imports count, "" for what stands in none; all if None.
    """
    here = file.relative_to(top).with_suffix("").parts
    found: list[tuple[str, ...]] = []
    for each in source_of(file.read_bytes()).imports:
        name = tuple(each.module.split(".")) if each.module else ()
        if inside is not None and each.inside not in inside:
            continue
        if each.level:
            name = (*here[: len(here) - each.level], *name)
        elif name[:1] == (PACKAGE,):
            name = name[1:]
        else:
            continue
        found += [name, *((*name, each) for each in each.names)]
    return found
