"""The pull as it goes on: a frame of the GIF for each that is kept, small and quick, with events by name."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from PIL import Image
from studystub import SHAPES, made_up_record, settings_of

from icecone.studies.figures.moving_pull import Movie, moving_picture
from icecone.studies.files.solution import write_extra
from icecone.studies.outcome.data import Outcome, known
from icecone.studies.outcome.models import MODELS
from icecone.studies.scene import scene_of


def pulled(**given: Any) -> Outcome:
    """Three frames of a tube that leans away: ice goes, the cone comes, metal yields; invented."""
    case = settings_of({"placement__angle_deg": -20, **given})
    rest = scene_of(made_up_record(case)).frames[0]
    m, s = len(rest.s), rest.s - 10.0
    shapes = {
        **SHAPES,
        "x_mm": [(rest.x + k * np.clip(60.0 - rest.s, 0, None) * 0.1).tolist() for k in range(3)],
        "z_mm": [rest.z.tolist()] * 3,
        "s_mm": s.tolist(),
        "bearing_N_per_mm": [[0.0] * m, [50.0] * m, [-20.0] * m],
        "yielded": [[0] * (m - 1), [0] * (m - 1), [1] * 10 + [0] * (m - 11)],
        "gone_mm": [[0.0] * m, [0.0] * m, np.where((s >= 0) & (s < 9), 9.0, 0.0).tolist()],
    }
    return made_up_record(case, peak={"shapes": shapes})


@pytest.fixture(scope="module")
def movie() -> Movie:
    return Movie(pulled())


def test_a_frame_for_each_that_is_kept(tmp_path: Path) -> None:
    """Three frames that differ, the peak's and the last longer than others; the file is small."""
    path = tmp_path / "moving_pull.gif"
    assert moving_picture(pulled(), path) == ""
    with Image.open(path) as found:
        assert found.n_frames == 3 and found.size[0] > 1000 and path.stat().st_size < 200_000
        seen, stays = [], []
        for k in range(3):
            found.seek(k)
            seen.append(np.asarray(found.convert("RGB")).astype(int))
            stays.append(found.info["duration"])
    assert stays == [900, 900, 2500]
    assert all(np.abs(a - b).sum() > 0 for a, b in pairwise(seen))


def test_what_a_frame_shows(movie: Movie) -> None:
    """The mark is on the curve at its load; events so far by name; limit and caution; movement and turn."""
    movie.draw(0)
    assert not movie.list.texts
    movie.draw(2)
    (event,) = [text.get_text() for text in movie.list.texts]
    assert event == "peak: 4.0 kN at 3.0 mm"
    mark = next(line for line in movie.curve.lines if line.get_marker() == "o")
    assert (mark.get_xdata()[0], mark.get_ydata()[0]) == (6.0, 2.0)
    assert "6.0 mm, 2.0 kN; head turned by 9°" in movie.tube.get_title()
    assert any("cone has come" in text.get_text() for text in movie.tube.texts)
    assert "Never trust a life" in movie.figure._supxlabel.get_text()
    assert movie.figure._suptitle.get_text().startswith("limit ")


def test_ice_that_is_gone_is_a_notch(movie: Movie) -> None:
    """On the last frame the ice's line has a corner on the wall, as deep as the law's trench, and rises from there."""
    corners = []
    for k in (0, 2):
        movie.draw(k)
        x, z = (np.array(of) for of in movie.tube.lines[0].get_data())
        corners.append([(a, b) for a, b in zip(x, z, strict=True) if -60.0 < b < -0.1])
    assert corners[0] == []
    ((x, z),) = corners[1]
    assert z == pytest.approx(-9.0 * np.cos(np.radians(20.0)))
    assert x == pytest.approx(8.5 / np.cos(np.radians(20.0)) - z * np.tan(np.radians(20.0)))


def test_it_is_made_if_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a pull alone; the other models have none."""
    model = replace(MODELS["peak"], extra=())
    monkeypatch.setitem(MODELS, "peak", model)
    assert write_extra(pulled(), tmp_path) == [] and not list(tmp_path.iterdir())
    assert write_extra(pulled(), tmp_path, moving=True) == []
    assert "moving_pull.gif" in {path.name for path in tmp_path.iterdir()}
    assert not MODELS["cone"].moving and not MODELS["onset"].moving


def test_an_mp4_stands_beside_it_where_there_is_an_encoder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With an encoder that takes frames: as long as the GIF. One that fails is said, the GIF stays."""
    taken: list[Any] = []

    def write_frames(path: str, size: tuple[int, int], fps: int, macro_block_size: int) -> Iterator[None]:
        assert size[0] % macro_block_size == 0 and size[1] % macro_block_size == 0
        while True:
            frame = yield
            if frame is None:
                continue
            taken.append(frame)
            Path(path).write_bytes(b"film")

    encoder = ModuleType("imageio_ffmpeg")
    monkeypatch.setitem(sys.modules, "imageio_ffmpeg", encoder)
    vars(encoder).update(write_frames=write_frames)
    assert moving_picture(pulled(), tmp_path / "a.gif") == ""
    assert (tmp_path / "a.mp4").read_bytes() == b"film" and len(taken) == 9 + 9 + 25

    def fails(*arguments: Any, **more: Any) -> None:
        raise OSError("no codec")

    vars(encoder).update(write_frames=fails)
    assert moving_picture(pulled(), tmp_path / "b.gif") == "b.mp4: not written, the encoder fails: no codec"
    assert (tmp_path / "b.gif").exists() and not (tmp_path / "b.mp4").exists()


@pytest.mark.slow
def test_eighty_frames_are_small(tmp_path: Path) -> None:
    """At most 3 MB of as many frames as an outcome keeps."""
    outcome = pulled()
    peak = known(outcome.peak)
    n = 80
    which = np.minimum(np.arange(n) * 3 // n, 2)
    shapes = {name: [getattr(peak.shapes, name)[k] for k in which] for name in ("z_mm", "bearing_N_per_mm", "yielded")}
    shapes |= {name: [getattr(peak.shapes, name)[k] for k in which] for name in ("gone_mm", "cone", "held_node")}
    shapes["x_mm"] = [(np.array(peak.shapes.x_mm[0]) + 0.2 * k).tolist() for k in range(n)]
    curve = np.linspace(0.0, 6.0, n)
    made = {"shapes": {**SHAPES, **shapes, "step": list(range(n)), "s_mm": list(peak.shapes.s_mm)}}
    made |= {"displacement_mm": curve.tolist(), "load_kN": np.sin(curve / 3).tolist(), "head_rotation_deg": [0.0] * n}
    moving_picture(made_up_record(outcome.case, peak=made), tmp_path / "many.gif")
    assert (tmp_path / "many.gif").stat().st_size < 3e6
