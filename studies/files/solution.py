"""The files of one solved case: outcome.json, fields.vtu, stress.png and the pictures that its model calls for."""

from __future__ import annotations

from pathlib import Path

from ...fem.onset.fields import to_meshio
from ...fem.onset.solve import Solution
from ..figures.stress import stress_picture
from ..outcome.data import Outcome
from ..outcome.models import MODELS, load
from .store import naming, write_json


def write_solution(outcome: Outcome, solution: Solution, folder: Path, pictures: bool = True) -> None:
    """Write fields.vtu, stress.png, the pictures of the outcome's model, and, last, outcome.json.

    folder : a stage (`files.answer`), which makes them appear together.  pictures : False leaves out what is drawn.
    """
    write_fields(solution, folder / "fields.vtu")
    if pictures:
        stress_picture(outcome, folder / "fields.vtu", folder / "stress.png")
    for name, draw in MODELS[outcome.model].pictures:
        if pictures or not name.endswith(".png"):
            load(draw)(outcome, folder / name)
    write_json(folder / "outcome.json", outcome.to_dict())


def write_extra(outcome: Outcome, folder: Path, moving: bool = False) -> list[str]:
    """Write what can be drawn besides, and what moves if that is asked for; a line for each that cannot be."""
    model = MODELS[outcome.model]
    said = [load(draw)(outcome, folder / name) for name, draw in (*model.extra, *(model.moving if moving else ()))]
    return [words for words in said if words]


def write_fields(solution: Solution, path: Path) -> None:
    """Displacement, stress and contact as a VTU file."""
    with naming(path):
        to_meshio(solution).write(path, file_format="vtu")
