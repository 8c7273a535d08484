"""The chain as drawn: a row an angle, each step with the number of its outcome."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from studystub import EVENT, changed, peak_record

from icecone.studies.figures import chain
from icecone.studies.figures.section import axis_of
from icecone.studies.outcome.data import Outcome


def at(angle: float, peak: float, mode: str, hinge: float | None, goes: float, stays: float) -> Outcome:
    """An outcome with a band of its peak."""
    band = {"goes": {"peak": goes}, "stays": {"peak": stays}}
    s, lean = np.array([-10.0, 0.0, 60.0, 130.0]), np.radians(angle)
    nodes = {"s_mm": s, "x_mm": -s * np.sin(lean), "z_mm": -s * np.cos(lean), "bearing_N_per_mm": [0.0, 9.0, 5.0, -9.0]}
    event = {**EVENT, **{name: list(each) for name, each in nodes.items()}, "held_node": 0}
    event |= {"moment_Nm": [0.0] * 3, "plastic_strain": [0.0] * 3}
    return changed(peak_record(peak, mode, hinge, placement__angle_deg=angle), peak={"band": band, "events": [event]})


AWAY = at(-20, 4.1, "lever-out", None, 4.1, 8.3)
UPRIGHT = at(0, 9.4, "tube bends", 7.2, 3.5, 9.4)


def test_each_step_has_the_number_of_its_outcome() -> None:
    figure = chain.chain_figure([AWAY, UPRIGHT], None, {})
    assert len(figure.axes) == 2 * len(chain.STEPS)
    said = [" ".join(text.get_text() for text in axes.texts) for axes in figure.axes]
    away, upright = said[:5], said[5:]
    for words, parts in zip(
        (*away, *upright),
        (
            ("2.0 MPa per kN", "out of the ice"),
            (f"{AWAY.onset_kN:.2f} kN", "tension"),
            ("chips come out", "4.1 kN", "8.3 kN if none did"),
            ("no hinge", "5° as a lever"),
            ("4.1 kN", "lever-out"),
            ("2.0 MPa per kN", "along the surface"),
            (f"{UPRIGHT.onset_kN:.2f} kN", "tension"),
            ("chips stay", "9.4 kN", "3.5 kN if all came out"),
            ("hinge at 7.2 kN",),
            ("9.4 kN", "tube bends"),
        ),
        strict=True,
    ):
        assert all(part in words for part in parts), words
    assert "4.1 kN at −20°, 9.4 kN at 0°" in figure.get_suptitle()


def test_a_tube_that_levers_out_is_turned_on_about_where_no_ice_pushes() -> None:
    """Dashed, toward the pull, by the angle that is stated."""
    panel = chain.chain_figure([AWAY, UPRIGHT], None, {}).axes[4]
    (outline,) = [patch for patch in panel.patches if patch.get_linestyle() not in ("-", "solid")]
    head, tip, tip_behind, head_behind = outline.get_xy()[:4]
    event = next(event for event in AWAY.the_peak.events if event.name == "peak")
    bent = axis_of(event, AWAY.case)
    before = np.arctan2(bent.x[0] - bent.x[-1], bent.z[0] - bent.z[-1])
    after = np.arctan2(*(0.5 * (head + head_behind - tip - tip_behind)))
    assert np.degrees(after - before) == pytest.approx(chain.TURNED)


def test_of_many_angles_a_few_rows_and_of_one_none(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    rows: list[list[float]] = []

    def note(outcomes: Sequence[Outcome], path: Path) -> None:
        rows.append([each.case["placement.angle_deg"] for each in outcomes])

    monkeypatch.setattr(chain, "chain_figure", note)
    (tmp_path / "chain.png").touch()
    many = [at(angle, 5.0, "rope", None, 4.0, 5.0) for angle in range(30, -31, -5)]
    chain.chain_of_study(many, tmp_path / "chain.png")
    chain.chain_of_study([UPRIGHT], tmp_path / "chain.png")
    assert rows == [[-30, -15, 0, 15, 30]] and not (tmp_path / "chain.png").exists()
