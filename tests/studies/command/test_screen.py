"""What the commands print on screens of 80 and 120 columns: no line longer, no word and no number broken."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console
from studystub import changed, made_up_record, peak_record

from icecone.studies.case.file import settings_from
from icecone.studies.command import day
from icecone.studies.command import screen as screens
from icecone.studies.command.numbers import fixed, percent, plural, short, signed
from icecone.studies.command.rows import LEVER, onset_rows
from icecone.studies.command.tables import fitted, tell
from icecone.studies.field.compare import compare
from icecone.studies.field.predict import Prediction
from icecone.studies.field.table import Row
from icecone.studies.outcome.cautions import CAUTION, COMPARED, CONE_ALONE, PULL_CAUTION, all_cautions
from icecone.studies.sweep.runner import Done, Job
from icecone.studies.sweep.study import Series, Study
from icecone.studies.words.materials import pages
from icecone.validation.check import Check, Measured, Quantity
from icecone.validation.pack import Result

LONG = "a reason that is told in many words, more than any cell of a table should have to hold, and so below it"
LOADS = {"peak_kN": 123.456789, "limit_kN": 0.1234567, "first_hinge_kN": 98.7654}
PEAK = changed(peak_record(15.6, "threads stripped", 7.03), notes=[LONG], peak={"hand_warning": LONG}, **LOADS)
CONE = made_up_record(settings_from({}), cone={"least_kN": 22.4163}, **LOADS)
SAG = ("sag of the middle", "mm", 2.0, (2.2, 2.05, 2.0125), 0.01, "made up", (4.0, 2.0, 1.0), None, 1.8)
FOUND = Measured((Quantity(*SAG),))
ONSET = made_up_record(settings_from({}), share_threads=-1e-17, onset_kN=4.78e-17)


def study(screen: Console) -> None:
    keys = ("placement.embedment_mm", "placement.attachment", "pull.direction_deg")
    jobs = tuple(Job(f"depth {d}", settings_from({keys[0]: d, keys[1]: "tied_off"})) for d in (50, 90.5, 130))
    done = [Done(job, changed(PEAK, onset_place="123 mm below the surface, all round the tube")) for job in jobs[:2]]
    found = Study("a title", "why?", (Series(keys[0], jobs),), grid=keys)
    screens.print_study(screen, found, [*done, Done(jobs[2], None, LONG)])


def routes(screen: Console) -> None:
    part = {"peak_kN": 12.3456, "mode": "threads stripped", "hinge_kN": None, "gone": []}
    part |= {"first_drop_kN": 9.8765, "early_kN": 7.6543}
    screens.print_routes(screen, [{"name": "leaning 20° toward, flush", "first": part, "second": part}] * 2)


def comparison(screen: Console) -> None:
    row = Row("an_invented_row_of_a_table", 2, flag="common practice", peak_kN=7.654321, mode="bent")
    plain = {"peak_kN": 123.456789, "peak_mode": "threads stripped"}
    draws = tuple({"peak_kN": 100.0 + k, "peak_mode": "cone"} for k in range(40))
    known = Prediction(row, settings_from({}), (), "", plain, draws, {"assumed.steel_friction": np.linspace(0, 1, 40)})
    rows = (known, Prediction(replace(row, id="other"), None, problem=LONG))
    day.print_comparison(screen, compare("invented.csv", rows, "peak", 40, 1))


def validation(screen: Console) -> None:
    check = Check("half_model_of_something", "beam and pile", "Title", "source", "closed form", "p", lambda: FOUND)
    screens.print_validation(screen, [Result(check, FOUND, 1.0), Result(check, None, 0.0, LONG)])


def materials(screen: Console) -> None:
    for name in (None, "dense_waterfall", "laws"):
        for page in pages(name, -5.0, 10.0, screen.width):
            screens.print_page(screen, page)


PRINTED: dict[str, Callable[[Console], None]] = {
    "peak": lambda screen: screens.print_outcome(screen, PEAK),
    "cone": lambda screen: screens.print_outcome(screen, CONE),
    "onset": lambda screen: screens.print_outcome(screen, ONSET),
    **{"study": study, "routes": routes, "comparison": comparison, "validation": validation, "materials": materials},
}


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("what", PRINTED)
def test_no_line_is_longer_and_no_word_is_broken(what: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every word of every cell, numbers among them, stands whole on the screen; prose is in no cell."""
    cells: list[str] = []
    whole = screens.print_table

    def seen(screen: Console, columns: Any, rows: Any, *more: Any, **named: Any) -> None:
        cells.extend(cell for row in (columns, *rows) for cell in row[: named.get("least")])  # others may go
        whole(screen, columns, rows, *more, **named)

    for module in (screens, day):
        monkeypatch.setattr(module, "print_table", seen)
    out = io.StringIO()
    PRINTED[what](Console(file=out, width=width, color_system=None))
    lines = out.getvalue().splitlines()
    assert cells and max(map(len, lines)) <= width and LONG not in cells
    words = set(out.getvalue().replace("│", " ").replace("┃", " ").split())
    words |= {word.rstrip(":") for word in words}
    missing = {word for cell in cells for word in cell.split()} - words
    assert {word for word in missing if not any(word.startswith(part) for part in ("placement.", "pull."))} == set()
    told = " ".join(out.getvalue().split())
    assert what not in ("peak", "study", "comparison", "validation") or LONG in told
    for never in ("-0.0 %", "e-17", "1 checks", "1 peaks"):
        assert never not in told


def test_a_flag_that_all_rows_have_is_said_once() -> None:
    out = io.StringIO()
    comparison(Console(file=out, width=300, color_system=None))
    lines = out.getvalue().splitlines()
    assert sum("common practice" in line for line in lines) == 1 and any("; all rows: common" in line for line in lines)
    assert not any("flag" in line for line in lines)


def test_a_row_that_does_not_fit_is_a_block() -> None:
    out = io.StringIO()
    columns = tuple(f"quantity_number_{n}" for n in range(9))
    screens.print_table(Console(file=out, width=80, color_system=None), columns, [[f"12345.{n}" for n in range(9)]])
    assert out.getvalue().splitlines()[:2] == ["quantity_number_0: 12345.0", "  quantity_number_1: 12345.1"]
    assert fitted(("a", "bb"), [("long word", "1.25")], 9) == [5, 4] and fitted(("a",), [("1.25",)], 3) == []


def test_a_number_stays_beside_its_unit() -> None:
    """In prose, in cells and in blocks."""
    out = io.StringIO()
    screen = Console(file=out, width=20, color_system=None)
    tell(screen, "it is so stripped 23 % and so holds 10.3 kN")
    screens.print_table(screen, ("what", "a b"), [("first fall by 5 %", "1")], frame=False)
    screens.print_table(screen, ("name", "of_many_letters", "b"), [("x", "is stripped 23 %", "9")])
    lines = [line.strip() for line in out.getvalue().splitlines()]
    assert not any(line.startswith(("%", "kN")) for line in lines)
    assert lines[:2] == ["it is so stripped", "23 % and so holds"]


def test_the_first_of_two_columns_is_as_wide_as_makes_the_table_short() -> None:
    """A name of 30 letters on one line, though the cell beside it would take two thirds of the width."""
    name, cell = "largest pull up to 17 mm of way", "slanting between the largest compression and the tension"
    rows = [(name, "9.0")] * 5 + [("how it runs", cell)]
    wide, rest = fitted(("what", "value"), rows, 60)
    assert wide == len(name) and rest == 60 - wide
    assert fitted(("what", "value"), rows, 200) == [len(name), len(cell)]


def test_a_narrow_screen_leaves_out_the_last_columns_that_may_go() -> None:
    columns, rows = tuple(f"quantity_number_{n}" for n in range(9)), [[f"12345.{n}" for n in range(9)]] * 3
    out = io.StringIO()
    screens.print_table(Console(file=out, width=80, color_system=None), columns, rows, least=3)
    lines = out.getvalue().splitlines()
    assert lines[0].split() == list(columns[:4]) and lines[2].split() == [f"12345.{n}" for n in range(4)]
    assert " ".join(lines[5:]) == f"Too narrow for: {', '.join(columns[4:])}; see table.csv."


def test_no_name_of_the_code_and_no_bare_number_stands_in_the_table_of_a_case() -> None:
    rows = dict(onset_rows(ONSET))
    assert rows["size of the solve"].endswith(f"unknowns, {ONSET.onset.wall_s:.1f} s, {ONSET.onset.solver}")
    assert all("_" not in name for name in rows["check: mesh quality"])
    pushed = replace(ONSET, onset=replace(ONSET.onset, share_front=1.3, share_back_or_toe=-0.3))
    told = dict(onset_rows(pushed))
    assert told["share of the pull: bearing behind"] == f"-30.0 %: {LEVER}"
    assert (told["share of the pull: bearing in front"], rows["share of the pull: threads"]) == ("130.0 %", "0.0 %")


def test_prose_breaks_between_words_and_keeps_its_paragraphs() -> None:
    out = io.StringIO()
    tell(Console(file=out, width=20, color_system=None), "one two three four five\n\nsix-seven-eight nine")
    assert out.getvalue() == "one two three four\nfive\n\nsix-seven-eight nine\n"


def test_the_answer_stands_on_the_first_line() -> None:
    for outcome, first in ((PEAK, "limit 0.1 kN: hanger"), (CONE, "limit 0.1 kN"), (ONSET, "limit 10.0 kN: hanger")):
        out = io.StringIO()
        screens.print_outcome(Console(file=out, width=120, color_system=None), outcome)
        assert out.getvalue().startswith(first)


def test_numbers_and_counts_are_written_by_one_hand() -> None:
    assert [short(value) for value in (4.78e-17, -0.0, 0.1234, 1234.5, 12345678.0)] == [
        "0",
        "0",
        "0.123",
        "1234",
        "12345678",
    ]
    assert [percent(-1e-17), percent(-0.349), fixed(-0.04), fixed(-0.06)] == ["0.0 %", "-34.9 %", "0.0", "-0.1"]
    assert [signed(0.0), signed(-0.01), signed(5.04), signed(-5.0)] == ["0.0", "0.0", "+5.0", "-5.0"]
    assert [plural(1, "check"), plural(2, "check"), plural(3, "quantity", "quantities")] == [
        "1 check",
        "2 checks",
        "3 quantities",
    ]


def test_cautions_are_those_of_the_models_and_the_general_one() -> None:
    assert all_cautions([PEAK, PEAK]) == [PULL_CAUTION, CAUTION] and all_cautions([ONSET]) == [CAUTION]
    assert all_cautions([PEAK, CONE]) == [f"{PULL_CAUTION} {CONE_ALONE}", CAUTION]
    out = io.StringIO()
    comparison(Console(file=out, width=300, color_system=None))
    routes(Console(file=out, width=300, color_system=None))
    assert all(out.getvalue().count(words) == n for words, n in ((COMPARED, 1), (PULL_CAUTION, 1), (CAUTION, 2)))


def test_every_picture_of_a_case_begins_with_what_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from icecone.studies.figures import cone, peak, tube

    titles: list[str] = []
    for module in (cone, peak, tube):
        monkeypatch.setattr(module, "save", lambda figure, path: titles.append(figure.get_suptitle()))
    cone.cone_picture(CONE, tmp_path)
    peak.load_displacement(PEAK, tmp_path)
    tube.deformed_tube(PEAK, tmp_path)
    assert len(titles) == 3 and all(title.startswith("limit 0.1 kN") for title in titles)


def test_a_study_prints_its_values_as_they_were_given(capsys: pytest.CaptureFixture[str]) -> None:
    """3600 and not 3.6e+03; two values that differ in the fourth digit stay apart."""
    jobs = tuple(
        Job(f"{value:g}", settings_from({"ice.load_time_s": value})) for value in (3600.0, 1234.5, 999.9, 0.01)
    )
    done = [Done(job, made_up_record(job.settings, onset_kN=999.9), "") for job in jobs]
    screens.print_study(screens.console(), Study("title", "question", (Series("ice.load_time_s", jobs),)), done)
    text = capsys.readouterr().out
    assert "e+" not in text and {"3600", "1234.5", "999.9", "0.01", "1000"} <= set(text.split())
