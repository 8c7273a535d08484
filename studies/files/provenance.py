"""What a result rests on: the code that it runs through, found by following imports, the values beside it, libraries.

    stamp = icecone's version + digest of code and values; versions of the libraries

Code counts as its syntax tree without docstrings, so that comments, spaces and docstrings void no result; a file of
values counts byte by byte. Imports are followed wherever they stand, inside functions too, but for type checkers only.
Each room that is reached counts with all its files of values, in sub-folders too; but for those of INPUTS, which hold
what a record names itself: studies and field tables are settings, laws are named by digest (`files.laws`).
"""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterator
from functools import cache
from importlib.metadata import version
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PACKAGE = "icecone"
INPUTS = ("studies", "validation")
NO_VALUES = (".py", ".pyc", ".pyi", ".typed", ".md", ".png", ".svg")
LIBRARIES = ("scikit-fem", "numpy", "scipy")


def stamp(*roots: str) -> str:
    """Of results that these modules make ("icecone.studies.outcome.record")."""
    own, *libraries = versions().items()
    return "; ".join([f"{own[1]}+{digest(roots)[:12]}", *(f"{name} {number}" for name, number in libraries)])


def versions() -> dict[str, str]:
    """Versions of icecone and of the libraries that make a result."""
    return {name: version(name) for name in (PACKAGE, *LIBRARIES)}


@cache
def digest(roots: tuple[str, ...], top: Path = TOP) -> str:
    """sha256 of all files that these modules rest on."""
    found = hashlib.sha256()
    for file in used_files(roots, top):
        content = _code(file) if file.suffix == ".py" else file.read_bytes()
        name = file.relative_to(top).as_posix().encode()
        found.update(b"%d %s\0%d %s\0" % (len(name), name, len(content), content))
    return found.hexdigest()


def used_files(roots: tuple[str, ...], top: Path = TOP) -> list[Path]:
    """Code and values that these modules rest on. top : the folder that holds the rooms.

    Raises ModuleNotFoundError for a root that there is not.
    """
    code: set[Path] = set()
    ahead = [tuple(root.split(".")[1:]) for root in roots]
    for root, name in zip(roots, ahead, strict=True):
        if _file(top, name) is None:
            raise ModuleNotFoundError(f"{root}: not in {top}")
    while ahead:
        name = ahead.pop()
        packages = [_file(top, name[:end]) for end in range(1, len(name) + 1)]  # its own file is the last
        for file in packages:
            if file is not None and file not in code:
                code.add(file)
                ahead += _imported(file, top)
    rooms = {file.relative_to(top).parts[0] for file in code} - set(INPUTS)
    return sorted(code | {file for room in rooms for file in _values(top / room)})


def _file(top: Path, name: tuple[str, ...]) -> Path | None:
    """The file of a module or package; None where the name is neither, as that of a function."""
    place = top.joinpath(*name)
    return next((file for file in (place / "__init__.py", place.with_suffix(".py")) if name and file.is_file()), None)


def _values(room: Path) -> Iterator[Path]:
    for file in room.rglob("*"):
        hidden = any(part.startswith((".", "__pycache__")) for part in file.relative_to(room).parts)
        if file.is_file() and file.suffix not in NO_VALUES and not hidden:
            yield file


def _imported(file: Path, top: Path) -> list[tuple[str, ...]]:
    """Names that a file imports from the package, as paths below it; some are functions, not modules."""
    here = file.relative_to(top).with_suffix("").parts
    found: list[tuple[str, ...]] = []
    for node in _statements(ast.parse(file.read_bytes())):
        if isinstance(node, ast.Import):
            found += [tuple(name[1:]) for each in node.names if (name := each.name.split("."))[0] == PACKAGE]
        elif isinstance(node, ast.ImportFrom):
            inner = tuple(node.module.split(".")) if node.module else ()
            if node.level:
                inner = (*here[: len(here) - node.level], *inner)
            elif inner[:1] == (PACKAGE,):
                inner = inner[1:]
            else:
                continue
            found += [inner, *((*inner, each.name) for each in node.names)]
    return found


def _statements(node: ast.AST) -> Iterator[ast.AST]:
    """All nodes but those that only a type checker comes to."""
    yield node
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and _for_types(child.test):
            for other in child.orelse:
                yield from _statements(other)
        else:
            yield from _statements(child)


def _for_types(test: ast.expr) -> bool:
    return (test.id if isinstance(test, ast.Name) else getattr(test, "attr", "")) == "TYPE_CHECKING"


def _code(file: Path) -> bytes:
    """The syntax tree without docstrings."""
    tree = ast.parse(file.read_bytes())
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and type(first.value.value) is str:
                node.body = node.body[1:]
    return ast.dump(tree).encode()
