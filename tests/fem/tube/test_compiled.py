"""The loops of a pull are held to vectorised NumPy and to themselves without a compiler; their folder may be closed."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import suppress
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import numpy_pull
import pytest
from scipy.linalg import solve_banded

from icecone.fem.compiled import prune
from icecone.fem.cone.demand import ConeFronts
from icecone.fem.errors import SolveError
from icecone.fem.tube.beam import HALF_BAND, dense, resist, solve_band
from icecone.fem.tube.energies import book
from icecone.fem.tube.equilibrium import find, unloaded
from icecone.fem.tube.events import measures
from icecone.fem.tube.ice_forces import spring_forces
from icecone.fem.tube.ice_springs import bearing_limit, deepened
from icecone.fem.tube.march import Marched
from icecone.fem.tube.pull import make_tube_model, solve_pull
from icecone.fem.tube.shank import shank_forces
from icecone.fem.tube.state import Equilibrium, TubeModel, unpack
from icecone.fem.tube.track import Track
from icecone.geometry.placement import facing
from icecone.validation.benchmarks.tubepull import random_case

Step = tuple[TubeModel, ConeFronts | None, Equilibrium, Equilibrium]
SEEDS, EVERY = range(12), 9
SAME = 1e-12  # of the largest of an array
ENDS = "import json, test_compiled; print(json.dumps(test_compiled.ends()))"


@cache
def all_steps() -> list[Step]:
    """Some steps of tubes pulled at random, to their ends."""
    found: list[Step] = []
    take = Track.take
    for seed in SEEDS:
        case = random_case(np.random.default_rng([7, seed]))
        fronts, steps = case[3].fronts, []

        def taken(track: Track, marched: Marched, fronts: Any = fronts, steps: Any = steps) -> None:
            parts = track.model.parts
            states = [unpack(parts, each) for each in marched.states]
            steps += [(track.model, fronts, old, new) for old, new in pairwise(states)]
            take(track, marched)

        with patch.object(Track, "take", taken), suppress(SolveError):
            solve_pull(*case)
        found += steps[::EVERY]
    return found


def test_the_steps_come_to_all_that_ice_and_tube_do() -> None:
    """Otherwise equality says little: yield, crushing, a trench, worn threads, a moving cone, friction, a shank."""
    states = [new for *_, new in all_steps()]
    assert any(np.abs(at.beam.section.plastic).max() > 1e-4 for at in states)
    assert any(at.ice.state.trench > 1e-4 for at in states) and any(at.ice.state.cone > 0 for at in states)
    assert any(at.ice.state.worn.any() for at in states) and any(at.ice.state.rubbed.any() for at in states)
    assert any(at.ice.state.crushed[0].any() and at.ice.state.crushed[1].any() for at in states)
    assert any(at.shank.crushed.any() for at in states)


def same(one: object, other: object) -> bool:
    """Whether arrays are equal to round-off of their largest."""
    a, b = np.asarray(one, float), np.asarray(other, float)
    return a.shape == b.shape and bool(np.abs(a - b).max(initial=0.0) <= SAME * np.abs(b).max(initial=0.0))


def test_the_beam_is_that_of_numpy() -> None:
    for model, _, old, new in all_steps():
        ours = resist(model.beam, model.section, new.q, old.beam.section.plastic)
        theirs = numpy_pull.resist(model.beam, model.section, new.q, old.beam.section.plastic)
        assert same(ours.strain, theirs.strain) and same(ours.section.plastic, theirs.section.plastic)
        assert same(dense(ours.band, new.q.size), theirs.band)
        scale = np.abs(theirs.section.force).max() + np.abs(theirs.shear).max()
        assert np.abs(ours.force - theirs.force).max() <= SAME * scale


def test_the_ice_is_that_of_numpy() -> None:
    for model, _, old, new in all_steps():
        springs, first, state = model.springs, model.first, old.ice.state
        q0, q, turn = old.q[first:], new.q[first:], new.q[first:, 2].copy()
        limits = bearing_limit(springs, turn, state)
        assert same(limits, numpy_pull.bearing_limit(springs, turn, state))
        ours = spring_forces(springs, q0, q, state, limits)
        theirs = numpy_pull.spring_forces(springs, q0, q, state, limits, ours.kept.state.cone)
        for name in ours._fields[:-1]:
            assert same(getattr(ours, name), getattr(theirs, name)), name
        kept, known = ours.kept, theirs.kept
        for name in kept._fields[:-1]:
            assert same(getattr(kept, name), getattr(known, name)), name
        for name in kept.state._fields:
            assert same(getattr(kept.state, name), getattr(known.state, name)), name
        assert same(deepened(springs, turn, state, kept.state), numpy_pull.deepened(springs, turn, state, known.state))
        above = model.shank, new.q[:first], state.trench, old.shank.crushed
        for one, other in zip(shank_forces(*above), numpy_pull.shank_forces(*above), strict=True):
            assert same(one, other)


def test_measures_and_energies_are_those_of_numpy() -> None:
    """Measures to 1e-9 of themselves: differences of large numbers; energies to round-off of what is stored."""
    for model, fronts, old, new in all_steps():
        theirs = numpy_pull.measures(model, new, fronts)
        assert measures(model, new)[:-1] == pytest.approx(theirs, rel=1e-9, abs=1e-9)
        energies = numpy_pull.book(model, old, new)
        assert np.abs(book(model, old, new)[:-1] - energies).max() <= 1e-10 * np.abs(energies).max()


def test_the_banded_solve_is_that_of_a_library() -> None:
    """Rows that must be exchanged: a diagonal that is nearly zero."""
    rng, n = np.random.default_rng(3), 90
    band, right = rng.normal(size=(2 * HALF_BAND + 1, n)), rng.normal(size=(n, 3))
    band[HALF_BAND] *= 1e-9
    exact = solve_banded((HALF_BAND, HALF_BAND), band, right)
    assert solve_band(band.ravel(), right) == pytest.approx(exact, rel=1e-9, abs=1e-9 * np.abs(exact).max())


def ends() -> list[list[float]]:
    """Load [N], movement [m] and turn of two tubes after some steps, each twice as long as the last."""
    found = []
    for seed in (1, 2):
        tube, placement, pull, laws, metal = random_case(np.random.default_rng([7, seed]))
        model = make_tube_model(tube, *facing(placement, pull)[:2], laws, metal, 1e-2)
        at = unloaded(model)
        for number in range(9):
            at = find(model, at, 2e-6 * 2**number, at.q, at.load) or at
        found.append([at.load, at.displacement, float(at.q[0, 2])])
    return found


def python(folder: Path, **changed: str) -> list[list[float]]:
    """`ends` of another process with its environment changed."""
    env = os.environ | {"PYTHONPATH": os.pathsep.join([str(Path(__file__).parent), *sys.path])} | changed
    done = subprocess.run([sys.executable, "-c", ENDS], env=env, cwd=folder, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def test_without_a_compiler_the_numbers_are_the_same(tmp_path: Path) -> None:
    assert np.array(python(tmp_path, ICECONE_PLAIN="1")) == pytest.approx(np.array(ends()), rel=1e-9)


DOT = """
from icecone.fem.tube.sling import at_the_ice
from icecone.fem.tube.beam import make_beam
import numpy
print(int(at_the_ice(make_beam(numpy.linspace(-0.02, 0.1, 4), 0.0), 3, numpy.zeros((4, 3)))))
"""


@pytest.mark.parametrize("closed", [True, False])
def test_code_is_kept_where_it_can_be_written_and_runs_where_not(closed: bool, tmp_path: Path) -> None:
    """A cache that is a file, not a folder; and one that is there, in a folder of this code alone."""
    place = tmp_path / "cache"
    if closed:
        place.write_text("")
    env = os.environ | {"NUMBA_CACHE_DIR": str(place), "ICECONE_PLAIN": "0"}
    done = subprocess.run(
        [sys.executable, "-c", DOT], env=env, cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert done.stdout == "1\n"
    assert closed or [*place.glob("*/*/sling.at_the_ice*.nbc")]


def test_old_folders_of_compiled_code_are_taken_away(tmp_path: Path) -> None:
    """The newest stay, files and links too; what cannot be read is let be."""
    for number in range(6):
        (tmp_path / f"{number}").mkdir()
        (tmp_path / f"{number}" / "code.nbc").write_text("x")
        os.utime(tmp_path / f"{number}", (1e9 + number, 1e9 + number))
    (tmp_path / "a file").write_text("x")
    elsewhere = tmp_path / "5" / "elsewhere"
    elsewhere.mkdir()
    os.utime(tmp_path / "5", (1e9 + 5, 1e9 + 5))
    (tmp_path / "link").symlink_to(elsewhere)
    prune(tmp_path, 2)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["4", "5", "a file", "link"] and elsewhere.is_dir()
    prune(tmp_path / "nowhere")
