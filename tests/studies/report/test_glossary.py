"""Words of the reports: those of the front page, in the same words."""

from __future__ import annotations

from pathlib import Path

from icecone.studies.report.glossary import WORDS

README = Path(__file__).parents[3] / "README.md"


def test_every_word_is_explained_as_on_the_front_page() -> None:
    rows = [line.strip("| ").split(" | ") for line in README.read_text(encoding="utf-8").splitlines() if " | " in line]
    front = {row[0]: row[1] for row in rows if len(row) == 2}
    assert len(WORDS) >= 10
    assert {word: front.get(word) for word, _ in WORDS} == dict(WORDS)
