"""Stiffness of ice: the measured single crystal, its polycrystal, bounds, and a hollow sphere that attains one.

`crystal`    `materials.crystal` against the published rows (ten numbers typed twice: a guard against a typing error);
             Voigt's and Reuss's averages, summed over directions, against closed forms in the stiffnesses c and their
             compliances s (Hill 1952) [Pa]:
                 9 K_V = c11 + c22 + c33 + 2 (c12 + c13 + c23),   1 / K_R = s11 + s22 + s33 + 2 (s12 + s13 + s23)
                 15 G_V = c11 + c22 + c33 - (c12 + c13 + c23) + 3 (c44 + c55 + c66)
                 15 / G_R = 4 (s11 + s22 + s33) - 4 (s12 + s13 + s23) + 3 (s44 + s55 + s66)
`polycrystal`  E, nu of ice whose crystals point in all directions against E = 9.33 GPa, nu = 0.325, remembered as those
             of Gammon et al. 1983. Voigt's average comes nearest; the toolkit uses Hill's, 1.4 % below in E.
`bounds`     Reuss <= Voigt: the largest eigenvalue of C_V^-1 C_R is at most 1; Mori-Tanaka's spherical pores against
             Hashin and Shtrikman's upper bounds (equal for empty spheres), the self-consistent scheme below them:
                 K = K0 - f / (1/K0 - 3 (1-f) / (3 K0 + 4 G0)),
                 G = G0 - f / (1/G0 - 6 (1-f) (K0 + 2 G0) / (5 G0 (3 K0 + 4 G0)))
`hollow_sphere`  Hashin's composite sphere, r <= b with an empty core r < a, stretched by u = e r at r = b, has that
             upper bound of K at f = (a/b)^3: elements of revolution, K = p / (3 e), p the mean traction on r = b.

Limit: the remembered G lies 0.4 % above the interval of the averages.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from skfem import MeshQuad, MeshQuad1, MeshQuad2

from ....fem.solid.axisymmetric import make_body
from ....fem.solid.solver import make_solver
from ....materials.crystal import average, crystal_at
from ....materials.porosity import mori_tanaka, with_pores
from ....materials.tensor import Transverse, to_mandel
from ...check import Check, Measured, Quantity
from ...models.bodies import Array

PUBLISHED = {-16.0: (13.929, 7.082, 5.765, 15.010, 3.014), -3.0: (13.696, 6.966, 5.628, 14.702, 2.959)}  # GPa
REMEMBERED_E, REMEMBERED_NU = 9.33, 0.325  # GPa, -, of the polycrystal
E, NU = 9.3e9, 0.325  # Pa, -
INNER, OUTER, STRETCH = 0.001, 0.002, 1e-4  # m, m, -: a pore of 12.5 %
COUNTS = (4, 8, 16)


def closed_averages(c11: float, c12: float, c13: float, c33: float, c44: float) -> dict[str, float]:
    """K and G of Voigt's and Reuss's averages over all orientations, in the unit of the constants."""
    c66 = (c11 - c12) / 2
    normal = np.array([[c11, c12, c13], [c12, c11, c13], [c13, c13, c33]])
    s, shear = np.linalg.inv(normal), 2 / c44 + 1 / c66
    return {
        "K of Voigt's average": float(normal.sum()) / 9,
        "G of Voigt's average": float(1.5 * np.trace(normal) - 0.5 * normal.sum() + 3 * (2 * c44 + c66)) / 15,
        "K of Reuss's average": 1 / float(s.sum()),
        "G of Reuss's average": 15 / float(6 * np.trace(s) - 2 * s.sum() + 3 * shear),
    }


def _moduli(scheme: Literal["voigt", "reuss", "hill"]) -> Transverse:
    """Ice at -16 deg C whose crystals point in all directions."""
    return average(crystal_at(-16.0), "isotropic", scheme)


def measure_crystal() -> Measured:
    """Constants at both published temperatures; averages at -16 deg C."""
    found = np.array([crystal_at(T).constants for T in PUBLISHED]) / 1e9
    apart = float(np.abs(found / np.array(list(PUBLISHED.values())) - 1).max())
    typed = "the same ten numbers typed twice, and the law runs through both rows: a guard against a typing error"
    rows = [Quantity("largest difference of the data from the published", "-", 0.0, [apart], 1e-12, typed, scale=1.0)]
    ours = np.array([*_moduli("voigt").isotropic_moduli(), *_moduli("reuss").isotropic_moduli()]) / 1e9
    because = "the sum over directions is exact: round-off"
    for (name, exact), value in zip(closed_averages(*PUBLISHED[-16.0]).items(), ours, strict=True):
        rows.append(Quantity(name, "GPa", exact, [value], 1e-12, because))
    return Measured(tuple(rows))


def measure_polycrystal() -> Measured:
    """E and nu of the three averages beside the remembered values."""
    voigt = "the measured constants are good to 0.3 to 0.6 %; the remembered values have three digits"
    hill = "used by the toolkit; half of the interval below Voigt's, whose margin this is"
    reuss = "the other end of the interval, below Voigt's by all of its width; Voigt's margin"
    bands: tuple[tuple[Literal["voigt", "hill", "reuss"], float, float, str], ...] = (
        ("voigt", 0.0, 0.0, voigt),
        ("hill", -0.011, 0.006, hill),
        ("reuss", -0.022, 0.012, reuss),
    )
    rows = []
    for scheme, lower, higher, because in bands:
        ice, name = _moduli(scheme), f"{scheme.capitalize()}'s average"
        for text, unit, reference, value, shift in (
            (f"E of {name}", "GPa", REMEMBERED_E, ice.youngs_modulus / 1e9, lower),
            (f"nu of {name}", "-", REMEMBERED_NU, ice.poissons_ratio, higher),
        ):
            rows.append(Quantity(text, unit, reference, [value], shift + 6e-3, because, least_error=shift - 6e-3))
    return Measured(tuple(rows))


def upper_bounds(K0: float, G0: float, f: float) -> tuple[float, float]:
    """Hashin and Shtrikman's upper bounds of K and G [Pa] of a body with a share f of empty spheres."""
    K = K0 - f / (1 / K0 - 3 * (1 - f) / (3 * K0 + 4 * G0))
    G = G0 - f / (1 / G0 - 6 * (1 - f) * (K0 + 2 * G0) / (5 * G0 * (3 * K0 + 4 * G0)))
    return K, G


def measure_bounds() -> Measured:
    """Reuss below Voigt; pores by two schemes against Hashin and Shtrikman."""
    below, round_off = "a bound, no value: above 0 and not above 1 but for round-off", "round-off"
    found, ice = [], crystal_at(-16.0)
    for fabric in ("isotropic", "columnar_S2"):
        voigt, reuss = (to_mandel(average(ice, fabric, scheme).tensor()) for scheme in ("voigt", "reuss"))
        most = float(np.linalg.eigvals(np.linalg.solve(voigt, reuss)).real.max())
        text = f"energy in Reuss's over that in Voigt's average, largest, {fabric}"
        found.append(Quantity(text, "-", 1.0, [most], 1e-12, below, least_error=-1.0))
    K0, G0 = E / (3 * (1 - 2 * NU)), E / (2 * (1 + NU))
    solid = Transverse.isotropic(E, NU)
    for f in (0.1, 0.4):
        bounds = upper_bounds(K0, G0, f)
        porous = Transverse.from_tensor(mori_tanaka(solid.tensor(), None, f), (0.0, 0.0, 1.0)).isotropic_moduli()
        other = with_pores(solid, f, scheme="self_consistent").isotropic_moduli()
        for name, bound, same, value in zip("KG", bounds, porous, other, strict=True):
            text = f"{name} of Mori-Tanaka at porosity {f:g}"
            found.append(Quantity(text, "GPa", bound / 1e9, [same / 1e9], 1e-10, round_off))
            text = f"{name} of the self-consistent scheme over the bound at porosity {f:g}"
            found.append(Quantity(text, "-", 1.0, [value / bound], 1e-10, below, least_error=-1.0))
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
    quantity = Quantity("bulk modulus at porosity 12.5 %", "GPa", bound / 1e9, ours, 2.2e-7, because, sizes, None, 3.5)
    return Measured((quantity,))


HASHIN = (
    "Hashin & Shtrikman 1963, J. Mech. Phys. Solids 11, 127-140, and Hashin 1962, J. Appl. Mech. 29, 143-150,"
    " both from memory"
)

CHECKS = (
    Check(
        name="crystal",
        group="ice",
        title="Single crystal of ice: data and averages over orientations",
        source="constants: Gammon, Kiefte, Clouter & Denner 1983, J. Glaciol. 29(103), 433-460, and Gammon, Kiefte &"
        " Clouter 1980, J. Glaciol. 25(91), both seen; averages: Hill 1952, Proc. Phys. Soc. A 65, 349, from memory",
        how="published",
        part="materials.crystal (no finite elements)",
        measure=measure_crystal,
    ),
    Check(
        name="polycrystal",
        group="ice",
        title="Isotropic polycrystal of ice: which average gives the remembered E and nu",
        source="Gammon, Kiefte, Clouter & Denner 1983, J. Glaciol. 29(103), 433-460, values of the polycrystal at"
        " -16 deg C from memory",
        how="from memory",
        part="materials.crystal (no finite elements)",
        measure=measure_polycrystal,
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
        part="fem.solid.axisymmetric on curved elements",
        measure=measure_hollow_sphere,
    ),
)
