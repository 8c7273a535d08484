"""A stand-in for the solver, the figures and the words, so that tests of the studies' machinery take no seconds.

The outcomes have the keys of real ones; the numbers are made up from the settings and say nothing about ice.
As a script it runs the command line on the stand-in: python studystub.py SECONDS_PER_CASE LOG ARGUMENTS...
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

from icecone.studies.case.file import settings_from
from icecone.studies.outcome.cautions import CAUTION, CONE_ALONE, PULL_CAUTION
from icecone.studies.outcome.data import FORMAT, Outcome

EVENT: dict[str, Any] = {
    "name": "peak",
    "load_kN": 4.0,
    "displacement_mm": 3.0,
    "x_mm": [0.0, 1.0, 3.0],
    "z_mm": [-40.0, 0.0, 10.0],
    "s_mm": [50.0, 10.0, 0.0],
    "bearing_N_per_mm": [0.0, 5.0, -3.0],
    "moment_Nm": [1.0, 2.0],
    "plastic_strain": [0.0, 0.01],
    "overshoot": 0.0,
    "found": "located",
    "held_node": 2,
}
SHAPES: dict[str, Any] = {
    "step": [0, 1, 2],
    "x_mm": [[0.0, 0.0, 0.0], [1.0, 0.2, 0.0], [2.0, 0.4, 0.0]],
    "z_mm": [[10.0, 0.0, -40.0]] * 3,
    "s_mm": [-10.0, 0.0, 40.0],
    "bearing_N_per_mm": [[0.0, 0.0, 0.0], [0.0, 5.0, -3.0], [0.0, 0.0, -3.0]],
    "yielded": [[0, 0], [0, 1], [0, 1]],
    "gone_mm": [[0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 6.0, 0.0]],
    "cone": [False, False, True],
    "held_node": [0, 0, 0],
}
PEAK: dict[str, Any] = {
    "rivals": [{"mode": "hanger", "load_kN": 10.0}],
    "others_above_kN": None,
    "stop": "",
    "cone_kN": None,
    "hand_kN": {"threads stripped": 9.0},
    "hand_warning": "",
    "energy_imbalance": 1e-4,
    "event_overshoot": 0.0,
    "neighbours": [],
    "edge": "",
    "band": {"goes": {"peak": 3.0}, "stays": {"peak": 6.0}},
    "displacement_mm": [0.0, 3.0, 6.0],
    "load_kN": [0.0, 4.0, 2.0],
    "head_rotation_deg": [0.0, 5.0, 9.0],
    "energies_J": {"work": 1.0},
    "events": [EVENT],
    "shapes": SHAPES,
    "laws": {
        **{name: [0.0, 130.0] for name in ("depth_mm", "front_limit_N_per_mm", "back_limit_N_per_mm")},
        **dict.fromkeys(("wall_stiffness_GPa", "thread_limit_N_per_mm"), 9.0),
        "origins": [{"law": "crushing", "how": "assumed", "error": None}],
    },
    "caution": PULL_CAUTION,
}
TILTED: dict[str, Any] = {
    "tilt_deg": 0.0,
    "fan_deg": 180.0,
    "bound": "",
    "least_kN": 1.0,
    "mouth": None,
    "share": [0.1, 0.5],
    "least_load_kN": [1.0, 1.0],
    "shapes": [],
}
READ = {"first_drop": 9.0, "early": 1.0, "turned": 8.0, "largest": 11.0}  # times the onset
STRAIGHT: dict[str, Any] = {
    "onset_kN": 2.0,
    "onset_start": "thread 3 of 3 from the tip",
    "onset_direction_deg": 30.0,
    "onset_length_mm": 2.0,
    "stable_to_mm": 40.0,
    "before_kN": {"2": 9.0},
    "path_mm": [[10.0, -40.0], [30.0, -20.0]],
    "length_mm": [5.0, 28.0],
    "K_II_over_K_I": [0.0, 0.0],
    "thread_shares": [0.2, 0.3, 0.5],
    "thread_shares_at_peak": [0.1, 0.3, 0.6],
    "thread_depths_mm": [40.0, 35.0, 30.0],
}
CONE: dict[str, Any] = {
    "route": "invented",
    "load_kN": [None, 5.0],
    "shut": [0.0, 0.0],
    "seconds": 1.0,
    "surface_mm": [[[-10.0, 0.0, -40.0], [10.0, 0.0, -40.0]], [[-30.0, 0.0, -20.0], [30.0, 0.0, -20.0]]],
    "surface_load_kN": [None, 5.0],
    "caution": CONE_ALONE,
}
NAMED_CONE: dict[str, Any] = {
    "cone_start": "thread 1 of 3 from the tip",
    "cone_depth_mm": 40.0,
    "cone_angle_deg": 30.0,
    "cone_breakout_mm": None,
}
ICE: dict[str, Any] = {
    "kind": "sound_glacier",
    "fabric": "isotropic",
    "criterion": "mohr_coulomb",
    "column_axis": None,
    "size_factor": None,
    "stiffness_GPa": {"c11": 12.0},
    "E_GPa": 9.0,
    "nu": 0.3,
    "tensile_MPa": 1.0,
    **dict.fromkeys(("porosity", "grain_size_mm", "K_IC_kPa_sqrt_m", "G_c_J_per_m2", "critical_distance_mm"), 1.0),
    **dict.fromkeys(("compressive_MPa", "shear_distance_mm", "confinement_slope", "deviator_cap_MPa"), 1.0),
    **dict.fromkeys(("pressure_slope", "peak_pressure_MPa"), 1.0),
}
TABLES = {"ice": ICE, "crust": ICE, "peak": PEAK, "cone": CONE | TILTED}


def made_up_record(settings: Mapping[str, Any], **more: Any) -> Outcome:
    """An outcome of the onset alone that depends on the settings; `more` as `changed` takes it."""
    onset = 1.0
    onset += 0.01 * settings.get("placement.angle_deg", 0) + 0.001 * settings.get("placement.embedment_mm", 0)
    data = {
        "format": FORMAT,
        "model": "onset",
        "onset_kN": onset,
        "limit_kN": min(10.0, 10 * onset),
        "limit_mode": "hanger" if onset > 1 else "cone",
        "peak_kN": 10 * onset,
        "peak_mode": "cone",
        "peak_at_mm": 3.0,
        **{f"{load}_kN": share * onset for load, share in READ.items()},
        **{f"{load}_mode": "cone" for load in READ},
        **{f"{load}_at_mm": 2.0 for load in READ},
        "ended_by": "out of the ice",
        "next_mode": "hanger",
        "next_kN": 10.0,
        "margin": 1.0 / onset,
        "first_hinge_kN": None,
        "wrinkle_kN": None,
        "head_rotation_deg": 5.0,
        "onset_mode": "tension",
        "onset_where_mm": [-8.5, 0.0, 0.0],
        "onset_place": "at the mouth, behind the tube",
        "onset_crack": "flat under the surface",
        "onset_length_mm": 6.0,
        "compliance_mm_per_kN": 0.02,
        "share_front": 0.6,
        "share_threads": 0.3,
        "share_back_or_toe": 0.1,
        "mouth_tension_MPa_per_kN": 2.0,
        "mouth_compression_MPa_per_kN": 5.0,
        "effective_volume_mm3": None,
        "dofs": 1000,
        "wall_s": 0.1,
        "residual": 1e-12,
        "balance_error": 1e-9,
        "contact_iterations": 3,
        "solver": "stand-in",
        "ice": {**ICE, "kind": settings.get("ice.kind", "sound_glacier")},
        "crust": None,
        "metal": {"kind": "chromoly_steel", "E_GPa": 205.0, "nu": 0.29},
        "mesh_quality": {"smallest_scaled_jacobian": 0.5},
        "versions": {"icecone": "0"},
        "laws": {},
        "notes": [],
        "caution": CAUTION,
        "cone": None,
        "drawn": None,
        "peak": None,
        "case": dict(settings),
    }
    return _from(data, more)


def changed(outcome: Outcome, **more: Any) -> Outcome:
    """The outcome with keys of its JSON changed; tables are completed, and a peak or a cone makes it one of that."""
    return _from(outcome.to_dict(), more)


def _from(data: dict[str, Any], more: Mapping[str, Any]) -> Outcome:
    for name, value in more.items():
        table = TABLES.get(name)
        if name == "cone" and "path_mm" in (value or {}):
            table = CONE
        data[name] = value if table is None or value is None else {**(data.get(name) or table), **value}
    if data["cone"] is not None:
        data = NAMED_CONE | data
    own = next((name for name in ("cone", "peak") if data[name] is not None), "onset")
    return Outcome.from_dict({**data, "model": more.get("model", own)})


def settings_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """Whole settings from keys whose dots are written as two underscores."""
    return dict(settings_from({name.replace("__", "."): value for name, value in given.items()}))


def peak_record(
    peak: float, mode: str = "cone", hinge: float | None = None, hanger: float = 10.0, **given: Any
) -> Outcome:
    """An outcome of a peak beside a hanger; invented numbers.  given : keys of the case."""
    limit = {"limit_kN": min(peak, hanger), "limit_mode": "hanger" if hanger < peak else mode}
    rivals = [{"mode": "hanger", "load_kN": hanger}]
    return made_up_record(
        settings_of(given), peak_kN=peak, peak_mode=mode, first_hinge_kN=hinge, peak={"rivals": rivals}, **limit
    )


def onset_record(angle: float, onset: float, tension: float, **given: float) -> Outcome:
    """An outcome with what is said of onsets; invented numbers.  given : keys of the case."""
    case = {"placement.angle_deg": angle, "pull.direction_deg": 0.0, **_keys(given)}
    place = "at the mouth, in front of the tube"
    return made_up_record(case, onset_kN=onset, mouth_tension_MPa_per_kN=tension, onset_place=place)


def _keys(given: Mapping[str, Any]) -> dict[str, Any]:
    return {name.replace("__", "."): value for name, value in given.items()}


def install(put: Callable[[str, ModuleType], None], solve: Callable[[dict[str, Any]], Outcome]) -> None:
    """Put stand-ins for solver, files, figures and words among the loaded modules; `solve` makes the outcomes."""

    def write_solution(outcome: Outcome, solution: object, folder: Path, *_: object) -> None:
        for name in ("outcome.json", "fields.vtu"):
            (folder / name).write_text(repr(outcome.onset_kN))

    def write_extra(outcome: Outcome, folder: Path, moving: bool = False) -> list[str]:
        return []

    def draw(*arguments: Any) -> None:
        Path(arguments[-1]).write_bytes(b"picture")

    names = ("outcome.solve", "files.solution", "figures.stress", "figures.series", "words.onset")
    modules = [ModuleType(f"icecone.studies.{name}") for name in names]
    solver, files, figures, sweepfigures, why = modules
    vars(solver).update(solve_case=lambda settings, *_: (solve(settings), None))
    vars(files).update(write_solution=write_solution, write_extra=write_extra)
    vars(figures).update(sweep_figure=draw, stress_strip=draw)
    vars(sweepfigures).update(series_figure=draw)
    vars(why).update(
        explain=lambda outcomes, key: f"{len(outcomes)} outcomes against {key}",
        explain_series=lambda series: "; ".join(f"{len(outcomes)} against {key}" for key, outcomes in series),
    )
    for module in modules:
        put(module.__name__, module)


def main() -> None:
    """Run the command line; each case sleeps and then leaves a line in the log."""
    seconds, log, arguments = float(sys.argv[1]), Path(sys.argv[2]), sys.argv[3:]

    def solve(settings: dict[str, Any]) -> Outcome:
        time.sleep(seconds)
        with log.open("a") as handle:
            handle.write(f"{settings['placement.angle_deg']:g}\n")
        return made_up_record(settings)

    install(sys.modules.__setitem__, solve)
    from icecone.studies.command.main import main as icecone

    icecone(arguments, prog_name="icecone")


if __name__ == "__main__":
    main()
