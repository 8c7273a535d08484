"""The laws of a case's ice, gathered for the tube: each computed once for a tube, a stiffness and an angle, and kept.

    N_0, n     cone of the threads, alone and with a push     `pulloutlaw`   computed; scaled by K_IC of the ice
    kappa      stiffness of the wall                          `bearinglaw`   computed; scaled by E of the ice
    F(d)       chips in front and behind                      `chip`         computed; scaled by K_IC of the ice
    q, tau     crushing, stripping                            `bearinglaw`, `pulloutlaw`    assumed, from the strengths

Linear elastic fracture mechanics: N_0 / K_IC and F / K_IC depend on lengths and on ratios of stiffness, chips (ice
alone) on nu only. So laws are computed at rounded stiffnesses (E in powers of RATIO GPa, nu in steps of NU_STEP), with
probe strengths, at every ANGLE_STEP of the placement angle, with straight lines between the angles, and push and wall
for a tube that is REFERENCE deep: deeper down neither changes much.

Behind the tube the ice is as in front of one that leans the other way. In a crust each depth takes the crust's K_IC, E
and strength; the cone keeps those of the ice below.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import cos, degrees, floor, log, radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..geometry.placement import Placement
from ..materials import Ice
from ..materials.tensor import Transverse
from .bearinglaw import bearing_stiffness, crushing_limit, thread_stiffness, toe
from .case import Case
from .chip import chip_law, power_slope
from .icelaws import IceLaws
from .pulloutlaw import ConeLaw, PushLaw, cone_law, push_law, thread_limit

Array = NDArray[np.float64]
Law = dict[str, Any]
Keep = Callable[[str, int, Mapping[str, float], Callable[[], Law]], Law]
VERSIONS = {"cone": 1, "push": 1, "wall": 1, "chip": 1}
RATIO, NU_STEP, ANGLE_STEP = 2.0, 0.1, 10.0  # of E; of nu; deg
REFERENCE, STAND_OFF = 0.13, 0.01  # m in the ice and above it: the tube that push and wall are computed for
PROBE = (1e6, 1e5, 5e6)  # strength in tension [Pa], toughness [Pa m^0.5], strength in compression [Pa]: L = 3 mm
FRICTION = 0.3  # of ice on ice at the faces of a chip: between 0.1 and 0.7 with speed and cold (from memory)
SLIDING_RATIO = 1.3  # toughness of a sliding crack over K_IC: assumed, as in `criterion`
SAMPLES, NEAREST = 0.0025, 1e-5  # m, along the axis; the mouth's own, where a power below 1 would have no end


def compute(name: str, version: int, inputs: Mapping[str, float], make: Callable[[], Law]) -> Law:
    """A Keep that keeps nothing."""
    return make()


@dataclass(frozen=True, slots=True)
class PeakLaws:
    """What decides a peak. ice : handed to the tube, its cone without a push.  push : takes from the cone."""

    ice: IceLaws
    push: PushLaw


def peak_laws(case: Case, keep: Keep = compute) -> PeakLaws:
    """Laws for a case; `keep` returns a law by name, version and inputs, or makes it (`studies.lawstore`).

    Raises ValueError for a tube or angle that cannot be meshed, SolveError where a solve does not come out.
    """
    known = _Laws(case, keep)
    tube, ice, embedment = case.tube, case.ice, case.placement.embedment
    s = np.linspace(0.0, embedment, max(2, round(embedment / SAMPLES)) + 1)
    in_crust = s * cos(case.placement.angle) < case.crust - 1e-9

    def layered(of: Callable[[Ice], Array | float]) -> Array:
        return np.where(in_crust, of(case.crust_ice), of(ice)) + np.zeros_like(s)

    crushing = layered(lambda each: crushing_limit(tube, each))
    toughness = layered(lambda each: each.toughness)
    front, back = (np.minimum(crushing, known.chip(turn, s) * toughness) for turn in (1, -1))
    push = known.push()
    toe_stiffness, toe_limit = toe(tube, ice)
    threads = thread_limit(tube, ice)
    k_threads = thread_stiffness(tube, embedment, ice)
    laws = IceLaws(
        s=s,
        stiffness=layered(lambda each: known.kappa() * each.elastic.youngs_modulus),
        front_limit=front,
        back_limit=back,
        front_residual=front,
        back_residual=back,
        softening=tube.outer_diameter,
        thread_stiffness=k_threads,
        thread_limit=threads,
        thread_softening=tube.thread_pitch,
        cone_load=known.cone().load(embedment, ice.toughness),
        cone_softening=tube.thread_pitch,
        toe_stiffness=toe_stiffness,
        toe_limit=toe_limit,
    )
    return PeakLaws(laws, push)


class _Laws:
    """The kept laws of a case at its rounded stiffness, between the angles on either side of its own."""

    def __init__(self, case: Case, keep: Keep) -> None:
        E = 1e9 * RATIO ** round(log(case.ice.elastic.youngs_modulus / 1e9, RATIO))
        nu = round(NU_STEP * round(case.ice.elastic.poissons_ratio / NU_STEP), 6)
        ice = replace(case.ice, elastic=Transverse.isotropic(E, nu)).with_strengths(*PROBE)
        threads = min(case.tube.thread_length, REFERENCE)
        tube = replace(case.tube, length=REFERENCE + STAND_OFF, eye=STAND_OFF, thread_length=threads)
        placement = Placement(case.placement.angle, REFERENCE)
        self.case = replace(case, tube=tube, ice=ice, crust_ice=ice, crust=0.0, placement=placement)
        self._keep = keep
        metal = case.metal
        self._tube: dict[str, float] = {
            "od_mm": _mm(tube.outer_diameter),
            "wall_mm": _mm(tube.wall),
            "thread_length_mm": _mm(tube.thread_length),
            "thread_height_mm": _mm(tube.thread_height),
            "thread_pitch_mm": _mm(tube.thread_pitch),
            "metal_E_GPa": round(metal.youngs_modulus / 1e9, 6),
            "metal_nu": round(metal.poissons_ratio, 6),
            "ice_E_GPa": round(E / 1e9, 6),
            "ice_nu": round(nu, 6),
        }

    def cone(self) -> ConeLaw:
        elastic, metal = self.case.ice.elastic, self.case.metal

        def make() -> Law:
            ice = (elastic.youngs_modulus, elastic.poissons_ratio)
            law = cone_law(self.case.tube, ice, (metal.youngs_modulus, metal.poissons_ratio))
            return {"embedment_m": law.embedment.tolist(), "c": law.c.tolist(), "error": law.error}

        law = self._keep("cone", VERSIONS["cone"], self._tube, make)
        return ConeLaw(np.array(law["embedment_m"]), np.array(law["c"]), law["error"])

    def push(self) -> PushLaw:
        def make(case: Case) -> Law:
            law = push_law(case)
            return {"push": law.push.tolist(), "axial": law.axial.tolist()}

        law = self._between("push", make, self.case.placement.angle, self._tube)
        return PushLaw(law["push"], law["axial"])

    def kappa(self) -> float:
        def make(case: Case) -> Law:
            return {"kappa": [bearing_stiffness(case)]}

        law = self._between("wall", make, self.case.placement.angle, self._tube)
        return float(law["kappa"][0])

    def chip(self, side: int, s: Array) -> Array:
        """dF/ds / K_IC at distances s (m,) along the wall in front (side 1) or behind (-1) [m^0.5]."""

        def make(case: Case) -> Law:
            law = chip_law(case.tube, case.placement.angle, case.ice, FRICTION, sliding_ratio=SLIDING_RATIO)
            return {"depth_m": law.depth.tolist(), "force_per_K": (law.force / case.ice.toughness).tolist()}

        inputs = {name: self._tube[name] for name in ("od_mm", "ice_nu")}
        inputs |= {"friction": FRICTION, "sliding_ratio": SLIDING_RATIO}
        law = self._between("chip", make, side * self.case.placement.angle, inputs)
        return power_slope(law["depth_m"], law["force_per_K"], np.maximum(s, NEAREST))

    def _between(
        self, name: str, make: Callable[[Case], Law], angle: float, inputs: Mapping[str, float]
    ) -> dict[str, Array]:
        """A law of arrays at an angle [rad], on lines between the steps of the angle on either side."""
        place = degrees(angle) / ANGLE_STEP
        low = floor(place + 1e-9)
        share = max(place - low, 0.0)
        found = []
        for step in (low, low + 1)[: 1 if share < 1e-6 else 2]:
            turned = max(-45.0, min(45.0, step * ANGLE_STEP))
            case = replace(self.case, placement=replace(self.case.placement, angle=radians(turned)))
            named = {**inputs, "angle_deg": turned}
            found.append(self._keep(name, VERSIONS[name], named, lambda case=case: make(case)))  # type: ignore[misc]
        ends = [{key: np.array(values) for key, values in law.items()} for law in (found[0], found[-1])]
        return {key: (1 - share) * ends[0][key] + share * ends[1][key] for key in ends[0]}


def _mm(length: float) -> float:
    return round(length * 1e3, 4)
