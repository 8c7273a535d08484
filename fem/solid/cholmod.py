"""Sparse Cholesky and an order of elimination for machines without MKL: every ARM, every Apple.

    P A P' = L L'            CHOLMOD's supernodal factorisation, through kvxopt
    B' A^-1 B = Y' Y         with Y = L^-1 P B, sparse like the part of the factor that B reaches
    P                        nested dissection of A's graph (METIS, through pymetis): less than half of the fill of
                             minimum degree in three dimensions, in this factorisation and in SuperLU's

Sources: Y. Chen, T. A. Davis, W. W. Hager, S. Rajamanickam, Algorithm 887: CHOLMOD, ACM TOMS 35(3), 2008; G. Karypis,
V. Kumar, A fast and high quality multilevel scheme for partitioning irregular graphs, SIAM J. Sci. Comput. 20(1), 1998.

Limits: kvxopt solves one right-hand side at a time. Neither package is needed: without pymetis the library's own order
serves, without kvxopt SuperLU.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Array = NDArray[np.float64]
SUPERNODAL = 2  # of CHOLMOD's option: always
P_OF, L_OF = 7, 4  # CHOLMOD's numbers of the systems P b and L x = b


@cache
def has_cholmod() -> bool:
    """Whether CHOLMOD can be had."""
    return find_spec("kvxopt") is not None


@cache
def has_metis() -> bool:
    """Whether METIS can be had."""
    return find_spec("pymetis") is not None


def nested_dissection(A: sp.csc_matrix | sp.csr_matrix) -> NDArray[np.int64] | None:
    """METIS's order of elimination (n,) of a symmetric A, or its upper triangle; None where it is not installed.

    Entries that happen to be zero count: bodies of one pattern have one order.
    """
    if not has_metis():
        return None
    import pymetis

    entries = A.tocoo()
    off = entries.row != entries.col
    ends = np.concatenate([entries.row[off], entries.col[off]]), np.concatenate([entries.col[off], entries.row[off]])
    graph = sp.csr_matrix((np.ones(ends[0].size), ends), shape=A.shape)
    adjacency = pymetis.CSRAdjacency(graph.indptr, graph.indices)
    order, _ = pymetis.nested_dissection(adjacency)
    return np.array(order).astype(np.int64)


class Cholmod:
    """The factor of A (n, n), symmetric, by its upper triangle. Raises ArithmeticError unless positive definite."""

    def __init__(self, upper: sp.csr_matrix) -> None:
        from kvxopt import cholmod
        from kvxopt.base import matrix

        self._library = cholmod
        cholmod.options["supernodal"] = SUPERNODAL
        order = nested_dissection(upper)
        lower = _to_kvxopt(upper.T.tocoo())
        self._factor = cholmod.symbolic(lower) if order is None else cholmod.symbolic(lower, matrix(order))
        cholmod.numeric(lower, self._factor)

    def renew(self, upper: sp.csr_matrix) -> None:
        """Factorise another matrix of the same pattern."""
        self._library.numeric(_to_kvxopt(upper.T.tocoo()), self._factor)

    def solve(self, b: Array) -> Array:
        """A^-1 b for b of shape (n,) or (n, k)."""
        from kvxopt.base import matrix

        x = matrix(np.asfortranarray(b, dtype=float))
        self._library.solve(self._factor, x)
        return np.array(x).reshape(b.shape)

    def gram(self, B: sp.csc_matrix) -> Array:
        """B' A^-1 B (k, k) of a sparse B (n, k)."""
        permuted = self._library.spsolve(self._factor, _to_kvxopt(B.tocoo()), sys=P_OF)
        columns, rows, values = self._library.spsolve(self._factor, permuted, sys=L_OF).CCS
        reached, at = np.unique(np.array(rows).ravel(), return_inverse=True)  # a tenth of all: dense, for BLAS
        parts = (np.array(values).ravel(), at, np.array(columns).ravel())
        Y = sp.csc_matrix(parts, shape=(reached.size, B.shape[1])).toarray()
        return np.asarray(Y.T @ Y)


def _to_kvxopt(A: sp.coo_matrix) -> Any:
    from kvxopt.base import matrix, spmatrix

    rows, columns = (matrix(each.astype(np.int64)) for each in (A.row, A.col))
    return spmatrix(matrix(np.asarray(A.data, dtype=float)), rows, columns, A.shape)
