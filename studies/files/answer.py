"""A results folder is whole: it holds the files of one answer, which its manifest lists, and none of another.

    OUT/manifest.json      {"icecone": version, "command": ..., "files": {name: sha256}}
    OUT/.icecone-*.tmp/    the stage: the files of an answer under way
    OUT/.lock              held by the run at work

A run writes into its stage and closes it with the manifest. From then on the answer stands: the files of the old
manifest go, those of the stage take their place, the manifest last; a run that is killed there is finished by the next
one. Killed before, its stage is cleared by the next run, and the old answer stays. At no instant do files of two
answers stand side by side. Files that no manifest lists are the user's: never removed, never written over. Sub-folders
(`cases`: records, taken up again) are not part of the answer.
"""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib.metadata import version
from pathlib import Path
from typing import Any
from uuid import uuid4

from .lock import only_run
from .store import TEMPORARY, Damaged, file_digest, naming, read_json, sync_folder, write_atomic, write_json

MANIFEST = "manifest.json"
WITHIN = ("cases", "checks")  # folders of records, beside an answer


@contextmanager
def answer(folder: Path, command: str, sure: Sequence[str] = ()) -> Iterator[Path]:
    """Hold a folder, made if need be, and hand out a stage whose files become the folder's answer on leaving.

    sure : files that this command is sure to write; that they are free is seen to at once.
    An error leaves the old answer as it was, and no folder that this run made and left empty. Raises Busy if another
    run holds the folder, OSError if a file cannot be written or is not of an earlier answer.
    """
    made = _make(folder)
    try:
        with only_run(folder):
            try:
                for within in (folder, *(folder / name for name in WITHIN), *folder.glob("cases/*/")):
                    recover(within)
                _check_free(folder, sure)
                with staged(folder, command) as stage:
                    yield stage
            except BaseException:
                _remove_empty(folder / name for name in WITHIN)
                raise
    except BaseException:
        _remove_empty(made)
        raise


@contextmanager
def staged(folder: Path, command: str) -> Iterator[Path]:
    """A stage in a folder that the caller holds; on leaving, its files replace those of the answer before."""
    stage = folder / TEMPORARY.format(uuid4().hex)
    stage.mkdir()
    try:
        yield stage
        _close(stage, folder, command)
    except BaseException as error:
        shutil.rmtree(stage, ignore_errors=True)
        if isinstance(error, OSError):
            _name(error, stage, folder)
        raise
    _publish(stage, folder)


def _close(stage: Path, folder: Path, command: str) -> None:
    """See that every file is on the disk and its place free; then the manifest, from which on the answer stands."""
    names = sorted((path.name for path in stage.iterdir()), key=lambda name: (name.endswith(".json"), name))
    _check_free(folder, names)
    for name in names:
        with naming(stage / name), (stage / name).open("rb") as handle:
            os.fsync(handle.fileno())
    files = {name: file_digest(stage / name) for name in names}
    write_json(stage / MANIFEST, {"icecone": version("icecone"), "command": command, "files": files})


def _publish(stage: Path, folder: Path) -> None:
    """Put a closed stage in the old answer's place. Killed anywhere in here, doing it again ends the same."""
    names = read_manifest(stage)
    _clear(folder)
    sync_folder(folder)
    for name in names:
        if (stage / name).exists():
            os.replace(stage / name, folder / name)
    sync_folder(folder)
    os.replace(stage / MANIFEST, folder / MANIFEST)
    sync_folder(folder)
    shutil.rmtree(stage, ignore_errors=True)


def recover(folder: Path) -> None:
    """Finish an answer that a killed run had closed, clear away whatever else it left. The caller holds the folder."""
    for left in list(folder.glob(TEMPORARY.format("*"))):
        if left.is_symlink() or not left.is_dir():
            with suppress(OSError):
                left.unlink()
        elif _is_closed(left, folder):
            _publish(left, folder)
        else:
            shutil.rmtree(left, ignore_errors=True)


def _is_closed(stage: Path, folder: Path) -> bool:
    """Whether the stage has its manifest and each of its files, here or in its place already."""
    try:
        expected = read_manifest(stage)
    except Damaged:
        return False
    found = all(digest in (file_digest(stage / name), file_digest(folder / name)) for name, digest in expected.items())
    return (stage / MANIFEST).exists() and found


def withdraw(folder: Path) -> None:
    """Take an answer out of its folder, and the folder away if nothing else is in it. The caller holds it."""
    _clear(folder)
    _remove_empty([folder])


def _clear(folder: Path) -> None:
    """Remove the answer, what says most first, the manifest last."""
    with suppress(Damaged):
        for name in (*reversed(read_manifest(folder)), MANIFEST):
            with suppress(FileNotFoundError):
                (folder / name).unlink()


def add_to_answer(folder: Path, name: str, make: Callable[[], bytes]) -> None:
    """Write a file that is made of the folder's answer and goes with it: the next answer takes it away.

    The manifest names it first, so that a run killed before the file is written leaves none that nobody would remove.
    Raises Busy if another run holds the folder, Damaged if it has no answer, OSError as `answer`.
    """
    with only_run(folder):
        recover(folder)
        data = make()
        if not read_manifest(folder):
            raise Damaged(f"{folder / MANIFEST}: not a manifest")
        _check_free(folder, [name])
        whole: Any = read_json(folder / MANIFEST)
        whole["files"][name] = hashlib.sha256(data).hexdigest()
        write_json(folder / MANIFEST, whole)
        write_atomic(folder / name, data)


def listed(folder: Path) -> list[str]:
    """Names of the files of the folder's answer, none if it has none."""
    try:
        return list(read_manifest(folder))
    except Damaged:
        return []


def read_manifest(folder: Path) -> dict[str, str]:
    """The files of the folder's answer with their digests, none if there is no manifest.

    Raises Damaged if the file is not a manifest of ours.
    """
    path = folder / MANIFEST
    if not os.path.lexists(path):
        return {}
    whole: Any = read_json(path) if path.is_file() else None
    if not isinstance(whole, dict) or set(whole) != {"icecone", "command", "files"}:
        raise Damaged(f"{path}: not a manifest")
    files = whole["files"]
    if not isinstance(files, dict) or any(Path(name).name != name or name.startswith(".") for name in files):
        raise Damaged(f"{path}: not a manifest")
    return files


def _check_free(folder: Path, names: Iterable[str]) -> None:
    """Raises FileExistsError if a place is taken by what is not of an earlier answer."""
    try:
        listed = read_manifest(folder)
    except Damaged:
        raise _taken(folder / MANIFEST) from None
    for name in names:
        place = folder / name
        if os.path.lexists(place) and (name not in listed or (place.is_dir() and not place.is_symlink())):
            raise _taken(place)


def _taken(path: Path) -> FileExistsError:
    words = "it is there and not of an earlier answer: move it away, or name another folder"
    return FileExistsError(errno.EEXIST, words, str(path))


def _name(error: OSError, stage: Path, folder: Path) -> None:
    """Name a file by its place, not by that in the stage; at least the folder, if a full disk names nothing."""
    path = Path(str(error.filename or folder))
    error.filename = str(folder / path.name) if path.parent == stage else str(path)


def check_folder(folder: Path) -> None:
    """See that a folder can be made and written into, and leave nothing. Raises OSError if not."""
    made = _make(folder)
    try:
        probe = folder / TEMPORARY.format(uuid4().hex)
        probe.touch(exist_ok=False)
        probe.unlink()
    finally:
        _remove_empty(made)


def _make(folder: Path) -> list[Path]:
    """Make a folder; those that were not there, the deepest first."""
    made = []
    for each in (folder, *folder.parents):
        if each.exists():
            break
        made.append(each)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        _remove_empty(made)
        raise
    return made


def _remove_empty(folders: Iterable[Path]) -> None:
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()
