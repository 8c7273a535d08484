"""Unilateral faces with Coulomb friction on a dense condensed system.

Jumps d = (n, t, s) [m] of each of k node pairs, n across the faces, with the rest of a body condensed away
(`cracks.slit_faces`):

    force = S v - c        of the faces on the jumps [N]: pressing is n > 0
    n >= 0,  force_n >= 0,  n force_n = 0
    |force_t| <= mu force_n,  force_t = -mu force_n d_t / |d_t| where d_t != 0

One step from the unloaded body: loads that grow in proportion keep the direction of sliding, so the answer is
proportional to the load. The conditions as one equation, with any r > 0 (Alart & Curnier, Comput. Methods Appl. Mech.
Eng. 92, 1991, from memory),

    force_n = [force_n - r n]_+ =: a,      force_t = projection of x = force_t - r d_t onto the disc |x| <= mu a,

are solved by Newton's method: pairs are apart (a = 0), stuck (|x| <= mu a) or sliding. If neither stuck faces nor faces
that may cross lead to an answer, block Gauss-Seidel on the inverse of S (as in Jean's contact dynamics, from memory)
gives a better start. Nothing is returned unless all conditions hold to `TOLERANCE`.

Limits: friction makes the answer unique only for small mu; of several, one is found. No history of sliding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.linalg as la
from numpy.typing import NDArray

from ..errors import SolveError

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
STEPS, SWEEPS = 20, 400
TOLERANCE = 1e-8  # of the conditions, in forces over the largest of c
NEAR = 1e-6  # the same where sweeps end


@dataclass(frozen=True, slots=True)
class Faces:
    """jump : (k, 3) [m] and force : (k, 3) [N] of the faces.  apart, sliding : (k,); the others are stuck.

    steps : of Newton's method, of all starts together.
    """

    jump: Array
    force: Array
    apart: Mask
    sliding: Mask
    steps: int


def solve_faces(S: Array, c: Array, friction: float, near: Array | None = None) -> Faces:
    """Jumps of faces with friction (module docstring).

    S : (3 k, 3 k) symmetric positive definite [N/m], c : (3 k,) [N], the three jumps of a pair together.
    near : (k, 3) jumps to start from, if some are known that may be near.
    Raises ValueError for a negative friction, SolveError if no answer is found.
    """
    if not friction >= 0:
        raise ValueError(f"friction = {friction:g}: must not be negative")
    steps = 0
    starts = [] if near is None else [lambda *of: near]
    for start in (*starts, stuck, crossing, swept):
        found, more = _newton(S, c, start(S, c, friction), friction)
        steps += more
        if found is not None:
            return Faces(*found, steps)
    raise SolveError(f"faces with friction {friction:g}: no start settled in {STEPS} steps")


def jumps_per_load(S: Array, c: Array, faces: Faces, friction: float) -> Array:
    """Jumps V (3 k, n) [m] for each of n loads, c : (3 k, n) [N], while all faces keep state and direction of sliding.

    V f are the jumps of `faces` if these are the answer to c f.
    """
    r = _springs(S)
    x = faces.force[:, 1:] - r[:, 1:] * faces.jump[:, 1:]
    allowed = friction * np.maximum(faces.force[:, 0] - r[:, 0] * faces.jump[:, 0], 0.0)
    return _linear(S, c, x, allowed, faces.apart, friction)


def crossing(S: Array, c: Array, friction: float) -> Array:
    """Jumps (k, 3) of faces that may cross and slide freely, cut at shut."""
    v = la.solve(S, c, assume_a="pos").reshape(-1, 3)
    v[:, 0] = np.maximum(v[:, 0], 0.0)
    return np.asarray(v)


def stuck(S: Array, c: Array, friction: float) -> Array:
    """Jumps (k, 3) of faces that neither part nor slide."""
    return np.zeros((c.size // 3, 3))


def swept(S: Array, c: Array, friction: float) -> Array:
    """Jumps (k, 3) after the forces were renewed pair by pair until they hardly change."""
    C = la.inv(S)
    v, force = (C @ c).reshape(-1, 3), np.zeros((c.size // 3, 3))
    own = np.diag(C).reshape(-1, 3)
    r, r_t = 1 / own[:, 0], 1 / own[:, 1:].max(axis=1)
    columns = C.reshape(c.size, -1, 3)
    for _ in range(SWEEPS):
        before = force.copy()
        for i in range(len(v)):
            a = max(0.0, force[i, 0] - r[i] * v[i, 0])
            x = force[i, 1:] - r_t[i] * v[i, 1:]
            new = np.concatenate([[a], x * min(1.0, friction * a / max(float(np.hypot(*x)), 1e-300))])
            v += (columns[:, i] @ (new - force[i])).reshape(-1, 3)
            force[i] = new
        if np.abs(force - before).max() < NEAR * np.abs(c).max():
            break
    v[np.abs(v) < NEAR * np.abs(v).max()] = 0.0
    v[:, 0] = np.maximum(v[:, 0], 0.0)
    return np.asarray(v)


def _newton(S: Array, c: Array, v: Array, friction: float) -> tuple[tuple[Array, Array, Mask, Mask] | None, int]:
    """Jumps, forces and states by Newton's method from the jumps v (k, 3), None if it does not settle; its steps."""
    r, scale = _springs(S), max(float(np.abs(c).max()), 1e-300)
    for step in range(1, STEPS + 1):
        force = (S @ v.ravel() - c).reshape(-1, 3)
        a, x = force[:, 0] - r[:, 0] * v[:, 0], force[:, 1:] - r[:, 1:] * v[:, 1:]
        allowed = friction * np.maximum(a, 0.0)
        v = _step(S, c, x, allowed, a <= 0, friction)
        force = (S @ v.ravel() - c).reshape(-1, 3)
        if _off(v, force, friction, r) < TOLERANCE * scale:
            apart = a <= 0
            return (v, force, apart, (np.linalg.norm(x, axis=1) > allowed) & ~apart), step
    return None, STEPS


def _springs(S: Array) -> Array:
    """r of the module docstring (k, 3) [N/m], one along both directions of sliding."""
    r = np.diag(S).reshape(-1, 3).copy()
    r[:, 1:] = r[:, 1:].mean(axis=1, keepdims=True)
    return r


def _step(S: Array, c: Array, x: Array, allowed: Array, apart: Mask, friction: float) -> Array:
    """Jumps (k, 3) after one step."""
    return _linear(S, c[:, None], x, allowed, apart, friction).reshape(-1, 3)


def _linear(S: Array, c: Array, x: Array, allowed: Array, apart: Mask, friction: float) -> Array:
    """Jumps (3 k, n) of one step for c (3 k, n): with e = x / |x|, P = 1 - e e^T and rho = allowed / |x|, where moving,

    (1 - rho P) force_t + rho r P d_t - mu e force_n = 0,    force_n = 0 where apart, all other jumps 0.
    """
    k, size = len(x), np.maximum(np.linalg.norm(x, axis=1), 1e-300)
    moving = (size > allowed) | apart
    e, rho = x / size[:, None], np.minimum(allowed / size, 1.0)[:, None, None]
    turning = rho * (np.eye(2) - e[:, :, None] * e[:, None, :])
    back = np.eye(2) - turning
    rows, right = S.reshape(k, 3, -1).copy(), c.reshape(k, 3, -1).copy()
    rows[:, 1:] = back @ rows[:, 1:] - friction * e[:, :, None] * rows[:, None, 0]
    right[:, 1:] = back @ right[:, 1:] - friction * e[:, :, None] * right[:, None, 0]
    pair, r = np.arange(k), _springs(S)[:, 1]
    for i in range(2):
        for j in range(2):
            rows[pair, 1 + i, 3 * pair + 1 + j] += r * turning[:, i, j]
    free = np.column_stack([apart, moving, moving]).ravel()
    v = np.zeros((3 * k, c.shape[1]))
    v[free] = la.solve(rows.reshape(3 * k, -1)[np.ix_(free, free)], right.reshape(3 * k, -1)[free])
    return v


def _off(v: Array, force: Array, friction: float, r: Array) -> float:
    """Largest difference of the two sides of the module docstring's conditions [N]."""
    a = np.maximum(force[:, 0] - r[:, 0] * v[:, 0], 0.0)
    x = force[:, 1:] - r[:, 1:] * v[:, 1:]
    held = x * np.minimum(1.0, friction * a / np.maximum(np.linalg.norm(x, axis=1), 1e-300))[:, None]
    return max(float(np.abs(force[:, 0] - a).max()), float(np.abs(force[:, 1:] - held).max()))
