"""Tables of pulls: every mistake is named by file, line and column; what spreadsheets write is read."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from icecone.studies.case.file import CaseError
from icecone.studies.field.cells import read_cells
from icecone.studies.field.columns import COLUMNS, ENDED, SHORT, columns_table
from icecone.studies.field.table import Row, TableError, read_table, shipped_tables

NAMES = (*COLUMNS, *SHORT, "placement.sling_friction", "tube.metal", "ice.K_IC_kPa_sqrt_m")
HEADER = ",".join(NAMES)
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
    "ended": "Cell’s Limit",
    "angle_measured_deg": "-14",
    "tube.metal": "titanium_alloy",
}


def table(folder: Path, *rows: dict[str, str], header: str = HEADER) -> Path:
    path = folder / "table.csv"
    with path.open("w", newline="", encoding="utf-8") as handle:
        handle.write(header + "\n")
        csv.DictWriter(handle, header.split(","), extrasaction="ignore", lineterminator="\n").writerows(rows)
    return path


def test_a_good_row_comes_as_it_is_and_empty_is_unknown(tmp_path: Path) -> None:
    (row,) = read_table(table(tmp_path, GOOD)).rows
    assert (row.id, row.source, row.line) == ("a", "invented, for a test", 2)
    assert row.given == {
        "tube.length_mm": 140.0,
        "placement.angle_deg": -15.0,
        "placement.attachment": "tied_off",
        "ice.kind": "white ice",
        "tube.metal": "titanium_alloy",
    }
    assert (row.peak_kN, row.n, row.sd_kN, row.angle_measured_deg) == (12.5, 3, 0.0, -14.0)
    assert (row.rate, row.flag, row.ended, row.is_bound) == ("125 N/s", "invented", "cell's limit", True)
    assert row.mode is row.movement_mm is row.replicate is row.x_mm is None


def test_an_id_and_what_was_placed_are_enough(tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    path.write_text("id,placement.angle_deg\n1,-20\n2,\n")
    read = read_table(path)
    assert [(row.id, dict(row.given), row.flag) for row in read.rows] == [
        ("1", {"placement.angle_deg": -20.0}, "measured"),
        ("2", {}, "measured"),
    ]
    assert read.said == () and not any(row.is_measured for row in read.rows)
    path.write_text("id,placement.angle_deg,peak_kN\n1,-20,3.5\n")
    assert read_table(path).said == ("no column flag: all rows count as measured",)


def test_any_order_of_columns_and_line_ends_and_a_byte_order_mark(tmp_path: Path) -> None:
    path = table(tmp_path, GOOD, header=",".join(reversed(NAMES)))
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_table(path).rows == read_table(table(tmp_path, GOOD)).rows


def rows_of(path: Path, text: str | bytes) -> tuple[Row, ...]:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_table(path).rows


PLAIN = "id,angle_deg,depth_error_mm,peak_kN,notes\na,-20,0.5,3.5,old ice\nb,10,,12,wet\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (PLAIN.replace(",", ";"), ("cells are parted by semicolons",)),
        (PLAIN.replace(",", "\t"), ("cells are parted by tabs",)),
        (
            PLAIN.replace(",", ";").replace(".", ","),
            ("cells are parted by semicolons", "numbers are written with decimal commas"),
        ),
        ("sep=;\n" + PLAIN.replace(",", ";"), ("cells are parted by semicolons",)),
        (PLAIN.replace("-20", "−20"), ("a minus written − is one",)),
        (PLAIN.encode("utf-16"), ("the file is in UTF-16",)),
        ("# a caution, that a plan begins with\n# and another\n" + PLAIN, ()),
        ("\n".join(line + ",," for line in PLAIN.splitlines()), ()),
        ("".join(f"{line},\n" for line in PLAIN.splitlines()) + ",,,,,\n\n", ()),
    ],
)
def test_what_spreadsheets_write_is_read_and_said(tmp_path: Path, text: str | bytes, said: tuple[str, ...]) -> None:
    path = tmp_path / "day.csv"
    plain = [(row.id, row.given, row.depth_error_mm, row.peak_kN, row.notes) for row in rows_of(path, PLAIN)]
    found = [(row.id, row.given, row.depth_error_mm, row.peak_kN, row.notes) for row in rows_of(path, text)]
    assert found == plain and found[0][1:] == ({"placement.angle_deg": -20.0}, 0.5, 3.5, "old ice")
    assert read_table(path).said[:-1] == said and read_table(path).said[-1].startswith("no column flag")


def test_old_windows_text_is_read_and_said(tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    (row, _) = rows_of(path, PLAIN.replace("old ice", "sprödes Eis").encode("cp1252"))
    assert row.notes == "sprödes Eis"
    assert read_table(path).said[0] == "line 2 is not in UTF-8: the file was read as Windows-1252"


def test_mixed_points_and_commas_are_not_guessed(tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    path.write_text("id;angle_deg;peak_kN\na;-20;3,5\nb;0;4.5\n")
    with pytest.raises(TableError, match=r"day\.csv:2: column peak_kN = '3,5': must be a number"):
        read_table(path)
    path.write_text("id;angle_deg;peak_kN\na;-20;1.234,5\n")
    with pytest.raises(TableError, match=r"'1\.234,5': must be a number"):
        read_table(path)


@pytest.mark.parametrize("suffix", [".xlsx", ".parquet"])
def test_spreadsheets_and_parquet(tmp_path: Path, suffix: str) -> None:
    """The same rows as from CSV; lines are the spreadsheet's."""
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame({"id": ["a", "b"], "angle_deg": [-20, 10], "peak_kN": [3.5, None], "notes": ["x", None]})
    path = tmp_path / f"day{suffix}"
    if suffix == ".xlsx":
        pytest.importorskip("openpyxl")
        frame.to_excel(path, index=False)
    else:
        pytest.importorskip("pyarrow")
        frame.to_parquet(path)
    first, second = read_table(path).rows
    assert (first.id, first.given, first.peak_kN, first.line) == ("a", {"placement.angle_deg": -20.0}, 3.5, 2)
    assert (second.id, second.given, second.peak_kN, second.notes) == ("b", {"placement.angle_deg": 10.0}, None, "")
    frame.loc[1, "angle_deg"] = 99
    (frame.to_excel if suffix == ".xlsx" else frame.to_parquet)(path, index=False)
    with pytest.raises(TableError, match=rf"day{suffix}:3: column angle_deg = '99': must"):
        read_table(path)
    path.write_bytes(b"no such thing")
    with pytest.raises(CaseError, match=f"cannot be read as {suffix[1:].upper()}"):
        read_table(path)


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
    ("tube_od_mm", "0x11", "'0x11': must be a number"),
    ("embedment_mm", "-1", "'-1': must be a number between 0 and 1000, or empty"),
    ("embedment_mm", "flush", "'flush': must be a number"),
    ("angle_deg", "91", "'91': must be a number between -90 and 90, or empty"),
    ("angle_deg", "nan", "'nan': must be a number"),
    ("angle_deg", "20°", "'20°': must be a number"),
    ("angle_deg", "--20", "'--20': must be a number"),
    ("angle_deg", "- 20", "'- 20': must be a number"),
    ("pull_direction_deg", "inf", "'inf': must be a number"),
    ("pull_direction_deg", "1e999", "'1e999': must be a number"),
    ("pull_direction_deg", "181", "'181': must be a number between 0 and 180"),
    ("temperature_C", "268", "'268': must be a number between -80 and 0, or empty"),
    ("temperature_C", "-5 C", "'-5 C': must be a number"),
    ("peak_kN", "12,5", "'12,5': must be a number"),
    ("peak_kN", "１２", "'１２': must be a number"),
    ("peak_kN", "-3", "'-3': must be a number between 0.001 and 1000, or empty"),
    ("peak_kN", "0", "'0': must be a number between 0.001 and 1000, or empty"),
    ("peak_kN", "1e-300", "'1e-300': must be a number between 0.001 and 1000, or empty"),
    ("peak_kN", ">10", "'>10': must be a number"),
    ("peak_kN", "~9", "'~9': must be a number"),
    ("peak_kN", "9-10", "'9-10': must be a number"),
    ("peak_kN", "12.5.1", "'12.5.1': must be a number"),
    ("peak_kN", "=SUM(A1:A3)", "must be a number"),
    ("peak_kN", "12 500", "'12 500': must be a number"),
    ("peak_kN", "n/a", "'n/a': must be a number"),
    ("peak_kN", "TRUE", "'TRUE': must be a number"),
    ("crust_mm", "thin", "'thin': must be a number"),
    ("sd_kN", "+-1", "'+-1': must be a number"),
    ("sd_kN", "1001", "'1001': must be a number between 0 and 1000"),
    ("n", "2.5", "'2.5': must be a whole number between 1 and 1000000, or empty"),
    ("n", "0", "'0': must be a whole number"),
    ("n", "-3", "'-3': must be a whole number"),
    ("replicate", "first", "'first': must be a whole number between 1 and 1000000, or empty"),
    ("replicate", "0", "'0': must be a whole number"),
    ("movement_mm", "-2", "'-2': must be a number between 0 and 10000, or empty"),
    ("movement_mm", "3 cm", "'3 cm': must be a number"),
    ("time_to_peak_s", "0", "'0': must be a number between 0.01 and 3600, or empty"),
    ("time_to_peak_s", "1:30", "'1:30': must be a number"),
    ("angle_measured_deg", "95", "'95': must be a number between -90 and 90"),
    ("angle_error_deg", "-1", "'-1': must be a number between 0 and 45"),
    ("angle_error_deg", "50", "'50': must be a number between 0 and 45"),
    ("depth_measured_mm", "1200", "'1200': must be a number between 0 and 1000"),
    ("depth_error_mm", "±2", "'±2': must be a number between 0 and 100"),
    ("x_mm", "left", "'left': must be a number"),
    ("y_mm", "1e9", "'1e9': must be a number between -1e+06 and 1e+06"),
    ("attachment", "hanger", "'hanger': must be one of eye, tied_off, or empty"),
    ("attachment", "Eye", "'Eye': must be one of eye, tied_off, or empty"),
    ("flag", "guessed", "'guessed': must be one of measured, published, common practice, from memory, invented"),
    ("ended", "exploded", "'exploded': must be one of cone, threads stripped, lever-out, tube bent, rope, hanger"),
    ("ended", "tube bend", "'tube bend': must be one of cone"),
    ("ended", "tube bend", "did you mean tube bent?"),
    ("ended", "not pulled", "column ended = 'not pulled': must be one of cone"),
    ("placement.sling_friction", "-0.1", "'-0.1': must be a number between 0 and 5, or \"fixed\", or empty"),
    ("placement.sling_friction", "knot", "'knot': must be a number between 0 and 5"),
    ("tube.metal", "gold", "'gold': must be one of chromoly_steel"),
    ("ice.K_IC_kPa_sqrt_m", "1", "'1': must be a number between 2 and 500 kPa m^0.5"),
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


def test_a_list_of_sixty_mistakes_is_answered_line_by_line(tmp_path: Path) -> None:
    """All at once, in order, a line each."""
    rows = [{**GOOD, "id": f"row {k}", column: text} for k, (column, text, _) in enumerate(WRONG)]
    path = table(tmp_path, *rows)
    with pytest.raises(TableError) as caught:
        read_table(path)
    assert len(WRONG) >= 60 and len(caught.value.problems) == len(WRONG)
    for line, (problem, (column, _, _)) in enumerate(zip(caught.value.problems, WRONG, strict=True), start=2):
        assert problem.startswith(f"{path}:{line}: column {column} = "), problem


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        ({"peak_kN": "", "n": "", "sd_kN": ""}, "column peak_kN = '': must be given where ended = \"cell's limit\""),
        ({"peak_kN": "", "ended": ""}, "column sd_kN = 0: must be empty where peak_kN is"),
        (
            {"peak_kN": "", "n": "", "sd_kN": "", "ended": "", "movement_mm": "3"},
            "column movement_mm = 3: must be empty",
        ),
    ],
)
def test_what_does_not_go_together_is_named(tmp_path: Path, cells: dict[str, str], message: str) -> None:
    with pytest.raises(TableError) as caught:
        read_table(table(tmp_path, {**GOOD, **cells}))
    assert message in str(caught.value)


def test_lines_are_counted_as_in_the_file(tmp_path: Path) -> None:
    """A quoted cell of two lines and an empty line above: the bad row begins on line 5."""
    path = table(tmp_path, {**GOOD, "source": "invented\nfor a test"}, {**GOOD, "id": "b", "n": "x"})
    first, second, third, fourth = path.read_text().splitlines()
    path.write_text("\n".join((first, second, third, "", fourth)) + "\n")
    with pytest.raises(TableError, match=r"table\.csv:5: column n = 'x'"):
        read_table(path)


def test_a_row_with_too_few_or_too_many_cells_is_bad(tmp_path: Path) -> None:
    path = table(tmp_path, GOOD)
    path.write_text(path.read_text() + "b,invented\n" + "," * 60 + "x\n")
    with pytest.raises(TableError) as caught:
        read_table(path)
    assert [line.partition(": must be")[0] for line in caught.value.problems] == [
        f"{path}:3: 2 cells",
        f"{path}:4: 61 cells",
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", ":1: column id: missing"),
        ("id,peak_kN\na,3\n", ":1: column placement.angle_deg: missing: must have one key of the case or more"),
        ("angle_deg\n3\n", ":1: column id: missing"),
        (HEADER, ": no row to read"),
        ("id,angle_deg,peak\n", ":1: column 'peak': unknown: must be one of id, replicate"),
        ("id,angle_deg,peak_N\n", "did you mean peak_kN?"),
        ("id,placement.angle\n", "did you mean placement.angle_deg?"),
        ("id,angle_deg,flag,flag\n", ":1: column flag: must not be given twice"),
        (
            "id,angle_deg,placement.angle_deg\n",
            ":1: column placement.angle_deg: must not be given twice: angle_deg, pl",
        ),
        ('id,angle_deg\na,"invented', ":2: not valid CSV"),
        ('id,angle_deg\na,"invented"x,', ":2: not valid CSV"),
    ],
)
def test_a_file_that_is_no_table_of_pulls_is_refused(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "table.csv"
    path.write_text(text)
    with pytest.raises(CaseError) as caught:
        read_table(path, skip_bad=True)
    assert f"{path}:" in str(caught.value) and message in str(caught.value) and "\n" not in str(caught.value)


def test_a_plan_reads_as_the_table_it_was_made_from(tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    path.write_text("# caution\nid,angle_deg,peak_kN,plan_limit_kN,plan_anything\na,-20,,3.9,x\n")
    (row,) = read_table(path).rows
    assert row.given == {"placement.angle_deg": -20.0} and row.line == 3 and not row.is_measured


def test_columns_are_told_by_the_code() -> None:
    told = columns_table()
    assert all(f"| `{name}` |" in told for name in (*COLUMNS, *SHORT)) and ", ".join(ENDED) in told


def test_shipped_tables_are_sound_and_flagged() -> None:
    """Invented rows stand in invented tables only and say so; nothing there is a number without an origin."""
    tables = {name: read_table(path).rows for name, path in shipped_tables().items()}
    assert set(tables) == {"trade_facts", "published", "invented_demo", "invented_day"}
    assert {row.flag for row in tables["trade_facts"]} == {"common practice"}
    assert {row.flag for row in tables["published"]} == {"published"}
    for name in ("invented_demo", "invented_day"):
        assert {row.flag for row in tables[name]} == {"invented"}
        assert all("invented" in row.source for row in tables[name])
    assert {row.peak_kN for row in tables["published"]} == {None}, "only the abstract was seen: no load is stated"
    facts = {
        (row.given["tube.length_mm"], row.given["pull.direction_deg"]): row.peak_kN for row in tables["trade_facts"]
    }
    assert facts == {(160.0, 0.0): 16.0, (130.0, 90.0): 14.0}
    day = read_cells(shipped_tables()["invented_day"])
    assert "numbers are written with decimal commas" in day.said
