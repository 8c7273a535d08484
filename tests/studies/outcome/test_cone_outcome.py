"""The cone as written down and drawn: which route, fields with units, the surface, the fitted power, the words."""

from __future__ import annotations

import json
from math import pi
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest
from click.testing import CliRunner
from studystub import CONE, made_up_record
from studystub import STRAIGHT as STRAIGHT_CONE

from icecone.geometry.errors import MeshError
from icecone.studies.case.file import settings_from, to_case
from icecone.studies.command.main import main
from icecone.studies.figures.cone import cone_picture, peaks_figure
from icecone.studies.outcome import cone as conerecord
from icecone.studies.outcome.cautions import CONE_ALONE
from icecone.studies.outcome.cone import (
    cone_found,
    cone_surface,
    depth_and_breakout,
    rest_bears,
    runs_all_round,
    write_surface,
)
from icecone.studies.outcome.data import Outcome
from icecone.studies.words.answer import cone_words
from icecone.studies.words.cone import explain_cones, fitted_power

STRAIGHT = {"pull.direction_deg": 90.0}


def made_up(depth: float = 100.0, peak: float = 9.0) -> Outcome:
    """A straight cone of 45 deg, its crack followed half way: radii and loads made up."""
    r = np.array([0.0, 20.0, 40.0, 60.0])
    phi = np.linspace(-pi, pi, 9)
    surface = np.stack(
        np.broadcast_arrays(r[:, None] * np.cos(phi), r[:, None] * np.sin(phi), r[:, None] - depth), axis=2
    )
    settings = settings_from(
        {**STRAIGHT, "tube.length_mm": 250, "placement.embedment_mm": depth, "numerics.model": "cone"}
    )
    cone = {
        "route": conerecord.PATH,
        "length_mm": [28.0, 57.0, 85.0],
        "load_kN": [0.5 * peak, peak, 0.8 * peak],
        "thread_depths_mm": [depth, depth - 5, depth - 10],
        "surface_mm": surface.tolist(),
        "surface_load_kN": [None, 0.5 * peak, peak, 0.8 * peak],
    }
    named = {"cone_angle_deg": 45.0, "cone_depth_mm": depth, "cone_breakout_mm": depth}
    limit = {"limit_kN": min(peak, 10.0), "limit_mode": "cone" if peak < 10 else "hanger"}
    return made_up_record(dict(settings), peak_kN=peak, cone={**CONE, **STRAIGHT_CONE, **cone}, **named, **limit)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (STRAIGHT, True),
        ({}, False),
        ({**STRAIGHT, "placement.angle_deg": 5.0}, False),
        ({**STRAIGHT, "ice.crust_mm": 10.0}, False),
        ({**STRAIGHT, "ice.kind": "dense_waterfall", "ice.column_tilt_deg": 20.0}, False),
    ],
)
def test_only_what_is_alike_all_round_goes_by_the_section(given: dict[str, Any], expected: bool) -> None:
    assert runs_all_round(to_case(settings_from(given))) is expected


def test_the_surface_is_that_of_the_cone_and_carries_the_load_that_opens_it(tmp_path: Path) -> None:
    """Area of a 45 deg cone's side to r = 60 mm, here of a pyramid with eight sides; loads front by front."""
    write_surface(made_up(), tmp_path / "cone.vtu")
    mesh = meshio.read(tmp_path / "cone.vtu")
    corners = mesh.points[mesh.cells[0].data]
    assert corners.shape == (24, 4, 3)
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]), axis=1)
    edge, height = 2 * 60 * np.sin(pi / 8), np.hypot(60 * np.cos(pi / 8), 60)  # of each of eight triangles
    assert area.sum() == pytest.approx(8 * 0.5 * edge * height, rel=1e-9)
    assert mesh.cell_data["load_kN"][0].reshape(3, 8).tolist() == [[4.5] * 8, [9.0] * 8, [pytest.approx(7.2)] * 8]


def test_the_fitted_power_comes_back() -> None:
    """Peaks 0.02 h^1.5 give the power 1.5; two values, values too close, or words give none."""
    records = [made_up(h, 0.02 * h**1.5) for h in (50.0, 100.0, 200.0)]
    power, factor = fitted_power(records, "placement.embedment_mm") or (0.0, 0.0)
    assert power == pytest.approx(1.5, abs=1e-12) and factor == pytest.approx(0.02, rel=1e-9)
    assert fitted_power(records[:2], "placement.embedment_mm") is None
    assert fitted_power([made_up(h) for h in (100.0, 110.0, 120.0)], "placement.embedment_mm") is None
    assert fitted_power(records, "ice.kind") is None and fitted_power(records, "ice.temperature_C") is None
    words = explain_cones(records, "placement.embedment_mm")
    assert "power 1.50" in words and "7.07 kN" in words and "56.57 kN" in words and CONE_ALONE in words


def test_pictures_are_drawn(tmp_path: Path) -> None:
    cone_picture(made_up(), tmp_path / "cone.png")
    peaks_figure(
        [made_up(h, 0.02 * h**1.5) for h in (50.0, 100.0, 200.0)], "placement.embedment_mm", "t", tmp_path / "p.png"
    )
    for name in ("cone.png", "p.png"):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")


def test_a_cone_is_measured_on_the_side_that_the_pull_presses() -> None:
    """One that starts 30 mm deep and comes out 80 mm away on one side, 40 and 100 on the other; and its image."""
    back, front = [[-10, 0, -30], [-45, 0, -15]], [[10, 0, -40], [55, 0, -20]]
    surface = 1e-3 * np.array([[back[k], front[k], back[k]] for k in range(2)], float)
    image = surface[:, [1, 0, 1]] * [-1.0, 1.0, 1.0]
    assert depth_and_breakout(surface, 1) == depth_and_breakout(image, -1) == pytest.approx((0.040, 0.100))
    assert depth_and_breakout(surface, -1) == depth_and_breakout(image, 1) == pytest.approx((0.030, 0.080))


def test_a_cone_above_what_the_rest_bears_is_no_headline() -> None:
    """Of a hanger of 10 kN the cone of 72 kN does not come; one of 9 kN is the limit."""
    words = cone_words(made_up(peak=72.0))
    assert words.startswith("limit 10.0 kN: hanger, at its stated strength; the cone does not come")
    assert cone_words(made_up(peak=9.0)).startswith("limit 9.0 kN: cone, from thread 1 of 3")


def test_the_rest_bears_what_is_stated_and_what_strips_the_threads() -> None:
    """In shear the threads are not asked; straight out they strip at their limit over their length."""
    assert [rival.mode for rival in rest_bears(to_case(settings_from({})))] == ["hanger"]
    tied = settings_from({**STRAIGHT, "placement.attachment": "tied_off", "placement.sling_kN": 9})
    sling, threads = rest_bears(to_case(tied))
    assert (sling.mode, sling.load_kN, threads.mode) == ("sling", 9.0, "threads stripped")
    short = rest_bears(to_case({**tied, "tube.thread_length_mm": 32.5}))[1]
    assert short.load_kN == pytest.approx(threads.load_kN / 2, rel=1e-12)


def test_what_no_cone_can_be_meshed_for_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ValueError from below is bad input, with the route's own words."""

    def refuse(*_: object, **__: object) -> None:
        raise ValueError("embedment [m] = 0.03: must leave at least one thread in the ice")

    monkeypatch.setattr(conerecord, "solve_cone", refuse)
    with pytest.raises(MeshError, match=r"no cone for this placement: embedment \[m\] = 0.03"):
        cone_found(to_case(settings_from(STRAIGHT)))


@pytest.mark.slow
def test_solve_with_the_cone_model(tmp_path: Path) -> None:
    """Through the command: 60 mm in, straight out, quick. Peak above onset, cone.vtu and cone.png beside the rest."""
    case = tmp_path / "case.toml"
    case.write_text("[placement]\nembedment_mm = 60\n[pull]\ndirection_deg = 90\n[numerics]\nlevel = 'quick'\n")
    result = CliRunner().invoke(main, ["solve", str(case), "--model", "cone", "--out", str(tmp_path / "out")])
    assert result.exit_code == 0 and "peak of the ice's cone (kN)" in result.stdout
    record = json.loads((tmp_path / "out" / "outcome.json").read_text())
    assert record["case"]["numerics.model"] == "cone" and record["cone"]["route"] == conerecord.PATH
    assert 0 < record["cone"]["onset_kN"] < record["peak_kN"] == pytest.approx(max(record["cone"]["load_kN"]), rel=0.02)
    assert sum(record["cone"]["thread_shares"]) == pytest.approx(1, abs=1e-6)
    surface = cone_surface(Outcome.from_dict(record).the_cone)
    assert surface.points[:, 2].min() == pytest.approx(-record["cone_depth_mm"], abs=0.01)
    assert {path.name for path in (tmp_path / "out").iterdir()} >= {"cone.vtu", "cone.png", "stress.png", "fields.vtu"}
