"""The codes that `elastic_solve` measures: for each a short function that solves a `Body` by the code's public doors.

A function takes the body, the number of threads and the clock of stages, and returns an `Answer`. What it does outside
a stage (mesh in the code's own words, comparison) is not timed. Each runs in a process of its own.

    assembly   the stiffness matrix of the bonded body, held components left out
    setup      the factor, its order of elimination with it, or the preconditioner
    solve      one right-hand side
    contact    all of the project's `solve_contact`: assembly, setup, active set and solve

Limits: `count_flops` asks MKL what its own order of elimination costs; another code's may cost more or less.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec
from time import perf_counter
from typing import Any

import numpy as np
import scipy.sparse as sp

from icecone.fem.solid.assembly import assemble_in
from icecone.fem.solid.contact import solve_contact
from icecone.fem.solid.multigrid import coarse_field
from icecone.fem.solid.solver import Method, make_solver
from icecone.fem.solid.symmetric import Symmetric
from icecone.materials.tensor import lame
from icecone.validation.benchmarks.elastic_case import CONSTANTS, Array, Body, Stages, compliance
from icecone.validation.models.half_model_case import PULL

DENSE = 2500  # rows of the matrices whose product tells the rate
ORDER = 4  # of quadrature: 3 x 3 x 3 Gauss points, as in `fem.solid.elasticity`
STEEL_SOLIDS = "tube|eye"  # as `validation.models.ngsolve_mesh` names them
PRECISION, MOST_STEPS = 1e-8, 1000  # of conjugate gradients, over the first residual in the preconditioner's norm


@dataclass(frozen=True)
class Answer:
    """compliance : movement of the load point over the pull [m/N].  residual : relative [-].

    unknowns : of the system solved.  steps : of the iteration, 0 where not told.  gigaflop, room : what a factor takes,
    room in GB of 1024^3 bytes.  rate : of a dense product [Gflop/s].
    """

    unknowns: int = 0
    compliance: float = 0.0
    residual: float = 0.0
    steps: int = 0
    gigaflop: float = 0.0
    room: float = 0.0
    rate: float = 0.0


Solve = Callable[[Body, int, Stages], Answer]


@dataclass(frozen=True)
class Code:
    """words : its name in the table.  needs : the module without which it is not installed.

    threads : it is measured with.  kind : "bonded", "contact" or "gauge".  direct : by a factor.
    env : of its process.
    """

    words: str
    solve: Solve
    needs: str
    threads: tuple[int, ...] = (1, 2)
    kind: str = "bonded"
    direct: bool = False
    env: tuple[tuple[str, str], ...] = ()

    def installed(self) -> bool:
        """Whether the code can be had here."""
        return find_spec(self.needs) is not None


def ours(body: Body, threads: int, stage: Stages, method: Method) -> Answer:
    """The bonded body by `assemble_in` and `make_solver`."""
    free = body.bonded_free()
    with stage("assembly"):
        A = _stiffness(body)
    b = body.bonded_load()[free]
    with stage("setup"):
        coarse = coarse_field(body.bonded, free) if method == "multigrid" else None
        solver = make_solver(A, method, coarse)
    with stage("solve"):
        u = solver.solve(b)
    return Answer(b.size, compliance(b, u), _residual(A, u, b))


def our_contact(body: Body, threads: int, stage: Stages, method: Method) -> Answer:
    """The contact problem by `solve_contact`."""
    with stage("contact"):
        found = solve_contact(body.model, body.regions(), body.load, method)
    return Answer(body.load.size, compliance(body.load, found.u), found.residual, found.iterations)


def scikit_fem(body: Body, threads: int, stage: Stages) -> Answer:
    """The bonded body as scikit-fem's examples do it: a form on a vector element, SciPy's own direct solver."""
    from skfem import Basis, ElementHex2, ElementVector, condense, solve

    from icecone.fem.solid.elasticity import stiffness_form

    element = ElementVector(ElementHex2())
    whole = Basis(body.bonded, element, intorder=ORDER)
    nodes = body.bonded.dofs.element_dofs
    place = np.empty(whole.N, int)
    for k, dofs in enumerate(whole.element_dofs):
        place[dofs] = 3 * nodes[k // 3] + k % 3
    held = np.flatnonzero(~body.bonded_free()[place])
    b = body.bonded_load()[place]
    with stage("assembly"):
        K = sp.csr_matrix((whole.N, whole.N))
        for name, constants in CONSTANTS.items():
            part = Basis(body.bonded, element, elements=body.model.regions[name], intorder=ORDER)
            lam, mu = lame(*constants)
            K = K + stiffness_form.assemble(part, lam=lam, mu=mu)
        system = condense(K, b, D=held)
    with stage("solve"):
        u = solve(*system)
    free = system[3]
    return Answer(free.size, compliance(b, u), _residual(system[0], u[free], b[free]))


def ngsolve(body: Body, threads: int, stage: Stages, how: str) -> Answer:
    """The bonded body on the same curved elements by NGSolve: how = "direct", "condensed" or "bddc".

    Condensed: each element's inner node is eliminated first. The assembly of "bddc" holds its preconditioner's factor.
    """
    import ngsolve as ng

    from icecone.validation.models.ngsolve_mesh import translate_model

    ng.SetNumThreads(threads)
    translated = translate_model(body.model, tuple(CONSTANTS))
    held = {"dirichletx": "far", "dirichlety": "far|symmetry", "dirichletz": "far"}
    space = ng.VectorH1(translated.mesh, order=2, **held)
    load, found = ng.GridFunction(space).vec, ng.GridFunction(space).vec
    load.FV().NumPy()[:] = (translated.whole.from_dofs.T @ body.load.reshape(-1, 3)).T.ravel()
    form = _elasticity(space, how != "direct")
    free = space.FreeDofs(form.condense)
    with ng.TaskManager():
        pre = ng.Preconditioner(form, "bddc") if how == "bddc" else None
        with stage("assembly"):
            form.Assemble()
        with stage("setup"):
            inverse: Any = None if pre else form.mat.Inverse(free, inverse="sparsecholesky")
        with stage("solve"):
            right = load.CreateVector(copy=True)
            if form.condense:
                right.data += form.harmonic_extension_trans * load
            if pre is not None:
                inverse = ng.krylovspace.CGSolver(form.mat, pre, tol=PRECISION, maxiter=MOST_STEPS)
            found.data = inverse * right
            outer = found.CreateVector(copy=True)
            if form.condense:
                found.data += form.harmonic_extension * found
                found.data += form.inner_solve * load
        rest = (form.mat * outer - right).Evaluate()
        ng.Projector(free, True).Project(rest)
    steps = 0 if pre is None else inverse.iterations
    moved = 2 * ng.InnerProduct(load, found) / PULL**2
    return Answer(sum(space.FreeDofs()), moved, ng.Norm(rest) / ng.Norm(load), steps)


def _elasticity(space: Any, condense: bool) -> Any:
    """NGSolve's form of both solids, with the quadrature of `fem.solid.elasticity`."""
    import ngsolve as ng

    (u, v), rules = space.TnT(), {ng.HEX: ng.IntegrationRule(ng.HEX, ORDER)}
    form = ng.BilinearForm(space, symmetric=True, condense=condense)
    for name, constants in CONSTANTS.items():
        lam, mu = lame(*constants)
        eps = ng.Sym(ng.Grad(u))
        sigma = lam * ng.Trace(eps) * ng.Id(3) + 2 * mu * eps
        where = STEEL_SOLIDS if name == "tube" else name
        form += ng.InnerProduct(sigma, ng.Sym(ng.Grad(v))) * ng.dx(where, intrules=rules)
    return form


def dense_rate(body: Body, threads: int, stage: Stages) -> Answer:
    """The rate of a dense product by NumPy's BLAS, the best of three."""
    a, best = np.random.default_rng(1).random((DENSE, DENSE)), np.inf
    for _ in range(3):
        start = perf_counter()
        with stage("product"):
            a @ a
        best = min(best, perf_counter() - start)
    return Answer(rate=2e-9 * DENSE**3 / best)


def count_flops(body: Body, threads: int, stage: Stages) -> Answer:
    """What a sparse Cholesky factor of the bonded body costs in MKL's order of elimination: its analysis alone."""
    from pypardiso import PyPardisoSolver

    A = _stiffness(body).upper
    solver = PyPardisoSolver(mtype=2, size_limit_storage=0)
    solver.iparm[:] = 0
    solver.iparm[[0, 1, 17, 18]] = 1, 2, -1, -1  # these values, nested dissection, count entries and flops
    solver.set_phase(11)
    with stage("analysis"):
        solver._call_pardiso(A, np.zeros((A.shape[0], 1)))
    room = max(int(solver.iparm[14]), int(solver.iparm[15]) + int(solver.iparm[16])) / 1024**2  # told in kB
    return Answer(A.shape[0], gigaflop=1e-3 * float(solver.iparm[18]), room=room)


def _stiffness(body: Body) -> Symmetric:
    """Of the bonded body, held components left out."""
    slots = np.flatnonzero(body.bonded_free())
    T = sp.identity(body.bonded_free().size, format="csr")[:, slots]
    return Symmetric(assemble_in(body.bonded, body.regions(), T, slots))


def _residual(A: sp.csr_matrix | Symmetric, u: Array, b: Array) -> float:
    return float(np.linalg.norm(A @ u - b) / np.linalg.norm(b))


NO_MKL = (("ICECONE_NO_MKL", "1"),)
CODES = {
    "dense": Code("dense product", dense_rate, "numpy", kind="gauge"),
    "flops": Code("flops of the factor", count_flops, "pypardiso", threads=(1,), kind="gauge"),
    "mkl": Code("icecone, MKL", partial(ours, method="pardiso"), "pypardiso", direct=True),
    "cholmod": Code("icecone, CHOLMOD", partial(ours, method="cholmod"), "kvxopt", direct=True, env=NO_MKL),
    "superlu": Code("icecone, SuperLU", partial(ours, method="splu"), "scipy", threads=(1,), direct=True, env=NO_MKL),
    "multigrid": Code("icecone, multigrid", partial(ours, method="multigrid"), "numba"),
    "ngsolve": Code("NGSolve, direct", partial(ngsolve, how="direct"), "ngsolve", direct=True),
    "ngsolve-condensed": Code("NGSolve, condensed", partial(ngsolve, how="condensed"), "ngsolve", direct=True),
    "ngsolve-bddc": Code("NGSolve, BDDC", partial(ngsolve, how="bddc"), "ngsolve"),
    "scikit-fem": Code("scikit-fem, plain", scikit_fem, "skfem", threads=(1,)),
    "contact-mkl": Code(
        "icecone contact, MKL", partial(our_contact, method="pardiso"), "pypardiso", kind="contact", direct=True
    ),
    "contact-cholmod": Code(
        "icecone contact, CHOLMOD",
        partial(our_contact, method="cholmod"),
        "kvxopt",
        kind="contact",
        direct=True,
        env=NO_MKL,
    ),
    "contact-multigrid": Code(
        "icecone contact, multigrid", partial(our_contact, method="multigrid"), "numba", kind="contact"
    ),
}
