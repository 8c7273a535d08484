"""Paths of chips as drawn."""

from __future__ import annotations

from math import degrees, radians
from pathlib import Path

import pytest
from studystub import made_up_record

from icecone.fem.chip.path import ChipPath, HoleWall, follow_chip
from icecone.fem.errors import SolveError
from icecone.studies.figures import chip_paths as chipfigure
from icecone.studies.figures.chip_paths import chip_figure
from icecone.validation.checks.fracture.chip_path import ICE


def test_the_figure_is_written_and_needs_a_growth(tmp_path: Path) -> None:
    short = [follow_chip(HoleWall(radians(angle), 0.04, ICE), -radians(angle), longest=0.2) for angle in (-20, 10)]
    chip_figure(short, tmp_path / "chips.png")
    assert (tmp_path / "chips.png").read_bytes().startswith(b"\x89PNG")
    with pytest.raises(ValueError, match="at least one"):
        chip_figure([], tmp_path / "none.png")


def test_an_angle_whose_crack_cannot_be_followed_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The others are drawn; where there is none, a picture of an earlier run goes."""
    made = follow_chip(HoleWall(radians(10), 0.04, ICE), -radians(10), longest=0.1)
    words: list[str] = []

    def one(hole: HoleWall) -> ChipPath:
        if hole.angle > 0:
            return made
        raise SolveError("no direction")

    monkeypatch.setattr(chipfigure, "follow_chip", one)
    monkeypatch.setattr(chipfigure, "grown_at", chipfigure.grown_at.__wrapped__)  # nothing kept of other tests
    monkeypatch.setattr(chipfigure, "small_print", lambda figure, text: words.append(text))
    ice = {"E_GPa": ICE[0] / 1e9, "nu": ICE[1]}
    cases = [made_up_record({"placement.angle_deg": angle}, ice=ice) for angle in (-20.0, 10.0)]
    chipfigure.chips_by_angle(cases, tmp_path / "chips.png")
    assert (tmp_path / "chips.png").exists() and words[0].endswith("No crack could be followed at -20°.")
    chipfigure.chips_by_angle(cases[:1], tmp_path / "chips.png")
    assert not (tmp_path / "chips.png").exists()


def test_of_many_angles_a_few_are_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 61 angles seven, both ends and upright among them: each takes seconds."""
    made = follow_chip(HoleWall(radians(10), 0.04, ICE), -radians(10), longest=0.1)
    followed: list[float] = []

    def one(hole: HoleWall) -> ChipPath:
        followed.append(round(degrees(hole.angle), 6))
        return made

    monkeypatch.setattr(chipfigure, "follow_chip", one)
    monkeypatch.setattr(chipfigure, "grown_at", chipfigure.grown_at.__wrapped__)  # nothing kept of other tests
    monkeypatch.setattr(chipfigure, "chip_figure", lambda *arguments: None)
    ice = {"E_GPa": ICE[0] / 1e9, "nu": ICE[1]}
    cases = [made_up_record({"placement.angle_deg": float(angle)}, ice=ice) for angle in range(-30, 31)]
    chipfigure.chips_by_angle(cases, tmp_path / "chips.png")
    assert followed == [-30, -20, -10, 0, 10, 20, 30]
