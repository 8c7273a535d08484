"""Columns of a table of pulls: plan, field sheet and results of a day stand in one table.

    id, replicate, notes, ...          of the row                    peak_kN, ended, movement_mm, ...   as measured
    placement.angle_deg, ...           any key of the case file      plan_...    what `plan` has filled in, not read
    angle_deg, tube_od_mm, ...         short names of some keys; what lies beyond the model is kept with the reason

A cell is empty where nothing is known. Units are the ends of names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..case.file import KEYS
from ..case.toml import did_you_mean, shown
from ..command.plain_text import one_line

FLAGS = ("measured", "published", "common practice", "from memory", "invented")
GAVE_WAY = ("cone", "threads stripped", "lever-out", "tube bent", "rope")
OTHERWISE = ("hanger", "sling", "cell's limit", "movement ran out", "stopped by us")  # the ice held: a bound, no peak
NOT_PULLED = "not pulled"
ENDED = (*GAVE_WAY, *OTHERWISE, NOT_PULLED)
PLANNED = "plan_"
SHORT = {
    "tube_length_mm": "tube.length_mm",
    "tube_od_mm": "tube.od_mm",
    "embedment_mm": "placement.embedment_mm",
    "angle_deg": "placement.angle_deg",
    "pull_direction_deg": "pull.direction_deg",
    "attachment": "placement.attachment",
    "ice": "ice.kind",
    "crust_mm": "ice.crust_mm",
    "temperature_C": "ice.temperature_C",
}
# What a pull can be at all; what the model can take is the case file's business.
_BEYOND = {
    "tube_length_mm": (1, 1000),
    "tube_od_mm": (1, 100),
    "embedment_mm": (0, 1000),
    "angle_deg": (-90, 90),
    "pull_direction_deg": (0, 180),
    "crust_mm": (0, 1000),
    "temperature_C": (-80, 0),
}
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_COMMA = re.compile(r"[+-]?(\d+,\d*|,\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE = re.compile(r"\d{1,7}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is no key: a number between low and high, a whole one, one of the words, or any text."""

    name: str
    what: str
    low: float | None = None
    high: float | None = None
    whole: bool = False
    words: tuple[str, ...] = ()


_OF_A_ROW = (
    Column("id", "name of the pull, its own"),
    Column("replicate", "which repeat of a placement", 1, 1e6, whole=True),
    Column("source", "where the numbers are from"),
    Column("flag", "how they are known; without it measured", words=FLAGS),
    Column("notes", "in any words"),
    Column("x_mm", "place on the ice, from any corner", -1e6, 1e6),
    Column("y_mm", "likewise, square to it", -1e6, 1e6),
    Column("angle_measured_deg", "angle of the driven tube; counts in place of the planned one", -90, 90),
    Column("angle_error_deg", "standard deviation of it", 0, 45),
    Column("depth_measured_mm", "length of tube in the ice, along it; counts in place of the planned one", 0, 1000),
    Column("depth_error_mm", "standard deviation of it", 0, 100),
    Column("rate", "of the pull, in words; does not enter"),
    Column("time_to_peak_s", "from no load to the peak; sets ice.load_time_s", 0.01, 3600),
    Column("peak_kN", "largest load of the pull, or the mean of n pulls", 0.001, 1000),
    Column("n", "pulls that peak_kN is the mean of", 1, 1e6, whole=True),
    Column("sd_kN", "standard deviation among them", 0, 1000),
    Column("movement_mm", "of the load point at the peak", 0, 10000),
    Column("ended", "what ended the pull", words=ENDED),
    Column("mode", "what gave way, in any words"),
)
COLUMNS = {column.name: column for column in _OF_A_ROW}


def key_of(name: str) -> str | None:
    """The key of the case file that a column gives; None if it gives none."""
    return SHORT.get(name, name if name in KEYS else None)


def header_problem(names: list[str]) -> str:
    """What is wrong with a header, "" if nothing is."""
    known = {**{name.partition(".")[2]: name for name in KEYS}, **{name: name for name in (*COLUMNS, *SHORT, *KEYS)}}
    for name in names:
        if not name.startswith(PLANNED) and name not in COLUMNS and key_of(name) is None:
            hint = did_you_mean(name, known)
            allowed = f"must be one of {', '.join((*COLUMNS, *SHORT))}, or a key of the case file"
            return f"column {shown(name)}: unknown: {allowed}{hint}"
        if names.count(name) > 1:
            return f"column {name}: must not be given twice"
    keys = [key for name in names if (key := key_of(name))]
    if twice := next((key for key in keys if keys.count(key) > 1), ""):
        return f"column {twice}: must not be given twice: {', '.join(name for name in names if key_of(name) == twice)}"
    if "id" not in names:
        return "column id: missing: each pull must have a name"
    if not keys:
        return "column placement.angle_deg: missing: must have one key of the case or more, to say what was placed"
    return ""


def is_number(name: str) -> bool:
    """Whether a column may hold numbers."""
    column, key = COLUMNS.get(name), KEYS.get(key_of(name) or "")
    return (column is not None and column.low is not None) or (key is not None and key.low is not None)


def writes_comma(text: str) -> bool:
    """Whether a cell is a number with a decimal comma."""
    return bool(_COMMA.fullmatch(text))


def writes_point(text: str) -> bool:
    """Whether a cell is a number with a decimal point."""
    return "." in text and bool(_NUMBER.fullmatch(text))


def cell(name: str, text: str) -> float | int | str:
    """The value of a cell that is not empty. Raises ValueError that says what is allowed."""
    if name in COLUMNS:
        return _of_row(COLUMNS[name], text)
    if name in _BEYOND:
        return _between(text, *_BEYOND[name])
    key = KEYS[key_of(name) or ""]
    if key.choices and (text in key.choices or name == "ice"):
        return one_line(text)
    if key.low is None or key.high is None:
        raise ValueError(f"{key.allowed()}, or empty".replace('"', ""))
    try:
        return _between(text, key.low, key.high)
    except ValueError:
        raise ValueError(f"{key.allowed()}, or empty") from None


def _of_row(column: Column, text: str) -> float | int | str:
    if column.words:
        return _word(column, text)
    if column.low is None or column.high is None:
        return one_line(text)
    if not column.whole:
        return _between(text, column.low, column.high)
    if not _WHOLE.fullmatch(text) or not column.low <= int(text) <= column.high:
        raise ValueError(f"must be a whole number between {column.low:.0f} and {column.high:.0f}, or empty")
    return int(text)


def _word(column: Column, text: str) -> str:
    """One of the column's words, however its marks and capitals are written."""
    plain = {_bare(word): word for word in column.words}
    if _bare(text) not in plain:
        raise ValueError(f"must be one of {', '.join(column.words)}, or empty{did_you_mean(_bare(text), plain)}")
    return plain[_bare(text)]


def _bare(text: str) -> str:
    return " ".join(re.sub(r"['’`]", "", text.lower()).replace("_", " ").replace("-", " ").split())


def _between(text: str, low: float, high: float) -> float:
    if not _NUMBER.fullmatch(text) or not low <= float(text) <= high:
        raise ValueError(f"must be a number between {low:g} and {high:g}, or empty")
    return float(text) + 0.0


def columns_table() -> str:
    """The columns that are no keys, and the short names of keys, as a Markdown table."""
    lines = ["| column | allowed | is |", "| --- | --- | --- |"]
    for each in COLUMNS.values():
        allowed = ", ".join(each.words) or "any text"
        if each.low is not None:
            allowed = f"{'whole, ' if each.whole else ''}{each.low:g} to {each.high:g}"
        lines.append(f"| `{each.name}` | {allowed} | {each.what} |")
    lines += [f"| `{name}` | | short for `{key}` |" for name, key in SHORT.items()]
    return "\n".join(lines) + "\n"
