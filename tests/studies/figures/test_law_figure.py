"""The law of the wall as drawn: the chip that comes out, the crack that dives, the push in the titles."""

from __future__ import annotations

from dataclasses import replace
from math import radians
from pathlib import Path

import numpy as np
import pytest
from samples import FLUSH, chipping_laws, settings
from studystub import made_up_record

from icecone.fem.case import Case
from icecone.fem.errors import SolveError
from icecone.fem.laws.ice_laws import IceLaws
from icecone.studies.figures import law as lawfigure


@pytest.fixture(autouse=True)
def made_up_laws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cracks rise by 30 deg where the head leans away by 20, dive by 30 where it leans toward the push by 20."""
    laws = chipping_laws(FLUSH, toughness=0.1e6)
    assert laws.chips is not None
    chips = replace(laws.chips, turns=np.radians([-20.0, 20.0]), rise=np.radians([30.0, -30.0]))

    def made_up(case: Case, keep: object) -> IceLaws:
        return replace(laws, chips=chips, spall=2e-3)

    monkeypatch.setattr(lawfigure, "peak_laws", made_up)


def titles(angles: list[float]) -> list[str]:
    figure = lawfigure.law_figure(settings(), None, angles)
    return [axes.get_title() for axes in figure.axes]


def test_titles_say_what_the_push_comes_to() -> None:
    """K_IC f(d) = 0.1e6 9 d^1.5 = 7.2 kN starts a chip at every angle; where it goes, less is left."""
    away, toward, *_ = titles([-20.0, 20.0])
    assert away.startswith("20° away: 7.1 kN, then ") or away.startswith("20° away: 7.2 kN, then ")
    assert float(away.rpartition(" ")[2]) < 7
    assert toward == "20° toward: 7.2 kN, stays"


def test_the_words_in_the_ice_say_where_the_crack_goes() -> None:
    figure = lawfigure.law_figure(settings(), None, [-20.0, 20.0])
    told = [{text.get_text() for text in axes.texts} for axes in figure.axes[:2]]
    assert "gone" in told[0] and "gone" not in told[1]
    assert "the crack dives,\nthe ice stays" in told[1]


def test_a_study_draws_the_angles_nearest_to_those_that_teach(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[list[float]] = []
    monkeypatch.setattr(lawfigure, "law_figure", lambda case, path, angles: drawn.append(angles))
    cases = [made_up_record({"placement.angle_deg": float(angle)}) for angle in (-30, -15, 2, 30)]
    lawfigure.law_of_study(cases, tmp_path / "law.png")
    lawfigure.law_of_study(cases[2:3], tmp_path / "law.png")
    assert drawn == [[-15.0, 2.0, 30.0], [2.0]]


def test_a_wall_without_chips_is_drawn_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lawfigure, "peak_laws", lambda case, keep: replace(chipping_laws(FLUSH), chips=None))
    lawfigure.law_figure(settings(), tmp_path / "law.png", [radians(0)])
    assert (tmp_path / "law.png").read_bytes().startswith(b"\x89PNG")


def test_a_law_that_does_not_come_out_leaves_no_picture(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(case: Case, keep: object) -> IceLaws:
        raise SolveError("no law")

    monkeypatch.setattr(lawfigure, "peak_laws", none)
    path = tmp_path / "law.png"
    path.write_bytes(b"of before")
    lawfigure.law_of_study([made_up_record(settings())], path)
    assert not path.exists()
