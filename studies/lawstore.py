"""The ice's laws, kept once computed: a file a law, named after what it was computed from.

    FOLDER/<law>-<digest of the inputs>.json    record with digest (`store`), of the law's version

Looked up in the user's folder (ICECONE_LAWS, or icecone/laws in the user's cache), then among those that are shipped.
A damaged file is never trusted: it is said and the law computed again. Where the folder cannot be written into, a law
is computed and not kept.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Mapping
from importlib.metadata import version
from importlib.resources import as_file, files
from pathlib import Path
from time import perf_counter
from typing import Any

from .store import Damaged, make_folder, read_record, write_record

Law = dict[str, Any]
Inputs = Mapping[str, float | str]


def laws_folder() -> Path:
    """Where laws are kept."""
    if named := os.environ.get("ICECONE_LAWS"):
        return Path(named)
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "icecone" / "laws"


def file_name(name: str, inputs: Inputs) -> str:
    """Name of a law's file: the law and a digest of its inputs."""
    text = json.dumps(dict(inputs), sort_keys=True, allow_nan=False)
    return f"{name}-{hashlib.sha256(text.encode()).hexdigest()[:16]}.json"


def kept_law(
    name: str,
    law_version: int,
    inputs: Inputs,
    compute: Callable[[], Law],
    say: Callable[[str], None] = lambda text: None,
) -> Law:
    """The law `name` at these inputs: from a file, or computed and kept.

    law_version : of the model behind it; files of another one are not used.  say : gets one line where something is
    wrong with a file or a law is computed.
    """
    file, stamp = file_name(name, inputs), f"{name}/{law_version}"
    own = laws_folder() / file
    with as_file(files(__package__) / "laws" / file) as shipped:
        for path in (own, shipped):
            try:
                record = read_record(path, stamp)
            except (Damaged, OSError) as problem:
                say(f"{problem}: not trusted, computing this law again")
                continue
            if record is not None and record["inputs"] == dict(inputs):
                law: Law = record["law"]
                return law
    start = perf_counter()
    law = compute()
    made = {"icecone": version("icecone"), "scikit-fem": version("scikit-fem"), "seconds": perf_counter() - start}
    say(f"law {name} computed in {made['seconds']:.0f} s")
    try:
        make_folder(own.parent)
        write_record(own, {"inputs": dict(inputs), "law": law, "made": made}, stamp)
    except OSError as problem:
        say(f"{own.parent}: laws cannot be kept there ({problem.strerror})")
    return law
