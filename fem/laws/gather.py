"""The laws of a case's ice, gathered for the tube: each computed once for a stiffness and an angle, and kept.

    N_0        cone of the threads alone               [N]      `laws.cone_load`  computed; scaled by K_IC of the ice
    g          what else on the wall drives the cone   [-]      `cone.fronts`     computed; over N_0
    kappa      stiffness of the wall                   [-]      `laws.wall`       computed; scaled by E of the ice
    F(d)       chips in front and behind               [N]      `chip.growth`     computed; scaled by K_IC of the ice
    a          rise of their cracks in front           [rad]    `chip.path`       computed, plane sections
    N          crushing over sigma_c                   [-]      `crushing`        computed; scaled by sigma_c of the ice
    tau        stripping                               [Pa]     `laws.threads`    assumed, from the strengths

By linear elastic fracture mechanics N_0 / K_IC and F / K_IC depend on lengths and on ratios of stiffness, chips and g
(ice alone) on nu only. So laws are computed at rounded stiffnesses (E in powers of RATIO GPa, nu in steps of NU_STEP),
with probe strengths, at STEPS of the angle, with straight lines between them, all for one tube (`recipes`):

    chips      of another diameter by similarity, F = lambda^1.5 F_TUBE(d / lambda): exact, but for the first crack
    cone       at the case's threaded length to LENGTH_STEP; tube, metal and pitch move c by up to 3 %
    fronts     of another diameter by similarity, on lines in log h between EMBEDMENTS; at -a as at a, back for front
    wall       REFERENCE deep; the diameter moves kappa by 6 %, aluminium by 16 % at a head that leans away

Limits: behind the tube the ice is as in front of one that leans the other way; a crust does not weaken the cone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from math import cos, degrees, log

import numpy as np
from numpy.typing import NDArray

from ...geometry.placement import facing
from ...materials import Ice, metal_named
from ..case import Case
from ..cone.demand import ConeFronts
from .cone_load import ConeLaw
from .crushing import Crushing, crushing_inputs, crushing_limit, crushing_of, stamp_pressure
from .ice_laws import IceLaws, Origin
from .recipes import RECIPES, REFERENCE, TUBE, Inputs, Law, Recipe
from .threads import thread_limit, thread_stiffness, toe
from .trench import Chips

Array = NDArray[np.float64]
Keep = Callable[[str, Inputs, Recipe], Law]
RATIO, NU_STEP = 2.0, 0.1  # of E; of nu
METAL = "chromoly_steel"
LENGTH_STEP = 0.005  # m
ANGLES = (-40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0)  # deg, of chips
TURNS = (-40.0, -30.0, -20.0, -15.0, -10.0, -7.0, -5.0, -2.0, 0.0, 5.0, 10.0)  # deg, of paths of cracks
STEPS = (-45.0, *ANGLES, 45.0)  # deg, of the placement: stiffness of the wall, fronts
EMBEDMENTS = (0.04, 0.06, 0.09, 0.14, 0.22)  # m, of TUBE, at which fronts of cones are computed
FORMULAS = "stiffness of threads and toe"
ASSUMED = ("stripping", "reach of crushing", "movement until chips are gone", "fall of cone and threads")
NONE = 1e-9
CHIP_STEP, DEEPEST = 5e-4, 0.25  # m, of the table of chips
SAMPLES, NEAREST = 0.0025, 1e-5  # m, along the axis; the mouth's own, where a power below 1 would have no end


def compute(name: str, inputs: Inputs, recipe: Recipe) -> Law:
    """A Keep that keeps nothing."""
    return recipe(inputs)


def peak_laws(case: Case, keep: Keep = compute) -> IceLaws:
    """Laws for a case, or for its mirror image if the pull presses its back (`geometry.placement.facing`).

    keep : returns a law by name and inputs, or makes it by its recipe (`studies.files.laws`).
    Raises ValueError for a tube or angle that cannot be meshed, SolveError if a solve does not come out.
    """
    placement, pull, _ = facing(case.placement, case.pull)
    case = replace(case, placement=placement, pull=pull)
    known = Laws(case, keep)
    tube, ice, embedment, assumed = case.tube, case.ice, case.placement.embedment, case.assumed
    s = np.linspace(0.0, embedment, max(2, round(embedment / SAMPLES)) + 1)
    in_crust = s * cos(case.placement.angle) < case.crust - 1e-9

    def layered(of: Callable[[Ice], Array | float]) -> Array:
        return np.where(in_crust, of(case.crust_ice), of(ice)) + np.zeros_like(s)

    angle, depth = case.placement.angle, s * cos(case.placement.angle)
    stamp = stamp_pressure(ice, assumed, known.crushing(ice))
    toe_stiffness, toe_limit = toe(tube, ice, stamp)
    threads = thread_limit(tube, ice, assumed, stamp)
    k_threads = thread_stiffness(tube, embedment, ice)
    return IceLaws(
        s=s,
        stiffness=layered(lambda each: known.kappa() * each.elastic.youngs_modulus),
        crushing=layered(lambda each: crushing_limit(tube, each, assumed, known.crushing(each), depth, angle)),
        toughness=layered(lambda each: each.toughness),
        spall=assumed.loose_ice_gone,
        friction=assumed.steel_friction,
        thread_stiffness=k_threads,
        thread_limit=threads,
        thread_softening=assumed.thread_softening * tube.thread_pitch,
        cone_load=known.cone().load(embedment, ice.toughness),
        cone_softening=assumed.cone_softening * tube.thread_pitch,
        toe_stiffness=toe_stiffness,
        toe_limit=toe_limit,
        chips=known.chips(),
        fronts=known.fronts(embedment, min(tube.thread_length, embedment)),
        origins=known.origins(),
    )


class Laws:
    """The kept laws of a case at its rounded stiffness, between the angles on either side of its own."""

    def __init__(self, case: Case, keep: Keep) -> None:
        E = RATIO ** round(log(case.ice.elastic.youngs_modulus / 1e9, RATIO))
        nu = NU_STEP * round(case.ice.elastic.poissons_ratio / NU_STEP)
        metal = metal_named(METAL)
        self._keep = keep
        self._angle = case.placement.angle
        self._shift = case.assumed.chip_border_shift
        self._scale = case.tube.outer_diameter / TUBE.outer_diameter
        threads = LENGTH_STEP * round(case.tube.thread_length / LENGTH_STEP)
        self._threaded = min(max(threads, LENGTH_STEP), REFERENCE)
        self._errors: dict[str, float] = {}
        self._ice: dict[str, float] = {"ice_E_GPa": round(E, 6), "ice_nu": round(nu, 6)}
        self._chips = {"friction": case.assumed.chip_friction, "sliding_ratio": case.assumed.sliding_ratio}
        self._metal = {"metal_E_GPa": round(metal.youngs_modulus / 1e9, 6), "metal_nu": metal.poissons_ratio}

    def cone(self) -> ConeLaw:
        """c [-] of the cone at the case's threaded length."""
        law = self._law("cone", {"thread_length_mm": round(self._threaded * 1e3, 4), **self._ice, **self._metal})
        self._errors["cone"] = law["error"]
        return ConeLaw(np.array(law["embedment_m"]), np.array(law["c"]), law["error"])

    def fronts(self, embedment: float, threaded: float) -> ConeFronts:
        """Fronts between the two angles and two embedments about the case's.

        Threads over `threaded` [m] from the tip.
        """
        h = log(min(max(embedment / self._scale, EMBEDMENTS[0]), EMBEDMENTS[-1]))
        deeper = min(max(int(np.searchsorted(np.log(EMBEDMENTS), h)), 1), len(EMBEDMENTS) - 1)
        low, high = np.log(EMBEDMENTS[deeper - 1 : deeper + 1])
        part = (h - low) / (high - low)
        weights, share = [], []
        for angle, of_angle in self._beside(self._angle):
            for place, of_depth in ((deeper - 1, 1 - part), (deeper, part)):
                if of_depth > NONE:
                    weights.append(self._front(angle, EMBEDMENTS[place]))
                    share.append(of_angle * of_depth)
        n = weights[0].shape[-1]
        fine = np.linspace(0.0, embedment, 1000 * (n - 1) + 1)
        hats = np.maximum(1 - np.abs(fine / embedment * (n - 1) - np.arange(n)[:, None]), 0.0)
        even = hats[:, fine >= embedment - threaded - NONE].sum(axis=1)
        return ConeFronts(np.array(weights), np.array(share)).scaled(even / even.sum())

    def _front(self, angle_deg: float, embedment: float) -> Array:
        """g at an angle [deg] and an embedment [m] of TUBE, over its largest value."""
        inputs = {"angle_deg": abs(angle_deg), "embedment_mm": round(embedment * 1e3, 4), "ice_nu": self._ice["ice_nu"]}
        law = self._law("fronts", inputs)
        self._errors["fronts"] = max(law["error"], self._errors.get("fronts", 0.0))
        g = _numbers(law["weights"]).reshape(law["shape"])
        if angle_deg < 0:  # seen from behind
            g = g[..., [1, 0, 2], :] * ((-1.0) ** np.arange(g.shape[3]))[:, None, None]
        return g

    def kappa(self) -> float:
        """kappa [-] of the wall of the hole at the case's angle."""
        law = self._between("wall", {**self._ice, **self._metal}, self._angle)
        self._errors["wall"] = law["error"]
        return law["kappa"]

    def crushing(self, ice: Ice) -> Crushing:
        """The factors of an ice's crushing."""
        found, self._errors["crushing"] = crushing_of(self._law, crushing_inputs(ice))
        return found

    def chips(self) -> Chips:
        """The table of chips at ANGLES, to DEEPEST."""
        force = []
        for angle_deg in ANGLES:
            law = self._law("chip", {"angle_deg": angle_deg, **self._chips, "ice_nu": self._ice["ice_nu"]})
            self._errors["chips"] = max(law["error"], self._errors.get("chips", 0.0))
            force.append(_chip_force(tuple(law["depth_m"]), tuple(law["force_per_K"]), self._scale))
        paths = [self._law("path", {"angle_deg": angle_deg}) for angle_deg in TURNS]
        self._errors["rise of chips"] = max(path["error"] for path in paths)
        turns, rise = (np.radians(each) for each in (TURNS, [path["rise_deg"] for path in paths]))
        return Chips(np.radians(ANGLES), CHIP_STEP, np.array(force), turns, rise, self._shift)

    def origins(self) -> tuple[Origin, ...]:
        """Origins of all laws, with the errors of those that have been asked for."""
        computed = [Origin(law, "computed", error) for law, error in self._errors.items()]
        return (*computed, Origin(FORMULAS, "published"), *(Origin(law, "assumed") for law in ASSUMED))

    def _law(self, name: str, inputs: Inputs) -> Law:
        return self._keep(name, inputs, RECIPES[name])

    def _between(self, name: str, inputs: Inputs, angle: float) -> dict[str, float]:
        """A law of numbers at an angle [rad], on lines between the steps of the angle on either side."""
        out: dict[str, float] = {}
        for turned, share in self._beside(angle):
            for key, value in self._law(name, {"angle_deg": turned, **inputs}).items():
                out[key] = out.get(key, 0.0) + share * value
        return out

    @staticmethod
    def _beside(angle: float) -> list[tuple[float, float]]:
        """The steps of the angle on either side of one [rad], in degrees, with the share of each."""
        place = degrees(angle)
        high = min(max(int(np.searchsorted(STEPS, place - 1e-5)), 1), len(STEPS) - 1)
        low, up = STEPS[high - 1], STEPS[high]
        share = min(max((place - low) / (up - low), 0.0), 1.0)
        return [(step, part) for step, part in ((low, 1 - share), (up, share)) if part > 1e-6]


@lru_cache(maxsize=64)
def _numbers(words: str) -> Array:
    """Numbers of a text, not to be written into."""
    found = np.array(words.split(), float)
    found.flags.writeable = False
    return found


@lru_cache(maxsize=256)
def _chip_force(depth: tuple[float, ...], force: tuple[float, ...], scale: float) -> Array:
    """F / K_IC of a law every CHIP_STEP to DEEPEST, of a tube so many times as wide; not to be written into."""
    at, d, f = np.arange(0.0, DEEPEST + CHIP_STEP, CHIP_STEP), scale * np.array(depth), scale**1.5 * np.array(force)
    found = np.minimum(at / d[0], 1.0) * power_at(d, f, np.maximum(at, d[0]))
    found.flags.writeable = False
    return found


def power_at(depth: Array, force: Array, at: Array) -> Array:
    """Powers through force (m,) at depth (m,), the first and the last going on beyond them, at `at` (n,)."""
    piece, n = _piece(depth, force, at)
    return np.asarray(force[piece] * (np.asarray(at) / depth[piece]) ** n)


def _piece(depth: Array, force: Array, at: Array | float) -> tuple[NDArray[np.int64], Array]:
    """Interval that holds `at`, and the power there; a depth of the law belongs to the interval above it."""
    piece = np.clip(np.searchsorted(depth, at) - 1, 0, depth.size - 2)
    return piece, (np.diff(np.log(force)) / np.diff(np.log(depth)))[piece]
