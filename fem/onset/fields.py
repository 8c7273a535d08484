"""Fields of a solved case at the nodes, as written to a file: per kN of pull, in the users' units (mm, MPa).

Nodes of the tube and of the ice are apart, so nothing is averaged across their contact. Between crust and ice the mean
of the two is written. Files hold 27-node hexahedra (VTK's triquadratic cell) and a `region` number an element.
"""

from __future__ import annotations

import meshio
import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2

from ..solid.contact import pair_frames
from ..solid.stress import principal
from .criterion import criterion_index
from .elastic import UNIT_PULL
from .solve import Solution

Array = NDArray[np.float64]
REGIONS = {"ice": 0, "crust": 1, "tube": 2}
_EDGES = "_00 1_0 _10 0_0 _01 1_1 _11 0_1 00_ 10_ 11_ 01_"
_FACES = "0__ 1__ _0_ _1_ __0 __1"
_VTK_NODES = "000 100 110 010 001 101 111 011 " + _EDGES + " " + _FACES + " ___"  # local places, _ is half way


def vtk_order() -> NDArray[np.int64]:
    """Which of scikit-fem's 27 nodes comes at each place of VTK's triquadratic hexahedron."""
    wanted = np.array([[{"0": 0.0, "1": 1.0, "_": 0.5}[c] for c in node] for node in _VTK_NODES.split()])
    match = np.all(np.isclose(wanted[:, None], ElementHex2.doflocs[None]), axis=2)
    return np.argmax(match, axis=1)


def node_fields(solution: Solution) -> dict[str, Array]:
    """Fields at the nodes of the mesh, per kN of pull (mm, MPa).

    displacement_mm_per_kN (n, 3); stress_MPa_per_kN (n, 6: xx, yy, zz, yz, xz, xy); principal_MPa_per_kN (n, 3,
    rising); contact_pressure_MPa_per_kN (n,), on both sides of each pair; criterion_index_per_kN (n,), the local
    index of the ice (the onset takes averages over lines, and a size effect), 0 in the tube.
    """
    model, case = solution.model, solution.case
    n = model.mesh.doflocs.shape[1]
    per_kN = 1000.0 / UNIT_PULL
    stress = np.zeros((n, 6))
    dofs = model.mesh.dofs.element_dofs[:, solution.stress.elements].T
    np.add.at(stress, dofs, solution.stress.nodal)
    stress *= per_kN / np.bincount(dofs.ravel(), minlength=n)[:, None]
    index = np.zeros(n)
    for region, ice in (("ice", case.ice), ("crust", case.crust_ice)):
        nodes = np.unique(model.mesh.dofs.element_dofs[:, model.regions[region]])
        index[nodes] = criterion_index(stress[nodes], ice)
    pressure = np.zeros(n)
    pressure[model.pairs] = contact_pressure(solution) * per_kN / 1e6
    return {
        "displacement_mm_per_kN": solution.contact.u.reshape(-1, 3) * per_kN * 1e3,
        "stress_MPa_per_kN": stress / 1e6,
        "principal_MPa_per_kN": principal(stress) / 1e6,
        "contact_pressure_MPa_per_kN": pressure,
        "criterion_index_per_kN": index,
    }


def contact_pressure(solution: Solution) -> Array:
    """Normal pressure at the contact pairs (k,) [Pa]: minus the ice's radial stress, 0 at open pairs."""
    model = solution.model
    stress = np.zeros((model.mesh.doflocs.shape[1], 6))
    ice = np.isin(solution.stress.elements, model.regions["tube"], invert=True)
    dofs = model.mesh.dofs.element_dofs[:, solution.stress.elements[ice]].T
    np.add.at(stress, dofs, solution.stress.nodal[ice])
    count = np.maximum(np.bincount(dofs.ravel(), minlength=len(stress)), 1)
    xx, yy, zz, yz, xz, xy = (stress / count[:, None])[model.pairs[1]].T
    x, y, z = pair_frames(model)[:, :, 0].T
    radial = xx * x * x + yy * y * y + zz * z * z + 2 * (yz * y * z + xz * x * z + xy * x * y)
    return np.where(solution.contact.force > 0, np.maximum(-radial, 0.0), 0.0)


def to_meshio(solution: Solution) -> meshio.Mesh:
    """Mesh in mm with `node_fields` and the elements' regions."""
    model = solution.model
    region = np.zeros(model.mesh.nelements, dtype=np.int32)
    for name, number in REGIONS.items():
        region[model.regions[name]] = number
    return meshio.Mesh(
        points=model.mesh.doflocs.T * 1e3,
        cells=[("hexahedron27", model.mesh.dofs.element_dofs.T[:, vtk_order()])],
        point_data=node_fields(solution),
        cell_data={"region": [region]},
    )
