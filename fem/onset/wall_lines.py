"""Stress along lines from the wall of the hole, radially in the mesh's layers, and its means over their first lengths.

    mean(l) = 1/l int_0^l sigma dx      by the trapezoidal rule, the last step in part                        [Pa]

Where the lines run is worked out once for a mesh (`WallGeometry`), what they cross once for a stress field
(`WallLines`), as far as the longest length asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ...geometry.half_model import HalfModel
from ..solid.stress import StressField, shape_values

Array = NDArray[np.float64]
PER_ELEMENT = 5  # lines along each side of a wall element
PER_RING = 9  # points on a line in each ring of elements
SLACK = 1.02


class WallGeometry:
    """The lines of a half model: PER_ELEMENT x PER_ELEMENT an element of the wall, layer by layer from below."""

    def __init__(self, model: HalfModel) -> None:
        self.model = model
        side = np.linspace(0.0, 1.0, PER_ELEMENT)
        around, up = (side_.ravel() for side_ in np.meshgrid(side, side))
        out = np.linspace(0.0, 1.0, PER_RING)
        self._local = np.stack([np.tile(out, around.size), np.repeat(around, PER_RING), np.repeat(up, PER_RING)])
        self._kept: dict[tuple[int, int], _Layer] = {}

    def rings(self, length: float) -> int:
        """Rings of elements that a line of this length crosses."""
        inner, outer = self._radii
        return min(len(outer), int(np.searchsorted(outer, inner[0] + SLACK * length)) + 1)

    def layer(self, layer: int, reach: int) -> _Layer:
        """The lines of a layer through so many rings."""
        if (layer, reach) not in self._kept:
            elements = self.model.beside[layer, :reach]
            x = self.model.mesh.mapping().F(self._local, tind=elements.ravel())
            x = in_lines(x.reshape(3, reach, elements.shape[1], -1, PER_RING).transpose(1, 2, 3, 4, 0))
            self._kept[layer, reach] = _Layer(elements, x[:, 0], along(x))
        return self._kept[layer, reach]

    @cached_property
    def start(self) -> Array:
        """Where the lines of all layers begin, (n, 3) [m]."""
        return np.concatenate([self.layer(layer, 1).start for layer in range(len(self.model.beside))])

    @cached_property
    def angle(self) -> Array:
        """The same round the axis from the front, (n,) [rad]."""
        in_frame = self.start @ self.model.frame
        return np.asarray(np.arctan2(in_frame[:, 1], in_frame[:, 0]))

    @cached_property
    def shapes(self) -> Array:
        """Values (points of an element, 27) of the shape functions."""
        return np.ascontiguousarray(shape_values(self._local).T)

    @cached_property
    def _radii(self) -> tuple[Array, Array]:
        return ring_bounds(self.model)


@dataclass(frozen=True, slots=True)
class _Layer:
    """elements : (reach, sectors).  start : (n, 3) [m].  place : (n, points) along each line from its start [m]."""

    elements: NDArray[np.int64]
    start: Array
    place: Array


class WallLines:
    """A stress field along the lines of its mesh.  geometry : the lines, if they are at hand."""

    def __init__(self, model: HalfModel, field: StressField, geometry: WallGeometry | None = None) -> None:
        self.model, self.field = model, field
        self.geometry = geometry or WallGeometry(model)
        self._sampled: dict[int, tuple[_Layer, Array]] = {}

    @property
    def start(self) -> Array:
        """`WallGeometry.start`."""
        return self.geometry.start

    @property
    def angle(self) -> Array:
        """`WallGeometry.angle`."""
        return self.geometry.angle

    def averages(self, lengths: Array) -> Array:
        """Means (m, n, 6) [Pa] over lengths (m, layers) [m]: m of the lines that start in each layer."""
        return np.concatenate([self.in_layer(k, own) for k, own in enumerate(lengths.T)], axis=1)

    def in_layer(self, layer: int, lengths: Array) -> Array:
        """Means (m, lines, 6) [Pa] of one layer's lines over lengths (m,) [m]."""
        reach = self.geometry.rings(float(lengths.max()))
        if layer not in self._sampled or len(self._sampled[layer][0].elements) < reach:
            lines = self.geometry.layer(layer, reach)
            stress = self.geometry.shapes @ self.field.at(lines.elements.ravel())
            shape = (*lines.elements.shape, PER_ELEMENT**2, PER_RING, 6)
            self._sampled[layer] = lines, in_lines(stress.reshape(shape))
        lines, stress = self._sampled[layer]
        return line_averages(lines.place, stress, lengths)


def along(x: Array) -> Array:
    """Distance from the start (n, points) [m] along polylines x (n, points, 3)."""
    step = np.linalg.norm(np.diff(x, axis=1), axis=2)
    return np.concatenate([np.zeros((len(x), 1)), np.cumsum(step, axis=1)], axis=1)


def in_lines(values: Array) -> Array:
    """Values (rings, sectors, lines, points, k) line by line: (sectors x lines, rings x points, k)."""
    rings, sectors, lines, points, k = values.shape
    return values.transpose(1, 2, 0, 3, 4).reshape(sectors * lines, rings * points, k)


def ring_bounds(model: HalfModel) -> tuple[Array, Array]:
    """Inner and outer radius of the rings of elements (rings,) [m], from the hole outwards."""
    nodes = model.mesh.dofs.element_dofs[:, model.beside[0, :, 0]]
    radius = np.hypot(*model.straight[:2])[nodes]
    return radius.min(axis=0), radius.max(axis=0)


def line_averages(place: Array, stress: Array, lengths: Array) -> Array:
    """Means (m, n, 6) [Pa] of stress (n, points, 6) at `place` (n, points) [m] over the first `lengths` (m,) [m].

    A length beyond the line takes the whole of it.
    """
    step = np.diff(place, axis=1)
    area = np.cumsum(0.5 * (stress[:, :-1] + stress[:, 1:]) * step[..., None], axis=1)
    area = np.concatenate([np.zeros((len(place), 1, 6)), area], axis=1)
    lines, found = np.arange(len(place)), []
    for length in lengths:
        i = np.clip((place <= length).sum(axis=1) - 1, 0, step.shape[1] - 1)
        part = np.minimum(length - place[lines, i], step[lines, i])[:, None]
        whole = np.maximum(step[lines, i], 1e-300)[:, None]
        rise = stress[lines, i + 1] - stress[lines, i]
        total = area[lines, i] + part * (stress[lines, i] + 0.5 * part / whole * rise)
        found.append(total / np.minimum(length, place[:, -1])[:, None])
    return np.stack(found)
