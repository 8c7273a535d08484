"""A half model assembled by FElupe (Dutzler, github.com/adtzlr/felupe): our mesh and data, its elements and forms.

Tube and ice are not joined here; `glued` and the quadratic programme of `checks/codes/clarabel.py` join them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import felupe
import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu
from skfem import ElementHex2

from ...fem.solid.elasticity import scalar_basis
from ...fem.solid.stress import VOIGT
from ...geometry.placement import load_point
from .bodies import Array
from .half_model_case import TUBE, Setting, joined, ours


@dataclass(frozen=True, slots=True)
class Assembled:
    """K : (3 n, 3 n) stiffness [N/m] and load : (3 n,) nodal forces [N], numbered as ours: 3 node + component."""

    K: sp.csr_matrix
    load: Array


def _region(setting: Setting, name: str) -> Any:
    """FElupe's region of one of our regions, with 3 x 3 x 3 Gauss points."""
    mesh, elements = ours(setting).model.mesh, ours(setting).model.regions[name]
    places = (1 + felupe.TriQuadraticHexahedron().points) / 2
    ours_at = [int(np.argmin(np.abs(ElementHex2.doflocs - p).sum(axis=1))) for p in places]
    cells = mesh.dofs.element_dofs[ours_at][:, elements].T
    return felupe.RegionTriQuadraticHexahedron(felupe.Mesh(mesh.doflocs.T, cells, "hexahedron27"))


def _solid(setting: Setting, name: str, u: Array | None = None) -> Any:
    field = felupe.Field(_region(setting, name), dim=3)
    if u is not None:
        field.values[:] = u.reshape(-1, 3)
    return felupe.SolidBody(felupe.LinearElastic(*setting.constants[name]), felupe.FieldContainer([field]))


@cache
def assemble(setting: Setting) -> Assembled:
    """Stiffness and load of a setting by FElupe's forms."""
    K = sum(_solid(setting, name).assemble.matrix() for name in setting.constants)
    return Assembled(sp.csr_matrix(K), _load(setting))


def _load(setting: Setting) -> Array:
    """Nodal forces of f = a + b x (x - point) over the eye, its resultant the pull, through the load point."""
    region = _region(setting, "eye")
    field = felupe.FieldContainer([felupe.Field(region, dim=3)])
    place = felupe.Field(region, dim=3, values=region.mesh.points).interpolate()  # (3, points, cells)
    px, _, pz = load_point(TUBE, setting.placement)
    x, z = place[0] - px, place[2] - pz
    one, none = np.ones_like(x), np.zeros_like(x)
    fields = [np.stack(f) for f in ((one, none, none), (none, none, one), (z, none, -x))]
    resultants = [[(g * region.dV).sum() for g in (f[0], f[2], z * f[0] - x * f[2])] for f in fields]
    size = np.linalg.solve(np.array(resultants).T, [setting.half_pull[0], setting.half_pull[2], 0.0])
    force = sum(a * f for a, f in zip(size, fields, strict=True))
    form = felupe.IntegralForm([force], v=field, dV=region.dV, grad_v=[False])
    return np.asarray(form.assemble().toarray()).ravel()


def glued(setting: Setting) -> Array:
    """Displacement (3 nodes,) [m] with every pair joined in all components, by scipy's sparse LU."""
    given, made = ours(setting), assemble(setting)
    join = joined(given.model).tocsc()
    used = np.flatnonzero((np.diff(join.indptr) > 0) & ~given.held)
    join = join[:, used]
    A = (join.T @ made.K @ join).tocsc()
    lu = splu(A, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}, diag_pivot_thresh=0.0)
    return np.asarray(join @ lu.solve(join.T @ made.load))


def gauss_stress(setting: Setting, u: Array) -> Array:
    """Stress (elements, 27, 6: xx, yy, zz, yz, xz, xy) [Pa] of a displacement at the Gauss points of our stiffness."""
    mesh, regions = ours(setting).model.mesh, ours(setting).model.regions
    ours_at = scalar_basis(mesh, np.zeros(1, int)).X.T
    out = np.zeros((mesh.nelements, 27, 6))
    for name in setting.constants:
        solid = _solid(setting, name, u)
        theirs_at = (1 + solid.field.region.quadrature.points) / 2
        order = [int(np.argmin(np.abs(theirs_at - p).sum(axis=1))) for p in ours_at]
        solid.assemble.vector()
        tensors = np.asarray(solid.results.stress[0])  # (3, 3, points, cells)
        out[regions[name]] = np.stack([tensors[i, j][order].T for i, j in VOIGT], axis=-1)
    return out
