"""Files that are whole or absent: atomic writes, and records whose digest is checked on reading.

    record file = {"digest": sha256 of the rest, "version": of icecone, "files": {name: sha256}, "record": {...}}

`files` are those written beside the record into a folder of the same name (fields, figures): they count as there only
if their digests agree. A damaged file is never trusted: `read_record` raises Damaged and the caller solves again.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any
from uuid import uuid4

from ..command.plain_text import sheet_cell

TEMPORARY = ".icecone-{}.tmp"
ROW = re.compile(r'\[\n\s*([^\[\]{}"]+?)\n\s*\]')  # of JSON: a list of numbers; text holds no line break as it is


class Damaged(ValueError):
    """A record file that is cut short, altered or not a record at all."""


def cache_folder() -> Path:
    """Where what can be had again is kept: icecone in the user's cache."""
    return _cache_folder(os.environ.get("XDG_CACHE_HOME"), os.path.expanduser("~"))


@lru_cache(maxsize=16)
def _cache_folder(named: str | None, home: str) -> Path:
    return Path(named or Path(home) / ".cache") / "icecone"


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Whatever cannot be read or written in here is this file: a full disk names none, a temporary means nothing."""
    try:
        yield
    except OSError as error:
        error.filename = str(path)
        raise


def write_atomic(path: Path, data: bytes) -> None:
    """Write a file so that a reader, or a run killed at any moment, sees the old one or the new one, whole."""
    temporary = path.with_name(TEMPORARY.format(uuid4().hex))
    with naming(path):
        try:
            with temporary.open("xb") as handle:
                handle.write(data)
                handle.flush()
                os.fsync(handle.fileno())
            os.replace(temporary, path)
        except BaseException:
            with suppress(OSError):
                temporary.unlink()
            raise
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Wait until the disk knows which files a folder holds."""
    if sys.platform != "win32":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8, atomically."""
    write_atomic(path, text.encode())


def write_json(path: Path, data: Any) -> None:
    """Write JSON, atomically, a row of numbers in a line.

    Raises ValueError for a number that is not finite, TypeError for no plain data.
    """
    text = json.dumps(data, indent=2, allow_nan=False)
    write_text(path, ROW.sub(lambda row: f"[{' '.join(row[1].split())}]", text) + "\n")


def read_json(path: Path) -> Any:
    """Read JSON. Raises Damaged if it is not."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise Damaged(f"{path}: not whole: {error}") from None


def write_csv(
    path: Path,
    header: Sequence[str],
    rows: Iterable[Sequence[object]],
    remarks: Sequence[str] = (),
    exact: bool = False,
) -> None:
    """Write a table as CSV, atomically: None is empty, no text begins like a formula.

    remarks : lines before it, each after a #.  exact : floats with all digits, instead of six.
    """
    text = io.StringIO()
    text.writelines(f"# {line}\n" for line in remarks)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([_csv_cell(cell, exact) for cell in row])
    write_text(path, text.getvalue())


def _csv_cell(cell: object, exact: bool) -> object:
    if isinstance(cell, float):
        return repr(cell) if exact else f"{cell:.6g}"
    return sheet_cell(cell) if isinstance(cell, str) else cell


def _digest(body: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(body, sort_keys=True, allow_nan=False).encode()).hexdigest()


def file_digest(path: Path) -> str | None:
    """sha256 of a file; None if it cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def write_record(path: Path, record: Mapping[str, Any], version: str, folder: Path | None = None) -> None:
    """Write a record with its digest; `folder` holds the files that belong to it, written before."""
    files = {}
    if folder is not None:
        for file in sorted(folder.iterdir()):
            if file.is_file() and not file.name.startswith("."):
                files[file.name] = file_digest(file)
    body = {"version": version, "files": files, "record": record}
    write_json(path, {"digest": _digest(body), **body})


def read_record(path: Path, version: str, folder: Path | None = None) -> dict[str, Any] | None:
    """The record at `path`, or None if there is none by this version with all its files in `folder`.

    Raises Damaged if the file is not what was written.
    """
    if not os.path.lexists(path):
        return None
    found, files, record = read_any(path)
    if found != version:
        return None
    if folder is not None:
        if not files:
            return None
        for name, expected in files.items():
            if file_digest(folder / name) != expected:
                raise Damaged(f"{folder / name}: missing, or its digest does not agree with its content")
    return record


def read_whole(
    path: Path, version: str, whole: Callable[[dict[str, Any]], bool], what: str, say: Callable[[str], None]
) -> dict[str, Any] | None:
    """The record at `path` as `read_record` gives it; one that is damaged is told and counts as none.

    whole : whether it holds what its readers need.  what : it is, in words.
    """
    try:
        record = read_record(path, version)
        if record is not None and not whole(record):
            raise Damaged(f"{path}: not {what}")
    except Damaged as problem:
        say(f"{problem}: not trusted, made again")
        return None
    return record


def read_any(path: Path) -> tuple[str, dict[str, str], dict[str, Any]]:
    """Version, files and record of the record file at `path`. Raises Damaged, or OSError if it cannot be read."""
    if not path.is_file():
        raise Damaged(f"{path}: not a file")
    whole = read_json(path)
    if not isinstance(whole, dict) or set(whole) != {"digest", "version", "files", "record"}:
        raise Damaged(f"{path}: not a record")
    body = {key: whole[key] for key in ("version", "files", "record")}
    try:
        digest = _digest(body)
    except ValueError:  # NaN, which JSON proper does not know
        raise Damaged(f"{path}: not a record: it holds a number that is not finite") from None
    if digest != whole["digest"]:
        raise Damaged(f"{path}: its digest does not agree with its content")
    if not (isinstance(body["version"], str) and isinstance(body["files"], dict) and isinstance(body["record"], dict)):
        raise Damaged(f"{path}: not a record")
    return body["version"], body["files"], body["record"]


def make_folder(folder: Path) -> None:
    """Make a folder and see that it can be written into. Raises OSError if not."""
    folder.mkdir(parents=True, exist_ok=True)
    probe = folder / TEMPORARY.format(uuid4().hex)
    probe.touch(exist_ok=False)
    probe.unlink()
