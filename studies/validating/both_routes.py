"""Pulls by both routes to the peak: the beam on the ice's laws, and sharp cracks opened in turn round the tube.

The routes share the beam, the families of surfaces and the assumed strengths (`validation.discrete_cracks.ring_tube`);
what they do not share: springs with laws along the wall against one elastic body, prescribed pressures in the laws
against pressures found, a law for the cone's load under a push against the crack itself, and which ice goes: a law
against each chip's own growth and contact.

Of each curve also two early loads, which hang on no stop: the largest within one diameter of movement, and the first
from which the load falls by DROP.
`two_routes` keeps outcomes, `routes_figure` draws them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from time import perf_counter
from typing import Any

import numpy as np

from ...fem.laws.gather import peak_laws
from ...fem.tube.peak import Peak, solve_peak
from ...validation.discrete_cracks.pull import CrackPull, least_pull
from ..case.file import settings_from, to_case
from ..files.laws import UsedLaws

Record = dict[str, Any]
Say = Callable[[str], None]
DROP = 0.05  # of the largest load so far: a smaller fall hides in the noise of a load cell
BEYOND, AT_LEAST = 1.25, 0.02  # the second route's way: this many times the first's to its peak, and so many metres
TIED = {"placement.attachment": "tied_off"}
CASES: Mapping[str, Mapping[str, Any]] = {
    "straight out, 130 mm in": {"pull.direction_deg": 90},
    "straight out, 65 mm in": {"pull.direction_deg": 90, "placement.embedment_mm": 65},
    "leaning 20° away, flush": {"placement.angle_deg": -20},
    "upright, flush": {},
    "leaning 20° toward, flush": {"placement.angle_deg": 20},
    "70 mm in, at the eye": {"placement.embedment_mm": 70},
    "70 mm in, tied off": {"placement.embedment_mm": 70} | TIED,
    "40 mm in, at the eye": {"placement.embedment_mm": 40},
    "40 mm in, tied off": {"placement.embedment_mm": 40} | TIED,
    "tube of 210 mm, flush": {"tube.length_mm": 210},
    "leaning 15° away, flush": {"placement.angle_deg": -15},
    "leaning 10° away, flush": {"placement.angle_deg": -10},
    "leaning 5° away, flush": {"placement.angle_deg": -5},
    "leaning 10° toward, flush": {"placement.angle_deg": 10},
}


def pull_both(name: str, say: Say = lambda words: None) -> Record:
    """One of CASES by both routes.

    Raises KeyError for an unknown case, ValueError and fem.errors.SolveError as the routes do.
    """
    settings = settings_from(dict(CASES[name]))
    case = to_case(settings)
    start, laws = perf_counter(), UsedLaws(say)
    first = solve_peak(case, peak_laws(case, laws))
    middle = perf_counter()
    at = next(event.displacement for event in first.pull.events if event.name == "peak")
    second = least_pull(case, max(BEYOND * at, AT_LEAST))
    seconds = [middle - start, perf_counter() - middle]
    found = {**_first(first, case.tube.outer_diameter), **_second(second, case.tube.outer_diameter)}
    return {"name": name, "case": dict(CASES[name]), "seconds": seconds, "laws": laws.digests, **found}


def early_loads(displacement: np.ndarray, load: np.ndarray, diameter: float) -> Record:
    """Of a curve (n,) [m], [N]: the largest within a diameter [m], and the first that falls by DROP, else the last."""
    largest = np.maximum.accumulate(load)
    fallen = np.flatnonzero(load < (1 - DROP) * largest)
    before = largest[fallen[0]] if fallen.size else largest[-1]
    return {"early_kN": float(load[displacement <= diameter].max()) / 1e3, "first_drop_kN": float(before) / 1e3}


def _curve(displacement: np.ndarray, load: np.ndarray, diameter: float) -> Record:
    curve = {"displacement_mm": (1e3 * displacement).round(5).tolist(), "load_kN": (load / 1e3).round(5).tolist()}
    return curve | early_loads(displacement, load, diameter)


def _first(found: Peak, diameter: float) -> Record:
    pull = found.pull
    hinge = None if pull.first_hinge is None else pull.first_hinge / 1e3
    curve = _curve(pull.displacement, pull.load, diameter)
    return {"first": {"peak_kN": pull.peak / 1e3, "mode": pull.mode, "hinge_kN": hinge, **curve}}


def _second(pull: CrackPull, diameter: float) -> Record:
    hinge = None if pull.hinge is None else pull.hinge / 1e3
    events = [{"displacement_mm": 1e3 * at, "load_kN": load / 1e3, "name": name} for at, load, name in pull.events]
    gone = [{"displacement_mm": 1e3 * at, "depth_mm": 1e3 * deep, "side": side} for at, deep, side in pull.gone]
    curve = _curve(pull.displacement, pull.load, diameter)
    found = {"peak_kN": pull.peak / 1e3, "mode": pull.mode, "hinge_kN": hinge, "events": events, "gone": gone, **curve}
    return {"second": found}
