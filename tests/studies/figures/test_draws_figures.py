"""Pictures of draws and of a day, on made-up numbers: no word is cut, a load has its unit, a name is at its mark."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from field_samples import inline, made_up, made_up_peak_kN
from matplotlib.axes import Axes
from matplotlib.text import Annotation
from rich.console import Console
from text_boxes import text_faults

from icecone.studies.case.file import settings_from
from icecone.studies.field.compare import compare
from icecone.studies.field.plan import plan_day
from icecone.studies.field.predict import Prediction, predict
from icecone.studies.field.rig import read_rig
from icecone.studies.field.table import Row
from icecone.studies.figures.comparison import one_to_one
from icecone.studies.figures.day_plan import plan_figure
from icecone.studies.figures.spread import drives_figure, spread_figure
from icecone.studies.outcome import wanted
from icecone.studies.sweep.spread import Place, Spread
from icecone.studies.sweep.statistics import Drive, Known

ANGLE, SHIFT = "placement.angle_deg", "assumed.chip_border_shift_deg"
INPUTS = (SHIFT, "ice.K_IC_kPa_sqrt_m", "assumed.crushing_share", "assumed.loose_ice_gone_mm")
LOADS = ("limit", "peak", "early")
NEAR = 40.0  # points from a mark to its name, or a line leads there


def place(angle: float) -> Place:
    """Made-up draws: five percentiles of each load, one mode, and what each input does."""
    told = tuple(Known(load, load - 0.5, load + 0.5) for load in (3.0, 4.0, 6.0, 8.0, 10.0))
    driven = tuple(Drive(key, Known(-0.7, -0.8, -0.6), Known(0.6, 0.5, 0.7), 150) for key in INPUTS)
    modes = {"lever-out": Known(0.6, 0.5, 0.7), "hanger": Known(0.4, 0.3, 0.5)}
    return Place((angle,), dict.fromkeys(LOADS, told), modes, dict.fromkeys(LOADS, driven), 150, 0)


SPREAD = Spread(
    "an invented spread", settings_from({}), (ANGLE,), INPUTS, LOADS, tuple(map(place, (-20.0, -5.0, 20.0)))
)


@pytest.fixture
def made_up_pulls(monkeypatch: pytest.MonkeyPatch) -> None:
    """No pull is solved: plans rest on made-up ones, in this process."""
    monkeypatch.setattr("icecone.studies.field.predict.workers", inline)
    monkeypatch.setattr("icecone.studies.files.records.law_changed", lambda files: "")
    monkeypatch.setattr(
        wanted, "solve_wanted", lambda settings, want, say: (made_up(settings, made_up_peak_kN(settings)), {})
    )


def test_no_word_is_cut_in_the_pictures_of_draws() -> None:
    hairline = {name: [4.0, 5.0, 9.0] for name in LOADS}
    for figure in (drives_figure(SPREAD, None), spread_figure(SPREAD, hairline, None)):
        assert text_faults(figure) == []


def test_what_the_rig_can_take_is_written_with_its_unit_over_the_lines(made_up_pulls: None, tmp_path: Path) -> None:
    """Each on paper of its own, so that no other line strikes it out."""
    rows = [Row(name, 2, {ANGLE: angle}) for name, angle in (("a1", -20.0), ("b1", 20.0))]
    with (tmp_path / "said").open("w") as said:
        found = predict(rows, tmp_path / "out", Console(file=said), 20, 1)
    figure = plan_figure(plan_day("a day", found, read_rig(None, ()), 20, 1), None)
    ends = [text for text in figure.axes[0].texts if "cell ends" in text.get_text() or "haul" in text.get_text()]
    assert len(ends) == 2 and all(text.get_text().strip().endswith(" kN") for text in ends)
    assert all(text.get_bbox_patch() is not None for text in figure.axes[0].texts) and text_faults(figure) == []


def test_a_name_in_a_comparison_stands_at_its_mark_or_a_line_leads_to_it() -> None:
    """Three marks close together: each name is nearest to its own, or tied to it."""
    pairs = [prediction(name, *loads) for name, *loads in (("a_pull", 9.8, 9.2), ("b_pull", 10.4, 12.5), ("c", 3.9, 6))]
    found = compare("invented.csv", pairs, "peak", 101, 1)
    figure = one_to_one(found, None)
    names = [each for each in figure.axes[0].texts if isinstance(each, Annotation) and each.get_text()]
    assert {each.get_text() for each in names} == {"a_pull", "b_pull", "c"}
    for each in names:
        away = np.hypot(*each.xyann)
        assert away < NEAR and (each.arrow_patch is not None or _is_nearest(figure.axes[0], each, names))


def _is_nearest(axes: Axes, name: Annotation, names: list[Annotation]) -> bool:
    at = axes.transData.transform([each.xy for each in names])
    own = at[names.index(name)]
    gaps = np.hypot(*(at - own - np.array(name.xyann) * axes.figure.dpi / 72).T)
    return bool(gaps.argmin() == names.index(name))


def prediction(name: str, peak: float, median: float) -> Prediction:
    """A row whose draws lie evenly in the log about a median."""
    draws = tuple({"peak_kN": median * float(np.exp(0.5 * k)), "peak_mode": "cone"} for k in np.linspace(-1, 1, 101))
    plain = {"peak_kN": median, "peak_mode": "cone"}
    row = Row(name, 2, {ANGLE: 0.0}, peak_kN=peak, mode="lever-out")
    return Prediction(row, settings_from({}), (), "", plain, draws, {SHIFT: np.linspace(0, 1, 101)})
