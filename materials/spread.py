"""Spread of a strength: distribution, size effect of the weakest link, correlated draws, fit to tests.

    Weibull      F(x) = 1 - exp(-(x / x0)^m)        mean = x0 G(1 + 1/m),  cov^2 = G(1 + 2/m) / G(1 + 1/m)^2 - 1
    lognormal    ln x normal with variance ln(1 + cov^2)                              G: gamma function, cov = sd / mean
    weakest link F_V = 1 - (1 - F)^(V / V0)         so x0(V) = x0 (V0 / V)^(1/m), the same m        (Weibull 1939)
    bodies       V_e = sum V_i (s_i / s_max)^m      a body fails at s_max as a bar of volume V_e in even tension
    correlation  x_i = F_i^-1(Phi(z_i)), z normal with correlations R             (Nataf; Liu & Der Kiureghian 1986)
    fit          1/m = sum x^m ln x / sum x^m - mean ln x,  x0^m = mean x^m           (largest likelihood)

All from memory, standard. The correlations given are those of the normals z. Rank correlation is rho_s = 6/pi
arcsin(R/2) whatever the distributions. Pearson's of the strengths is nearer to zero than R: by little at a cov up to
0.25, by up to a third at a cov of 1.

Limits: two-parameter Weibull, no threshold; flaws all through the volume, none told from those at the surface; one
stress a place (the largest tension), other principal stresses do not count. A fit to ten samples gives an m that is
18 % too large on average.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import expm1, floor, gamma, inf, isfinite, lgamma, log1p, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

Array = NDArray[np.float64]
DISTRIBUTIONS = ("weibull", "lognormal")
LEAST_COV = 1e-4  # below it the Weibull modulus is lost in rounding


@dataclass(frozen=True, slots=True)
class Spread:
    """Distribution of a positive quantity. mean : its unit.  cov : sd over mean, 0 (no spread) or 0.0001 to 1."""

    distribution: str
    mean: float
    cov: float

    def __post_init__(self) -> None:
        if self.distribution not in DISTRIBUTIONS:
            raise ValueError(f"distribution = {self.distribution!r}: must be one of {', '.join(DISTRIBUTIONS)}")
        if not (isfinite(self.mean) and self.mean > 0):
            raise ValueError(f"mean = {self.mean:g}: must be positive and finite")
        if self.cov != 0 and not LEAST_COV <= self.cov <= 1:
            raise ValueError(f"cov = {self.cov:g}: must be 0 or lie between {LEAST_COV:g} and 1")

    @property
    def sd(self) -> float:
        """Standard deviation, unit of the mean."""
        return self.cov * self.mean

    @property
    def weibull_modulus(self) -> float:
        """m [-]; inf without spread. Raises ValueError if not Weibull."""
        self._check_weibull("weibull_modulus")
        return _modulus(self.cov) if self.cov else inf

    @property
    def scale(self) -> float:
        """x0 of the Weibull distribution, its 63.2 % quantile, unit of the mean. Raises ValueError if not Weibull."""
        return self.mean / gamma(1 + 1 / self.weibull_modulus)

    def quantile(self, u: ArrayLike) -> Array:
        """Value below which a share u (...) of all lies, unit of the mean. Raises ValueError unless 0 <= u <= 1."""
        share = np.asarray(u, dtype=np.float64)
        if not ((share >= 0) & (share <= 1)).all():
            raise ValueError("u: must lie between 0 and 1")
        if self.cov == 0:
            return np.full(share.shape, self.mean)
        with np.errstate(divide="ignore"):  # of a share of 1: inf
            if self.distribution == "weibull":
                return np.asarray(self.scale * (-np.log1p(-share)) ** (1 / self.weibull_modulus))
            return np.asarray(self._median * np.exp(self._sd_of_log * ndtri(share)))

    def cdf(self, x: ArrayLike) -> Array:
        """Share [-] of all that lies at or below x (...), x in the unit of the mean."""
        value = np.asarray(x, dtype=np.float64)
        if self.cov == 0:
            return np.where(value >= self.mean, 1.0, 0.0)
        value = np.maximum(value, 0.0)
        if self.distribution == "weibull":
            return np.asarray(-np.expm1(-((value / self.scale) ** self.weibull_modulus)))
        with np.errstate(divide="ignore"):  # of 0
            return np.asarray(ndtr(np.log(value / self._median) / self._sd_of_log))

    def sample(self, n: int, rng: np.random.Generator) -> Array:
        """n values (n,) drawn at random, in the unit of the mean; the same state of rng gives the same values."""
        return self.quantile(rng.random(n))

    def at_volume(self, volume: float, reference_volume: float) -> Spread:
        """Strength of a volume in even tension, this being that of the reference volume (both [m3]): weakest link.

        Raises ValueError if not Weibull, or a volume is not positive.
        """
        self._check_weibull("at_volume")
        for name, value in (("volume", volume), ("reference_volume", reference_volume)):
            if not (isfinite(value) and value > 0):
                raise ValueError(f"{name} = {value:g}: must be positive and finite")
        return replace(self, mean=self.mean * (reference_volume / volume) ** (1 / self.weibull_modulus))

    def chain(self, n: int) -> Spread:
        """Strength of the weakest of n equal volumes. Raises ValueError if not Weibull, or n < 1."""
        if n < 1:
            raise ValueError(f"n = {n}: must be at least 1")
        return self.at_volume(n, 1.0)

    def _check_weibull(self, what: str) -> None:
        if self.distribution != "weibull":
            raise ValueError(f"{what}: distribution = {self.distribution!r}: must be 'weibull'")

    @property
    def _median(self) -> float:
        """Of the lognormal distribution."""
        return self.mean / sqrt(1 + self.cov**2)

    @property
    def _sd_of_log(self) -> float:
        return sqrt(log1p(self.cov**2))


@cache
def _modulus(cov: float) -> float:
    """m of a Weibull distribution with this cov; 1/m lies between cov / 1.2825 and cov for cov up to 1.

    By halving: a library that finds roots takes longer to load than a hundred draws to be made.
    """
    low, high = 0.7 * cov, 1.01 * cov
    while low < (x := 0.5 * (low + high)) < high:
        low, high = (x, high) if expm1(lgamma(1 + 2 * x) - 2 * lgamma(1 + x)) < cov**2 else (low, x)
    return 1 / x


def effective_volume(stress: ArrayLike, volume: ArrayLike, m: float, at: float | None = None) -> float:
    """V_e [m3] of a body: volume in even tension at the largest stress that is as likely to fail; 0 without tension.

    stress : (n,) largest principal stress, tension positive, compression does not count.  volume : (n,) [m3].
    m : Weibull modulus.  at : stress to which V_e refers instead of the largest; what is above it counts as it.
    Raises ValueError for other shapes, a negative volume, or m not positive.
    """
    s, v = np.asarray(stress, dtype=np.float64), np.asarray(volume, dtype=np.float64)
    if s.ndim != 1 or s.shape != v.shape:
        raise ValueError(f"volume.shape = {v.shape}: must be that of stress, {s.shape}, and of one dimension")
    if not m > 0:
        raise ValueError(f"m = {m:g}: must be positive")
    if (v < 0).any():
        raise ValueError(f"volume = {v.min():g}: must not be negative")
    largest = s.max(initial=0.0) if at is None else at
    return 0.0 if largest == 0 else float(v @ np.clip(s / largest, 0.0, 1.0) ** m)


def correlated_draws(
    spreads: Mapping[str, Spread], correlation: Mapping[tuple[str, str], float], n: int, rng: np.random.Generator
) -> dict[str, Array]:
    """n draws (n,) of each spread by a Gaussian copula, in the units of the means; pairs not named are independent.

    correlation : of the underlying normals [-], each pair once. The same state of rng gives the same draws; fewer draws
    are the first of more; a spread set to cov = 0 is constant and leaves the draws of the others as they are.
    Raises ValueError, naming the worst pair, if the correlations cannot all hold at once.
    """
    normals = rng.standard_normal((n, len(spreads))) @ mixing(list(spreads), correlation)
    return {name: spread.quantile(ndtr(normals[:, i])) for i, (name, spread) in enumerate(spreads.items())}


def mixing(names: list[str], correlation: Mapping[tuple[str, str], float]) -> Array:
    """Root (d, d) of the correlations [-]: independent normals (n, d) times it have them.

    Raises ValueError, naming the worst pair, if they cannot all hold at once.
    """
    matrix = _correlation_matrix(names, correlation)
    values, vectors = np.linalg.eigh(matrix)
    _check_consistent(names, matrix, values, vectors)
    return (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T  # the symmetric root is unique, unlike the vectors


def _correlation_matrix(names: list[str], correlation: Mapping[tuple[str, str], float]) -> Array:
    matrix, seen = np.eye(len(names)), set()
    for (first, second), value in correlation.items():
        for name in (first, second):
            if name not in names:
                raise ValueError(f"correlation of {name!r}: must be one of {', '.join(names)}")
        pair = frozenset((first, second))
        if first == second or pair in seen:
            raise ValueError(f"correlation {first}, {second}: must be of two different names, each pair once")
        if not -1 <= value <= 1:
            raise ValueError(f"correlation {first}, {second} = {value:g}: must lie between -1 and 1")
        seen.add(pair)
        i, j = names.index(first), names.index(second)
        matrix[i, j] = matrix[j, i] = value
    return matrix


def _check_consistent(names: list[str], matrix: Array, values: Array, vectors: Array) -> None:
    """Raise ValueError, naming the pair that adds most to the most negative eigenvalue, unless all are >= 0.

    The matrix with all correlations times f has the eigenvalues 1 - f + f lambda: f <= 1 / (1 - lambda_min) will do.
    """
    if len(names) < 2 or values[0] >= -1e-9:
        return
    parts = np.triu(matrix * np.outer(vectors[:, 0], vectors[:, 0]), 1)
    i, j = np.unravel_index(int(parts.argmin()), parts.shape)
    raise ValueError(
        f"correlation {names[i]}, {names[j]} = {matrix[i, j]:g}: does not go with the others; "
        f"all of them times {floor(1000 / (1 - values[0])) / 1000:g} would"
    )


def fit_weibull(samples: ArrayLike) -> tuple[float, float]:
    """(m, x0) of the Weibull distribution most likely to have given the samples (n,); x0 in their unit.

    Raises ValueError unless there are two different samples, all positive.
    """
    from scipy.optimize import brentq

    x = np.asarray(samples, dtype=np.float64)
    if x.ndim != 1 or not ((x > 0) & np.isfinite(x)).all():
        raise ValueError("samples: must be positive numbers in one dimension")
    if x.size < 2 or x.min() == x.max():
        raise ValueError("samples: must hold two different ones at least")
    log = np.log(x / x.max())

    def slope(m: float) -> float:
        weight = np.exp(m * log)
        return float(weight @ log / weight.sum() - log.mean() - 1 / m)

    low = high = 1.0 / float(np.std(log))
    while slope(low) > 0:
        low /= 2
    while slope(high) < 0:
        high *= 2
    m = low if low == high else float(brentq(slope, low, high, rtol=1e-13))
    return m, float(x.max() * np.exp(m * log).mean() ** (1 / m))
