"""What counts of a file of code: its syntax tree without docstrings, and what it imports; kept from process to process.

To read a syntax tree takes milliseconds, and the laws of one pull rest on a hundred files. So what was read is kept by
the file's sha256 in icecone/sources.json of the user's cache, with that of this file, which decides what counts.
"""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from .store import cache_folder, make_folder, read_record, write_record

MOST = 2000  # kept; beyond, only what this process has read
READER = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()
_used: dict[str, Source] = {}
_new: set[str] = set()


class Import(NamedTuple):
    """A statement that imports: `from ..module import names`, or `import module`, which has no names.

    inside : the module's function that it stands in, "" for none.  level : number of leading dots.
    """

    inside: str
    level: int
    module: str
    names: tuple[str, ...]


class Source(NamedTuple):
    """What counts of a file of code. code : sha256 of its syntax tree.  functions : of the module."""

    code: bytes
    functions: frozenset[str]
    imports: tuple[Import, ...]


@cache
def source_of(text: bytes) -> Source:
    """What counts of the text of a file of code."""
    name = hashlib.sha256(text).hexdigest()
    with suppress(LookupError, TypeError, ValueError):  # not known, or damaged
        _used[name] = _from_plain(*_kept()[name])
    if name not in _used:
        _used[name] = read_source(text)
        _new.add(name)
    return _used[name]


def keep_sources() -> None:
    """Keep for other processes what this one had to read; nothing where nothing can be written."""
    if not _new:
        return
    _new.clear()
    known = {name: [source.code.hex(), sorted(source.functions), source.imports] for name, source in _used.items()}
    kept = _kept() if len(_kept()) + len(known) <= MOST else {}
    with suppress(OSError):
        make_folder(_file().parent)
        write_record(_file(), {"sources": {**kept, **known}}, READER)


@cache
def _kept() -> dict[str, Any]:
    """What other processes have kept, as it is written; empty if that is of another reader, or damaged."""
    with suppress(OSError, LookupError, TypeError, ValueError):
        record = read_record(_file(), READER)
        return {} if record is None else dict(record["sources"])
    return {}


def _file() -> Path:
    return cache_folder() / "sources.json"


def _from_plain(code: str, functions: list[str], imports: list[tuple[str, int, str, list[str]]]) -> Source:
    return Source(
        bytes.fromhex(code),
        frozenset(functions),
        tuple(Import(inside, level, module, tuple(names)) for inside, level, module, names in imports),
    )


def read_source(text: bytes) -> Source:
    """What counts, read from the text itself."""
    tree = ast.parse(text)
    imports: list[Import] = []
    functions = set()
    for node in tree.body:
        inside = node.name if isinstance(node, ast.FunctionDef) else ""
        functions.add(inside)
        for each in _statements(node):
            if isinstance(each, ast.Import):
                imports += [Import(inside, 0, alias.name, ()) for alias in each.names]
            elif isinstance(each, ast.ImportFrom):
                names = tuple(alias.name for alias in each.names)
                imports.append(Import(inside, each.level, each.module or "", names))
    words: list[str] = []
    _write(tree, words)
    return Source(hashlib.sha256(" ".join(words).encode()).digest(), frozenset(functions - {""}), tuple(imports))


def _statements(node: ast.AST) -> Iterator[ast.AST]:
    """A statement and all inside it, but those that only a type checker comes to."""
    if isinstance(node, ast.If) and _for_types(node.test):
        for other in node.orelse:
            yield from _statements(other)
        return
    yield node
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.stmt | ast.excepthandler | ast.match_case):
            yield from _statements(child)


def _for_types(test: ast.expr) -> bool:
    return (test.id if isinstance(test, ast.Name) else getattr(test, "attr", "")) == "TYPE_CHECKING"


def _write(part: object, words: list[str]) -> None:
    """A syntax tree as words, without docstrings.

    Empty fields do not count: versions of Python differ in them, and a shipped law's digest must hold in all.
    """
    if isinstance(part, ast.AST):
        words += (type(part).__name__, "(")
        for name, value in ast.iter_fields(part):
            if name == "body" and _has_docstring(part):
                value = value[1:]
            if value is not None and value != [] and name != "ctx":
                words.append(name)
                _write(value, words)
        words.append(")")
    elif isinstance(part, list):
        words.append("[")
        for each in part:
            _write(each, words)
        words.append("]")
    else:
        words.append(repr(part))


def _has_docstring(node: ast.AST) -> bool:
    if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) or not node.body:
        return False
    first = node.body[0]
    return isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and type(first.value.value) is str
