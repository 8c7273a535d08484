"""The pull as it goes on: the tube in the plane of the pull beside the load curve, a GIF of the frames that are kept.

    frame k      tube with thread, hanger and yielded metal; force of ice on tube; ice gone; a cone that has come
    curve        load over movement of the load point, gone through so far; the mark moves; events by name as they come

The first frame and those of events stay longer. All frames share one set of at most COLOURS colours. Where the package
imageio-ffmpeg is installed, an MP4 is written beside the GIF.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray
from PIL import Image

from ...fem.tube.modes import mode_named
from ..case.words import case_words
from ..files.store import write_atomic
from ..outcome.data import Outcome, known
from ..scene import Frame, axis_at, scene_of
from ..scene.cracks import trench_of
from ..scene.ice import Trench
from ..scene.tube import RING_HEIGHT, RING_WIDTH, ROPE_LENGTH, SLING, Stand
from ..words.answer import peak_words
from .style import (
    CONE,
    CURVE,
    ICE,
    INK,
    PRESSED,
    PULL,
    QUIET,
    SOLID,
    STEEL,
    YIELDED,
    heading,
    in_our_look,
    save,
    small_print,
    tidy,
)

Array = NDArray[np.float64]
SIZE, COLOURS = (11.5, 6.2), 96
RATE = 10  # frames a second of an MP4
SHOWN, EVENT_STAYS, END_STAYS = 110, 900, 2500  # ms a frame
ROWS = 5  # of the list of events
FORCE, ASPECT = 0.3, 1.1  # longest line of force over the embedment; width over height of what is seen, at least


@in_our_look
def moving_picture(outcome: Outcome, path: Path) -> str:
    """Write the pull as a GIF, atomically; "", or why there is no MP4 though there is an encoder."""
    movie = Movie(outcome)
    pictures = [Image.fromarray(picture) for picture in movie.pictures()]
    palette = _palette([pictures[k] for k in sorted({0, len(pictures) // 2, len(pictures) - 1})])
    first, *rest = [each.quantize(palette=palette, dither=Image.Dither.NONE) for each in pictures]
    buffer = io.BytesIO()
    first.save(
        buffer, "GIF", save_all=True, append_images=rest, duration=movie.durations, loop=0, optimize=False, disposal=1
    )
    write_atomic(path, buffer.getvalue())
    return _write_mp4(pictures, movie.durations, path.with_suffix(".mp4"))


def _palette(pictures: Sequence[Image.Image]) -> Image.Image:
    """The colours that these pictures have most of, as they are: no area changes its colour."""
    red, green, blue = np.concatenate([np.asarray(each).reshape(-1, 3) for each in pictures]).astype(int).T
    found, counts = np.unique(65536 * red + 256 * green + blue, return_counts=True)
    most = found[np.argsort(-counts, kind="stable")[:COLOURS]]
    palette = Image.new("P", (1, 1))
    palette.putpalette(np.stack([most >> 16, (most >> 8) & 255, most & 255], axis=1).astype(np.uint8).tobytes())
    return palette


def _write_mp4(pictures: Sequence[Image.Image], durations: Sequence[int], path: Path) -> str:
    """Beside the GIF, where the encoder is installed; why not if it fails."""
    try:
        import imageio_ffmpeg
    except ImportError:
        return ""
    with TemporaryDirectory() as scratch:
        part = Path(scratch) / path.name
        try:
            writer = imageio_ffmpeg.write_frames(str(part), pictures[0].size, fps=RATE, macro_block_size=2)
            writer.send(None)
            for picture, stays in zip(pictures, durations, strict=True):
                for _ in range(max(round(stays * RATE / 1000), 1)):
                    writer.send(np.ascontiguousarray(picture))
            writer.close()
            content = part.read_bytes()
        except (OSError, RuntimeError, StopIteration) as problem:
            why = (str(problem).splitlines() or [type(problem).__name__])[0]
            return f"{path.name}: not written, the encoder fails: {why}"
    write_atomic(path, content)
    return ""


class Movie:
    """The figure of a pull, drawn anew for each frame."""

    def __init__(self, outcome: Outcome) -> None:
        self.outcome, self.at = outcome, Stand.of(outcome.case)
        self.scene = scene_of(outcome)
        self.frames, self.trench = self.scene.frames, trench_of(outcome)
        self.most = max(float(np.abs(frame.bearing).max()) for frame in self.frames) or 1.0
        self.figure = Figure(figsize=SIZE, layout="constrained")
        FigureCanvasAgg(self.figure)
        grid = self.figure.add_gridspec(2, 2, width_ratios=(1.15, 1), height_ratios=(2.6, 1))
        places = (grid[:, 0], grid[0, 1], grid[1, 1])
        self.tube, self.curve, self.list = (self.figure.add_subplot(place) for place in places)
        self.list.set_axis_off()
        heading(self.figure, peak_words(outcome), 11.5)
        legend = (
            f"Blue: force of ice on tube, longest line {self.most:.0f} N per mm of tube. Red: yielded metal.\n"
            "A notch in the ice: chips that have gone, its slope by their law; which ones go is not settled."
        )
        small_print(self.figure, f"{legend}\n{case_words(outcome.case, outcome)}\n{known(outcome.peak).caution}")
        self._set_axes()
        save(self.figure, None)
        self.figure.canvas.draw()
        self.figure.set_layout_engine("none")  # where everything is by now: nothing jumps from frame to frame

    @property
    def durations(self) -> list[int]:
        """How long each frame stays [ms]."""
        found = [EVENT_STAYS if frame.event else SHOWN for frame in self.frames]
        found[0], found[-1] = EVENT_STAYS, END_STAYS
        return found

    def pictures(self) -> Iterator[NDArray[np.uint8]]:
        """Each frame as (rows, columns, 3)."""
        for k in range(len(self.frames)):
            self.draw(k)
            self.figure.canvas.draw()
            yield np.asarray(self.figure.canvas.buffer_rgba())[..., :3].copy()  # type: ignore[attr-defined]

    def draw(self, k: int) -> None:
        """Put frame k into the figure."""
        for axes in (self.tube, self.curve, self.list):
            for artist in (*axes.lines, *axes.patches, *axes.texts, *axes.collections):
                artist.remove()
        _draw_ice(self.tube, self.at, self._trench(self.frames[k]))
        _draw_tube(self.tube, self.at, self.frames[k], self.most)
        self._draw_rope(self.frames[k])
        self._draw_cone(self.frames[k])
        self._draw_curve(k)

    def _trench(self, frame: Frame) -> Trench | None:
        gone = float(frame.gone.max()) * float(np.cos(self.at.angle))
        return None if self.trench is None else replace(self.trench, depth=gone)

    def _set_axes(self) -> None:
        at, frames = self.at, self.frames
        x = np.concatenate([frame.x for frame in frames])
        z = np.concatenate([frame.z for frame in frames])
        beside = 2.2 * at.radius + FORCE * at.embedment
        low = min(float(z.min()), -1.12 * at.embedment) - 6.0
        up = max(ROPE_LENGTH * float(at.pull[2]), 3 * at.radius)
        high = max(float(z.max()), at.standing * float(at.axis[2])) + up + 6.0
        left, right = x.min() - beside, x.max() + max(beside, ROPE_LENGTH * float(at.pull[0]) + 12)
        more = max(0.5 * (ASPECT * (high - low) - (right - left)), 0.0)
        self.tube.set(xlim=(left - more, right + more), ylim=(low, high), aspect="equal")
        self.tube.set(xlabel="x, along the plane of the pull [mm]", ylabel="z, out of the ice [mm]")
        peak = known(self.outcome.peak)
        self.curve.set(xlim=(0, 1.03 * max(peak.displacement_mm)), ylim=(0, 1.12 * max(peak.load_kN)))
        self.curve.set(xlabel="movement of the load point [mm]", ylabel="pull [kN]")
        self.curve.set_title("load so far", fontsize=10)
        self.tube.set_title("0.0 mm, 0.0 kN", fontsize=10)
        tidy(self.curve)
        self.tube.spines[["top", "right"]].set_visible(False)

    def _draw_rope(self, frame: Frame) -> None:
        start = np.array([frame.x[frame.held], frame.z[frame.held]])
        end = start + ROPE_LENGTH * self.at.pull[[0, 2]]
        arrow = {"arrowstyle": "-|>", "color": PULL, "lw": 2.2, "shrinkA": 0}
        self.tube.annotate("", tuple(end), tuple(start), arrowprops=arrow, annotation_clip=False, zorder=7)
        if self.at.tied:
            band = frame.s[frame.held] + np.array([-SLING, SLING])
            self.tube.fill(*_outline(frame, band, np.full(2, self.at.radius + SLING)).T, color=PULL, lw=0, zorder=6)
        if start[1] < -SLING:
            words = "the groove that the rope cuts is not drawn"
            self.tube.text(0.01, 0.01, words, transform=self.tube.transAxes, fontsize=8.5, color=PULL)

    def _draw_cone(self, frame: Frame) -> None:
        part = self.scene.part("cone")
        if part is None or not frame.cone:
            return
        points = np.asarray(part.points, float)
        for side in (1, -1):
            line = points[(np.abs(points[:, 1]) < 1e-3) & (side * (points[:, 0] - self._middle(points)) > 0)]
            line = line[np.argsort(line[:, 2])]
            self.tube.plot(line[:, 0], line[:, 2], color=CONE, lw=2.0, zorder=2)
        words = "cone has come; drawn, its shape is not computed"
        self.tube.text(0.99, 0.01, words, transform=self.tube.transAxes, fontsize=8.5, color=CONE, ha="right")

    def _middle(self, points: Array) -> Array:
        return np.asarray(points[:, 2] * np.tan(self.at.angle))

    def _draw_curve(self, k: int) -> None:
        peak, step = known(self.outcome.peak), known(self.outcome.peak).shapes.step[k]
        moved, load = peak.displacement_mm[: step + 1], peak.load_kN[: step + 1]
        frame = self.frames[k]
        self.curve.plot(peak.displacement_mm, peak.load_kN, color=QUIET, lw=1.0, zorder=1)
        self.curve.plot(moved, load, color=CURVE, lw=2.0, zorder=2)
        self.curve.plot(frame.movement_mm, frame.load_kN, "o", ms=9, color=INK, mec="white", zorder=5)
        came = [each for each in self.frames[: k + 1] if each.event]
        for each in came:
            self.curve.plot(each.movement_mm, each.load_kN, "|", ms=12, color=INK, zorder=3)
        told = [f"{each.event}: {each.load_kN:.1f} kN at {each.movement_mm:.1f} mm" for each in came]
        style: dict[str, Any] = {"transform": self.list.transAxes, "fontsize": 8.5, "va": "top", "color": INK}
        for line, words in enumerate(told):
            weight = "bold" if came[line] is frame else "normal"
            self.list.text(0.5 * (line // ROWS), 0.98 - 0.2 * (line % ROWS), words, weight=weight, **style)
        limit = self.outcome.limit_kN
        if limit is not None and limit < 1.1 * max(peak.load_kN) and self.outcome.limit_mode != self.outcome.peak_mode:
            mode = mode_named(self.outcome.limit_mode)
            self.curve.axhline(limit, color=mode.colour, lw=1.4, ls="--", zorder=1)
            at, halo = (0.02 * max(peak.displacement_mm), limit), [withStroke(linewidth=2.5, foreground="white")]
            words = f"{mode.name} as stated, {limit:.1f} kN"
            self.curve.text(*at, words, fontsize=8.5, va="bottom", path_effects=halo, zorder=6)
        self.tube.set_title(
            f"{frame.movement_mm:.1f} mm, {frame.load_kN:.1f} kN; head turned by {abs(frame.head_rotation_deg):.0f}°",
            fontsize=10,
        )


def _draw_ice(axes: Axes, at: Stand, trench: Trench | None) -> None:
    """The ice in the plane of the pull, with the hole that the tube stood in and without what has gone."""
    (left, right), (low, _) = axes.get_xlim(), axes.get_ylim()
    behind, front = (_edge(at, side, trench) for side in (-1, 1))
    left, right = min(left, *behind[:, 0]), max(right, *front[:, 0])
    hole = at.place(np.array([[at.length, -at.radius, 0.0], [at.length, at.radius, 0.0]]))[:, [0, 2]]
    over = np.array([(left, 0.0), *behind[::-1], *hole, *front, (right, 0.0)])
    axes.fill(*np.array([(left, low), *over, (right, low)]).T, color=ICE, lw=0, zorder=0)
    axes.plot(*over.T, color=INK, lw=0.8, zorder=1)


def _edge(at: Stand, side: int, trench: Trench | None) -> Array:
    """The ice's surface beside the tube from the wall of the hole on, (n, 2): the mouth, or the floor of a trench."""
    x, lean = side * at.radius / float(np.cos(at.angle)), float(np.tan(at.angle))
    if trench is None or trench.side != side or trench.depth <= 0:
        return np.array([(x, 0.0)])
    bottom = x - trench.depth * lean
    return np.array([(bottom, -trench.depth), (bottom + side * trench.depth / np.tan(trench.rise), 0.0)])


def _draw_tube(axes: Axes, at: Stand, frame: Frame, most: float) -> None:
    """Body, thread, hanger, yielded metal, and the force of ice on tube."""
    along = np.linspace(0.0, at.length, 100)
    axes.fill(*_outline(frame, along, np.full(100, at.radius)).T, color=STEEL, lw=0, zorder=4)
    ring = np.array([-0.5 * RING_HEIGHT, 0.5 * RING_HEIGHT])
    axes.fill(*_outline(frame, ring, np.full(2, at.radius + RING_WIDTH)).T, color=INK, lw=0, zorder=6)
    for turn in np.arange(at.length - 0.5 * at.pitch, at.length - at.threaded, -at.pitch):
        for side, shift in ((1.0, 0.0), (-1.0, -0.5 * at.pitch)):  # half a turn on, the helix is on the other side
            foot = turn + shift + at.pitch * np.array([-0.3, -0.08, 0.08, 0.3])
            out = side * (at.radius + at.height * np.array([-0.1, 1.0, 1.0, -0.1]))
            axes.fill(*_beside(frame, foot, out).T, color=SOLID, lw=0, zorder=3)
    for k in np.flatnonzero(frame.yielded):
        axes.fill(*_outline(frame, frame.s[k : k + 2], np.full(2, at.radius)).T, color=YIELDED, lw=0, zorder=5)
    length = FORCE * at.embedment * frame.bearing / most
    for k in np.flatnonzero(np.abs(length) > 0.3):
        ends = np.sign(length[k]) * at.radius + np.array([0.0, length[k]])
        axes.plot(*_beside(frame, np.full(2, frame.s[k]), ends).T, color=PRESSED, lw=1.2, zorder=2.5)


def _beside(frame: Frame, along: Array, out: Array) -> Array:
    """Points (n, 2) off the axis, in the plane of the pull."""
    place, up = axis_at(frame, along)
    return place + out[:, None] * np.stack([up[:, 1], -up[:, 0]], axis=1)


def _outline(frame: Frame, along: Array, out: Array) -> Array:
    return np.concatenate([_beside(frame, along, out), _beside(frame, along[::-1], -out[::-1])])
