"""Where a command reads from and writes to: files of users or those that come with the package, and results folders."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from ..case.toml import CaseError
from ..figures.kinds import svg_too
from ..files.answer import check_folder
from .errors import BadInput, Unsolved
from .numbers import plural
from .plain_text import one_line


def out_option(stem_of: str) -> Any:
    """The option --out; without it the folder is out/ and the file's name."""
    help_text = f"Folder for the results; made if it is not there. Without it: out/ and the name of {stem_of}."
    help_text += " An earlier answer there is replaced as a whole, files of your own stay."
    return click.option("--out", metavar="DIR", help=help_text)


def svg_option() -> Any:
    """The option --svg: while the command runs, each picture that it draws itself is written as SVG too."""

    def put(context: click.Context, _: click.Parameter, wanted: bool) -> None:
        context.with_resource(svg_too(wanted))

    return click.option(
        "--svg", is_flag=True, expose_value=False, callback=put, help="Write pictures as SVG too, beside each PNG."
    )


def ready(out: str | None, stem: str) -> Path:
    """The folder for the results, seen to be one that can be made and written into."""
    if out is not None and not out.strip():
        raise BadInput(f"--out = {out!r}: must be the name of a folder")
    folder = Path("out") / stem if out is None else Path(out)
    try:
        check_folder(folder)
    except OSError as error:
        raise BadInput(f"--out = {folder}: must be a folder that can be written: {error.strerror or error}") from None
    return folder


def find(name: str, shipped: Mapping[str, Path], kind: str) -> Path:
    """The file of that name, or the one that comes with the package."""
    path = Path(name)
    if path.is_file() or (name not in shipped and (path.suffix or path.exists())):
        return path
    if name in shipped:
        return shipped[name]
    raise CaseError(f"{kind} = {name!r}: must be a file, or one that comes with icecone: {', '.join(sorted(shipped))}")


def written_to(folder: Path) -> None:
    """Say where the answer lies."""
    click.echo(f"written to {one_line(str(folder))}")


def report_unsolved(unsolved: int, of: int, noun: str = "case") -> None:
    """Raises Unsolved if some were not solved."""
    if unsolved:
        raise Unsolved(f"{unsolved} of {plural(of, noun)} could not be solved: see above")
