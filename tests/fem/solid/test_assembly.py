"""Assembly straight into a body's own unknowns: the triple product T' K T, by its upper triangle."""

from __future__ import annotations

from math import radians

import numpy as np
import pytest
import scipy.sparse as sp
from samples import COARSEST, ICE_MODULI, STEEL_MODULI, TUBE

from icecone.fem.solid.assembly import Pattern, assemble_in, assemble_stiffness
from icecone.fem.solid.contact import contact_unknowns
from icecone.fem.solid.elasticity import nodal_forces
from icecone.geometry.half_model import build_half_model
from icecone.geometry.placement import Placement
from icecone.materials.tensor import Transverse, isotropic

COLUMNS = Transverse(13.9e9, 7.1e9, 5.8e9, 15.0e9, 3.0e9, (0.6, 0.0, 0.8)).tensor()  # Pa, invented


def half_model(angle_deg: float, crust: float = 0.01):
    model = build_half_model(TUBE, Placement(radians(angle_deg), 0.1), crust, COARSEST, far=0.2)
    C = {"ice": COLUMNS, "crust": isotropic(*ICE_MODULI), "tube": isotropic(*STEEL_MODULI)}
    return model, [(model.regions[name], tensor) for name, tensor in C.items()]


def relative(A: sp.csr_matrix, B: sp.csr_matrix) -> float:
    return float(abs(A - B).max() / abs(B).max())


@pytest.mark.parametrize("angle_deg", [0.0, -20.0])
def test_it_is_the_triple_product(angle_deg):
    """Contact pairs on threads and shank, supports, three materials: the upper triangle of T' K T."""
    model, regions = half_model(angle_deg)
    unknowns = contact_unknowns(model)
    K = assemble_stiffness(model.mesh, regions)
    A = assemble_in(model.mesh, regions, unknowns.T, unknowns.slots)
    assert relative(A, sp.triu(unknowns.T.T @ K @ unknowns.T, format="csr")) < 1e-14
    assert np.array_equal(A.indices[A.indptr[:-1]], np.arange(A.shape[0]))  # each row begins with its diagonal
    assert A.has_canonical_format


def test_a_pattern_serves_all_angles():
    """Same tube and depth at another angle: the same places, and values as from a pattern of its own."""
    model, regions = half_model(0.0)
    unknowns = contact_unknowns(model)
    pattern = Pattern(model.mesh, regions, unknowns.T, unknowns.slots)
    other, its_regions = half_model(25.0)
    its = contact_unknowns(other)
    assert pattern.fits(other.mesh, its_regions, its.T, its.slots)
    own = assemble_in(other.mesh, its_regions, its.T, its.slots)
    assert relative(pattern.fill(other.mesh, its_regions, its.T), own) < 1e-15
    crustless, its_regions = half_model(0.0, crust=0.0)
    its = contact_unknowns(crustless)
    assert not pattern.fits(crustless.mesh, its_regions, its.T, its.slots)


def test_unknowns_that_join_nodes_in_any_way():
    """T of random combinations at some nodes, others held: what slits and joined faces are made of."""
    model, regions = half_model(10.0)
    n = model.mesh.doflocs.shape[1]
    rng = np.random.default_rng(3)
    joined = rng.choice(n, 30, replace=False)
    T = sp.identity(3 * n, format="lil")
    for a, b in zip(joined[::2], joined[1::2], strict=True):
        T[3 * a : 3 * a + 3, 3 * b : 3 * b + 3] = rng.normal(size=(3, 3))
    slots = np.sort(rng.choice(3 * n, 2 * n, replace=False))
    T = T.tocsr()[:, slots]
    K = assemble_stiffness(model.mesh, regions)
    assert relative(assemble_in(model.mesh, regions, T, slots), sp.triu(T.T @ K @ T, format="csr")) < 1e-14


def test_nodal_forces_are_those_of_the_stiffness():
    """K u of several u without K, material by material."""
    model, regions = half_model(-15.0)
    u = np.random.default_rng(5).normal(size=(3 * model.mesh.doflocs.shape[1], 3))
    expected = assemble_stiffness(model.mesh, regions) @ u
    assert np.abs(nodal_forces(model.mesh, regions, u) - expected).max() < 1e-12 * np.abs(expected).max()
