"""Pushes of a pin: rows read, the law's two ends by hand, and what synthetic pushes settle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from icecone.fem.laws.gather import peak_laws
from icecone.fem.laws.recipes import RECIPES
from icecone.fem.tube.rigid_wall import crushing_total
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.case.toml import CaseError
from icecone.studies.field.pin_fit import SHARES
from icecone.studies.field.pin_push import (
    COLUMNS,
    Push,
    bearing_by_share,
    border_of_law_deg,
    pin_forces,
    read_pushes,
)
from icecone.studies.field.pin_words import settle_pushes
from icecone.studies.files.laws import kept_law

SEED = 9
ROW = {
    "id": "a",
    "angle_deg": "-20",
    "pin_diameter_mm": "20",
    "bearing_length_mm": "40",
    "rate_mm_per_s": "0.1",
    "temperature_C": "-5",
    "movement_mm": "60",
    "force_kN": "1.5",
    "chips": "came out",
    "K_IC_kPa_sqrt_m": "",
}
STAYS = Push("b", 0.0, 20.0, 40.0, 0.1, -5.0, 60.0, 1.0, "stayed")


def test_rows_become_pushes_and_pushes_not_made_are_left_out() -> None:
    empty = {**ROW, "id": "c", "force_kN": "", "chips": ""}
    (push,) = read_pushes([ROW, empty])
    assert push == Push("a", -20.0, 20.0, 40.0, 0.1, -5.0, 60.0, 1.5, "came out")
    assert set(ROW) == set(COLUMNS)
    assert read_pushes([{**ROW, "K_IC_kPa_sqrt_m": "95"}])[0].K_IC_kPa_sqrt_m == 95.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"angle_deg": "50"}, "push a: angle_deg = '50': must be a number between -45 and 45 deg"),
        ({"force_kN": "much"}, "push a: force_kN = 'much': must be a number between 0.001 and 1000 kN"),
        ({"force_kN": "nan"}, "push a: force_kN = 'nan': must be"),
        ({"force_kN": ""}, "push a: force_kN = '': must be"),
        ({"chips": "gone"}, 'push a: chips = \'gone\': must be one of "came out", "stayed", "none"'),
        ({"chips": ""}, "push a: chips = '': must be one of"),
        ({"K_IC_kPa_sqrt_m": "0"}, "push a: K_IC_kPa_sqrt_m = '0': must be a number between 2 and 500 kPa m^0.5"),
        ({"id": ""}, "row 1: id = '': must be given"),
    ],
)
def test_bad_rows_are_told_in_one_line(change: dict[str, str], words: str) -> None:
    with pytest.raises(CaseError) as told:
        read_pushes([{**ROW, **change}])
    assert str(told.value).startswith(words)


def test_an_id_stands_once() -> None:
    with pytest.raises(CaseError, match="row 2: id = 'a': must be given and must be unique"):
        read_pushes([ROW, ROW])


def test_crushing_by_hand_near_the_surface() -> None:
    """Upright over 5 mm of a 20 mm pin: N rises on a line from N_0 to N(3 radii), its mean is that at 2.5 mm."""
    push = replace(STAYS, bearing_length_mm=5.0)
    ice = to_case(settings_from({"ice.temperature_C": -5.0})).ice
    inputs = {
        "cap_over_compressive": 2.5,
        "confinement_slope": 3.0,
        "tensile_over_compressive": 0.2,
        "face_friction": 0.1,
    }
    at_surface = kept_law("crushing_surface", {"angle_deg": 0.0, **inputs}, RECIPES["crushing_surface"])["factor"]
    deep = kept_law("crushing", inputs, RECIPES["crushing"])["factor"][0]
    mean = at_surface + (deep - at_surface) * 2.5 / 30.0
    assert pin_forces(push).crushing_kN == pytest.approx(
        1e-3 * ice.compressive_strength * mean * 0.020 * 0.005, rel=1e-2
    )


def test_a_chips_start_bounds_ice_that_stays_and_ice_that_goes_bears_next_to_nothing() -> None:
    """K_IC f(d) over the bearing length of an upright pin; the trench has eaten the wall after 60 mm."""
    found = pin_forces(STAYS)
    laws = peak_laws(to_case(settings_from({"tube.od_mm": 20.0})), kept_law)
    assert laws.chips is not None
    start = float(laws.toughness[0] * laws.chips.start(np.array([0.040]), np.array([0.0]))[0])
    assert found.stays_kN == pytest.approx(1e-3 * start, rel=0.02) and found.stays_kN < found.crushing_kN
    assert found.goes_kN < 0.01 * found.stays_kN
    assert found.per_length == pytest.approx(
        [1e3 * each / 40 for each in (found.goes_kN, found.stays_kN, found.crushing_kN)]
    )


def test_measured_toughness_moves_the_start_of_a_chip() -> None:
    """In proportion: half of K_IC, half of what ice bears whose chips start."""
    one, half = (pin_forces(replace(STAYS, K_IC_kPa_sqrt_m=K)).stays_kN for K in (80.0, 40.0))
    assert half == pytest.approx(0.5 * one, rel=0.02)


def test_bearing_by_share_is_the_law_at_each_share() -> None:
    """With no chip in proportion to the share; with chips the same until a chip starts, then bounded."""
    none, stays = (bearing_by_share(replace(STAYS, chips=chips)) for chips in ("none", "stayed"))
    assert none == pytest.approx(SHARES * none[0] / SHARES[0])
    k = int(np.abs(SHARES - 1.0).argmin())
    assert stays[k] == pytest.approx(pin_forces(STAYS, share=float(SHARES[k])).stays_kN)
    assert stays[0] == pytest.approx(none[0], rel=1e-6) and stays[-1] < 0.3 * none[-1]
    case = to_case(settings_from({"tube.od_mm": 20.0}))
    assert none[k] / SHARES[k] == pytest.approx(1e-3 * crushing_total(peak_laws(case, kept_law), 0.0, 0.040))


def test_the_laws_border_is_where_rises_change_sign() -> None:
    """Between the steps of -5 and -2 deg, nearer to -5: 0.69 over 10.0 of three degrees."""
    assert border_of_law_deg() == pytest.approx(-5.0 + 3.0 * 0.6876 / (0.6876 + 9.3289), abs=1e-3)


def synthetic(shares: dict[float, float], border: float, width: float, number: int, chips: str = "") -> list[Push]:
    """Pushes by the law at these shares by rate, a thin pin, noise of a tenth; chips drawn, or all alike."""
    random, made = np.random.default_rng(SEED), []
    for rate, share in shares.items():
        for angle in (-20.0, -10.0, 0.0, 10.0, 20.0):
            for k in range(number):
                out = random.random() < 1 / (1 + np.exp(np.clip((angle - border) / width, -500.0, 500.0)))
                seen = chips or ("came out" if out else "stayed")
                push = Push(f"{rate}:{angle}:{k}", angle, 12.0, 30.0, rate, -5.0, 60.0, 1.0, seen)  # type: ignore[arg-type]
                ends = pin_forces(push, share=share)
                force = max(ends.goes_kN, 0.05) if seen == "came out" else ends.stays_kN
                made.append(replace(push, force_kN=float(force * np.exp(0.1 * random.normal()))))
    return made


def test_known_values_are_found_again() -> None:
    """Shares of 0.55 and 0.77 at two rates, a border at -2 deg: each interval holds its truth, and the rate matters."""
    found = settle_pushes(synthetic({0.1: 0.55, 10.0: 0.77}, -2.0, 4.0, 8))
    for rate, truth in ((0.1, 0.55), (10.0, 0.77)):
        fit = found.shares[rate]
        assert fit is not None and fit.low < truth < fit.high and fit.high / fit.low < 1.4
    assert found.ratio is not None and found.ratio.low < 1.4 < found.ratio.high and found.ratio.low > 1.0
    assert found.border.kind == "fitted" and found.border.low < -2.0 < found.border.high
    text = "\n".join(found.words)
    assert "the rate matters" in text and "assumed.chip_border_shift_deg" in text
    assert "assumed.crushing_share" in text and "inside the range taken so far, 0.4 to 1.6" in text


def test_ends_hold_where_film_and_force_agree() -> None:
    """A thick pin in ice as computed: out and weak at -20 deg, in and strong at +20; film against force at 0."""
    away, toward = (replace(STAYS, id=str(angle), angle_deg=angle) for angle in (-20.0, 20.0))
    pushes = [replace(away, chips="came out", force_kN=0.05)]
    pushes += [replace(toward, chips="stayed", force_kN=pin_forces(toward).stays_kN)]
    pushes += [replace(STAYS, chips="came out", force_kN=pin_forces(STAYS).stays_kN)]
    words = settle_pushes(pushes).words
    assert words[0].startswith("−20°: 1 of 1 push came out") and words[0].endswith("goes holds.")
    assert words[1].startswith("Upright") and words[1].endswith("film and force disagree, neither end holds.")
    assert words[2].startswith("+20°: 0 of 1 push came out") and words[2].endswith("stays holds.")


def test_separated_pushes_give_a_bracket_of_the_shift() -> None:
    pushes = synthetic({0.1: 0.6}, -5.0, 1e-6, 3)
    found = settle_pushes(pushes)
    assert found.border.kind == "bracket"
    law = border_of_law_deg()
    line = f"assumed.chip_border_shift_deg lies between {-10 - law:.1f} and {0 - law:.1f}"
    assert any(line in words and "bracket" in words for words in found.words)
    assert any(words.startswith("Rate: all pushes have one rate") for words in found.words)


def test_all_stay_and_crushing_without_any_chip() -> None:
    """No chip at any tilt: the border is below them all; the share is told by forces in proportion to it."""
    found = settle_pushes(synthetic({0.1: 0.6}, 0.0, 1.0, 3, chips="none"))
    fit = found.shares[0.1]
    assert found.border.kind == "all stayed" and fit is not None and fit.low < 0.6 < fit.high
    law = border_of_law_deg()
    assert any(
        f"it lies below -20.0 deg, assumed.chip_border_shift_deg is at most {-20 - law:.1f}" in w for w in found.words
    )


def test_strong_ice_bounds_the_share_from_below_alone() -> None:
    """At three times the computed crushing chips start first: only that the share is at least so much is told."""
    found = settle_pushes(synthetic({0.1: 3.0}, 0.0, 1.0, 3, chips="stayed"))
    assert any("assumed.crushing_share is at least" in words for words in found.words)


def test_too_few_pushes_say_so() -> None:
    found = settle_pushes([STAYS, replace(STAYS, id="c", rate_mm_per_s=5.0)])
    text = "\n".join(found.words)
    assert found.border.kind == "too few" and "2 pushes are too few, 3 are needed" in text
    assert "fewer than 3 pushes whose ice stayed" in text and "their ratio is not told" in text
    with pytest.raises(ValueError, match="one at least"):
        settle_pushes([])


def test_ends_that_are_alike_do_not_vote() -> None:
    """A short thin pin at +20 deg: its ice is crushed before a chip starts, so both ends bear the same."""
    push = replace(STAYS, angle_deg=20.0, pin_diameter_mm=12.0, bearing_length_mm=20.0)
    ends = pin_forces(push)
    assert ends.goes_kN == pytest.approx(ends.stays_kN)
    assert "force does not tell the ends apart" in settle_pushes([replace(push, force_kN=ends.stays_kN)]).words[0]
