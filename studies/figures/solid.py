"""Surfaces to a picture by VTK, off screen, in a process of its own: a graphics library that crashes ends that alone.

    python -m icecone.studies.figures.solid         told "NUMBER FOLDER", makes 0.out.npz, .. there of 0.npz, ..

It may be begun before there is anything to draw (`standing_by`): loading VTK takes longer than drawing. A view's file
holds points_k (n, 3), triangles_k (t, 3), values_k (n,) of each surface k, the camera, the marks, and the rest of
`View` as JSON; what comes back is the picture and where its marks are. Nothing of icecone is imported here, so that the
process starts quickly.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
PATIENCE = 90  # s, for all of them
CHILD = (sys.executable, "-m", "icecone.studies.figures.solid")
EDGE = 35.0  # deg between faces from which an edge is sharp
FLAT = {"ambient": 0.72, "diffuse": 0.32, "specular": 0.0}  # of what is coloured by a scale: its colours stay those
METAL = {"ambient": 0.35, "diffuse": 0.8, "specular": 0.35, "specular_power": 20}


class NoRenderer(RuntimeError):
    """No picture of surfaces can be had here; the message says why, in one line."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One to be drawn. values : (n,) 0 to 1, by the colours of the view; or None: of one colour."""

    points: Array
    triangles: NDArray[np.int32]
    colour: str
    opacity: float = 1.0
    values: Array | None = None
    lines: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What is seen. camera : (3, 3) where from, at what, what is up [mm].  high : of the view [mm].

    size : pixels.  shades : of values from 0 to 1; ink : of edges; background : each "#rrggbb".
    marks : points whose place is wanted (n, 3).
    """

    surfaces: tuple[Surface, ...]
    camera: Array
    high: float
    size: tuple[int, int]
    shades: tuple[str, ...]
    ink: str
    background: str
    marks: Array = field(default_factory=lambda: np.zeros((0, 3)))


_waiting: list[subprocess.Popen[str]] = []


@contextmanager
def standing_by() -> Iterator[None]:
    """While a block runs that will `render`, a process loads VTK for it."""
    with suppress(OSError):  # said when it is asked to draw
        _waiting.append(begin())
    try:
        yield
    finally:
        while _waiting:
            _end(_waiting.pop())


def begin() -> subprocess.Popen[str]:
    """The process that draws, loading VTK. Raises OSError if it does not start."""
    kept = subprocess.PIPE
    return subprocess.Popen(CHILD, stdin=kept, stdout=subprocess.DEVNULL, stderr=kept, text=True)


def _end(child: subprocess.Popen[str]) -> None:
    if child.poll() is None:
        child.kill()
        child.communicate()


def render(views: Sequence[View]) -> list[tuple[NDArray[np.uint8], Array]]:
    """The views as pictures (rows, columns, 3), each with its marks (n, 2), in pixels from the lower left corner.

    Raises NoRenderer if VTK is not there, fails, crashes or does not come to an end.
    """
    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for k, view in enumerate(views):
            np.savez(folder / f"{k}.npz", **_packed(view))
        try:
            child = _waiting.pop() if _waiting else begin()
        except OSError as problem:
            raise NoRenderer(f"it does not start: {problem.strerror}") from None
        try:
            _, said = child.communicate(f"{len(views)} {folder}\n", timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            raise NoRenderer(f"it has not drawn within {PATIENCE} s") from None
        finally:
            _end(child)
        if child.returncode < 0:
            raise NoRenderer(f"the graphics library crashed (signal {-child.returncode})")
        if child.returncode > 0:
            last = (said.strip().splitlines() or [f"it ended with code {child.returncode}"])[-1]
            raise NoRenderer(last[:200])
        return [_found(folder, k) for k in range(len(views))]


def _found(folder: Path, k: int) -> tuple[NDArray[np.uint8], Array]:
    with np.load(folder / f"{k}.out.npz") as found:
        return found["picture"], found["marks"]


def _packed(view: View) -> dict[str, Any]:
    packed: dict[str, Any] = {}
    kept = []
    for k, each in enumerate(view.surfaces):
        packed |= {f"points_{k}": each.points, f"triangles_{k}": each.triangles}
        packed[f"values_{k}"] = np.zeros(0) if each.values is None else each.values
        kept.append({"colour": each.colour, "opacity": each.opacity, "lines": each.lines})
    rest = {"high": view.high, "size": view.size, "shades": view.shades, "ink": view.ink, "background": view.background}
    return packed | {"camera": view.camera, "marks": view.marks, "rest": json.dumps(rest | {"surfaces": kept})}


def _draw(file: Path) -> None:
    import pyvista
    from vtkmodules.vtkRenderingCore import vtkCoordinate

    with np.load(file) as packed:
        view = {name: packed[name] for name in packed.files}
    rest = json.loads(str(view["rest"]))
    plotter = pyvista.Plotter(off_screen=True, window_size=rest["size"], lighting="light kit")
    plotter.enable_anti_aliasing("ssaa")
    plotter.set_background(rest["background"])
    for k, each in enumerate(rest["surfaces"]):
        triangles = view[f"triangles_{k}"]
        if not len(triangles):
            continue
        faces = np.insert(triangles, 0, 3, axis=1).ravel()
        mesh = pyvista.PolyData(np.asarray(view[f"points_{k}"], float), faces)
        style: dict[str, Any] = {"opacity": each["opacity"], **(FLAT if each["lines"] else METAL)}
        if len(view[f"values_{k}"]):
            mesh["values"] = view[f"values_{k}"]
            style |= {"scalars": "values", "cmap": rest["shades"], "clim": (0.0, 1.0), "show_scalar_bar": False}
            style |= {"n_colors": len(rest["shades"])}
        else:
            style |= {"color": each["colour"]}
        plotter.add_mesh(mesh, smooth_shading=True, split_sharp_edges=True, feature_angle=EDGE, **style)
        if each["lines"]:
            edges = mesh.clean(tolerance=1e-5).extract_feature_edges(feature_angle=60.0)
            plotter.add_mesh(edges, color=rest["ink"], line_width=1.6, lighting=False)
    plotter.camera.position, plotter.camera.focal_point, plotter.camera.up = view["camera"].tolist()
    plotter.camera.parallel_projection = True
    plotter.camera.parallel_scale = 0.5 * rest["high"]
    plotter.reset_camera_clipping_range()
    picture = np.asarray(plotter.screenshot(return_img=True))
    places = []
    for mark in view["marks"]:
        at = vtkCoordinate()
        at.SetCoordinateSystemToWorld()
        at.SetValue(*mark.tolist())
        places.append(at.GetComputedDoubleDisplayValue(plotter.renderer))
    found = np.array(places, float).reshape(-1, 2)
    np.savez(file.with_suffix(".out.npz"), picture=picture[..., :3], marks=found)
    plotter.close()


def main() -> None:
    """Load VTK and draw once for nothing, then draw the views of the folder that a line names; none if no line comes.

    A first drawing takes as long as two others: until there is something to draw, nobody waits for it.
    """
    import pyvista

    plotter = pyvista.Plotter(off_screen=True, window_size=[8, 8], lighting="light kit")
    plotter.enable_anti_aliasing("ssaa")
    plotter.add_mesh(pyvista.Triangle(), smooth_shading=True, split_sharp_edges=True)
    plotter.screenshot(return_img=True)
    plotter.close()
    number, _, folder = sys.stdin.readline().rstrip("\n").partition(" ")
    for k in range(int(number or 0)):
        _draw(Path(folder) / f"{k}.npz")


if __name__ == "__main__":
    main()
