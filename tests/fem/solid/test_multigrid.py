"""The two levels: the incomplete factor, the coarse field, and steps that neither thin elements nor many more raise."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import NDArray
from samples import COARSEST, ICE_MODULI, STEEL_MODULI, TUBE
from scipy.sparse.linalg import spsolve
from skfem import MeshHex, MeshHex2

from icecone.fem.solid.assembly import assemble_in, assemble_stiffness
from icecone.fem.solid.coarse_contact import coarse_contact
from icecone.fem.solid.condensation import make_levels
from icecone.fem.solid.contact import contact_unknowns
from icecone.fem.solid.elasticity import spread_force
from icecone.fem.solid.incomplete import IncompleteCholesky
from icecone.fem.solid.multigrid import Coarse, coarse_field, interpolation
from icecone.fem.solid.solver import ITERATED, make_solver, relative_residual
from icecone.geometry.half_model import build_half_model
from icecone.geometry.layers import Resolution
from icecone.geometry.placement import Placement, Pull, load_point
from icecone.materials.tensor import isotropic

Array = NDArray[np.float64]


def chain(n: int = 30) -> sp.csr_matrix:
    """Springs in a line between nodes of three components, coupled at random: a factor without fill."""
    rng = np.random.default_rng(3)
    A = np.zeros((3 * n, 3 * n))
    for i in range(n):
        at = slice(3 * i, min(3 * i + 6, 3 * n))
        root = rng.normal(size=(at.stop - at.start,) * 2)
        A[at, at] += root @ root.T + np.eye(len(root))
    return sp.csr_matrix(A)


def test_a_factor_without_fill_is_exact():
    """Incomplete Cholesky on the pattern of A is Cholesky's where that has no fill, to single precision."""
    A = chain()
    n = A.shape[0]
    b = np.random.default_rng(1).normal(size=n)
    for order in (np.arange(n), np.arange(n)[::-1]):
        factor = IncompleteCholesky(sp.triu(A, format="csr"), order, np.arange(n) // 3)
        assert relative_residual(A, factor.solve(b), b) < 1e-4


def test_held_unknowns_leave_the_factor_and_come_back():
    """With some of the last unknowns held, the factor is that of the matrix without them; with none, the first one."""
    A, b = chain(), np.random.default_rng(1).normal(size=90)
    factor = IncompleteCholesky(sp.triu(A, format="csr"), np.arange(90), np.arange(90) // 3, last=12)
    before = factor.solve(b)
    held = np.zeros(90, bool)
    held[[79, 83, 84, 88]] = True
    factor.hold(held)
    found = factor.solve(np.where(held, 0.0, b))
    assert np.all(found[held] == 0)
    assert relative_residual(A[~held][:, ~held], found[~held], b[~held]) < 1e-4
    factor.hold(np.zeros(90, bool))
    assert np.array_equal(factor.solve(b), before)


def test_a_factor_that_breaks_down_is_made_of_a_raised_diagonal():
    """Kershaw 1978: a positive definite matrix whose incomplete factor has a negative pivot. L L^T stays definite."""
    A = np.array([[3.0, -2, 0, 2], [-2, 3, -2, 0], [0, -2, 3, -2], [2, 0, -2, 3]])
    assert np.linalg.eigvalsh(A)[0] > 0
    factor = IncompleteCholesky(sp.csr_matrix(np.triu(A)), np.arange(4), np.arange(4))
    inverse = np.stack([factor.solve(column) for column in np.eye(4)])
    assert np.linalg.eigvalsh(0.5 * (inverse + inverse.T))[0] > 0
    assert np.abs(inverse - inverse.T).max() < 1e-5 * np.abs(inverse).max()


def bar(cells: int, aspect: float) -> tuple[sp.csr_matrix, Coarse]:
    """A block of cells^3 elements `aspect` times as long in x as in z, held at z = 0, and its coarse field."""
    side = np.linspace(0, 0.1, cells + 1)
    mesh = MeshHex2.from_mesh(MeshHex.init_tensor(aspect * side, np.sqrt(aspect) * side, side))
    K = assemble_stiffness(mesh, [(np.arange(mesh.nelements), isotropic(*ICE_MODULI))])
    free = np.repeat(mesh.doflocs[2] > 1e-9, 3)
    return K[free][:, free].tocsr(), coarse_field(mesh, free)


def test_interpolation_keeps_linear_fields():
    """The corners' shapes add up to one and carry x, y and z; middles have a column where an edge is long only."""
    mesh = MeshHex2.from_mesh(MeshHex.init_tensor(np.linspace(0, 20, 3), np.linspace(0, 1, 3), np.linspace(0, 1, 3)))
    N, nodes = interpolation(mesh)
    corner = np.isin(nodes, mesh.t)
    assert np.abs(N[:, corner] @ mesh.doflocs[:, nodes[corner]].T - mesh.doflocs.T).max() < 1e-12
    assert np.all(mesh.doflocs[0, nodes[~corner]] % 10 == 5)  # middles of edges along x
    assert corner.sum() == 27 and (~corner).sum() == 18
    cube = MeshHex2.from_mesh(MeshHex.init_tensor(*(np.linspace(0, 1, 3),) * 3))
    assert interpolation(cube)[1].size == 27


@pytest.mark.parametrize("aspect", [1.0, 100.0])
def test_thin_elements_do_not_raise_the_steps(aspect):
    """The factor of the answer and of the steps: as a direct solve; as few for thin elements as for cubes."""
    A, coarse = bar(4, aspect)
    b = np.random.default_rng(4).normal(size=A.shape[0])
    levels = make_levels(sp.triu(A, format="csr"), coarse)
    x = levels.solve(b, ITERATED)
    assert levels.residual(b, x) <= ITERATED * 1.01
    assert levels.residual(b, x) == pytest.approx(relative_residual(A, x, b), rel=1e-3)
    exact = make_solver(A).solve(b)
    assert np.abs(x - exact).max() < 1e-6 * np.abs(exact).max()
    assert levels.steps <= 25


def bonded_steps(size: Resolution) -> int:
    """Steps of a bonded half model."""
    placement = Placement(radians(15.0), 0.1)
    model = build_half_model(TUBE, placement, level=size)
    ice = np.concatenate([model.regions["ice"], model.regions["crust"]])
    solids = [(ice, isotropic(*ICE_MODULI)), (model.regions["tube"], isotropic(*STEEL_MODULI))]
    f = spread_force(model.mesh, model.regions["eye"], 500 * Pull(0.0).unit, load_point(TUBE, placement))
    unknowns = contact_unknowns(model)
    T, is_gap = unknowns.T, unknowns.is_gap
    coarse = coarse_contact(model, T, unknowns.slots, unknowns.frames, is_gap)
    levels = make_levels(assemble_in(model.mesh, solids, T, unknowns.slots), coarse)
    levels.hold(is_gap)
    x = levels.solve(T.T @ f, ITERATED)
    assert levels.residual(T.T @ f, x) <= ITERATED * 1.01
    return levels.steps


def test_steps_hardly_grow_with_the_mesh():
    """Elements half as large: at most a quarter more steps, and few. Without a coarse field they double."""
    c = COARSEST
    finer = Resolution(2 * c.sectors, c.ring / 2, c.mouth / 2, c.tip / 2, c.growth / 1.4, c.deep / 2)
    steps = [bonded_steps(size) for size in (c, finer)]
    assert steps[1] <= 1.25 * steps[0]
    assert max(steps) <= 32


@pytest.mark.parametrize("axis", [0, 2])
def test_the_coarse_field_shifts_without_strain(axis):
    """Tube and ice shifted as one are a coarse field, in all elements that the held outer faces do not touch."""
    model = build_half_model(TUBE, Placement(radians(15.0), 0.1), 0.0, COARSEST, far=0.2)
    unknowns = contact_unknowns(model)
    coarse = coarse_contact(model, unknowns.T, unknowns.slots, unknowns.frames, unknowns.is_gap)
    elements = model.mesh.dofs.element_dofs
    inside = np.ones((model.mesh.doflocs.shape[1], 3), bool)
    inside[elements[:, np.isin(elements, model.nodes["far"]).any(axis=0)]] = False
    shape = (unknowns.T @ coarse.P)[inside.ravel()]
    shift = np.broadcast_to(np.eye(3)[axis], inside.shape)[inside]
    value = spsolve((shape.T @ shape + 1e-12 * sp.eye_array(shape.shape[1])).tocsc(), shape.T @ shift)
    assert np.abs(shape @ value - shift).max() < 1e-6
