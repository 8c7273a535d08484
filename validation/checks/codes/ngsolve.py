"""Half models against NGSolve on the same mesh (`validation/models/ngsolve_model.py`): all but contact, then contact.

Glued, tube and ice are one linear body and every number must be that of ours to round-off, with the same quadrature.
Contact is enforced in different ways: complementarity at nodes here, a penalty k on the surface there. The penalty's
error falls with 1/k; that of two answers leaves the limit u = (10 u(10 k) - u(k)) / 9. With Gauss's points instead of
the nodes NGSolve answers another discrete problem: the difference is what either owes to its treatment of contact.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from ....fem.solid.stress import recover
from ...check import Check, Measured, Quantity
from ...models.bodies import Array
from ...models.half_model_case import (
    AWAY,
    COLUMNAR,
    UPRIGHT,
    Setting,
    apart,
    gauss_stress,
    our_contact,
    our_glued,
    ours,
    shares,
)

PENALTIES = (1e15, 1e16)  # Pa/m; of ice, E over the size of an element is 2e12
FINE_ORDER = 8  # of quadrature: 5 x 5 x 5 Gauss points
PRESSING = 1e-6  # of the largest force: what a pair's force must exceed to press
SAME = "the same discrete problem: round-off of two factorisations is left (measured 1e-13 to 4e-13)"
SOURCE = "NGSolve (Schoeberl, ngsolve.org), version 6.2"


def _difference(name: str, a: Array, b: Array, tolerance: float, because: str) -> Quantity:
    """Largest difference of two fields over the largest value of the second, which is NGSolve's."""
    return Quantity(f"{name}: largest difference / largest value", "1", 0.0, [apart(a, b)], tolerance, because, (), 1.0)


def _limit(one: Array, other: Array) -> Array:
    """Where two answers lead whose penalties are as in PENALTIES."""
    return (10 * other - one) / 9


def measure_glued() -> Measured:
    """All settings without contact; the effect of quadrature; the projection of stress."""
    from ...models.ngsolve_mesh import largest_misplacement
    from ...models.ngsolve_model import project, solve_glued

    found = []
    for setting in (UPRIGHT, AWAY, COLUMNAR):
        given, u, theirs = ours(setting), our_glued(setting), solve_glued(setting)
        compliance, word = given.compliance(u), setting.word
        moved = largest_misplacement(setting) / given.model.mesh.doflocs.max()
        found += [
            Quantity(f"{word}: places of nodes, largest difference / block", "1", 0.0, [moved], 1e-14, SAME, (), 1.0),
            Quantity(f"{word}: compliance", "um/kN", theirs.compliance * 1e9, [compliance * 1e9], 1e-11, SAME),
            _difference(f"{word}: displacement", u, theirs.u, 1e-11, SAME),
            _difference(f"{word}: stress at Gauss points", gauss_stress(setting, u), theirs.stress, 1e-11, SAME),
        ]
        if setting is not AWAY:
            ice = recover(given.model.mesh, u, list(given.regions[:1]))
            nodes = given.model.mesh.dofs.element_dofs[:, ice.elements].T
            found.append(_difference(f"{word}: projected stress", ice.nodal, project(setting, u)[nodes], 1e-11, SAME))
        if setting is COLUMNAR:
            continue  # isotropic ice says it already
        exact = solve_glued(setting, FINE_ORDER).compliance
        because = "what 3 x 3 x 3 points leave on curved elements of this mesh (measured 2e-5)"
        found.append(
            Quantity(f"{word}: compliance, 5 x 5 x 5 points", "um/kN", exact * 1e9, [compliance * 1e9], 3e-5, because)
        )
    return Measured(tuple(found))


def measure_contact(setting: Setting, gauss: bool) -> Measured:
    """One setting with contact; `gauss`: against contact at Gauss points too."""
    from ...models.ngsolve_model import solve_penalty

    given, our = ours(setting), our_contact(setting)
    compliance, our_shares = given.compliance(our.u), shares(setting, our.force, -our.on_tube[:, 2])
    soft, stiff = solve_penalty(setting, PENALTIES)
    sizes = [PENALTIES[0] / k for k in PENALTIES]
    apart_by = [(compliance - answer.compliance) * 1e9 for answer in (soft, stiff)]

    C = (10 * stiff.compliance - soft.compliance) / 9 * 1e9
    pressing, thrust = _limit(soft.pressing, stiff.pressing), _limit(soft.thrust, stiff.thrust)
    their_shares = shares(setting, pressing, thrust)
    shut = [int(np.sum(f > PRESSING * f.max())) for f in (our.force, stiff.pressing)]
    because = "the limit of two penalties is left with terms of second order (measured 1e-8 to 4e-8), and round-off"
    least = "round-off of a stiffness with penalties 1e4 times its own (measured 2e-7, thrust 1e-6)"
    penalty = "the penalty's own error at k = 1e16 Pa/m, which falls with 1/k"
    found = [
        Quantity(
            "compliance less NGSolve's, k = 1e15, 1e16 Pa/m", "um/kN", 0.0, apart_by, 1e-4, penalty, sizes, C, 0.98
        ),
        Quantity("compliance", "um/kN", C, [compliance * 1e9], 5e-8, because),
        *(
            Quantity(f"share of the {name}", "1", float(b), [float(a)], 5e-8, because, (), 1.0)
            for name, a, b in zip(("front", "threads", "back"), our_shares, their_shares, strict=True)
        ),
        Quantity("pairs that press", "1", shut[1], [shut[0]], 0.0, "the active set of the same discrete problem"),
        _difference("displacement", our.u, _limit(soft.u, stiff.u), 1e-7, because),
        _difference("force of a pair", our.force, pressing, 1e-6, least),
        _difference("thrust of a pair", -our.on_tube[:, 2], thrust, 5e-6, least),
        _difference(
            "stress at Gauss points", gauss_stress(setting, our.u), _limit(soft.stress, stiff.stress), 2e-7, because
        ),
    ]
    if gauss:
        (other,) = solve_penalty(setting, PENALTIES[:1], nodes=False, start=stiff.u)
        because = "contact at nodes or at 4 x 4 points a face, level quick (1.5e-3, less the penalty's 4e-4)"
        found.append(
            Quantity(
                "compliance, contact at Gauss points",
                "um/kN",
                other.compliance * 1e9,
                [compliance * 1e9],
                2.5e-3,
                because,
            )
        )
    return Measured(tuple(found))


PART = "geometry.half_model, fem.solid.elasticity (stiffness, load, stress), fem.solid.solver"
CHECKS = (
    Check(
        name="ngsolve_glued",
        group="codes",
        title="Half models with tube and ice glued: NGSolve on the same mesh",
        source=SOURCE,
        how="another code",
        part=f"{PART}, fem.solid.stress (projection)",
        measure=measure_glued,
        slow=True,
        needs=("ngsolve",),
    ),
    *(
        Check(
            name=f"ngsolve_contact_{setting.word}",
            group="codes",
            title=f"Half model with contact, {setting.words}: NGSolve with a penalty",
            source=SOURCE,
            how="another code",
            part=f"{PART}, fem.solid.contact",
            measure=partial(measure_contact, setting, gauss),
            slow=True,
            needs=("ngsolve",),
        )
        for setting, gauss in ((UPRIGHT, True), (AWAY, False))
    ),
)
