"""The files of one solved case: outcome.json, fields.vtu and the pictures that its model calls for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ...fem.onset.fields import to_meshio
from ...fem.onset.solve import Solution
from ..figures.stress import stress_picture
from .store import naming, write_json

SURE = ("outcome.json", "fields.vtu", "stress.png")


def write_solution(record: dict[str, Any], solution: Solution, folder: Path) -> None:
    """Write fields.vtu, stress.png, a cone's and a peak's pictures, and, last, outcome.json.

    folder : a stage (`files.answer`), which makes them appear together.
    """
    with naming(folder / "fields.vtu"):
        to_meshio(solution).write(folder / "fields.vtu", file_format="vtu")
    stress_picture(record, folder / "fields.vtu", folder / "stress.png")
    if "cone" in record:
        from ..figures.cone import cone_picture
        from ..outcome.cone import write_surface

        write_surface(record, folder / "cone.vtu")
        cone_picture(record, folder / "cone.png")
    if "peak" in record:
        from ..figures.peak import deformed_tube, load_displacement

        load_displacement(record, folder / "load_displacement.png")
        deformed_tube(record, folder / "tube.png")
    write_json(folder / "outcome.json", record)
