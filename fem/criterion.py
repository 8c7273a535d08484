"""Onset: the load at which the ice first fails, by a length and not by a maximum.

Linear elasticity is singular or nearly so at the mouth of the hole and at the ends of contact; a raw maximum there
grows with refinement and means nothing. The theory of critical distances (Taylor 2007, *The Theory of Critical
Distances*, from memory) asks for the stress at a distance instead: here its *line method*, the stress averaged over a
line of length 2 L that starts at the hole's wall and runs radially into the ice,

    s(phi, s) = 1/(2 L) int_0^{2 L} sigma(r = radius + x) dx,      L = (K_IC / sigma_t)^2 / pi        [Pa, m]

for every place (phi, s) on the wall. The load factor t at which a place fails, from stresses at unit pull, is the
less of

    tension      t s meets the tension cut-off
    shear        t s meets the failure surface for compression, with tension across (largest principal stress > 0)
    crushing     t s meets it, pressed from all sides

(`materials.surface`: Mohr-Coulomb with a bound, or parabolic), and the criterion index is 1/t. Onset is the least t
over the hole. It is the first visible damage, not the peak a pull test reports: what holds after it, redistribution
and stable crack growth, is the business of other models.

Limits: the line runs radially in the mesh's layers (along the surface at the mouth, square to the axis below) whatever
way a crack would turn; for a tube leaning away by 20 deg, lines square to the wall give about 1.5 times the onset. A
crust's own L is used where the line starts in the crust. The hole's bottom touches nothing and is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..geometry import HalfModel
from ..materials import Ice
from .stress import StressField, principal

Array = NDArray[np.float64]
Mode = Literal["tension", "shear", "crushing"]
PER_ELEMENT = 5  # lines along each side of a wall element
PER_RING = 9  # points on a line in each ring of elements


@dataclass(frozen=True, slots=True)
class Onset:
    """load_factor : pull at onset over the pull of the stress field.  where : its place on the wall, (3,) [m].

    angle : round the axis from the front [rad].  averaged : (6,) stress averaged over the line there [Pa].
    """

    load_factor: float
    mode: Mode
    where: Array
    angle: float
    averaged: Array


def load_factors(averaged: Array, ice: Ice) -> tuple[Array, Array]:
    """Load factors for tension and for shear or crushing of stresses (..., 6) [Pa]; inf where it never fails."""
    return ice.surface.load_factors(principal(averaged))


def criterion_index(stress: Array, ice: Ice) -> Array:
    """1 / load factor (...,) of stresses (..., 6): 1 where the ice fails under the present pull."""
    tension, crushing = load_factors(stress, ice)
    return 1.0 / np.minimum(tension, crushing)


def wall_lines(model: HalfModel, field: StressField, length: Array) -> tuple[Array, Array, Array]:
    """Stress averaged along lines from the hole's wall, radially in the mesh's layers.

    length : (layers,) of the lines that start in each layer [m].
    Returns averages (n, 6) [Pa], starting points (n, 3) [m] and angles round the axis (n,) [rad].
    """
    layers, _, sectors = model.beside.shape
    side = np.linspace(0.0, 1.0, PER_ELEMENT)
    around, up = (side_.ravel() for side_ in np.meshgrid(side, side))
    out = np.linspace(0.0, 1.0, PER_RING)
    mapping = model.mesh.mapping()
    averages, starts = [], []
    local = np.stack([np.tile(out, around.size), np.repeat(around, PER_RING), np.repeat(up, PER_RING)])
    reach = _rings_needed(model, float(length.max()))
    for layer in range(layers):
        elements = model.beside[layer, :reach]  # (reach, sectors)
        x = mapping.F(local, tind=elements.ravel())
        x = x.reshape(3, reach, sectors, around.size, PER_RING)
        stress = field.on(elements.ravel(), local).reshape(reach, sectors, around.size, PER_RING, 6)
        x = x.transpose(2, 3, 1, 4, 0).reshape(sectors * around.size, reach * PER_RING, 3)
        stress = stress.transpose(1, 2, 0, 3, 4).reshape(sectors * around.size, reach * PER_RING, 6)
        averages.append(_average(x, stress, float(length[layer])))
        starts.append(x[:, 0])
    start = np.concatenate(starts)
    in_frame = start @ model.frame
    return np.concatenate(averages), start, np.arctan2(in_frame[:, 1], in_frame[:, 0])


def _rings_needed(model: HalfModel, length: float) -> int:
    """Rings of elements that a line of this length crosses."""
    nodes = model.mesh.dofs.element_dofs[:, model.beside[0, :, 0]]
    outer = np.hypot(*model.straight[:2])[nodes].max(axis=0)
    inner = np.hypot(*model.straight[:2])[nodes].min(axis=0)
    return min(len(outer), int(np.searchsorted(outer, inner[0] + 1.02 * length)) + 1)


def _average(x: Array, stress: Array, length: float) -> Array:
    """Mean of stress (n, points, 6) over the first `length` of polylines x (n, points, 3), by the trapezoidal rule."""
    step = np.linalg.norm(np.diff(x, axis=1), axis=2)
    before = np.concatenate([np.zeros((len(x), 1)), np.cumsum(step, axis=1)[:, :-1]], axis=1)
    used = np.clip(length - before, 0.0, step)
    share = np.divide(used, step, out=np.zeros_like(step), where=step > 0)
    last = stress[:, :-1] + share[..., None] * (stress[:, 1:] - stress[:, :-1])
    return (0.5 * (stress[:, :-1] + last) * used[..., None]).sum(axis=1) / used.sum(axis=1)[:, None]


def find_onset(model: HalfModel, field: StressField, ice: Ice, crust_ice: Ice) -> Onset:
    """The first failure round the hole under proportional loading (module docstring); the field holds unit pull.

    Raises ValueError if nothing would ever fail (a zero stress field).
    """
    in_crust = np.isin(model.beside[:, 0, 0], model.regions["crust"])
    lengths = 2 * np.where(in_crust, crust_ice.critical_distance, ice.critical_distance)
    averaged, start, angle = wall_lines(model, field, lengths)
    crust = np.repeat(in_crust, len(start) // len(in_crust))
    factors = np.empty((2, len(start)))
    for material, where in ((ice, ~crust), (crust_ice, crust)):
        factors[:, where] = load_factors(averaged[where], material)
    mode, place = np.unravel_index(int(np.argmin(factors)), factors.shape)
    if not np.isfinite(factors[mode, place]):
        raise ValueError("onset: no stress anywhere that would fail")
    return Onset(
        load_factor=float(factors[mode, place]),
        mode="tension" if mode == 0 else "shear" if principal(averaged[place])[2] > 0 else "crushing",
        where=start[place],
        angle=float(angle[place]),
        averaged=averaged[place],
    )
