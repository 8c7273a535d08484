"""Onset of a cone at a ring's corner by the coupled criterion (Leguillon, Eur. J. Mech. A 21, 2002, from memory).

A crack of length a and direction beta appears at once if the ice can bear neither its stress nor its energy,

    strength   F sigma_n(s) >= sigma_t            for all s in (0, a), sigma_n of the uncracked ice at 1 N
    energy     F^2 W(a) >= G_c A(a)               W = [C(a) - C(0)]/2, A: area of the crack's cone frustum [m2]
    growth     F^2 dW/dA >= G_c
    F(beta) = min over a_1 of max(F_strength(a_1), F_energy(a_1), F_growth(a) for a_1 < a <= a_0),    onset = min F  [N]

At the edge of a stiff, smooth (frictionless), sharp ring the stress rises faster than at a crack tip (r^(-2/3) for a
rigid one: the ice, 270 deg with one face guided, is half of a symmetric wedge of 540 deg, whose exponent from
sin(2 lambda a) = -lambda sin(2 a) is 1/3). A crack of no length starts at no load there and grows stably. So onset is
asked for a crack as long as the ring is high: a_0. This is Leguillon's criterion if a_1 >= a_0, and the growth of a
smaller crack to a_0 otherwise. K_IC decides unless sigma_t is so high that not even the shortest a_1, a_0/6, can start.

All lengths of a direction share one mesh and one factorisation: the jumps of the crack line are condensed with the
gaps of the rings, and released from the corner up to a. The forces that hold the jumps shut give the stress.

Limits: frictionless, straight initial crack, released along the whole circle at once; other rings stay whole.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementLineP2, MeshLine

from ...geometry.threaded_section import Column, build_section
from ...materials.strength import fracture_energy
from ..cracks.slit_faces import release
from ..errors import SolveError
from ..solid.condensation import condense
from ..solid.solver import choose_method
from .threaded_pull import reduce_section

Array = NDArray[np.float64]
REACH = 4.0  # longest crack tried over a_0
DEEPEST = 0.1  # a_0 is not taken as more than this over the ring's depth
PIECES = 24  # lengths tried: the shortest nucleus is a_0/6, whatever the mesh
DIRECTIONS = (-0.2, 0.2, 0.6, 1.0, 1.35)  # rad; a parabola through the best three says where to try once more


@dataclass(frozen=True, slots=True)
class Candidate:
    """One direction [rad from +r toward +z].  lengths (n,) [m]; stress (n,) least sigma_n up to there [Pa/N];

    released (n,) energy at 1 N [J/N2]; area (n,) [m2].
    """

    direction: float
    lengths: Array
    stress: Array
    released: Array
    area: Array

    def loads(self, tensile_strength: float, fracture_energy: float) -> tuple[Array, Array]:
        """F of strength and of energy [N] at each length; inf if the stress presses or nothing is released."""
        with np.errstate(divide="ignore", invalid="ignore"):
            strength = np.where(self.stress > 0, tensile_strength / self.stress, np.inf)
            energy = np.where(self.released > 0, np.sqrt(fracture_energy * self.area / self.released), np.inf)
        return strength, energy

    def onset(self, tensile_strength: float, fracture_energy: float, visible: float) -> tuple[float, float]:
        """Least load [N] at which a crack of `visible` length [m] or more stands, and its length [m]."""
        strength, energy = self.loads(tensile_strength, fracture_energy)
        rate = np.gradient(np.append(0.0, self.released), np.append(0.0, self.area))[1:]
        growth = np.sqrt(fracture_energy / np.maximum(rate, 1e-300))
        fine = np.linspace(self.lengths[0], self.lengths[-1], 40 * self.lengths.size)
        with np.errstate(divide="ignore"):
            strength, energy, growth = (
                1 / np.interp(fine, self.lengths, 1 / part) for part in (strength, energy, growth)
            )
        growth[fine > visible] = 0.0
        onwards = np.maximum.accumulate(growth[::-1])[::-1]
        needed = np.maximum(np.maximum(strength, energy), onwards)
        best = int(np.argmin(needed))
        return float(needed[best]), max(float(fine[best]), visible)


@dataclass(frozen=True, slots=True)
class ConeOnset:
    """load [N], direction [rad from +r toward +z] and length [m] of the first crack at a ring's corner."""

    ring: int
    load: float
    direction: float
    length: float


def candidate(
    column: Column,
    ring: int,
    direction: float,
    longest: float,
    ice: tuple[float, float],
    steel: tuple[float, float],
    size: float,
    elements: int = 1,
) -> Candidate:
    """Stress and released energy of cracks up to `longest` [m] in one direction; ice, steel : E [Pa], nu.

    size : of the elements at the threads [m].  elements : in each of the PIECES of the crack's line.
    """
    steps = np.linspace(0.0, longest, PIECES * elements + 1)
    lengths = steps[::elements]
    corner = np.array([column.crest, column.bearing_face(ring)])
    path = corner[:, None] + np.outer([cos(direction), sin(direction)], steps)
    parts = reduce_section(build_section(column, ring, path, size, min(size, steps[1])), ice, steel)
    jumps = np.concatenate([parts.corner, parts.normal, parts.sliding])
    kept = parts.gap.copy()
    kept[jumps] = True
    condensed = condense(parts.A, parts.b, kept, choose_method(parts.b.size))
    place = np.cumsum(kept) - 1
    at = np.hypot(*(parts.ice.x[:, parts.joint.crack[0]] - corner[:, None]))
    S, c, gaps = condensed.S, condensed.c, place[np.flatnonzero(parts.gap)]
    v, closed = release(S, c, gaps, np.zeros(0, int))
    held, shut, guess = c - S @ v, float(c @ v), np.zeros(c.size, bool)
    guess[gaps] = closed
    opened = []
    for a in lengths[1:]:
        open_ = at < a - 1e-6 * longest
        free = np.concatenate([place[parts.corner], place[parts.sliding[open_]]])
        bound = np.concatenate([gaps, place[parts.normal[open_]]])
        v, guess[bound] = release(S, c, bound, free, guess[bound])
        opened.append(float(c @ v))
    points, stress = _traction(at, held[place[parts.normal]], corner, direction)
    least = np.minimum.accumulate(stress)
    area = pi * (2 * column.crest + cos(direction) * lengths[1:]) * lengths[1:]
    return Candidate(
        direction, lengths[1:], np.interp(lengths[1:], points, least), 0.5 * (np.array(opened) - shut), area
    )


def _traction(at: Array, force: Array, corner: Array, direction: float) -> tuple[Array, Array]:
    """Normal stress [Pa/N] on the line from nodal forces [N]: sum_j int N_i N_j 2 pi r ds t_j = f_i.

    The corner and the line's end have no force of their own here; the stress there is left free.
    """
    order = np.argsort(at)
    at, force = at[order], force[order]
    ends = np.concatenate([[0.0], at[1::2], [at[-1] + (at[-1] - at[-2])]])
    basis = Basis(MeshLine(ends), ElementLineP2(), intorder=6)
    r = corner[0] + cos(direction) * np.asarray(basis.global_coordinates())[0]
    weights = np.zeros(basis.N)
    phi = [basis.basis[i][0].value for i in range(3)]
    for i in range(3):
        np.add.at(weights, basis.element_dofs[i], (phi[i] * 2 * pi * r * basis.dx).sum(axis=1))
    place = basis.doflocs[0]
    lumped = np.interp(at, np.sort(place), weights[np.argsort(place)])
    return at, force / lumped


def cone_onset(
    column: Column,
    ring: int,
    ice: tuple[float, float],
    steel: tuple[float, float],
    tensile_strength: float,
    toughness: float,
    size: float,
    directions: Iterable[float] = DIRECTIONS,
    elements: int = 1,
) -> ConeOnset:
    """Onset at a ring's corner; tensile_strength : Pa; toughness : K_IC [Pa m^0.5]; size : elements at threads [m]."""
    visible = min(column.height, DEEPEST * -column.bearing_face(ring))
    needed = fracture_energy(toughness, *ice)

    def start(direction: float) -> tuple[float, float, float]:
        crack = candidate(column, ring, direction, REACH * visible, ice, steel, size, elements)
        return (direction, *crack.onset(tensile_strength, needed, visible))

    tried = [start(direction) for direction in directions]
    loads = [load for _, load, _ in tried]
    if not np.isfinite(min(loads)):
        raise SolveError(f"onset at ring {ring + 1}: no direction tried has tension along it and releases energy")
    best = int(np.argmin(loads))
    if 0 < best < len(tried) - 1 and np.all(np.isfinite(loads[best - 1 : best + 2])):
        fit = np.polyfit([each[0] for each in tried[best - 1 : best + 2]], loads[best - 1 : best + 2], 2)
        tried.append(start(float(-fit[1] / (2 * fit[0]))))
    direction, load, length = min(tried, key=lambda each: each[1])
    return ConeOnset(ring, load, direction, length)
