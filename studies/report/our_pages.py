"""Pages of Markdown that commands write (plan.md, comparison.md, validation.md), read back as parts of a report.

Read by markdown-it, HTML switched off: what is left is plain text, which the templates escape. A heading of the second
level begins a section; a paragraph in bold alone, before the first of them, is the answer; quotes are the cautions.
Tables whose every column is short are shown as tables; pictures are left to the folder's files.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from markdown_it import MarkdownIt
from markdown_it.token import Token

from .page import Block, Section, Table, Words


@dataclass
class OurPage:
    """A page as read. before : blocks before the first section."""

    title: str = ""
    answer: str = ""
    cautions: list[str] = field(default_factory=list)
    before: list[Block] = field(default_factory=list)
    sections: list[Section] = field(default_factory=list)

    def of(self, heading: str) -> Section | None:
        """The section with that heading."""
        return next((each for each in self.sections if each.heading == heading), None)


def read_page(text: str) -> OurPage:
    """The page in this Markdown."""
    found, heading = OurPage(), ""
    blocks: list[Block] = []

    def close() -> None:
        if heading:
            found.sections.append(Section(_name(heading), heading, tuple(blocks)))
        else:
            found.before += blocks
        blocks.clear()

    for kind, tokens in _parts(MarkdownIt("commonmark", {"html": False}).enable("table").parse(text)):
        words = [_plain(token) for token in tokens if token.type == "inline"]
        if kind == "h1":
            found.title = words[0]
        elif kind == "h2":
            close()
            heading = words[0]
        elif kind == "blockquote":
            found.cautions += words
        elif kind == "table":
            blocks.append(_table(tokens, heading or found.title))
        elif kind == "paragraph" and not heading and not found.answer and _is_bold(tokens):
            found.answer = words[0]
        elif words and any(words):
            blocks.append(Words(tuple(each for each in words if each), points=kind == "list"))
    close()
    return found


def _parts(tokens: list[Token]) -> Iterator[tuple[str, list[Token]]]:
    """The blocks at the top of the page, each with its tokens."""
    kinds = {"bullet_list_open": "list", "paragraph_open": "paragraph", "blockquote_open": "blockquote"}
    start = 0
    for at, token in enumerate(tokens):
        if token.level == 0 and token.nesting == 1:
            start = at
        elif token.level == 0 and token.nesting == -1:
            first = tokens[start]
            kind = first.tag if first.type == "heading_open" else kinds.get(first.type, first.type.partition("_")[0])
            yield kind, tokens[start : at + 1]


def _plain(token: Token) -> str:
    """The text of a line, without marks."""
    pieces = []
    for child in token.children or ():
        if child.type in ("text", "code_inline"):
            pieces.append(child.content)
        elif child.type in ("softbreak", "hardbreak"):
            pieces.append(" ")
    return "".join(pieces).strip()


def _is_bold(tokens: list[Token]) -> bool:
    children = [child for token in tokens for child in token.children or () if child.content or child.nesting]
    return bool(children) and children[0].type == "strong_open" and children[-1].type == "strong_close"


def _table(tokens: list[Token], caption: str) -> Table:
    rows: list[list[str]] = []
    for token in tokens:
        if token.type == "tr_open":
            rows.append([])
        elif token.type == "inline":
            rows[-1].append(_plain(token))
    head, *body = rows
    return Table(caption, tuple(head), tuple(map(tuple, body)))


def _name(heading: str) -> str:
    return "part-" + "-".join("".join(c if c.isalnum() else " " for c in heading.lower()).split())
