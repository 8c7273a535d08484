"""Field tables: every bad cell is named by file, line and column, and nothing bad comes through unasked."""

from __future__ import annotations

import csv
from dataclasses import fields
from pathlib import Path

import pytest

from icecone.studies.case.file import CaseError
from icecone.studies.field.table import COLUMNS, Row, TableError, read_table, shipped_tables

HEADER = ",".join(COLUMNS)
GOOD = {
    "id": "a",
    "source": "invented, for a test",
    "tube_length_mm": "140",
    "angle_deg": "-1.5e1",
    "attachment": "tied_off",
    "ice": "white ice",
    "rate": "125 N/s",
    "peak_kN": " 12.5 ",
    "n": "3",
    "sd_kN": "0",
    "flag": "invented",
}


def table(folder: Path, *rows: dict[str, str], header: str = HEADER) -> Path:
    path = folder / "table.csv"
    with path.open("w", newline="", encoding="utf-8") as handle:
        handle.write(header + "\n")
        csv.DictWriter(handle, header.split(","), extrasaction="ignore", lineterminator="\n").writerows(rows)
    return path


def test_columns_are_the_rows_fields() -> None:
    assert {field.name for field in fields(Row)} == {*COLUMNS, "line"}


def test_a_good_row_comes_as_it_is_and_empty_is_unknown(tmp_path: Path) -> None:
    (row,) = read_table(table(tmp_path, GOOD)).rows
    assert (row.id, row.source, row.line) == ("a", "invented, for a test", 2)
    assert (row.tube_length_mm, row.angle_deg, row.peak_kN, row.n, row.sd_kN) == (140.0, -15.0, 12.5, 3, 0.0)
    assert (row.attachment, row.ice, row.rate, row.flag) == ("tied_off", "white ice", "125 N/s", "invented")
    unknown = ("tube_od_mm", "embedment_mm", "pull_direction_deg", "crust_mm", "temperature_C", "mode")
    assert all(getattr(row, name) is None for name in unknown)


def test_any_order_of_columns_and_line_ends_and_a_byte_order_mark(tmp_path: Path) -> None:
    path = table(tmp_path, GOOD, header=",".join(reversed(COLUMNS)))
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_table(path).rows == read_table(table(tmp_path, GOOD)).rows


def test_words_lose_what_cannot_be_printed_and_numbers_may_not_have_it(tmp_path: Path) -> None:
    """An id is told by what is left of it; a number with a control character in it is none."""
    (row,) = read_table(table(tmp_path, {**GOOD, "id": "\x1b[31m a\u202e\tb", "mode": "bent\nover"})).rows
    assert (row.id, row.mode) == ("[31m a b", "bent over")
    for cells, words in (
        ({"id": "\x01"}, "column id = '': must not be empty"),
        ({"n": "1\x012"}, r"n = '1\\x012': must"),
    ):
        with pytest.raises(TableError, match=words):
            read_table(table(tmp_path, {**GOOD, **cells}))
    with pytest.raises(TableError, match="id = 'a b': must be unique: line 2 has it too"):
        read_table(table(tmp_path, {**GOOD, "id": "a b"}, {**GOOD, "id": "a\u200b\tb"}))


WRONG = [
    ("tube_length_mm", "0", "'0': must be a number between 1 and 1000, or empty"),
    ("tube_length_mm", "14 cm", "'14 cm': must be a number between 1 and 1000, or empty"),
    ("tube_od_mm", "17_0", "'17_0': must be a number"),
    ("embedment_mm", "-1", "'-1': must be a number between 0 and 1000, or empty"),
    ("angle_deg", "91", "'91': must be a number between -90 and 90, or empty"),
    ("angle_deg", "nan", "'nan': must be a number"),
    ("pull_direction_deg", "inf", "'inf': must be a number"),
    ("pull_direction_deg", "1e999", "'1e999': must be a number"),
    ("temperature_C", "268", "'268': must be a number between -80 and 0, or empty"),
    ("peak_kN", "12,5", "'12,5': must be a number"),
    ("peak_kN", "１２", "'１２': must be a number"),
    ("peak_kN", "-3", "'-3': must be a number between 0 and 1000, or empty"),
    ("crust_mm", "thin", "'thin': must be a number"),
    ("sd_kN", "+-1", "'+-1': must be a number"),
    ("n", "2.5", "'2.5': must be a whole number between 1 and 1000000, or empty"),
    ("n", "0", "'0': must be a whole number"),
    ("attachment", "hanger", "'hanger': must be one of eye, tied_off, or empty"),
    ("flag", "measured", "'measured': must be one of published, common practice, from memory, invented"),
    ("flag", "", "'': must not be empty"),
    ("source", " ", "'': must not be empty"),
    ("id", "", "'': must not be empty"),
]


@pytest.mark.parametrize(("column", "text", "message"), WRONG)
def test_a_bad_cell_is_named_and_its_row_left_out_only_when_told(
    tmp_path: Path, column: str, text: str, message: str
) -> None:
    path = table(tmp_path, {**GOOD, "id": "b"}, {**GOOD, column: text}, {**GOOD, "id": "c"})
    with pytest.raises(TableError) as caught:
        read_table(path)
    (problem,) = caught.value.problems
    assert problem.startswith(f"{path}:3: column {column} = ") and message in problem
    read = read_table(path, skip_bad=True)
    assert [row.id for row in read.rows] == ["b", "c"] and read.problems == (problem,)


def test_all_bad_cells_are_reported_one_a_line(tmp_path: Path) -> None:
    bad = {**GOOD, "peak_kN": "x", "n": "y"}
    path = table(tmp_path, bad, {**GOOD, "id": "b"}, {**GOOD, "id": "b", "flag": "?"})
    with pytest.raises(TableError) as caught:
        read_table(path)
    lines = str(caught.value).splitlines()
    assert [line.removeprefix(f"{path}:").split(" = ")[0] for line in lines] == [
        "2: column peak_kN",
        "2: column n",
        "4: column flag",
        "4: column id",
    ]
    assert "must be unique: line 3 has it too" in lines[3]


def test_lines_are_counted_as_in_the_file(tmp_path: Path) -> None:
    """A quoted cell of two lines and an empty line above: the bad row begins on line 5."""
    path = table(tmp_path, {**GOOD, "source": "invented\nfor a test"}, {**GOOD, "id": "b", "n": "x"})
    first, second, third, fourth = path.read_text().splitlines()
    path.write_text("\n".join((first, second, third, "", fourth)) + "\n")
    with pytest.raises(TableError, match=r"table\.csv:5: column n = 'x'"):
        read_table(path)


def test_a_row_with_too_few_or_too_many_cells_is_bad(tmp_path: Path) -> None:
    path = table(tmp_path, GOOD)
    path.write_text(path.read_text() + "b,invented\n" + "," * 20 + "x\n")
    with pytest.raises(TableError) as caught:
        read_table(path)
    assert [line.partition(": must be 17")[0] for line in caught.value.problems] == [
        f"{path}:3: 2 cells",
        f"{path}:4: 21 cells",
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", ":1: column id, source"),
        (HEADER, ": no row to read"),
        (HEADER.replace(",flag", "") + "\n", ":1: column flag: missing"),
        (HEADER.replace("peak_kN", "peak") + "\n", ":1: column 'peak': unknown: must be one of id, source"),
        (HEADER.replace("peak_kN", "peak_N") + "\n", "did you mean peak_kN?"),
        (HEADER + ",flag\n", ":1: column flag: must not be given twice"),
        (HEADER + '\na,"invented', ":2: not valid CSV"),
        (HEADER + '\na,"invented"x,', ":2: not valid CSV"),
    ],
)
def test_a_file_that_is_no_field_table_is_refused(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "table.csv"
    path.write_text(text)
    with pytest.raises(CaseError) as caught:
        read_table(path, skip_bad=True)
    assert f"{path}:" in str(caught.value) and message in str(caught.value) and "\n" not in str(caught.value)


def test_shipped_tables_are_sound_and_flagged() -> None:
    """Invented rows stand in the invented table only and say so; nothing there is a number without an origin."""
    tables = {name: read_table(path).rows for name, path in shipped_tables().items()}
    assert set(tables) == {"trade_facts", "published", "invented_demo"}
    assert {row.flag for row in tables["trade_facts"]} == {"common practice"}
    assert {row.flag for row in tables["published"]} == {"published"}
    assert {row.flag for row in tables["invented_demo"]} == {"invented"}
    assert all("invented" in row.source for row in tables["invented_demo"])
    assert {row.peak_kN for row in tables["published"]} == {None}, "only the abstract was seen: no load is stated"
    assert {(row.tube_length_mm, row.pull_direction_deg): row.peak_kN for row in tables["trade_facts"]} == {
        (160.0, 0.0): 16.0,
        (130.0, 90.0): 14.0,
    }
