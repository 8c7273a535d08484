"""Parts switched off one at a time, and inputs over their ranges: what is asked for, tabled, drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import nan, radians
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from samples import FLUSH, case, chipping_laws, settings

import icecone
from icecone import why
from icecone.fem.case import Case
from icecone.fem.laws.ice_laws import IceLaws
from icecone.studies.case.file import Settings
from icecone.studies.sweep import parts as partsmodule
from icecone.studies.sweep import tornado as tornadomodule
from icecone.studies.sweep.parts import AS_IT_IS, SWITCHES, AngleParts, angle_parts, read_loads
from icecone.studies.sweep.tornado import drivers_of, tornado

OFF = {switch.name: switch.off for switch in SWITCHES}


def graded() -> IceLaws:
    """Chips that need more the farther the tube leans toward the push, and dive sooner."""
    laws = chipping_laws(FLUSH)
    assert laws.chips is not None
    angles = np.radians([-20.0, 0.0, 20.0])
    force = np.array([[0.5], [1.0], [2.0]]) * laws.chips.force
    return replace(laws, chips=replace(laws.chips, angles=angles, force=force, turns=angles, rise=-angles))


@pytest.mark.parametrize("angle_deg", [-20.0, 20.0])
def test_upright_thrust_is_that_of_the_upright_tube_at_every_angle(angle_deg: float) -> None:
    laws = graded()
    _, off = OFF["thrust as of the upright tube"](case(), laws)
    assert off.limit_at(radians(angle_deg)) == pytest.approx(off.limit_at(0.0))
    assert off.limit_at(0.0) == pytest.approx(laws.limit_at(0.0))
    assert laws.limit_at(radians(angle_deg)) != pytest.approx(laws.limit_at(0.0))


@pytest.mark.parametrize(("name", "share"), [("no ice lost", 0.0), ("every chip lost, at every angle", 1.0)])
def test_ice_stays_or_goes_at_every_angle(name: str, share: float) -> None:
    _, off = OFF[name](case(), graded())
    assert off.chips is not None
    for angle in (-0.3, 0.0, 0.3):
        assert off.chips.next(np.array([0.0, 0.02, 0.04]), 0.0, np.full(2, angle))[1] == pytest.approx(share)


def test_threads_and_hinge_go_with_their_switches() -> None:
    assert OFF["no threads"](case(), graded())[1].thread_limit == 0.0
    strong, _ = OFF["no hinge: metal without bound"](case(), graded())
    assert strong.metal.yield_strength > 100 * case().metal.yield_strength


def loads_by_angle(monkeypatch: pytest.MonkeyPatch, module: Any, load: Callable[[Settings], float]) -> None:
    def made_up(at: Settings, names: Sequence[str], change: object = None) -> dict[str, float]:
        return dict.fromkeys(names, load(at))

    monkeypatch.setattr(module, "read_loads", made_up)


def made_up_parts(monkeypatch: pytest.MonkeyPatch) -> AngleParts:
    """6 kN upright, 3 more at 30 deg toward; 1 less where steel has no friction."""

    def load(at: Settings) -> float:
        return 6.0 + 0.1 * float(at["placement.angle_deg"]) - (float(at["assumed.steel_friction"]) == 0)

    loads_by_angle(monkeypatch, partsmodule, load)
    return angle_parts(settings(), (-30.0, 0.0, 30.0))


def test_parts_are_told_as_ratios_to_the_upright_tube(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    parts = made_up_parts(monkeypatch)
    assert parts.ratio(AS_IT_IS, 30.0, "early") == pytest.approx(9 / 6)
    assert parts.ratio("no friction of steel", -30.0, "first_drop") == pytest.approx(2 / 5)
    lines = parts.table().splitlines()
    assert lines[2] == "| nothing | 3.00 | 6.00 | 9.00 | 0.50 | 1.50 | 3.00 | 6.00 | 9.00 | 0.50 | 1.50 |"
    assert "never trust" in lines[-1]
    figure = parts.plot(tmp_path / "parts.png")
    widths = [patch.get_width() for patch in figure.axes[0].patches]
    assert widths[: len(SWITCHES)] == pytest.approx([0.5] * (len(SWITCHES) - 1) + [0.4])
    assert (tmp_path / "parts.png").read_bytes().startswith(b"\x89PNG")


def test_a_pull_that_is_not_solved_is_no_number(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(one: Case, laws: IceLaws) -> None:
        raise icecone.SolveError("no end")

    monkeypatch.setattr(partsmodule, "peak_laws", lambda one, keep: graded())
    monkeypatch.setattr(partsmodule, "pull_case", fails)
    assert np.isnan(read_loads(settings(), ("early",))["early"])


def test_inputs_go_over_the_ranges_of_the_tables() -> None:
    """K_IC and strengths of the case's ice and metal, assumptions by their table."""
    found = {key: (low[key], high[key]) for low, high in (d.settings for d in drivers_of(settings())) for key in low}
    assert found["ice.K_IC_kPa_sqrt_m"] == (50, 150) and found["ice.compressive_MPa"] == (3.5, 15)
    assert found["tube.yield_MPa"] == (435, 980) and found["tube.ultimate_MPa"] == (670, 1040)
    number = icecone.assumptions()["crushing_share"].number
    assert found["assumed.crushing_share"] == (number.low, number.high)
    assert {key: drivers_of(settings(ice__kind="firn"))[0].settings[0][key] for key in ("ice.K_IC_kPa_sqrt_m",)} == {
        "ice.K_IC_kPa_sqrt_m": 40
    }


def test_a_tornado_puts_the_widest_input_on_top(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A load that K_IC moves by a half, friction of steel by a tenth; with the low end of crushing none is solved."""

    def load(at: Settings) -> float:
        if at["assumed.crushing_share"] == icecone.assumptions()["crushing_share"].number.low:
            return nan
        given = at["ice.K_IC_kPa_sqrt_m"]
        return 4.0 * (1 if given == "by_kind" else 0.5 if float(given) < 100 else 1.2) + float(
            at["assumed.steel_friction"]
        )

    loads_by_angle(monkeypatch, tornadomodule, load)
    found = tornado(settings(), (0.0,))
    (driver, low, high), second = found.ordered(0.0, "peak")[-1], found.ordered(0.0, "peak")[-2]
    assert "K_IC" in driver.name and (low, high) == pytest.approx((2.1, 4.9))
    assert "friction of steel" in second[0].name
    assert "| nan to 4.10 |" in found.table()
    figure = found.plot(tmp_path / "tornado.png")
    labels = [label.get_text().replace("\n", " ") for label in figure.axes[0].get_yticklabels()]
    assert labels[-1] == driver.name
    assert {"50", "150"} <= {text.get_text() for text in figure.axes[0].texts}


def test_both_are_asked_for_in_one_call(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (partsmodule, tornadomodule):
        loads_by_angle(monkeypatch, module, lambda at: float(at["placement.embedment_mm"]))
    assert why.angle_parts(embedment_mm=70).loads[AS_IT_IS][20.0]["early"] == 70
    assert why.tornado(icecone.Case(embedment_mm=60)).base[-20.0]["peak"] == 60
    with pytest.raises(icecone.CaseError, match="must be left out"):
        why.tornado(metal=icecone.metal("titanium_alloy", yield_strength=9e8))
