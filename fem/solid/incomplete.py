"""Incomplete Cholesky factor of a symmetric positive definite matrix on its own pattern, in single precision.

    L L^T ~ A + shift diag A,      L_ij = 0 wherever A_ij = 0                             (Meijerink and van der Vorst)

Rows are taken in a given order. Those of a node in a line are a group: the pattern is that of the groups, and a group
has its columns once, its values column by column, and last the triangle on the diagonal. Where a pivot falls below
SMALLEST of A's the next of SHIFTS is tried (Manteuffel 1980); the last one keeps that least pivot.

`hold` takes unknowns at the end of the order out (zero in, zero out) and makes only the last rows anew.

A is given by its upper triangle. Sources from memory.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from ..compiled import compiled, within

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Indices = NDArray[np.int64]
SHIFTS = (0.0, 0.003, 0.01, 0.03, 0.1, 0.3)
SMALLEST = 1e-3


class Groups(NamedTuple):
    """row : (g + 1,) first rows.  column, value : (g + 1,) where a group's begin.  of : (n,) group of each row."""

    row: NDArray[np.int32]
    column: NDArray[np.int64]
    value: NDArray[np.int64]
    of: NDArray[np.int32]


class IncompleteCholesky:
    """L of A (n, n) in `order` (n,), with `node` (n,) of each unknown; the `last` of the order may be held."""

    def __init__(self, upper: sp.csr_matrix, order: Indices, node: Indices, last: int = 0) -> None:
        n = upper.shape[0]
        self._A, self._order, self._try = upper, order, 0
        self._place = np.empty(n, np.int32)
        self._place[order] = np.arange(n, dtype=np.int32)
        self._groups, self._columns = self._pattern(node[order], n - last)
        self._L = np.empty(self._groups.value[-1], np.float32)
        self._tail = int(self._groups.of[n - last]) if last else self._groups.row.size - 1
        start, self._from = self._groups.column[self._tail :], int(self._groups.value[self._tail])
        self._fill()
        rows, counts = np.arange(n - last, n), np.diff(start)
        self._ends = np.cumsum(counts + 1) - 1
        tail_columns = np.insert(self._columns[start[0] :], np.cumsum(counts), rows)
        self._tail_pairs = order[np.stack([np.repeat(rows, counts + 1), tail_columns])]
        self._factorise(0)

    def hold(self, held: Mask) -> None:
        """Take the unknowns `held` (n,), all among the last of the order, out of L, and all others in."""
        self._factorise(self._tail, held)

    def solve(self, r: Array) -> Array:
        """L^-T L^-1 r (n,), zero at the held unknowns if r is."""
        y = r[self._order].astype(np.float32)
        _forward(*self._groups, self._columns, self._L, y)
        _backward(*self._groups, self._columns, self._L, y)
        z = np.empty(r.size)
        z[self._order] = y
        return z

    def _pattern(self, node: Indices, free: int) -> tuple[Groups, NDArray[np.int32]]:
        """Groups and their columns; `node` (n,) in the order, rows from `free` on are alone."""
        A, n = self._A, node.size
        first = np.append(True, np.diff(node) != 0) | (np.arange(n) >= free)
        row, of = np.append(np.flatnonzero(first), n).astype(np.int32), (np.cumsum(first) - 1).astype(np.int32)
        width, g = np.diff(row), row.size - 1
        start, index = _meet(row, of, A.indptr, A.indices, self._order, self._place)
        graph = sp.csr_array((np.ones(index.size, np.int8), index, start), shape=(g, g))
        graph = sp.tril(graph + graph.T, -1, format="csr")
        graph.sort_indices()
        columns = _spread(row, graph.indptr, graph.indices)
        rows = np.repeat(np.arange(g), np.diff(graph.indptr))
        column = np.append(0, np.cumsum(np.bincount(rows, width[graph.indices], g))).astype(np.int64)
        value = np.append(0, np.cumsum(width * (np.diff(column) + width)))
        return Groups(row, column, value, of), columns

    def _fill(self) -> None:
        A = self._A
        _lower(*self._groups, A.indptr, A.indices, A.data, self._order, self._place, self._columns, self._L)
        self._given = self._L[self._from :].copy()

    def _factorise(self, first: int, held: Mask | None = None) -> None:
        while True:
            tail = self._given.copy()
            if held is not None:
                tail[held[self._tail_pairs].any(axis=0)] = 0.0
                tail[self._ends[held[self._tail_pairs[0, self._ends]]]] = 1.0
            self._L[self._from :] = tail
            shift = SHIFTS[self._try]
            weak = _incomplete(*self._groups, self._columns, self._L, first, shift, SMALLEST)
            if weak == 0 or self._try == len(SHIFTS) - 1:
                return
            self._try, first = self._try + 1, 0
            self._fill()


@compiled
def _meet(row, of, start, index, order, place):  # type: ignore[no-untyped-def]
    """Which groups meet in A, of each group in turn, unsorted."""
    seen = np.full(row.size - 1, -1, np.int32)
    begins = np.zeros(row.size, np.int32)
    found = np.empty(0, np.int32)
    for fills in range(2):
        count = 0
        seen[:] = -1
        for g in range(row.size - 1):
            for i in range(row[g], row[g + 1]):
                for k in range(start[order[i]], start[order[i] + 1]):
                    h = of[place[index[k]]]
                    if seen[h] != g:
                        seen[h] = g
                        if fills:
                            found[count] = h
                        count += 1
            begins[g + 1] = count
        if not fills:
            found = np.empty(count, np.int32)
    return begins, found


@compiled
def _spread(row, start, index):  # type: ignore[no-untyped-def]
    """Columns of each group from the groups that it meets."""
    count = 0
    for k in range(start[row.size - 1]):
        count += row[index[k] + 1] - row[index[k]]
    columns = np.empty(count, np.int32)
    count = 0
    for k in range(start[row.size - 1]):
        for j in range(row[index[k]], row[index[k] + 1]):
            columns[count] = j
            count += 1
    return columns


@compiled
def _lower(row, column, value, of, start, index, data, order, place, columns, L):  # type: ignore[no-untyped-def]
    """A's lower triangle in the order into L, from the upper one (or both) in its own order."""
    L[:] = 0.0
    for r in range(order.size):
        for k in range(start[r], start[r + 1]):
            i, j = max(place[r], place[index[k]]), min(place[r], place[index[k]])
            g = of[i]
            first, w = row[g], row[g + 1] - row[g]
            if j >= first:
                L[value[g + 1] - w * w + (i - first) * w + j - first] = data[k]
                continue
            low, high = column[g], column[g + 1] - 1
            while low < high:
                middle = (low + high) // 2
                if columns[middle] < j:
                    low = middle + 1
                else:
                    high = middle
            L[value[g] + (low - column[g]) * w + i - first] = data[k]


@compiled
def _incomplete(row, column, value, of, columns, L, begin, shift, smallest):  # type: ignore[no-untyped-def]
    """L in place from group `begin` on; how many pivots were too small."""
    at = np.full(of.size, -1, np.int64)
    block = np.zeros((3, 3))
    weak = 0
    for g in range(begin, row.size - 1):
        w, begins, ends, own = row[g + 1] - row[g], column[g], column[g + 1], value[g]
        for k in range(begins, ends):
            at[columns[k]] = own + (k - begins) * w
        k = begins
        while k < ends:
            h = of[columns[k]]
            v, other = row[h + 1] - row[h], value[h]
            _products(columns, L, at, column[h], column[h + 1], other, w, v, block)
            _divide(L, own + (k - begins) * w, other + (column[h + 1] - column[h]) * v, w, v, block)
            k += v
        weak += _pivots(L, own, ends - begins, w, shift, smallest)
        for k in range(begins, ends):
            at[columns[k]] = -1
    return weak


@within
def _products(columns, L, at, begins, ends, other, w, v, block):  # type: ignore[no-untyped-def]
    """block <- the sum of L_gm L_hm^T over the columns m of both groups."""
    if w == 3 and v == 3:
        a00 = a01 = a02 = a10 = a11 = a12 = a20 = a21 = a22 = 0.0
        for q in range(begins, ends):
            p = at[columns[q]]
            if p >= 0:
                x0, x1, x2 = L[p], L[p + 1], L[p + 2]
                y0, y1, y2 = L[other], L[other + 1], L[other + 2]
                a00 += x0 * y0
                a01 += x0 * y1
                a02 += x0 * y2
                a10 += x1 * y0
                a11 += x1 * y1
                a12 += x1 * y2
                a20 += x2 * y0
                a21 += x2 * y1
                a22 += x2 * y2
            other += 3
        block[0, 0], block[0, 1], block[0, 2] = a00, a01, a02
        block[1, 0], block[1, 1], block[1, 2] = a10, a11, a12
        block[2, 0], block[2, 1], block[2, 2] = a20, a21, a22
        return
    block[:] = 0.0
    for q in range(begins, ends):
        p = at[columns[q]]
        if p >= 0:
            for a in range(w):
                for b in range(v):
                    block[a, b] += L[p + a] * L[other + b]
        other += v


@within
def _divide(L, here, triangle, w, v, block):  # type: ignore[no-untyped-def]
    """L_gh <- (A_gh - block) L_hh^-T."""
    for a in range(w):
        for b in range(v):
            entry = L[here + b * w + a] - block[a, b]
            for e in range(b):
                entry -= L[here + e * w + a] * L[triangle + b * v + e]
            L[here + b * w + a] = entry / L[triangle + b * v + b]


@within
def _pivots(L, own, count, w, shift, smallest):  # type: ignore[no-untyped-def]
    """The triangle on the diagonal of a group with `count` columns; how many pivots were too small."""
    triangle, weak = own + count * w, 0
    for a in range(w):
        given = L[triangle + a * w + a] * (1.0 + shift)
        for b in range(a + 1):
            entry = given if a == b else float(L[triangle + a * w + b])
            for k in range(count):
                entry -= L[own + k * w + a] * L[own + k * w + b]
            for e in range(b):
                entry -= L[triangle + a * w + e] * L[triangle + b * w + e]
            if b < a:
                L[triangle + a * w + b] = entry / L[triangle + b * w + b]
            else:
                if not entry >= smallest * given:
                    weak += 1
                    entry = smallest * given
                L[triangle + a * w + a] = np.sqrt(entry)
    return weak


@compiled
def _forward(row, column, value, of, columns, L, y):  # type: ignore[no-untyped-def]
    """y <- L^-1 y."""
    for g in range(row.size - 1):
        first, w, k = row[g], row[g + 1] - row[g], value[g]
        if w == 3:
            s0, s1, s2 = y[first], y[first + 1], y[first + 2]
            for q in range(column[g], column[g + 1]):
                x = y[columns[q]]
                s0 -= L[k] * x
                s1 -= L[k + 1] * x
                s2 -= L[k + 2] * x
                k += 3
            y[first], y[first + 1], y[first + 2] = s0, s1, s2
        else:
            for q in range(column[g], column[g + 1]):
                x = y[columns[q]]
                for a in range(w):
                    y[first + a] -= L[k + a] * x
                k += w
        for a in range(w):
            for b in range(a):
                y[first + a] -= L[k + a * w + b] * y[first + b]
            y[first + a] /= L[k + a * w + a]


@compiled
def _backward(row, column, value, of, columns, L, y):  # type: ignore[no-untyped-def]
    """y <- L^-T y."""
    for g in range(row.size - 2, -1, -1):
        first, w, k = row[g], row[g + 1] - row[g], value[g]
        triangle = value[g + 1] - w * w
        for a in range(w - 1, -1, -1):
            for b in range(a + 1, w):
                y[first + a] -= L[triangle + b * w + a] * y[first + b]
            y[first + a] /= L[triangle + a * w + a]
        if w == 3:
            s0, s1, s2 = y[first], y[first + 1], y[first + 2]
            for q in range(column[g], column[g + 1]):
                y[columns[q]] -= L[k] * s0 + L[k + 1] * s1 + L[k + 2] * s2
                k += 3
        else:
            for q in range(column[g], column[g + 1]):
                for a in range(w):
                    y[columns[q]] -= L[k + a] * y[first + a]
                k += w
