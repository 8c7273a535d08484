"""Inner loops are written once, as plain Python over arrays, and compiled (numba) as they are first called.

A compiled function calls compiled functions alone, and takes arrays, numbers and named tuples of them. What it reads of
a module, constants and other functions, is fixed as it is compiled. `function.py_func` is the plain one.

Compiled code is kept in icecone/compiled of the user's cache (NUMBA_CACHE_DIR, if set, in place of it), in a folder
named after the digest of all code in `fem/laws` and `fem/tube`: numba itself looks at the file of the function that is
called, not at those that it calls. A new folder takes away all but the newest. Where nothing can be written, code is
compiled again in each process.

ICECONE_PLAIN=1: nothing is compiled, numba is not imported. Same numbers but for round-off, a hundred times slower.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TypeVar

Function = TypeVar("Function", bound=Callable[..., object])
PLAIN = os.environ.get("ICECONE_PLAIN", "0") not in ("", "0")
FLOORS = ("laws", "tube")
KEPT = 6  # folders of compiled code


def compiled(function: Function) -> Function:
    """The function, to be compiled as it is first called."""
    return _compiled(function, no_cfunc_wrapper=True)


def within(function: Function) -> Function:
    """The same for what compiled functions alone call: Python cannot, and it compiles in less time."""
    return _compiled(function, no_cfunc_wrapper=True, no_cpython_wrapper=True)


def _compiled(function: Function, **options: bool) -> Function:
    if PLAIN:
        return function
    import numba

    before = numba.config.CACHE_DIR
    folder = _folder(before)
    numba.config.CACHE_DIR = folder or before
    try:
        return numba.njit(function, cache=bool(folder), error_model="numpy", **options)
    finally:
        numba.config.CACHE_DIR = before


def prune(folder: Path, keep: int = KEPT) -> None:
    """Take away all but the newest folders of compiled code; one that is in use is compiled again by the next process.

    Never raises: two processes may do it at once, and a folder may be another user's.
    """

    def age(each: Path) -> float:
        try:
            return -each.stat().st_mtime
        except OSError:
            return 0.0

    try:
        old = sorted((each for each in folder.iterdir() if each.is_dir() and not each.is_symlink()), key=age)[keep:]
    except OSError:
        return
    for each in old:
        shutil.rmtree(each, ignore_errors=True)


@cache
def _folder(given: str) -> str:
    """Where code of this digest is kept; empty if nothing can be written there."""
    here, found = Path(__file__).resolve(), hashlib.sha256()
    for file in (here, *(each for floor in FLOORS for each in sorted((here.parent / floor).glob("*.py")))):
        found.update(b"%s\0%s\0" % (file.name.encode(), file.read_bytes()))
    own = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "icecone" / "compiled"
    folder = Path(given or own) / found.hexdigest()[:12]
    try:
        is_new = not folder.exists()
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return ""
    if is_new and not given:
        prune(folder.parent)
    return str(folder) if os.access(folder, os.W_OK) else ""
