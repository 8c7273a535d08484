"""The geometrically exact beam and the ice's springs: rigid motions, exact tangents, elastica, memory of the ice."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import inf, radians

import numpy as np
import pytest
from samples import STEEL

from icecone.fem.laws.ice_laws import IceLaws
from icecone.fem.laws.trench import Chips
from icecone.fem.tube import ice_forces
from icecone.fem.tube.beam import add_block, beam_strains, dense, directions, make_beam, resist, solve_band
from icecone.fem.tube.cross_section import hollow_section
from icecone.fem.tube.ice_forces import SpringForces, spent_in_ice, stored_in_ice
from icecone.fem.tube.ice_springs import (
    Springs,
    SpringState,
    at_rest,
    bearing_limit,
    deepened,
    gather,
    integral,
    loosened,
)
from icecone.validation.checks.beam_and_pile.tube_beam import elastica_load

SECTION = hollow_section(0.0085, 0.0070, STEEL)
BEAM = make_beam(np.linspace(-0.02, 0.06, 9), radians(10))
S = np.linspace(0, 0.06, 13)
LAWS = IceLaws(
    S, 1e10 + 0 * S, 3e5 * np.sqrt(S / 0.06), np.full(13, 1e5), 1e-3, 5e9, 2e5, 2e-3, 3e3, 5e-3, 1e8, 4e3, friction=0.1
)  # fmt: skip


def spring_forces(springs: Springs, q0: np.ndarray, q: np.ndarray, old: SpringState) -> SpringForces:
    """Within the limits of the angle at which the step starts."""
    return ice_forces.spring_forces(springs, q0, q, old, bearing_limit(springs, q0[:, 2].copy(), old))


def moved(scale: float, seed: int) -> np.ndarray:
    """Smooth motion of the nodes, with a rotation that roughly follows."""
    t = np.linspace(0, 1, len(BEAM.s))
    c = np.random.default_rng(seed).normal(size=(3, 3))
    return scale * np.column_stack(
        [1e-3 * (c[0] @ [t**0, t, t**2]), 1e-3 * (c[1] @ [t**0, t, t**2]), 0.05 * c[2, 0] * t]
    )


def turned(angle: float) -> np.ndarray:
    """The nodes turned by an angle [rad] and carried away, as one rigid body."""
    a, _ = directions(np.array([BEAM.angle, BEAM.angle + angle]))
    return np.column_stack([-BEAM.s[:, None] * (a[1] - a[0]) + [0.3, -0.2], np.full(len(BEAM.s), angle)])


def test_a_rigid_motion_strains_nothing() -> None:
    """Turned by 2 rad and carried away, the beam resists with nothing and stores nothing."""
    q = turned(2.0)
    strain, _, _ = beam_strains(BEAM, q)
    assert np.abs(strain).max() < 1e-13
    assert np.abs(resist(BEAM, SECTION, q, np.zeros((8, 20))).force).max() < 1e-5


def test_the_tangent_of_the_beam_is_exact_and_symmetric() -> None:
    """Central differences of the nodal forces, turned by 1 rad and bent, some fibres yielding."""
    q, plastic = turned(1.0) + moved(0.2, 1), np.random.default_rng(2).normal(0, 1e-4, (8, 20))
    found = resist(BEAM, SECTION, q, plastic)
    assert (found.section.plastic != plastic).any() and (found.section.plastic == plastic).any()
    K, n, h = dense(found.band, q.size), q.size, 1e-8
    differences = [
        (resist(BEAM, SECTION, q + h * d, plastic).force - resist(BEAM, SECTION, q - h * d, plastic).force).ravel()
        for d in np.eye(n).reshape(n, -1, 3)
    ]
    assert np.abs(np.array(differences).T / (2 * h) - K).max() < 1e-6 * np.abs(K).max()
    assert np.abs(K - K.T).max() < 1e-12 * np.abs(K).max()


def springs_and_memory(cone: float = 3e3) -> tuple[Springs, SpringState, np.ndarray, np.ndarray]:
    """Springs after one push, the nodes there and after another, small one."""
    springs = loosened(gather(BEAM, replace(LAWS, cone_load=cone), 0.03), cone)
    first = len(BEAM.s) - len(springs.k)
    start = np.zeros((len(springs.k), 3))
    there = moved(0.2, 5)[first:] + np.array([0, 1e-5, 0])
    old = spring_forces(springs, start, there, at_rest(springs)).kept.state
    return springs, old, there, there + 0.3 * moved(0.2, 6)[first:] + np.array([0, 2e-6, 0])


@pytest.mark.parametrize("cone", [3e2, inf])
def test_the_tangent_of_the_ice_is_exact(cone: float) -> None:
    """Central differences with crushing, slipping threads and, where it moves, the cone that couples all nodes."""
    springs, old, q0, q = springs_and_memory(cone)
    found = spring_forces(springs, q0, q, old)
    assert (found.kept.state.crushed > old.crushed).any() and found.moves == (cone < inf)
    m, h = len(q), 1e-9
    K = np.zeros((m, 2, m, 3))
    K[np.arange(m), :, np.arange(m)] = found.block
    K -= np.multiply.outer(found.by_cone, found.of_cone)
    for node in range(m):
        for c in range(3):
            d = np.zeros_like(q)
            d[node, c] = h
            slope = (spring_forces(springs, q0, q + d, old).force - spring_forces(springs, q0, q - d, old).force) / (
                2 * h
            )
            assert np.abs(slope - K[:, :, node, c]).max() < 1e-6 * np.abs(K).max()


def test_banded_places_and_solve() -> None:
    """A node's block lands where the dense matrix has it; the banded solve is the dense one."""
    found = resist(BEAM, SECTION, moved(1.0, 1), np.zeros((8, 20)))
    block = np.random.default_rng(1).normal(size=(9, 2, 3))
    band = found.band.copy()
    for node in range(9):
        add_block(band, 3 * node, 3 * node, 1e6 * block[node])
    band[len(band) // 11 * 5 :][:27] += 1e9
    K = dense(band, 27)
    assert K[3:5, 3:6] - dense(found.band, 27)[3:5, 3:6] - 1e9 * np.eye(3)[:2] == pytest.approx(1e6 * block[1])
    right = np.random.default_rng(2).normal(size=(27, 2))
    assert solve_band(band, right) == pytest.approx(np.linalg.solve(K, right), rel=1e-9)
    with pytest.raises(np.linalg.LinAlgError):
        solve_band(0 * band, right)


def test_elastica() -> None:
    """Bisshopp & Drucker 1945 at P L^2 / EI = 4: second order in the element."""
    errors = [elastica_load(n, 4.0) / 4 - 1 for n in (10, 20)]
    assert errors[1] < 1e-3 and errors[0] / errors[1] > 2**1.8


def test_crushed_ice_does_not_come_back() -> None:
    """Pushed past the limit and back: the force is the limit, then nothing over what was crushed; so behind, too."""
    springs = gather(make_beam(np.linspace(0, 0.06, 7), 0.0), replace(LAWS, crushing=np.full(13, 2e5)), 0.03)
    state, q = at_rest(springs), np.zeros((7, 3))

    def go(x: float) -> float:
        nonlocal state, q
        new = np.zeros((7, 3))
        new[:, 0] = x
        found = spring_forces(springs, q, new, state)
        state, q = found.kept.state, new
        return float(found.kept.bearing[3]) / 0.01

    assert go(1e-5) == pytest.approx(1e5) and go(2e-3) == pytest.approx(2e5)
    assert go(1.9e-3) == 0 and go(2.1e-3) == pytest.approx(2e5)
    assert go(-5e-4) < 0 and state.crushed[0, 3] == pytest.approx(2.08e-3)
    assert go(-2e-3) == pytest.approx(-2e5)


def test_each_side_has_its_own_limit_and_the_toe_pushes_one_way() -> None:
    """Chips in front are those of the axis' angle, behind of its negative; down the toe pushes, up only the threads."""
    force = np.linspace(0, 1, 61) * np.array([[3.0], [1.0]])  # leaning by 1e-6 rad: a third of what it is behind
    chips = Chips(np.array([-1e-6, 1e-6]), 1e-3, force * 0.06, np.array([-1.0, 1.0]), np.array([0.1, 0.1]))
    each = replace(LAWS, crushing=np.full(13, 1e6), chips=chips, thread_limit=0.0)
    springs = gather(make_beam(np.linspace(0, 0.06, 7), 1e-6), each, 0.03)
    rest, q = at_rest(springs), np.zeros((7, 3))
    across, along = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    toward, away = (spring_forces(springs, q, q + x * across, rest).kept.bearing.sum() for x in (1e-3, -1e-3))
    assert toward == pytest.approx(1e5 * 0.06) and away < -2.9 * toward
    down, deep, up = (spring_forces(springs, q, q + x * along, rest).kept.toe for x in (-1e-5, -1e-3, 1e-3))
    assert (down, deep, up) == pytest.approx((1e3, 4e3, 0.0))


def test_chips_behind_need_the_sum_of_all_that_bears_above() -> None:
    """Where nothing bears near the surface a node may bear the whole chip's load, but no more than crushing."""
    chips = Chips(np.zeros(1), 1e-3, 0.06 * np.linspace(0, 1, 61)[None], np.array([-1.0, 1.0]), np.array([0.1, 0.1]))
    springs = gather(
        make_beam(np.linspace(0, 0.06, 7), 0.0), replace(LAWS, crushing=np.full(13, 4e5), chips=chips), 0.03
    )
    m = len(springs.k)
    rest = at_rest(springs)
    limit = bearing_limit(springs, np.zeros(m), rest)[1]
    assert limit[:2] == pytest.approx([500.0, 1500.0]) and limit[-2] == pytest.approx(4e3)
    bears = rest._replace(bore=-np.r_[np.full(m - 2, 1000.0), 0.0, 0.0])
    assert bearing_limit(springs, np.zeros(m), bears)[1][-2] == pytest.approx(5500.0 - 5000.0)


def test_a_trench_grows_where_chips_come_out_and_nowhere_else() -> None:
    """dt = (s - t) out dg / spall; a chip that does not rise, or needs more than crushing, leaves none."""
    flat = {"angles": np.zeros(1), "step": 1e-3, "force": 0.06 * np.linspace(0, 1, 61)[None]}
    s, m = np.linspace(0, 0.06, 7), 7

    def trench(rise: float, crushing: float = 4e5, before: float = 0.0) -> float:
        chips = Chips(turns=np.array([-1.0, 1.0]), rise=np.full(2, rise), **flat)
        springs = gather(make_beam(s, 0.0), replace(LAWS, crushing=np.full(13, crushing), chips=chips, spall=0.1), 0.03)
        rest = at_rest(springs)._replace(trench=before)
        crushed = np.zeros((2, m))
        crushed[0, :4] = 1e-3
        return deepened(springs, np.zeros(m), rest, rest._replace(crushed=crushed))

    assert trench(0.5) == pytest.approx(0.035 * 1e-3 / 0.1)
    assert trench(0.5, before=0.015) == pytest.approx(0.015 + 0.02 * 1e-3 / 0.1)
    assert trench(-0.1) == 0 and trench(0.0) == 0 and trench(0.5, crushing=0.8e5) == 0
    assert 0 < trench(np.radians(5)) == pytest.approx(0.5 * trench(0.5))


def test_what_lies_above_the_trench_bears_nothing() -> None:
    """Half a node's length gone: half of its limit."""
    springs = gather(make_beam(np.linspace(0, 0.06, 7), 0.0), replace(LAWS, crushing=np.full(13, 2e5)), 0.03)
    limit = bearing_limit(springs, np.zeros(7), at_rest(springs)._replace(trench=0.02))
    assert limit[0] == pytest.approx([0, 0, 1000, 2000, 2000, 2000, 1000]) and limit[1].sum() == pytest.approx(12e3)


def test_steel_rubs_by_what_it_bore() -> None:
    """Along the axis mu times the bearing of the last step, against the motion, either way."""
    springs = gather(make_beam(np.linspace(0, 0.06, 7), 0.0), replace(LAWS, cone_load=inf, thread_limit=0.0), 0.0)
    rest = at_rest(springs)._replace(bore=np.full(7, 1000.0))
    for way in (1e-3, -1e-3):
        q = np.zeros((7, 3))
        q[:, 1] = way
        found = spring_forces(springs, np.zeros((7, 3)), q, rest)
        assert found.kept.drag == pytest.approx(np.full(7, np.copysign(100.0, way)))


def test_sliding_along_the_axis_makes_no_penetration() -> None:
    """A tube leaning 10 deg that slides out along itself meets threads, not walls; out of the ice it meets nothing."""
    springs = gather(BEAM, replace(LAWS, cone_load=inf), 0.03)
    a, _ = directions(np.array([BEAM.angle]))
    m = len(springs.k)
    out = np.zeros((m, 3))
    out[:, :2] = 1e-3 * a
    found = spring_forces(springs, np.zeros((m, 3)), out, at_rest(springs))
    assert np.abs(found.kept.state.w).max() < 1e-18 and found.kept.threads.sum() > 0
    out[:, :2] = 0.08 * a
    assert spring_forces(springs, np.zeros((m, 3)), out, at_rest(springs)).kept.share.max() == 0


def test_energies_of_the_ice_balance() -> None:
    """Work on the springs along a path through crushing, slip and cone is what they store and spend."""
    springs = loosened(gather(BEAM, LAWS, 0.03), LAWS.cone_load)
    first, errors = len(BEAM.s) - len(springs.k), []
    for n in (100, 200):
        path = [t * moved(0.3, 5)[first:] + t * np.array([0, 2e-5, 0]) for t in np.linspace(0, 1, n + 1)]
        old = spring_forces(springs, path[0], path[0], at_rest(springs))
        work, lost = 0.0, np.zeros(4)
        for q0, q1 in pairwise(path):
            new = spring_forces(springs, q0, q1, old.kept.state)
            work += float((0.5 * (old.force + new.force) * (q1 - q0)[:, :2]).sum())
            lost += spent_in_ice(springs, old.kept, new.kept)
            old = new
        errors.append(abs(work - lost.sum() - stored_in_ice(springs, old.kept)) / work)
    assert np.all(lost > 0) and errors[1] < 1e-3 and errors[1] < 0.6 * errors[0]


def test_laws_are_integrated_over_the_nodes() -> None:
    """int sqrt-like lines over half elements: the parts add up to the whole, whatever the edges."""
    edges = np.array([0.0, 0.003, 0.017, 0.05])
    law = 1 + 2 * S
    assert integral(S, law, edges) == pytest.approx(np.diff(edges + edges**2), rel=1e-12)
    assert integral(S, law, np.array([0.05, 0.08])) == pytest.approx([0.01 + 0.06**2 - 0.05**2 + 0.02 * 1.12])
    springs = gather(BEAM, LAWS, 0.03)
    assert springs.k.sum() == pytest.approx(1e10 * 0.06) and springs.k[0] == pytest.approx(0.5 * springs.k[1])
    assert springs.thread_limit.sum() == pytest.approx(2e5 * 0.03)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"stiffness": 0 * S}, "stiffness: must be positive"),
        ({"crushing": np.ones(12)}, r"crushing: must have shape \(13,\)"),
        ({"toughness": np.full(13, -1.0)}, "toughness: must be finite and not negative"),
        ({"cone_softening": 0.0}, "cone_softening = 0: must be positive"),
        ({"toe_limit": -1.0}, "toe_limit = -1: must be at least 0"),
        ({"thread_limit": inf}, "thread_limit = inf: must be finite"),
        ({"s": S[::-1]}, "s: must rise"),
    ],
)
def test_laws_out_of_range_are_told_by_name(changed: dict[str, object], words: str) -> None:
    """One line that names the field."""
    with pytest.raises(ValueError, match=words):
        replace(LAWS, **changed)  # type: ignore[arg-type]


def test_a_limit_falls_no_faster_than_its_spring_unloads() -> None:
    """Threads and cone that are to fall within a nanometre: at most nine tenths of what unloads the spring."""
    sudden = replace(LAWS, thread_softening=1e-9, cone_softening=1e-9)
    springs = gather(BEAM, sudden, 0.03)
    held = springs.thread_k > 0
    assert np.all(springs.thread_fall[held] == pytest.approx(0.9 * springs.thread_k[held]))
    assert loosened(springs, 3e3).cone_fall == pytest.approx(0.9 * springs.thread_k.sum())
