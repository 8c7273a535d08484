"""Jumps across slit faces: as unknowns of a model, and what letting some of them go releases.

Node pairs (moved, beside) lie at the same place on the two faces of a slit: u_moved = u_beside + Q d, with the jump d
in a frame Q of each pair. With the rest of the model condensed away (`solid.condensation`) the energy of jumps and
gaps v is

    Pi(v) = Pi_0 + 1/2 v^T S v - c^T v                                                                   [J]

A crack lets some of v go: `bound` ones may not be negative (gaps, openings), `free` ones may take any value (sliding
without friction), all others stay 0. The least Pi is Pi_0 - 1/2 c^T v: the crack releases 1/2 c^T v [J], and c - S v
[N] are the forces that hold those that stay 0.
"""

from __future__ import annotations

import numpy as np
import scipy.linalg as la
import scipy.sparse as sp
from numpy.typing import NDArray

from ..solid.contact import solve_gaps

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]


def jump_matrix(nodes: int, moved: Index, beside: Index, frames: Array) -> sp.csr_matrix:
    """M (3 nodes, 3 nodes) of u = M u' [m].

    u' is u, but at the nodes `moved` (k,) the jump d in the frames (k, 3, 3).
    """
    diagonal = np.ones(3 * nodes)
    diagonal[3 * moved[:, None] + np.arange(3)] = 0.0
    rows, columns, values = [], [], []
    for i in range(3):
        rows.append(3 * moved + i)
        columns.append(3 * beside + i)
        values.append(np.ones(moved.size))
        for c in range(3):
            rows.append(3 * moved + i)
            columns.append(3 * moved + c)
            values.append(frames[:, i, c])
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return (sp.diags_array(diagonal) + sp.coo_matrix(entries, shape=(3 * nodes, 3 * nodes))).tocsr()


def release(S: Array, c: Array, bound: Index, free: Index, closed: Mask | None = None) -> tuple[Array, Mask]:
    """Jumps v (k,) that make Pi least (module docstring), and which of `bound` are shut.

    S : (k, k) [N/m], c : (k,) [N].  closed : first guess of those that are shut, by default all.
    """
    v = np.zeros(c.size)
    L = la.cholesky(S[np.ix_(free, free)], lower=True)
    X = la.solve_triangular(L, S[np.ix_(free, bound)], lower=True)
    y = la.solve_triangular(L, c[free], lower=True)
    v[bound], closed, _ = solve_gaps(S[np.ix_(bound, bound)] - X.T @ X, c[bound] - X.T @ y, closed)
    v[free] = la.solve_triangular(L.T, y - X @ v[bound])
    return v, closed


def swap_for_gaps(S: Array, c: Array, jumps: Index, gaps: Index) -> tuple[Array, Array]:
    """S [N/m] and c [N] in which gaps replace jumps: the gap of a far face to a third body is jump + gap."""
    S, c = S.copy(), c.copy()
    S[:, gaps] -= S[:, jumps]
    S[gaps] -= S[jumps]
    c[gaps] -= c[jumps]
    return S, c
