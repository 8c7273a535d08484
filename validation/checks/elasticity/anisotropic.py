"""A block of one ice crystal, its axis tilted, in each of the six states of uniform stress.

About its axis n the crystal's compliance follows from five stiffnesses, with D = (c11 + c12) c33 - 2 c13^2:

    s11 + s12 = c33 / D,   s11 - s12 = 1 / (c11 - c12),   s13 = -c13 / D,   s33 = (c11 + c12) / D,   s44 = 1 / c44
    1 / E(theta) = (1 - c^2)^2 s11 + c^4 s33 + c^2 (1 - c^2) (2 s13 + s44),    c = cos(theta)               [1/Pa]

(Nye, Physical Properties of Crystals, 1957, from memory), theta the angle between load and axis. The block carries
tractions sigma n on all its faces and is held at three corners only, against rigid motion, so that its strain is free;
its elements are distorted. In the crystal's frame eps = s sigma component by component.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from skfem import MeshHex2

from ....fem.solid.assembly import assemble_stiffness
from ....fem.solid.stress import VOIGT
from ....materials.crystal import crystal_at
from ....materials.tensor import Transverse
from ...check import Check, Curve, Measured, Quantity
from ...models.bodies import Array, everywhere, nearest_node, solve_held, stress_at, traction
from .patch import distorted

COLD = -16.0  # deg C
STRESS = 1e6  # Pa
TILTED = (0.48, 0.36, 0.8)  # the axis of the six states, of length one
ANGLES = (0.0, 30.0, 45.0, 60.0, 90.0)  # deg between axis and load
BECAUSE = "round-off: strain and stress are uniform"
NAMES = ("xx", "yy", "zz", "yz", "xz", "xy")


def compliances(crystal: Transverse) -> tuple[float, float, float, float, float]:
    """s11, s12, s13, s33, s44 [1/Pa] (module docstring)."""
    c11, c12, c13, c33, c44 = crystal.constants
    D = (c11 + c12) * c33 - 2 * c13**2
    both, apart = c33 / D, 1 / (c11 - c12)
    return (both + apart) / 2, (both - apart) / 2, -c13 / D, (c11 + c12) / D, 1 / c44


def youngs_modulus(crystal: Transverse, theta: Array | float) -> Array:
    """Young's modulus [Pa] along a line at theta [rad] to the crystal's axis."""
    s11, _, s13, s33, s44 = compliances(crystal)
    c2 = np.cos(theta) ** 2
    return np.asarray(1 / ((1 - c2) ** 2 * s11 + c2**2 * s33 + c2 * (1 - c2) * (2 * s13 + s44)))


def expected_strain(crystal: Transverse, sigma: Array) -> Array:
    """Strain (3, 3) under the stress sigma (3, 3) [Pa], by way of the crystal's frame."""
    s11, s12, s13, s33, s44 = compliances(crystal)
    n = np.array(crystal.axis)
    e = np.linalg.svd(n[None])[2][1]
    R = np.column_stack([e, np.cross(n, e), n])
    t = R.T @ sigma @ R
    eps = s44 / 2 * t
    eps[0, 1] = eps[1, 0] = (s11 - s12) * t[0, 1]
    for i, j, k, own, other in ((0, 1, 2, s11, s12), (1, 0, 2, s11, s12)):
        eps[i, i] = own * t[i, i] + other * t[j, j] + s13 * t[k, k]
    eps[2, 2] = s33 * t[2, 2] + s13 * (t[0, 0] + t[1, 1])
    return np.asarray(R @ eps @ R.T)


def _strain(crystal: Transverse, sigmas: list[Array]) -> tuple[list[Array], float]:
    """Mean strains (3, 3) of the block under uniform stresses, and the largest error of the recovered stress [Pa]."""
    mesh, normals = _box()
    K = assemble_stiffness(mesh, everywhere(mesh, crystal.tensor()))
    corners = [nearest_node(mesh, p) for p in np.vstack([np.zeros(3), np.eye(3)])]
    fixed = np.zeros((mesh.doflocs.shape[1], 3), bool)
    fixed[corners[0]] = True
    fixed[corners[1], 1:] = True
    fixed[corners[2], 2] = True
    strains, worst = [], 0.0
    for sigma in sigmas:
        u = solve_held(K, (normals @ sigma).ravel(), fixed.ravel())
        ends = u.reshape(-1, 3)[corners]
        grad = (ends[1:] - ends[0]).T
        strains.append(0.5 * (grad + grad.T))
        found = stress_at(mesh, u, everywhere(mesh, crystal.tensor()), np.arange(mesh.doflocs.shape[1]))
        worst = max(worst, float(np.abs(found - [sigma[i, j] for i, j in VOIGT]).max()))
    return strains, worst


@cache
def _box() -> tuple[MeshHex2, Array]:
    """Unit cube of 2 x 1 x 1 distorted elements, its corners on the axes where they were; int phi n dA (nodes, 3)."""
    mesh = distorted((2, 1, 1))
    x = mesh.doflocs.copy()
    for corner in np.vstack([np.zeros(3), np.eye(3)]):
        x[:, nearest_node(mesh, corner)] = corner
    mesh = MeshHex2(x, mesh.t, sort_t=False, validate=False)
    return mesh, traction(mesh, lambda x: np.isfinite(x[0]), lambda x, n: n).reshape(-1, 3)


def _unit_stress(i: int, j: int) -> Array:
    """Uniform stress of one component [Pa]."""
    sigma = np.zeros((3, 3))
    sigma[i, j] = sigma[j, i] = STRESS
    return sigma


def measure() -> Measured:
    """The tilted crystal in six states, and Young's modulus at some angles."""
    crystal = crystal_at(COLD)
    tilted = Transverse(*crystal.constants, axis=TILTED)
    sigmas = [_unit_stress(i, j) for i, j in VOIGT]
    strains, worst = _strain(tilted, sigmas)
    scale = STRESS / float(youngs_modulus(crystal, 0.0))
    quantities = []
    for name, sigma, strain in zip(NAMES, sigmas, strains, strict=True):
        error = float(np.abs(strain - expected_strain(tilted, sigma)).max() / scale)
        quantities.append(
            Quantity(f"strain under sigma_{name}: error over sigma / E", "-", 0.0, [error], 1e-10, BECAUSE, scale=1)
        )
    quantities.append(Quantity("stress: largest error over sigma", "-", 0.0, [worst / STRESS], 1e-10, BECAUSE, scale=1))
    ours = []
    for angle in ANGLES:
        t = np.radians(angle)
        turned = Transverse(*crystal.constants, axis=(np.sin(t) * 0.6, np.sin(t) * 0.8, np.cos(t)))
        ours.append(STRESS / _strain(turned, [sigmas[2]])[0][0][2, 2] / 1e9)
        exact = float(youngs_modulus(crystal, t)) / 1e9
        quantities.append(Quantity(f"Young's modulus at {angle:.0f} deg", "GPa", exact, [ours[-1]], 1e-10, BECAUSE))
    line = np.linspace(0, 90, 91)
    exact_line = youngs_modulus(crystal, np.radians(line)) / 1e9
    curve = Curve(
        "An ice crystal's Young's modulus",
        "angle between axis and load [deg]",
        "Young's modulus [GPa]",
        (line, exact_line),
        (ANGLES, ours),
    )
    return Measured(tuple(quantities), (curve,))


CHECKS = (
    Check(
        name="anisotropic",
        group="elasticity",
        title="Tilted ice crystal in six states of uniform stress; Young's modulus against direction",
        source="compliance of a hexagonal crystal: Nye, Physical Properties of Crystals, 1957, from memory; "
        "stiffnesses: materials.crystal",
        how="closed form",
        part="materials.tensor.Transverse, fem.solid.elasticity, fem.solid.solver, fem.solid.stress; distorted "
        "27-node hexahedra",
        measure=measure,
    ),
)
