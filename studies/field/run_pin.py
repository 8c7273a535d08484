"""Pushes of a pin, from their sheet to what they settle, into a folder.

OUT/pin.md       what the pushes settle, a sentence each         OUT/pin.png      the pushes beside the law
"""

from __future__ import annotations

from pathlib import Path

from ..case.toml import CaseError
from ..command.plain_text import markdown
from ..files.answer import answer
from ..files.store import write_text
from ..outcome.cautions import CAUTION, INVENTED
from .cells import read_cells
from .pin_push import COLUMNS, NUMBERS, TOUGHNESS, Push, read_pushes
from .pin_words import Settled, settle_pushes

FILES = ("pin.md", "pin.png")
FLAG = "flag"


def pushes_of(path: Path) -> tuple[tuple[Push, ...], list[str]]:
    """Pushes of a sheet (CSV, XLSX, Parquet) that were made, and the cautions that they ask for.

    Raises CaseError, with file and line.
    """
    read = read_cells(path, lambda name: name in (*NUMBERS, TOUGHNESS[0]))
    if missing := [name for name in COLUMNS[:-1] if name not in read.header]:
        raise CaseError(f"{path}:{read.line}: column {', '.join(missing)}: missing: icecone example --day pin_push")
    rows = [(line, dict(zip(read.header, cells, strict=False))) for line, cells in read.rows]
    for line, row in rows:
        try:
            read_pushes([row])
        except CaseError as error:
            raise CaseError(f"{path}:{line}: {error}") from None
    pushes = read_pushes(row for _, row in rows)
    if not pushes:
        raise CaseError(f"{path}: no push was made: force_kN and chips must be given")
    made = {push.id for push in pushes}
    is_invented = any(row.get(FLAG, "").strip() == "invented" for _, row in rows if row.get("id", "").strip() in made)
    return pushes, [INVENTED, CAUTION] if is_invented else [CAUTION]


def run_pin(path: Path, kind: str, out: Path) -> tuple[Settled, list[str]]:
    """What the pushes of a sheet settle, written into a folder, and the cautions. kind : of the ice.

    Raises CaseError, SolveError if a law does not come out, OSError if a file cannot be written.
    """
    from ..figures.pin import pin_figure

    pushes, cautions = pushes_of(path)
    settled = settle_pushes(pushes, kind)
    with answer(out, "pin", FILES) as stage:
        lines = [f"# What {len(pushes)} pushes of a pin settle", "", *(f"- {markdown(text)}" for text in settled.words)]
        write_text(stage / "pin.md", "\n".join([*lines, "", *(f"> {text}\n>" for text in cautions)]) + "\n")
        pin_figure(pushes, settled, kind, stage / "pin.png", INVENTED in cautions)
    return settled, cautions
