"""Each assumption changed by a tenth changes every outcome that its table says it moves, in some case."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, wraps
from pathlib import Path

import numpy as np
import pytest

from icecone.fem.case import Case
from icecone.fem.chip.body import chip_body
from icecone.fem.chip.growth import chip_shapes, mesh_size, open_chip
from icecone.fem.laws.gather import peak_laws
from icecone.fem.laws.recipes import TUBE, Inputs, Law, Recipe
from icecone.fem.onset.criterion import find_onset
from icecone.fem.onset.solve import solve_onset
from icecone.fem.onset.wall_lines import WallLines
from icecone.fem.solid.stress import StressField
from icecone.fem.tube.peak import pull_case
from icecone.geometry.half_model import build_half_model
from icecone.geometry.layers import Resolution
from icecone.geometry.placement import Placement
from icecone.materials import assumptions
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.files.laws import file_name, kept_law
from icecone.studies.outcome.hand import hand_loads

Settings = dict[str, float | str]
TENTH = 0.1
SEEN = 1e-4  # of an outcome: what takes another way through the same numbers moves it by less than 1e-6
COARSE = Resolution(sectors=8, ring=0.003, mouth=0.004, tip=0.008, growth=1.0, deep=0.04)

SHORT: Settings = {"placement.angle_deg": -8, "placement.embedment_mm": 50, "assumed.fallen_share": 0.8}
AWAY: Settings = {"placement.angle_deg": -20}
OUT: Settings = {"pull.direction_deg": 90}
STRIPS = OUT | {"ice.deviator_cap_MPa": 8, "ice.K_IC_kPa_sqrt_m": 200, "ice.compressive_MPa": 4}
BENDS: Settings = {"tube.metal": "aluminium_alloy"}

slow = pytest.mark.slow
ROWS: dict[tuple[str, str], Settings] = {
    ("crushing_share", "peak"): {"ice.compressive_MPa": 1.5},
    ("thread_shear_share", "peak"): STRIPS,
    ("chip_friction", "peak"): AWAY,
    ("steel_friction", "peak"): {"placement.angle_deg": 20},
    ("sliding_ratio", "onset"): {},
    ("sliding_ratio", "peak"): AWAY,
    ("loose_ice_gone_mm", "peak"): SHORT,
    ("chip_border_shift_deg", "peak"): {"placement.angle_deg": -6},
    ("thread_softening_pitches", "peak"): STRIPS,
    ("thread_softening_pitches", "curve"): STRIPS,
    ("cone_softening_pitches", "curve"): OUT,
    ("strain_limit_share", "peak"): BENDS,
    ("buckling_factor", "wrinkle"): BENDS,
    ("fallen_share", "peak"): {"placement.angle_deg": -10, "assumed.fallen_share": 0.37},
    ("fallen_share", "curve"): AWAY,
    ("headed_stud_factor", "hand"): OUT,
}
SLOW = {("fallen_share", "peak")}


@pytest.fixture(autouse=True)
def shipped_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ICECONE_LAWS", str(tmp_path))


def shipped(name: str, inputs: Inputs, recipe: Recipe) -> Law:
    """The shipped law; of chips with another friction or ratio the shipped one, stronger in proportion (a stand-in)."""
    own = {"friction": 0.5, "sliding_ratio": 1.3}

    @wraps(recipe)  # of its code
    def refuse(inputs: Inputs) -> Law:
        raise AssertionError(f"law {file_name(name, inputs)} is not shipped for {dict(inputs)}")

    if name != "chip":
        return kept_law(name, inputs, refuse)
    law = kept_law(name, dict(inputs) | own, refuse)
    stronger = float(np.prod([inputs[key] / value for key, value in own.items()]))
    return {**law, "force_per_K": [stronger * force for force in law["force_per_K"]]}


def case_of(settings: Settings) -> Case:
    return to_case(settings_from(settings))


def onset(settings: Settings) -> float:
    """Of a stand-in for a solved field: pressed evenly where the ice meets the hole, falling off with the distance."""
    case = case_of(settings)
    model = build_half_model(case.tube, Placement(0.0, 0.05), level=COARSE)
    elements = np.concatenate([model.regions["ice"], model.regions["crust"]])
    nodes = model.mesh.doflocs[:, model.mesh.dofs.element_dofs[:, elements].T]
    stress = np.zeros((*nodes.shape[1:], 6))
    stress[..., 2] = -2e5 * (1 - (np.hypot(nodes[0], nodes[1]) - case.tube.radius) / 0.03)
    field = StressField(elements, stress)
    return find_onset(WallLines(model, field), case.ice, case.ice, case.assumed.sliding_ratio).load_factor


@cache
def outcomes(items: tuple[tuple[str, float | str], ...]) -> dict[str, float]:
    """Of a pull on shipped laws: peak, how far the curve goes, where the wall wrinkles, the headed stud by hand."""
    case = case_of(dict(items))
    laws = peak_laws(case, shipped)
    pull = pull_case(case, laws)
    hand = hand_loads(case, laws).get("headed stud's cone", 0.0)
    curve, wrinkle = float(pull.displacement[-1]), pull.wrinkle or 0.0
    return {"peak": pull.peak, "curve": curve, "wrinkle": wrinkle, "hand": hand}


def outcome(what: str, settings: Settings) -> float:
    return onset(settings) if what == "onset" else outcomes(tuple(settings.items()))[what]


def changed(name: str, settings: Settings) -> Settings:
    """The same case with a tenth more of an assumption, or less where more is not allowed; of 0 deg a degree."""
    now, key = float(settings_from(settings)[f"assumed.{name}"]), f"assumed.{name}"
    return settings | {key: (1 + TENTH) * now or 10 * TENTH}


def test_every_move_that_the_table_states_is_tried() -> None:
    assert set(ROWS) == {(name, what) for name, each in assumptions().items() for what in each.moves}


@pytest.mark.parametrize(
    ("name", "what"), [pytest.param(*row, marks=slow) if row in SLOW else row for row in ROWS], ids=lambda word: word
)
def test_a_tenth_more_is_seen(name: str, what: str) -> None:
    settings = ROWS[name, what]
    assert abs(outcome(what, changed(name, settings)) / outcome(what, settings) - 1) > SEEN


def test_only_chips_have_assumptions_among_the_inputs_of_a_kept_law() -> None:
    """With all others at the end of their range every law is still the shipped one."""
    asked: set[str] = set()

    def note(name: str, inputs: Inputs, recipe: Recipe) -> Law:
        asked.add(file_name(name, inputs))
        return shipped(name, inputs, recipe)

    peak_laws(case_of({}), note)
    before, asked = asked, set()
    others = {name: each for name, each in assumptions().items() if name not in ("chip_friction", "sliding_ratio")}
    peak_laws(case_of({f"assumed.{name}": each.number.low for name, each in others.items()}), note)
    assert asked == before
    peak_laws(case_of({"assumed.chip_friction": 0.4}), note)
    assert {name for name in asked - before} and all(name.startswith("chip-") for name in asked - before)


@pytest.mark.slow
def test_a_real_chip_bears_more_with_more_friction_and_a_tougher_slide() -> None:
    """The steepest of 20 mm, upright, which slides: in proportion to the toughness of sliding at most."""
    case, shape = case_of({}), chip_shapes(0.0, 0.02)[0]
    body = chip_body(TUBE, 0.0, case.ice, shape, mesh_size("quick", shape.start))
    loads = {}
    for name in ("sliding_ratio", "chip_friction"):
        for settings in ({}, changed(name, {})):
            assumed = case_of(settings).assumed
            growth = open_chip(body, body.load(), assumed.chip_friction)
            loads[name, bool(settings)] = growth.peak(assumed.sliding_ratio)
        assert 1 + SEEN < loads[name, True] / loads[name, False] < 1 + TENTH + 1e-9


@pytest.mark.slow
def test_the_onset_of_a_solved_case_takes_its_own_sliding_ratio() -> None:
    """Upright shear decides: a tenth more toughness of sliding is an onset up to a tenth higher."""
    case = replace(case_of({}), level=COARSE)
    first, second = (
        solve_onset(replace(case, assumed=case_of(settings).assumed)) for settings in ({}, changed("sliding_ratio", {}))
    )
    assert first.onset.mode == "shear"
    assert 1 + SEEN < second.onset_load / first.onset_load < 1 + TENTH + 1e-3
