"""A half model solved by NGSolve (Schoeberl, ngsolve.org): the same mesh and data, its own elements, forms and solver.

Contact is a penalty k [Pa/m] on the tube's cylinder,

    E(u) = 1/2 int eps : C : eps dV - int f . u dV + 1/2 k int min(g, 0)^2 + [threads] s^2 dA,
    g = n . (u_ice - u_tube),  s = e_a . (u_ice - u_tube),                          n radial, e_a along the axis,

minimised by a semi-smooth Newton iteration: the second derivative counts points with g <= 0 only. The surface integral
takes Simpson's points by default, an element's own nodes, so that k -> oo gives contact at nodes, ours; with Gauss's
points it gives another discretisation of the same contact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import ngsolve as ng
import numpy as np

from ...fem.solid.contact import pair_frames
from ...fem.solid.elasticity import scalar_basis
from ...fem.solid.stress import VOIGT
from ...geometry.placement import load_point
from .bodies import Array
from .half_model_case import PULL, TUBE, Setting, ours
from .ngsolve_mesh import STEEL_SOLIDS, Part, Translated, at_points, translate

OUR_ORDER = 4  # of quadrature: 3 x 3 x 3 Gauss points, as in `fem.solid.elasticity`
STEPS = 40  # of Newton's iteration, at most


@dataclass(frozen=True)
class Answer:
    """What NGSolve finds.

    u : (3 nodes,) displacement at our nodes [m].  compliance : m/N, from its own load functional.
    pressing, thrust : (k,) nodal forces of tube on ice at our pairs, along the normal and the axis [N]; empty if glued.
    stress : (elements, 27, 6: xx, yy, zz, yz, xz, xy) at the Gauss points of our stiffness [Pa].
    steps : of Newton's iteration.
    """

    u: Array
    compliance: float
    pressing: Array
    thrust: Array
    stress: Array
    steps: int


def solve_glued(setting: Setting, order: int = OUR_ORDER) -> Answer:
    """Tube and ice as one body; `order` of the quadrature."""
    translated = translate(setting)
    space = _vectors(translated.mesh, translated.whole)
    u, v = space.TnT()
    stiffness = ng.BilinearForm(space, symmetric=True)
    for name in setting.constants:
        stiffness += ng.Variation(_strain_energy(u, setting, name) * _volume(_solid(name), order))
    load = ng.LinearForm(_work(v, setting, order)).Assemble()
    found = ng.GridFunction(space)
    stiffness.AssembleLinearization(found.vec)
    found.vec.data = stiffness.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky") * load.vec
    nodal = translated.whole.from_dofs @ _coefficients(found)
    work = ng.InnerProduct(load.vec, found.vec)
    stress = _gauss_stress(setting, {name: found for name in setting.constants})
    return Answer(nodal.ravel(), 2 * work / PULL**2, np.empty(0), np.empty(0), stress, 1)


def solve_penalty(
    setting: Setting, penalties: Sequence[float], nodes: bool = True, start: Array | None = None
) -> list[Answer]:
    """Contact with penalties [Pa/m], each from the answer to the last.

    nodes : contact at the faces' nodes, otherwise at 4 x 4 Gauss points.  start : (3 nodes,) first
    guess of the displacement [m], zero (all pairs shut) by default.  Returns an answer for each penalty.

    Raises RuntimeError if Newton's iteration does not settle.
    """
    translated = translate(setting)
    space = _vectors(translated.mesh, translated.ice) * _vectors(translated.mesh, translated.tube)
    (ice, tube), (_, test) = space.TnT()
    penalty = ng.Parameter(0.0)
    energy, joint = ng.BilinearForm(space, symmetric=True), ng.BilinearForm(space, symmetric=True)
    for name in setting.constants:
        strain = _strain_energy(tube if name == "tube" else ice, setting, name)
        energy += ng.Variation(strain * _volume(_solid(name), OUR_ORDER))
    for term in _joint_energy(ice.Trace() - tube.Trace(), setting, penalty, nodes):
        energy += ng.Variation(term)
        joint += ng.Variation(term)
    load = ng.LinearForm(_work(test, setting, OUR_ORDER)).Assemble()

    free, found, answers = _free(space, translated), ng.GridFunction(space), []
    if start is not None:
        for field, part in zip(found.components, (translated.ice, translated.tube), strict=True):
            _fill(field, part, start)
    for value in penalties:
        penalty.Set(value)
        steps = _settle(energy, load, free, found)
        answers.append(_answer(setting, found, joint, load, steps))
    return answers


def _settle(energy: Any, load: Any, free: Any, found: Any) -> int:
    """Newton's iteration on `found`; returns its steps.

    E is quadratic between changes of what is shut, so a step ends at the solution of the current linear problem, and
    the iteration ends when the matrix comes back as it was.
    """
    before = np.empty(0)
    for steps in range(STEPS):
        energy.AssembleLinearization(found.vec)
        now = energy.mat.AsVector().FV().NumPy().copy()
        if np.array_equal(now, before):
            return steps
        before = now
        found.vec.data = energy.mat.Inverse(free, inverse="sparsecholesky") * load.vec
    raise RuntimeError(f"NGSolve: contact did not settle in {STEPS} steps")


def project(setting: Setting, found: Array) -> Array:
    """NGSolve's L2 projection of the stress of a displacement (3 nodes,) onto fields of order 2 over the ice.

    Returns (nodes, 6) [Pa], zero elsewhere; for a setting whose ice is one solid.
    """
    translated = translate(setting)
    part = translated.ice
    field = ng.GridFunction(_vectors(translated.mesh, part))
    _fill(field, part, found)
    space = ng.H1(translated.mesh, order=2, definedon=part.where)
    u, v = space.TnT()
    mass = ng.BilinearForm(u * v * _volume(part.where, OUR_ORDER), symmetric=True).Assemble()
    used = ng.BitArray((np.diff(part.to_dofs.indptr) > 0).tolist())
    inverse = mass.mat.Inverse(used, inverse="sparsecholesky")
    stress, projected = _stress(field, setting, "ice"), ng.GridFunction(space)
    out = np.empty((part.from_dofs.shape[0], 6))
    for c, (i, j) in enumerate(VOIGT):
        moments = ng.LinearForm(stress[i, j] * v * _volume(part.where, OUR_ORDER)).Assemble()
        projected.vec.data = inverse * moments.vec
        out[:, c] = part.from_dofs @ projected.vec.FV().NumPy()
    return out


def _vectors(mesh: Any, part: Part) -> Any:
    """Vector fields over a part, held at the supports."""
    held = {"dirichletx": "far", "dirichlety": "far|symmetry", "dirichletz": "far"}
    return ng.VectorH1(mesh, order=2, definedon=part.where, **held)


def _free(space: Any, translated: Translated) -> Any:
    """Dofs that are neither held nor without an element (NGSolve numbers all vertices for each part)."""
    used = np.concatenate([np.tile(np.diff(p.to_dofs.indptr) > 0, 3) for p in (translated.ice, translated.tube)])
    return space.FreeDofs() & ng.BitArray(used.tolist())


def _solid(name: str) -> str:
    """NGSolve's name of a solid's elements."""
    return STEEL_SOLIDS if name == "tube" else name


def _rule(shape: Any, order: int) -> dict[Any, Any]:
    return {shape: ng.IntegrationRule(shape, order)}


def _volume(where: str, order: int) -> Any:
    """Volume integral with Gauss's rule of this order."""
    return ng.dx(where, intrules=_rule(ng.HEX, order))


def _strain_energy(u: Any, setting: Setting, name: str) -> Any:
    """1/2 eps : C : eps [Pa] of a solid."""
    eps = ng.Sym(ng.Grad(u))
    if name == "ice" and setting.columns:
        return 0.5 * ng.InnerProduct(_stress(u, setting, name), eps)
    E, nu = setting.constants[name]
    lam, mu = E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))
    return 0.5 * lam * ng.Trace(eps) ** 2 + mu * ng.InnerProduct(eps, eps)


def _stress(u: Any, setting: Setting, name: str) -> Any:
    """Stress [Pa] of a solid; of columns by their five constants in their own frame."""
    eps = ng.Sym(ng.Grad(u))
    if name == "ice" and setting.columns:
        c, (x, _, z) = setting.columns, setting.columns.axis
        turn = ng.CF(
            (z, 0.0, x, 0.0, 1.0, 0.0, -x, 0.0, z), dims=(3, 3)
        )  # columns: the ice's own axes, the third along
        own = turn.trans * eps * turn
        a, b, d = own[0, 0], own[1, 1], own[2, 2]
        ab, ad, bd = (c.c11 - c.c12) * own[0, 1], 2 * c.c44 * own[0, 2], 2 * c.c44 * own[1, 2]
        across = (c.c11 * a + c.c12 * b + c.c13 * d, c.c12 * a + c.c11 * b + c.c13 * d)
        along = c.c13 * (a + b) + c.c33 * d
        return turn * ng.CF((across[0], ab, ad, ab, across[1], bd, ad, bd, along), dims=(3, 3)) * turn.trans
    E, nu = setting.constants[name]
    return E / (1 + nu) * (eps + nu / (1 - 2 * nu) * ng.Trace(eps) * ng.Id(3))


def _joint_energy(slip: Any, setting: Setting, penalty: Any, nodes: bool) -> list[Any]:
    """Penalty on the gap everywhere on the cylinder, on the axial slip of the threads too."""
    axis = ng.CF(tuple(setting.placement.axis))
    place = ng.CF((ng.x, ng.y, ng.z))
    radial = place - ng.InnerProduct(place, axis) * axis
    gap = ng.InnerProduct(slip, radial / ng.Norm(radial))
    simpson = ((0.0, 1 / 6), (0.5, 4 / 6), (1.0, 1 / 6))
    pairs = [(one, other) for one in simpson for other in simpson]
    at_nodes = ng.IntegrationRule([(p, q) for (p, _), (q, _) in pairs], [v * w for (_, v), (_, w) in pairs])
    rules = {ng.QUAD: at_nodes} if nodes else _rule(ng.QUAD, 6)
    shut = ng.IfPos(gap, 0.0, gap * gap)  # shut where the gap is zero: so the first step has all pairs closed
    along = ng.InnerProduct(slip, axis) ** 2
    return [
        0.5 * penalty * shut * ng.ds("plain|threads", intrules=rules),
        0.5 * penalty * along * ng.ds("threads", intrules=rules),
    ]


def _work(v: Any, setting: Setting, order: int) -> Any:
    """int f . v dV of f = a + b x (x - point) over the loaded band, its resultant the pull, through the load point."""
    px, _, pz = load_point(TUBE, setting.placement)
    arm_x, arm_z = ng.x - px, ng.z - pz
    fields = ((ng.CF(1.0), ng.CF(0.0)), (ng.CF(0.0), ng.CF(1.0)), (arm_z, -arm_x))  # x and z components
    band, mesh = _volume("eye", order), translate(setting).mesh
    resultants = [[ng.Integrate(g * band, mesh) for g in (fx, fz, arm_z * fx - arm_x * fz)] for fx, fz in fields]
    size = np.linalg.solve(np.array(resultants).T, [setting.half_pull[0], setting.half_pull[2], 0.0])
    fx, fz = (sum(float(a) * f[c] for a, f in zip(size, fields, strict=True)) for c in (0, 1))
    return (fx * v[0] + fz * v[2]) * band


def _fill(field: Any, part: Part, u: Array) -> None:
    """Give a vector field over a part our nodal displacement u (3 nodes,)."""
    coefficients = part.to_dofs @ u.reshape(-1, 3)
    for c in range(3):
        field.components[c].vec.FV().NumPy()[:] = coefficients[:, c]


def _coefficients(field: Any) -> Array:
    """(dofs, 3) coefficients of a vector field."""
    return np.stack([part.vec.FV().NumPy().copy() for part in field.components], axis=1)


def _gauss_stress(setting: Setting, fields: dict[str, Any]) -> Array:
    """Stress at the Gauss points of each element, from the field over each solid."""
    mesh, model = translate(setting).mesh, ours(setting).model
    points = scalar_basis(model.mesh, np.zeros(1, int)).X.T
    out = np.zeros((model.mesh.nelements, len(points), 6))
    for name in setting.constants:
        stress = _stress(fields[name], setting, name)
        which = model.regions[name]
        out[which] = at_points(mesh, stress, points)[which][:, :, [3 * i + j for i, j in VOIGT]]
    return out


def _answer(setting: Setting, found: Any, joint: Any, load: Any, steps: int) -> Answer:
    translated, model = translate(setting), ours(setting).model
    ice, tube = (_coefficients(part) for part in found.components)
    nodal = translated.ice.from_dofs @ ice + translated.tube.from_dofs @ tube
    pull_back = found.vec.CreateVector()
    joint.Apply(found.vec, pull_back)
    residual = ng.GridFunction(found.space)
    residual.vec.data = -1 * pull_back
    on_ice = translated.ice.to_dofs.T @ _coefficients(residual.components[0])
    force = np.einsum("kdc,kd->kc", pair_frames(model), on_ice[model.pairs[1]])
    work = ng.InnerProduct(load.vec, found.vec)
    fields = {name: found.components[1 if name == "tube" else 0] for name in setting.constants}
    stress = _gauss_stress(setting, fields)
    return Answer(nodal.ravel(), 2 * work / PULL**2, force[:, 0], force[:, 2], stress, steps)
