"""The mass of a tube, from the settings of its case.

    m = rho [pi/4 (D^2 - d^2) length + RING_SHARE pi ((D/2 + h)^2 - (D/2)^2) threaded length]                      [kg]

Steel of the tube with a ridge of thread as thick as the cone's model takes it. Left out: hanger, cutting teeth, and
whatever a made tube has besides.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from typing import Any

from ...geometry.threaded_section import RING_SHARE
from ...materials import metal_named

MASS_KEYS = (
    *(f"tube.{name}_mm" for name in ("length", "od", "wall", "thread_length", "thread_height")),
    "tube.metal",
)


def tube_mass(case: Mapping[str, Any]) -> float:
    """Mass [kg] of the tube of a case's settings (module docstring)."""
    outer, wall, height = (case[f"tube.{name}_mm"] / 1e3 for name in ("od", "wall", "thread_height"))
    length, threads = (case[f"tube.{name}_mm"] / 1e3 for name in ("length", "thread_length"))
    body = pi / 4 * (outer**2 - (outer - 2 * wall) ** 2) * length
    ridge = RING_SHARE * pi * ((outer / 2 + height) ** 2 - (outer / 2) ** 2) * threads
    return metal_named(case["tube.metal"]).density * (body + ridge)
