"""Half models against FElupe on the same mesh: stiffness, load, displacement, stress.

`validation/models/felupe_model.py` solves the same discrete problem with the same quadrature: every number must be ours
to round-off.
"""

from __future__ import annotations

from ...check import Check, Measured, Quantity
from ...models.half_model_case import AWAY, UPRIGHT, apart, gauss_stress, our_contact, our_glued, ours

SAME = "the same discrete problem: round-off is left (measured 1e-14 to 8e-13)"


def _difference(name: str, size: float) -> Quantity:
    """A largest difference over FElupe's largest value."""
    return Quantity(f"{name}: largest difference / largest value", "1", 0.0, [size], 1e-11, SAME, (), 1.0)


def measure() -> Measured:
    """Stiffness, load and stress of both settings; displacement and compliance of the one with a crust."""
    from ...models.felupe_model import assemble, glued
    from ...models.felupe_model import gauss_stress as their_stress

    found = []
    for setting in (UPRIGHT, AWAY):
        given, made, u = ours(setting), assemble(setting), our_contact(setting).u
        matrix = float(abs(given.K - made.K).max() / abs(made.K).max())
        found += [
            _difference(f"{setting.word}: stiffness matrix", matrix),
            _difference(f"{setting.word}: nodal forces", apart(given.load, made.load)),
            _difference(
                f"{setting.word}: stress at Gauss points", apart(gauss_stress(setting, u), their_stress(setting, u))
            ),
        ]
    u, other, given = our_glued(AWAY), glued(AWAY), ours(AWAY)
    pair = given.compliance(other) * 1e9, [given.compliance(u) * 1e9]
    found += [
        _difference("away, glued: displacement", apart(u, other)),
        Quantity("away, glued: compliance", "um/kN", *pair, 1e-11, SAME),
    ]
    return Measured(tuple(found))


CHECKS = (
    Check(
        name="felupe",
        group="codes",
        title="Half models: stiffness, load, displacement, stress by FElupe on the same mesh",
        source="FElupe (Dutzler, github.com/adtzlr/felupe), version 11; scipy's SuperLU",
        how="another code",
        part="geometry.half_model, fem.solid.elasticity, fem.solid.solver",
        measure=measure,
        slow=True,
        needs=("felupe",),
    ),
)
