"""A threaded tube upright in ice pulled straight out by 1 N, with a cone crack of given path (axisymmetric).

    rings' upper faces   u_z(ice) - u_z(steel) >= 0, free along r (no friction); lower faces are apart
    cylinder, crests     u_r(ice) - u_r(steel) >= 0, free along z
    crack faces          n . (u_above - u_below) >= 0, free along the face (n: normal of the path, upwards)

Gaps are built into u = T v. Those of the rings are condensed and solved as in `solid.contact`; the crack's join them
only if it would overlap when left free. Without initial gaps and friction everything is proportional to the load, so
the compliance C = u_z(head)/F [m/N] holds at any load, with closed faces too, and

    G = F^2/2 dC/dA,   dA = 2 pi r ds                                                             [J/m2]

Limits: small strain; far face held at `Column.far`, the bottom there or on rock, fast or sliding (`Column.smooth`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...geometry.threaded_section import ConeSection
from ..solid.axisymmetric import Body, end_force, make_body
from ..solid.condensation import condense
from ..solid.contact import solve_gaps
from ..solid.solver import choose_method

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]
TOUCH = 1e-9  # of the embedment, nodes closer than this are one place
OVERLAP = 1e-6  # of the largest opening, allowed before crack faces are taken as touching


@dataclass(frozen=True)
class ConePull:
    """Answer to F = 1 N.  u : displacements of steel, then of ice [m/N].

    compliance : m/N.  shares : (rings,) of the thrust, from the tip up.  opening : (2, k) normal and sliding jump of
    the crack faces [m/N] at points faces (2, k) [m], from the corner to the tip.  closed : (k,) faces that touch.
    """

    section: ConeSection
    steel: Body
    ice: Body
    u: Array
    compliance: float
    shares: Array
    faces: Array
    opening: Array
    closed: Mask

    @property
    def u_ice(self) -> Array:
        """Displacements of the ice [m/N], ordered as its body's dofs."""
        return self.u[self.steel.K.shape[0] :]


@dataclass(frozen=True)
class Joint:
    """Node pairs (steel, ice) with a gap in u_z and in u_r; the crack's (below, above): corner (2, 0 or 1), faces.

    normals : (2, k) of the faces, upwards.
    """

    bearing: Indices
    side: Indices
    corner: Indices
    crack: Indices
    normals: Array


@dataclass(frozen=True)
class Reduced:
    """A v = b with u = T v. Masks over v: gaps of the rings; the crack faces' normal and sliding jumps; the corner's.

    Jumps are ordered from the corner outwards.
    """

    section: ConeSection
    steel: Body
    ice: Body
    joint: Joint
    K: sp.csr_matrix
    T: sp.csr_matrix
    A: sp.csr_matrix
    b: Array
    gap: Mask
    normal: Indices
    sliding: Indices
    corner: Indices


def reduce_section(section: ConeSection, ice: tuple[float, float], steel: tuple[float, float]) -> Reduced:
    """Assemble both bodies for 1 N at the head and build gaps, jumps and supports in; ice, steel : E [Pa], nu."""
    tube, block = make_body(section.steel, steel), make_body(section.ice, ice)
    joint = _join(section, tube, block)
    K = sp.block_diag([tube.K, block.K], format="csr")
    load = np.concatenate([end_force(tube, section.column.stub), np.zeros(block.K.shape[0])])
    T, free, gap = _reduction(section, tube, block, joint)
    place = np.cumsum(free) - 1
    above = tube.K.shape[0] + block.dofs[:, joint.crack[1]]
    corner = tube.K.shape[0] + np.array([block.dofs[0, joint.corner[1]], block.dofs[1, joint.corner[0]]]).ravel()
    normal, sliding = place[above]
    A, b = sp.triu(T.T @ (K @ T), format="csr"), T.T @ load
    return Reduced(section, tube, block, joint, K, T, A, b, gap[free], normal, sliding, place[corner])


def pull_section(section: ConeSection, ice: tuple[float, float], steel: tuple[float, float]) -> ConePull:
    """Solve for 1 N; ice, steel : E [Pa], nu.  Raises SolveError if a solve or the contact does not come out."""
    parts = reduce_section(section, ice, steel)
    joint, A, b = parts.joint, parts.A, parts.b
    condensed = condense(A, b, parts.gap, choose_method(b.size))
    v = condensed.expand(solve_gaps(condensed.S, condensed.c)[0])
    opening = v[parts.normal]
    closed = np.zeros(opening.size, bool)
    if opening.size and opening.min() < -OVERLAP * np.abs(opening).max():
        kept = parts.gap.copy()
        kept[parts.normal] = True
        condensed = condense(A, b, kept, choose_method(b.size))
        g, shut, _ = solve_gaps(condensed.S, condensed.c)
        v, closed = condensed.expand(g), shut[np.cumsum(kept)[parts.normal] - 1]
    u = parts.T @ v
    column, steel_x, n = section.column, parts.steel.x, parts.steel.K.shape[0]
    thrust = (parts.K @ u)[n + parts.ice.dofs[1, joint.bearing[1]]]
    tops = np.array([column.bearing_face(k) for k in range(len(column.bottoms))])
    which = np.abs(steel_x[1, joint.bearing[0]][:, None] - tops).argmin(axis=1)
    return ConePull(
        section=section,
        steel=parts.steel,
        ice=parts.ice,
        u=u,
        compliance=float(b @ v),
        shares=np.asarray(np.bincount(which, weights=thrust, minlength=tops.size), dtype=np.float64),
        faces=parts.ice.x[:, joint.crack[0]],
        opening=np.stack([v[parts.normal], v[parts.sliding]]),
        closed=closed,
    )


def _join(section: ConeSection, tube: Body, block: Body) -> Joint:
    column, touch = section.column, TOUCH * section.column.embedment
    of_above = np.zeros(block.x.shape[1], bool)
    of_above[_nodes(block, section.above)] = True
    of_below = np.zeros(block.x.shape[1], bool)
    of_below[_nodes(block, ~section.above)] = True
    twins = cKDTree(block.x.T).query_pairs(touch, output_type="ndarray").T.reshape(2, -1)
    twins = np.where(of_above[twins[0]], twins[::-1], twins)  # below, above
    twins = twins[:, np.argsort(block.x[0, twins[0]])]
    corner = twins[:, :1]

    def matched(excluded: Indices, on: Mask) -> Indices:
        """Pairs (steel, ice) where `on` holds at the steel's nodes, without some of the ice's."""
        allowed = np.setdiff1d(np.arange(block.x.shape[1]), excluded)
        candidates = np.flatnonzero(on)
        distance, match = cKDTree(block.x[:, allowed].T).query(tube.x[:, candidates].T)
        hit = distance < touch
        return np.stack([candidates[hit], allowed[match[hit]]])

    r, z = tube.x
    tops = np.array([column.bearing_face(k) for k in range(len(column.bottoms))])
    on_face = (np.abs(z[:, None] - tops).min(axis=1) < touch) & (r > column.radius - touch)
    on_side = (np.abs(r - column.radius) < touch) | (np.abs(r - column.crest) < touch)
    faces = twins[:, 1:]
    normals = _normals(section.path, block.x[0, faces[0]])
    return Joint(matched(corner[0], on_face), matched(corner[1], on_side), corner, faces, normals)


def _nodes(body: Body, elements: Mask) -> Indices:
    """Nodes (columns of body.x) of some elements."""
    of_dof = np.empty(body.K.shape[0], int)
    of_dof[body.dofs] = np.arange(body.x.shape[1])
    return np.unique(of_dof[body.basis.element_dofs[:, elements]])


def _normals(path: Array, r: Array) -> Array:
    """Unit normals (2, k), upwards, of the path at r; at its kinks the mean direction of both sides."""
    if path.shape[1] < 2:
        return np.zeros((2, 0))
    angles = np.arctan2(*np.diff(path, axis=1)[::-1])
    span = 1e-7 * (path[0, -1] - path[0, 0])
    left, right = (
        np.clip(np.searchsorted(path[0], r + s, side="right") - 1, 0, angles.size - 1) for s in (-span, span)
    )
    angle = 0.5 * (angles[left] + angles[right])
    return np.stack([-np.sin(angle), np.cos(angle)])


def _reduction(section: ConeSection, tube: Body, block: Body, joint: Joint) -> tuple[sp.csr_matrix, Mask, Mask]:
    """u = T v with gaps, jumps and supports built in; which dofs are kept as v, and which of all are the rings' gaps.

    At the corner the upper face's u_z = steel + g_z and the lower one's u_r = steel + g_r have the gaps; the jumps are
    u_r(upper) = u_r(lower) + j_r and u_z(lower) = u_z(upper) - j_z.
    """
    n, total = tube.K.shape[0], tube.K.shape[0] + block.K.shape[0]
    up, out = n + block.dofs[1, joint.bearing[1]], n + block.dofs[0, joint.side[1]]
    rows, columns, values = [np.arange(total)], [np.arange(total)], [np.ones(total)]

    def add(row: Indices, column: Indices, value: Array | float) -> None:
        rows.append(row)
        columns.append(column)
        values.append(np.broadcast_to(value, row.shape))

    add(up, tube.dofs[1, joint.bearing[0]], 1.0)
    add(out, tube.dofs[0, joint.side[0]], 1.0)
    below, above = n + block.dofs[:, joint.crack[0]], n + block.dofs[:, joint.crack[1]]
    values[0][above.ravel()] = 0.0
    n_r, n_z = joint.normals
    for c in (0, 1):  # u_above = u_below + n v_0 + t v_1, t = (n_z, -n_r)
        add(above[c], below[c], 1.0)
        add(above[c], above[0], joint.normals[c])
        add(above[c], above[1], (n_z, -n_r)[c])
    lower, upper = n + block.dofs[:, joint.corner[0]], n + block.dofs[:, joint.corner[1]]
    values[0][lower[1]] = -1.0
    for slave, gap, pairs, c in ((upper[0], lower[0], joint.side, 0), (lower[1], upper[1], joint.bearing, 1)):
        beside = pairs[0][np.isin(n + block.dofs[c, pairs[1]], gap)]
        add(slave, gap, 1.0)
        add(slave, tube.dofs[c, beside], 1.0)
    T = sp.csr_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(total, total))
    r, z = block.x
    touch = TOUCH * section.column.embedment
    far, bottom = r > section.column.far - touch, z < section.column.bottom + touch
    held = far | (bottom & (not section.column.smooth))
    free, is_gap = np.ones(total, bool), np.zeros(total, bool)
    free[n + block.dofs[:, held].ravel()] = free[n + block.dofs[1, bottom]] = False
    free[n + block.dofs[0, r < touch]] = False
    free[tube.dofs[0, tube.x[0] < touch]] = False
    is_gap[up] = is_gap[out] = True
    return T[:, free].tocsr(), free, is_gap
