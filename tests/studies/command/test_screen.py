"""What the commands print."""

from __future__ import annotations

import pytest
from studystub import made_up_record

from icecone.studies.case.file import settings_from
from icecone.studies.command.screen import console, print_study
from icecone.studies.sweep.runner import Done, Job
from icecone.studies.sweep.study import Series, Study


def test_a_study_prints_its_values_as_they_were_given(capsys: pytest.CaptureFixture[str]) -> None:
    """3600 and not 3.6e+03; two values that differ in the fourth digit stay apart."""
    jobs = tuple(
        Job(f"{value:g}", settings_from({"ice.load_time_s": value})) for value in (3600.0, 1234.5, 999.9, 0.01)
    )
    done = [Done(job, made_up_record(job.settings, onset_kN=999.9), "") for job in jobs]
    print_study(console(), Study("title", "question", (Series("ice.load_time_s", jobs),)), done)
    text = capsys.readouterr().out
    assert "e+" not in text and {"3600", "1234.5", "999.9", "0.01", "1000"} <= set(text.split())
