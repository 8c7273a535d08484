"""The cone of a case, as it is written down: peak, angle, depth, breakout, which thread feeds it, and its surface.

An upright tube in one isotropic ice without crust, pulled straight out, is solved in its meridian section with resolved
threads and a crack that finds its own path (`fem.cone.straight`); every other placement by a family of tilted cones in
3D (`fem.cone.tilted`). Both give the load of the ice's cone alone.
"""

from __future__ import annotations

from collections.abc import Callable
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
from ...fem.laws.crushing import crushing_inputs, crushing_of, stamp_pressure
from ...fem.laws.recipes import RECIPES
from ...fem.laws.threads import thread_limit
from ...fem.onset.mouth import solve_mouth_onset
from ...fem.tube.modes import CONE, THREADS
from ...fem.tube.peak import stated_strength
from ...geometry.errors import MeshError
from ...geometry.layers import Level
from ...geometry.placement import pressed_side
from ..files.laws import kept_law
from ..files.store import write_atomic
from .cautions import BETWEEN, CONE_ALONE
from .data import Outcome
from .hand import strip_load
from .own import Own
from .results import ConeResult, ConeShape, MouthCrack, Point, Rival, StraightCone, TiltedCone

Array = NDArray[np.float64]
ROUND = 48  # pieces round the axis of the surface that is written
PATH, FAMILY = "a crack that finds its path", "a family of tilted cones"
SIZES: dict[Level, float] = {"quick": 0.0024, "standard": 0.0018, "fine": 0.0009}  # m, at the threads


def runs_all_round(case: Case) -> bool:
    """Whether nothing differs round the axis: upright, pulled straight out, one isotropic ice."""
    upright = abs(case.placement.angle) < 1e-9 and abs(case.pull.unit[0]) < 1e-9
    return bool(upright) and case.crust == 0 and case.ice.elastic.is_isotropic


def cone_found(case: Case, say: Callable[[str], None] = lambda text: None, own: Own | None = None) -> dict[str, Any]:
    """Solve for the cone; fields of the outcome.

    Raises MeshError for a placement that cannot be meshed, fem.errors.SolveError if a solve does not come out.
    """
    try:
        peak, result = _straight(case) if runs_all_round(case) else _tilted(case)
    except ValueError as error:
        raise MeshError(f"no cone for this placement: {error}") from None
    borne = [*rest_bears(case), *([] if peak is None else [Rival(CONE, peak)])]
    limit = min(borne, key=lambda rival: rival.load_kN, default=None)
    return {
        "limit_kN": None if limit is None else limit.load_kN,
        "limit_mode": None if limit is None else limit.mode,
        "peak_kN": peak,
        "peak_mode": CONE,
        "cone": result,
    }


def rest_bears(case: Case) -> list[Rival]:
    """What hanger or sling, as stated, and the threads bear of this pull, whatever the cone does."""
    crushing, _ = crushing_of(lambda name, inputs: kept_law(name, inputs, RECIPES[name]), crushing_inputs(case.ice))
    strips = thread_limit(case.tube, case.ice, case.assumed, stamp_pressure(case.ice, case.assumed, crushing))
    stated, stripped = stated_strength(case), strip_load(case, strips)
    loads = [*([] if stated is None else [stated]), *([] if stripped is None else [(THREADS, stripped)])]
    return [Rival(mode, load / 1e3) for mode, load in loads]


def _straight(case: Case) -> tuple[float, ConeResult]:
    """Peak [kN] and cone of a case that is alike all round."""
    size = SIZES[case.level] if isinstance(case.level, str) else SIZES["standard"]
    found = solve_cone(case.tube, case.placement.embedment, case.ice, case.metal, size)
    growth, first = found.growth, min(found.onset, key=lambda onset: onset.load)
    rings = len(growth.column.bottoms)
    loads = tuple((growth.load / 1e3).tolist())
    result = ConeResult(
        start=f"thread {growth.ring + 1} of {rings} from the tip",
        depth_mm=growth.depth * 1e3,
        angle_deg=degrees(growth.elevation),
        breakout_mm=_finite(growth.breakout_radius * 1e3),
        route=PATH,
        load_kN=loads,
        shut=tuple(growth.closed.tolist()),
        seconds=round(found.seconds, 2),
        surface_mm=_surface(_turned(growth)),
        surface_load_kN=(None, *loads),
        caution=CONE_ALONE,
        straight=StraightCone(
            onset_kN=first.load / 1e3,
            onset_start=f"thread {first.ring + 1} of {rings} from the tip",
            onset_direction_deg=degrees(first.direction),
            onset_length_mm=first.length * 1e3,
            stable_to_mm=growth.peak[1] * 1e3,
            before_kN={str(r + 1): load / 1e3 for r, load in found.candidates.items() if r != growth.ring},
            path_mm=tuple(map(tuple, (growth.path * 1e3).T.round(4).tolist())),
            length_mm=tuple((growth.length * 1e3).round(4).tolist()),
            K_II_over_K_I=tuple((growth.K_II / growth.K_I).tolist()),
            thread_shares=tuple(found.shares_start.tolist()),
            thread_shares_at_peak=tuple(growth.shares[growth.at_peak].tolist()),
            thread_depths_mm=tuple(-1e3 * growth.column.bearing_face(ring) for ring in range(rings)),
        ),
    )
    return found.peak_load / 1e3, result


def _tilted(case: Case) -> tuple[float | None, ConeResult]:
    """Peak [kN], None if no cone that was tried opens, and the weakest cone of a family."""
    found = solve_tilted_cone(case)
    best = found.best if isfinite(found.peak) else min(found.shapes, key=lambda growth: growth.least)
    surface = best.surface
    depth, breakout = depth_and_breakout(surface, pressed_side(case.placement, case.pull))
    loads = tuple(_finite(load / 1e3) for load in best.opening_load)
    bound = "from its first crack on the load falls" if best.from_start else "still rising" if best.rising else ""
    result = ConeResult(
        start=f"{best.shape.start * 1e3:.0f} mm along the tube",
        depth_mm=1e3 * depth,
        angle_deg=degrees(best.shape.elevation),
        breakout_mm=1e3 * breakout if isfinite(breakout) else None,
        route=FAMILY,
        load_kN=loads,
        shut=tuple(best.shut.tolist()),
        seconds=round(found.seconds, 2),
        surface_mm=_surface(1e3 * surface),
        surface_load_kN=(None, *loads),
        caution=f"{CONE_ALONE} {BETWEEN}",
        tilted=TiltedCone(
            tilt_deg=degrees(best.shape.tilt),
            fan_deg=degrees(best.shape.fan),
            bound=bound,
            least_kN=best.least / 1e3,
            mouth=_mouth(case),
            share=tuple(best.share.tolist()),
            least_load_kN=tuple((best.load / 1e3).tolist()),
            shapes=tuple(_shape(growth) for growth in found.shapes),
        ),
    )
    return _finite(found.peak / 1e3), result


def _surface(points: Array) -> tuple[tuple[Point, ...], ...]:
    return tuple(tuple((x, y, z) for x, y, z in row) for row in points.round(3).tolist())


def depth_and_breakout(surface: Array, side: int) -> tuple[float, float]:
    """Depth of a cone's start, and how far from the axis it comes out [m], inf if it does not, on one side.

    surface : (fronts, azimuths, 3), all round, the side of +x in the middle.  side : 1 or -1, that the pull presses.
    """
    section = surface[:, surface.shape[1] // 2 if side > 0 else 0]
    (x0, _, z0), (x1, _, z1) = section[-2:]
    out = side * (x1 - z1 * (x1 - x0) / (z1 - z0)) if z1 > z0 else inf
    return -float(section[0, 2]), float(out)


def _mouth(case: Case) -> MouthCrack | None:
    """First opening crack at the mouth by the coupled criterion in 3D; None if nothing there opens."""
    try:
        found = solve_mouth_onset(case)
    except ValueError:
        return None
    return MouthCrack(found.load / 1e3, found.kind, found.length * 1e3, found.extent * 1e3)


def _shape(growth: TiltedGrowth) -> ConeShape:
    shape = growth.shape
    return ConeShape(
        start_mm=shape.start * 1e3,
        elevation_deg=degrees(shape.elevation),
        tilt_deg=degrees(shape.tilt),
        fan_deg=degrees(shape.fan),
        peak_kN=_finite(growth.peak / 1e3),
        least_kN=growth.least / 1e3,
        share=tuple(growth.share.tolist()),
        load_kN=tuple(_finite(load / 1e3) for load in growth.opening_load),
        shut_at_peak=float(growth.shut[growth.at]),
    )


def _finite(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def _turned(growth: ConeGrowth) -> Array:
    """The path turned round the axis: points (n + 1, ROUND + 1, 3) [mm]."""
    r, z = growth.path * 1e3
    phi = np.linspace(-np.pi, np.pi, ROUND + 1)
    return np.stack([np.outer(r, np.cos(phi)), np.outer(r, np.sin(phi)), np.outer(z, np.ones_like(phi))], axis=2)


def cone_surface(cone: ConeResult) -> meshio.Mesh:
    """The cone's surface in mm: quadrilaterals, each with the load that opens it [kN]."""
    points = np.array(cone.surface_mm)
    fronts, around, _ = points.shape
    number = np.arange(fronts * around).reshape(fronts, around)
    quads = np.stack([number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]], axis=-1).reshape(-1, 4)
    load = np.repeat(np.array(cone.surface_load_kN[1:], dtype=float), around - 1)
    return meshio.Mesh(points.reshape(-1, 3), [("quad", quads)], cell_data={"load_kN": [load]})


def write_surface(outcome: Outcome, path: Path) -> None:
    """Write `cone_surface` as a VTU file, atomically."""
    with TemporaryDirectory() as scratch:
        part = Path(scratch) / "cone.vtu"
        cone_surface(outcome.the_cone).write(part, file_format="vtu")
        write_atomic(path, part.read_bytes())
