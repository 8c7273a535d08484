"""Renews the shipped laws: says which are of the code as it is now, computes the others again, or proves them.

    python -m icecone.studies.files.renew            computes again what is of other code: some 30 minutes for all
    python -m icecone.studies.files.renew --check    says what is of other code
    python -m icecone.studies.files.renew --prove    some two minutes, if a change of code should change no number

A proof computes one law of a kind again, that of middle cost, from the inputs that its file names. If it equals the
shipped one, all of that kind are signed with the digest of the code as it is now; the numbers stay. Equal: no number
differs by more than SAME of the largest of its list, nor by more than the law's error. A law that a proof did not
compute again may still differ: if code changed for some inputs only, compute all.

Each file is written as soon as its law is there, so that a run that was stopped goes on where it was. Exit code 1 if
laws of other code are left, 2 if a file cannot be read or written.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

import numpy as np

from ...fem.laws.recipes import RECIPES
from .laws import SHIPPED, Law, file_name, law_stamp, write_law
from .store import Damaged, read_any, write_record

if TYPE_CHECKING:
    from rich.console import Console

SAME = 2e-4  # weights are kept in four digits


@dataclass(frozen=True, slots=True)
class Shipped:
    """A law's file. stamp : of the code that it was computed with; now : of the code as it is."""

    path: Path
    name: str
    stamp: str
    now: str
    record: dict[str, Any]

    @property
    def seconds(self) -> float:
        """What it took to compute."""
        return float(self.record["made"]["seconds"])

    def again(self) -> tuple[Law, float]:
        """The law computed from the file's inputs, and the seconds that it took."""
        start = perf_counter()
        return RECIPES[self.name](self.record["inputs"]), perf_counter() - start


def shipped_laws(folder: Path = SHIPPED) -> list[Shipped]:
    """All laws of a folder. Raises Damaged for a file that is none, or not named after its inputs."""
    found = []
    for path in sorted(folder.glob("*.json")):
        stamp, _, record = read_any(path)
        name = stamp.partition("/")[0]
        if name not in RECIPES or path.name != file_name(name, record.get("inputs", {})):
            raise Damaged(f"{path}: not a law that is known, or not of the inputs that its name says")
        found.append(Shipped(path, name, stamp, law_stamp(name, RECIPES[name]), record))
    return found


def difference(law: Law, other: Law) -> float:
    """The largest difference of two numbers over the largest of their list; inf if lists do not fit."""
    if set(law) != set(other):
        return inf
    found = [0.0]
    for a, b in ((_numbers(law[key]), _numbers(other[key])) for key in law if key != "error"):
        found.append(float(np.abs(a - b).max() / np.abs(a).max()) if a.shape == b.shape else inf)
    return float(np.max(found))  # nan where one is


def is_same(law: Law, other: Law) -> bool:
    """Whether a law computed again, `other`, is the shipped one."""
    return difference(law, other) <= min(SAME, law["error"])


def _numbers(value: object) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array(value.split() if isinstance(value, str) else value, float).reshape(-1)


def renew(laws: Sequence[Shipped], console: Console) -> None:
    """Compute these again and write them."""
    from ..sweep.runner import progress_bar, say

    with progress_bar(console) as progress:
        task = progress.add_task("", total=len(laws))
        for each in laws:
            progress.update(task, description=each.name)
            law, seconds = each.again()
            write_law(each.path, each.now, each.record["inputs"], law, seconds)
            progress.advance(task)
            say(console, f"{each.path.name}: {_moved(each, law)}, computed in {seconds:.0f} s")


def prove(laws: Sequence[Shipped], console: Console) -> bool:
    """Compute one of each kind again; if it is the shipped one sign all of its kind. False if one is another."""
    from ..sweep.runner import progress_bar, say

    kinds = sorted({each.name for each in laws})
    proven = True
    with progress_bar(console) as progress:
        task = progress.add_task("", total=len(kinds))
        for name in kinds:
            progress.update(task, description=name)
            of_kind = sorted((each for each in laws if each.name == name), key=lambda each: each.seconds)
            one = of_kind[len(of_kind) // 2]
            law, seconds = one.again()
            same = is_same(one.record["law"], law)
            for each in of_kind if same else ():
                write_record(each.path, each.record, each.now)
            proven &= same
            progress.advance(task)
            what = f"{len(of_kind)} signed" if same else "none signed: compute them again"
            say(console, f"{name}: {one.path.name} {_moved(one, law)}, computed in {seconds:.0f} s; {what}")
    return proven


def _moved(each: Shipped, law: Law) -> str:
    return f"moved by {difference(each.record['law'], law):.1e}"


def main(arguments: Sequence[str] | None = None, folder: Path = SHIPPED) -> int:
    """The command line; the exit code."""
    from ..command.screen import console
    from ..sweep.runner import say

    parser = argparse.ArgumentParser(prog="python -m icecone.studies.files.renew", description="Renew shipped laws.")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--check", action="store_true", help="say which are of other code than now")
    what.add_argument("--prove", action="store_true", help="compute one of a kind; if it is the same, sign them all")
    given, screen = parser.parse_args(arguments), console()
    try:
        laws = shipped_laws(folder)
        old = [each for each in laws if each.stamp != each.now]
        for now in sorted({each.now for each in laws}):
            left = [each.path.name for each in old if each.now == now]
            say(screen, f"{now}: {len(left)} of {sum(each.now == now for each in laws)} laws are of other code")
        if given.check:
            return int(bool(old))
        if given.prove:
            return 0 if prove(old, screen) else 1
        renew(old, screen)
    except (Damaged, OSError) as problem:
        print(str(problem), file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
