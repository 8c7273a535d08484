"""The sample that many tests share: one tube, ice, crust and steel, and the cases and laws made of them.

SI units, angles in degrees where a name says so. The tube and the laws of the ice are invented, round and plausible.
A test whose own value is its point keeps that value: it changes the sample by `replace` or by the arguments here.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi, radians
from typing import Any

import numpy as np

from icecone.fem.case import Case
from icecone.fem.laws.ice_laws import ConeFronts, IceLaws
from icecone.fem.laws.trench import Chips
from icecone.geometry.layers import Resolution
from icecone.geometry.placement import Attachment, Placement, Pull, Tube
from icecone.materials import default_assumed, ice_named, metal_named
from icecone.studies.case.file import settings_from

TUBE = Tube(
    length=0.14,
    outer_diameter=0.017,
    wall=0.0015,
    thread_length=0.065,
    thread_height=0.0025,
    thread_pitch=0.005,
    eye=0.01,
    hanger_strength=1e4,
)
NEEDLE = Tube(0.31, 0.005, 0.001, 0.02, 0.001, 0.005, 0.01, 1e4)  # so thin that a crack round it feels no hole
FLUSH = TUBE.flush_embedment  # 0.13 m
ICE, CRUST_ICE = ice_named("sound_glacier", -5.0), ice_named("sun_crust", -5.0)
STEEL = metal_named("chromoly_steel")
UNBROKEN = replace(default_assumed(), strain_limit_share=5.0)  # pulls count up to the turned head
ICE_MODULI, STEEL_MODULI = (9.3e9, 0.325), (205e9, 0.29)  # E [Pa], nu: granular ice near -10 deg C, and steel
COARSE = Resolution(sectors=8, ring=0.003, mouth=0.004, tip=0.008, growth=1.0, deep=0.04)
COARSEST = Resolution(sectors=4, ring=0.006, mouth=0.012, tip=0.015, growth=1.2, deep=0.06)


def tube_into(embedment: float, stands: float = 0.01) -> Tube:
    """The sample as long as it must be to end `embedment` in the ice and stand out `stands` [m]."""
    return replace(TUBE, length=embedment + stands, thread_length=min(TUBE.thread_length, embedment))


def placed(
    angle_deg: float = 0.0, embedment: float = FLUSH, attachment: Attachment = "eye", **changed: float
) -> Placement:
    """Where a tube sits; any other field of Placement by its name."""
    return Placement(radians(angle_deg), embedment, attachment, **changed)


def case(
    angle_deg: float = 0.0,
    direction_deg: float = 0.0,
    embedment: float = FLUSH,
    attachment: Attachment = "eye",
    **changed: Any,
) -> Case:
    """The sample in its ice without a crust, pulled along the surface; any field of Case by its name."""
    pull = Pull(radians(direction_deg))
    return replace(Case(TUBE, placed(angle_deg, embedment, attachment), pull, ICE, STEEL, CRUST_ICE), **changed)


def settings(**given: Any) -> dict[str, Any]:
    """What a case file comes to that gives these keys; two underscores stand for the dot, `ice__kind`."""
    return settings_from({name.replace("__", "."): value for name, value in given.items()})


def even_laws(
    cone: float = 14e3, threads: float = 450e3, wall: float = 270e3, fronts: ConeFronts | None = None
) -> IceLaws:
    """Laws that are even over the wall: the cone's load [N], what threads and wall bear [N/m]."""
    s, even = np.array([0.0, FLUSH]), np.ones(2)
    return IceLaws(
        s,
        stiffness=8e9 * even,
        crushing=wall * even,
        toughness=1e5 * even,
        spall=0.017,
        thread_stiffness=6e9,
        thread_limit=threads,
        thread_softening=0.005,
        cone_load=cone,
        cone_softening=0.005,
        toe_stiffness=1.7e8,
        toe_limit=1e3,
        fronts=fronts,
    )


def chipping_laws(embedment: float, cone: float = inf, goes: bool = False, toughness: float = 0.14e6) -> IceLaws:
    """A wall that bears as the root of the depth [m], as chips do, up to crushing at 20 MPa; a cone [N] that may come.

    goes : whether chips come out at any angle, or at none.  toughness : K_IC [Pa m^0.5].
    """
    s = np.linspace(0, embedment, 81)
    depth = np.arange(0.0, 0.251, 5e-4)
    rise = np.full(2, radians(30) if goes else -radians(30))
    chips = Chips(np.zeros(1), 5e-4, 9 * depth[None] ** 1.5, np.array([-1.0, 1.0]), rise)
    return IceLaws(
        s,
        stiffness=np.full_like(s, 13.5e9),
        crushing=np.full_like(s, 20e6 * TUBE.outer_diameter),
        toughness=np.full_like(s, toughness),
        spall=5e-3,
        thread_stiffness=4.5e9,
        thread_limit=8e6 * pi * TUBE.outer_diameter,
        thread_softening=2e-3,
        cone_load=cone,
        cone_softening=5e-3,
        toe_stiffness=1.5e8,
        toe_limit=4.5e3,
        chips=chips,
    )
