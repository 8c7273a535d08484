"""Templates of days: placements that the case file takes, nothing filled in, and a page beside each."""

from __future__ import annotations

import csv
from collections import Counter
from importlib.resources import files
from pathlib import Path

import pytest

from icecone.studies.case.file import settings_from
from icecone.studies.case.keys import KEYS
from icecone.studies.field.pin_push import COLUMNS, pin_forces, read_pushes
from icecone.studies.field.spacing import CONE_OVER_DEPTH

FOLDER = Path(str(files("icecone.studies.shipped"))) / "days"
DAYS = ("angle_day", "depth_day", "tie_off_day")
OWN = ("id", "replicate", "flag", "peak_kN", "ended", "notes")
EMPTY = ("flag", "peak_kN", "ended", "force_kN", "chips", "notes")


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def settings(row: dict[str, str]) -> dict[str, float | str]:
    given = {name: row[name] for name in row if name in KEYS}
    return settings_from({name: cell if KEYS[name].low is None else float(cell) for name, cell in given.items()})


def test_each_table_has_its_page_that_says_what_it_is() -> None:
    """Invented, without results, common practice."""
    assert (
        {path.stem for path in FOLDER.glob("*.csv")}
        == {path.stem for path in FOLDER.glob("*.md")}
        == {*DAYS, "pin_push"}
    )
    for page in FOLDER.glob("*.md"):
        text = " ".join(page.read_text("utf-8").split())
        assert "The plan is invented; it holds no results." in text and "common practice, no source" in text


@pytest.mark.parametrize("name", [*DAYS, "pin_push"])
def test_nothing_is_filled_in_and_ids_and_replicates_count(name: str) -> None:
    table = rows(name)
    assert len({row["id"] for row in table}) == len(table)
    assert all(not row[column] for row in table for column in EMPTY if column in row)
    alike: Counter[tuple[str, ...]] = Counter()
    for row in table:
        key = tuple(cell for column, cell in row.items() if column not in ("id", "replicate"))
        alike[key] += 1
        assert row["replicate"] == str(alike[key])
    assert min(alike.values()) >= 2


@pytest.mark.parametrize("name", DAYS)
def test_a_day_is_twelve_placements_of_the_case_file(name: str) -> None:
    table = rows(name)
    assert len(table) == 12 and set(table[0]) <= {*KEYS, *OWN}
    for row in table:
        settings(row)


def test_what_each_day_varies() -> None:
    """One thing alone, with all else the same: the angle; the depth; attachment at each depth."""
    varied = {"angle_day": ["placement.angle_deg"], "depth_day": ["placement.embedment_mm"]}
    varied["tie_off_day"] = ["placement.embedment_mm", "placement.attachment"]
    for name, keys in varied.items():
        cases = [settings(row) for row in rows(name)]
        assert [key for key in KEYS if len({case[key] for case in cases}) > 1] == sorted(keys, key=list(KEYS).index)
    angles = Counter(settings(row)["placement.angle_deg"] for row in rows("angle_day"))
    assert angles == {-20.0: 2, -10.0: 2, 0.0: 4, 10.0: 2, 20.0: 2}


def test_pins_are_pushes_once_they_are_filled_in() -> None:
    """As they are none has been made; with a force and chips all are read."""
    table = rows("pin_push")
    assert read_pushes(table) == () and set(table[0]) == {*COLUMNS, "replicate", "flag", "notes"}
    made = read_pushes([{**row, "force_kN": "2", "chips": "stayed"} for row in table])
    assert len(made) == len(table) == 28
    tilts = {push.angle_deg for push in made if push.pin_diameter_mm == 20.0}
    assert tilts == {-20.0, -10.0, 0.0, 10.0, 20.0} and {push.rate_mm_per_s for push in made} == {0.1, 10.0}


def test_the_pins_page_says_what_is_computed() -> None:
    """Thick: chips start first and their pushes are 5 to 10 kN; thin: 2 to 3 kN, at crushing within a tenth."""
    pushes = read_pushes([{**row, "force_kN": "2", "chips": "stayed"} for row in rows("pin_push")])
    ends = {push: pin_forces(push) for push in pushes if push.rate_mm_per_s == 0.1}
    thick, thin = ([end for push, end in ends.items() if push.pin_diameter_mm == d] for d in (20.0, 12.0))
    assert all(4.5 < end.stays_kN < 10.5 and end.goes_kN < 0.01 * end.stays_kN for end in thick)
    assert all(2.0 < end.stays_kN < 3.5 and end.stays_kN > 0.9 * end.crushing_kN for end in thin)
    text = (FOLDER / "pin_push.md").read_text("utf-8")
    assert "5 to 10 kN" in text and "2 to 3 kN" in text


def test_the_page_of_depths_keeps_the_frame_off_the_cone() -> None:
    assert 2.5 < CONE_OVER_DEPTH < 3.0
    assert "nearly three depths" in " ".join((FOLDER / "depth_day.md").read_text("utf-8").split())
