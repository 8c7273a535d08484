"""What all pictures share: colours that any eye and any printer tells apart, the look, the kinds of files."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import click
import matplotlib as mpl
import matplotlib.image
import pytest
from click.testing import CliRunner
from eyes import apart, lightness_apart
from matplotlib.figure import Figure

from icecone.studies.command.folders import svg_option
from icecone.studies.figures import style

TOGETHER = {  # colours that one picture shows as areas, lines or markers to be told apart
    "a section": ("ICE", "STEEL", "PULL", "YIELDED"),
    "forces on steel": ("PULL", "PRESSED", "YIELDED", "ICE"),
    "stress": ("TENSION", "COMPRESSION"),
    "prediction and measurement": ("PREDICTED", "FIELD"),
    "growth of a cone": ("STABLE", "UNSTABLE"),
    "routes": ("FIRST_ROUTE", "SECOND_ROUTE"),
    "checks": ("GOOD", "BAD", "ALLOWED"),
    "a material": ("TENSILE", "TOUGHNESS", "COMPRESSIVE"),
    "a curve and its hinge": ("CURVE", "HINGE"),
    "ends of a band": ("GOES", "STAYS"),
    "shares": ("SHARE_COLOURS",),
    "values in order": ("LINES",),
    "pushes": ("PUSHES",),
    "ends of an input": ("ENDS",),
    "leans": ("LEANS",),
}


@pytest.mark.parametrize("picture", TOGETHER)
def test_colours_of_one_picture_differ_for_all_eyes_and_in_grey(picture: str) -> None:
    """By 15 in CIELAB (2.3 is just seen) for eyes with and without red or green cones, and by 8 in L*."""
    found = [getattr(style, name) for name in TOGETHER[picture]]
    colours = [colour for each in found for colour in ((each,) if isinstance(each, str) else each)]
    assert len(colours) > 1
    for one, other in combinations(colours, 2):
        assert apart(one, other) > 15, f"{one} and {other}: {apart(one, other):.1f}"
        assert lightness_apart(one, other) > 8, f"{one} and {other}: {lightness_apart(one, other):.1f} in grey"


def test_the_look_holds_while_a_picture_is_drawn_and_no_longer() -> None:
    """Axes without a frame in the look of ours; the user's settings are untouched."""
    before = dict(mpl.rcParams)

    @style.in_our_look
    def draw() -> Figure:
        figure = Figure()
        figure.subplots()
        return figure

    (axes,) = draw().axes
    assert not axes.spines["top"].get_visible()
    assert dict(mpl.rcParams) == before


def test_files_are_of_the_kind_that_their_name_says(tmp_path: Path) -> None:
    """A picture as SVG is the same each time."""
    figure = Figure()
    for name in ("a.png", "a.svg", "b.svg"):
        style.save(figure, tmp_path / name)
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    svg = (tmp_path / "a.svg").read_bytes()
    assert b"<svg" in svg and svg == (tmp_path / "b.svg").read_bytes()


def test_the_option_writes_an_svg_beside_each_png(tmp_path: Path) -> None:
    """While the command runs, and no longer."""

    @click.command()
    @svg_option()
    def draw() -> None:
        style.save(Figure(), tmp_path / "inside.png")

    for options in ([], ["--svg"]):
        assert CliRunner().invoke(draw, options).exit_code == 0
        assert (tmp_path / "inside.svg").exists() == bool(options)
    style.save(Figure(), tmp_path / "after.png")
    assert not (tmp_path / "after.svg").exists()


def test_a_png_is_the_one_that_savefig_makes(tmp_path: Path) -> None:
    """Pixel by pixel, with a layout that is found as it is drawn; the figure keeps its own resolution."""
    figure = Figure(layout="constrained")
    axes = figure.subplots(1, 2)
    axes[0].plot([1, 2, 3], label="a line")
    axes[0].legend()
    axes[1].imshow([[0.0, 1.0], [2.0, 3.0]])
    figure.suptitle("two panels")
    figure.supxlabel("words below\nin two lines")
    style.save(figure, tmp_path / "ours.png", 90)
    assert figure.dpi == mpl.rcParams["figure.dpi"]
    with mpl.rc_context(style.LOOK):
        figure.savefig(tmp_path / "theirs.png", dpi=90)
    ours, theirs = (mpl.image.imread(tmp_path / f"{name}.png") for name in ("ours", "theirs"))
    assert ours.shape == theirs.shape and (ours == theirs).all()
