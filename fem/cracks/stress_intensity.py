"""Energy release rate G and stress intensity factors K_I, K_II at a crack tip, by domain integrals.

Frame of the tip: d = (cos beta, sin beta) is the direction in which the crack would run on, beta from +r toward +z; x
along d, y at 90 deg from it in the same sense; rho, phi polar about the tip, faces at phi = +-pi. At phi = 0 K_I = lim
sqrt(2 pi rho) sigma_yy, K_II = lim sqrt(2 pi rho) sigma_xy: K_I > 0 opens the crack, K_II > 0 slides the face of y > 0
along +d. The tip moves virtually by q d. With u_d = (grad u) d, e = u_r/r and w = (sigma : grad u + sigma_tt e)/2,

    G r_0 = - dPi/dl = int [sigma_ij u_d,i q,j - w d.grad q] r + q d_r (sigma_tt e - w) dA + int_faces q w d.n r ds
    I r_0 = int [(sigma_ij v_d,i + S_ij u_d,i) q,j - W d.grad q] r
                + q [sigma_tt v_d,r + S_ir u_d,i - S_tt (u_d,r - e d_r) - d_r W] dA
                - int_faces q (S_ij n_j u_d,i - W d.n) r ds,                 K = E I / (2 (1 - nu^2))

r_0 : radius of the tip; Pi per radian; i, j in {r, z}; v : Williams's plane-strain field of K_I = 1 or K_II = 1, its
stress S, S_tt = nu (S_rr + S_zz), no hoop strain; W = sigma_ij v_i,j. In plane strain r = r_0 = 1, e = 0, and the
second line of I falls away. Refined, G = (K_I^2 + K_II^2) (1 - nu^2)/E on any ring. Limits: see `intensity`. Sources,
from memory: Destuynder & Djaoua 1981 (theta); deLorenzi 1982; Shih, Moran & Nakamura 1986 (domain form); Yau, Wang &
Corten 1980 (interaction); Williams 1957; Erdogan & Sih 1963 (kink). The terms of revolution: derived here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, cos, pi, sin, sqrt

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from skfem import Basis, ElementQuad1, ElementTriP1, FacetBasis, MeshQuad, MeshTri

from ...materials.tensor import lame
from ..solid.axisymmetric import Body

Array = NDArray[np.float64]
Sides = NDArray[np.int64]
INNER = 0.5  # of the radius: q is 1 within
NEAR = 1e-6  # of the radius
SKEW = 0.2  # of the last facet against the direction, at most
INTORDER = 9  # the auxiliary fields are no polynomials


@dataclass(frozen=True, slots=True)
class Tip:
    """at : (r, z) of the crack tip [m].  direction : beta [rad], of the crack running on, from +r toward +z."""

    at: tuple[float, float]
    direction: float


@dataclass(frozen=True, slots=True)
class Intensity:
    """K_I, K_II [Pa m^0.5] by interaction; G [J/m2] by the theta method, independent of them."""

    K_I: float
    K_II: float
    G: float


def intensity(body: Body, u: Array, tip: Tip, radius: float, plane: bool = False) -> Intensity:
    """K_I, K_II and G at a tip of `body` under the displacement u (dofs,) [m], from the elements within `radius` [m].

    plane : (r, z) are Cartesian and u is of plane strain.  The tip is a vertex of the mesh, the crack a line of doubled
    ones that comes along the tip's direction. A radius of 3 to 4 elements is enough. Boundaries inside the radius must
    be free of traction; nothing checks that. Face terms vanish on a straight crack, and carry a curved or kinked one
    and any free surface (n: outward normal). Frictionless faces may be pressed shut inside the radius on a straight
    crack: G and K_II hold (pressure does no work on a jump that is zero, and v of mode II has no normal jump); K_I
    leaves the pressure out and means nothing: take 0. Raises ValueError if the tip is no such vertex or lies on the
    axis, and if the radius holds no whole element on either side of the crack beyond those at the tip, or reaches
    beyond the other end of the crack.
    """
    frame = _Frame(tip, radius)
    if not radius > 0:
        raise ValueError(f"radius = {radius} m: must be positive")
    if not plane and tip.at[0] <= 0:
        raise ValueError(f"tip.at = {tip.at}: r must be positive")
    elements, faces, side = _disc(body.basis.mesh, frame)
    if not plane:
        faces = faces[body.basis.mesh.p[0, body.basis.mesh.facets[:, faces]].max(axis=0) > 0]  # the axis is no face
    kind = (body.basis.mesh, body.basis.elem)
    inside = Basis(*kind, elements=elements, intorder=INTORDER, dofs=body.basis.dofs)
    G, *mutual = _area_terms(_State(inside, u, body.constants, frame, side[elements], plane))
    if faces.size:
        edge = FacetBasis(*kind, facets=faces, intorder=INTORDER, dofs=body.basis.dofs)
        state = _State(edge, u, body.constants, frame, side[edge.tind], plane)
        on_faces = _face_terms(state, np.asarray(edge.normals))
        G, *mutual = (a + b for a, b in zip((G, *mutual), on_faces, strict=True))
    E, nu = body.constants
    r_0 = 1.0 if plane else tip.at[0]
    K_I, K_II = (E * each / (2 * (1 - nu**2) * r_0) for each in mutual)
    return Intensity(float(K_I), float(K_II), float(G / r_0))


def kink_angle(K_I: float, K_II: float) -> float:
    """Angle [rad] from the crack's direction to that of the largest hoop stress, positive from +r toward +z.

    tan(angle/2) = - 2 K_II / (K_I + sqrt(K_I^2 + 8 K_II^2)); +-70.5 deg in pure mode II. K_I < 0 counts as 0 (shut).
    Raises ValueError if nothing opens or slides. Source: Erdogan & Sih 1963, from memory.
    """
    opening = max(K_I, 0.0)
    if opening == 0 and K_II == 0:
        raise ValueError(f"K_I = {K_I}, K_II = {K_II}: a crack that neither opens nor slides has no kink")
    return -2 * atan(2 * K_II / (opening + sqrt(opening**2 + 8 * K_II**2)))


def hoop_intensity(K_I: float, K_II: float, kink: float) -> float:
    """sqrt(2 pi rho) times the hoop stress at `kink` [rad] ahead of the tip [Pa m^0.5]; K_IC when the crack runs.

    cos^2(kink/2) (K_I cos(kink/2) - 3 K_II sin(kink/2)), K_I < 0 counting as 0 (shut). Source: as `kink_angle`.
    """
    half = 0.5 * kink
    return cos(half) ** 2 * (max(K_I, 0.0) * cos(half) - 3 * K_II * sin(half))


class _Frame:
    """The tip's frame, and q."""

    def __init__(self, tip: Tip, radius: float) -> None:
        self.at, self.radius = np.asarray(tip.at, float), radius
        self.turn = np.array([[cos(tip.direction), -sin(tip.direction)], [sin(tip.direction), cos(tip.direction)]])
        self.d = self.turn[:, 0]

    def local(self, x: Array) -> Array:
        """Coordinates (2, ...) along d and across it."""
        return np.einsum("ik,i...->k...", self.turn, x - self.at.reshape(2, *[1] * (x.ndim - 1)))

    def extension(self, x: Array) -> Array:
        """q (...) at x (2, ...): 1 up to INNER of the radius, 0 from the radius on and 3 t^2 - 2 t^3 between."""
        rho = np.hypot(*self.local(x))
        t = np.clip((self.radius - rho) / ((1 - INNER) * self.radius), 0.0, 1.0)
        return np.asarray(t**2 * (3 - 2 * t))


class _State:
    """Fields at the quadrature points of a basis: of the answer u, and of the auxiliary modes I and II.

    q is linear or bilinear between the vertices: so G is the derivative of the discrete energy by the place of the
    vertices. The C1 shape of q itself would leave an error of 0.1 to 0.4 % that refinement does not remove.
    """

    def __init__(
        self, basis: Basis, u: Array, constants: tuple[float, float], frame: _Frame, side: Sides, plane: bool
    ) -> None:
        x = np.asarray(basis.global_coordinates())
        field = basis.interpolate(u)
        self.lam, self.mu = lame(*constants)
        self.nu, self.plane = constants[1], plane
        self.r = np.ones_like(x[0]) if plane else x[0]
        self.dx, self.d = np.asarray(basis.dx), frame.d
        scalar = basis.with_element(ElementTriP1() if isinstance(basis.mesh, MeshTri) else ElementQuad1())
        shift = scalar.interpolate(frame.extension(scalar.doflocs))
        self.q, self.slope = np.asarray(shift), np.asarray(shift.grad)
        self.grad = np.asarray(field.grad)
        self.hoop = np.zeros_like(x[0]) if plane else np.asarray(field)[0] / x[0]
        self.stress = self._hooke(self.grad, self.hoop)
        self.stress_tt = self.lam * (self.grad[0, 0] + self.grad[1, 1]) + (self.lam + 2 * self.mu) * self.hoop
        modes = williams(frame.local(x), side[:, None], self.mu, self.nu)
        self.aux = [np.einsum("ia,ab...,kb->ik...", frame.turn, mode, frame.turn) for mode in modes]
        self.aux_stress = [self._hooke(mode, np.zeros_like(self.hoop)) for mode in self.aux]

    def _hooke(self, grad: Array, hoop: Array) -> Array:
        """In-plane stress (2, 2, ...) of a displacement gradient and a hoop strain."""
        trace = self.lam * (grad[0, 0] + grad[1, 1] + hoop)
        return np.asarray(trace * np.eye(2)[:, :, None, None] + self.mu * (grad + grad.swapaxes(0, 1)))

    def energy(self) -> Array:
        """w = sigma : eps / 2 [J/m3]."""
        return np.asarray(0.5 * (_ddot(self.stress, self.grad) + self.stress_tt * self.hoop))


def _ddot(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("ij...,ij...->...", a, b))


def _area_terms(s: _State) -> list[float]:
    """Area integrals of G r_0 and of both I r_0 (module docstring).

    What revolution adds to I: v has no hoop strain and S is in equilibrium in a plane only. It comes from the
    divergence of r (sigma_ij v_i,k + S_ij u_i,k - W delta_kj) with d_j (r sigma_ij) = sigma_tt delta_ir, d_j (r S_ij) =
    S_ir, and sigma_ij,k v_i,j = S_ij u_i,jk + S_tt (u_r/r),k (Betti).
    """
    u_d, ahead = np.einsum("ik...,k->i...", s.grad, s.d), np.einsum("i...,i->...", s.slope, s.d)
    revolve = 0.0 if s.plane else 1.0
    flux = np.einsum("ij...,i...,j...->...", s.stress, u_d, s.slope)
    w = s.energy()
    out = [(flux - w * ahead) * s.r + revolve * s.q * s.d[0] * (s.stress_tt * s.hoop - w)]
    for grad, S in zip(s.aux, s.aux_stress, strict=True):
        v_d = np.einsum("ik...,k->i...", grad, s.d)
        S_tt, W = s.nu * (S[0, 0] + S[1, 1]), _ddot(s.stress, grad)
        both = np.einsum("ij...,i...,j...->...", s.stress, v_d, s.slope)
        both = both + np.einsum("ij...,i...,j...->...", S, u_d, s.slope)
        added = s.stress_tt * v_d[0] + S[0, 0] * u_d[0] + S[1, 0] * u_d[1] - S_tt * (u_d[0] - s.hoop * s.d[0])
        out.append((both - W * ahead) * s.r + revolve * s.q * (added - s.d[0] * W))
    return [float((each * s.dx).sum()) for each in out]


def _face_terms(s: _State, normal: Array) -> list[float]:
    """Face integrals of G r_0 and of both I r_0 on boundaries free of traction."""
    u_d, across = np.einsum("ik...,k->i...", s.grad, s.d), np.einsum("i...,i->...", normal, s.d)
    out = [s.energy() * across]
    for grad, S in zip(s.aux, s.aux_stress, strict=True):
        pull = np.einsum("ij...,j...,i...->...", S, normal, u_d)
        out.append(_ddot(s.stress, grad) * across - pull)
    return [float((each * s.q * s.r * s.dx).sum()) for each in out]


def williams(x: Array, side: NDArray[np.int64], mu: float, nu: float) -> tuple[Array, Array]:
    """Displacement gradients (2, 2, ...) [1/(Pa m^0.5)] of K_I = 1 and of K_II = 1 in plane strain, in the tip's frame.

    2 mu v = sqrt(rho/(2 pi)) g(phi), k = 3 - 4 nu;  g_I = ((k - 1/2) c1 - c3/2, (k + 1/2) s1 - s3/2),
    g_II = ((k + 3/2) s1 + s3/2, -(k - 3/2) c1 - c3/2), with c1 = cos(phi/2), c3 = cos(3 phi/2) and so on.
    side : 1 and -1 where a point belongs to the crack's side of y > 0 or y < 0 whatever its y, behind the tip.
    """
    rho, phi = np.hypot(*x), np.arctan2(x[1], x[0])
    phi = phi - 2 * pi * np.sign(phi) * ((side * phi < 0) & (x[0] < 0))
    c1, s1, c3, s3 = np.cos(phi / 2), np.sin(phi / 2), np.cos(1.5 * phi), np.sin(1.5 * phi)
    k = 3 - 4 * nu
    g_I = np.stack([(k - 0.5) * c1 - 0.5 * c3, (k + 0.5) * s1 - 0.5 * s3])
    g_II = np.stack([(k + 1.5) * s1 + 0.5 * s3, -(k - 1.5) * c1 - 0.5 * c3])
    twice_slope_I = np.stack([-(k - 0.5) * s1 + 1.5 * s3, (k + 0.5) * c1 - 1.5 * c3])
    twice_slope_II = np.stack([(k + 1.5) * c1 + 1.5 * c3, (k - 1.5) * s1 + 1.5 * s3])
    outward, along = np.stack([np.cos(phi), np.sin(phi)]), np.stack([-np.sin(phi), np.cos(phi)])
    scale = 1 / (4 * mu * np.sqrt(2 * pi * rho))

    def gradient(g: Array, twice_slope: Array) -> Array:
        return np.asarray(scale * (g[:, None] * outward + twice_slope[:, None] * along))

    return gradient(g_I, twice_slope_I), gradient(g_II, twice_slope_II)


def _disc(mesh: MeshQuad | MeshTri, frame: _Frame) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Elements that reach into the disc, their boundary facets with face terms, and each element's side (nelements,).

    Sides are told by the mesh, not by the place, so that a curved crack is met: behind the tip, what hangs together
    through facets without passing the tip is on one side.
    """
    corners = frame.local(mesh.p)
    at_tip = np.hypot(*corners) < NEAR * frame.radius
    if at_tip.sum() != 1:
        raise ValueError(f"tip.at = {tuple(frame.at)}: must be a vertex of the mesh, and a single one")
    first, second = mesh.f2t
    faces = np.flatnonzero((second < 0) & at_tip[mesh.facets].any(axis=0))
    x, y = corners[:, mesh.facets[:, faces]].sum(axis=1)  # the far ends
    if faces.size != 2 or np.any(np.abs(y) > -SKEW * x):
        raise ValueError(f"tip.at = {tuple(frame.at)}: a crack must end there that has come along tip.direction")
    middle = corners[:, mesh.t].mean(axis=1)
    reach = np.hypot(*(corners[:, mesh.t] - middle[:, None])).max(axis=0)
    inside = np.hypot(*middle) < frame.radius + reach
    side = np.where(middle[1] >= 0, 1, -1)
    behind = inside & (middle[0] < 0) & ~at_tip[mesh.t].any(axis=0)
    link = (second >= 0) & behind[first] & behind[second]
    n = mesh.t.shape[1]
    graph = sp.coo_matrix((np.ones(link.sum()), (first[link], second[link])), shape=(n, n))
    _, label = connected_components(graph, directed=False)
    whole = behind & (np.hypot(*corners[:, mesh.t]).max(axis=0) < frame.radius)
    for part in np.unique(label[behind]):
        members = behind & (label == part)
        side[members] = 1 if middle[1, members].mean() >= 0 else -1
    if {-1, 1} - set(side[whole].tolist()):
        raise ValueError(f"radius = {frame.radius} m: must hold whole elements on both sides of the crack, not its end")
    ends = corners[:, mesh.facets]
    straight = ((np.abs(ends[1]) < NEAR * frame.radius) & (ends[0] < NEAR * frame.radius)).all(axis=0)
    return np.flatnonzero(inside), np.flatnonzero((second < 0) & inside[first] & ~straight), side
