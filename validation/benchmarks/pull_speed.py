"""What a pull costs, and a peak with its first rival: this code beside another, in one run.

    python validation/benchmarks/pull_speed.py [number] [python of another checkout]

Without another checkout the other is this code uncompiled (ICECONE_PLAIN=1): some seconds a pull, so take few. Cases
are those of `tubepull.random_case`. Each process first pulls one that does not count: compiling, or reading what was
compiled, is told apart. Seconds are of the processor: a busy machine moves them less than those of a clock.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from time import process_time

import numpy as np

from icecone.fem.case import Case
from icecone.fem.errors import SolveError
from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.tube.peak import case_without, pull_case
from icecone.materials import ice_named
from icecone.validation.benchmarks.tubepull import random_case

SEED, COUNT = 1, "--count"
ICE = ice_named("sound_glacier", -5.0)
Times = dict[str, list[float]]


def with_first_rival(case: Case, laws: IceLaws) -> tuple[float, float]:
    """Seconds of a pull, and of the pull with its mode barred: 0 where there is none."""
    spent, barred, mode = [0.0, 0.0], (case, laws), ""
    for k in range(2):
        start = process_time()
        try:
            mode = pull_case(*barred).mode
        except SolveError:
            break
        finally:
            spent[k] = process_time() - start
        following = case_without(mode, *barred)
        if following is None:
            break
        barred = following
    return spent[0], spent[1]


def count(number: int) -> Times:
    """Seconds of so many cases, and of the first call."""
    found: Times = {"first call": [], "pull": [], "pull and first rival": []}
    for index in range(-1, number):
        tube, placement, pull, laws, metal = random_case(np.random.default_rng([SEED, max(index, 0)]))
        own, rival = with_first_rival(Case(tube, placement, pull, ICE, metal, ICE), laws)
        if index < 0:
            found["first call"].append(own + rival)
        else:
            found["pull"].append(own)
            found["pull and first rival"].append(own + rival)
    return found


def other(number: int, python: str, **changed: str) -> Times:
    """`count` of another process."""
    words = [python, __file__, str(number), COUNT]
    done = subprocess.run(words, env=os.environ | changed, capture_output=True, text=True, check=True)
    return dict(json.loads(done.stdout))


def main(number: int, python: str | None) -> None:
    """Print both, and the ratio of the medians."""
    ran: dict[str, Callable[[], Times]] = {
        "this": lambda: other(number, sys.executable),
        "other": lambda: other(number, python) if python else other(number, sys.executable, ICECONE_PLAIN="1"),
    }
    found = {name: run() for name, run in ran.items()}
    for what in found["this"]:
        for name, times in found.items():
            middle, most, worst = 1e3 * np.quantile(times[what], [0.5, 0.9, 1.0])
            print(f"{what:22s} {name:6s} median {middle:8.1f}  90 % {most:8.1f}  worst {worst:8.1f} ms")
        ratio = np.median(found["other"][what]) / np.median(found["this"][what])
        print(f"{what:22s} ratio  {ratio:.1f}")


if __name__ == "__main__":
    given = sys.argv[1:]
    cases = int(given[0]) if given else 60
    if COUNT in given:
        print(json.dumps(count(cases)))
    else:
        main(cases, given[1] if len(given) > 1 else None)
