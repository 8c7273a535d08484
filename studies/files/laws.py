"""The ice's laws, kept once computed: a file a law, named after what it was computed from.

    FOLDER/<law>-<digest of the inputs>.json    record with digest (`files.store`), stamped law/<digest of its code>

The code of a law is what its recipe rests on (`files.provenance`), without values: those are its inputs. A file of
other code is not used; versions of libraries are kept beside a law and void none.

A law is looked up in the user's folder (ICECONE_LAWS, or icecone/laws in the user's cache), then among those shipped. A
file that is damaged, or holds what cannot be such a law (`files.law_check`), is never trusted: this is said and the law
computed again. If the folder cannot be written into, a law is computed and not kept.

A result names the laws that it rests on, file name and digest of stamp, inputs and law (not of the seconds that it
took): it counts as long as the same lookup finds the same laws.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from time import perf_counter
from typing import Any

from .law_check import law_problem
from .provenance import digest
from .store import Damaged, cache_folder, make_folder, read_any, read_record, write_record

Law = dict[str, Any]
Inputs = Mapping[str, float]
Recipe = Callable[[Inputs], Law]
SHIPPED = Path(__file__).resolve().parents[1] / "shipped" / "laws"  # that come with icecone


def laws_folder() -> Path:
    """Where laws are kept."""
    named = os.environ.get("ICECONE_LAWS")
    return Path(named) if named else cache_folder() / "laws"


def file_name(name: str, inputs: Inputs) -> str:
    """Name of a law's file: the law and a digest of its inputs."""
    return _file_name(name, tuple(inputs.items()), tuple(type(value) for value in inputs.values()))


@lru_cache(maxsize=4096)
def _file_name(name: str, inputs: tuple[tuple[str, float], ...], kinds: tuple[type, ...]) -> str:
    """`file_name`; kinds : of the values, 1 and 1.0 are written differently."""
    text = json.dumps(dict(inputs), sort_keys=True, allow_nan=False)
    return f"{name}-{hashlib.sha256(text.encode()).hexdigest()[:16]}.json"


def law_stamp(name: str, recipe: Recipe) -> str:
    """The law and a digest of the code that a recipe, a function of a module of icecone, rests on."""
    return f"{name}/{digest((f'{recipe.__module__}.{recipe.__qualname__}',), values=False)[:12]}"


def kept_law(name: str, inputs: Inputs, recipe: Recipe, say: Callable[[str], None] = lambda text: None) -> Law:
    """The law `name` at these inputs: from a file, or computed by its recipe and kept.

    say : gets one line if something is wrong with a file or a law is computed.
    """
    return _kept(name, inputs, recipe, say)[0]


def _kept(name: str, inputs: Inputs, recipe: Recipe, say: Callable[[str], None]) -> tuple[Law, str]:
    """`kept_law`, and its digest."""
    file, stamp = file_name(name, inputs), law_stamp(name, recipe)
    kept, _ = _found(file, stamp, name, inputs, say)
    if kept is not None:
        return kept
    own = laws_folder() / file
    with _one_at_a_time(own, lambda: say(f"law {name}: another process computes it now: waiting")):
        kept, why = _found(file, stamp, name, inputs, lambda text: None)
        if kept is not None:
            return kept
        start = perf_counter()
        law = recipe(inputs)
        seconds = perf_counter() - start
        say(f"law {name} computed in {seconds:.0f} s{why}")
        try:
            make_folder(own.parent)
            write_law(own, stamp, inputs, law, seconds)
        except OSError as problem:
            say(f"{own.parent}: laws cannot be kept there ({problem.strerror})")
    return law, _digest(stamp, inputs, law)


def _found(
    file: str, stamp: str, name: str, inputs: Inputs, say: Callable[[str], None]
) -> tuple[tuple[Law, str] | None, str]:
    """The law as it is kept, and its digest; if there is none, words on why it has to be computed again."""
    why = ""
    for path in _places(laws_folder(), file):
        try:
            state = path.stat()
            kept = _read_law(path, state.st_mtime_ns, state.st_size, stamp, name, tuple(inputs.items()))
            if kept is not None:
                return kept, ""
            why = ", as its code has changed"
        except FileNotFoundError:
            continue
        except (Damaged, OSError) as problem:
            say(f"{problem}: not trusted, computing this law again")
    return None, why


@contextmanager
def _one_at_a_time(path: Path, waits: Callable[[], None]) -> Iterator[None]:
    """Let one process make a file and the others wait for it; a lock that ends with its process.

    waits : called where another is at it. Not enforced on Windows, nor where nothing can be written.
    """
    handle = _locked(path.with_suffix(".lock"), waits)
    try:
        yield
    finally:
        if handle is not None:
            with suppress(OSError):  # the file is written by now: who comes later finds it
                path.with_suffix(".lock").unlink()
            os.close(handle)


def _locked(path: Path, waits: Callable[[], None]) -> int | None:
    if sys.platform == "win32":
        return None
    import fcntl

    try:
        make_folder(path.parent)
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK, 0o666)
    except OSError:
        return None
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            waits()
            fcntl.flock(handle, fcntl.LOCK_EX)
    except BaseException as error:
        os.close(handle)
        if isinstance(error, OSError):  # a file system without locks
            return None
        raise
    return handle


def write_law(path: Path, stamp: str, inputs: Inputs, law: Law, seconds: float) -> None:
    """Write a law's file, with what it was made by."""
    made = {"icecone": version("icecone"), "scikit-fem": version("scikit-fem"), "seconds": seconds}
    write_record(path, {"inputs": dict(inputs), "law": law, "made": made}, stamp)


class UsedLaws:
    """`kept_law` that takes note of what it hands out.  digests : of each law, by its file's name."""

    def __init__(self, say: Callable[[str], None] = lambda text: None) -> None:
        self.digests: dict[str, str] = {}
        self._say = say

    def __call__(self, name: str, inputs: Inputs, recipe: Recipe) -> Law:
        law, self.digests[file_name(name, inputs)] = _kept(name, inputs, recipe, self._say)
        return law


def law_changed(digests: Mapping[str, str]) -> str:
    """The first of these laws that the lookup does not find as it was, "" if all are."""
    return next((file for file, digest in digests.items() if not _finds(file, digest)), "")


def _finds(file: str, digest: str) -> bool:
    """Whether a file of this digest is there, and none of the same stamp before it on the way."""
    passed = []
    for path in _places(laws_folder(), file):
        try:
            state = path.stat()
            stamp, found = _read_digest(path, state.st_mtime_ns, state.st_size)
        except (Damaged, OSError):
            continue
        if found == digest:
            return stamp not in passed
        passed.append(stamp)
    return False


@lru_cache(maxsize=4096)
def _read_law(
    path: Path, mtime_ns: int, size: int, stamp: str, name: str, inputs: tuple[Any, ...]
) -> tuple[Law, str] | None:
    """Law and digest in a file, read once as long as it is not written again; None if it is of other code."""
    record = read_record(path, stamp)
    if record is None:
        return None
    law = _law(record, name, dict(inputs), path)
    return law, _digest(stamp, dict(inputs), law)


@lru_cache(maxsize=4096)
def _read_digest(path: Path, mtime_ns: int, size: int) -> tuple[str, str]:
    """Stamp and digest of the law in a file, read once as long as it is not written again."""
    stamp, _, record = read_any(path)
    inputs = record.get("inputs")
    if not isinstance(inputs, dict):
        raise Damaged(f"{path}: not a law: no inputs")
    return stamp, _digest(stamp, inputs, _law(record, stamp.partition("/")[0], inputs, path))


@lru_cache(maxsize=4096)
def _places(own: Path, file: str) -> tuple[Path, Path]:
    """Where a law is looked for, in order."""
    return own / file, SHIPPED / file


def _law(record: Mapping[str, Any], name: str, inputs: Inputs, path: Path) -> Law:
    """The law in a record. Raises Damaged if it is none of that name at these inputs."""
    if record.get("inputs") != dict(inputs):
        raise Damaged(f"{path}: not of the inputs that its name says")
    law: Law = record.get("law", {})
    if problem := law_problem(name, law):
        raise Damaged(f"{path}: not a law: {problem}")
    return law


def _digest(stamp: str, inputs: Inputs, law: Law) -> str:
    body = {"stamp": stamp, "inputs": dict(inputs), "law": law}
    return hashlib.sha256(json.dumps(body, sort_keys=True, allow_nan=False).encode()).hexdigest()
