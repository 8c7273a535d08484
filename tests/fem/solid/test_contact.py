"""Contact of tube and ice: the conditions hold, the quadratic programme is solved, forces balance, signs mirror."""

from __future__ import annotations

from functools import cache
from itertools import product
from math import radians

import numpy as np
import pytest
from domains import examples
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from samples import COARSEST, ICE_MODULI, STEEL_MODULI, TUBE
from scipy.optimize import lsq_linear
from scipy.spatial import cKDTree

from icecone.fem.errors import SolveError
from icecone.fem.solid import contact
from icecone.fem.solid.contact import (
    ContactSolution,
    ContactSystem,
    condition_figures,
    pair_frames,
    solve_contact,
    solve_gaps,
)
from icecone.fem.solid.elasticity import nodal_forces, spread_force
from icecone.geometry.half_model import HalfModel, build_half_model
from icecone.geometry.placement import Placement, Pull, load_point
from icecone.materials.tensor import isotropic

Array = NDArray[np.float64]
HALF_PULL = 500.0  # N on the half model


@cache
def case(angle_deg: float = 15.0, crust: float = 0.01):
    """Coarse model and its materials; steel, ice and a softer crust."""
    placement = Placement(radians(angle_deg), 0.1)
    model = build_half_model(TUBE, placement, crust, COARSEST, far=0.2)
    solids = (("ice", *ICE_MODULI), ("crust", 4e9, 0.3), ("tube", *STEEL_MODULI))
    return placement, model, [(model.regions[name], isotropic(E, nu)) for name, E, nu in solids]


def load(placement: Placement, model: HalfModel, direction_deg: float, size: float = HALF_PULL) -> Array:
    force = size * Pull(radians(direction_deg)).unit
    return spread_force(model.mesh, model.regions["eye"], force, load_point(TUBE, placement))


@cache
def answer(
    direction_deg: float, angle_deg: float = 15.0, method: str = "pardiso"
) -> tuple[HalfModel, Array, ContactSolution]:
    placement, model, regions = case(angle_deg)
    f = load(placement, model, direction_deg)
    return model, f, solve_contact(model, regions, f, method)


def apart(a: Array, b: Array) -> float:
    return float(np.abs(a - b).max() / np.abs(b).max())


@pytest.mark.parametrize("direction", [0.0, 40.0, 90.0, 180.0])
def test_no_tension_no_penetration(direction):
    """0 <= gap, 0 <= force, gap x force = 0 at every pair; some pairs open and some press in every case."""
    _, _, found = answer(direction)
    tension, penetration = condition_figures(found)
    assert tension < 1e-8 and penetration < 1e-8
    scale = found.gap.max() * found.force.max()
    assert scale > 0
    assert np.abs(found.gap * found.force).max() < 1e-8 * scale
    assert found.residual < 1e-8
    assert 0 < np.sum(found.gap > 1e-9 * found.gap.max()) < found.gap.size


def test_gap_is_the_opening_between_the_two_nodes():
    """gap = n . (u_ice - u_tube) from the displacements; across n nothing but the axis' tie on the threads is held."""
    model, _, found = answer(0.0)
    opening = (found.u.reshape(-1, 3)[model.pairs[1]] - found.u.reshape(-1, 3)[model.pairs[0]])[:, None, :]
    normal, around, along = np.moveaxis(opening @ pair_frames(model), -1, 0)[..., 0]
    size = np.abs(opening).max()
    assert np.abs(normal - found.gap).max() < 1e-12 * size
    assert np.abs(along[model.threaded]).max() < 1e-12 * size
    assert np.abs(along[~model.threaded]).max() > 1e-3 * size
    assert np.abs(around).max() > 1e-3 * size


def test_only_the_threads_hold_along_the_axis():
    """Frictionless: on the tube, no axial force off the threads, no force round the axis but the symmetry plane's."""
    model, f, found = answer(0.0)
    size = np.abs(f).sum()
    assert np.abs(found.on_tube[~model.threaded, 2]).max() < 1e-7 * size
    assert np.abs(found.on_tube[model.threaded, 2]).max() > 1e-3 * size
    off_plane = model.straight[1, model.pairs[0]] > 1e-9
    assert np.abs(found.on_tube[off_plane, 1]).max() < 1e-7 * size


@pytest.mark.parametrize("direction", [0.0, 90.0, 150.0])
def test_active_set_ends_in_a_few_steps(direction):
    """A primal-dual active set ends after finitely many steps, here far below the limit after which it hands over."""
    _, _, found = answer(direction)
    assert 2 <= found.iterations <= 15


def test_pull_in_front_presses_and_behind_opens():
    """Pulled along +x at the head, the mouth's front (n along +x) is pressed and its back has come off."""
    model, _, found = answer(0.0)
    xi, _, s = model.straight[:, model.pairs[0]]
    mouth = np.abs(s) < 1e-9
    assert np.all(found.force[mouth & (xi > 0.9 * TUBE.radius)] > 0)
    assert np.all(found.gap[mouth & (xi < -0.9 * TUBE.radius)] > 0)


def test_answer_is_proportional_to_the_load():
    """No initial gap: three times the load gives three times every displacement, gap and force."""
    placement, model, regions = case()
    found = answer(20.0)[2]
    more = solve_contact(model, regions, load(placement, model, 20.0, 3 * HALF_PULL))
    for name in ("u", "gap", "force", "on_tube"):
        assert apart(getattr(more, name), 3 * getattr(found, name)) < 1e-9


def test_bonded_superposes_and_contact_does_not():
    """Bonded, the answer to two pulls is the sum of the answers to each, to round-off; unilateral contact is not."""
    placement, model, regions = case()
    loads = [load(placement, model, direction) for direction in (0.0, 120.0)]
    loads.append(loads[0] + loads[1])
    bonded = [solve_contact(model, regions, f, bonded=True) for f in loads]
    assert all(np.all(found.gap == 0) for found in bonded)
    assert apart(bonded[0].u + bonded[1].u, bonded[2].u) < 1e-9
    unilateral = [solve_contact(model, regions, f) for f in loads]
    assert apart(unilateral[0].u + unilateral[1].u, unilateral[2].u) > 0.02
    assert unilateral[2].u @ loads[2] > 1.01 * (bonded[2].u @ loads[2])  # less is held: more compliant


def moment_y(x: Array, force: Array) -> float:
    """y component of sum x cross F; x (3, n), force (n, 3)."""
    return float(np.sum(x[2] * force[:, 0] - x[0] * force[:, 2]))


@pytest.mark.parametrize("direction", [0.0, 60.0, 130.0])
def test_forces_on_the_tube_balance(direction):
    """Ice on tube + pull = 0 in the symmetry plane: two forces and the moment about the mouth."""
    model, f, found = answer(direction)
    on_tube = np.einsum("kdc,kc->kd", pair_frames(model), found.on_tube)
    pull = f.reshape(-1, 3)
    total = on_tube.sum(axis=0) + pull.sum(axis=0)
    moment = moment_y(model.mesh.doflocs[:, model.pairs[0]], on_tube) + moment_y(model.mesh.doflocs, pull)
    assert np.abs(total[[0, 2]]).max() < 1e-7 * HALF_PULL
    assert abs(moment) < 1e-7 * HALF_PULL * TUBE.length


@pytest.mark.parametrize("direction", [0.0, 60.0, 130.0])
def test_forces_on_the_whole_balance(direction):
    """The held outer faces carry the pull and its moment; K u - f vanishes elsewhere but across the symmetry plane."""
    placement, model, regions = case()
    _, f, found = answer(direction)
    assert apart(found.reaction, nodal_forces(model.mesh, regions, found.u[:, None])[:, 0] - f) < 1e-12
    reaction = found.reaction.reshape(-1, 3).copy()
    reaction[model.pairs[1]] += reaction[model.pairs[0]]  # each pair's forces are equal and opposite
    reaction[model.pairs[0]] = 0.0
    far = model.nodes["far"]
    total = reaction[far].sum(axis=0) + HALF_PULL * Pull(radians(direction)).unit
    arm = load_point(TUBE, placement)
    moment = moment_y(model.mesh.doflocs[:, far] - arm[:, None], reaction[far])
    assert np.abs(total[[0, 2]]).max() < 1e-7 * HALF_PULL
    assert abs(moment) < 1e-7 * HALF_PULL * TUBE.length
    loose = reaction.copy()
    loose[far] = 0.0
    loose[model.nodes["symmetry"], 1] = 0.0
    assert np.abs(loose).max() < 1e-7 * HALF_PULL


@pytest.mark.parametrize(("angle", "direction"), [(15.0, 0.0), pytest.param(20.0, 70.0, marks=pytest.mark.slow)])
def test_mirrored_case_gives_the_mirrored_answer(angle, direction):
    """angle -> -angle and direction -> pi - direction is the same thing seen from behind: x and u_x change sign."""
    here, _, found = answer(direction, angle)
    there, _, mirrored = answer(180.0 - direction, -angle)

    def key(model: HalfModel, sign: float) -> Array:
        steel = np.zeros(model.straight.shape[1])
        steel[model.mesh.dofs.element_dofs[:, model.regions["tube"]]] = 1.0
        return np.vstack([model.straight * [[sign], [1.0], [1.0]], steel]).T

    distance, match = cKDTree(key(there, 1.0)).query(key(here, -1.0))
    assert distance.max() < 1e-9
    assert np.allclose(here.mesh.doflocs, there.mesh.doflocs[:, match] * [[-1.0], [1.0], [1.0]], atol=1e-12)
    expected = mirrored.u.reshape(-1, 3)[match] * [-1.0, 1.0, 1.0]
    assert apart(found.u.reshape(-1, 3), expected) < 1e-8


@pytest.mark.parametrize("method", [pytest.param("splu", marks=pytest.mark.slow), "multigrid"])
def test_routes_agree(method):
    """The gaps from a condensed dense programme and from iterative solves of the whole are the same answer."""
    direct, other = answer(0.0)[2], answer(0.0, method=method)[2]
    assert other.method == method
    assert apart(other.u, direct.u) < 1e-6
    assert apart(other.force, direct.force) < 1e-6
    assert np.array_equal(other.gap > 0, direct.gap > 0)


def assert_optimal(S: Array, c: Array, g: Array, tolerance: float = 1e-8) -> None:
    """The conditions of Karush, Kuhn and Tucker: sufficient, since S is positive definite."""
    force, size = S @ g - c, np.abs(c).max()
    assert g.min() >= -tolerance * np.abs(g).max()
    assert force.min() >= -tolerance * size
    assert np.abs(force * g).max() <= tolerance * size * max(np.abs(g).max(), 1e-300)


@examples(40)
@given(k=st.integers(1, 30), seed=st.integers(0, 10_000))
def test_gaps_against_bounded_least_squares(k, seed):
    """min 1/2 g S g - c g over g >= 0 has one minimiser: scipy's bounded least squares finds the same."""
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(k, k)) + 2 * np.eye(k)
    S, c = root @ root.T + 0.1 * np.eye(k), rng.normal(size=k)
    g, closed, iterations = solve_gaps(S, c)
    L = np.linalg.cholesky(S)
    other = lsq_linear(L.T, np.linalg.solve(L, c), bounds=(0, np.inf), method="bvls", tol=1e-14).x
    assert_optimal(S, c, g)
    assert iterations >= 1
    assert np.abs(g - other).max() <= 1e-7 * max(np.abs(other).max(), 1e-300)
    assert np.all(g[closed] <= 0)


ROOT = np.array([[-1, -2, -3, -2, -1], [0, -2, 1, -3, 4], [4, 3, 3, 3, -4], [-2, 4, -1, 1, -1], [-3, 0, -2, -2, 3.0]])
CYCLING = ROOT @ ROOT.T + 0.1 * np.eye(5), np.array([4.37, 1.37, 8.37, -2.63, -8.63])  # found by random search


def test_a_cycling_active_set_hands_over(monkeypatch):
    """Here the active set comes back to a set it has seen; non-negative least squares then finds the minimiser.

    Checked against all 32 choices of closed gaps: exactly one meets the conditions.
    """
    S, c = CYCLING
    calls = []
    honest = contact.nnls
    monkeypatch.setattr(contact, "nnls", lambda *a, **k: calls.append(1) or honest(*a, **k))
    g, closed, iterations = solve_gaps(S, c)
    assert calls == [1] and iterations == contact.STEPS
    valid = []
    for free in product([False, True], repeat=5):
        at = np.flatnonzero(free)
        trial = np.zeros(5)
        trial[at] = np.linalg.solve(S[np.ix_(at, at)], c[at])
        if trial.min() >= 0 and (S @ trial - c).min() >= -1e-12:
            valid.append(trial)
    assert len(valid) == 1
    assert np.abs(g - valid[0]).max() < 1e-9 * np.abs(valid[0]).max()
    assert np.array_equal(closed, valid[0] == 0)


@pytest.mark.parametrize("method", ["pardiso", "cholmod", "splu"])
def test_a_family_shares_pattern_and_analysis(method):
    """After a system at one angle, the next angle takes over its map and analysis: all loads at once as one by one."""
    before = ContactSystem(case(15.0)[1], case(15.0)[2], method)
    placement, model, regions = case(-10.0)
    loads = [load(placement, model, direction) for direction in (0.0, 40.0, 150.0)]
    system = ContactSystem(model, regions, method, before)
    assert system._pattern is before._pattern
    assert before._elimination is None
    for f, found in zip(loads, system.solve(np.stack(loads, axis=1)), strict=True):
        alone = solve_contact(model, regions, f, method)
        for name in ("u", "gap", "force", "on_tube"):
            assert apart(getattr(found, name), getattr(alone, name)) < 1e-9


def test_another_mesh_takes_nothing_over():
    """A mesh with other elements begins anew, and leaves the system before it whole."""
    _, model, regions = case()
    before = ContactSystem(model, regions)
    other, its_regions = case(15.0, 0.0)[1:]
    found = ContactSystem(other, its_regions, after=before)
    assert found._pattern is not before._pattern
    assert before._elimination is not None


def test_handing_over_gives_the_same_contact(monkeypatch):
    """With no step allowed to the active set, the whole tube's contact from least squares is the same."""
    _, model, regions = case()
    _, f, found = answer(0.0)
    monkeypatch.setattr(contact, "active_set", lambda solve, diagonal, closed: (solve(closed)[0], closed, -1))
    other = solve_contact(model, regions, f)
    assert other.iterations == contact.STEPS
    assert apart(other.u, found.u) < 1e-7
    assert np.array_equal(other.gap > 0, found.gap > 0)


def test_iterative_route_that_cycles_is_an_error(monkeypatch):
    """The route without a condensed programme has nothing to hand over to: SolveError, never a number."""
    placement, model, regions = case()
    monkeypatch.setattr(contact, "active_set", lambda solve, diagonal, closed: (np.zeros(closed.size), closed, -1))
    with pytest.raises(SolveError, match="active set"):
        solve_contact(model, regions, load(placement, model, 0.0), "multigrid")


def test_condition_figures_see_a_violation():
    """A pair that pulls and a pair that overlaps are reported by their share of the largest."""
    found = ContactSolution(
        u=np.zeros(3),
        gap=np.array([2.0, -0.5, 0.0]),
        force=np.array([-1.0, 0.0, 4.0]),
        on_tube=np.zeros((3, 3)),
        reaction=np.zeros(3),
        iterations=1,
        residual=0.0,
        method="splu",
    )
    assert condition_figures(found) == (0.25, 0.25)


def test_pair_frames_are_right_handed():
    """n, t, e_a are orthonormal and right-handed at each pair; n points from the axis to the pair."""
    _, model, _ = case()
    frames = pair_frames(model)
    assert np.abs(frames.transpose(0, 2, 1) @ frames - np.eye(3)).max() < 1e-14
    assert np.abs(np.linalg.det(frames) - 1).max() < 1e-14
    axis = np.array([np.sin(radians(15.0)), 0.0, np.cos(radians(15.0))])
    x = model.mesh.doflocs[:, model.pairs[0]].T
    radial = x - np.outer(x @ axis, axis)
    assert np.abs(frames[:, :, 2] - axis).max() < 1e-14
    assert np.abs(frames[:, :, 0] * TUBE.radius - radial).max() < 1e-12
