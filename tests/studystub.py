"""A stand-in for the solver, the figures and the words, so that tests of the studies' machinery take no seconds.

The records have the keys of real ones; the numbers are made up from the settings and say nothing about ice.
As a script it runs the command line on the stand-in: python studystub.py SECONDS_PER_CASE LOG ARGUMENTS...
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

CAUTION = "Research and teaching only (stand-in). Onset is the first damage, not the peak load."


def made_up_record(settings: Mapping[str, Any]) -> dict[str, Any]:
    """A record that depends on the settings, with every key of a real one but `peak`, which pictures read."""
    onset = 1.0 + 0.01 * settings["placement.angle_deg"] + 0.001 * settings["placement.embedment_mm"]
    return {
        "onset_kN": onset,
        "limit_kN": min(10.0, 10 * onset),
        "limit_mode": "hanger" if onset > 1 else "cone",
        "peak_kN": 10 * onset,
        "peak_mode": "cone",
        "next_mode": "hanger",
        "next_kN": 10.0,
        "margin": 1.0 / onset,
        "first_hinge_kN": None,
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
        "dofs": 1000,
        "wall_s": 0.1,
        "residual": 1e-12,
        "balance_error": 1e-9,
        "contact_iterations": 3,
        "solver": "stand-in",
        "ice": {"kind": settings.get("ice.kind"), "E_GPa": 9.0, "nu": 0.3, "tensile_MPa": 1.0, "fabric": "isotropic"},
        "crust": None,
        "metal": {"kind": "chromoly_steel", "E_GPa": 205.0, "nu": 0.29},
        "mesh_quality": {"smallest_scaled_jacobian": 0.5},
        "versions": {"icecone": "0"},
        "notes": [],
        "caution": CAUTION,
        "case": dict(settings),
    }


def peak_record(
    peak: float, mode: str = "cone", hinge: float | None = None, hanger: float = 10.0, **changed: Any
) -> dict[str, Any]:
    """A record with what the pictures of peaks read; invented numbers."""
    from samples import settings

    case = settings(**changed)
    rivals = [{"mode": "hanger", "load_kN": hanger}]
    return {
        **made_up_record(case),
        "peak_kN": peak,
        "peak_mode": mode,
        "first_hinge_kN": hinge,
        "peak": {"rivals": rivals, "caution": CAUTION},
    }


def onset_record(angle: float, onset: float, tension: float, **more: object) -> dict[str, Any]:
    """What words and pictures of onsets read in a record; invented numbers."""
    return {
        "onset_kN": onset,
        "onset_mode": "tension",
        "onset_place": "at the mouth, in front of the tube",
        "onset_crack": "in the plane of the pull, splitting the ice along it",
        "mouth_tension_MPa_per_kN": tension,
        "mouth_compression_MPa_per_kN": 8.0,
        "share_front": 1.2,
        "share_threads": 0.1,
        "share_back_or_toe": -0.3,
        "compliance_mm_per_kN": 0.03,
        "case": {"placement.angle_deg": angle, "pull.direction_deg": 0.0},
        **more,
    }


def install(put: Callable[[str, ModuleType], None], solve: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    """Put stand-ins for solver, files, figures and words among the loaded modules; `solve` makes the records."""

    def write_solution(record: dict[str, Any], solution: object, folder: Path) -> None:
        for name in ("outcome.json", "fields.vtu"):
            (folder / name).write_text(repr(record["onset_kN"]))

    def draw(*arguments: Any) -> None:
        Path(arguments[-1]).write_bytes(b"picture")

    names = ("outcome.record", "files.solution", "figures.stress", "figures.series", "words.onset")
    modules = [ModuleType(f"icecone.studies.{name}") for name in names]
    record, files, figures, sweepfigures, why = modules
    vars(record).update(CAUTION=CAUTION, solve_settings=lambda settings, *_: (solve(settings), None))
    vars(files).update(SURE=("outcome.json", "fields.vtu"), write_solution=write_solution)
    vars(figures).update(sweep_figure=draw, stress_strip=draw)
    vars(sweepfigures).update(series_figure=draw)
    vars(why).update(
        explain=lambda records, key: f"{len(records)} outcomes against {key}",
        explain_series=lambda series: "; ".join(f"{len(records)} against {key}" for key, records in series),
    )
    for module in modules:
        put(module.__name__, module)


def main() -> None:
    """Run the command line; each case sleeps and then leaves a line in the log."""
    seconds, log, arguments = float(sys.argv[1]), Path(sys.argv[2]), sys.argv[3:]

    def solve(settings: dict[str, Any]) -> dict[str, Any]:
        time.sleep(seconds)
        with log.open("a") as handle:
            handle.write(f"{settings['placement.angle_deg']:g}\n")
        return made_up_record(settings)

    install(sys.modules.__setitem__, solve)
    from icecone.studies.command.main import main as icecone

    icecone(arguments, prog_name="icecone")


if __name__ == "__main__":
    main()
