"""Linear solvers and condensation: every method gives one answer, and a bad system gives an error, never a number."""

from __future__ import annotations

import os
import subprocess
import sys
import warnings

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import NDArray
from samples import ICE_MODULI
from skfem import MeshHex, MeshHex2

from icecone.fem.errors import SolveError
from icecone.fem.solid import cholmod as cholmod_module
from icecone.fem.solid import solver as solver_module
from icecone.fem.solid.assembly import assemble_stiffness
from icecone.fem.solid.condensation import condense
from icecone.fem.solid.solver import choose_method, make_solver, relative_residual
from icecone.materials.tensor import isotropic

Array = NDArray[np.float64]
METHODS = ("pardiso", "cholmod", "splu", "multigrid")
DIRECT = ("pardiso", "cholmod", "splu")


def rigid_modes(x: Array) -> Array:
    """Three translations and three rotations, (3 nodes, 6)."""
    modes = [np.outer(np.ones(x.shape[1]), axis).ravel() for axis in np.eye(3)]
    modes += [np.cross(axis, (x - x.mean(axis=1, keepdims=True)).T).ravel() for axis in np.eye(3)]
    return np.stack(modes, axis=1)


def block(n: int = 3, clamped: bool = True) -> tuple[sp.csr_matrix, Array]:
    """Stiffness of a block of ice clamped at its bottom, with nodes moved at random, and its rigid-body modes."""
    mesh = MeshHex2.from_mesh(MeshHex.init_tensor(*(np.linspace(0, 0.1, n + 1),) * 3))
    x = mesh.doflocs + 0.0015 * np.random.default_rng(2).uniform(-1, 1, mesh.doflocs.shape)
    K = assemble_stiffness(
        MeshHex2(x, mesh.t, sort_t=False, validate=False), [(np.arange(mesh.nelements), isotropic(*ICE_MODULI))]
    )
    free = np.repeat((mesh.doflocs[2] > 1e-9) | (not clamped), 3)
    return K[free][:, free].tocsr(), rigid_modes(x)[free]


def right_hand_side(n: int, columns: int = 1) -> Array:
    return np.random.default_rng(4).normal(size=(n, columns))


def with_empty_unknown(A: sp.csr_matrix) -> sp.csr_matrix:
    """A and one more unknown that nothing holds, its zero diagonal not even stored."""
    n = A.shape[0]
    return sp.csr_matrix((A.data, A.indices, np.append(A.indptr, A.nnz)), shape=(n + 1, n + 1))


@pytest.mark.parametrize("method", METHODS)
def test_methods_agree_with_dense_elimination(method):
    """Each method solves the same elastic block as dense elimination does, for one and for many right-hand sides."""
    A, _ = block(3)
    b = right_hand_side(A.shape[0], 3)
    exact = np.linalg.solve(A.toarray(), b)
    solver = make_solver(A, method)
    assert solver.method == method
    for rhs, x in ((b, exact), (b[:, 0], exact[:, 0])):
        found = solver.solve(rhs)
        assert found.shape == x.shape
        assert np.abs(found - x).max() < 1e-7 * np.abs(x).max()
        assert relative_residual(A, found, rhs) < 1e-8


def test_methods_agree_on_a_larger_block():
    """Three factorisations and multigrid agree to the multigrid's stopping rule."""
    A, _ = block(4)
    b = right_hand_side(A.shape[0])[:, 0]
    found = {method: make_solver(A, method).solve(b) for method in METHODS}
    size = np.abs(found["splu"]).max()
    assert np.abs(found["pardiso"] - found["splu"]).max() < 1e-10 * size
    assert np.abs(found["cholmod"] - found["splu"]).max() < 1e-10 * size
    assert np.abs(found["multigrid"] - found["splu"]).max() < 1e-6 * size


def test_method_follows_size_and_what_is_installed(monkeypatch):
    """A direct method while it fits, CHOLMOD where MKL is missing, the bundled one without both, multigrid above."""
    assert choose_method(solver_module.DIRECT_LIMIT) == "pardiso"
    assert choose_method(solver_module.DIRECT_LIMIT + 1) == "multigrid"
    monkeypatch.setattr(solver_module, "has_mkl", lambda: False)
    assert choose_method(solver_module.DIRECT_LIMIT) == "cholmod"
    assert choose_method(solver_module.DIRECT_LIMIT + 1) == "multigrid"
    monkeypatch.setattr(solver_module, "has_cholmod", lambda: False)
    assert choose_method(solver_module.SPLU_LIMIT) == "splu"
    assert choose_method(solver_module.SPLU_LIMIT + 1) == "multigrid"


def test_where_there_is_a_coarse_field_multigrid_begins_earlier(monkeypatch):
    """Half of a large factor's time; and in place of SciPy's LU at any size."""
    assert choose_method(solver_module.COARSE_LIMIT, has_coarse=True) == "pardiso"
    assert choose_method(solver_module.COARSE_LIMIT + 1, has_coarse=True) == "multigrid"
    monkeypatch.setattr(solver_module, "has_mkl", lambda: False)
    assert choose_method(solver_module.COARSE_LIMIT, has_coarse=True) == "cholmod"
    monkeypatch.setattr(solver_module, "has_cholmod", lambda: False)
    assert choose_method(1000, has_coarse=True) == "multigrid"


def test_mkl_can_be_left_out():
    """ICECONE_NO_MKL=1: a machine with MKL solves as one without; in a process of its own, as it is asked once."""
    script = "from icecone.fem.solid.solver import choose_method; print(choose_method(1000))"
    for given, expected in (("1", "cholmod"), ("0", "pardiso")):
        environment = {**os.environ, "ICECONE_NO_MKL": given}
        done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, env=environment)
        assert done.stdout.strip() == expected


def test_nested_dissection_is_an_order_and_fills_less_than_minimum_degree(monkeypatch):
    """Every unknown once; in three dimensions its factor is smaller (George 1973: n^(4/3) instead of more)."""
    A, _ = block(7)
    A = A.tocsc()
    order = cholmod_module.nested_dissection(A)
    assert sorted(order) == list(range(A.shape[0]))
    dissected = make_solver(A.tocsr(), method="splu")._lu.nnz
    monkeypatch.setattr(cholmod_module, "has_metis", lambda: False)
    assert dissected < 0.95 * make_solver(A.tocsr(), method="splu")._lu.nnz


def test_relative_residual_is_the_worst_column():
    """max over columns of ||b - A x|| / ||b||; a zero column counts by ||A x||; by hand for a 2 x 2 system."""
    A = sp.csr_matrix(np.diag([2.0, 4.0]))
    b = np.array([[2.0, 0.0], [4.0, 0.0]])
    x = np.array([[1.0, 0.0], [1.0, 0.5]])
    assert relative_residual(A, x, b) == pytest.approx(2.0, rel=1e-15)
    assert relative_residual(A, x[:, 0], b[:, 0]) == 0.0


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("fault", ["floating", "loose unknown", "not a number"])
def test_singular_or_broken_systems_are_refused(fault, method):
    """A block nothing holds, an unknown without stiffness and a NaN have no answer: SolveError, never a number."""
    A, _ = block(2, clamped=fault != "floating")
    if fault == "loose unknown":
        A = sp.block_diag([A, sp.csr_matrix(([0.0], [0], [0, 1]), shape=(1, 1))], format="csr")
    if fault == "not a number":
        A.data[A.nnz // 2] = np.nan
    b = right_hand_side(A.shape[0])[:, 0]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with pytest.raises(SolveError, match=method):
            make_solver(A, method).solve(b)


def test_an_indefinite_system_is_refused():
    """Half the stiffness' diagonal taken away leaves a symmetric matrix with negative eigenvalues: no Cholesky."""
    A, _ = block(2)
    A = (A - 0.5 * sp.diags_array(A.diagonal())).tocsr()
    assert np.linalg.eigvalsh(A.toarray())[0] < 0
    with pytest.raises(SolveError, match="pardiso"):
        make_solver(A, method="pardiso").solve(right_hand_side(A.shape[0])[:, 0])


def test_an_empty_row_does_not_end_the_process():
    """A node that no element uses leaves an empty row: SolveError from MKL too, which reads past the row's end.

    In a process of its own: a failure is a crash.
    """
    script = (
        "import numpy as np, scipy.sparse as sp\n"
        "from icecone.fem.errors import SolveError\nfrom icecone.fem.solid.solver import make_solver\n"
        "A = sp.block_diag([2 * sp.eye_array(299), sp.csr_array((1, 1))], format='csr')\n"
        "try:\n    make_solver(A, method='pardiso').solve(np.ones(300))\n"
        "except SolveError:\n    print('refused')\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout.strip()) == (0, "refused")


@pytest.mark.parametrize("method", ["cholmod", "splu", "multigrid"])
def test_an_empty_row_is_refused(method):
    """The same for the other methods."""
    A, _ = block(2)
    A = with_empty_unknown(A)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with pytest.raises(SolveError, match=method):
            make_solver(A, method).solve(right_hand_side(A.shape[0])[:, 0])


def spoil(monkeypatch: pytest.MonkeyPatch, method: str, factor: float) -> None:
    """Make every solve of the library behind `method` wrong by `factor`."""
    if method == "pardiso":
        honest = solver_module.MKL.phase
        monkeypatch.setattr(solver_module.MKL, "phase", lambda self, number, b: factor * honest(self, number, b))
    elif method == "cholmod":
        solved = solver_module.Cholmod.solve
        monkeypatch.setattr(solver_module.Cholmod, "solve", lambda self, b: factor * solved(self, b))
    elif method == "splu":
        real = solver_module.splu

        class Spoilt:
            def __init__(self, *arguments, **options):
                self._lu = real(*arguments, **options)

            def solve(self, b):
                return factor * self._lu.solve(b)

        monkeypatch.setattr(solver_module, "splu", Spoilt)
    else:
        iterated = solver_module.Multigrid.solve
        monkeypatch.setattr(solver_module.Multigrid, "solve", lambda self, *given: factor * iterated(self, *given))


@pytest.mark.parametrize("method", METHODS)
def test_a_wrong_answer_of_the_library_is_caught(monkeypatch, method):
    """A library whose answer is off by one part in a million, or not a number, raises; the honest one passes."""
    A, _ = block(2)
    b = right_hand_side(A.shape[0])[:, 0]
    make_solver(A, method).solve(b)
    for factor in (1 + 1e-6, np.nan):
        with monkeypatch.context() as patch:
            spoil(patch, method, factor)
            with pytest.raises(SolveError, match=f"{method}: relative residual"):
                make_solver(A, method).solve(b)


# ---------------------------------------------------------------- condensation


def upper(A: sp.csr_matrix) -> sp.csr_matrix:
    return sp.triu(A, format="csr")


def kept_unknowns(n: int, k: int) -> NDArray[np.bool_]:
    kept = np.zeros(n, bool)
    kept[np.random.default_rng(9).choice(n, k, replace=False)] = True
    return kept


@pytest.mark.parametrize("method", DIRECT)
@pytest.mark.parametrize("k", [1, 40, 110])
def test_condensation_equals_dense_elimination(method, k):
    """S = A_gg - A_gf A_ff^-1 A_fg, c = b_g - A_gf A_ff^-1 b_f, and x from any g, as dense numpy forms them."""
    A, _ = block(2)
    b, kept = right_hand_side(A.shape[0])[:, 0], kept_unknowns(A.shape[0], k)
    dense = A.toarray()
    to_free = np.linalg.solve(dense[~kept][:, ~kept], np.column_stack([dense[~kept][:, kept], b[~kept]]))
    S = dense[kept][:, kept] - dense[kept][:, ~kept] @ to_free[:, :-1]
    c = b[kept] - dense[kept][:, ~kept] @ to_free[:, -1]
    found = condense(upper(A), b, kept, method)
    assert np.abs(found.S - S).max() < 1e-10 * np.abs(S).max()
    assert np.abs(found.c - c).max() < 1e-10 * np.abs(c).max()
    for g in (np.linalg.solve(S, c), np.zeros(k)):
        x = np.empty(b.size)
        x[kept], x[~kept] = g, to_free[:, -1] - to_free[:, :-1] @ g
        assert np.abs(found.expand(g) - x).max() < 1e-10 * np.abs(x).max()
    whole = found.expand(np.linalg.solve(found.S, found.c))
    assert relative_residual(A, whole, b) < 1e-9


@pytest.mark.parametrize("method", DIRECT)
def test_condensation_where_the_rest_floats_is_refused(method):
    """A_ff of a block held only by its kept unknowns is singular if these are too few: SolveError."""
    A, _ = block(2, clamped=False)
    kept = np.zeros(A.shape[0], bool)
    kept[:3] = True
    with pytest.raises(SolveError, match=method):
        condense(upper(A), right_hand_side(A.shape[0])[:, 0], kept, method).expand(np.zeros(3))


def test_a_semidefinite_complement_is_condensed():
    """A floating block condensed onto the unknowns that hold it: S is the singular one of dense algebra."""
    A, modes = block(2, clamped=False)
    kept = np.zeros(A.shape[0], bool)
    kept[:9] = True  # three nodes on an edge's end: enough to hold the rest
    dense = A.toarray()
    S = dense[kept][:, kept] - dense[kept][:, ~kept] @ np.linalg.solve(dense[~kept][:, ~kept], dense[~kept][:, kept])
    assert np.abs(S @ modes[kept]).max() < 1e-7 * np.abs(S).max()
    for method in DIRECT:
        found = condense(upper(A), np.zeros(A.shape[0]), kept, method)
        assert np.abs(found.S - S).max() < 1e-8 * np.abs(S).max()


@pytest.mark.parametrize("method", DIRECT)
def test_a_wrong_expansion_is_caught(monkeypatch, method):
    """`expand` is checked on the eliminated rows: a library that is off by one part in a million raises."""
    A, _ = block(2)
    b, kept = right_hand_side(A.shape[0])[:, 0], kept_unknowns(A.shape[0], 5)
    if method == "pardiso":
        found = condense(upper(A), b, kept, method)
        spoil(monkeypatch, method, 1 + 1e-6)
    else:
        spoil(monkeypatch, method, 1 + 1e-6)
        monkeypatch.setattr(solver_module, "_check", lambda A, x, b, method: x)
        found = condense(upper(A), b, kept, method)
    with pytest.raises(SolveError, match="after condensation"):
        found.expand(np.zeros(5))
