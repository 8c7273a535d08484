"""A symmetric sparse matrix held by its upper triangle: half the memory, and what sparse Cholesky asks for."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Symmetric:
    """A (n, n) by its upper triangle; `A @ x` for x (n,) or (n, k)."""

    def __init__(self, upper: sp.csr_matrix) -> None:
        self.upper = upper
        self.diagonal = upper.diagonal()

    def __matmul__(self, x: Array) -> Array:
        return np.asarray(self.upper @ x + self.upper.T @ x - (self.diagonal * x.T).T)

    @classmethod
    def of(cls, A: sp.csr_matrix | Symmetric) -> Symmetric:
        """A matrix of both triangles, or one that is held so already."""
        return A if isinstance(A, Symmetric) else cls(sp.triu(A, format="csr"))

    @property
    def shape(self) -> tuple[int, int]:
        """(n, n)."""
        return self.upper.shape

    def whole(self) -> sp.csr_matrix:
        """Both triangles."""
        return (self.upper + sp.triu(self.upper, 1, format="csr").T).tocsr()
