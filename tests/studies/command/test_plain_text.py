"""Text of users: on one line, no formula in a sheet, no mark in Markdown, no mathematics in a picture."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from domains import examples
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.text import Text

from icecone.studies.command.plain_text import markdown, one_line, sheet_cell, shortened
from icecone.studies.figures.style import LONGEST_TITLE, heading, save, wrapped
from icecone.studies.files.store import write_csv


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("  a\n\tb\r\nc ", "a b c"),
        ("\x1b[31mred\x1b[0m", "[31mred[0m"),
        ("a\x00b\u202ec\u200bd", "abcd"),
        ("a\u2028b\u00a0c", "a b c"),
        ("half \udc80 of one", "half of one"),
        ("from $5 to $10", "from $5 to $10"),
    ],
)
def test_what_cannot_be_printed_is_taken_out(text: str, line: str) -> None:
    assert one_line(text) == line


@examples(100)
@given(st.text())
def test_every_text_is_one_printable_line(text: str) -> None:
    """And stays as it is when it is made so again; every character that is kept was there."""
    line = one_line(text)
    assert (line.isprintable() and line == line.strip() == one_line(line)) and set(line) <= {*text, " "}


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+cmd|x", "-2+3", "@sum", "\t=1+1", "\x00=1+1"])
def test_no_cell_begins_like_a_formula(tmp_path: Path, text: str) -> None:
    assert sheet_cell(text).startswith("'") and text.strip("\t\x00") in sheet_cell(text)
    write_csv(tmp_path / "t.csv", ("id",), [(text,)])
    with (tmp_path / "t.csv").open(newline="") as handle:
        assert next(csv.reader(handle)) == ["id"] and next(csv.reader(handle))[0][0] == "'"


def test_numbers_stay_numbers(tmp_path: Path) -> None:
    """Written as a number or as text; None is empty."""
    write_csv(tmp_path / "t.csv", ("a", "b", "c", "d"), [(-1.5, "-1.5", "+2e-3", None)])
    assert (tmp_path / "t.csv").read_text() == "a,b,c,d\n-1.5,-1.5,+2e-3,\n"


def test_markdown_shows_its_marks() -> None:
    assert markdown("a|b `c` <script> [x](y) $5 *d* \\") == r"a\|b \`c\` \<script\> \[x\](y) \$5 \*d\* " + "\\\\"


def test_a_long_text_is_cut_with_dots() -> None:
    assert shortened("abc", 3) == "abc" and shortened("abcd", 3) == "ab…"


def test_a_title_is_drawn_as_written(tmp_path: Path) -> None:
    """Dollars begin no formula in any text, whole or broken; powers of ten at the ticks stay powers."""
    figure = Figure(layout="constrained")
    axes = figure.add_subplot()
    axes.plot([1, 1000], [1, 2], label="from $5 to $10")
    axes.set_xscale("log")
    axes.set_xlabel("$a$")
    axes.set_yticks([1, 2], ["$x$", r"$\frac{1$"])
    axes.legend()
    heading(figure, r"$\frac{1$ of $5")
    save(figure, tmp_path / "a.png", dpi=40)
    dollars = [text for text in figure.findobj(Text) if "$" in text.get_text()]
    powers = [text for text in dollars if "mathdefault" in text.get_text()]
    assert powers and all(text.get_parse_math() for text in powers)
    others = [text for text in dollars if text not in powers]
    assert len(others) >= 5 and not any(text.get_parse_math() for text in others)


@pytest.mark.parametrize("title", ["x" * 5000, "many words " * 500])
def test_a_long_title_leaves_room_for_the_picture(tmp_path: Path, title: str) -> None:
    figure = Figure(figsize=(6, 4), layout="constrained")
    axes = figure.add_subplot()
    axes.set_facecolor("red")
    heading(figure, title)
    save(figure, tmp_path / "a.png", dpi=40)
    shown = figure.get_suptitle()
    assert len(shown.replace("\n", " ")) <= LONGEST_TITLE + shown.count("\n") and shown.endswith("…")
    red, green, *_ = imread(tmp_path / "a.png").T
    assert ((red > 0.9) & (green < 0.1)).mean() > 0.4


def test_lines_break_after_commas_and_never_in_a_word() -> None:
    """A part longer than a line breaks between words; 125 characters of 8 points go to 8 inches."""
    figure = Figure(figsize=(8, 4))
    listed = ", ".join(["two words"] * 20)
    assert all(line.endswith((",", "words")) and len(line) <= 125 for line in wrapped(listed, figure, 8).split("\n"))
    sentence = f"{'many words ' * 15}and, after a comma, more"
    assert " ".join(wrapped(sentence, figure, 8).split("\n")) == sentence
