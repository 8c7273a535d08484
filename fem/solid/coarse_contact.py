"""The coarse field of a half model in the unknowns of contact, for `multigrid`.

    v_fine = P v_coarse:  u = sum_c N_c u_c at the tube and away from the pairs;  at the ice's node of a pair, in the
                          pair's own frame (n, t, e_a),  u_ice = u_tube + sum_c N_c (u_ice - u_tube)_c             [m]

N are the shapes of `multigrid.interpolation`. Tube and ice shift together without strain or gap, and a gap is open on
the fine level where one beside it is open on the coarse one. Gaps have no shapes but the corners'.

The sweep goes from layer to layer along the axis, in each from the outermost ring inwards, in a ring round the axis;
the gaps come last. Layer by layer took two thirds of the steps of ring by ring.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from ...geometry.half_model import HalfModel
from .multigrid import Coarse, interpolation

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
DIGITS = 8  # of coordinates [m] and angles [rad] that tell nodes apart


def coarse_contact(
    model: HalfModel, T: sp.csr_matrix, slots: Indices, frames: Array, is_gap: NDArray[np.bool_]
) -> Coarse:
    """Coarse field and sweep of the unknowns of `contact.Unknowns`."""
    node = slots // 3
    xi, eta, s = np.round(model.straight[:, node], DIGITS)
    ring, turn = np.round(np.hypot(xi, eta), DIGITS), np.round(np.arctan2(eta, xi), DIGITS)
    order = np.lexsort((slots, turn, -ring, s, is_gap))
    P = _shapes(model, T, slots, frames, is_gap)
    return Coarse(P, 2 * node + is_gap, order, int(is_gap.sum()))


def _shapes(
    model: HalfModel, T: sp.csr_matrix, slots: Indices, frames: Array, is_gap: NDArray[np.bool_]
) -> sp.csr_matrix:
    N, nodes = interpolation(model.mesh)
    n = N.shape[0]
    tube, ice = model.pairs
    is_corner = np.zeros(n, bool)
    is_corner[model.mesh.t] = True
    is_coarse = np.zeros(n, bool)
    is_coarse[nodes] = True
    chosen = is_coarse[slots // 3] & (is_corner[slots // 3] | ~is_gap)
    axes = np.broadcast_to(np.eye(3), (n, 3, 3)).copy()
    axes[tube], axes[ice] = frames, frames
    local = sp.bsr_matrix((axes, np.arange(n), np.arange(n + 1))).T
    whole = T[:, np.flatnonzero(chosen)]  # the coarse values as displacements of all nodes
    carried = whole[_dofs(nodes)]
    moved = (local @ (sp.kron(N, np.eye(3), "csr") @ carried)).tocsr()
    at = (local @ whole).tocsr()
    apart = at[_dofs(ice)] - at[_dofs(tube)]
    place = np.full(n, -1)
    place[nodes] = np.arange(nodes.size)
    both = is_coarse[ice]
    apart = sp.kron(N[ice][:, place[ice[both]]], np.eye(3), "csr") @ apart[np.repeat(both, 3)]
    with_tube = sp.diags_array(np.tile([0.0, 1.0, 1.0], tube.size))  # the gap is between them
    apart += with_tube @ moved[_dofs(tube)]
    own = np.ones(3 * n)
    own[_dofs(ice)] = 0.0
    back = sp.csr_matrix((np.ones(apart.shape[0]), (_dofs(ice), np.arange(apart.shape[0]))), (3 * n, apart.shape[0]))
    P = (sp.diags_array(own) @ moved + back @ apart).tocsr()[slots]
    P.data[np.abs(P.data) < 1e-12] = 0.0
    P.eliminate_zeros()
    return P


def _dofs(nodes: Indices) -> Indices:
    return (3 * nodes[:, None] + np.arange(3)).ravel()
