"""Fourth-order elasticity tensors (3, 3, 3, 3) [Pa], and transverse isotropy as five numbers and an axis.

    sigma_ij = C_ijkl eps_kl,    C_ijkl = C_jikl = C_ijlk = C_klij

In Mandel form tensors are 6 x 6 over (xx, yy, zz, yz, xz, xy), shear components times sqrt(2): products and inverses
carry over (Mandel 1965, from memory). Transverse isotropy about the unit vector n (Spencer's form, from memory):

    C = lam d_ij d_kl + muT (d_ik d_jl + d_il d_jk) + a (d_ij n_k n_l + n_i n_j d_kl)
        + (muL - muT) (d_ik n_j n_l + d_il n_j n_k + d_jk n_i n_l + d_jl n_i n_k) + b n_i n_j n_k n_l
    lam = c12,  muT = c66 = (c11 - c12) / 2,  muL = c44,  a = c13 - c12,  b = c11 + c33 - 2 c13 - 4 c44

Its isotropic averages over all orientations, Voigt's and Reuss's (Watt & Peselnick 1980, from memory; tested against
the tensors' invariants), with M = c11 + c12 + 2 c33 - 4 c13 and D = (c11 + c12) c33 - 2 c13^2:

    K_V = (2 c11 + 2 c12 + 4 c13 + c33) / 9      G_V = (M + 12 c44 + 12 c66) / 30
    K_R = D / M                                  G_R = 5/2 D c44 c66 / (3 K_V c44 c66 + D (c44 + c66))
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import copysign, hypot, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Vector = tuple[float, float, float]

_ROW, _COLUMN = np.array([0, 1, 2, 1, 0, 0]), np.array([0, 1, 2, 2, 2, 1])
_FACTOR = np.sqrt(np.outer([1, 1, 1, 2, 2, 2], [1, 1, 1, 2, 2, 2]))
_PLACE = np.array([[0, 5, 4], [5, 1, 3], [4, 3, 2]])
_D = np.eye(3)
_DD = np.einsum("ij,kl->ijkl", _D, _D)
_SHEAR = np.einsum("ik,jl->ijkl", _D, _D) + np.einsum("il,jk->ijkl", _D, _D)


def isotropic(youngs_modulus: float, poissons_ratio: float) -> Array:
    """Stiffness tensor C_ijkl = lam d_ij d_kl + mu (d_ik d_jl + d_il d_jk) [Pa], shape (3, 3, 3, 3).

    Raises ValueError unless E > 0 and -1 < nu < 0.5.
    """
    if not (youngs_modulus > 0 and -1 < poissons_ratio < 0.5):
        raise ValueError(f"E = {youngs_modulus:g} Pa, nu = {poissons_ratio:g}: must have E > 0 and -1 < nu < 0.5")
    lam, mu = lame(youngs_modulus, poissons_ratio)
    return lam * _DD + mu * _SHEAR


def lame(youngs_modulus: float, poissons_ratio: float) -> tuple[float, float]:
    """Lame's constants lam, mu [Pa]."""
    E, nu = youngs_modulus, poissons_ratio
    return E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))


def to_mandel(C: Array) -> Array:
    """Mandel form (..., 6, 6) of tensors (..., 3, 3, 3, 3) with the minor symmetries, in the same unit of stiffness."""
    return _FACTOR * C[..., _ROW[:, None], _COLUMN[:, None], _ROW, _COLUMN]


def from_mandel(matrix: Array) -> Array:
    """Tensors (..., 3, 3, 3, 3) of their Mandel form (..., 6, 6), in the same unit of stiffness."""
    return (matrix / _FACTOR)[..., _PLACE[:, :, None, None], _PLACE]


def inverse(C: Array) -> Array:
    """Compliance S [1/Pa] of a stiffness C [Pa], or the reverse. Raises numpy's LinAlgError for a singular C."""
    return from_mandel(np.asarray(np.linalg.inv(to_mandel(C)), dtype=np.float64))


def is_positive_definite(C: Array) -> bool:
    """Whether every strain costs energy: smallest eigenvalue of C [Pa] above round-off (1e-14) of the greatest."""
    matrix = to_mandel(C)
    if not np.isfinite(matrix).all():
        return False
    values = np.linalg.eigvalsh((matrix + matrix.T) / 2)
    return bool(values[0] > 1e-14 * abs(values[-1]))


def rotate(C: Array, R: Array) -> Array:
    """C'_ijkl = R_ip R_jq R_kr R_ls C_pqrs [Pa]: the stiffness of the body turned by R (3, 3)."""
    RR = np.kron(R, R)
    return (RR @ C.reshape(*C.shape[:-4], 9, 9) @ RR.T).reshape(C.shape)


def frame_with(axis: ArrayLike) -> Array:
    """R (3, 3) whose columns are right-handed unit vectors, the third along `axis`; the identity for (0, 0, 1).

    Raises ValueError unless the axis is a finite, non-zero vector. Source: Duff et al., Building an orthonormal basis,
    revisited, J. Comput. Graph. Tech. 6(1), 2017 (from memory).
    """
    x, y, z = unit(axis)
    sign = copysign(1.0, z)
    a = -1.0 / (sign + z)
    b = x * y * a
    return np.array([[1 + sign * x * x * a, b, x], [sign * b, sign + y * y * a, y], [-sign * x, -y, z]]) + 0.0


def unit(axis: ArrayLike) -> Vector:
    """The axis at length one. Raises ValueError unless it is three finite numbers that are not all zero."""
    given = np.asarray(axis, dtype=np.float64)
    if given.shape != (3,) or not np.isfinite(given).all() or not given.any():
        raise ValueError(f"axis = {axis!r}: must be three finite numbers, not all zero")
    x, y, z = (float(v) for v in given)
    length = hypot(x, y, z)
    if abs(length - 1) > 1e-15:  # a unit vector stays as it is, to the last bit
        most = max(abs(x), abs(y), abs(z))  # first by this: no overflow, no underflow
        x, y, z = x / most, y / most, z / most
        length = hypot(x, y, z)
        x, y, z = x / length, y / length, z / length
    return x, y, z


def directional_youngs_modulus(C: Array, n: ArrayLike) -> Array:
    """1 / (n n : S : n n) [Pa], the modulus of a bar cut along n (..., 3), any length but zero."""
    given = np.asarray(n, dtype=np.float64)
    along = given / np.linalg.norm(given, axis=-1, keepdims=True)
    nn = along[..., :, None] * along[..., None, :]
    return np.asarray(1 / np.einsum("...ij,ijkl,...kl->...", nn, inverse(C), nn))


@dataclass(frozen=True, slots=True)
class Transverse:
    """Transversely isotropic stiffness [Pa], the same all round `axis` (a unit vector; direction 3 of the constants).

    Raises ValueError unless positive definite and the axis a finite, non-zero vector, which is brought to length one.
    """

    c11: float
    c12: float
    c13: float
    c33: float
    c44: float
    axis: Vector = (0.0, 0.0, 1.0)

    def __post_init__(self) -> None:
        for name in ("c11", "c12", "c13", "c33", "c44"):
            object.__setattr__(self, name, float(getattr(self, name)))
        object.__setattr__(self, "axis", unit(self.axis))
        c = self.constants
        positive = self.c44 > 0 and self.c11 > abs(self.c12) and (self.c11 + self.c12) * self.c33 > 2 * self.c13**2
        if not (all(map(isfinite, c)) and positive):
            raise ValueError(
                f"c11, c12, c13, c33, c44 = {', '.join(f'{v:g}' for v in c)} Pa: must have c44 > 0, c11 > |c12| and "
                "(c11 + c12) c33 > 2 c13^2"
            )

    @classmethod
    def isotropic(cls, youngs_modulus: float, poissons_ratio: float) -> Transverse:
        """Of an isotropic material. Raises ValueError unless E > 0 and -1 < nu < 0.5."""
        C = isotropic(youngs_modulus, poissons_ratio)
        return cls(C[0, 0, 0, 0], C[0, 0, 1, 1], C[0, 0, 1, 1], C[0, 0, 0, 0], C[0, 1, 0, 1])

    @classmethod
    def from_tensor(cls, C: Array, axis: ArrayLike) -> Transverse:
        """Of a tensor that is transversely isotropic about `axis`: its average over all turns about it.

        Raises ValueError if C differs from that average by more than 1e-9 of its norm.
        """
        c = to_mandel(rotate(C, frame_with(axis).T))
        c11 = 3 / 8 * (c[0, 0] + c[1, 1]) + (c[0, 1] + c[1, 0]) / 8 + c[5, 5] / 4
        c66 = (c[0, 0] + c[1, 1] - c[0, 1] - c[1, 0]) / 8 + c[5, 5] / 4
        c13 = (c[0, 2] + c[1, 2] + c[2, 0] + c[2, 1]) / 4
        found = cls(c11, c11 - 2 * c66, c13, c[2, 2], (c[3, 3] + c[4, 4]) / 4, unit(axis))
        off = np.linalg.norm(found.tensor() - C) / np.linalg.norm(C)
        if not off <= 1e-9:
            raise ValueError(
                f"axis = {found.axis}: the stiffness must be the same all round it, but differs by {off:.2g}"
            )
        return found

    @property
    def constants(self) -> tuple[float, float, float, float, float]:
        """c11, c12, c13, c33, c44 [Pa]."""
        return self.c11, self.c12, self.c13, self.c33, self.c44

    @property
    def c66(self) -> float:
        """Shear modulus in the plane square to the axis [Pa]."""
        return (self.c11 - self.c12) / 2

    def tensor(self) -> Array:
        """Stiffness (3, 3, 3, 3) [Pa] in the global frame."""
        return self.along(self.axis)

    def along(self, axes: ArrayLike) -> Array:
        """Stiffnesses (..., 3, 3, 3, 3) [Pa] with the axis along unit vectors (..., 3) in turn (module docstring)."""
        n = np.asarray(axes, dtype=np.float64)
        nn = n[..., :, None] * n[..., None, :]
        mixed = np.einsum("ij,...kl->...ijkl", _D, nn) + np.einsum("...ij,kl->...ijkl", nn, _D)
        half = np.einsum("ik,...jl->...ijkl", _D, nn) + np.einsum("jk,...il->...ijkl", _D, nn)
        shear = half + np.swapaxes(half, -1, -2)
        b = self.c11 + self.c33 - 2 * self.c13 - 4 * self.c44
        return np.asarray(
            self.c12 * _DD
            + self.c66 * _SHEAR
            + (self.c13 - self.c12) * mixed
            + (self.c44 - self.c66) * shear
            + b * np.einsum("...ij,...kl->...ijkl", nn, nn)
        )

    def pointing(self, axis: ArrayLike) -> Transverse:
        """The same stiffness with its axis along another vector, of any length but zero."""
        return replace(self, axis=unit(axis))

    @property
    def is_isotropic(self) -> bool:
        """Whether the axis does not matter: constants equal within 1e-12 of c11."""
        most = max(abs(self.c33 - self.c11), abs(self.c13 - self.c12), abs(self.c44 - self.c66))
        return most <= 1e-12 * self.c11

    def isotropic_bounds(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """(K_R, K_V), (G_R, G_V) [Pa]: Reuss's and Voigt's averages over all orientations (module docstring)."""
        c11, c12, c13, c33, c44 = self.constants
        c66 = self.c66
        D, M = (c11 + c12) * c33 - 2 * c13**2, c11 + c12 + 2 * c33 - 4 * c13
        K_V, G_V = (2 * (c11 + c12) + 4 * c13 + c33) / 9, (M + 12 * c44 + 12 * c66) / 30
        return (D / M, K_V), (2.5 * D * c44 * c66 / (3 * K_V * c44 * c66 + D * (c44 + c66)), G_V)

    def isotropic_moduli(self) -> tuple[float, float]:
        """K, G [Pa] of the isotropic average, midway between Voigt's and Reuss's (Hill 1952, from memory)."""
        (K_R, K_V), (G_R, G_V) = self.isotropic_bounds()
        return (K_R + K_V) / 2, (G_R + G_V) / 2

    @property
    def youngs_modulus(self) -> float:
        """E [Pa] of the isotropic average."""
        K, G = self.isotropic_moduli()
        return 9 * K * G / (3 * K + G)

    @property
    def poissons_ratio(self) -> float:
        """nu [-] of the isotropic average."""
        K, G = self.isotropic_moduli()
        return (3 * K - 2 * G) / (2 * (3 * K + G))
