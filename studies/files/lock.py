"""A folder for one run at a time: a lock that ends with the run, however that ends.

The lock file is opened without waiting (a pipe would hang) and without following a link (its target would be made). A
run removes a lock file of ours (MARK), even one that a killed run left. A run that opened the file just before sees by
its number that it is no longer the one.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from .store import naming

LOCK, MARK = ".lock", b"a run of icecone is at work in this folder\n"


class Busy(RuntimeError):
    """Another run is writing into the same folder, or something else stands where its lock should be."""


@contextmanager
def only_run(folder: Path) -> Iterator[None]:
    """Hold a folder for this run alone, until it ends or is killed. Raises Busy. Not enforced on Windows."""
    path = folder / LOCK
    handle = _lock(path)
    try:
        yield
    finally:
        with suppress(OSError):
            if os.read(handle, len(MARK) + 1) == MARK:
                path.unlink()
        os.close(handle)


def _lock(path: Path) -> int:
    """Handle of the locked file, at its start."""
    while True:
        handle = _open_lock(path)
        try:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise Busy(_not_plain(path))
            _hold(handle, path)
            if os.path.samestat(os.fstat(handle), os.lstat(path)):
                os.lseek(handle, 0, os.SEEK_SET)
                return handle
        except FileNotFoundError:  # the run that held it is done and has removed it
            pass
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _open_lock(path: Path) -> int:
    """Open without waiting for a pipe's other end, and without following a link."""
    flags = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    while True:
        try:
            handle = os.open(path, flags | os.O_CREAT | os.O_EXCL, 0o666)
            with suppress(OSError):  # a full disk: it holds all the same
                os.write(handle, MARK)
            return handle
        except FileExistsError:
            pass
        try:
            return os.open(path, flags)
        except FileNotFoundError:
            if path.is_symlink():
                raise Busy(_not_plain(path)) from None
        except OSError:
            if not stat.S_ISREG(os.lstat(path).st_mode):
                raise Busy(_not_plain(path)) from None
            raise


def _not_plain(path: Path) -> str:
    return f"{path}: must be a plain file: move away what is there, or name another folder"


def _hold(handle: int, path: Path) -> None:
    if sys.platform != "win32":
        import fcntl

        try:
            with naming(path):
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            folder = path.parent
            raise Busy(f"{folder}: another run is writing into this folder: wait for it, or name another") from None
