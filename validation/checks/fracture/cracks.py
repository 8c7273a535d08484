"""Cracks: stress intensity factors and energy release rates (`fem/cracks/stress_intensity.py`) against closed forms.

    penny      disc of radius a, tension S at infinity:                   K_I = 2 S sqrt(a / pi)
    external   two half-spaces joined on a disc of radius a, pull P:      K_I = P / (2 sqrt(pi) a^1.5)
    edge       length a from the face of a half-plane, tension S:         K_I = 1.1215 S sqrt(pi a)
    slanted    half length a in a plane, at angle c from across the pull: K_I = S sqrt(pi a) cos^2 c
                                                                          K_II = S sqrt(pi a) sin c cos c
    curved     arc of half angle c and half chord a in a plane pulled all round, with k = S sqrt(pi a)/(1 + sin^2(c/2)):
               K_I = k cos(c/2), K_II = - k sin(c/2) at the end where the crack turns clockwise           [Pa m^0.5]
    conical    from the bore of a hollow body: int G dA over a growth against the elastic energy released by it     [J]

A crack is a grid line whose nodes are doubled. Every interval of a graded grid is cut in n, so that all elements shrink
alike; the integrals reach over 4 elements round the tip; no quarter points. The slanted one's boundary moves as the
infinite body does (Westergaard): its limit is exact. The others stand in bodies of 30 a (of revolution) and 100 a
(plane); what that leaves goes by (a / size)^3 and (a / size)^2, about 0.01 %. The conical crack has no closed form:
Simpson's rule over three lengths stands for the integral, and its G is that of the domain or that of K_I and K_II.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple, dataclass
from functools import cache, partial
from math import cos, pi, sin, sqrt, tan

import numpy as np
from numpy.typing import NDArray
from skfem import FacetBasis, LinearForm, MeshQuad

from ....fem.cracks.stress_intensity import Intensity, Tip, intensity
from ....fem.solid.axisymmetric import Body, make_body
from ....fem.solid.solver import make_solver
from ....geometry.o_grid import graded
from ...check import Check, How, Measured, Quantity
from ..threads.thread_rings import settled

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Where = Callable[[Array], Mask]
E, NU, S = 9.3e9, 0.325, 1e6  # Pa, -, Pa
CRACK = 0.02  # m: a
SLANT, CONE, ARC = pi / 6, pi / 5, pi / 6  # rad
BORE = 0.0085  # m
COUNTS = (1, 2, 4)  # elements in an interval
STEP = CRACK / 6  # m, interval at the tip
REACH = 4.0  # elements at the tip
FAR, FAR_PLANE = 30 * CRACK, 100 * CRACK  # m, from the tip to the outer faces
NEAR = 1e-9  # m


@dataclass(frozen=True)
class Cracked:
    """A body with its answer u and the tip; h : element size at the tip [m]; load : nodal forces."""

    body: Body
    u: Array
    load: Array
    tip: Tip
    h: float
    plane: bool

    def found(self, reach: float = REACH) -> Intensity:
        """K_I, K_II and G from `reach` elements round the tip."""
        return intensity(self.body, self.u, self.tip, reach * self.h, self.plane)


def away(length: float) -> Array:
    """Distances from a tip to `length` [m], six even intervals and then growing ones."""
    even = STEP * np.arange(7)
    return np.concatenate([even[:-1], even[-1] + graded(length - even[-1], STEP, length, 0.5, length)])


def opened(x: Array, y: Array, n: int, crack: Where, shape: Callable[[Array], Array] | None = None) -> MeshQuad:
    """Rectangles between lines x and both ways y, intervals cut in n; vertices on y = 0 are doubled where `crack`.

    `shape` moves the vertices in the end.
    """
    y = np.concatenate([-y[:0:-1], y])
    x, y = (np.interp(np.arange(n * (k.size - 1) + 1) / n, np.arange(k.size), k) for k in (x, y))
    mesh = MeshQuad.init_tensor(x, y)
    on = (np.abs(mesh.p[1]) < NEAR) & crack(mesh.p)
    twin = np.arange(on.size)
    twin[on] = on.size + np.arange(on.sum())
    t, above = mesh.t.copy(), mesh.p[1, mesh.t].mean(axis=0) > 0
    t[:, above] = twin[t[:, above]]
    p = np.hstack([mesh.p, mesh.p[:, on]])
    return MeshQuad(p if shape is None else shape(p), t)


def plane_body(mesh: MeshQuad, constants: tuple[float, float]) -> Body:
    """As `make_body`, in plane strain of 1 m depth."""
    return make_body(mesh, constants, plane=True)


def end_tractions(body: Body, ends: Where, plane: bool, axis: int = 1) -> Array:
    """Nodal forces of the traction S along an axis, outwards, on boundary facets where `ends`."""
    facets = body.basis.mesh.facets_satisfying(ends, boundaries_only=True)
    face = FacetBasis(body.basis.mesh, body.basis.elem, facets=facets, intorder=5)

    def work(v, w):  # type: ignore[no-untyped-def]
        return S * np.sign(w.n[axis]) * v[axis] * (1.0 if plane else 2 * pi * w.x[0])

    return np.asarray(LinearForm(work).assemble(face))


def solved(body: Body, load: Array, held: Mask, value: Array | float = 0.0) -> Array:
    """u [m] with u = value at the nodes held (2, n)."""
    u, free = np.zeros(load.size), np.ones(load.size, bool)
    free[body.dofs[held]] = False
    u[body.dofs[held]] = np.broadcast_to(value, held.shape)[held]
    u[free] = make_solver(body.K[free][:, free].tocsr()).solve((load - body.K @ u)[free])
    return u


def straight(n: int, kind: str) -> Cracked:
    """Penny, external or edge crack on z = 0, in a body pulled along z."""
    plane, outside = kind == "edge", kind == "external"
    far = FAR_PLANE if plane else FAR
    height = away(far)
    r = np.concatenate([np.linspace(0, CRACK, 7), CRACK + height[1:]])
    mesh = opened(r, height, n, lambda x: x[0] > CRACK + NEAR if outside else x[0] < CRACK - NEAR)
    body = make_body(mesh, (E, NU), plane)
    load = end_tractions(body, lambda x: np.abs(x[1]) > far - NEAR, plane)
    x, z = body.x
    if outside:
        load = load * (CRACK / (CRACK + FAR)) ** 2  # P = S pi a^2
    roller = x > x.max() - NEAR if plane else x < NEAR
    u = solved(body, load, np.stack([roller, np.hypot(x - CRACK, z) < NEAR]))
    return Cracked(body, u, load, Tip((CRACK, 0.0), pi if outside else 0.0), STEP / n, plane)


def griffith(x: Array) -> Array:
    """u (2, ...) [m] round the crack |x| < CRACK, y = 0, under tension S at SLANT from y, exact in plane strain.

    sigma_xx = sigma_yy = S cos^2 c, A = sqrt(z^2 - a^2), Z = dA/dz:  2 mu (u, v) = ((k-1)/2 Re A - y Im Z, (k+1)/2 Im A
    - y Re Z); sigma_xy = S sin c cos c:  ((k+1)/2 Im A + y Re Z, - (k-1)/2 Re A - y Im Z), k = 3 - 4 nu (Westergaard
    1939, from memory); sigma_xx = S (sin^2 c - cos^2 c) is uniform.
    """
    z = x[0] + 1j * x[1]
    A = np.sqrt(z - CRACK) * np.sqrt(z + CRACK)
    Z, y, k = z / A, x[1], 3 - 4 * NU
    opening = np.stack([(k - 1) / 2 * A.real - y * Z.imag, (k + 1) / 2 * A.imag - y * Z.real])
    sliding = np.stack([(k + 1) / 2 * A.imag + y * Z.real, -(k - 1) / 2 * A.real - y * Z.imag])
    along = np.stack([(1 - NU) * x[0], -NU * x[1]])
    c, s = cos(SLANT), sin(SLANT)
    return np.asarray(S * (1 + NU) / E * (c**2 * opening + s * c * sliding + (s**2 - c**2) * along))


def slanted(n: int) -> Cracked:
    """A square of half side 3 a, turned with its crack by SLANT, moved at its sides as the plane would be."""
    beyond = CRACK + away(2 * CRACK)[1:]
    x = np.concatenate([-beyond[::-1], np.linspace(-CRACK, CRACK, 13), beyond])
    turn = np.array([[cos(SLANT), -sin(SLANT)], [sin(SLANT), cos(SLANT)]])
    mesh = opened(x, away(3 * CRACK), n, lambda x: np.abs(x[0]) < CRACK - NEAR, lambda x: turn @ x)
    body = plane_body(mesh, (E, NU))
    own = turn.T @ body.x
    sides = np.abs(own).max(axis=0) > 3 * CRACK - NEAR
    load, moved = np.zeros(body.K.shape[0]), np.zeros(own.shape)
    moved[:, sides] = turn @ griffith(own[:, sides])
    u = solved(body, load, np.stack([sides, sides]), moved)
    return Cracked(body, u, load, Tip((CRACK * cos(SLANT), CRACK * sin(SLANT)), SLANT), STEP / n, True)


def curved(n: int) -> Cracked:
    """Right half of an arc of half angle ARC and radius CRACK / sin(ARC), in a plate pulled all round.

    Grid lines bend with the crack and less and less away from it; beyond the tip they run on level.
    """
    far, radius = FAR_PLANE, CRACK / sin(ARC)
    height = away(far)

    def bend(x: Array) -> Array:
        drop = np.sqrt(radius**2 - np.minimum(x[0], CRACK) ** 2) - radius
        return np.stack([x[0], x[1] + drop * np.maximum(0, 1 - np.abs(x[1]) / far)])

    lines = np.concatenate([np.linspace(0, CRACK, 7), CRACK + height[1:]])
    body = plane_body(opened(lines, height, n, lambda x: x[0] < CRACK - NEAR, bend), (E, NU))
    load = end_tractions(body, lambda x: np.abs(x[1]) > far - NEAR, True, 1)
    load = load + end_tractions(body, lambda x: x[0] > CRACK + far - NEAR, True, 0)
    x, z = body.x
    tip = Tip((CRACK, radius * (cos(ARC) - 1)), -ARC)
    u = solved(body, load, np.stack([x < NEAR, np.hypot(x - tip.at[0], z - tip.at[1]) < NEAR]))
    return Cracked(body, u, load, tip, STEP / n, True)


@cache
def conical(n: int, steps: int) -> Cracked:
    """A crack from the bore of a hollow body, rising at CONE, `steps` STEP long; base held, top pulled by S."""
    first = STEP * np.arange(17)
    mesh = opened(
        np.concatenate([first[:-1], first[-1] + graded(8 * CRACK, STEP, CRACK, 0.35, CRACK)]),
        away(8 * CRACK),
        n,
        lambda x: x[0] < steps * STEP - NEAR,
        lambda x: np.stack([BORE + x[0] * cos(CONE), x[1] + x[0] * sin(CONE)]),
    )
    body = make_body(mesh, (E, NU))
    level = body.x[1] - (body.x[0] - BORE) * tan(CONE)
    load = end_tractions(body, lambda x: x[1] - (x[0] - BORE) * tan(CONE) > 8 * CRACK - NEAR, False)
    base = level < -8 * CRACK + NEAR
    tip = Tip((BORE + steps * STEP * cos(CONE), steps * STEP * sin(CONE)), CONE)
    return Cracked(body, solved(body, load, np.stack([base, base])), load, tip, STEP / n, False)


K_UNIT, G_UNIT = "MPa m^0.5", "J/m2"
MARGIN = "measured error of the finest mesh, with a margin of about two"
SIZES = tuple(STEP / n / CRACK for n in COUNTS)
ROOT = S * sqrt(pi * CRACK)
ARC_ROOT = ROOT / (1 + sin(ARC / 2) ** 2)


@dataclass(frozen=True)
class Known:
    """A closed form and what is demanded: tolerances of K_I, K_II and G, least rate of K_I."""

    build: Callable[[int], Cracked]
    K_I: float
    K_II: float
    tolerances: tuple[float, float, float]
    rate: float | None = 0.9


KNOWN = {
    "penny": Known(lambda n: straight(n, "penny"), 2 * S * sqrt(CRACK / pi), 0.0, (0.001, 0, 0.0125)),
    "external": Known(lambda n: straight(n, "external"), ROOT / 2, 0.0, (0.0055, 0, 0.0125)),
    "edge": Known(lambda n: straight(n, "edge"), 1.1215 * ROOT, 0.0, (0.0015, 0, 0.006)),
    "slanted": Known(slanted, ROOT * cos(SLANT) ** 2, ROOT * sin(SLANT) * cos(SLANT), (0.0013, 5e-5, 0.0036)),
    "curved": Known(curved, ARC_ROOT * cos(ARC / 2), -ARC_ROOT * sin(ARC / 2), (6e-4, 0.006, 0.005), None),
}


def measure_known(kind: str) -> Measured:
    """K_I, K_II and G of a crack with a closed form."""
    known = KNOWN[kind]
    scale = np.array([1e6, 1e6, 1.0])
    found = np.array([astuple(known.build(n).found()) for n in COUNTS]) / scale
    G = (known.K_I**2 + known.K_II**2) * (1 - NU**2) / E
    expected = zip(("K_I", "K_II", "energy release rate"), np.array([known.K_I, known.K_II, G]) / scale, strict=True)
    units, rates = (K_UNIT, K_UNIT, G_UNIT), (known.rate, 0.9, 0.9)
    return Measured(
        tuple(
            Quantity(name, units[k], reference, found[:, k], known.tolerances[k], MARGIN, SIZES, None, rates[k])
            for k, (name, reference) in enumerate(expected)
            if reference
        )
    )


def released(n: int, rate: Callable[[Intensity], float]) -> tuple[float, float]:
    """Energy [J] released while the conical crack grows by two STEP: by Simpson's rule on G, and by 1/2 f.u."""
    cones = [conical(n, steps) for steps in (7, 8, 9)]
    along = [2 * pi * cone.tip.at[0] * rate(cone.found()) for cone in cones]
    first, _, last = (0.5 * float(cone.load @ cone.u) for cone in cones)
    return 2 * STEP / 6 * (along[0] + 4 * along[1] + along[2]), last - first


def measure_conical() -> Measured:
    """G of the domain and of K_I, K_II, over a growth, against the elastic energy."""
    by_domain = [released(n, lambda i: i.G) for n in COUNTS]
    by_factors = [released(n, lambda i: (i.K_I**2 + i.K_II**2) * (1 - NU**2) / E)[0] for n in COUNTS]
    coarse, middle, fine = (energy * 1e3 for _, energy in by_domain)
    limit = settled((coarse, middle, fine))
    same = "what a radius of 4 elements and Simpson's rule leave (1e-5 at 5 elements), with a margin of two"
    return Measured(
        (
            Quantity("by the domain", "mJ", limit, [g * 1e3 for g, _ in by_domain], 0.015, MARGIN, SIZES, None, 0.9),
            Quantity("by K_I and K_II", "mJ", limit, [g * 1e3 for g in by_factors], 0.006, MARGIN, SIZES, None, 0.9),
            Quantity(
                "by the domain over that of the same mesh", "1", 1.0, [g / e for g, e in by_domain], 1e-4, same, SIZES
            ),
        )
    )


HANDBOOK = "Tada, Paris & Irwin, The Stress Analysis of Cracks Handbook, from memory"
ABOUT: dict[str, tuple[How, str, str]] = {
    "penny": (
        "closed form",
        "Penny-shaped crack under tension",
        "Sneddon 1946, The distribution of stress in the neighbourhood of a crack in an elastic solid, from memory",
    ),
    "external": ("closed form", "External circular crack: two half-spaces joined on a disc", HANDBOOK),
    "edge": ("from memory", "Edge crack in a half-plane under tension, plane strain", HANDBOOK),
    "slanted": (
        "closed form",
        "Slanted crack under tension, plane strain: both modes",
        "Westergaard 1939, Bearing pressures and cracks, from memory; a test shows that it satisfies the equations",
    ),
    "curved": (
        "closed form",
        "Crack along an arc under all-round tension, plane strain: both modes, curved faces",
        "Cotterell & Rice 1980, Slightly curved or kinked cracks, from memory",
    ),
    "conical": (
        "own extrapolation",
        "Conical crack from a bore: energy released by growth, both modes in revolution",
        "`validation/checks/fracture/cracks.py`: elastic energy of the same bodies on three meshes, "
        "extrapolated (Aitken)",
    ),
}
CHECKS = tuple(
    Check(
        name=f"{kind}_crack",
        group="fracture",
        title=title,
        source=source,
        how=how,
        part="fem.cracks.stress_intensity, fem.solid.axisymmetric, fem.solid.solver",
        measure=measure_conical if kind == "conical" else partial(measure_known, kind),
        slow=True,
    )
    for kind, (how, title, source) in ABOUT.items()
)
