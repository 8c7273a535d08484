"""Linear solvers on the half model, side by side in one run: what `fem.solid.solver.choose_method` rests on.

    python validation/benchmarks/solvers.py [level ...]        (splu is left out above 120,000 unknowns)

The case is an upright tube pulled along the surface, the time that of the whole solve_contact: for the direct methods
one factorisation with condensation, for amg an active set of iterative solves. Ratios are to the level's first method.
"""

from __future__ import annotations

import sys
from time import perf_counter

import numpy as np

from icecone.fem.solid.cholmod import has_cholmod
from icecone.fem.solid.contact import solve_contact
from icecone.fem.solid.elasticity import assemble_stiffness, spread_force
from icecone.fem.solid.solver import Method, choose_method
from icecone.geometry import Placement, Pull, Tube, build_half_model, load_point
from icecone.materials.tensor import isotropic

TUBE = Tube(0.14, 0.017, 0.0015, 0.065, 0.0025, 0.005, 0.010, 1e4)
ICE, STEEL = isotropic(9.2e9, 0.325), isotropic(205e9, 0.29)
SPLU_TRIED = 120_000


def main(levels: list[str]) -> None:
    """Time each method at each level and print seconds, ratio and the movement of the load point."""
    placement, pull = Placement(0.0, 0.13), Pull(0.0)
    for level in levels:
        model = build_half_model(TUBE, placement, level=level)  # type: ignore[arg-type]
        ice = np.concatenate([model.regions["ice"], model.regions["crust"]])
        K = assemble_stiffness(model.mesh, [(ice, ICE), (model.regions["tube"], STEEL)])
        load = spread_force(model.mesh, model.regions["eye"], 500 * pull.unit, load_point(TUBE, placement))
        methods: list[Method] = ["pardiso", "cholmod", "splu", "amg"]
        if load.size > SPLU_TRIED:
            methods.remove("splu")
        if choose_method(1) != "pardiso":
            methods.remove("pardiso")
        if not has_cholmod():
            methods.remove("cholmod")
        first = None
        for method in methods:
            start = perf_counter()
            answer = solve_contact(K, load, model, method)
            seconds = perf_counter() - start
            first = first or seconds
            moved = float(load @ answer.u) / 500 * 1e6
            print(
                f"{level:9s}{load.size:8d} unknowns  {method:8s}{seconds:7.1f} s  ratio {seconds / first:5.1f}  "
                f"{answer.iterations} steps, residual {answer.residual:.0e}, load point {moved:.4f} um/kN"
            )


if __name__ == "__main__":
    main(sys.argv[1:] or ["quick"])
