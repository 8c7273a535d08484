"""A case cut open in the plane of the pull: as it stands, its ice coloured by the failure index; and at the peak.

The surfaces are `studies.scene`'s, drawn by VTK (`figures.solid`), set into a matplotlib figure with title, scale,
labels and caution. Where VTK draws nothing, `NoRenderer` says why and there is no picture.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap, ListedColormap, to_hex
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from ..case.words import case_words
from ..outcome.cautions import own_caution
from ..outcome.data import Outcome, known
from ..scene import Frame, Part, Scene, axis_at, bend, broken_ice, scene_of
from ..scene.cracks import trench_of
from ..scene.surfaces import cord
from ..scene.tube import ROPE_LENGTH
from ..words.answer import damage_words
from .solid import NoRenderer, Surface, View, render
from .style import (
    BROKEN,
    FAINT,
    ICE,
    INK,
    PAPER,
    PULL,
    QUIET_INK,
    TENSILE,
    TENSION,
    YIELDED,
    heading,
    in_our_look,
    save,
    small_print,
)

Array = NDArray[np.float64]
FROM, UP = np.array([0.26, -1.0, 0.40]), np.array([0.0, 0.0, 1.0])  # the camera looks at the cut face from -y
PIXELS, WIDEST = 800, 1.6  # of a panel's height; width of the block over its depth, from which it is not all seen
EDGE, WIDE, DPI = 6.0, 13.0, 130  # mm beside what is seen; inches, of the figure; pixels an inch
SHADES, CRUST_LINE = 12, 0.5  # colours of the scale; mm, radius
ALIKE = ("tube", "threads", "hanger", "sling", "rope")


@in_our_look
def cutaway(outcome: Outcome, fields: Path | None, path: Path | None) -> Figure:
    """The case at rest, and what it comes to; written as PNG to `path` if one is given.

    Raises NoRenderer where VTK draws nothing, OSError if the fields cannot be read.
    """
    scene = scene_of(outcome, fields)
    panels = [_at_rest(outcome, scene)]
    if outcome.peak is not None:
        panels.append(_at_peak(outcome, scene))
    elif scene.part("cone") is not None:
        panels.append(_with_cone(outcome, scene))
    shapes = [view.size[0] / view.size[1] for view, _, _ in panels]
    tall = min(PIXELS, round(WIDE * DPI / sum(shapes)))
    sizes = [(round(tall * shape), tall) for shape in shapes]
    pictures = render([replace(panel[0], size=size) for panel, size in zip(panels, sizes, strict=True)])
    figure = Figure(figsize=(WIDE, WIDE / sum(shapes) + 2.0), layout="compressed")
    axes = figure.subplots(1, len(panels), squeeze=False, width_ratios=shapes).ravel()
    for each, (picture, marks), (_, title, labels) in zip(axes, pictures, panels, strict=True):
        _put(each, picture, marks, labels)
        each.set_title(title, fontsize=10.5)
    if scene.grid is not None:
        _scale(figure, list(axes))
    heading(figure, f"{scene.title}; {damage_words(outcome)}" if outcome.peak_kN is not None else scene.title)
    small_print(figure, f"{case_words(outcome.case, outcome)}\n{own_caution([outcome])}")
    return save(figure, path, DPI)


def cutaway_picture(outcome: Outcome, path: Path) -> str:
    """`cutaway` of a solved case beside its fields.vtu; "" if it is there, or one line on why it is not."""
    fields = path.with_name("fields.vtu")
    try:
        cutaway(outcome, fields if fields.exists() else None, path)
        return ""
    except NoRenderer as problem:
        return f"{path.name}: not drawn, as VTK finds no renderer here: {problem}; all else is written"


Panel = tuple[View, str, list[tuple[str, tuple[int, int], str]]]  # view, title, its marks' words, shift and colour


def _at_rest(outcome: Outcome, scene: Scene) -> Panel:
    """Ice coloured by the failure index, the pull and the first damage named."""
    parts = [part for part in scene.parts if part.name in (*ALIKE, "ice", "hole")]
    damage = np.array(outcome.onset.where_mm)
    marks = np.stack([_rope_end(scene), damage])
    aside = (60, -45) if damage[0] >= 0 else (-125, -45)
    labels = [("pull", (6, -3), PULL), ("first damage", aside, INK)]
    crust = "; line: end of the crust" if outcome.case["ice.crust_mm"] > 0 else ""
    words = f"as it stands; failure index of the ice at {outcome.onset_kN:.2f} kN{crust}"
    ice = np.asarray(known(scene.part("ice")).points)
    wide = float(np.ptp(ice[:, 0]) / np.ptp(ice[:, 2])) > WIDEST
    surfaces = [*(_surface(part) for part in parts), *_crust(outcome, scene)]
    view = _view(surfaces, marks, _about(scene) if wide else None)
    return view, words if scene.grid else "as it stands", labels


def _at_peak(outcome: Outcome, scene: Scene) -> Panel:
    """Tube and ice at the peak: yielded metal, ice that is gone, a cone that has come."""
    frame = next((each for each in scene.frames if "peak" in each.event.split("; ")), scene.frames[-1])
    ice = broken_ice(outcome, frame)
    surfaces = [*(_surface(part) for part in ice), *_crust(outcome, scene)]
    for part in scene.parts:
        if part.name in ALIKE:
            surfaces += _bent(part, frame)
        elif part.name in ("cone", "front") and frame.cone:
            surfaces.append(_surface(part))
    at = frame.held
    marks = [np.array([frame.x[at], 0.0, frame.z[at]]) + ROPE_LENGTH * np.array(scene.pull)]
    labels = [("pull", (6, -3), PULL)]
    if frame.yielded.any():
        middle = frame.s[1:][frame.yielded].mean()
        place, _ = axis_at(frame, np.array([middle]))
        marks.append(np.array([place[0, 0], -8.0, place[0, 1]]))
        labels.append(("yielded metal", (-95, 30), YIELDED))
    if (trench := trench_of(outcome, float(frame.gone.max()))) is not None:
        beside = trench.side * (0.5 * float(outcome.case["tube.od_mm"]) + 4.0)
        marks.append(np.array([beside, 0.0, -0.3 * trench.depth]))
        labels.append((f"ice gone, {trench.depth:.0f} mm down", (60, -75) if beside > 0 else (-160, -75), INK))
    if frame.cone:
        cone = np.asarray(known(scene.part("cone")).points, float)
        marks.append(cone[np.argmax(cone[:, 1])])
        labels.append(("cone", (60, -9), INK))
    drawn = "; a cone's shape is drawn, not computed" if frame.cone else ""
    words = f"at the peak, {known(outcome.peak_kN):.1f} kN: {outcome.peak_mode}; true to scale{drawn}"
    return _view(surfaces, np.array(marks)), words, labels


def _with_cone(outcome: Outcome, scene: Scene) -> Panel:
    """The tube at rest and the cone with its front."""
    cone = known(scene.part("cone"))
    surfaces = [_surface(part) for part in scene.parts if part.name != "ice"]
    surfaces.append(_surface(known(scene.part("ice")), plain=True))
    at = np.argmax(np.asarray(cone.points)[:, 0])
    marks = np.stack([_rope_end(scene), np.asarray(cone.points[at], float)])
    words = f"the cone and its front, {outcome.the_cone.depth_mm:.0f} mm deep, {outcome.the_cone.angle_deg:.0f}°"
    words += "; grey: where others that were tried would come out" if outcome.the_cone.tilted else ""
    return _view(surfaces, marks), words, [("pull", (6, -3), PULL), ("front of the crack", (-60, 40), INK)]


def _crust(outcome: Outcome, scene: Scene) -> list[Surface]:
    """A line on the cut face where the crust ends; none without one."""
    crust = float(outcome.case["ice.crust_mm"])
    if crust == 0:
        return []
    x = np.asarray(known(scene.part("ice")).points, float)[:, 0]
    ends = np.array([(x.min(), 0.0, -crust), (x.max(), 0.0, -crust)])
    return [Surface(*cord(ends, CRUST_LINE, 6), FAINT)]


def _rope_end(scene: Scene) -> Array:
    return np.array(scene.at) + ROPE_LENGTH * np.array(scene.pull)


def _surface(part: Part, plain: bool = False) -> Surface:
    values = None if part.values is None or plain else np.asarray(part.values, float)
    points = np.asarray(part.points, float)
    return Surface(points, part.triangles, part.colour, part.opacity, values, part.name in ("ice", "chip"))


def _bent(part: Part, frame: Frame) -> list[Surface]:
    """A part where the frame has it, its yielded sections apart."""
    points = bend(part, frame)
    if part.along is None or not frame.yielded.any():
        return [Surface(points, part.triangles, part.colour, part.opacity)]
    middle = np.asarray(part.along, float)[part.triangles].mean(axis=1)
    section = np.clip(np.searchsorted(frame.s, middle) - 1, 0, len(frame.yielded) - 1)
    soft = frame.yielded[section] & (middle >= frame.s[0])
    if part.name != "tube":
        soft[:] = False
    kinds = ((~soft, part.colour), (soft, YIELDED))
    return [Surface(points, part.triangles[of], colour, part.opacity) for of, colour in kinds if of.any()]


def _about(scene: Scene) -> Array:
    """Corners of what a look at the tube must hold: tube, rope, and ice about them."""
    moving = np.concatenate([part.points for part in scene.parts if part.name in ALIKE]).astype(float)
    low, high = moving.min(axis=0), moving.max(axis=0)
    beside = 0.6 * float(high[2] - low[2])
    (left, deep), (right, top) = (low[0] - beside, 1.1 * low[2] - 8.0), (high[0] + 0.75 * beside, high[2])
    ice = np.asarray(known(scene.part("ice")).points, float)
    left, right, deep = max(left, ice[:, 0].min()), min(right, ice[:, 0].max()), max(deep, ice[:, 2].min())
    return np.array([(x, y, z) for x in (left, right) for y, z in ((0.0, deep), (0.0, top), (12.0, 0.0))])


def _view(surfaces: list[Surface], marks: Array, held: Array | None = None) -> View:
    """From -y and above, so that all of it, or these points, are in the picture."""
    shown = np.concatenate([each.points for each in surfaces]) if held is None else held
    back = FROM / np.linalg.norm(FROM)
    right = np.cross(UP, back)
    right /= np.linalg.norm(right)
    up = np.cross(back, right)
    flat = np.stack([shown @ right, shown @ up], axis=1)
    low, high = flat.min(axis=0) - EDGE, flat.max(axis=0) + EDGE
    middle = 0.5 * (low + high)
    target = middle[0] * right + middle[1] * up
    wide, tall = (high - low).tolist()
    camera = np.stack([target + 4 * max(wide, tall) * back, target, up])
    return View(
        tuple(surfaces), camera, tall, (round(PIXELS * wide / tall), PIXELS), _shades(), QUIET_INK, PAPER, marks
    )


def _shades() -> tuple[str, ...]:
    """From ice to damage."""
    scale = LinearSegmentedColormap.from_list("failure index", [ICE, TENSILE, TENSION, BROKEN], 256)
    return tuple(to_hex(each) for each in scale(np.linspace(0.0, 1.0, SHADES)))


PLACED: dict[str, Any] = {"textcoords": "offset points", "fontsize": 9.5, "annotation_clip": False}


def _put(axes: Axes, picture: NDArray[np.uint8], marks: Array, labels: list[tuple[str, tuple[int, int], str]]) -> None:
    rows, columns, _ = picture.shape
    axes.imshow(picture, extent=(0, columns, 0, rows), interpolation="antialiased")
    axes.set_axis_off()
    for (x, y), (words, shift, colour) in zip(marks, labels, strict=True):
        line: dict[str, Any] = {"arrowstyle": "-", "lw": 0.8, "color": colour}
        at, halo = (min(max(x, 0.0), columns), min(max(y, 0.0), rows)), [withStroke(linewidth=2.5, foreground="white")]
        axes.annotate(words, at, shift, **PLACED, color=colour, arrowprops=line, path_effects=halo)


def _scale(figure: Figure, axes: list[Axes]) -> None:
    """The colours of the failure index."""
    shades = ScalarMappable(BoundaryNorm(np.linspace(0.0, 1.0, SHADES + 1), SHADES), ListedColormap(_shades()))
    bar = figure.colorbar(
        shades, ax=axes, orientation="horizontal", shrink=0.4, aspect=40, pad=0.02, ticks=(0, 0.25, 0.5, 0.75, 1)
    )
    bar.set_label("failure index of the ice (1: damage, by the local criterion)", fontsize=9.5)
