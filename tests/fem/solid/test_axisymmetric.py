"""Assembly of a body of revolution against the form written out in scikit-fem."""

from __future__ import annotations

from math import pi

import numpy as np
from samples import ICE_MODULI
from skfem import BilinearForm, MeshQuad

from icecone.fem.solid.axisymmetric import make_body, ring_strains
from icecone.materials.tensor import lame


def test_the_stiffness_is_that_of_the_form() -> None:
    """int [lam tr(eps u) tr(eps v) + 2 mu eps(u) : eps(v)] 2 pi r dr dz on skewed elements, to round-off."""
    mesh = MeshQuad.init_tensor(np.linspace(0, 1, 5) ** 1.3, np.linspace(0, 2, 6))
    mesh = MeshQuad(mesh.p + 0.04 * np.sin(3 * mesh.p[::-1]) * mesh.p[0], mesh.t)
    body = make_body(mesh, ICE_MODULI)
    lam, mu = lame(*ICE_MODULI)

    @BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        a, b = ring_strains(u, w.x[0]), ring_strains(v, w.x[0])
        double_dot = a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + 2 * a[3] * b[3]
        return (lam * sum(a[:3]) * sum(b[:3]) + 2 * mu * double_dot) * 2 * pi * w.x[0]

    K = stiffness.assemble(body.basis)
    assert abs(K - body.K).max() < 1e-14 * abs(K).max()
