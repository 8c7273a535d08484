"""A sling on the shank: when it slides, where it stops, what it leaves unchanged, and the work that it rubs away."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import atan, degrees, inf, radians

import numpy as np
import pytest
from samples import STEEL, UNBROKEN, case, chipping_laws, placed, tube_into

from icecone.fem.onset.solve import solve_onset
from icecone.fem.tube import equilibrium as tubestep
from icecone.fem.tube.equilibrium import unloaded
from icecone.fem.tube.peak import solve_peak
from icecone.fem.tube.pull import ENERGIES, TubePull, make_tube_model, solve_pull
from icecone.fem.tube.sliding import slide
from icecone.fem.tube.sling import wants
from icecone.geometry.placement import Placement, Pull, lever_arm, load_point
from icecone.studies.case.file import CaseError, settings_from, to_case

DEEP, STANDS = 0.15, 0.10  # m in the ice and above it
TUBE = tube_into(DEEP, STANDS)
LAWS = chipping_laws(DEEP, cone=17e3)


@cache
def pulled(placement: Placement, step: float = 2e-3, farthest: float = 0.25) -> TubePull:
    """A steel tube in that ice, of unlimited strain, pulled along the surface."""
    return solve_pull(TUBE, placement, Pull(0.0), LAWS, STEEL, 5e-3, step, farthest, UNBROKEN)


def tied(angle_deg: float = 0.0, friction: float = inf, height: float = 0.0) -> Placement:
    return placed(angle_deg, DEEP, "tied_off", sling_height=height, sling_friction=friction)


def events(pull: TubePull) -> list[str]:
    return [event.name for event in pull.events]


@pytest.mark.parametrize("friction", [0.1, 0.3])
@pytest.mark.parametrize("direction", [0.0, 0.3])
def test_a_sling_slides_where_the_rope_leans_more_than_friction_holds(friction: float, direction: float) -> None:
    """tan(angle of the rope from the tube's normal) > mu, a hundredth of a degree to either side of it."""
    up, down = (degrees(sign * atan(friction) - direction) for sign in (1, -1))
    for angle, way, slides in (
        (up - 0.01, -1, False),
        (up + 0.01, -1, True),
        (down + 0.01, 1, False),
        (down - 0.01, 1, True),
    ):
        model = make_tube_model(TUBE, tied(angle, friction, 0.04), Pull(direction), LAWS, STEEL)
        excess, toward = wants(model, unloaded(model))
        assert (excess > 0) == slides and toward == way


@pytest.mark.parametrize(("angle", "at_head"), [(20.0, True), (-20.0, False)])
def test_a_sling_stops_at_the_hanger_and_at_the_ice(angle: float, at_head: bool) -> None:
    """Unloaded and leaning by 20 deg: toward the pull up to node 0, away from it down to the node at the mouth."""
    model = make_tube_model(TUBE, tied(angle, 0.2, 0.04), Pull(0.0), LAWS, STEEL)
    passed = slide(model, unloaded(model))
    last, at = passed[-1]
    assert last.held == at.held == (0 if at_head else model.first) and wants(last, at)[0] == -1
    way = abs(model.beam.s[model.held] - model.beam.s[last.held]) * np.sin(radians(20))
    assert at.displacement == pytest.approx(way, rel=2e-2)  # the rope taken in, and what little the tube moves


@pytest.mark.parametrize("height", [0.0, 0.04])
def test_a_sling_that_does_not_slide_changes_nothing(height: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """A free shank above a rough sling against a hitch, balanced to 1e-12: curve and energies to 1e-9 of each."""
    monkeypatch.setattr(tubestep, "TOLERANCE", 1e-12)
    hitch, rough = (pulled(tied(0.0, friction, height), 5e-5, 1.1e-3) for friction in (inf, 5.0))
    assert "sling slides" not in events(rough) and len(hitch.load) == len(rough.load) > 20
    for name in ("displacement", "load", "energies"):
        one, other = getattr(rough, name), getattr(hitch, name)
        assert np.abs(one - other).max() < 1e-9 * np.abs(other).max(), name


def test_a_sling_at_the_hanger_pulls_as_the_eye_does() -> None:
    """Leaning toward the pull it goes up unloaded; from then on hinge and peak are those of the eye."""
    slid, eye = pulled(tied(20.0, 0.2)), pulled(placed(20.0, DEEP))
    assert events(slid)[:2] == ["sling slides", "sling at the hanger"]
    assert [slid.events[k].s[slid.events[k].held] for k in (0, 1)] == pytest.approx([0.0, -STANDS])
    assert slid.first_hinge == pytest.approx(eye.first_hinge, rel=1e-3)
    assert slid.peak == pytest.approx(eye.peak, rel=1e-3) and slid.mode == eye.mode


def test_an_upright_tube_in_shear_loses_its_sling_as_it_turns() -> None:
    """It holds until tan(turn) = mu; there the load falls; more friction holds more; the book stays closed."""
    found = {friction: pulled(tied(0.0, friction)) for friction in (0.2, 0.5)}
    for friction, pull in found.items():
        at = next(event for event in pull.events if event.name == "sling slides")
        k = int(np.flatnonzero((pull.displacement == at.displacement) & (pull.load == at.load))[0])
        assert pull.head_rotation[k] == pytest.approx(atan(friction), rel=5e-3)
        assert pull.load[k + 1] < pull.load[k] and "sling at the hanger" in events(pull)
        assert pull.mode == "sling slides" and pull.peak == at.load
        rubbed = pull.energies[:, ENERGIES.index("sling")]
        assert np.diff(rubbed).min() >= 0 and rubbed[-1] > 0.02 * pull.energies[-1, 0]
        assert pull.imbalance < 2e-3
    assert found[0.2].peak < found[0.5].peak < pulled(tied()).peak


def test_the_load_at_which_a_sling_slides_is_independent_of_the_step() -> None:
    """A fourth of the step, the same peak to 1e-3 and a smaller gap in the book."""
    coarse, fine = (pulled(tied(0.0, 0.2), step) for step in (2e-3, 5e-4))
    assert fine.peak == pytest.approx(coarse.peak, rel=1e-3) and fine.imbalance < coarse.imbalance


@pytest.mark.slow
def test_a_sling_that_slides_is_a_mode_with_a_rival() -> None:
    """Upright at mu = 0.2: barred by a hitch that holds, the next mode needs what the hitch's pull comes to."""
    of = {mu: case(tube=TUBE, placement=tied(0.0, mu), assumed=UNBROKEN) for mu in (0.2, inf)}
    slid, held = (solve_peak(each, LAWS) for each in of.values())
    assert slid.pull.mode == "sling slides" and slid.pull.peak < held.pull.peak
    assert (held.pull.largest.mode, held.pull.largest.load) in slid.rivals  # it rises on beyond the stop
    assert slid.rivals[0][1] > slid.pull.peak


@pytest.mark.slow
def test_onset_of_a_sling_at_the_eye_is_that_of_the_eye() -> None:
    """The same force on the same line: shares of front and back to 1e-3 by statics, onset to 2 %."""
    given = {"tube.length_mm": 140, "placement.embedment_mm": 70, "numerics.level": "quick"}
    sling = {"placement.attachment": "tied_off", "placement.sling_height_mm": 70}
    eye, tied_high = (solve_onset(to_case(settings_from({**given, **more}))) for more in ({}, sling))
    assert tied_high.shares.front == pytest.approx(eye.shares.front, rel=1e-3)
    assert tied_high.onset_load == pytest.approx(eye.onset_load, rel=2e-2)


def test_a_sling_at_a_height_has_its_lever_arm() -> None:
    """Halfway up the load enters there, and the hinge comes sooner than at the ice; at the eye's height as there."""
    half = tied(0.0, inf, 0.05)
    assert lever_arm(TUBE, half) == 0.05 and load_point(TUBE, half) == pytest.approx([0, 0, 0.05])
    first = [pulled(tied(0.0, inf, height)).first_hinge or 0.0 for height in (0.0, 0.05, STANDS)]
    assert first[0] > first[1] > first[2]
    assert first[2] == pytest.approx(pulled(Placement(0.0, DEEP)).first_hinge, rel=1e-9)
    with pytest.raises(ValueError, match=r"sling_height \[m\] = 0.11: must lie between 0 and 0.1"):
        lever_arm(TUBE, tied(0.0, inf, 0.11))
    with pytest.raises(ValueError, match="sling_height"):
        Placement(0.0, DEEP, "eye", sling_height=0.01)
    with pytest.raises(ValueError, match="sling_friction = -1"):
        tied(0.0, -1.0)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"placement.sling_height_mm": 50}, "placement.sling_height_mm = 50: must be a number between 0 and 40 mm"),
        (
            {"placement.sling_friction": -1},
            'placement.sling_friction = -1: must be a number between 0 and 5, or "fixed"',
        ),
        ({"placement.sling_friction": 0.2, "placement.attachment": "eye"}, "placement.sling_friction = 0.2: must be"),
        ({"placement.sling_height_mm": 5, "placement.attachment": "eye"}, "placement.sling_height_mm = 5: must be 0"),
    ],
)
def test_a_sling_out_of_place_is_told_by_key(given: dict[str, object], message: str) -> None:
    """Above the eye, without a coefficient, or where there is no sling."""
    base = {"placement.attachment": "tied_off", "placement.embedment_mm": 100}
    with pytest.raises(CaseError) as caught:
        settings_from({**base, **given})
    assert str(caught.value).startswith(message) and "\n" not in str(caught.value)


def test_the_sling_in_a_case_file() -> None:
    """Height in mm to m; a friction, or a hitch that holds."""
    base = {"placement.attachment": "tied_off", "placement.embedment_mm": 100}
    placement = to_case(
        settings_from({**base, "placement.sling_height_mm": 30, "placement.sling_friction": 0.2})
    ).placement
    assert (placement.sling_height, placement.sling_friction) == (pytest.approx(0.03), 0.2)
    assert to_case(settings_from(base)).placement == replace(placement, sling_height=0.0, sling_friction=inf)
