"""The page as one HTML file: templates of jinja2 with every text escaped, styles, scripts and pictures written in.

A policy in the head of the page forbids every request, so that a page cannot ask for anything whatever it holds.
Scripts are joined in the order of SCRIPTS; three.js and uPlot (both MIT) come with their notices.
"""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from ..outcome.cautions import SMALL_PRINT
from .page import Page, Picture

LARGEST_BYTES = 15_000_000
SCRIPTS = (
    "parts.js",
    "side_view.js",
    "curves.js",
    "tables.js",
    "space.js",
    "viewer.js",
    "pull.js",
    "explorer.js",
    "report.js",
)
SPACE = "three.bundle.min.js"
CURVES = "uplot.iife.min.js"
STYLES = ("uplot.min.css", "style.css")
NOTICES = "NOTICES.txt"
FIRST_LINE = "<!DOCTYPE html><!-- report of icecone -->"


def html(page: Page) -> str:
    """The whole file; the same text for the same page."""
    libraries = [CURVES, *([SPACE] if SPACE in page.scripts else [])]
    return (
        _environment()
        .get_template("report.html.j2")
        .render(
            first_line=Markup(FIRST_LINE),
            small_print=SMALL_PRINT,
            page=page,
            styles=Markup("\n".join(asset(name) for name in STYLES)),
            libraries=[Markup(asset(name)) for name in libraries],
            script=Markup("\n".join(asset(name) for name in SCRIPTS)),
            notices=asset(NOTICES),
        )
    )


def encoded(page: Page) -> bytes:
    """The file's bytes. Raises ValueError if they are more than LARGEST_BYTES."""
    data = html(page).encode()
    if len(data) > LARGEST_BYTES:
        raise ValueError(f"a page of {len(data) / 1e6:.1f} MB: must be below {LARGEST_BYTES / 1e6:.0f} MB")
    return data


@cache
def asset(name: str) -> str:
    """The text of a file beside this module."""
    return (files("icecone.studies.report") / "assets" / name).read_text(encoding="utf-8")


def _source(name: str) -> str:
    return (files("icecone.studies.report") / "templates" / name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    made = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        loader=FunctionLoader(_source),
    )
    made.filters["picture"] = _picture
    return made


def _picture(picture: Picture) -> str:
    return f"data:image/png;base64,{b64encode(picture.data).decode()}"
