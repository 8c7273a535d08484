"""The gallery: a command for each picture of the rooms' pages; a command that fails is named, the others go on."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from icecone.studies.command.main import main
from icecone.studies.outcome.cautions import CAUTION
from icecone.studies.shipped import gallery
from icecone.studies.sweep.study import shipped_studies

DRAWN_ELSEWHERE = {"field_sheet.png", "report_answer.png", "report_pull.png", "report_explorer.png"}  # of pages


def test_every_command_that_draws_and_every_shipped_study_is_in_it() -> None:
    words = [shown.words for shown in gallery.commands()]
    draws = {name for name, command in main.commands.items() if any(each.name == "out" for each in command.params)}
    assert {each[0] for each in words} >= draws - {"gather", "validate", "report"}
    assert {each[1] for each in words if each[0] == "study"} == set(shipped_studies())


def test_every_shipped_picture_is_kept_by_one_command() -> None:
    kept = [name for shown in gallery.commands() for name in shown.kept.values()]
    assert len(set(kept)) == len(kept)
    assert {path.name for path in gallery.PICTURES.iterdir()} - DRAWN_ELSEWHERE == set(kept)


def test_a_command_that_fails_is_named_and_the_others_go_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = (gallery.Shown("bad", ("study", "nothing")), gallery.Shown("sheet", ("pin", "invented_pushes")))
    monkeypatch.setattr(gallery, "commands", lambda: iter(shown))
    done = CliRunner().invoke(gallery.gallery, [str(tmp_path / "out")])
    page = (tmp_path / "out" / "index.html").read_text()
    assert done.exit_code == 1 and "failed: bad" in done.output
    assert "nothing" in page and 'src="sheet/pin.png"' in page
    assert " ".join(CAUTION.split()) in " ".join(page.replace("&#39;", "'").split())
