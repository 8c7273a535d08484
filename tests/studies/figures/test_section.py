"""The plane of the pull as drawn: axes of tubes, ice that is gone, the index of failure, labels beside points."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from studystub import EVENT
from text_boxes import text_faults

from icecone.fem.onset.solve import Solution
from icecone.studies.case.file import settings_from
from icecone.studies.figures.cuts import FINER, cut, read_fields
from icecone.studies.figures.failure import Shown, draw_section, draw_surface, window_of
from icecone.studies.figures.labels import place_labels
from icecone.studies.figures.section import AHEAD, axis_of, draw_hole, gone_mm, upright_axis
from icecone.studies.outcome.data import Outcome
from icecone.studies.outcome.results import Happened

CASE = dict(settings_from({"placement.angle_deg": -20}))
DEEP = float(CASE["placement.embedment_mm"])


def moved(bearing: tuple[float, ...], by: float) -> Happened:
    """Four nodes 10 mm apart from the mouth on, pushed square to the tube by so much [mm]."""
    s, angle = np.arange(4) * 10.0, radians(-20)
    x, z = -s * sin(angle) + by * cos(angle), -s * cos(angle) - by * sin(angle)
    event = Happened(**{**EVENT, "plastic_strain": (0.0,) * 3, "moment_Nm": (0.0,) * 3})
    return replace(event, s_mm=tuple(s), x_mm=tuple(x), z_mm=tuple(z), bearing_N_per_mm=bearing, held_node=0)


def test_the_axis_runs_from_the_head_to_the_tip_through_the_mouth() -> None:
    """Leaning away, the head stands behind the mouth and the front faces up and ahead."""
    axis = upright_axis(CASE)
    assert axis.at(0.0) == pytest.approx([0, 0], abs=1e-12)
    assert axis.at(DEEP) == pytest.approx([DEEP * sin(radians(20)), -DEEP * cos(radians(20))])
    assert axis.x[0] < 0 < axis.z[0] and axis.s[-1] - axis.s[0] == pytest.approx(CASE["tube.length_mm"])
    assert axis.front[:, 0] == pytest.approx([cos(radians(20)), sin(radians(20))])


def test_what_stands_above_the_rope_goes_on_straight_to_the_head() -> None:
    """Nodes begin where a sling holds; the tube is drawn whole."""
    axis = axis_of(moved((0.0,) * 4, 0.0), CASE)
    assert axis.s[0] == pytest.approx(DEEP - CASE["tube.length_mm"])
    assert [axis.x[0], axis.z[0]] == pytest.approx(upright_axis(CASE).at(axis.s[0]))


def test_ice_is_gone_where_a_pushed_wall_bears_nothing() -> None:
    """From the mouth on; not where the tube has not moved, nor below ice that bears."""
    assert gone_mm(CASE, moved((0.0, 0.0, 5.0, 0.0), 1.0)) == 10.0
    assert gone_mm(CASE, moved((0.0, 0.0, 5.0, 0.0), 0.0)) == 0.0
    assert gone_mm(CASE, moved((5.0, 0.0, 0.0, 0.0), 1.0)) == 0.0


def test_a_trench_reaches_ahead_as_many_depths_as_is_said() -> None:
    axes = Figure().subplots()
    event = moved((0.0, 0.0, 5.0, 5.0), 1.0)
    draw_hole(axes, CASE, axis_of(event, CASE), 10.0)
    foot, lip = axes.lines[-1].get_xydata()
    assert lip[1] == 0 and lip[0] - foot[0] == pytest.approx(-AHEAD * foot[1])


def test_the_larger_index_is_the_criterions(solved: tuple[Outcome, Solution, Path]) -> None:
    """At the nodes of both layers index = 1 / load factor of the surface met first, which fields.vtu holds."""
    outcome, _, folder = solved
    fields = read_fields(folder / "fields.vtu")
    shown, ice = Shown(outcome, fields, 1.0), cut(fields, 1, ("ice", "crust"))
    nodes = [row * (FINER + 1) + column for row in (0, 2, 4) for column in (0, 2, 4)]
    at_nodes = np.isin(np.arange(ice.x.size) % (FINER + 1) ** 2, nodes)
    at_nodes &= np.abs(ice.y + outcome.case["ice.crust_mm"]) > 1e-3
    larger = np.maximum(shown.index("tension", ice), shown.index("shear", ice))
    assert larger[at_nodes] == pytest.approx(ice.sample(fields.data["criterion_index_per_kN"])[at_nodes], rel=1e-4)
    assert (outcome.onset_kN * larger).max() > 1


def test_star_and_ticks_lie_in_the_ice(solved: tuple[Outcome, Solution, Path]) -> None:
    """None in the bore, in the steel or above the surface; some ticks are there."""
    outcome, _, folder = solved
    shown = Shown(outcome, read_fields(folder / "fields.vtu"), outcome.onset_kN)
    lean, radius = radians(outcome.case["placement.angle_deg"]), 0.5 * outcome.case["tube.od_mm"]
    axes = Figure().subplots()
    draw_section(axes, shown, "tension", window_of(outcome))
    marks = [line.get_xydata() for line in axes.lines if line.get_zorder() in (3, 6)]
    assert len(marks) > 8
    for x, z in np.concatenate(marks):
        assert abs(x * cos(lean) - z * sin(lean)) > radius - 0.5 and z < 0.5
    above = Figure().subplots()
    draw_surface(above, shown, "tension")
    marks = [line.get_xydata() for line in above.lines if line.get_zorder() in (3, 6)]
    assert len(marks) > 8
    for x, y in np.concatenate(marks):
        assert np.hypot(x * cos(lean), y) > radius - 0.5


def test_labels_of_points_in_one_place_stand_apart() -> None:
    """Eight events at one load and movement, on a curve."""
    figure = Figure(layout="constrained")
    axes = figure.subplots()
    axes.plot([0, 1, 2], [0, 1, 0.5])
    place_labels(axes, ([1.0] * 8, [1.0] * 8), [str(number) for number in range(1, 9)])
    assert [text.get_text() for text in axes.texts] == [str(number) for number in range(1, 9)]
    assert text_faults(figure) == []
