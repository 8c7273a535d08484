"""Stiffness of a body in unknowns of its own, u = T v: the upper triangle of A = T' K T, without K.

    A = sum over elements of T_e' K_e T_e,      K_e[(a, i), (b, j)] = sum_kl C_ikjl int d_k phi_a d_l phi_b dV   [N/m]

T_e holds the rows of T of the element's 27 nodes. Away from joined nodes (contact pairs, the faces of a slit) it picks
and needs no product. Where an entry goes is worked out once (`Pattern`) and serves every body with the same
connectivity and the same structure of T, whatever its shape, stiffness or frames: so all angles of a tube share it, and
with it what a solver learns from a pattern. It keeps blocks that happen to be zero.

Rows of A are sorted; the first entry of each is its diagonal. `slots` gives for each unknown 3 node + component, in
rising order. The map of places takes one index for each pair of nodes of an element.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import MeshHex2

from .elasticity import CHUNK, Regions, element_stiffness
from .symmetric import Symmetric

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Part:
    """Elements of one region whose T_e picks, or does not (`joined`).

    nodes : (m, p) whose unknowns they touch, rising, filled up with the number of nodes.
    """

    region: int
    elements: Index
    joined: bool
    nodes: Index


class Pattern:
    """Where the entries of A stand (module docstring), for the elements of `regions` of a mesh and T (3 nodes, n).

    indptr : (n + 1,).  indices : (entries,) of the upper triangle by rows.
    """

    def __init__(self, mesh: MeshHex2, regions: Regions, T: sp.csr_matrix, slots: Index) -> None:
        self._of = _structure(mesh, regions, T, slots)
        self._nodes = nodes = mesh.doflocs.shape[1]
        n = slots.size
        node, component = np.divmod(slots, 3)
        self._unknown = np.full((nodes + 1, 3), n)
        self._unknown[node, component] = np.arange(n)
        count = np.bincount(node, minlength=nodes + 1)
        first = np.concatenate([[0], np.cumsum(count)])
        touched = _touched(T, slots, nodes)
        picks = _picks(T, slots)
        self._parts = []
        for region, (elements, _) in enumerate(regions):
            own = mesh.dofs.element_dofs[:, elements].T.astype(np.int64)
            plain = picks[own].all(axis=1)
            for joined in (False, True):
                chosen = np.flatnonzero(plain != joined)
                if chosen.size:
                    at = _union(own[chosen], touched) if joined else np.sort(own[chosen], axis=1)
                    self._parts.append(_Part(region, elements[chosen], joined, at))
        graph = self._graph()
        width = count[graph.indices]
        ahead = np.concatenate([[0], np.cumsum(width)])
        self._places = self._find_places(graph, ahead)
        long = ahead[graph.indptr[1:]] - ahead[graph.indptr[:-1]]  # unknowns in the row of a node
        rank = np.arange(n) - first[node]
        length = np.maximum(long[node] - rank, 0)  # none where no element is
        self.indptr = np.concatenate([[0], np.cumsum(length)]).astype(np.int32)
        entries = int(self.indptr[-1])
        columns = np.repeat(first[graph.indices] - ahead[:-1], width) + np.arange(ahead[-1])  # of each node's row
        begin = ahead[graph.indptr[node]] + rank
        self.indices = columns[np.repeat(begin - self.indptr[:-1], length) + np.arange(entries)].astype(np.int32)
        self._row = np.append(self.indptr[:-1] - rank, entries)  # an unknown that is none falls behind the last entry
        self._rank = np.append(rank, entries)

    def fits(self, mesh: MeshHex2, regions: Regions, T: sp.csr_matrix, slots: Index) -> bool:
        """Whether the pattern serves these too."""
        new = _structure(mesh, regions, T, slots)
        return len(new) == len(self._of) and all(map(np.array_equal, new, self._of))

    def fill(self, mesh: MeshHex2, regions: Regions, T: sp.csr_matrix) -> sp.csr_matrix:
        """The upper triangle of A [N/m]; mesh, regions and T fit the pattern."""
        entries = self.indices.size
        data = np.zeros(entries + 1)
        for part, places in zip(self._parts, self._places, strict=True):
            p = part.nodes.shape[1]
            row, column = np.triu_indices(3 * p)
            entry = row * 3 * p + column if part.joined else _in_element(row, column)
            a, b = np.triu_indices(p)
            pair = np.empty((p, p), np.int64)
            pair[a, b] = np.arange(a.size)
            pair = pair[row // 3, column // 3]
            for at, blocks in self._blocks(part, mesh, regions[part.region][1], T):
                unknown = self._unknown[part.nodes[at]].reshape(-1, 3 * p)
                place = self._row[unknown][:, row]
                place += self._rank[unknown][:, column]
                place += places[at][:, pair]
                np.minimum(place, entries, out=place)
                np.add.at(data, place.ravel(), blocks.reshape(len(place), -1)[:, entry].ravel())
        n = self.indptr.size - 1
        return sp.csr_matrix((data[:entries], self.indices, self.indptr), shape=(n, n))

    def _blocks(self, part: _Part, mesh: MeshHex2, C: Array, T: sp.csr_matrix) -> Iterator[tuple[slice, Array]]:
        """T_e' K_e T_e of a chunk at a time, in the order of the part's nodes: as an element's, or (m, 3 p, 3 p)."""
        own = mesh.dofs.element_dofs[:, part.elements].T.astype(np.int64)
        order = None if part.joined else np.argsort(own, axis=1)
        for start in range(0, part.elements.size, CHUNK):
            at = slice(start, start + CHUNK)
            blocks = element_stiffness(mesh, part.elements[at], C, None if order is None else order[at])
            if part.joined:
                turn = self._rows_of(T, own[at], part.nodes[at])
                whole = blocks.transpose(0, 3, 1, 4, 2).reshape(-1, 81, 81)
                blocks = turn.transpose(0, 2, 1) @ whole @ turn
            yield at, blocks

    def _rows_of(self, T: sp.csr_matrix, own: Index, nodes: Index) -> Array:
        """T_e (m, 81, 3 p)."""
        m, p = nodes.shape
        rows = T[(3 * own[:, :, None] + np.arange(3)).ravel()].tocoo()
        element, local = np.divmod(rows.row.astype(np.int64), own.shape[1] * 3)
        place = np.full(self._unknown.size, -1)
        place[self._unknown.ravel()] = np.arange(self._unknown.size)
        node, component = np.divmod(place[rows.col], 3)
        keys = np.arange(m)[:, None] * (self._nodes + 1) + nodes
        at = np.searchsorted(keys.ravel(), element * (self._nodes + 1) + node) - element * p
        out = np.zeros((m, own.shape[1] * 3, 3 * p))
        np.add.at(out, (element, local, 3 * at + component), rows.data)
        return out

    def _graph(self) -> sp.csr_matrix:
        """Pairs of nodes a <= b that share an element, as (nodes, nodes)."""
        size = (self._nodes + 1,) * 2
        graph = sp.csr_matrix(size, dtype=np.int32)
        for part in self._parts:
            m, p = part.nodes.shape
            rows = np.arange(0, m * p + 1, p)
            touch = sp.csr_matrix((np.ones(m * p, np.int32), part.nodes.ravel(), rows), shape=(m, size[0]))
            graph = graph + sp.triu(touch.T.tocsr() @ touch, format="csr")
        graph.sort_indices()
        return graph

    def _find_places(self, graph: sp.csr_matrix, ahead: Index) -> list[NDArray[np.int32]]:
        """For each part (m, pairs a <= b of an element's nodes): how many unknowns stand before b in the row of a.

        ahead : of each entry of the graph, counted through all rows.
        """
        before = ahead[:-1] - np.repeat(ahead[graph.indptr[:-1]], np.diff(graph.indptr))
        rows = np.repeat(np.arange(self._nodes + 1), np.diff(graph.indptr))
        keys = rows * (self._nodes + 1) + graph.indices
        found = []
        for part in self._parts:
            a, b = np.triu_indices(part.nodes.shape[1])
            place = np.empty((len(part.nodes), a.size), np.int32)
            for start in range(0, len(place), CHUNK):
                nodes = part.nodes[start : start + CHUNK]
                wanted = nodes[:, a] * (self._nodes + 1) + nodes[:, b]
                place[start : start + CHUNK] = before[np.searchsorted(keys, wanted)]
            found.append(place)
        return found


def assemble_in(mesh: MeshHex2, regions: Regions, T: sp.csr_matrix, slots: Index) -> sp.csr_matrix:
    """The upper triangle (n, n) of A = T' K T [N/m] for one body; T (3 nodes, n), slots (n,)."""
    return Pattern(mesh, regions, T, slots).fill(mesh, regions, T)


def assemble_stiffness(mesh: MeshHex2, regions: Regions) -> sp.csr_matrix:
    """The whole stiffness matrix K (3 nodes, 3 nodes) [N/m] of disjoint regions."""
    n = 3 * mesh.doflocs.shape[1]
    return Symmetric(assemble_in(mesh, regions, sp.identity(n, format="csr"), np.arange(n))).whole()


def _structure(mesh: MeshHex2, regions: Regions, T: sp.csr_matrix, slots: Index) -> tuple[NDArray[Any], ...]:
    """All that decides where entries go."""
    elements = (elements for elements, _ in regions)
    return (mesh.dofs.element_dofs, T.indptr, T.indices, _picks(T, slots), slots, *elements)


def _in_element(row: Index, column: Index) -> Index:
    """Where the entry (3 a + i, 3 b + j) stands in (3, 3, 27, 27)."""
    return np.ravel_multi_index((row % 3, column % 3, row // 3, column // 3), (3, 3, 27, 27))


def _touched(T: sp.csr_matrix, slots: Index, nodes: int) -> sp.csr_matrix:
    """Which nodes' unknowns a node's displacement depends on, as (nodes, nodes)."""
    rows = np.repeat(np.arange(T.shape[0]), np.diff(T.indptr)) // 3
    columns = slots[T.indices] // 3
    return sp.csr_matrix((np.ones(rows.size, np.int32), (rows, columns)), shape=(nodes, nodes))


def _picks(T: sp.csr_matrix, slots: Index) -> NDArray[np.bool_]:
    """Nodes (nodes,) whose three components are unknowns themselves, or held."""
    rows = np.repeat(np.arange(T.shape[0]), np.diff(T.indptr))
    bad = (slots[T.indices] != rows) | (T.data != 1.0)
    picks = np.ones(T.shape[0], bool)
    picks[rows[bad]] = False
    return np.asarray(picks.reshape(-1, 3).all(axis=1))


def _union(own: Index, touched: sp.csr_matrix) -> Index:
    """Nodes (m, p) whose unknowns each element touches, rising, filled up with the number of nodes."""
    m, n = len(own), touched.shape[0]
    incidence = sp.csr_matrix(
        (np.ones(own.size, np.int32), own.ravel(), np.arange(0, own.size + 1, own.shape[1])), shape=(m, n)
    )
    found = (incidence @ touched).tocsr()
    found.sort_indices()
    length = np.diff(found.indptr)
    out = np.full((m, int(length.max())), n)
    out[np.arange(out.shape[1]) < length[:, None]] = found.indices
    return out
