"""The field sheet as one page of HTML, to print or to read, and both sheets written into a folder.

All is in one file: users' text escaped, the side views as SVG, nothing fetched from elsewhere.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, StrictUndefined, Template

from ..figures.style import INK, QUIET_INK
from ..files.store import write_atomic
from .sheet import BLANKS, BOXES, CAUTIONS, ENDINGS, NOTES, Sheet
from .sheet_pdf import sheet_pdf
from .sketch import HIGH, WIDE, Point, sketch

TEMPLATE = "sheet.html.j2"


def sheet_page(sheet: Sheet) -> str:
    """The page, the same text for the same sheet."""
    frame = sheet.frame
    return _template().render(
        heading=sheet.heading,
        pages=[
            (words, [(row, sketch(row.drawn, frame)) for row in rows], number)
            for number, (words, rows) in enumerate(sheet.pages())
        ],
        blanks=BLANKS,
        boxes=BOXES,
        endings=ENDINGS,
        notes=NOTES,
        cautions=CAUTIONS,
        wide=WIDE,
        high=HIGH,
        ink=INK,
        quiet=QUIET_INK,
        points=_points,
    )


def write_sheet(sheet: Sheet, folder: Path) -> tuple[Path, Path]:
    """Write field_sheet.pdf and field_sheet.html into a folder, atomically. Raises OSError if that fails."""
    whole = {"field_sheet.pdf": sheet_pdf(sheet), "field_sheet.html": sheet_page(sheet).encode()}
    for name, data in whole.items():
        write_atomic(folder / name, data)
    pdf, page = (folder / name for name in whole)
    return pdf, page


def _points(points: tuple[Point, ...]) -> str:
    """As SVG has them: y downwards."""
    return " ".join(f"{x:.2f},{HIGH - y:.2f}" for x, y in points)


@cache
def _template() -> Template:
    text = (files("icecone.studies.field") / "templates" / TEMPLATE).read_text(encoding="utf-8")
    kept = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return kept.from_string(text)
