"""Tubes pulled at random: does the beam in ice ever fail to come to its end, and how long does it take?

    python validation/benchmarks/tubepull.py [number] [seed]

Angle +-30 deg, direction of the pull 0 to 90 deg, embedment 40 to 200 mm, every metal, eye or tied off, every limit of
the ice over two decades, by the angle, some with ice that goes, most with walls that drive or shut the cone. Laws are
invented, to be unkind: no result has a meaning.
"""

from __future__ import annotations

import sys
from collections import Counter
from math import inf, pi, radians
from time import perf_counter

import numpy as np

from icecone.fem.cone.demand import ConeFronts
from icecone.fem.errors import SolveError
from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.laws.trench import Chips
from icecone.fem.tube.pull import ELEMENT, LARGEST_DISPLACEMENT, TubePull, solve_pull
from icecone.geometry.placement import Attachment, Placement, Pull, Tube
from icecone.materials import Metal, metal_named, metal_names

Case = tuple[Tube, Placement, Pull, IceLaws, Metal]


def random_case(rng: np.random.Generator) -> Case:
    """A tube, how it sits and is pulled, ice and metal (invented)."""
    embedment = rng.uniform(0.040, 0.200)
    diameter = rng.uniform(0.015, 0.020)
    stands = rng.choice([0.010, rng.uniform(0.0, 0.12)])
    tube = Tube(
        embedment + stands, diameter, rng.uniform(0.001, 0.002), min(0.065, embedment), 0.0025, 0.005, 0.01, 1e4
    )
    attachment: Attachment = "eye" if rng.random() < 0.6 else "tied_off"
    placement = Placement(radians(rng.uniform(-30, 30)), embedment, attachment)
    s = np.linspace(0, embedment, 81)
    crushing = 20e6 * diameter * _decades(rng)
    cone = inf if rng.random() < 0.1 else 0.29e6 * embedment**1.5 * _decades(rng)
    laws = IceLaws(
        s,
        np.full_like(s, 1.35e10 * _decades(rng)),
        np.full_like(s, crushing),
        np.full_like(s, 1.2e5),
        spall=10 ** rng.uniform(-2.7, -1.7),
        thread_stiffness=4.5e9,
        thread_limit=8e6 * pi * diameter * _decades(rng),
        thread_softening=10 ** rng.uniform(-2.7, -1.7),
        cone_load=cone,
        cone_softening=10 ** rng.uniform(-2.3, -1.7),
        toe_stiffness=9e9 * diameter,
        toe_limit=4.5e3 * _decades(rng),
        chips=None if rng.random() < 0.1 else _chips(rng),
        friction=rng.uniform(0.0, 0.2),
        fronts=None if rng.random() < 0.2 else _fronts(rng),
    )
    return tube, placement, Pull(radians(rng.uniform(0, 90))), laws, metal_named(str(rng.choice(metal_names())))


def _chips(rng: np.random.Generator) -> Chips:
    """Loads that grow with the angle, as a power of depth; a border between chips and cracks that dive anywhere."""
    angles, depth = np.radians([-40.0, -10.0, 0.0, 40.0]), np.arange(0.0, 0.2505, 5e-4)
    force = 8 * depth ** rng.uniform(1.0, 1.5) * np.sort([[_decades(rng)] for _ in angles], axis=0)
    turns, rise = np.radians([-40.0, -5.0, 10.0]), np.radians([50.0, 0.0, -40.0])
    return Chips(angles, 5e-4, force, turns, rise, radians(rng.uniform(-40.0, 60.0)))


def _fronts(rng: np.random.Generator) -> ConeFronts:
    """Two cones, three lengths, one square: driven evenly by threads, at random by the walls, all round and aside."""
    weights = 0.5 * rng.normal(size=(1, 2, 3, 1, 2, 3, 5))
    weights[:, :, :, :, :, 2] = np.array([1.0, 0.0])[:, None]
    return ConeFronts(weights, np.ones(1))


def _decades(rng: np.random.Generator) -> float:
    return float(10 ** rng.uniform(-1.0, 1.0))


def solve_random(
    number: int, seed: int, element: float = ELEMENT, farthest: float = LARGEST_DISPLACEMENT
) -> tuple[list[TubePull], list[str], list[float]]:
    """Results, failures in words and seconds of so many cases, with elements and pulled as far as said [m]."""
    found: list[TubePull] = []
    failures: list[str] = []
    seconds = []
    for index in range(number):
        case = random_case(np.random.default_rng([seed, index]))
        start = perf_counter()
        try:
            found.append(solve_pull(*case, element, largest_displacement=farthest))
        except SolveError as error:
            failures.append(f"case {index}: {error}")
        seconds.append(perf_counter() - start)
    return found, failures, seconds


def main(number: int, seed: int) -> None:
    """Solve so many and print failures, times, modes, snaps and the worst balance of energy."""
    found, failures, seconds = solve_random(number, seed)
    print(f"{number} cases, {len(failures)} failures", *failures, sep="\n  ")
    print("seconds: median {:.3f}, 90 % {:.3f}, most {:.3f}".format(*np.quantile(seconds, [0.5, 0.9, 1.0])))
    print("modes:", dict(Counter(each.mode for each in found).most_common()))
    print("ends:", dict(Counter(each.ended for each in found).most_common()))
    off = [each.imbalance for each in found]
    print(
        "energy missing, of the work: median {:.1e}, 90 % {:.1e}, most {:.1e}".format(*np.quantile(off, [0.5, 0.9, 1]))
    )
    print("snapped:", sum(each.settled > 0 for each in found), "cases")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*(given + [1500, 1][len(given) :]))
