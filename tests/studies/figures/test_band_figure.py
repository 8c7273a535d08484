"""Loads with their band as drawn: both ends, the largest step named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from studystub import changed, peak_record

from icecone.studies.figures.band import SHOWN, band_figure, band_of_study, largest_step
from icecone.studies.outcome.data import Outcome

KEY = "placement.angle_deg"


def at(angle: float, load: float) -> Outcome:
    """Of made-up numbers: half of the load if every chip comes out, twice if none does."""
    band = {end: dict.fromkeys(SHOWN, share * load) for end, share in (("goes", 0.5), ("stays", 2.0))}
    made = peak_record(load, placement__angle_deg=angle)
    return changed(made, peak={"band": band}, early_kN=load, first_drop_kN=load, largest_kN=load)


def test_the_largest_step_is_over_the_lesser_load() -> None:
    """4 to 2: by all of 2; 2 to 5: by one and a half of 2."""
    step = largest_step([0.0, 1.0, 2.0], [4.0, 2.0, 5.0])
    assert (step.low, step.high) == (1.0, 2.0) and step.share == pytest.approx(1.5)


def test_the_band_is_drawn_in_order_of_the_key_and_its_step_is_named() -> None:
    figure = band_figure([at(10, 6.0), at(-10, 2.0), at(0, 4.0)], KEY, None)
    panel = figure.axes[SHOWN.index("peak")]
    lines = {line.get_label(): np.array(line.get_data(), float) for line in panel.lines}
    assert lines["predicted, at the marks"].tolist() == [[-10, 0, 10], [2, 4, 6]]
    assert lines["if every chip comes out"][1].tolist() == [1, 2, 3]
    assert lines["if none does"][1].tolist() == [4, 8, 12]
    assert "largest step: times 2, from −10 to 0°" in panel.get_title()


def test_nothing_is_drawn_of_one_angle_and_a_picture_of_before_goes(tmp_path: Path) -> None:
    path = tmp_path / "band.png"
    band_of_study([at(0, 4.0), at(10, 5.0)], path)
    assert path.read_bytes().startswith(b"\x89PNG")
    band_of_study([at(0, 4.0)], path)
    assert not path.exists()
