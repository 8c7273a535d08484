"""What threads and tip bear along the axis: stiffness, and the limit at which they strip or crush.

    stiffness   k = 2 pi G / zeta,   zeta = ln(2.5 h (1 - nu) / r)                                           [N/m^2]
    stripping   t = min(tau pi d_c, q A_t / pitch)                       per length of thread                  [N/m]
    toe         rigid disc on a half-space, 4 G r / (1 - nu) [N/m]; a stamp of the annulus, q A                     [N]

Stiffness: concentric cylinders of sheared ice about an embedment h (Randolph & Wroth, J. Geotech. Eng. Div. ASCE 104,
1978, from memory; `validation/checks/beam_and_pile/piles_axial.py` holds the half model against it).

Stripping, the cone's rival: the ice between the crests shears along the cylinder of diameter d_c over the crests, or is
crushed under the faces. Shut in between steel and block it cannot widen: it bears a share of the deviator cap in shear,
tau = cap / 2 unless said otherwise, not the cohesion of free ice (for sound glacier ice 6.6 instead of 1.5 MPa), and
q that of a stamp (`laws.crushing`) under the faces of area A_t a turn. The share is an assumption.

Limits: threads of any form are crests on a cylinder; the ice between them strips all along at once.
"""

from __future__ import annotations

from math import log, pi

from ...geometry.placement import Tube
from ...materials import Assumed, Ice
from ...materials.tensor import lame


def thread_stiffness(tube: Tube, embedment: float, ice: Ice) -> float:
    """Axial force per length and movement along the axis [N/m^2]."""
    E, nu = ice.elastic.youngs_modulus, ice.elastic.poissons_ratio
    zeta = log(2.5 * embedment * (1 - nu) / tube.radius)
    return 2 * pi * lame(E, nu)[1] / zeta


def thread_limit(tube: Tube, ice: Ice, assumed: Assumed, pressure: float) -> float:
    """Axial force per length at which the threads strip [N/m]; pressure [Pa] : of a stamp (module docstring)."""
    crest = tube.radius + tube.thread_height
    cylinder = assumed.thread_shear_share * ice.deviator_cap * 2 * pi * crest
    faces = pressure * pi * (crest**2 - tube.radius**2) / tube.thread_pitch
    return min(cylinder, faces)


def toe(tube: Tube, ice: Ice, pressure: float) -> tuple[float, float]:
    """Stiffness [N/m] and limit [N] of the tip pushed along the axis into the ice; pressure [Pa] : of a stamp."""
    E, nu = ice.elastic.youngs_modulus, ice.elastic.poissons_ratio
    stiffness = 4 * lame(E, nu)[1] * tube.radius / (1 - nu)
    return stiffness, pressure * pi * (tube.radius**2 - tube.bore**2)
