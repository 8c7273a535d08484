"""Stiffness of ice: the measured single crystal, its polycrystal, bounds, and a hollow sphere that attains one.

`crystal`    the five constants of `materials.crystal` against the published rows, and E, nu, K, G of ice whose crystals
             point in all directions (Hill's average) against the published polycrystal.
`bounds`     Reuss <= Hill <= Voigt for each modulus; Mori-Tanaka's spherical pores against Hashin and Shtrikman's
             upper bounds (equal for empty spheres), written out here for G1 = K1 = 0:
                 K = K0 - f / (1/K0 - 3 (1-f) / (3 K0 + 4 G0)),
                 G = G0 - f / (1/G0 - 6 (1-f) (K0 + 2 G0) / (5 G0 (3 K0 + 4 G0)))
`hollow_sphere`  Hashin's composite sphere: a sphere r <= b with an empty core r < a, stretched by u = e r at r = b,
             answers as a body of bulk modulus K, which is that upper bound at f = (a/b)^3: a pore in ice solved by
             finite elements of revolution, K = p / (3 e) with p the mean traction on r = b.
"""

from __future__ import annotations

import numpy as np
from skfem import MeshQuad, MeshQuad1, MeshQuad2

from ...fem.axisymmetric import make_body
from ...fem.solver import make_solver
from ...materials.crystal import average, crystal_at
from ...materials.porosity import hashin_shtrikman, mori_tanaka, with_pores
from ...materials.tensor import Transverse
from ..bodies import Array
from ..check import Check, Measured, Quantity

PUBLISHED = {-16.0: (13.929, 7.082, 5.765, 15.010, 3.014), -3.0: (13.696, 6.966, 5.628, 14.702, 2.959)}  # GPa
NAMES = ("c11", "c12", "c13", "c33", "c44")
E, NU = 9.3e9, 0.325  # Pa, -
INNER, OUTER, STRETCH = 0.001, 0.002, 1e-4  # m, m, -: a pore of 12.5 %
COUNTS = (2, 4, 8)


def measure_crystal() -> Measured:
    """Constants at both published temperatures; the isotropic polycrystal at -16 deg C."""
    exact = "the law runs through both rows"
    found = [
        Quantity(f"{name} at {T:g} deg C", "GPa", value, [got / 1e9], 1e-12, exact)
        for T, row in PUBLISHED.items()
        for name, value, got in zip(NAMES, row, crystal_at(T).constants, strict=True)
    ]
    ice = average(crystal_at(-16.0), "isotropic", "hill")
    K, G = ice.isotropic_moduli()
    why = "the remembered values have two or three digits, and which average they are is not known: 2 %"
    for name, unit, reference, value in (
        ("E of the polycrystal", "GPa", 9.33, ice.youngs_modulus / 1e9),
        ("nu of the polycrystal", "-", 0.325, ice.poissons_ratio),
        ("K of the polycrystal", "GPa", 8.9, K / 1e9),
        ("G of the polycrystal", "GPa", 3.5, G / 1e9),
    ):
        found.append(Quantity(name, unit, reference, [value], 0.02, why))
    return Measured(tuple(found))


def upper_bounds(K0: float, G0: float, f: float) -> tuple[float, float]:
    """Hashin and Shtrikman's upper bounds of K and G [Pa] of a body with a share f of empty spheres."""
    K = K0 - f / (1 / K0 - 3 * (1 - f) / (3 * K0 + 4 * G0))
    G = G0 - f / (1 / G0 - 6 * (1 - f) * (K0 + 2 * G0) / (5 * G0 * (3 * K0 + 4 * G0)))
    return K, G


def measure_bounds() -> Measured:
    """How far moduli lie outside their bounds, and Mori-Tanaka against Hashin and Shtrikman."""
    ice = crystal_at(-16.0)
    low, high, mid = (
        np.array(average(ice, "isotropic", scheme).isotropic_moduli()) for scheme in ("reuss", "voigt", "hill")
    )
    outside = float(np.max(np.maximum(low - mid, mid - high) / mid))
    round_off = "round-off"
    found = [Quantity("Hill outside Reuss and Voigt", "-", 0.0, [max(0.0, outside)], 1e-12, round_off, scale=1.0)]
    K0, G0 = E / (3 * (1 - 2 * NU)), E / (2 * (1 + NU))
    solid = Transverse.isotropic(E, NU)
    for f in (0.1, 0.4):
        porous = Transverse.from_tensor(mori_tanaka(solid.tensor(), None, f), (0.0, 0.0, 1.0)).isotropic_moduli()
        for name, ours, bound in zip(("K", "G"), porous, upper_bounds(K0, G0, f), strict=True):
            text = f"{name} of Mori-Tanaka at porosity {f:g}"
            found.append(Quantity(text, "GPa", bound / 1e9, [ours / 1e9], 1e-10, round_off))
        (_, K), (_, G) = hashin_shtrikman(K0, G0, 0.0, 0.0, f)
        self_consistent = with_pores(solid, f, scheme="self_consistent").isotropic_moduli()
        above = max(self_consistent[0] / K, self_consistent[1] / G) - 1
        text = f"self-consistent above the bound at porosity {f:g}"
        found.append(Quantity(text, "-", 0.0, [max(0.0, above)], 1e-10, round_off, scale=1.0))
    return Measured(tuple(found))


def _hollow_sphere(n: int) -> float:
    """Bulk modulus [Pa] of the hollow sphere, n elements through the wall and round the quarter."""
    mesh = MeshQuad2.from_mesh(MeshQuad1.init_tensor(np.linspace(0, 1, n + 1), np.linspace(0, 1, n + 1)))
    through, turn = mesh.doflocs
    r, phi = INNER + (OUTER - INNER) * through, 0.5 * np.pi * turn
    shaped = MeshQuad2(np.stack([r * np.cos(phi), r * np.sin(phi)]), mesh.t, sort_t=False, validate=False)
    body = make_body(_as_quad(shaped), (E, NU))
    x: Array = body.x
    outside = np.abs(np.hypot(*x) - OUTER) < 1e-9
    u = np.zeros(body.K.shape[0])
    fixed = np.zeros(u.size, bool)
    for c in (0, 1):
        u[body.dofs[c, outside]] = STRETCH * x[c, outside]
        fixed[body.dofs[c, outside | (np.abs(x[c]) < 1e-12)]] = True
    free = ~fixed
    u[free] = make_solver(body.K[free][:, free].tocsr()).solve(-(body.K @ u)[free])
    # the work of the traction, p e b on the area 2 pi b^2 of the half sphere, is u . K u
    pressure = float(u @ (body.K @ u)) / (STRETCH * OUTER * 2 * np.pi * OUTER**2)
    return pressure / (3 * STRETCH)


def _as_quad(mesh: MeshQuad2) -> MeshQuad:
    """The curved mesh under the type that `make_body` names."""
    return mesh


def measure_hollow_sphere() -> Measured:
    """Bulk modulus of ice with a spherical pore."""
    K0, G0 = E / (3 * (1 - 2 * NU)), E / (2 * (1 + NU))
    bound, _ = upper_bounds(K0, G0, (INNER / OUTER) ** 3)
    ours = [_hollow_sphere(n) / 1e9 for n in COUNTS]
    because = "measured error of the finest mesh, with a margin of three"
    sizes = [1 / n for n in COUNTS]
    quantity = Quantity("bulk modulus at porosity 12.5 %", "GPa", bound / 1e9, ours, 3e-6, because, sizes, None, 3.0)
    return Measured((quantity,))


HASHIN = (
    "Hashin & Shtrikman 1963, J. Mech. Phys. Solids 11, 127-140, and Hashin 1962, J. Appl. Mech. 29, 143-150,"
    " both from memory"
)

CHECKS = (
    Check(
        name="crystal",
        group="ice",
        title="Single crystal of ice and its isotropic polycrystal",
        source="crystal: Gammon, Kiefte, Clouter & Denner 1983, J. Glaciol. 29(103), 433-460, and Gammon, Kiefte &"
        " Clouter 1980, J. Glaciol. 25(91), both seen; polycrystal: the former, from memory",
        how="published",
        part="materials.crystal (no finite elements)",
        measure=measure_crystal,
    ),
    Check(
        name="bounds",
        group="ice",
        title="Averages over grains and pores keep their bounds",
        source=f"Hill 1952, Proc. Phys. Soc. A 65, 349-354, from memory; {HASHIN}",
        how="closed form",
        part="materials.crystal, materials.porosity (no finite elements)",
        measure=measure_bounds,
    ),
    Check(
        name="hollow_sphere",
        group="ice",
        title="Ice with a spherical pore: a composite sphere has the bulk modulus of the upper bound",
        source=HASHIN,
        how="closed form",
        part="fem.axisymmetric on curved elements",
        measure=measure_hollow_sphere,
    ),
)
