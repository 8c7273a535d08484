"""The files of one solved case: outcome.json, fields.vtu, stress.png and the pictures that its model calls for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from ...fem.onset.fields import to_meshio
from ...fem.onset.solve import Solution
from ..figures.stress import stress_picture
from ..outcome.data import Outcome
from ..outcome.models import MODELS, load
from .store import naming, write_json

Each = Callable[[Callable[[Any], Any], Sequence[Any]], Iterable[Any]]
Drawing = tuple[Callable[..., Any], tuple[Any, ...]]  # what draws, from what and where to


def write_solution(
    outcome: Outcome,
    solution: Solution,
    folder: Path,
    pictures: bool = True,
    each: Each = map,
    beside: Callable[[], None] = lambda: None,
) -> None:
    """Write fields.vtu, stress.png, the pictures of the outcome's model, and, last, outcome.json.

    folder : a stage (`files.answer`), which makes them appear together.  pictures : False leaves out what is drawn.
    each : draws each, as `map` does; maybe in other processes.  beside : called while they are at it.
    """
    write_fields(solution, folder / "fields.vtu")
    drawings: list[Drawing] = []
    if pictures:
        drawings.append((stress_picture, (outcome, folder / "fields.vtu", folder / "stress.png")))
    for name, draw in MODELS[outcome.model].pictures:
        if pictures or not name.endswith(".png"):
            drawings.append((load(draw), (outcome, folder / name)))
    drawn = each(_draw, drawings)
    beside()
    for _ in drawn:  # what went wrong is raised here
        pass
    write_json(folder / "outcome.json", outcome.to_dict())


def _draw(drawing: Drawing) -> None:
    draw, given = drawing
    draw(*given)


def write_extra(outcome: Outcome, folder: Path, moving: bool = False) -> list[str]:
    """Write what can be drawn besides, and what moves if that is asked for; a line for each that cannot be."""
    model = MODELS[outcome.model]
    said = [load(draw)(outcome, folder / name) for name, draw in (*model.extra, *(model.moving if moving else ()))]
    return [words for words in said if words]


def write_fields(solution: Solution, path: Path) -> None:
    """Displacement, stress and contact as a VTU file."""
    with naming(path):
        to_meshio(solution).write(path, file_format="vtu")
