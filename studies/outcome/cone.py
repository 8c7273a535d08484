"""The cone of a case, as it is written down: peak, angle, depth, breakout, which thread feeds it, and its surface.

An upright tube in one isotropic ice without crust, pulled straight out, is solved in its meridian section with resolved
threads and a crack that finds its own path (`fem.cone.straight`); every other placement by a family of tilted cones in
3D (`fem.cone.tilted`). Both give the load of the ice's cone alone.
"""

from __future__ import annotations

from math import degrees, inf, isfinite
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import meshio
import numpy as np
from numpy.typing import NDArray

from ...fem.case import Case
from ...fem.cone.straight import ConeGrowth, solve_cone
from ...fem.cone.tilted import TiltedGrowth, solve_tilted_cone
from ...fem.onset.mouth import solve_mouth_onset
from ...geometry import Level, MeshError, pressed_side
from ..files.store import write_atomic

Array = NDArray[np.float64]
Record = dict[str, Any]
ROUND = 48  # pieces round the axis of the surface that is written
PATH, FAMILY = "a crack that finds its path", "a family of tilted cones"
SIZES: dict[Level, float] = {"quick": 0.0024, "standard": 0.0018, "fine": 0.0009}  # m, at the threads
CONE_ALONE = (
    "The peak is that of the ice's cone alone. Crushing in front of the tube, the tube's bending, the hanger and the "
    "sling are not in it, and may end the pull earlier."
)

BETWEEN = (
    "Under an inclined pull it is the load at which opening alone drives the weakest cone tried, all modes together "
    "drive it from the least load on."
)


def runs_all_round(case: Case) -> bool:
    """Whether nothing differs round the axis: upright, pulled straight out, one isotropic ice."""
    upright = abs(case.placement.angle) < 1e-9 and abs(case.pull.unit[0]) < 1e-9
    return bool(upright) and case.crust == 0 and case.ice.elastic.is_isotropic


def cone_record(case: Case) -> Record:
    """Solve for the cone; plain JSON data in the users' units.

    Raises MeshError for a placement that cannot be meshed, fem.solid.solver.SolveError where a solve does not come out.
    """
    try:
        return _straight_record(case) if runs_all_round(case) else _tilted_record(case)
    except ValueError as error:
        raise MeshError(f"no cone for this placement: {error}") from None


def _straight_record(case: Case) -> Record:
    size = SIZES[case.level] if isinstance(case.level, str) else SIZES["standard"]
    found = solve_cone(case.tube, case.placement.embedment, case.ice, case.metal, size)
    growth, first = found.growth, min(found.onset, key=lambda onset: onset.load)
    rings = len(growth.column.bottoms)
    peak, length = found.peak_load, growth.peak[1]
    path = growth.path
    return {
        "peak_kN": peak / 1e3,
        "peak_mode": "cone",
        "cone_angle_deg": degrees(growth.elevation),
        "cone_depth_mm": growth.depth * 1e3,
        "cone_breakout_mm": _finite(growth.breakout_radius * 1e3),
        "cone_start": f"thread {growth.ring + 1} of {rings} from the tip",
        "cone": {
            "route": PATH,
            "onset_kN": first.load / 1e3,
            "onset_start": f"thread {first.ring + 1} of {rings} from the tip",
            "onset_direction_deg": degrees(first.direction),
            "onset_length_mm": first.length * 1e3,
            "stable_to_mm": length * 1e3,
            "before_kN": {str(r + 1): load / 1e3 for r, load in found.candidates.items() if r != growth.ring},
            "path_mm": (path * 1e3).T.round(4).tolist(),
            "length_mm": (growth.length * 1e3).round(4).tolist(),
            "load_kN": (growth.load / 1e3).tolist(),
            "K_II_over_K_I": (growth.K_II / growth.K_I).tolist(),
            "shut": growth.closed.tolist(),
            "thread_shares": found.shares_start.tolist(),
            "thread_shares_at_peak": growth.shares[growth.at_peak].tolist(),
            "thread_depths_mm": [-1e3 * growth.column.bearing_face(ring) for ring in range(rings)],
            "seconds": round(found.seconds, 2),
            "surface_mm": _turned(growth).round(3).tolist(),
            "surface_load_kN": [None, *(growth.load / 1e3).tolist()],
            "caution": CONE_ALONE,
        },
    }


def _tilted_record(case: Case) -> Record:
    found = solve_tilted_cone(case)
    best = found.best if isfinite(found.peak) else min(found.shapes, key=lambda growth: growth.least)
    surface = best.surface
    depth, breakout = depth_and_breakout(surface, pressed_side(case.placement, case.pull))
    return {
        "peak_kN": _finite(found.peak / 1e3),
        "peak_mode": "cone",
        "cone_angle_deg": degrees(best.shape.elevation),
        "cone_depth_mm": 1e3 * depth,
        "cone_breakout_mm": 1e3 * breakout if isfinite(breakout) else None,
        "cone_start": f"{best.shape.start * 1e3:.0f} mm along the tube",
        "cone": {
            "route": FAMILY,
            "tilt_deg": degrees(best.shape.tilt),
            "fan_deg": degrees(best.shape.fan),
            "bound": "from its first crack on the load falls"
            if best.from_start
            else "still rising"
            if best.rising
            else "",
            "least_kN": best.least / 1e3,
            "mouth": _mouth(case),
            "share": best.share.tolist(),
            "load_kN": [_finite(load / 1e3) for load in best.opening_load],
            "least_load_kN": (best.load / 1e3).tolist(),
            "shut": best.shut.tolist(),
            "shapes": [_shape(growth) for growth in found.shapes],
            "seconds": round(found.seconds, 2),
            "surface_mm": (1e3 * surface).round(3).tolist(),
            "surface_load_kN": [None, *(_finite(load / 1e3) for load in best.opening_load)],
            "caution": f"{CONE_ALONE} {BETWEEN}",
        },
    }


def depth_and_breakout(surface: Array, side: int) -> tuple[float, float]:
    """Depth of a cone's start, and how far from the axis it comes out [m], inf if it does not, on one side.

    surface : (fronts, azimuths, 3), all round, the side of +x in the middle.  side : 1 or -1, that the pull presses.
    """
    section = surface[:, surface.shape[1] // 2 if side > 0 else 0]
    (x0, _, z0), (x1, _, z1) = section[-2:]
    out = side * (x1 - z1 * (x1 - x0) / (z1 - z0)) if z1 > z0 else inf
    return -float(section[0, 2]), float(out)


def _mouth(case: Case) -> Record | None:
    """First opening crack at the mouth by the coupled criterion in 3D; None where nothing there opens."""
    try:
        found = solve_mouth_onset(case)
    except ValueError:
        return None
    return {
        "onset_kN": found.load / 1e3,
        "kind": found.kind,
        "length_mm": found.length * 1e3,
        "extent_mm": found.extent * 1e3,
    }


def _shape(growth: TiltedGrowth) -> Record:
    shape = growth.shape
    return {
        "start_mm": shape.start * 1e3,
        "elevation_deg": degrees(shape.elevation),
        "tilt_deg": degrees(shape.tilt),
        "fan_deg": degrees(shape.fan),
        "peak_kN": _finite(growth.peak / 1e3),
        "least_kN": growth.least / 1e3,
        "share": growth.share.tolist(),
        "load_kN": [_finite(load / 1e3) for load in growth.opening_load],
        "shut_at_peak": float(growth.shut[growth.at]),
    }


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None


def _turned(growth: ConeGrowth) -> Array:
    """The path turned round the axis: points (n + 1, ROUND + 1, 3) [mm]."""
    r, z = growth.path * 1e3
    phi = np.linspace(-np.pi, np.pi, ROUND + 1)
    return np.stack([np.outer(r, np.cos(phi)), np.outer(r, np.sin(phi)), np.outer(z, np.ones_like(phi))], axis=2)


def cone_surface(record: Record) -> meshio.Mesh:
    """The cone's surface in mm: quadrilaterals, each with the load that opens it [kN]."""
    points = np.array(record["cone"]["surface_mm"])
    fronts, around, _ = points.shape
    number = np.arange(fronts * around).reshape(fronts, around)
    quads = np.stack([number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]], axis=-1).reshape(-1, 4)
    load = np.repeat(np.array(record["cone"]["surface_load_kN"][1:], dtype=float), around - 1)
    return meshio.Mesh(points.reshape(-1, 3), [("quad", quads)], cell_data={"load_kN": [load]})


def write_surface(record: Record, path: Path) -> None:
    """Write `cone_surface` as a VTU file, atomically."""
    with TemporaryDirectory() as scratch:
        part = Path(scratch) / "cone.vtu"
        cone_surface(record).write(part, file_format="vtu")
        write_atomic(path, part.read_bytes())
