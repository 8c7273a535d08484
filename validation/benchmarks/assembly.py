"""Assembly of the stiffness matrix: ours against scikit-fem's own form on the same mesh, side by side in one run.

    python validation/benchmarks/assembly.py [level]

Prints the seconds of each, their ratio, and the largest difference of the two matrices over the largest entry.
"""

from __future__ import annotations

import sys
from time import perf_counter

import numpy as np
import scipy.sparse as sp
from skfem import Basis, ElementHex2, ElementVector

from icecone.fem.solid.elasticity import assemble_stiffness, scalar_basis, stiffness_form
from icecone.geometry import Placement, Tube, build_half_model
from icecone.materials.tensor import isotropic, lame

TUBE = Tube(0.14, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 1e4)
E, NU = 9.2e9, 0.325


def main(level: str = "quick") -> None:
    """Time both once on the half model of an upright tube in one material and print the comparison."""
    mesh = build_half_model(TUBE, Placement(0.0, 0.13), level=level).mesh  # type: ignore[arg-type]
    start = perf_counter()
    ours = assemble_stiffness(mesh, [(np.arange(mesh.nelements), isotropic(E, NU))])
    seconds_ours = perf_counter() - start

    start = perf_counter()
    basis = Basis(mesh, ElementVector(ElementHex2()), intorder=4)
    lam, mu = lame(E, NU)
    theirs = stiffness_form.assemble(basis, lam=lam, mu=mu)
    seconds_theirs = perf_counter() - start

    nodes = scalar_basis(mesh).element_dofs
    place = np.empty(theirs.shape[0], dtype=int)
    for node in range(27):
        for component in range(3):
            place[basis.element_dofs[3 * node + component]] = 3 * nodes[node] + component
    turn = sp.csr_matrix((np.ones(place.size), (place, np.arange(place.size))))
    difference = abs(turn @ theirs @ turn.T - ours).max() / abs(ours).max()
    print(f"{level}: {ours.shape[0]} unknowns, {mesh.nelements} elements")
    ratio = seconds_theirs / seconds_ours
    print(f"element products {seconds_ours:.2f} s, form {seconds_theirs:.2f} s, ratio {ratio:.1f}")
    print(f"largest relative difference {difference:.1e}")


if __name__ == "__main__":
    main(*sys.argv[1:])
